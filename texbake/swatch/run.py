"""`texbake swatch`: a square of one fabric, whole in repeats, as a set of maps with pictures."""

import hashlib
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from texbake.arrays import U8, U16
from texbake.batch import checked_size, chosen
from texbake.batch.program import texbake_version
from texbake.cloth import Repeat, repeat_of
from texbake.deliver import (
    PanelNote,
    Record,
    Source,
    Writer,
    check_place,
    deliver_set,
    file_names,
    set_folder,
    write_png,
)
from texbake.deliver.naming import extra_names
from texbake.errors import UserError
from texbake.recipe import Fabric, Recipe, fingerprint, load, loads
from texbake.recipe.mistake import WrongValueError, nearest
from texbake.recipe.shipped import fabric_names
from texbake.recipe.units import LENGTH, parse
from texbake.swatch.facts import Facts, facts_of
from texbake.swatch.pictures import enlarged, folded, life_size, times
from texbake.swatch.piece import Piece, cut

WIDTH, SIZE_PX = "10 cm", 1024
PICTURE_PX = 480
LEAST_MM, MOST_MM = 1.0, 10_000.0
LEAST_PX = 4.0  # texels to a yarn at which one sees how it runs
PICTURES = ("life-size", "enlarged", "folds")
FOLDER = "swatches"
IMAGES = ("albedo", "roughness", "metal", "occlusion", "height", "normal_up", "opacity")

Report = Callable[[str, float], None]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Swatch:
    """What was baked, and what is to be told of it.

    Attributes
    ----------
    fabric : Fabric
        At the scale that was baked.
    repeat : Repeat
    times : (int, int)
        Whole repeats of maps across and along.
    size_mm : (float, float)
        Width and length; the maps tile after them.
    folder : Path
    record : Record
    """

    fabric: Fabric
    facts: Facts
    repeat: Repeat
    times: tuple[int, int]
    size_mm: tuple[float, float]
    enlarged: int
    folder: Path
    record: Record
    seconds: float


def bake_swatch(
    name: str,
    *,
    recipe: Path | None = None,
    colourway: str | None = None,
    width: str = WIDTH,
    size_px: int | None = None,
    scale: float | None = None,
    out: Path = Path("out"),
    pictures: bool = True,
    threads: int | None = None,
    report: Report | None = None,
) -> Swatch:
    """Bake a swatch and deliver it to ``OUT/swatches/FABRIC/COLOURWAY``.

    Parameters
    ----------
    name : str
        A fabric of ``recipe``; without one, a fabric that comes with Texbake.
    colourway : str, optional
        The recipe's first if not given.
    width : str
        About how wide, with its unit: the nearest whole number of repeats is taken.
    size_px : int, optional
        Texels to a side; a power of two from 16 to 16384.
    scale : float, optional
        Stands for the fabric's own: how many times life size its yarns are.
    pictures : bool
        Beside the maps.

    Raises
    ------
    UserError
        For a fabric, colourway, size, width or scale that there is not.
    """
    start, say = time.perf_counter(), report or _silent
    width_mm = _width_mm(width)
    texels = SIZE_PX if size_px is None else checked_size(size_px)
    colours, chosen_recipe = _recipe(name, recipe, colourway)
    fabric = _scaled(_fabric(chosen_recipe, name, recipe), scale)
    repeat, size_mm, count = whole_size(fabric, width_mm)
    folder = set_folder(out / FOLDER, name, colours)
    names = _names(name, colours)
    check_place(folder, names.values())
    say("bake", 0.0)
    bits, seed = chosen_recipe.normal_bits, chosen_recipe.seed
    piece = cut(fabric, size_mm, texels, tiling=True, seed=seed, normal_bits=bits, threads=threads)
    record = _record(name, colours, chosen_recipe, recipe, piece, texels)
    written = deliver_set(
        folder,
        maps=piece.maps,
        names=names,
        record=record,
        extras=_extras(fabric, piece, threads, say) if pictures else {},
        threads=threads or 2,
    )
    return Swatch(
        fabric=fabric,
        facts=facts_of(fabric),
        repeat=repeat,
        times=count,
        size_mm=size_mm,
        enlarged=times(fabric),
        folder=folder,
        record=written,
        seconds=time.perf_counter() - start,
    )


def whole_size(
    fabric: Fabric, width_mm: float
) -> tuple[Repeat, tuple[float, float], tuple[int, int]]:
    """Width and length nearest to a square of whole repeats, mm; and how many those are."""
    repeat = repeat_of(fabric)
    across = max(1, round(width_mm / repeat.whole_mm[0]))
    width = across * repeat.whole_mm[0]
    along = max(1, round(width / repeat.whole_mm[1]))
    return repeat, (width, along * repeat.whole_mm[1]), (across, along)


def _silent(stage: str, share: float) -> None:
    """Report nothing."""


def _width_mm(width: str) -> float:
    """Read ``--width``."""
    try:
        mm = parse(LENGTH, width, WIDTH)
    except WrongValueError as error:
        raise UserError(f"--width: {error.what}", fix=error.fix) from error
    if not LEAST_MM <= mm <= MOST_MM:
        fix = f"give {LEAST_MM:g} mm to {MOST_MM / 1000.0:g} m, as in {WIDTH}"
        raise UserError(f"--width: {width} is no width of a swatch", fix=fix)
    return mm


def _scaled(fabric: Fabric, scale: float | None) -> Fabric:
    """Return the fabric at another scale."""
    if scale is None:
        return fabric
    if not 0.01 <= scale <= 1000.0:
        fix = "1 is life size, 4 four times as large; 0.01 to 1000"
        raise UserError(f"--scale: {scale:g} is no scale", fix=fix)
    return replace(fabric, scale=scale)


def _recipe(name: str, path: Path | None, colourway: str | None) -> tuple[str, Recipe]:
    """Return a colourway's name and recipe: the user's, or one that includes a shipped fabric."""
    if path is not None:
        project = load(path)
        return next(iter(chosen(project, () if colourway is None else (colourway,), None).items()))
    shipped = fabric_names()
    if name not in shipped:
        near = nearest(name, shipped)
        guess = f"did you mean {near!r}? " if near else ""
        fix = f"{guess}Texbake brings: {', '.join(shipped)}; for one of a recipe add --recipe"
        raise UserError(f"there is no fabric {name!r}", fix=fix)
    text = f"garment: swatch\nmesh: none.obj\ninclude: [{name}]\n"
    project = loads(text, Path("swatch.yaml"))
    return next(iter(chosen(project, () if colourway is None else (colourway,), None).items()))


def _fabric(recipe: Recipe, name: str, path: Path | None) -> Fabric:
    """Return a fabric of a recipe by its name."""
    if name in recipe.fabrics:
        return recipe.fabrics[name]
    near = nearest(name, recipe.fabrics)
    guess = f"did you mean {near!r}? " if near else ""
    fix = f"{guess}the recipe has: {', '.join(recipe.fabrics)}"
    line = recipe.lines.get("fabrics")
    raise UserError(f"there is no fabric {name!r}", fix=fix, path=path, line=line)


def _names(name: str, colourway: str) -> Mapping[str, str]:
    """File name of every map and picture."""
    pattern = "{garment}_{colourway}_{map}"
    return {
        **file_names(pattern, name, colourway, holes=True),
        **extra_names(pattern, name, colourway, PICTURES),
    }


def _record(
    name: str, colourway: str, recipe: Recipe, path: Path | None, piece: Piece, size_px: int
) -> Record:
    """Say what was baked; a swatch has no mesh."""
    area = piece.width_mm * piece.length_mm
    note = PanelNote(
        name=name,
        area_mm2=area,
        stretch_rms=0.0,
        stretch_max=0.0,
        texels_per_cm=10.0 * size_px / float(np.sqrt(area)),
    )
    shipped = hashlib.sha256(b"".join(p.read_bytes() for p in recipe.included)).hexdigest()
    return Record(
        texbake=texbake_version(),
        garment=name,
        colourway=colourway,
        recipe=Source(name=f"{name}.yaml", sha256=shipped)
        if path is None
        else Source(name=path.name, sha256=fingerprint(recipe)),
        mesh=Source(name="", sha256=hashlib.sha256(b"").hexdigest()),
        size_px=size_px,
        gutter_px=0,
        seed=recipe.seed,
        normal_bits=recipe.normal_bits,
        height_lo_mm=piece.maps.height_lo_mm,
        height_hi_mm=piece.maps.height_hi_mm,
        panels=(note,),
        tile_mm=(piece.width_mm, piece.length_mm),
    )


def _extras(fabric: Fabric, piece: Piece, threads: int | None, say: Report) -> Mapping[str, Writer]:
    """Draw the pictures; that in folds shows the very maps, two by two."""
    found: dict[str, U8] = {}
    for k, kind in enumerate(PICTURES):
        say("view", k / len(PICTURES))
        if kind == "folds":
            found[kind] = folded(four(piece), PICTURE_PX, threads=threads)
        else:
            draw = life_size if kind == "life-size" else enlarged
            found[kind] = draw(fabric, PICTURE_PX, threads=threads)
    return {kind: _writer(picture) for kind, picture in found.items()}


def _writer(picture: U8) -> Writer:
    return lambda out: write_png(out, picture, srgb=True)


def four(piece: Piece) -> Piece:
    """Lay a tiling piece two by two."""
    twice = {name: _twice(getattr(piece.maps, name)) for name in IMAGES}
    whole = replace(piece.maps, **twice)  # type: ignore[arg-type]  # by name
    return Piece(maps=whole, width_mm=2.0 * piece.width_mm, length_mm=2.0 * piece.length_mm)


def _twice(image: U8 | U16 | None) -> U8 | U16 | None:
    return None if image is None else np.concatenate([np.concatenate([image] * 2)] * 2, axis=1)
