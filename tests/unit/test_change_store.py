"""The layout record: what is kept is what is read, and what is not whole is not believed."""

import json
import re
from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest

from tests.layout_edits import kept_of
from tests.tube import upright, write_tube
from texbake.change import Kept, read_kept, write_kept
from texbake.change.store import to_text
from texbake.errors import UserError
from texbake.garment.read import read_mesh


@pytest.fixture
def kept(tmp_path: Path) -> Kept:
    return kept_of(read_mesh(write_tube(tmp_path / "t.obj", upright), unit_mm=10.0, up="y"))


def test_what_is_written_is_read_to_the_bit(kept: Kept, tmp_path: Path) -> None:
    path = tmp_path / "out" / "tube" / "layout.json"
    write_kept(path, kept)
    back = read_kept(path)
    assert back is not None
    for field in fields(Kept):
        before, after = getattr(kept, field.name), getattr(back, field.name)
        if isinstance(before, np.ndarray):
            assert before.dtype == after.dtype
            assert np.array_equal(before, after)
        elif field.name != "panels":
            assert before == after
    assert [p.name for p in back.panels] == [p.name for p in kept.panels]
    assert to_text(back) == to_text(kept)
    assert [p.name for p in path.parent.iterdir()] == ["layout.json"]


def test_where_there_is_no_record_none_is_read(tmp_path: Path) -> None:
    assert read_kept(tmp_path / "layout.json") is None
    (tmp_path / "file").write_text("x")
    assert read_kept(tmp_path / "file" / "layout.json") is None


@pytest.mark.parametrize(
    ("spoil", "what"),
    [
        (lambda text: text[: len(text) // 2], "no JSON"),
        (lambda _: "[]", "not as it was written"),
        (lambda _: '{"my": "own notes"}', "not as it was written"),
        (lambda text: text.replace('"front"', '"fr0nt"'), "not as it was written"),
        (lambda text: text.replace('"version": 1', '"version": 2'), "version 2"),
        (lambda _: "\0\0\0", "no JSON"),
    ],
    ids=["cut short", "a list", "another's", "changed", "newer", "zeros"],
)
def test_a_record_that_is_not_whole_is_refused_with_a_cure(
    spoil: "object", what: str, kept: Kept, tmp_path: Path
) -> None:
    assert callable(spoil)
    path = tmp_path / "layout.json"
    write_kept(path, kept)
    path.write_text(spoil(path.read_text()))
    with pytest.raises(UserError, match=re.escape(what)) as caught:
        read_kept(path)
    assert "move" in caught.value.fix
    assert caught.value.path == path


@pytest.mark.parametrize("name", ["faces", "panel", "uv", "tag"])
def test_numbers_that_point_nowhere_are_refused(name: str, kept: Kept, tmp_path: Path) -> None:
    from texbake.change import store

    data = json.loads(to_text(kept))
    array = np.array(getattr(kept, name))
    array.flat[3] = np.nan if name == "uv" else 10_000
    data["arrays"][name] = store._packed(array, store._TYPES[name][0])
    data.pop("sha256")
    data["sha256"] = store._digest(data)
    path = tmp_path / "layout.json"
    path.write_text(json.dumps(data))
    with pytest.raises(UserError, match="damaged"):
        read_kept(path)
