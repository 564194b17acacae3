"""What black to white and a texel are in mm: as asked for, as marked, or from the record of a bake.

Heights and normal maps that come from here carry their scale in the file (`mark`), and those of a
bake lie beside its record. What is asked for comes first.
"""

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from texbake.convert.mark import read_mark
from texbake.deliver import MapFile, Record, read_record
from texbake.errors import UserError
from texbake.recipe.mistake import WrongValueError
from texbake.recipe.units import LENGTH, parse

_SPREAD: Final = 0.1  # texels of panels that differ by more than this share are told of
_ONE: Final = 1 / 100  # of the longer side, that strength 1 is


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedScale:
    """What the user said: lengths with units as text, and the strength; None is nothing."""

    depth: str | None = None
    texel: str | None = None
    width: str | None = None
    strength: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """What a picture is in space.

    Attributes
    ----------
    depth_mm : float or None
        From black to white; None if it is not known.
    texel_mm : float or None
        The size of a texel; None if it is not known.
    source : str
        Where that is from, to be told.
    notes : tuple of str
        What else the user should know of it.
    """

    depth_mm: float | None = None
    texel_mm: float | None = None
    source: str = ""
    notes: tuple[str, ...] = ()


def slope_of(path: Path, shape: tuple[int, int], asked: AskedScale) -> tuple[float, Scale]:
    """Return the slope that black to white over one texel is, and the scale it is from.

    Parameters
    ----------
    path : Path
        The height map.
    shape : (int, int)
        Its height and width, texels.
    asked : AskedScale

    Returns
    -------
    slope : float
    scale : Scale
        Without mm for a strength: 1 if nothing is known.

    Raises
    ------
    UserError
        If what is asked for contradicts itself or is not enough.
    """
    found = _asked(asked, shape[1])
    longer = max(shape)
    if asked.strength is not None:
        if found.depth_mm is not None or found.texel_mm is not None:
            raise UserError(
                "--strength does not go with --depth, --texel and --width",
                fix="give --strength alone, or --depth with --texel or --width",
            )
        return _strength(asked.strength, longer)
    known = known_scale(path, shape)
    depth_mm = known.depth_mm if found.depth_mm is None else found.depth_mm
    texel_mm = known.texel_mm if found.texel_mm is None else found.texel_mm
    if depth_mm is None and texel_mm is None:
        slope, scale = _strength(1.0, longer)
        note = "no scale is given: for true slopes, give --depth with --texel or --width"
        return slope, Scale(source=scale.source, notes=(note,))
    if depth_mm is None:
        raise UserError(
            "how large a texel is is known, not how high white is over black",
            fix="add --depth, as in --depth 2 mm",
            path=path,
        )
    if texel_mm is None:
        raise UserError(
            "--depth says how high white is over black, but nothing says how large a texel is",
            fix="add --texel or --width, as in --texel 0.1 mm or --width 20 cm",
            path=path,
        )
    given = found.depth_mm is not None and found.texel_mm is not None
    source = f"{depth_mm:.6g} mm from black to white, {texel_mm:.6g} mm a texel"
    return depth_mm / texel_mm, Scale(
        depth_mm=depth_mm,
        texel_mm=texel_mm,
        source=source if given else f"{source} ({known.source})",
        notes=() if given else known.notes,
    )


def texel_of(path: Path, shape: tuple[int, int], asked: AskedScale) -> Scale:
    """Return the scale of a normal map: that of its texels, if it is asked for or known.

    Raises
    ------
    UserError
        If what is asked for cannot be read.
    """
    found = _asked(asked, shape[1])
    if found.texel_mm is not None:
        return Scale(texel_mm=found.texel_mm, source=f"{found.texel_mm:.6g} mm a texel")
    known = known_scale(path, shape)
    if known.texel_mm is None:
        return Scale()
    return Scale(
        texel_mm=known.texel_mm,
        source=f"{known.texel_mm:.6g} mm a texel ({known.source})",
        notes=known.notes,
    )


def known_scale(path: Path, shape: tuple[int, int]) -> Scale:
    """Return what the file itself or the record beside it say; empty if neither says anything."""
    marked = read_mark(path)
    if marked is not None:
        depth, texel = marked.depth_mm, marked.texel_mm
        if depth is None and texel is None:
            return Scale()
        return Scale(depth_mm=depth, texel_mm=texel, source="from the file")
    try:
        record = read_record(path.parent)
    except UserError as error:  # of no use here, and no fault of the height's
        note = f"the record beside {path.name} cannot be read: {error.what}"
        return Scale(notes=(note,))
    return Scale() if record is None else _recorded(record, path.name, shape)


def _recorded(record: Record, name: str, shape: tuple[int, int]) -> Scale:
    """Return the scale of a baked map."""
    kinds = ("height", "normal-up", "normal-down")
    entry = next((m for m in record.maps if m.file == name and m.map in kinds), None)
    panels = [p for p in record.panels if p.texels_per_cm > 0.0 and p.area_mm2 > 0.0]
    if entry is None or not panels:
        return Scale()
    area = sum(p.area_mm2 for p in panels)
    mean_mm = sum(10.0 / p.texels_per_cm * p.area_mm2 for p in panels) / area
    texels = sorted(10.0 / p.texels_per_cm for p in panels)
    notes: tuple[str, ...] = ()
    if texels[-1] > texels[0] * (1.0 + _SPREAD):
        spread = f"texels of the panels are {texels[0]:.3g} to {texels[-1]:.3g} mm"
        advice = "the normal maps that were baked with it are truer"
        notes = (f"{spread}; slopes are for their mean, {mean_mm:.3g} mm: {advice}",)
    return Scale(
        depth_mm=_depth_mm(record, entry),
        texel_mm=mean_mm * record.size_px / shape[1],  # it may have been scaled since
        source="from the record of the bake",
        notes=notes,
    )


def _depth_mm(record: Record, entry: MapFile) -> float | None:
    """Return what the whole range of a height map is, or 1 is where it holds mm."""
    if entry.map != "height":
        return None
    return 1.0 if entry.holds == "mm" else record.height_hi_mm - record.height_lo_mm


def _asked(asked: AskedScale, width_px: int) -> Scale:
    """Return what is asked for, in mm."""
    if asked.texel is not None and asked.width is not None:
        raise UserError(
            "--texel and --width say the same thing",
            fix="give one: --texel for one texel, --width for the whole picture",
        )
    depth_mm = _length("--depth", asked.depth, "2 mm")
    if depth_mm == 0.0:
        raise UserError("--depth is 0", fix="give a depth, as in --depth 2 mm")
    texel_mm = _positive("--texel", asked.texel, "0.1 mm")
    width_mm = _positive("--width", asked.width, "20 cm")
    if width_mm is not None:
        texel_mm = width_mm / width_px
    return Scale(depth_mm=depth_mm, texel_mm=texel_mm)


def _length(option: str, text: str | None, example: str) -> float | None:
    """Return a length in mm."""
    if text is None:
        return None
    try:
        return parse(LENGTH, text, example)
    except WrongValueError as error:
        raise UserError(f"{option}: {error.what}", fix=error.fix) from error


def _positive(option: str, text: str | None, example: str) -> float | None:
    """Return a length above 0 in mm."""
    length_mm = _length(option, text, example)
    if length_mm is not None and not length_mm > 0.0:
        raise UserError(
            f"{option}: {text} is not above 0", fix=f"give a size, as in {option} {example}"
        )
    return length_mm


def _strength(strength: float, longer: int) -> tuple[float, Scale]:
    """Return the slope and the scale of a strength."""
    if not math.isfinite(strength) or strength == 0.0:
        raise UserError(f"--strength is {strength}", fix="give a number, as in --strength 1")
    source = (
        f"strength {strength:g}: black to white is {abs(strength):g} % of the longer side, "
        f"{abs(strength) * _ONE * longer:.4g} texels"
    )
    return strength * _ONE * longer, Scale(source=source)
