"""The panels as text and as JSON."""

import textwrap
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from texbake.advice import Figures, Finding, as_plain, clean_level
from texbake.chart.rows import PanelRow

WIDTH = 100
_INDENT = " " * 5
_NAME = 20
_HEAD = ("no", "panel", "cm2", "width x length", "texels/cm", "stretch", "grain", "in UV")
_UNIT = ("", "", "", "mm", "mean (range)", "rms / max", "deg", "")
_ALIGN = "><>>><>>"
_KEY = (
    "no: number of the island, as a recipe's `island: 0` has it. texels/cm: mean over the cloth, "
    "and the range without the 1 % at either end. stretch: how far the flat pattern differs from "
    "the cloth in space. grain: lengthwise direction of the cloth in the UV picture, from up, "
    "counter-clockwise. mirrored: UV shows the cloth from its inside. UV stretch: longest by "
    "shortest step of a texel on the cloth, mean and worst."
)


def table(rows: Sequence[PanelRow], figures: Figures | None = None) -> str:
    """Write panels as plain text, at most 100 columns wide.

    Parameters
    ----------
    rows : sequence of PanelRow
    figures : Figures, optional
        Of the sheet, told below the panels.

    Returns
    -------
    str
        Several lines, without a line feed at the end.
    """
    cells = [_HEAD, _UNIT, *(_cells(row) for row in rows)]
    widths = [max(len(row[k]) for row in cells) for k in range(len(_HEAD))]
    lines = [_line(row, widths) for row in cells[:2]]
    lines.append("-" * max(len(line) for line in lines))
    shared = _shared(rows)
    for row, cell in zip(rows, cells[2:], strict=True):
        lines.append(_line(cell, widths))
        lines += textwrap.wrap(
            _sewing(row, names=not shared),
            WIDTH,
            initial_indent=_INDENT,
            subsequent_indent=_INDENT,
            break_on_hyphens=False,
        )
    sheet = () if figures is None else textwrap.wrap(_sheet(figures), WIDTH)
    lines += ["", *textwrap.wrap(_total(rows, shared), WIDTH), *sheet, *textwrap.wrap(_KEY, WIDTH)]
    return "\n".join(lines)


def as_json(
    rows: Sequence[PanelRow], figures: Figures, found: Sequence[Finding] = ()
) -> dict[str, Any]:
    """Return panels, sheet and advice as plain values for JSON, all digits kept.

    Parameters
    ----------
    rows : sequence of PanelRow
    figures : Figures
    found : sequence of Finding
        From `texbake.advice.judge`.
    """
    sheet = asdict(figures)
    del sheet["panels"]
    return {
        "panels": [asdict(row) for row in rows],
        "sheet": sheet,
        "advice": [as_plain(one) for one in found],
    }


def _cells(row: PanelRow) -> tuple[str, ...]:
    name = row.name if len(row.name) <= _NAME else f"{row.name[: _NAME - 3]}..."
    density = "none"
    if row.texels_per_cm > 0:
        density = (
            f"{_three(row.texels_per_cm)} "
            f"({_three(row.texels_per_cm_low)}..{_three(row.texels_per_cm_high)})"
        )
    return (
        str(row.number),
        name,
        _three(row.area_cm2),
        f"{_three(row.width_mm)} x {_three(row.length_mm)}",
        density,
        f"{100 * row.stretch_rms:.1f} / {100 * row.stretch_max:.1f} %",
        f"{round(row.grain_deg)}",
        {"no": "", "yes": "mirrored", "partly": "part mirrored"}[row.mirrored],
    )


def _line(cells: Sequence[str], widths: Sequence[int]) -> str:
    pairs = zip(cells, widths, _ALIGN, strict=True)
    return "  ".join(f"{cell:{way}{width}}" for cell, width, way in pairs).rstrip()


def _sewing(row: PanelRow, *, names: bool) -> str:
    """What does not fit the table: islands, seams, hem, names."""
    parts = [f"{row.faces} triangles"]
    if row.uv_stretch_mean > 0:
        parts.append(f"UV stretch {row.uv_stretch_mean:.2f} / {row.uv_stretch_max:.2f}")
    if len(row.islands) > 1:
        parts.append(f"islands {', '.join(map(str, row.islands))}")
    if row.seams:
        sewn = [
            f"{'itself' if seam.name == row.name else seam.name} {_three(seam.length_mm)} mm"
            for seam in row.seams
        ]
        parts.append(f"seams: {', '.join(sewn)}")
    if row.hem_mm > 0:
        parts.append(f"hem {_three(row.hem_mm)} mm")
    return "; ".join([*parts, *(_borne(row) if names else ())])


def _borne(row: PanelRow) -> list[str]:
    """Names that a panel bears in the mesh file."""
    kinds = (("object", row.objects), ("group", row.groups), ("material", row.materials))
    return [f"{kind} {', '.join(names)}" for kind, names in kinds if names]


def _shared(rows: Sequence[PanelRow]) -> list[str]:
    """Names in the mesh file, if all panels bear the same."""
    borne = {tuple(_borne(row)) for row in rows}
    return list(borne.pop()) if len(borne) == 1 else []


def _total(rows: Sequence[PanelRow], shared: list[str]) -> str:
    area = sum(row.area_cm2 for row in rows)
    cloth = f"{area / 1e4:.2f} m2" if area >= 1e3 else f"{_three(area)} cm2"
    total = f"{len(rows)} panel{'' if len(rows) == 1 else 's'}, {cloth} of cloth"
    return f"{total}; all: {'; '.join(shared)}" if shared else total


def _sheet(figures: Figures) -> str:
    """Say what is so of the whole sheet."""
    parts = [f"{100 * figures.unused:.3g} % of the sheet unused"]
    if figures.gaps:
        gap, level = figures.gaps[0], clean_level(figures.gaps[0].texels)
        first, second = gap.islands
        clean = f"mip levels to {level} clean" if level >= 0 else "no mip level clean"
        parts.append(
            f"nearest islands {first} and {second}, {gap.texels:.3g} texels apart: {clean}"
        )
    if figures.density_spread > 1.0:
        parts.append(
            f"densest panel {figures.densest}, {figures.density_spread:.2f} times the coarsest, "
            f"{figures.coarsest}"
        )
    if figures.shared:
        parts.append(f"{sum(one.texels for one in figures.shared)} texels shared")
    return f"at {figures.size_px} px: {'; '.join(parts)}"


def _three(number: float) -> str:
    """Three digits that count, without an exponent.

    >>> [_three(x) for x in (0.0123, 9.876, 54.32, 1234.5)]
    ['0.01', '9.88', '54.3', '1234']
    """
    if number >= 99.95:
        return f"{number:.0f}"
    return f"{number:.1f}" if number >= 9.995 else f"{number:.2f}"
