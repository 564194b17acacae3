"""Seconds per stage and peak memory of a bake: python -m tests.benchmarks.bake [SIZE ...] [--json].

Each size runs in a process of its own, so that the peak (largest resident set) is its own. The
whole process counts, from start to exit, and beside it the bare PNG encoding of the same maps, so
that figures from different machines can be compared as ratios within one run. Maps only, without
view, sheet and GLB. Not a test.
"""

import argparse
import json
import subprocess
import sys
import tempfile
import time
from itertools import pairwise
from pathlib import Path

RECIPES = Path(__file__).resolve().parents[2] / "recipes"
SIZES = (1024, 2048, 4096)


def measure(recipe: Path, size_px: int) -> dict[str, float]:
    """Bake once in this process and say where the time went, s, and the peak, MiB."""
    begun = time.perf_counter()
    from texbake.batch import bake_recipe
    from texbake.deliver import encode_png

    marks: list[tuple[str, float]] = [("import", begun)]

    def report(stage: str, _share: float) -> None:
        if stage != marks[-1][0]:
            marks.append((stage, time.perf_counter()))

    with tempfile.TemporaryDirectory() as folder:
        marks.append(("recipe", time.perf_counter()))
        names = first_colourway(recipe)
        done = bake_recipe(
            recipe,
            out=Path(folder),
            size_px=size_px,
            colourways=names,
            report=report,
            beside=(),
        )
        ended = time.perf_counter()
        peak = peak_mib()
        encode = encoding_seconds(done[0].folder, encode_png)
    starts = [*marks, ("end", ended)]
    stages = {name: b - a for (name, a), (_, b) in pairwise(starts)}
    return {**stages, "total": ended - begun, "peak_mib": peak, "bare_png_one_thread": encode}


def first_colourway(recipe: Path) -> list[str]:
    """Name of a recipe's first colourway."""
    from texbake.recipe import load

    return [next(iter(load(recipe).colourways))]


def peak_mib() -> float:
    """Largest resident set of this process so far, MiB; nan where the system does not tell."""
    try:
        import resource
    except ImportError:  # Windows
        return float("nan")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / (2**20 if sys.platform == "darwin" else 2**10)


def encoding_seconds(folder: Path, encode) -> float:  # type: ignore[no-untyped-def]  # noqa: ANN001
    """Seconds to encode a set's maps again, one after the other."""
    from PIL import Image

    spent = 0.0
    for path in sorted(folder.glob("*.png")):
        import numpy as np

        with Image.open(path) as picture:
            pixels = np.asarray(picture)
        if pixels.dtype == np.int32:  # how Pillow before 12 opens 16-bit grey
            pixels = pixels.astype(np.uint16)
        start = time.perf_counter()
        encode(pixels)
        spent += time.perf_counter() - start
    return spent


def whole_process(recipe: Path, size_px: int) -> float:
    """Seconds of the command line, from start to exit."""
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "texbake.cli", "bake", str(recipe)]
        command += ["--size", str(size_px), "--out", folder, "--quiet", "--maps-only"]
        command += ["--colourway", first_colourway(recipe)[0]]
        start = time.perf_counter()
        subprocess.run(command, check=True)
        return time.perf_counter() - start


def main() -> None:
    """Measure every size and print a table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("sizes", nargs="*", type=int, default=list(SIZES))
    parser.add_argument("--recipe", type=Path, default=RECIPES / "ferry-vest.yaml")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--one", action="store_true", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.one:
        print(json.dumps(measure(asked.recipe, asked.sizes[0])))
        return
    rows = []
    for size in asked.sizes:
        command = [sys.executable, "-m", "tests.benchmarks.bake", str(size), "--one"]
        command += ["--recipe", str(asked.recipe)]
        run = subprocess.run(command, check=True, capture_output=True, text=True)
        row = {"size": size, **json.loads(run.stdout)}
        row["whole_process"] = whole_process(asked.recipe, size)
        rows.append(row)
    print(json.dumps(rows, indent=2) if asked.json else table(rows))


def table(rows: list[dict[str, float]]) -> str:
    """Lay rows out in columns."""
    names = list(rows[0])
    lines = ["  ".join(f"{name:>8}" for name in names)]
    for row in rows:
        cells = (
            f"{row[n]:>{max(8, len(n))}.{0 if n in {'size', 'peak_mib'} else 2}f}" for n in names
        )
        lines.append("  ".join(cells))
    return "\n".join(lines)


if __name__ == "__main__":
    main()
