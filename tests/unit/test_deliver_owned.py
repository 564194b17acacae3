"""What has become of a delivered file: whole, missing, damaged, or somebody's work."""

import hashlib
from pathlib import Path

import numpy as np
import pytest

from texbake.deliver import ExtraFile, encode_png, file_state

PNG = bytes(encode_png(np.arange(48, dtype=np.uint8).reshape(4, 4, 3)))
OTHER = bytes(encode_png(np.zeros((4, 4, 3), np.uint8)))
GLB = b"glTF" + (2).to_bytes(4, "little") + (40).to_bytes(4, "little") + b"\0" * 28


def entry(name: str, data: bytes) -> ExtraFile:
    digest = hashlib.sha256(data).hexdigest()
    return ExtraFile(kind="view", file=name, sha256=digest, file_bytes=len(data))


def flipped(data: bytes, at: int) -> bytes:
    return data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :]


@pytest.mark.parametrize(
    ("written", "found", "state"),
    [
        (PNG, PNG, "whole"),
        (PNG, b"", "damaged"),
        (PNG, PNG[:-1], "damaged"),
        (PNG, PNG[:20], "damaged"),
        (PNG, flipped(PNG, len(PNG) - 20), "damaged"),  # a bit that the disk turned over
        (PNG, OTHER, "changed"),
        (PNG, b"painted", "changed"),
        (PNG, b"a text of the very same length".ljust(len(PNG)), "changed"),
        (GLB, GLB, "whole"),
        (GLB, GLB[:30], "damaged"),
        (GLB, GLB[:9], "damaged"),
        (GLB, flipped(GLB, 30), "changed"),  # a GLB has no check sums: it might be anyone's
    ],
)
def test_a_file_is_told_by_what_is_in_it(
    tmp_path: Path, written: bytes, found: bytes, state: str
) -> None:
    (tmp_path / "it").write_bytes(found)
    assert file_state(tmp_path, entry("it", written)) == state


def test_no_file_is_missing_and_a_link_or_folder_is_somebodys(tmp_path: Path) -> None:
    assert file_state(tmp_path, entry("it", PNG)) == "missing"
    (tmp_path / "it").mkdir()
    assert file_state(tmp_path, entry("it", PNG)) == "changed"
    (tmp_path / "real").write_bytes(PNG)
    (tmp_path / "link").symlink_to(tmp_path / "real")
    assert file_state(tmp_path, entry("link", PNG)) == "changed"
