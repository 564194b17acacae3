"""Names for panels that no recipe names, and numbers for several of one name.

A panel is called after its material, else its group, else its object, if it alone has that name;
otherwise by where it lies, seen by the wearer, who faces +Z: ``left`` is +X. Only the place and
the outside of the cloth are known, so no sleeves or collars are guessed.
"""

import re
from collections.abc import Sequence
from typing import cast

import numpy as np

from texbake.arrays import F64, I32, I64, Bool
from texbake.garment.values import Mesh

WORDS = (("right", "left"), ("bottom", "top"), ("back", "front"))
# The outside counts half as much as the place: the inside of a front is still at the front.
OUTSIDE_SHARE = 0.5


def default_names(
    mesh: Mesh, island: I32, usable: Bool, unclaimed: Sequence[int], taken: Sequence[str]
) -> dict[int, str]:
    """Name each unclaimed island.

    Parameters
    ----------
    mesh : Mesh
    island : (F,) int32
    usable : (F,) bool
        Faces with area in UV.
    unclaimed : sequence of int
        Islands to name.
    taken : sequence of str
        Names already given.

    Returns
    -------
    dict of island to name
        Different from each other and from ``taken``, also in letter case.
    """
    places = island_places(mesh, island, usable)
    own = _own_names(mesh, island, usable)
    words: dict[str, list[int]] = {}
    for i in unclaimed:
        words.setdefault(own.get(i) or _position(places, i), []).append(i)
    names: dict[int, str] = {}
    used = {name.lower() for name in taken}
    for word in sorted(words):
        fresh = _numbered(word, len(words[word]), used)
        used |= {name.lower() for name in fresh}
        names.update(zip(by_height(places, words[word]), fresh, strict=True))
    return names


class Places:
    """Where islands lie: area-weighted middles (I, 3), outsides (I, 3), and the garment's box."""

    def __init__(self, middle: F64, outside: F64, low: F64, high: F64) -> None:
        self.middle, self.outside, self.low, self.high = middle, outside, low, high

    @property
    def diagonal_mm(self) -> float:
        """Diagonal of the garment's box, mm."""
        return float(np.linalg.norm(self.high - self.low))


def island_places(mesh: Mesh, island: I32, usable: Bool) -> Places:
    """Measure where each island lies.

    Parameters
    ----------
    mesh : Mesh
    island : (F,) int32
    usable : (F,) bool
        Faces that count.
    """
    corners = mesh.points_mm[mesh.faces[usable]]
    which = island[usable]
    count = int(island.max(initial=-1)) + 1
    normal = 0.5 * np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area = np.linalg.norm(normal, axis=1)
    weight = np.maximum(area, 1e-9 * max(float(area.max(initial=0.0)), 1e-300))
    total = np.maximum(np.bincount(which, weight, count), 1e-300)[:, None]
    middle = _sums(which, weight[:, None] * corners.mean(axis=1), count) / total
    flat = corners.reshape(-1, 3) if len(corners) else np.zeros((1, 3))
    outside = _sums(which, normal, count) / total
    return Places(middle, outside, flat.min(axis=0), flat.max(axis=0))


def by_height(places: Places, islands: Sequence[int]) -> list[int]:
    """Sort islands from top to bottom; level ones by x, then from front to back.

    What differs by less than about 2 % of the diagonal is level.
    """
    step = max(places.diagonal_mm / 50.0, 1e-300)
    x, y, z = np.round(places.middle / step).T
    return sorted(islands, key=lambda i: (-y[i], x[i], -z[i], i))


def number_names(name: str, count: int) -> list[str]:
    """Return ``[name]`` for one, else ``name-1``, ``name-2`` ...

    >>> number_names("lining", 2)
    ['lining-1', 'lining-2']
    """
    return [name] if count == 1 else [f"{name}-{i + 1}" for i in range(count)]


def file_word(name: str) -> str:
    """Keep letters, digits, ``-`` and ``_``; all else becomes one ``-``.

    >>> file_word("Lining (inner) ")
    'Lining-inner'
    """
    return re.sub(r"[^\w]+", "-", name, flags=re.ASCII).strip("-_")


def _numbered(word: str, count: int, used: set[str]) -> list[str]:
    if count == 1 and word.lower() not in used:
        return [word]
    names: list[str] = []
    number = 0
    while len(names) < count:
        number += 1
        if f"{word}-{number}".lower() not in used:
            names.append(f"{word}-{number}")
    return names


def _own_names(mesh: Mesh, island: I32, usable: Bool) -> dict[int, str]:
    """Return islands that alone bear a material, group or object name, as file words."""
    found: dict[int, str] = {}
    tables = (
        (mesh.objects, mesh.object_of),
        (mesh.groups, mesh.group_of),
        (mesh.materials, mesh.material_of),
    )
    for names, of in tables:  # the last, the material, has the last word
        pairs = np.unique(np.stack([island[usable], of[usable]]), axis=1)
        pure = np.bincount(pairs[0])[pairs[0]] == 1
        alone = np.bincount(pairs[1])[pairs[1]] == 1
        for i, name in pairs.T[pure & alone & (len(pairs.T) > 1)].tolist():
            if word := file_word(names[name]):
                found[i] = word
    return found


def _position(places: Places, island: int) -> str:
    """Return front, back, left, right, top or bottom."""
    half = np.maximum((places.high - places.low) / 2.0, 0.1 * places.diagonal_mm)
    offset = (places.middle[island] - (places.low + places.high) / 2.0) / np.maximum(half, 1e-300)
    toward = offset + OUTSIDE_SHARE * places.outside[island]
    axis = int(np.argmax(np.abs(toward) + np.array([0.0, 0.0, 1e-9])))  # front on a tie
    return WORDS[axis][int(toward[axis] >= 0)]


def _sums(which: I32 | I64, values: F64, count: int) -> F64:
    columns = [np.bincount(which, values[:, i], count) for i in range(values.shape[1])]
    return cast("F64", np.stack(columns, axis=1))
