"""What is told of a swatch, for people and for scripts."""

from texbake import cloth
from texbake.cloth import Repeat
from texbake.swatch.facts import Facts
from texbake.swatch.run import LEAST_PX, Swatch


def repeat_words(repeat: Repeat) -> str:
    """A repeat in yarns and mm.

    >>> repeat_words(Repeat(names=("ends", "picks"), counts=(5, 5), size_mm=(0.734, 1.06),
    ...                     whole_mm=(0.734, 1.06)))
    '5 ends x 5 picks, 0.734 x 1.06 mm'
    """
    size = f"{repeat.size_mm[0]:.3g} x {repeat.size_mm[1]:.3g} mm"
    if not repeat.names[0]:
        return f"none of its own; the maps' is {size}"
    if not repeat.names[1]:
        return f"{repeat.counts[0]} {repeat.names[0]}, {repeat.size_mm[0]:.3g} mm"
    (a, b), (first, second) = repeat.counts, repeat.names
    return f"{a} {_one(first, a)} x {b} {_one(second, b)}, {size}"


def _one(name: str, count: int) -> str:
    """A name in the number that counts."""
    if count != 1:
        return name
    return {"meshes": "mesh", "rows of meshes": "row of meshes"}.get(name, name.removesuffix("s"))


def fact_words(facts: Facts) -> list[str]:
    """What is known of a cloth, a figure to a text."""
    found = []
    if facts.weight_g_m2 is not None:
        found.append(f"{facts.weight_g_m2:.0f} g/m2")
    if facts.cover_factors is not None and facts.cover is not None:
        warp, weft = facts.cover_factors
        found.append(f"cover factors {warp:.1f} and {weft:.1f}, {facts.cover:.0%} closed")
    if facts.loop_mm is not None and facts.tightness is not None:
        found.append(f"loops of {facts.loop_mm:.2f} mm, tightness {facts.tightness:.1f}")
    return found


def lines(swatch: Swatch) -> list[str]:
    """What the command line says."""
    known = fact_words(swatch.facts)
    width, length = swatch.size_mm
    texel = width / swatch.record.size_px, length / swatch.record.size_px
    across, along = swatch.times
    scale, px = swatch.fabric.scale, swatch.record.size_px
    at = "" if scale == 1.0 else f" (at {scale:g} times life size)"
    texels = f"{px} px, a texel is {texel[0]:.4g} x {texel[1]:.4g} mm"
    told = [
        f"repeat: {repeat_words(swatch.repeat)}{at}",
        f"swatch: {width:.2f} x {length:.2f} mm, {across} x {along} whole; {texels}",
        f"cloth: {', '.join(known)}" if known else "",
        _picture_words(swatch) if swatch.record.extras else "",
        f"{len(swatch.record.maps)} maps in {swatch.seconds:.1f} s: {swatch.folder}",
    ]
    return [line for line in told if line]


def _picture_words(swatch: Swatch) -> str:
    """What the pictures show."""
    return f"pictures: life-size at 96 dpi, enlarged {swatch.enlarged} times, folds of two by two"


def notes(swatch: Swatch) -> list[str]:
    """What the user should know: yarns too fine for the texels."""
    if not cloth.has_yarns(swatch.fabric):
        return []
    texel = max(swatch.size_mm) / swatch.record.size_px
    yarn = cloth.yarn_mm(swatch.fabric) / texel
    if yarn >= LEAST_PX:
        return []
    width = swatch.size_mm[0] * yarn / LEAST_PX
    cure = f"--width {width:.0f}mm or --scale {swatch.fabric.scale * LEAST_PX / yarn:.2g}"
    return [f"a yarn takes {yarn:.1f} texels, so one hardly sees single yarns; {cure} shows them"]


def as_json(swatch: Swatch) -> dict[str, object]:
    """Return the same for scripts; lengths in mm, at the scale that was baked."""
    facts, repeat = swatch.facts, swatch.repeat
    return {
        "fabric": swatch.fabric.name,
        "colourway": swatch.record.colourway,
        "folder": swatch.folder.as_posix(),
        "files": [entry.file for entry in swatch.record.files],
        "size_px": swatch.record.size_px,
        "size_mm": swatch.size_mm,
        "scale": swatch.fabric.scale,
        "repeat": {
            "counts": repeat.counts,
            "of": repeat.names,
            "mm": repeat.size_mm,
            "whole_mm": repeat.whole_mm,
            "times": swatch.times,
        },
        "weight_g_m2": facts.weight_g_m2,
        "cover_factors": facts.cover_factors,
        "cover": facts.cover,
        "loop_mm": facts.loop_mm,
        "tightness": facts.tightness,
        "enlarged": swatch.enlarged,
        "seconds": round(swatch.seconds, 3),
        "notes": notes(swatch),
    }
