"""Writes pictures and page of a range; no file of somebody else is ever replaced."""

from pathlib import Path
from typing import Final

from texbake.chart import write_picture
from texbake.deliver import told
from texbake.errors import UserError
from texbake.range.page import range_page
from texbake.range.run import Drawn

_OURS: Final = b'<meta name="generator" content="texbake range">'


def write_range(
    drawn: Drawn, *, picture: Path | None = None, page: Path | None = None, sort: str = "hue"
) -> tuple[tuple[str, Path], ...]:
    """Write a range: one picture or several, and the page beside it.

    Parameters
    ----------
    drawn : Drawn
    picture, page : Path, optional
        ``GARMENT_range.png``, and the same name with ``.html``, if not given. Of several pictures
        each has its number before the dot.
    sort : str
        The order that the page opens with.

    Returns
    -------
    tuple of (what, Path)

    Raises
    ------
    UserError
        For other kinds of files, and where a file is in the way that is not ours.
    MachineError
        If a file cannot be written.
    """
    first, where = places(drawn.garment, picture, page)
    written = []
    for number, image in enumerate(drawn.pictures):
        several = drawn.picture_count > 1
        path = first.with_stem(f"{first.stem}-{number + 1}") if several else first
        write_picture(path, image)
        written.append(("picture", path))
    with told(where):
        part = where.with_name(f"{where.name}.part")
        try:
            part.write_text(range_page(drawn, sort), encoding="utf-8", newline="\n")
            part.replace(where)
        finally:
            part.unlink(missing_ok=True)
    return (*written, ("page", where))


def places(garment: str, picture: Path | None, page: Path | None) -> tuple[Path, Path]:
    """Say where picture and page of a range go; refuse before the work what would fail after it.

    Raises
    ------
    UserError, MachineError
        As for `write_range`.
    """
    first = picture or Path(f"{garment}_range.png")
    where = page or first.with_suffix(".html")
    _check(first, ".png", "--picture: a picture of a range is a PNG")
    _check(where, ".html", "--page: the page of a range is HTML")
    _refuse(where)
    return first, where


def _check(path: Path, suffix: str, what: str) -> None:
    if path.suffix.lower() != suffix:
        raise UserError(what, fix=f"name it {path.with_suffix(suffix).name}", path=path)


def _refuse(path: Path) -> None:
    """Refuse to replace a page that is not ours."""
    with told(path):
        if path.exists() and _OURS not in path.read_bytes()[:4096]:
            fix = "choose another name with --page, or move that file away"
            raise UserError("a file that is no page of ours is there already", fix=fix, path=path)
