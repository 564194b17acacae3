"""What became of each panel, in words and figures."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from texbake.arrays import F64, Bool
from texbake.change.follow import Comparison, face_areas
from texbake.garment.raw import listed
from texbake.garment.values import Garment, Panel

TURN_DEG, SCALE, OFF_PX = 0.5, 0.01, 0.5  # less is no change
# RMS distance from the best affine map, as a share of the panel's extent in UV: more, and it was
# not moved but unwrapped anew.
ANEW = 0.005
SAME = ("same",)  # the words of a panel that is as it was
LOST = 0.02  # of a panel's cloth: less is rounding at its border
MOST_NAMES = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One panel, then and now.

    Attributes
    ----------
    name : str
    before, now : tuple of int
        Its islands; empty where it was not or is not.
    words : tuple of str
        What happened, such as "moved", "turned 30 deg", "mirrored", "split into islands 2, 5".
    texels_per_cm_before, texels_per_cm : float
        Mean over the panel, both at the size of the maps as it is now; 0 where it is not.
    """

    name: str
    before: tuple[int, ...]
    now: tuple[int, ...]
    words: tuple[str, ...]
    texels_per_cm_before: float
    texels_per_cm: float


def describe(followed: Comparison, garment: Garment, size_px: int) -> tuple[Row, ...]:
    """Say what became of each panel: the old ones in their order, then the new ones.

    Parameters
    ----------
    followed : Comparison
    garment : Garment
        As it is now.
    size_px : int
        Of the maps, as it is now.
    """
    now = {panel.name: k for k, panel in enumerate(garment.panels)}
    names = [panel.name for panel in followed.kept.panels]
    rows = [_old_row(followed, garment, p, now.get(name), size_px) for p, name in enumerate(names)]
    rows += [
        _new_row(followed, garment, k, size_px) for name, k in now.items() if name not in names
    ]
    return tuple(rows)


def _old_row(
    followed: Comparison, garment: Garment, old: int, now: int | None, size_px: int
) -> Row:
    """Describe a panel that was baked."""
    kept = followed.kept
    mine = kept.panel == old
    before = density_of(kept.points_mm[kept.faces], kept.uv, mine, size_px)
    panel = kept.panels[old]
    if now is None:
        words = _where_it_went(followed, garment, old)
        return Row(
            name=panel.name,
            before=panel.islands,
            now=(),
            words=words,
            texels_per_cm_before=before,
            texels_per_cm=0.0,
        )
    mesh, its = garment.mesh, garment.panel == now
    after = density_of(mesh.points_mm[mesh.faces], mesh.uv, its, size_px)
    words = (
        *_pieces(followed, garment, old, now),
        *_motion(followed, old, garment.panels[now], size_px),
        *_scaling(before, after),
        *_cloth(followed, garment, old, now),
    )
    return Row(
        name=panel.name,
        before=panel.islands,
        now=garment.panels[now].islands,
        words=words or SAME,
        texels_per_cm_before=before,
        texels_per_cm=after,
    )


def _new_row(followed: Comparison, garment: Garment, now: int, size_px: int) -> Row:
    """Describe a panel of a name that was not baked."""
    mesh, its = garment.mesh, garment.panel == now
    olds = np.unique(followed.overlap.face_panel[its & (followed.overlap.face_panel >= 0)])
    from_names = [repr(followed.kept.panels[p].name) for p in olds.tolist()]
    words = (f"was {listed(from_names, MOST_NAMES)}",) if from_names else ("new",)
    return Row(
        name=garment.panels[now].name,
        before=(),
        now=garment.panels[now].islands,
        words=words,
        texels_per_cm_before=0.0,
        texels_per_cm=density_of(mesh.points_mm[mesh.faces], mesh.uv, its, size_px),
    )


def _where_it_went(followed: Comparison, garment: Garment, old: int) -> tuple[str, ...]:
    """Say which panels have the cloth of one that is no more."""
    there = garment.panel[(followed.overlap.face_panel == old) & (garment.panel >= 0)]
    names = [repr(garment.panels[k].name) for k in np.unique(there).tolist()]
    return (f"is now part of {listed(names, MOST_NAMES)}",) if names else ("gone",)


def _pieces(followed: Comparison, garment: Garment, old: int, now: int) -> list[str]:
    """Say whether it lies in more or fewer islands than it did, and with whom."""
    before, after = followed.kept.panels[old].islands, garment.panels[now].islands
    words = []
    if len(after) > len(before):
        numbers = listed([str(i) for i in after], MOST_NAMES)
        words.append(f"split into islands {numbers}")
    elif len(after) < len(before):
        words.append(f"joined: {len(before)} islands are {len(after)} now")
    mates = [
        repr(panel.name)
        for k, panel in enumerate(garment.panels)
        if k != now and set(panel.islands) & set(after)
    ]
    known = {repr(panel.name) for panel in followed.kept.panels if set(panel.islands) & set(before)}
    fresh = [mate for mate in mates if mate not in known]
    if fresh:
        words.append(f"joined with {listed(fresh, MOST_NAMES)} in UV")
    return words


def _motion(followed: Comparison, old: int, panel: Panel, size_px: int) -> list[str]:
    """Say how its islands were moved, if each was moved as one piece."""
    places = followed.overlap.places
    words: dict[str, None] = {}
    turns: list[int] = []
    for island in panel.islands:
        mine = (places.panel == old) & (places.island == island) & (places.area_mm2 > 0)
        if not mine.any():
            continue
        was, now, weight = places.old_uv[mine], places.new_uv[mine], places.area_mm2[mine]
        if float(np.abs(was - now).max()) * size_px <= OFF_PX:
            continue
        linear, off = _best_map(was, now, weight)
        if float(np.linalg.det(linear)) < 0.0:
            words["mirrored"] = None
        if off > ANEW * max(float(np.ptp(now, axis=0).max()), 1e-12):
            words["unwrapped anew"] = None
            continue
        centre = _mean(now, weight) - _mean(was, weight)
        if float(np.abs(centre).max()) * size_px > OFF_PX:
            words["moved"] = None
        turn = _turn_deg(linear, mirrored="mirrored" in words)
        # Half a turn is 180, whichever way it was measured.
        turns += [180 if round(turn) == -180 else round(turn)] if abs(turn) > TURN_DEG else []
    if "unwrapped anew" in words:
        return ["unwrapped anew", *(["mirrored"] if _mirrored(followed, old, panel) else [])]
    known = [word for word in ("moved", "mirrored") if word in words]
    turned = [f"turned {listed([str(t) for t in dict.fromkeys(turns)], MOST_NAMES)} deg"]
    return known + (turned if turns else [])


def _mirrored(followed: Comparison, old: int, panel: Panel) -> bool:
    """Say whether most of its cloth lies the other way round than it did."""
    kept = followed.kept
    was = _handed(kept.uv[kept.panel == old])
    return was * _handed(followed.uv[panel.faces]) < 0.0


def _handed(uv: F64) -> float:
    """Area in UV, negative where faces lie mirrored."""
    b, c = uv[:, 1] - uv[:, 0], uv[:, 2] - uv[:, 0]
    return float((b[:, 0] * c[:, 1] - b[:, 1] * c[:, 0]).sum())


def _best_map(was: F64, now: F64, weight: F64) -> tuple[F64, float]:
    """Return the best linear part (2, 2), ``now`` from ``was``, and the RMS distance from it."""
    a, b = was - _mean(was, weight), now - _mean(now, weight)
    square = (a * weight[:, None]).T @ a
    across = (a * weight[:, None]).T @ b
    linear = np.linalg.lstsq(square, across, rcond=1e-12)[0].T
    rest = ((b - a @ linear.T) ** 2).sum(axis=1)
    return linear, math.sqrt(float((rest * weight).sum() / weight.sum()))


def _turn_deg(linear: F64, *, mirrored: bool) -> float:
    """Turn of the nearest rotation, counter-clockwise; of a mirrored map, after its u is turned."""
    turned = linear @ np.diag([-1.0, 1.0]) if mirrored else linear
    return math.degrees(math.atan2(turned[1, 0] - turned[0, 1], turned[0, 0] + turned[1, 1]))


def _mean(points: F64, weight: F64) -> F64:
    return np.asarray((points * weight[:, None]).sum(axis=0) / weight.sum())


def _scaling(before: float, after: float) -> list[str]:
    if before <= 0.0 or after <= 0.0 or abs(after / before - 1.0) <= SCALE:
        return []
    return [f"scaled, {before:.3g} -> {after:.3g} texels/cm"]


def _cloth(followed: Comparison, garment: Garment, old: int, now: int) -> list[str]:
    """Say how much of its cloth is gone, and how much is new."""
    overlap = followed.overlap
    had = float(overlap.old_mm2[old])
    lost = 1.0 - float(overlap.old_common_mm2[old].sum()) / had if had > 0.0 else 0.0
    has = garment.panels[now].area_mm2
    grown = 1.0 - float(overlap.new_common_mm2[old, list(garment.panels[now].islands)].sum()) / has
    words = [f"{lost:.0%} of its cloth is gone"] if lost > LOST else []
    return words + ([f"{grown:.0%} of it is new cloth"] if grown > LOST else [])


def density_of(corners_mm: F64, uv: F64, mine: Bool, size_px: int) -> float:
    """Return the mean texels per cm of some faces.

    Parameters
    ----------
    corners_mm : (F, 3, 3) float64
    uv : (F, 3, 2) float64
    mine : (F,) bool
        Which faces; 0 for none.
    size_px : int
    """
    area = float(face_areas(corners_mm[mine]).sum())
    b, c = uv[mine, 1] - uv[mine, 0], uv[mine, 2] - uv[mine, 0]
    flat = 0.5 * float(np.abs(b[:, 0] * c[:, 1] - b[:, 1] * c[:, 0]).sum())
    return 10.0 * size_px * math.sqrt(flat / area) if area > 0.0 else 0.0


def sentences(rows: Sequence[Row], mesh: str) -> tuple[str, ...]:
    """Return the change as sentences: panels of one fate together, the same ones last."""
    told: dict[tuple[str, ...], list[str]] = {}
    for row in rows:
        told.setdefault(row.words, []).append(row.name)
    same = told.pop(SAME, [])
    out = [f"the UV layout of {mesh} is not the one that was baked last"]
    for words, names in told.items():
        out.append(f"{panels_told(names)}: {', '.join(words)}")
    return (*out, *([f"{panels_told(same)}: same"] if same else []))


def panels_told(names: Sequence[str]) -> str:
    """Return panels by name, as they begin a sentence."""
    word = "panel" if len(names) == 1 else "panels"
    return f"{word} {listed([repr(name) for name in names], MOST_NAMES)}"
