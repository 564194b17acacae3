"""Many recipes side by side: threads, processes, or one after the other on all cores.

python -m tests.benchmarks.many
"""

import multiprocessing
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from pathlib import Path
from tempfile import TemporaryDirectory

from texbake.many import Job, Order, do

RECIPES = Path(__file__).resolve().parents[2] / "recipes"
NAMES = ("vest", "pullover", "trousers")
SIDE = 2


def seconds(how: str, beside: tuple[str, ...]) -> float:
    """Bake the demo's recipes at 1024, without a cache."""
    with TemporaryDirectory() as out:
        threads = None if how == "in turn" else 1
        order = Order(out=Path(out), size_px=1024, threads=threads, beside=beside, cached=False)
        jobs = [Job(recipe=RECIPES / f"ferry-{name}.yaml", order=order) for name in NAMES]
        start = time.perf_counter()
        _run(how, jobs)
        return time.perf_counter() - start


def _run(how: str, jobs: Sequence[Job]) -> None:
    if how == "in turn":
        for job in jobs:
            do(job)
    elif how == "threads":
        with ThreadPoolExecutor(SIDE) as pool:
            list(pool.map(do, jobs))
    else:
        spawn = multiprocessing.get_context("spawn")
        with ProcessPoolExecutor(SIDE, mp_context=spawn) as processes:
            list(processes.map(do, jobs))


if __name__ == "__main__":
    for beside in ((), ("view", "sheet", "glb")):
        for how in ("in turn", "threads", "processes"):
            print(f"{how:10} {' '.join(beside) or 'maps only':16} {seconds(how, beside):6.1f} s")
