"""What a user should know of a garment and its cloth before looking at the maps."""

import math
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from texbake import cloth
from texbake.batch.door import Meant
from texbake.batch.plan import Plan
from texbake.change import layout_path
from texbake.garment.raw import listed
from texbake.prepared import Prepared, fabric_names
from texbake.recipe import Fabric, Recipe

FINE_TEXELS = 2.0  # a yarn of fewer texels is not seen as one (Nyquist: two samples to a period)
SHOWN_TEXELS = 4.0  # what `scale` is proposed for
MOST_SCALE = 100.0  # the greatest that a recipe may say


def remarks(shared: Prepared) -> tuple[str, ...]:
    """What a user should know before looking at the maps: a sentence each.

    What was met in the mesh, islands that share texels, and yarns too fine to be seen.
    """
    return (*shared.garment.notes, *_shared_texels(shared), *_fine_yarns(shared))


def lost(now: Meant, plans: Sequence[Plan], out: Path) -> tuple[str, ...]:
    """Say that sets of another mesh lie there, but nothing tells of their panels."""
    records = [plan.record for plan in plans if plan.record is not None]
    if not now.last.first or all(one.parts.get("mesh") == now.common.mesh for one in records):
        return ()
    where = layout_path(out, now.first.garment)
    told = (
        f"{where} is missing, by which panels are known again after a change of the mesh: the "
        "recipe is read as it stands; to follow the cloth, put the earlier mesh back, bake it, "
        "and then bake this one"
    )
    return (told,)


def _shared_texels(shared: Prepared) -> list[str]:
    """Panels that lie over each other or over themselves, each stack of them told once."""
    stack = list(range(len(shared.garment.panels)))
    texels: Counter[int] = Counter()
    for overlap in shared.layout.overlaps:
        a, b = (stack[k] for k in overlap.panels)
        stack = [min(a, b) if k == max(a, b) else k for k in stack]
    for overlap in shared.layout.overlaps:
        texels[stack[overlap.panels[0]]] += overlap.texels
    told = []
    for first, count in sorted(texels.items()):
        names = [p.name for k, p in zip(stack, shared.garment.panels, strict=True) if k == first]
        whom = f"panel '{names[0]}' lies over itself"
        if len(names) > 1:
            whom = f"panels {listed([repr(name) for name in names], 8)} share texels"
        told.append(f"{whom} ({count} texels): they are baked once, from the first")
    return told


def _fine_yarns(shared: Prepared) -> list[str]:
    """Fabrics whose yarns are too fine for the texels of all panels that wear them."""
    names = fabric_names(shared.recipe, shared.garment)
    found = []
    for name in dict.fromkeys(names):
        fabric = shared.recipe.fabrics[name]
        sizes = [texel_mm(shared, k) for k, worn in enumerate(names) if worn == name]
        texel = min(size for size in sizes)
        pitch = cloth.yarn_mm(fabric)
        if texel > 0.0 and pitch / texel < FINE_TEXELS and cloth.has_yarns(fabric):
            found.append(
                f"fabric '{name}': its yarns are {_texels(pitch / texel)} apart, too fine to be "
                f"seen; {_cure(shared.recipe, fabric, SHOWN_TEXELS * texel / pitch)}"
            )
    return found


def _texels(count: float) -> str:
    number = f"{count:.2g}"
    return f"{number} texel" if number == "1" else f"{number} texels"


def _cure(recipe: Recipe, fabric: Fabric, grown: float) -> str:
    """Say which scale would show a fabric's yarns, in two digits, rounded up; or that none does."""
    step = 10.0 ** (math.floor(math.log10(fabric.scale * grown)) - 1)
    scale = math.ceil(fabric.scale * grown / step) * step
    if scale > MOST_SCALE:
        return "no scale would show them: bake at a larger size"
    # What stands in the recipe as a phrase (`fabric: plain`) has no place for a scale.
    where = "" if f"fabrics.{fabric.name}" in recipe.lines else "described under fabrics, "
    return f"{where}scale: {scale:g} would show them, {SHOWN_TEXELS:g} texels apart"


def texel_mm(shared: Prepared, panel: int) -> float:
    """Median size of a panel's texels on the cloth, mm."""
    faces = shared.garment.panels[panel].faces
    if not len(faces):
        return 0.0
    sizes = np.sort(shared.layout.texel_mm[faces])  # np.median would load masked arrays: 8 ms
    return float(0.5 * (sizes[(len(sizes) - 1) // 2] + sizes[len(sizes) // 2]))
