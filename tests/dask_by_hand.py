"""A small Dask cluster for tests: a scheduler and workers, each a real process, on this machine."""

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import pytest

PATIENCE_S = 40.0
ROOT = Path(__file__).resolve().parents[1]


@dataclass
class Cluster:
    """Processes that end with the test."""

    folder: Path
    address: str = ""
    processes: list[subprocess.Popen[bytes]] = field(default_factory=list)

    @property
    def scheduler(self) -> subprocess.Popen[bytes]:
        return self.processes[0]

    def worker(self, *, path: Path = ROOT) -> None:
        """Start a worker with the Texbake at ``path``."""
        words = ["--no-nanny", "--nthreads", "1", "--no-dashboard", "--host", "127.0.0.1"]
        self.start("dask_worker", self.address, *words, path=path)

    def start(self, module: str, *words: str, path: Path) -> None:
        with (self.folder / f"log-{len(self.processes)}").open("wb") as log:
            process = subprocess.Popen(
                [sys.executable, "-m", f"distributed.cli.{module}", *words],
                cwd=self.folder,
                env={**os.environ, "PYTHONPATH": str(path)},
                stdout=log,
                stderr=subprocess.STDOUT,
            )
        self.processes.append(process)

    def wait_for(self, count: int) -> None:
        """Wait until so many workers are there."""
        from distributed import Client

        with Client(self.address, timeout=PATIENCE_S, set_as_default=False) as client:
            client.wait_for_workers(count, timeout=PATIENCE_S)


@contextmanager
def cluster(folder: Path, workers: int = 0) -> Iterator[Cluster]:
    """Start a scheduler and workers; skip the test where there is no Dask."""
    pytest.importorskip("distributed", reason="Dask is not installed: texbake[cluster]")
    made = Cluster(folder)
    where = folder / "scheduler.json"
    words = ["--host", "127.0.0.1", "--port", "0", "--no-dashboard"]
    try:
        made.start("dask_scheduler", *words, "--scheduler-file", str(where), path=ROOT)
        made.address = _address(where, made.scheduler)
        for _ in range(workers):
            made.worker()
        if workers:
            made.wait_for(workers)
        yield made
    finally:
        for process in made.processes[::-1]:
            process.kill()
            process.wait(PATIENCE_S)


def _address(where: Path, scheduler: subprocess.Popen[bytes]) -> str:
    """Wait for the file in which the scheduler says where it listens."""
    import json

    start = time.monotonic()
    while time.monotonic() - start < PATIENCE_S:
        assert scheduler.poll() is None, "the scheduler ended"
        if where.exists() and where.stat().st_size:
            try:
                return str(json.loads(where.read_text("utf-8"))["address"])
            except ValueError:
                pass  # half written
        time.sleep(0.05)
    raise AssertionError("the scheduler says nothing")
