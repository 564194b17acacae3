"""`cache`: what is kept of earlier bakes."""

import json
from typing import Annotated

import typer

from texbake.cli.terms import Json

MIB = 2.0**20


def cache(
    *,
    clear: Annotated[bool, typer.Option("--clear", help="Take it all out.")] = False,
    as_json: Json = False,
) -> None:
    """Say what is kept of earlier bakes, where, and how large it is; or clear it.

    Flattened panels, rasters, filtered cloth and drawn stitches are kept, so that the next bake of
    the same garment starts at once. TEXBAKE_CACHE names another folder, or "off".

    Example: texbake cache --clear
    """
    from texbake.store import Store, default_folder

    store = Store(folder=default_folder())
    entries = store.entries()
    freed = store.clear() if clear else 0
    kinds = sorted({entry.kind for entry in entries})
    sizes = {kind: [entry.size for entry in entries if entry.kind == kind] for kind in kinds}
    if as_json:
        found = {kind: {"entries": len(of), "bytes": sum(of)} for kind, of in sizes.items()}
        folder = None if store.folder is None else store.folder.as_posix()
        told = {"folder": folder, "kept": found, "most_bytes": store.most_bytes, "freed": freed}
        typer.echo(json.dumps(told, indent=2))
        return
    typer.echo(f"{store.folder or 'off: TEXBAKE_CACHE says so'}")
    for kind, of in sizes.items():
        typer.echo(f"  {kind:<8} {len(of):>5} {sum(of) / MIB:>8.1f} MiB")
    total = sum(sum(of) for of in sizes.values())
    if clear:
        typer.echo(f"cleared {freed / MIB:.1f} MiB")
    else:
        typer.echo(f"{total / MIB:.1f} of at most {store.most_bytes / MIB:.0f} MiB")
