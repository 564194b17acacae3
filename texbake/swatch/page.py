"""``recipes/FABRICS.md``: a page for every structure, and the pictures in it."""

from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from itertools import groupby
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from texbake import cloth
from texbake.arrays import U8
from texbake.recipe import Fabric, Yarn
from texbake.recipe.values import Chart, Draft, Felt, Plain, Satin, Structure, Twill
from texbake.swatch.facts import facts_of, yarn_words
from texbake.swatch.pictures import FILL, FOLDS_MM, PX_MM, enlarged, folds, life_size, times
from texbake.swatch.samples import Sample, samples
from texbake.swatch.words import fact_words, repeat_words

SIDE_PX, GAP_PX, WHITE = 240, 6, 255
COLOURS = 128  # of a picture's palette
PICTURES = "pictures/fabrics"
LUSTROUS = 0.25  # what is over it is worth saying

_HEAD = """# Fabrics

Written by `python -m texbake.swatch`, which draws every picture; a test keeps it true.

Each picture shows one cloth three times. On the left it lies flat at life size: at 96 pixels to
the inch, as a browser shows it at 100 %, {life:.1f} mm of cloth. In the middle it is enlarged as
often as the line below says. On the right it hangs in folds, {folds:.0f} mm wide. All are drawn
from baked maps by the renderer of `texbake show`, with cloth of its true size; recipes make yarns
larger by `scale`, as texels of a game are coarse. Nets lie on a dark board.

`texbake swatch` bakes maps of a fabric that tile, and the same pictures: of the twelve by their
name, of any other from the recipe that has it.

```sh
texbake swatch denim --width 10cm
texbake swatch drill --recipe recipes/ferry-vest.yaml --colourway navy
```

Weight of a weave is count times yarns per length with 8 % crimp (common practice), cover factors
are Peirce's (1937; 28 where yarns touch); weight of a knit is count times loops times their
length, which follows from their density (Munden 1959). Repeats are those of draft and colours (ISO
3572). Figures that a recipe leaves out are as usual for the structure.
"""


def fabrics_markdown() -> str:
    """Return the text of the page."""
    parts = [_HEAD.format(life=SIDE_PX * PX_MM, folds=FILL * FOLDS_MM)]
    for group, found in groupby(samples(), key=lambda sample: sample.group):
        parts.append(f"\n## {group}\n")
        parts.extend(f"\n{section(sample)}" for sample in found)
    return "".join(parts)


def section(sample: Sample) -> str:
    """One cloth: its picture, figures and lines to copy."""
    many = times(sample.fabric)
    span = SIDE_PX * PX_MM / many
    figures = "\n".join(f"- {line}" for line in _figures(sample.fabric))
    return (
        f"### {sample.title}\n\n"
        f"![{sample.title}: flat, enlarged, in folds]({PICTURES}/{sample.key}.png)\n\n"
        f"Life size; {many} times enlarged ({span:.1f} mm wide); in folds.\n\n"
        f"{figures}\n- source: {sample.source}\n\n"
        f"```yaml\n{sample.text}```\n"
    )


def _figures(fabric: Fabric) -> Iterator[str]:
    """What is known of a cloth, at life size."""
    raised = f", raised {fabric.raised:.0%}" if fabric.raised else ""
    yield f"structure: {structure_words(fabric.structure)}{raised}"
    if cloth.has_yarns(fabric):
        yield from _yarns(fabric)
    yield f"repeat: {repeat_words(cloth.repeat_of(replace(fabric, scale=1.0)))}"
    known = fact_words(facts_of(fabric))
    if known:
        yield f"cloth: {', '.join(known)}"


def _yarns(fabric: Fabric) -> Iterator[str]:
    """Counts and densities."""
    if fabric.warp is not None and fabric.weft is not None:
        for name, yarn in (("warp", fabric.warp), ("weft", fabric.weft)):
            yield f"{name}: {yarn_words(yarn)}, {yarn.per_cm:.3g} to the cm{_more(yarn)}"
    elif fabric.yarn is not None:
        yield f"yarn: {yarn_words(fabric.yarn)}{_more(fabric.yarn)}"
        if fabric.wales_per_cm:
            wales, courses = fabric.wales_per_cm, fabric.courses_per_cm
            yield f"gauge: {wales:.3g} wales x {courses:.3g} courses to the cm"


def _more(yarn: Yarn) -> str:
    """What is particular to a yarn."""
    said = (
        (yarn.plies > 1, f"{yarn.plies} plies"),
        (yarn.slub > 0.0, f"slubs of {yarn.slub:.0%}"),
        (yarn.metallic, "metal"),
        (yarn.lustre > LUSTROUS, f"lustre {yarn.lustre:.0%}"),
        (yarn.spaced_mm > 0.0, f"space-dyed, {yarn.spaced_mm:g} mm"),
    )
    return "".join(f", {words}" for holds, words in said if holds)


def structure_words(structure: Structure) -> str:
    """Return a structure as a recipe writes it; a drawn one by its size."""
    match structure:
        case Twill():
            return f"twill {structure.over}/{structure.under} {structure.direction}"
        case Satin():
            return f"satin {structure.ends}/{structure.move}"
        case Draft():
            return f"draft of {len(structure.rows[0])} ends and {len(structure.rows)} picks"
        case Chart():
            return f"chart of {len(structure.rows[0])} wales and {len(structure.rows)} courses"
        case Plain() | Felt():
            return structure.kind
        case _:
            return structure.words


def picture(sample: Sample, *, threads: int | None = None) -> U8:
    """Draw a cloth flat, enlarged and in folds, side by side; (H, W, 3) uint8."""
    views = [draw(sample.fabric, SIDE_PX, threads=threads) for draw in (life_size, enlarged, folds)]
    gap = np.full((SIDE_PX, GAP_PX, 3), WHITE, np.uint8)
    return np.concatenate([views[0], gap, views[1], gap, views[2]], axis=1)


def write_page(folder: Path) -> None:
    """Write ``FABRICS.md`` into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "FABRICS.md").write_text(fabrics_markdown(), encoding="utf-8", newline="\n")


def write_pictures(folder: Path) -> None:
    """Draw all pictures into a folder; about 40 s on two cores."""
    folder.mkdir(parents=True, exist_ok=True)
    keys = [sample.key for sample in samples()]
    # Processes: small arrays keep threads waiting for each other, at 1.6 times the speed of one.
    with ProcessPoolExecutor(mp_context=get_context("spawn")) as pool:
        list(pool.map(_write_one, [folder] * len(keys), keys))


def _write_one(folder: Path, key: str) -> None:
    sample = next(one for one in samples() if one.key == key)
    write_small(folder / f"{key}.png", picture(sample, threads=1))


def write_small(path: Path, picture: U8) -> None:
    """Write a picture with a palette: a third of its bytes, and a cloth has few colours.

    By greatest coverage, so that thin lines of a tartan keep theirs: 2 codes off on average, 9 at
    most in 99.9 % of all pixels (by the median's cut they are 33 off).
    """
    from PIL import Image  # heavy: only where it is used

    image = Image.fromarray(picture).quantize(
        COLOURS, method=Image.Quantize.MAXCOVERAGE, kmeans=2, dither=Image.Dither.NONE
    )
    image.save(path, optimize=True)
