"""``texbake normal --flip-green``, ``texbake height`` and ``texbake inspect``, from files."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final

import numpy as np

from texbake.arrays import F32
from texbake.convert.inputs import NORMALS, Source, sources
from texbake.convert.inspection import Inspection, inspect
from texbake.convert.integrate import normal_to_height
from texbake.convert.many import Made, Report, Say, Share, each, mute, silent
from texbake.convert.mark import Mark, read_mark
from texbake.convert.outputs import Output, refuse, write_outputs
from texbake.convert.pictures import normals_of, read_picture
from texbake.convert.scale import AskedScale, texel_of
from texbake.convert.values import Edge, Green, Samples
from texbake.errors import UserError

_OTHER: Final = {"normal-up": "normal-down", "normal-down": "normal-up"}
_TOP: Final = 65535


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedHeight:
    """How heights are to be recovered; see `normal_to_height`.

    Attributes
    ----------
    scale : AskedScale
        A texel or a width; or nothing.
    green : 'up', 'down' or None
        None is what the map itself tells, up if it does not.
    edge : 'wrap', 'mirror', 'hold' or None
        None wraps if the map does, else holds.
    """

    scale: AskedScale = field(default_factory=AskedScale)
    green: Green | None = None
    edge: Edge | None = None


def flip_greens(
    paths: Sequence[Path],
    *,
    out: Path | None = None,
    threads: int | None = None,
    report: Report = silent,
    say: Say = mute,
) -> tuple[Made, ...]:
    """Turn normal maps from one convention of green into the other, exactly.

    Parameters, result and errors as for `convert_heights`. The name of a map that ends in
    normal-up or normal-down gets the other end; any other gets green-flipped added.
    """
    found = sources(paths, out, normals=True)
    plan = {source: _flipped_name(source, out) for source in found}
    refuse({target: source.path for source, target in plan.items()})

    def work(source: Source, _workers: int, tell: Share) -> Made:
        return _flip(source.path, plan[source], tell)

    return each(found, work, threads=threads, report=report, say=say)


def _flipped_name(source: Source, out: Path | None) -> Path:
    """Return where a flipped map goes."""
    if source.exact is not None:
        return source.exact
    name = source.base.name
    for end in NORMALS:
        if out is None and name.endswith(end):
            return source.base.with_name(f"{name.removesuffix(end)}{_OTHER[end]}.png")
    return source.named("green-flipped", alone=False)


def _flip(path: Path, target: Path, tell: Share) -> Made:
    """Flip one map."""
    picture = read_picture(path)
    codes = normals_of(picture, path)
    if codes.dtype.kind != "u":
        raise UserError(
            "its samples are floats; green is turned over exactly in codes of 8 or 16 bits only",
            fix="save it as a PNG of 16 bits first",
            path=path,
        )
    seen = inspect(codes)
    mark = read_mark(path)
    known = mark.kind if mark is not None else f"normal-{seen.green}"
    output = Output(
        path=target,
        mark=replace(mark or Mark(kind="normal"), kind=_OTHER.get(known, "normal")),
        flip_green=True,
    )
    write_outputs([output], lambda band: codes[band], codes.shape, codes.itemsize * 8, report=tell)
    facts = "green turned over"
    if known in _OTHER:
        facts += f": most likely {known.replace('normal', 'green')} before"
    notes = () if picture.covered is None else ("its alpha channel is left out",)
    return Made(source=path, files=(target,), facts=(facts,), notes=notes)


def recover_heights(
    paths: Sequence[Path],
    asked: AskedHeight,
    *,
    out: Path | None = None,
    threads: int | None = None,
    report: Report = silent,
    say: Say = mute,
) -> tuple[Made, ...]:
    """Recover height maps of 16 bits from normal maps, by least squares.

    Parameters, result and errors as for `convert_heights`.
    """
    found = sources(paths, out, normals=True)
    plan = {source: source.named("height", alone=True) for source in found}
    refuse({target: source.path for source, target in plan.items()})
    if asked.scale.depth is not None or asked.scale.strength is not None:
        raise UserError(
            "a depth is what comes out of normals, it is not asked for",
            fix="give --texel or --width, the depth follows",
        )

    def work(source: Source, workers: int, tell: Share) -> Made:
        return _recover(source.path, plan[source], asked, workers, tell)

    return each(found, work, threads=threads, report=report, say=say)


def _recover(path: Path, target: Path, asked: AskedHeight, threads: int, tell: Share) -> Made:
    """Recover one height map."""
    picture = read_picture(path)
    normals = normals_of(picture, path)
    scale = texel_of(path, normals.shape[:2], asked.scale)
    green, edge, notes = _read_as(inspect(normals), asked)
    height = normal_to_height(
        normals,
        texel_mm=scale.texel_mm or 1.0,
        edge=edge,
        green=green,
        alpha=picture.covered,
        threads=threads,
    )
    low, depth = float(height.min()), float(np.ptp(height))
    known = scale.texel_mm is not None and depth > 0.0
    mark = Mark(
        kind="height", depth_mm=depth if known else None, texel_mm=scale.texel_mm if known else None
    )
    write_outputs(
        [Output(path=target, mark=mark)],
        lambda band: _codes(height[band], low, depth),
        (*height.shape, 1),
        16,
        report=tell,
    )
    facts = (f"green {green}, {edge}", _depth_said(depth, max(height.shape), known=known))
    return Made(
        source=path,
        files=(target,),
        facts=facts,
        notes=(*notes, *scale.notes),
        depth_mm=mark.depth_mm,
        texel_mm=mark.texel_mm,
    )


def _read_as(seen: Inspection, asked: AskedHeight) -> tuple[Green, Edge, tuple[str, ...]]:
    """Return the convention and the border to read a map with, and what to tell of that."""
    notes = []
    if asked.green is None and seen.green is None:
        notes.append("it cannot be told which way its green points: taken as up; see --green")
    if asked.green is not None and seen.green not in {None, asked.green}:
        notes.append(f"it looks like green {seen.green}, not {asked.green}")
    wraps = seen.wraps_across and seen.wraps_down
    edge = asked.edge or ("wrap" if wraps else "hold")
    return asked.green or seen.green or "up", edge, tuple(notes)


def _depth_said(depth: float, longer: int, *, known: bool) -> str:
    """Say what black to white is."""
    if depth == 0.0:
        return "it is flat: one even grey"
    if known:
        return f"black to white is {depth:.4g} mm"
    return (
        f"black to white is {depth:.4g} texels: times the size of a texel it is the --depth of "
        f"texbake normal, or take --strength {100.0 * depth / longer:.4g}"
    )


def _codes(height: F32, low: float, depth: float) -> Samples:
    """Return heights as codes of 16 bits."""
    scale = _TOP / depth if depth else 0.0
    codes = (height - np.float32(low)) * np.float32(scale)
    codes += 0.5
    np.clip(codes, 0.0, _TOP + 0.5, out=codes)
    return codes.astype(np.uint16)


def inspect_files(paths: Sequence[Path]) -> tuple[tuple[Path, Inspection], ...]:
    """Look at normal maps, those in folders too.

    Raises
    ------
    UserError
        If one is no normal map, or cannot be read.
    """
    found = sources(paths, None, normals=True)
    return tuple((s.path, inspect(normals_of(read_picture(s.path), s.path))) for s in found)


def sentences(seen: Inspection) -> tuple[str, ...]:
    """Say what was found in a normal map, a line each."""
    kind = "floats" if seen.bits == 32 else f"{seen.bits} bits"
    x, y, z = seen.mean
    worst = f"{seen.length_worst:.4f} at most; {seen.off_share:.2%} by more than rounding could"
    lines = [
        f"{seen.width_px} x {seen.height_px}, {kind}",
        f"convention: {_convention(seen)}",
        f"lengths: off by {seen.length_mean:.4f} in the mean, {worst}",
        f"mean: ({x:.4f}, {y:.4f}, {z:.4f}), {seen.tilt_deg:.2f} degrees from straight out",
        f"steepest angle: {seen.steepest_deg:.1f} degrees; {seen.flat_share:.1%} straight out",
        f"clipped: {seen.clipped_share:.2%} (red or green at an end, or blue not over the middle)",
        f"wraps: {_wraps(seen)}",
    ]
    if seen.off_share > 0.5:
        lines.append("most vectors have no unit length: is this a normal map?")
    return tuple(lines)


def _convention(seen: Inspection) -> str:
    """Say which convention a map has."""
    sure = f"its slopes are a height's to {abs(seen.agreement):.0%}"
    if seen.green == "up":
        return f"green up, as in glTF and OpenGL ({sure})"
    if seen.green == "down":
        return f"green down, as in DirectX ({sure} with green turned over)"
    return "cannot be told: it has no relief that is oblique, or it is no height's"


def _wraps(seen: Inspection) -> str:
    """Say over which borders a map wraps."""
    jumps = f"jumps {seen.jump_across:.1f} and {seen.jump_down:.1f} times those inside"
    words = {
        (True, True): "yes",
        (True, False): "left to right only",
        (False, True): "top to bottom only",
        (False, False): "no",
    }
    return f"{words[seen.wraps_across, seen.wraps_down]} ({jumps})"
