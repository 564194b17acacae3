"""Time and memory of a bake: python -m tests.benchmarks.bake [SIZE ...] [--json] [--quick].

Every figure is of a process of its own, from start to exit as a user waits for it, maps only. Cold:
with an empty cache folder; warm: again, with what the cold one kept. Memory is that of all its
processes, pages that they share counted once, looked at in a further cold run every 20 ms. In the
same run, and to be read as ratios: the bare encoding of the very same maps, by the same encoder, on
as many threads; the time to copy the maps' bytes once; and a plain script (`yardstick.py`) up to
4096. Warm, one thread and bare encoding are the best of three. Not a test.
"""

import argparse
import compileall
import contextlib
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

RECIPES = Path(__file__).resolve().parents[2] / "recipes"
GARMENTS = ("vest", "pullover")
SIZES = (1024, 2048, 4096, 8192)
MOST_YARDSTICK = 4096  # at 8192 it would take three minutes and 16 GiB
THREADS = 2
REPEATS = 3  # of which the best counts: another process may have been busy


def main() -> None:
    """Measure everything and print it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("sizes", nargs="*", type=int, default=list(SIZES))
    parser.add_argument("--garment", action="append", choices=[*GARMENTS, "trousers"])
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--no-yardstick", action="store_true")
    parser.add_argument("--stages", metavar="RECIPE", type=Path, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.stages:
        print(json.dumps(stages(asked.stages, asked.sizes[0])))
        return
    rows = list(measured(asked.garment or GARMENTS, asked.sizes, plain=not asked.no_yardstick))
    print(json.dumps(rows, indent=2) if asked.json else table(rows))


def measured(garments: Any, sizes: list[int], *, plain: bool) -> Iterator[dict[str, Any]]:
    """One row per garment and size."""
    compileall.compile_dir(RECIPES.parent / "texbake", quiet=1)  # as pip does while installing
    rate = copy_rate()
    plainly = {s: yardstick(s) for s in sizes if plain and s <= MOST_YARDSTICK}
    for garment in garments:
        for size in sizes:
            with tempfile.TemporaryDirectory() as folder:
                yield row(RECIPES / f"ferry-{garment}.yaml", size, Path(folder), rate, plainly)


def row(
    recipe: Path, size: int, folder: Path, rate: float, plainly: dict[int, tuple[float, float]]
) -> dict[str, Any]:
    """Measure one garment at one size."""
    cold = command(recipe, size, folder, THREADS)
    warm = min(command(recipe, size, folder, THREADS) for _ in range(REPEATS))
    single = min(command(recipe, size, folder, 1) for _ in range(REPEATS))
    encode, moved = encoding(folder / "out")
    out: dict[str, Any] = {
        "garment": recipe.stem.removeprefix("ferry-"),
        "size": size,
        "cold": cold,
        "warm": warm,
        "warm_one_thread": single,
        "bare_png": encode,
        "copy": moved / rate,
        "mib": memory(recipe, size, folder),
    }
    if size in plainly:
        out["yardstick"], out["yardstick_mib"] = plainly[size]
    return {**out, **staged(recipe, size, folder)}


def environment(folder: Path) -> dict[str, str]:
    """The environment of a measured process: a cache folder of its own."""
    return {**os.environ, "TEXBAKE_CACHE": str(folder / "kept")}


def command(recipe: Path, size: int, folder: Path, threads: int) -> float:
    """Seconds of the command line, from start to exit."""
    start = time.perf_counter()
    running = begun(recipe, size, folder, threads)
    if running.wait():
        raise subprocess.CalledProcessError(running.returncode, running.args)
    return time.perf_counter() - start


def begun(recipe: Path, size: int, folder: Path, threads: int) -> subprocess.Popen[bytes]:
    """Start the command line."""
    out = folder / "out"
    shutil.rmtree(out, ignore_errors=True)  # else a bake keeps, or copies, what is baked already
    words = ["bake", str(recipe), "--size", str(size), "--out", str(out), "--quiet"]
    words += ["--maps-only", "--colourway", first_colourway(recipe), "--threads", str(threads)]
    words = [sys.executable, "-m", "texbake.cli", *words]
    return subprocess.Popen(words, env=environment(folder))


def memory(recipe: Path, size: int, folder: Path) -> float:
    """Most memory that the command line's processes hold together, MiB; nan if none can tell."""
    if sys.platform != "linux":
        return float("nan")
    shutil.rmtree(folder / "kept", ignore_errors=True)
    running, most = begun(recipe, size, folder, THREADS), 0.0
    while running.poll() is None:
        most = max(most, held_mib(running.pid))
        time.sleep(0.02)
    return most


def held_mib(process_id: int) -> float:
    """Memory of a process and its children, MiB: pages count by the share that each has in them."""
    place = Path("/proc") / str(process_id)
    with contextlib.suppress(OSError):  # it ended just now
        lines = (place / "smaps_rollup").read_text().splitlines()
        own = sum(int(line.split()[1]) for line in lines if line.startswith("Pss:"))
        children = (place / "task" / str(process_id) / "children").read_text().split()
        return own / 1024 + sum(held_mib(int(child)) for child in children)
    return 0.0


def first_colourway(recipe: Path) -> str:
    """Name of a recipe's first colourway."""
    from texbake.recipe import load

    return next(iter(load(recipe).colourways))


def process(words: list[str], folder: Path) -> tuple[float, float]:
    """Seconds and peak memory, MiB, of a process."""
    start = time.perf_counter()
    running = subprocess.Popen(words, env=environment(folder))
    if sys.platform == "win32":  # has no wait that tells the peak
        status, peak = running.wait(), float("nan")
    else:
        _, code, usage = os.wait4(running.pid, 0)
        status = os.waitstatus_to_exitcode(code)
        running.returncode = status
        peak = usage.ru_maxrss / (2**20 if sys.platform == "darwin" else 2**10)
    spent = time.perf_counter() - start
    if status:
        raise subprocess.CalledProcessError(status, words)
    return spent, peak


def yardstick(size: int) -> tuple[float, float]:
    """Seconds and MiB of the plain script."""
    with tempfile.TemporaryDirectory() as folder:
        words = [sys.executable, "-m", "tests.benchmarks.yardstick", str(size), folder]
        return process(words, Path(folder))


def encoding(out: Path) -> tuple[float, int]:
    """Seconds to encode a set's maps again, and their bytes unpacked; in a process of its own."""
    words = "import sys; from tests.benchmarks.bake import encoded; print(*encoded(sys.argv[1]))"
    run = [sys.executable, "-c", words, str(out)]
    spent, moved = subprocess.run(run, check=True, capture_output=True, text=True).stdout.split()
    return float(spent), int(moved)


def encoded(out: str) -> tuple[float, int]:
    """Seconds to encode a set's maps, as many at a time as a bake does, and their bytes."""
    from PIL import Image

    from texbake.deliver import encode_png

    images = []
    for path in sorted(Path(out).rglob("*.png")):
        with Image.open(path) as picture:
            pixels = np.asarray(picture)
        images.append(pixels.astype(np.uint16) if pixels.dtype == np.int32 else pixels)
    images.sort(key=lambda image: -image.nbytes)
    spent = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        with ThreadPoolExecutor(THREADS) as pool:
            list(pool.map(encode_png, images))
        spent.append(time.perf_counter() - start)
    return min(spent), sum(image.nbytes for image in images)


def copy_rate() -> float:
    """Bytes copied a second; in a process of its own: a child's peak counts what its parent had."""
    words = [sys.executable, "-c", "from tests.benchmarks.bake import copied; print(copied())"]
    return float(subprocess.run(words, check=True, capture_output=True, text=True).stdout)


def copied() -> float:
    """Bytes copied a second: one thread, 256 MiB, the best of five."""
    source = np.ones(1 << 26, np.float32)
    target = np.empty_like(source)
    spent = []
    for _ in range(5):
        start = time.perf_counter()
        np.copyto(target, source)
        spent.append(time.perf_counter() - start)
    return source.nbytes / min(spent)


def staged(recipe: Path, size: int, folder: Path) -> dict[str, float]:
    """Seconds per stage of a warm bake, in a process of its own."""
    words = [sys.executable, "-m", "tests.benchmarks.bake", str(size), "--stages", str(recipe)]
    run = subprocess.run(words, check=True, capture_output=True, text=True, env=environment(folder))
    found: dict[str, float] = json.loads(run.stdout)
    return found


def peak_mib() -> float:
    """Largest resident set of this process so far, MiB; nan where the system does not tell."""
    if sys.platform == "win32":
        return float("nan")
    import resource

    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / (2**20 if sys.platform == "darwin" else 2**10)


def stages(recipe: Path, size: int) -> dict[str, float]:
    """Bake once in this process and say where the time went, s."""
    begun = time.perf_counter()
    from texbake.batch import bake_recipe
    from texbake.store import Store, default_folder

    marks: list[tuple[str, float]] = [("import", begun), ("recipe", time.perf_counter())]

    def report(stage: str, _share: float) -> None:
        if stage != marks[-1][0]:
            marks.append((stage, time.perf_counter()))

    with tempfile.TemporaryDirectory() as folder:
        bake_recipe(
            recipe,
            out=Path(folder),
            size_px=size,
            colourways=[first_colourway(recipe)],
            threads=THREADS,
            report=report,
            beside=(),
            store=Store(folder=default_folder()),
        )
        ended = time.perf_counter()
    spent: dict[str, float] = {}
    for (name, start), (_, stop) in pairwise([*marks, ("end", ended)]):
        spent[f"s_{name}"] = spent.get(f"s_{name}", 0.0) + stop - start
    return spent


def table(rows: list[dict[str, Any]]) -> str:
    """Times, then ratios, then stages, in columns."""
    first = ("garment", "size", "cold", "warm", "warm_one_thread", "bare_png", "copy", "yardstick")
    names = [*first, "mib", "yardstick_mib"]
    parts = [columns(rows, names), columns([ratios(r, rows) for r in rows])]
    stage = dict.fromkeys(name for r in rows for name in r if name.startswith("s_"))
    parts.append(columns(rows, ["garment", "size", *stage]))
    return "\n\n".join(parts)


def ratios(one: dict[str, Any], rows: list[dict[str, Any]]) -> dict[str, Any]:
    """What the figures to reach speak of."""
    at_2048 = [r for r in rows if r["garment"] == one["garment"] and r["size"] == 2048]
    texels = one["size"] ** 2
    out = {"garment": one["garment"], "size": one["size"]}
    out["times_png"] = one["warm"] / one["bare_png"]
    out["threads"] = one["warm_one_thread"] / one["warm"]
    if at_2048:
        out["per_texel"] = one["warm"] / texels / (at_2048[0]["warm"] / 2048**2)
    if "yardstick" in one:
        out["faster_cold"] = one["yardstick"] / one["cold"]
        out["faster_warm"] = one["yardstick"] / one["warm"]
        out["memory"] = one["mib"] / one["yardstick_mib"]
    return out


def columns(rows: list[dict[str, Any]], names: list[str] | None = None) -> str:
    """Lay rows out in columns."""
    names = names or list(dict.fromkeys(name for r in rows for name in r))
    lines = ["  ".join(f"{name.removeprefix('s_'):>8}" for name in names)]
    for one in rows:
        cells = (cell(one.get(name), max(8, len(name.removeprefix("s_")))) for name in names)
        lines.append("  ".join(cells))
    return "\n".join(lines)


def cell(value: Any, width: int) -> str:
    """A value in its column."""
    if isinstance(value, float):
        return f"{value:>{width}.0f}" if value >= 100 else f"{value:>{width}.2f}"
    return f"{'' if value is None else value:>{width}}"


if __name__ == "__main__":
    main()
