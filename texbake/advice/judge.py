"""What is over its limit, and what to do about it."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from texbake.advice.gaps import Gap, clean_level
from texbake.advice.limits import LIMITS, Limits
from texbake.advice.measure import Figures, PanelFigures
from texbake.advice.values import Finding

_NAMED = 4  # islands or panels named in one sentence
ROUNDING = 1e-3  # of a limit: figures are told in three digits


def judge(
    figures: Figures,
    limits: Limits = LIMITS,
    *,
    mesh: Path | None = None,
    recipe: Path | None = None,
) -> tuple[Finding, ...]:
    """Hold a layout's figures against limits.

    Parameters
    ----------
    figures : Figures
    limits : Limits
    mesh, recipe : Path, optional
        Where findings are; a panel that the recipe names is told with its line there.

    Returns
    -------
    tuple of Finding
        The sheet first, then panels: one finding a rule.
    """
    found = [replace(one, path=mesh) for one in _sheet(figures, limits)]
    for rule in _PANEL_RULES:
        found += _panels(figures.panels, rule, limits, mesh, recipe)
    return tuple(found)


def _sheet(figures: Figures, limits: Limits) -> Iterator[Finding]:
    yield from _off(figures, limits)
    yield from _shared(figures, limits)
    yield from _folded(figures, limits)
    yield from _mirrored(figures, limits)
    yield from _gaps(figures)
    yield from _spread(figures, limits)
    if figures.unused > limits.unused:
        yield Finding(
            rule="unused",
            what=f"{_number(figures.unused, '%')} of the sheet is unused, "
            f"over {_number(limits.unused, '%')}",
            fix="scale all islands up together, or pack them closer",
            value=figures.unused,
            limit=limits.unused,
        )


def _off(figures: Figures, limits: Limits) -> Iterator[Finding]:
    """Islands off the square."""
    if figures.off and not limits.in_square:
        far = max(figures.off, key=lambda off: off.by)
        told = _told(figures, [off.island for off in figures.off])
        yield Finding(
            rule="in_square",
            what=f"{told} off the UV square, by up to {far.by:.3g} "
            f"({far.by * figures.size_px:.3g} texels)",
            fix="move them into 0..1: what lies outside is not baked",
            value=far.by,
            limit=0.0,
        )


def _shared(figures: Figures, limits: Limits) -> Iterator[Finding]:
    """Islands that lie over each other; each group of them is one finding."""
    if limits.overlaps:
        return
    for islands, texels in _stacks(figures):
        what = f"{_told(figures, islands)} over one another"
        if len(islands) == 1:
            what = f"{_told(figures, islands)} over itself"
        yield Finding(
            rule="overlaps",
            what=f"{what}: {texels} texels are shared",
            fix="move the islands apart; if they are meant to look alike, it is no matter",
            value=float(texels),
            limit=0.0,
            unit="texels",
        )


def _stacks(figures: Figures) -> list[tuple[list[int], int]]:
    """Islands joined by texels that they share, with how many those are in all."""
    stack: dict[int, int] = {}
    for one in figures.shared:
        first, second = (stack.setdefault(k, k) for k in one.islands)
        stack.update({k: first for k, of in stack.items() if of == second})
    texels: dict[int, int] = {}
    for one in figures.shared:
        of = stack[one.islands[0]]
        texels[of] = texels.get(of, 0) + one.texels
    groups = [(sorted(k for k in stack if stack[k] == of), count) for of, count in texels.items()]
    return sorted(groups)


def _folded(figures: Figures, limits: Limits) -> Iterator[Finding]:
    if figures.folded and not limits.folded:
        yield Finding(
            rule="folded",
            what=f"{_told(figures, figures.folded)} folded in UV: part is turned over",
            fix="unfold it, or cut it along the fold",
            value=float(len(figures.folded)),
            limit=0.0,
            unit="islands",
        )


def _mirrored(figures: Figures, limits: Limits) -> Iterator[Finding]:
    if figures.mirrored and not limits.mirrored:
        yield Finding(
            rule="mirrored",
            what=f"{_told(figures, figures.mirrored)} mirrored in UV",
            fix="mirror it back: lettering on it would read backwards",
            value=float(len(figures.mirrored)),
            limit=0.0,
            unit="islands",
        )


def _gaps(figures: Figures) -> Iterator[Finding]:
    """Islands nearer than the gutter needs."""
    near = [gap for gap in figures.gaps if gap.texels < figures.gap_wanted * (1 - ROUNDING)]
    if not near:
        return
    first, level = near[0], clean_level(near[0].texels)
    clean = f"mip levels to {level} stay clean" if level >= 0 else "no mip level stays clean"
    others = f"; {_many(len(near) - 1, 'more pair is', 'more pairs are')} too near"
    fix = (
        f"pack islands {figures.gap_wanted} texels apart "
        f"({figures.gap_wanted / figures.size_px:.2g} of the sheet), or bake at a larger size"
    )
    if level >= 0:
        fix = f"{fix}, or be content with mip level {level} (gutter: {1 << level})"
    yield Finding(
        rule="mip_level",
        what=f"{_pair(figures, first)} are {first.texels:.3g} texels apart "
        f"(at u {first.uv[0]:.3f}, v {first.uv[1]:.3f}): {clean}, level "
        f"{clean_level(figures.gap_wanted)} (gutter {figures.gutter_px}) needs "
        f"{figures.gap_wanted}{others if len(near) > 1 else ''}",
        fix=fix,
        value=first.texels,
        limit=float(figures.gap_wanted),
        unit="texels",
    )


def _spread(figures: Figures, limits: Limits) -> Iterator[Finding]:
    if figures.density_spread > limits.density_spread:
        yield Finding(
            rule="density_spread",
            what=f"'{figures.densest}' has {figures.density_spread:.3g} times the texels per cm of "
            f"'{figures.coarsest}', over {limits.density_spread:g}",
            fix="scale the islands to one density, unless one is hardly seen",
            value=figures.density_spread,
            limit=limits.density_spread,
        )


def _inside(panel: PanelFigures) -> float:
    """Densest by coarsest place of a panel."""
    dense = panel.texels_per_cm
    return dense.high / dense.low if dense.low > 0 else 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _PanelRule:
    """One figure of each panel; ``unit``: "%" for shares."""

    rule: str
    value: Callable[[PanelFigures], float]
    limit: Callable[[Limits], float]
    unit: str
    words: str
    fix: str


_CUT = "give it a dart or a seam, or unwrap it anew"
_RELAX = "relax the island until squares on the cloth are squares in UV"
_PANEL_RULES: Final = (
    _PanelRule(
        rule="stretch",
        value=lambda panel: panel.stretch_rms,
        limit=lambda limits: limits.stretch,
        unit="%",
        words="the flat pattern is stretched by over",
        fix=_CUT,
    ),
    _PanelRule(
        rule="stretch_max",
        value=lambda panel: panel.stretch_max,
        limit=lambda limits: limits.stretch_max,
        unit="%",
        words="some place of the flat pattern is stretched by over",
        fix=_CUT,
    ),
    _PanelRule(
        rule="uv_stretch_mean",
        value=lambda panel: panel.uv_stretch_mean,
        limit=lambda limits: limits.uv_stretch_mean,
        unit="",
        words="texels are longer than wide, in the mean by a factor over",
        fix=_RELAX,
    ),
    _PanelRule(
        rule="uv_stretch",
        value=lambda panel: panel.uv_stretch,
        limit=lambda limits: limits.uv_stretch,
        unit="",
        words="texels are longer than wide in places, by a factor over",
        fix=_RELAX,
    ),
    _PanelRule(
        rule="density_spread_panel",
        value=_inside,
        limit=lambda limits: limits.density_spread_panel,
        unit="",
        words="texels per cm differ inside a panel by a factor over",
        fix="even the island out where it is squeezed",
    ),
)


def _panels(
    panels: Sequence[PanelFigures],
    rule: _PanelRule,
    limits: Limits,
    mesh: Path | None,
    recipe: Path | None,
) -> list[Finding]:
    """Tell the panels over one limit in one finding, the worst first; it has the place."""
    limit = rule.limit(limits)
    over = sorted((p for p in panels if rule.value(p) > limit * (1 + ROUNDING)), key=rule.value)[
        ::-1
    ]
    if not over:
        return []
    names = [f"'{panel.name}' ({_number(rule.value(panel), rule.unit)})" for panel in over[:_NAMED]]
    more = f" and {len(over) - _NAMED} more" if len(over) > _NAMED else ""
    of = "panel" if len(over) == 1 else "panels"
    named = recipe if over[0].line is not None else None
    what = f"{rule.words} {_number(limit, rule.unit)}: {of} {', '.join(names)}{more}"
    return [
        Finding(
            rule=rule.rule,
            what=what,
            fix=rule.fix,
            value=rule.value(over[0]),
            limit=limit,
            path=named or mesh,
            line=over[0].line if named else None,
        )
    ]


def _number(value: float, unit: str) -> str:
    return f"{100 * value:.3g} %" if unit == "%" else f"{value:.3g}"


def _told(figures: Figures, islands: Sequence[int]) -> str:
    """Name islands with their panels, and the verb that fits their number."""
    names = [f"{k} ({figures.names[k]})" for k in islands[:_NAMED]]
    more = f" and {len(islands) - _NAMED} more" if len(islands) > _NAMED else ""
    verb = ("island", "is") if len(islands) == 1 else ("islands", "are")
    return f"{verb[0]} {', '.join(names)}{more} {verb[1]}"


def _many(count: int, one: str, more: str) -> str:
    return f"{count} {one if count == 1 else more}"


def _pair(figures: Figures, gap: Gap) -> str:
    first, second = (f"{k} ({figures.names[k]})" for k in gap.islands)
    return f"islands {first} and {second}"
