"""`texbake bake --cluster`, against a scheduler and workers that are real processes."""

import shutil
import subprocess
import sys
import threading
import time
from pathlib import Path
from types import SimpleNamespace
from unittest import mock

import pytest

from tests.cli_run import SHORTEST, everything, refused, texbake, tube_recipe
from tests.dask_by_hand import ROOT, Cluster, cluster
from texbake.batch import plan_recipe
from texbake.cluster.run import _outcome as outcome_of
from texbake.many import Job, Order

COUNT = 12
TWELVE = (
    SHORTEST
    + "gutter: 2\ncolourways:\n"
    + "".join(f"  c{k}: {{colour: '#4050{k:02x}'}}\n" for k in range(COUNT))
)
PATIENCE_S = 20.0


def sets(out: Path) -> dict[str, bytes]:
    """All files of all sets; the layout record too."""
    return {name: data for name, data in everything(out).items() if data != b"(folder)"}


def when(happens: str, folder: Path, then: list[int], made: Cluster) -> threading.Thread:
    """Kill processes as soon as a file of a pattern is there."""

    def watch() -> None:
        start = time.monotonic()
        while not any(folder.glob(happens)) and time.monotonic() - start < PATIENCE_S:
            time.sleep(0.0005)
        for number in then:
            made.processes[number].kill()
            made.processes[number].wait(PATIENCE_S)  # else its number still counts as running

    thread = threading.Thread(target=watch)
    thread.start()
    return thread


@pytest.mark.slow
def test_all_sets_are_complete_though_a_worker_is_killed_while_it_writes(tmp_path: Path) -> None:
    recipe, out = tube_recipe(tmp_path, TWELVE), tmp_path / "out"
    with cluster(tmp_path, workers=2) as made:
        dying = made.processes[1].pid
        watch = when(f"tube/.*.partial-{dying}/*albedo*", out, [1], made)
        words = "--size", 512, "--cluster", made.address
        run = texbake("bake", recipe, "--out", out, *words)
        watch.join()
        assert made.processes[1].wait(PATIENCE_S) == -9
    assert run.code == 0, run.err
    told = [line.split(":")[0] for line in run.out.splitlines()]
    assert sorted(told) == sorted(f"c{k}" for k in range(COUNT))
    # None is torn or missing, and nothing is left over: a bake here has nothing to do.
    plans = plan_recipe(recipe, out=out, size_px=512, beside=())
    assert {plan.action for plan in plans} == {"keep"}
    assert not [name for name in sets(out) if "partial" in name or ".old-" in name]
    assert texbake("bake", recipe, "--out", tmp_path / "here", "--size", 512).code == 0
    assert sets(out) == sets(tmp_path / "here")


@pytest.mark.slow
@pytest.mark.parametrize(
    ("killed", "what"), [([0], "the scheduler"), ([1], "the last worker")], ids=["first", "last"]
)
def test_who_waits_for_a_cluster_that_is_gone_is_told(
    tmp_path: Path, killed: list[int], what: str
) -> None:
    recipe, out = tube_recipe(tmp_path, TWELVE), tmp_path / "out"
    with cluster(tmp_path, workers=1) as made, mock.patch("texbake.cluster.run.GONE_S", 1.0):
        watch = when("tube/c*/record.json", out, killed, made)
        run = texbake("bake", recipe, "--out", out, "--size", 512, "--cluster", made.address)
        watch.join()
    assert run.code == 3
    ((told, fix),) = run.mistakes
    assert told == f"--cluster: {what} at {made.address} is gone"
    assert "sets that were done are kept" in fix
    # Whatever there is, is whole, and the next bake goes on from there.
    done = texbake("bake", recipe, "--out", out, "--size", 512)
    assert done.code == 0
    assert "kept, nothing changed" in done.out


@pytest.mark.slow
def test_what_workers_lack_is_told_before_any_work(tmp_path: Path) -> None:
    recipe, out = tube_recipe(tmp_path, SHORTEST + "size: 64\n"), tmp_path / "out"
    other, bare = tmp_path / "other", tmp_path / "bare"
    shutil.copytree(ROOT / "texbake", other / "texbake")
    with (other / "texbake" / "colour.py").open("a", encoding="utf-8") as file:
        file.write("\n# changed\n")
    (bare / "texbake").mkdir(parents=True)
    (bare / "texbake" / "__init__.py").write_text("", encoding="utf-8")
    with cluster(tmp_path) as made:
        ((what, fix),) = texbake("bake", recipe, "--out", out, "--cluster", made.address).mistakes
        assert what == f"--cluster: the scheduler at {made.address} has no workers"
        assert made.address in fix
        for path in (other, bare):
            made.worker(path=path)
        made.wait_for(2)
        run = texbake("bake", recipe, "--out", out, "--cluster", made.address)
        assert run.code == 3
        assert not list(out.glob("tube/*"))
        whats = sorted(what.split("/")[-1].split(" ", 1)[1] for what, _ in run.mistakes)
        assert whats[0].startswith("cannot load Texbake (")
        assert " with other code, here is " in whats[1]
        assert all("install the same Texbake" in fix for _, fix in run.mistakes)
        for process in made.processes[1:]:
            process.kill()
        # A worker that sees another disk: what it looks for is not there.
        made.worker(path=blind(tmp_path))
        made.wait_for(1)
        run = texbake("bake", recipe, "--out", out, "--cluster", made.address)
        assert run.code == 2
        assert {what.split(" does not see ")[1] for what, _ in run.mistakes} == {
            str(out),
            str(recipe),
        }


def blind(folder: Path) -> Path:
    """A folder whose `sitecustomize` hides this test's files from the process, as another disk."""
    path = folder / "blind"
    path.mkdir()
    (path / "sitecustomize.py").write_text(
        f"import pathlib, sys\nsys.path.insert(1, {str(ROOT)!r})\nsees = pathlib.Path.is_file\n"
        f"hidden = {str(folder)!r}\n"
        "pathlib.Path.is_file = lambda self: not str(self).startswith(hidden) and sees(self)\n",
        encoding="utf-8",
    )
    return path


def test_a_wrong_address_is_told(tmp_path: Path) -> None:
    pytest.importorskip("distributed", reason="Dask is not installed: texbake[cluster]")
    recipe = tube_recipe(tmp_path)
    words = "bake", recipe, "--out", tmp_path / "out", "--cluster"
    ((what, fix),) = refused(tmp_path, *words, "pigeon://here")
    assert what.startswith("--cluster: 'pigeon://here' is no address of a scheduler (")
    assert "tcp://HOST:8786" in fix
    with mock.patch("texbake.cluster.run.ANSWER_S", 0.3):
        ((what, fix),) = refused(tmp_path, *words, "tcp://127.0.0.1:9", code=3)
    assert what.startswith("--cluster: no Dask scheduler answers at tcp://127.0.0.1:9 (")
    assert "tcp://HOST:8786" in fix


def test_without_dask_the_extra_is_named(tmp_path: Path) -> None:
    recipe = tube_recipe(tmp_path)
    with mock.patch.dict(sys.modules, {"distributed": None}):
        ((what, fix),) = refused(
            tmp_path, "bake", recipe, "--out", tmp_path / "out", "--cluster", "tcp://x:1"
        )
    assert what.startswith("--cluster needs Dask, which is not installed here")
    assert fix == 'pip install "texbake[cluster]"'


def test_nothing_of_dask_is_loaded_unless_asked_for() -> None:
    script = (
        "import sys, texbake.cli, texbake.cluster\n"
        "print([n for n in sys.modules if n.split('.')[0] in {'dask', 'distributed', 'tornado'}])"
    )
    run = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"


def test_a_recipe_that_kills_its_workers_is_told(tmp_path: Path) -> None:
    distributed = pytest.importorskip("distributed", reason="Dask is not installed")
    job = Job(recipe=tmp_path / "tube.yaml", order=Order(out=tmp_path))
    lost = distributed.KilledWorker("task", None, 3)
    future = SimpleNamespace(status="error", exception=lambda: lost)
    (trouble,) = outcome_of(future, job).troubles
    assert trouble.machine
    assert trouble.what == "4 workers died, one after the other, at this recipe"
    bug = SimpleNamespace(status="error", exception=lambda: ZeroDivisionError("a bug"))
    with pytest.raises(ZeroDivisionError, match="a bug"):
        outcome_of(bug, job)


def test_jobs_and_cluster_do_not_go_together(tmp_path: Path) -> None:
    recipe = tube_recipe(tmp_path)
    ((what, fix),) = refused(tmp_path, "bake", recipe, "--jobs", 2, "--cluster", "tcp://x:1")
    assert what == "--jobs is for this machine, not for a cluster"
    assert "leave --jobs out" in fix
