"""Several processes that write one set: each waits its turn, none complains."""

import hashlib
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from tests.unit.test_deliver_sets import deliver, everything
from texbake.deliver import Source, read_record, replace_record

ROOT = Path(__file__).resolve().parents[2]
WRITER = """
import sys
from pathlib import Path
from tests.unit.test_deliver_sets import deliver
for _ in range(25):
    deliver(Path(sys.argv[1]), int(sys.argv[2]))
"""


@pytest.mark.skipif(os.name == "nt", reason="folders cannot be locked there")
def test_three_processes_write_one_set_without_a_complaint(tmp_path: Path) -> None:
    folder = tmp_path / "deck-coat" / "slate"
    running = [
        subprocess.Popen(
            [sys.executable, "-c", WRITER, str(folder), str(shade)],
            env={**os.environ, "PYTHONPATH": str(ROOT)},
            stderr=subprocess.PIPE,
            text=True,
        )
        for shade in (10, 20, 30)
    ]
    for process in running:
        assert process.communicate(timeout=60)[1] == ""
    assert [path.name for path in folder.parent.iterdir()] == ["slate"]
    record = read_record(folder)
    assert record is not None
    for entry in record.maps:
        assert hashlib.sha256((folder / entry.file).read_bytes()).hexdigest() == entry.sha256


def test_a_record_is_replaced_at_once_and_only_if_the_set_is_still_the_same(tmp_path: Path) -> None:
    folder = tmp_path / "slate"
    before = deliver(folder, 10)
    now = replace(before, recipe=Source(name="other.yaml", sha256="9" * 64))
    replace_record(folder, before, now)
    assert read_record(folder) == now
    newer = deliver(folder, 20)
    whole = everything(tmp_path)
    replace_record(folder, before, now)  # as planned before another process baked
    assert read_record(folder) == newer
    assert everything(tmp_path) == whole
