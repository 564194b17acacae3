"""The text of a first recipe: complete, ready to bake, and its own manual."""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from texbake.garment.names import file_word
from texbake.garment.values import Garment
from texbake.recipe.values import Up
from texbake.sewing.thread import diameter_mm
from texbake.starter.picks import Cloth, cloth_of, pick, whereabouts, writable
from texbake.starter.quoting import scalar
from texbake.starter.unit import Unit, unit_guess

YARN_TEXELS = 4.0  # from yarn to yarn: half of that is the least that can show one
THREAD_TEXELS = 1.0
_SERGE_MM, _JERSEY_MM = 10 / 20, 10 / 14  # the coarser pitch of the two fabrics below
_THREAD_TEX = 60.0
_COLUMN = 32  # where comments begin
_MOST_LISTED = 30
_TAKEN = frozenset({"all", "both", "none"})  # words with a meaning of their own in recipes
_DEVICES = ("con", "prn", "aux", "nul", "com", "lpt")  # no file may be called so everywhere


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Start:
    """What the sections of the text share. Lengths in mm, at the unit that is written."""

    garment: Garment
    cloth: Cloth
    unit: Unit
    names: tuple[str, ...]
    texel_mm: float
    grown: float


def starter_recipe(
    garment: Garment,
    *,
    name: str,
    mesh: str,
    unit_mm: float,
    guess: bool = True,
    up: Up = "y",
    uv_set: int = 0,
    size_px: int = 1024,
) -> str:
    """Write a recipe that bakes the garment, with a comment wherever a beginner would wonder.

    Parameters
    ----------
    garment : Garment
        Built without a recipe, or with one: its panels are written as they are.
    name : str
        Of the garment; made fit for file names.
    mesh : str
        Path of the mesh, as seen from the recipe, with ``/``.
    unit_mm : float
        What the mesh was read with: 1, 10, 25.4 or 1000.
    guess : bool
        Write another unit if this one makes an absurd size; False if the user named it.
    up : str
        The axis that the mesh was read with.
    uv_set : int
        The UV set that it was read with.
    size_px : int
        Of the maps; a power of two.

    Returns
    -------
    str
        YAML that ``recipe.load`` reads and that gives the same panels.

    Raises
    ------
    ValueError
        For a unit that recipes do not know.
    """
    start = _start(garment, unit_mm, guess=guess, up=up, size_px=size_px)
    sections = (
        _head(start, name, mesh, up, uv_set, size_px),
        _fabrics(start),
        _panels(start),
        _seams(start),
        _hems(start),
        _colourways(),
    )
    return "\n".join(line for section in sections for line in (*section, ""))


def _start(garment: Garment, unit_mm: float, *, guess: bool, up: Up, size_px: int) -> Start:
    """Settle the unit, and measure the garment in it."""
    used = garment.mesh.points_mm[np.unique(garment.mesh.faces)]
    unit = unit_guess(used / unit_mm, usual_mm=unit_mm, sure=not guess)
    grown = unit.mm / unit_mm
    side = np.diff(garment.mesh.uv, axis=1)
    in_uv = 0.5 * np.abs(side[:, 0, 0] * side[:, 1, 1] - side[:, 0, 1] * side[:, 1, 0])
    area = sum(panel.area_mm2 for panel in garment.panels) * grown**2
    texel = math.sqrt(area / float(in_uv[garment.panel >= 0].sum())) / size_px
    return Start(
        garment=garment,
        cloth=cloth_of(garment, unit_mm=unit_mm, up=up),
        unit=unit,
        names=_names(garment),
        texel_mm=texel,
        grown=grown,
    )


def _names(garment: Garment) -> tuple[str, ...]:
    """Names of the panels; those that a recipe cannot write are replaced."""
    good = {panel.name for panel in garment.panels}
    out = []
    for panel in garment.panels:
        name = panel.name
        if name in _TAKEN or not writable(name):
            name = f"panel-{min(panel.islands)}"
            while name in good:
                name = f"{name}-x"
        out.append(name)
    return tuple(out)


def _head(start: Start, name: str, mesh: str, up: Up, uv_set: int, size_px: int) -> Iterator[str]:
    """Garment, mesh and size."""
    count = len(start.names)
    yield f"# A first recipe for a garment of {count} panel{'' if count == 1 else 's'}."
    yield "# Change what you like; whatever stands behind a # is a comment."
    yield "# See the panels:  texbake panels THIS-FILE"
    yield "# Bake it:         texbake bake THIS-FILE"
    yield ""
    word = garment_word(name)
    yield _with(f"garment: {scalar(word)}", f"the maps are called {word}_navy_albedo.png and so on")
    yield _with(f"mesh: {scalar(mesh)}", "the 3D model, seen from the folder of this file")
    yield from _unit_lines(start.unit)
    if up != "y":
        yield _with(f'up: "{up}"', "the axis of the model that points up")
    if uv_set:
        yield _with(f"uv_set: {uv_set}", "the model has several; the first is 0")
    if start.garment.mesh.tile is not None:
        u, v = start.garment.mesh.tile
        yield _with(f"tile: [{u}, {v}]", "the UV square that is baked; islands in others are not")
    yield _with(f"size: {size_px}", "width and height of the maps in texels, a power of two")
    yield _with("gutter: 16", "islands repeat their border for 16 texels, so that no gaps show")


def garment_word(name: str) -> str:
    """Make a name fit for file names on every system.

    >>> garment_word("deck vest (final)")
    'deck-vest-final'
    """
    word = file_word(name)[:60] or "garment"
    return f"{word}-1" if word.lower().rstrip("0123456789") in _DEVICES else word


def _unit_lines(unit: Unit) -> Iterator[str]:
    """Say how big the garment would be, so that a wrong unit is seen."""
    size = " x ".join(_short(side / 10.0) for side in unit.size_mm)
    yield _with(
        f"mesh_unit: {unit.word}",
        f"makes the garment {size} cm (wide, tall, deep). If that is wrong,",
    )
    yield _with("", "try m, cm, mm or in: yarns and stitches get their size from it")
    if unit.guessed:
        yield _with("", "a guess: in the usual unit of such files it would fit nobody")
    elif not unit.plausible:
        yield _with("", "no unit that is known here would make it fit anybody: please check")


def _fabrics(start: Start) -> Iterator[str]:
    """One fabric to use, one to try."""
    yield "# Cloth, by names of your own."
    yield "fabrics:"
    yield _with("  serge:", "a worsted twill, as uniforms are made of")
    yield _with("    weave: twill 2/2 Z", "over two yarns, under two; also: plain, satin 5/2")
    yield _with("    warp:", "the yarns along the grain, which is up on every panel")
    yield _with("      count: 42 tex", "1 km of the yarn weighs 42 g: the more, the thicker")
    yield _with("      per_cm: 20", "so many yarns side by side to a cm")
    yield _with('      colour: "#22324d"', "deep navy; colours stand in quotes")
    yield _with("    weft:", "the yarns across")
    yield "      count: 42 tex"
    yield "      per_cm: 20"
    yield _with('      colour: "#34486a"', "a little lighter: that shows the twill")
    scale = _scale(start, _SERGE_MM)
    real = _SERGE_MM / start.texel_mm
    yield _with(f"    scale: {scale}", "the yarns are so many times life size. A texel is about")
    yield _with("", f"{_short(start.texel_mm)} mm wide here, so real ones would lie {_short(real)}")
    yield _with("", f"texels apart; at this scale they lie about {YARN_TEXELS:g} apart and can be")
    yield _with("", "seen. With twice the size above, half the scale will do.")
    yield "  # A knit. Take the # away on these lines, then give it to panels below."
    yield "  # jersey:"
    yield "  #   knit: single jersey       # what T-shirts are made of; also: rib 2x2"
    yield '  #   yarn: {count: 20 tex, colour: "#aeb4b5"}   # fog grey'
    yield "  #   wales: 14 /cm             # columns of loops"
    yield "  #   courses: 18 /cm           # rows of loops"
    yield f"  #   scale: {_scale(start, _JERSEY_MM)}"
    yield ""
    yield _with("fabric: serge", "what every panel is made of that names no fabric")


def _scale(start: Start, pitch_mm: float) -> str:
    """Return the scale at which yarns lie ``YARN_TEXELS`` apart, with two digits."""
    return _bounded(YARN_TEXELS * start.texel_mm / pitch_mm)


def _bounded(scale: float) -> str:
    """Write a scale within what recipes take, with two digits that count."""
    return f"{float(f'{min(max(scale, 0.1), 100.0):.2g}'):g}"


def _panels(start: Start) -> Iterator[str]:
    """Every panel, with where it is."""
    yield "# The panels: rename them as you like. A panel is found by a point on it (at, in the"
    yield "# unit of the mesh), or by the name of a material, group or object in the mesh. Left and"
    yield "# right are the wearer's. Another cloth, or the grain turned:"
    yield "#   pocket: {at: [10, 95, 12], fabric: jersey, grain: 45 deg}"
    yield "panels:"
    for index, panel in enumerate(start.garment.panels):
        keys = pick(start.garment, start.cloth, index)
        area = _short(panel.area_mm2 * start.grown**2 / 100.0)
        islands = "island" if len(panel.islands) == 1 else "islands"
        number = ", ".join(map(str, panel.islands))
        where = whereabouts(start.cloth, panel)
        line = f"  {scalar(start.names[index])}: {{{keys}}}"
        yield _with(line, f"{islands} {number}, {area} cm2: {where}", column=48)


def _seams(start: Start) -> Iterator[str]:
    """One entry for all seams, and which there are."""
    length: dict[tuple[str, str], float] = {}
    for chain in start.garment.chains:
        if chain.kind == "seam":
            pair = (start.names[chain.panels[0]], start.names[chain.panels[1]])
            length[pair] = length.get(pair, 0.0) + chain.length_mm * start.grown
    if not length:
        yield _with("seams: none", "no two panels of this mesh meet along an edge")
        return
    yield "# Where panels meet:"
    told = sorted(length.items(), key=lambda item: (-item[1], item[0]))
    yield from _listed(
        f"{a} to itself, {_short(mm)} mm" if a == b else f"{a} and {b}, {_short(mm)} mm"
        for (a, b), mm in told
    )
    yield "seams:"
    yield _with("  - between: [all, all]", "any two panels; more entries may name two of them")
    yield from _stitching(start, "from the seam line to the stitches")
    yield _with("    groove: 0.4 mm", "how deep the seam line lies")


def _hems(start: Start) -> Iterator[str]:
    """One entry for all hems, and which there are."""
    length: dict[str, float] = {}
    for chain in start.garment.chains:
        if chain.kind == "hem":
            name = start.names[chain.panels[0]]
            length[name] = length.get(name, 0.0) + chain.length_mm * start.grown
    if not length:
        yield _with("hems: none", "this mesh has no open edges")
        return
    yield "# Open edges:"
    told = sorted(length.items(), key=lambda item: (-item[1], item[0]))
    yield from _listed(f"{name}, {_short(mm)} mm" for name, mm in told)
    yield "hems:"
    yield _with("  - on: all", "or a panel, or several: [front, back]")
    yield _with("    width: 12 mm", "so much is turned in; the edge stands out by one cloth")
    yield from _stitching(start, "from the turned edge to the stitches")


def _stitching(start: Start, edge: str) -> Iterator[str]:
    """Keys that seams and hems share."""
    scale = _bounded(max(THREAD_TEXELS * start.texel_mm / diameter_mm(_THREAD_TEX), 1.0))
    yield _with("    stitch: 301", "lockstitch (ISO 4915); none hides the stitches")
    yield _with("    rows: 1", "rows of stitches, 1 to 4")
    yield _with("    length: 3 mm", "of a stitch")
    yield _with("    from_edge: 2 mm", edge)
    yield _with(f"    scale: {scale}", "stitches so many times life size: thread a texel thick")
    yield _with('    thread: "#d9902f"', "lantern amber; without it, the colour of the cloth")


def _listed(lines: Iterable[str]) -> Iterator[str]:
    """Write lines as a list of comments, not too long."""
    every = list(lines)
    for line in every[:_MOST_LISTED]:
        yield f"#   {line}"
    if len(every) > _MOST_LISTED:
        yield f"#   and {len(every) - _MOST_LISTED} more"


def _colourways() -> Iterator[str]:
    """Two versions, one of them another colour."""
    yield "# Versions of the garment; each gets maps of its own. What one does not say is as above."
    yield "colourways:"
    yield _with("  navy: {}", "nothing changed")
    yield _with("  signal:", "each line: the way to a value above, and what it is instead")
    yield _with('    serge.warp.colour: "#b23a2e"', "buoy red", column=40)
    yield '    serge.weft.colour: "#c65547"'


def _with(line: str, comment: str, *, column: int = _COLUMN) -> str:
    """Put a comment behind a line."""
    return f"{line:<{column - 1}} # {comment}"


def _short(number: float) -> str:
    """Write three digits that count, without an exponent.

    >>> [_short(x) for x in (0.1234, 12.34, 1234.5)]
    ['0.123', '12.3', '1234']
    """
    if number >= 99.95:
        return f"{number:.0f}"
    decimals = 2 - math.floor(math.log10(number)) if number > 0 else 0
    return f"{number:.{min(decimals, 6)}f}"
