"""What a hundred colourways cost: python -m tests.benchmarks.colourways [--count N] [--json].

Whole processes of the command line, from start to exit, maps only: one colourway; all of them; all
again with nothing to do; and all after a change of one colour of the base. Wall time is what one
waits for; processor time, of all threads, tells more where others use the machine. Beside them the
bare PNG encoding of one albedo, which each further colourway must pay at least. Not a test.
"""

import argparse
import colorsys
import json
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

RECIPES = Path(__file__).resolve().parents[2] / "recipes"


def write_recipe(folder: Path, count: int) -> Path:
    """The vest, in so many colours of warp and weft."""
    shutil.copytree(RECIPES / "meshes", folder / "meshes")
    text = (RECIPES / "ferry-vest.yaml").read_text("utf-8").partition("colourways:")[0]
    ways = [
        f'  c{k:03}: {{drill.warp.colour: "{shade(k / count, 0.35)}", '
        f'drill.weft.colour: "{shade(k / count, 0.5)}"}}\n'
        for k in range(count)
    ]
    path = folder / "ferry-vest.yaml"
    path.write_text(text + "colourways:\n" + "".join(ways), "utf-8")
    return path


def shade(hue: float, value: float) -> str:
    """Return a colour as a recipe writes it."""
    return "#" + "".join(f"{round(255 * c):02x}" for c in colorsys.hsv_to_rgb(hue, 0.6, value))


def run(recipe: Path, out: Path, *words: str) -> dict[str, float]:
    """Seconds of one process: wall, and processor."""
    command = [sys.executable, "-m", "texbake.cli", "bake", str(recipe), "--out", str(out)]
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    start = time.perf_counter()
    subprocess.run([*command, "--maps-only", "--quiet", *words], check=True)
    wall = time.perf_counter() - start
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return {"wall_s": wall, "cpu_s": spent}


def best(runs: list[dict[str, float]]) -> dict[str, float]:
    """The least of several runs: what other processes add is not ours."""
    return {key: min(one[key] for one in runs) for key in runs[0]}


def encoding(folder: Path) -> float:
    """Seconds to encode one albedo, and nothing else."""
    import numpy as np
    from PIL import Image

    from texbake.deliver import encode_png

    with Image.open(next(folder.glob("*_albedo.png"))) as picture:
        pixels = np.asarray(picture)
    spent = []
    for _ in range(5):
        start = time.perf_counter()
        encode_png(pixels, srgb=True)
        spent.append(time.perf_counter() - start)
    return min(spent)


def measure(folder: Path, count: int, size: int, *cache: str) -> dict[str, object]:
    """Run all, in one folder."""
    recipe, words = write_recipe(folder, count), ("--size", str(size), *cache)
    one = [run(recipe, folder / f"one-{k}", *words, "--colourway", "c000") for k in range(4)]
    every = run(recipe, folder / "all", *words)
    again = run(recipe, folder / "all", *words)
    recipe.write_text(recipe.read_text("utf-8").replace("#d9902f", "#d8902f"), "utf-8")
    thread = run(recipe, folder / "all", *words)
    first = best(one[1:])  # the one before has filled the caches
    return {
        "colourways": count,
        "size": size,
        "one": first,
        "all": every,
        "nothing_changed": again,
        "thread_changed": thread,
        "times_wall": every["wall_s"] / first["wall_s"],
        "times_cpu": every["cpu_s"] / first["cpu_s"],
        "each_ms": 1000.0 * (every["wall_s"] - first["wall_s"]) / max(count - 1, 1),
        "bare_albedo_png_ms": 1000.0 * encoding(folder / "all" / "ferry-vest" / "c000"),
        "bytes_of_sets": sum(p.stat().st_size for p in (folder / "all").rglob("*.*")),
    }


def main() -> None:
    """Measure with the caches of the user, and without."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--size", type=int, default=1024)
    parser.add_argument("--json", action="store_true")
    asked = parser.parse_args()
    found = {}
    for name, words in (("cached", ()), ("no cache", ("--no-cache",))):
        with tempfile.TemporaryDirectory() as place:
            os.environ["TEXBAKE_CACHE"] = str(Path(place) / "cache")
            found[name] = measure(Path(place), asked.count, asked.size, *words)
    print(json.dumps(found, indent=2) if asked.json else table(found))


def table(found: dict[str, dict[str, object]]) -> str:
    """Lay the figures out, a line each."""
    lines = []
    for name, row in found.items():
        lines.append(f"{name}: {row['colourways']} colourways at {row['size']} px")
        for key, value in row.items():
            if isinstance(value, dict):
                spent = "  ".join(f"{what} {seconds:8.2f}" for what, seconds in value.items())
                lines.append(f"  {key:<20} {spent}")
            elif isinstance(value, float):
                lines.append(f"  {key:<20} {value:8.2f}")
    return "\n".join(lines)


if __name__ == "__main__":
    main()
