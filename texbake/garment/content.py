"""What a mesh file holds, as one digest: the file, and the data files that a glTF names."""

import hashlib
import json
from pathlib import Path
from urllib.parse import unquote

from texbake.errors import UserError
from texbake.garment.read import missing_cure, read_bytes
from texbake.recipe import Recipe


def demand_mesh(recipe: Recipe) -> None:
    """See that the mesh of a recipe is there.

    Raises
    ------
    UserError
        With the recipe's line, if it is not.
    """
    if not recipe.mesh.exists() and "mesh" in recipe.lines:
        raise UserError(
            f"mesh: there is no file {recipe.mesh}",
            fix=missing_cure(recipe.mesh),
            path=recipe.path,
            line=recipe.lines["mesh"],
        )


def mesh_digest(path: Path) -> str:
    """Return the SHA-256, in hex, of the bytes that reading a mesh depends on.

    Parameters
    ----------
    path : Path

    Returns
    -------
    str
        Of the file alone, or of it and the files that it names. What cannot be understood here is
        passed over: who reads the mesh tells what is wrong with it.

    Raises
    ------
    UserError
        If there is no such file, or it is empty.
    MachineError
        If it cannot be read.
    """
    data = read_bytes(path)
    found = hashlib.sha256(data)
    for uri in _uris(data):
        found.update(b"\0" + uri.encode())
        beside = path.parent / unquote(uri)
        if beside.is_file():
            found.update(beside.read_bytes())
    return found.hexdigest()


def _uris(data: bytes) -> list[str]:
    """Return the data files beside a .gltf, in its order; none of any other format."""
    if not data.removeprefix(b"\xef\xbb\xbf").lstrip().startswith(b"{"):
        return []
    try:
        root = json.loads(data)
    except (ValueError, RecursionError):
        return []
    buffers = root.get("buffers", []) if isinstance(root, dict) else []
    uris = (
        [b.get("uri") for b in buffers if isinstance(b, dict)] if isinstance(buffers, list) else []
    )
    return [uri for uri in uris if isinstance(uri, str) and not uri.startswith("data:")]
