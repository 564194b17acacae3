"""``texbake normal``: height maps to normal maps, from files to files."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final

import numpy as np

from texbake.convert.encode import half_of
from texbake.convert.inputs import Source, sources
from texbake.convert.inspection import border_jumps
from texbake.convert.many import Made, Report, Say, Share, each, mute, silent
from texbake.convert.mark import Mark
from texbake.convert.normal import mended_block, recast_rows
from texbake.convert.outputs import Output, refuse, write_outputs
from texbake.convert.pictures import read_picture, relief_of
from texbake.convert.scale import AskedScale, Scale, slope_of
from texbake.convert.stairs import Stairs, ridge_deg, ridges, stairs
from texbake.convert.values import Bits, Edge, Green, Kernel, Recast, Relief, Samples

_MEETS: Final = 1.25  # a jump across the border up to this is one of neighbours
_SAMPLE: Final = 256  # texels to a side of the parts that mending is measured on


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """How height maps are to be converted; see `height_to_normal`.

    Attributes
    ----------
    greens : tuple of 'up' and 'down'
        Which conventions to write.
    edge : 'wrap', 'mirror', 'hold' or None
        None holds, and tells if wrapping would fit.
    """

    greens: tuple[Green, ...] = ("up", "down")
    scale: AskedScale = field(default_factory=AskedScale)
    edge: Edge | None = None
    kernel: Kernel = "true"
    smooth_texels: float = 0.0
    mend: bool = False
    bits: Bits = 8
    dither: bool = False


def convert_heights(
    paths: Sequence[Path],
    asked: Asked,
    *,
    out: Path | None = None,
    threads: int | None = None,
    report: Report = silent,
    say: Say = mute,
) -> tuple[Made, ...]:
    """Turn height maps into normal maps.

    Parameters
    ----------
    paths : sequence of Path
        Pictures and folders of them.
    asked : Asked
    out : Path, optional
        A name for one picture, a folder for several; beside each picture if not given.
    threads : int, optional
        All cores if not given. The bytes are the same for any.
    report : callable
        Told "convert" and the share that is done.
    say : callable
        Told what came of each, in order.

    Returns
    -------
    tuple of Made

    Raises
    ------
    UserError
        For the pictures that could not be converted, after all others are.
    MachineError
        If one cannot be written.
    """
    found = sources(paths, out, normals=False)
    alone = len(asked.greens) == 1
    plan = {
        source: {green: source.named(f"normal-{green}", alone=alone) for green in asked.greens}
        for source in found
    }
    refuse({path: source.path for source, named in plan.items() for path in named.values()})

    def work(source: Source, workers: int, tell: Share) -> Made:
        return _convert(source.path, plan[source], asked, workers, tell)

    return each(found, work, threads=threads, report=report, say=say)


def _convert(path: Path, named: dict[Green, Path], asked: Asked, threads: int, tell: Share) -> Made:
    """Convert one height map."""
    relief, notes = relief_of(read_picture(path), path)
    slope, scale = slope_of(path, relief.shape, asked.scale)
    found = stairs(relief)
    recast = Recast(
        slope=slope,
        edge=asked.edge or "hold",
        kernel=asked.kernel,
        smooth_texels=asked.smooth_texels,
        mend_step=found.step if asked.mend and found.seen(slope / relief.white) else 0.0,
        bits=asked.bits,
        dither=asked.dither,
    )
    steepest = _write(relief, recast, named, scale, threads, tell)
    return Made(
        source=path,
        files=tuple(named.values()),
        facts=_facts(relief, recast, found, scale, steepest),
        notes=(*notes, *scale.notes, *_notes(relief, recast, found, asked, steepest)),
        steepest_deg=math.degrees(math.atan(steepest)),
        depth_mm=scale.depth_mm,
        texel_mm=scale.texel_mm,
    )


def _write(
    relief: Relief,
    recast: Recast,
    named: dict[Green, Path],
    scale: Scale,
    threads: int,
    tell: Share,
) -> float:
    """Write the normal maps and return the steepest slope."""
    outputs = [
        Output(
            path=path,
            mark=Mark(kind=f"normal-{green}", depth_mm=scale.depth_mm, texel_mm=scale.texel_mm),
            flip_green=green == "down",
        )
        for green, path in named.items()
    ]
    kind = np.uint8 if recast.bits == 8 else np.uint16
    steepest = [0.0]

    def rows(band: slice) -> Samples:
        out: Samples = np.empty((band.stop - band.start, relief.shape[1], 3), kind)
        steepest.append(recast_rows(relief, recast, band, out, threads=threads))
        return out

    write_outputs(outputs, rows, (*relief.shape, 3), recast.bits or 8, report=tell)
    return max(steepest)


def _facts(
    relief: Relief, recast: Recast, found: Stairs, scale: Scale, steepest: float
) -> tuple[str, ...]:
    """Return what was done, a sentence each."""
    facts = [scale.source, f"steepest angle {math.degrees(math.atan(steepest)):.1f} degrees"]
    if recast.mend_step:
        per_sample = recast.slope / relief.white
        facts.append(
            f"mended stair-steps of {found.levels} levels: false ridges of "
            f"{found.ridge_deg(per_sample):.2f} degrees before, "
            f"{_ridges_left_deg(relief, recast):.2f} after"
        )
    return tuple(facts)


def _ridges_left_deg(relief: Relief, recast: Recast) -> float:
    """Return the angle of false ridges after mending, on parts of the picture."""
    bare = replace(recast, smooth_texels=0.0, kernel="short")
    plain = replace(bare, mend_step=0.0)
    squares, count = 0.0, 0
    for rows in _parts(relief.shape[0]):
        for columns in _parts(relief.shape[1]):
            before, _ = mended_block(relief, plain, rows, columns)
            after, _ = mended_block(relief, bare, rows, columns)
            more = ridges(before, after, recast.mend_step)
            squares, count = squares + more[0], count + more[1]
    return ridge_deg(math.sqrt(squares / max(count, 1)), recast.slope / relief.white)


def _parts(count: int) -> list[slice]:
    """Return up to four parts of a side, evenly spread."""
    wanted = min(4, -(-count // _SAMPLE))
    starts = np.linspace(0, max(count - _SAMPLE, 0), wanted).astype(int)
    return [slice(int(start), min(int(start) + _SAMPLE, count)) for start in starts]


def _notes(
    relief: Relief, recast: Recast, found: Stairs, asked: Asked, steepest: float
) -> tuple[str, ...]:
    """Return what the user should know of a picture and its normal map."""
    if found.levels == 1:
        return ("it is one even grey: the normal map is flat",)
    per_sample = recast.slope / relief.white
    notes = []
    if steepest >= half_of(recast.bits):
        limit = math.degrees(math.atan(half_of(recast.bits)))
        notes.append(
            f"slopes steeper than {limit:.4g} degrees are clipped: {recast.bits} bits cannot say "
            "more; is the scale right?"
        )
    if not asked.mend and found.seen(per_sample):
        notes.append(
            f"{found.levels} levels are too few for this relief: {found.lone_share:.0%} of its "
            f"steps are stair-steps, false ridges of {found.ridge_deg(per_sample):.2f} degrees; "
            "--mend takes them out"
        )
    if asked.mend and not recast.mend_step:
        notes.append("it has no stair-steps that would be seen: nothing was mended")
    return (*notes, *_border_notes(relief, asked.edge))


def _border_notes(relief: Relief, edge: Edge | None) -> tuple[str, ...]:
    """Say if the picture's borders meet, when nobody asked, or do not, when they should."""
    if edge not in {None, "wrap"}:
        return ()
    across, down = border_jumps(relief.samples)
    if edge is None:
        meets = 0.0 < max(across, down) <= _MEETS
        return ("its borders meet: --edge wrap makes it seamless",) if meets else ()
    jumps = (("left and right", across), ("top and bottom", down))
    return tuple(
        f"its {sides} borders do not meet (a jump {jump:.1f} times those inside): "
        "a seam will show there"
        for sides, jump in jumps
        if jump > _MEETS
    )
