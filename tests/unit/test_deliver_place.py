"""What would stop a set from being delivered is told before it is baked."""

from pathlib import Path
from unittest import mock

import pytest

from texbake.batch import bake_recipe
from texbake.deliver.place import check_place
from texbake.errors import MachineError, UserError


def test_a_free_place_is_fine_and_stays_as_it_was(tmp_path: Path) -> None:
    check_place(tmp_path / "out" / "vest" / "navy", ["vest_navy_albedo.png"])
    assert not list(tmp_path.iterdir())


def test_a_file_in_the_place_of_a_folder_is_told(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a letter")
    with pytest.raises(MachineError) as told:
        check_place(tmp_path / "out" / "vest" / "navy", ["vest_navy_albedo.png"])
    assert told.value.path == tmp_path / "out"


def test_a_folder_that_may_not_be_written_to_is_told(tmp_path: Path) -> None:
    with mock.patch("os.access", return_value=False), pytest.raises(MachineError):
        check_place(tmp_path / "out", ["albedo.png"])


def test_a_stranger_s_file_is_told(tmp_path: Path) -> None:
    (tmp_path / "vest_navy_albedo.png").write_bytes(b"mine")
    with pytest.raises(UserError, match="did not write"):
        check_place(tmp_path, ["vest_navy_albedo.png"])


def test_it_is_told_before_any_texel_is_baked(tmp_path: Path) -> None:
    from tests.cli_run import tube_recipe

    recipe = tube_recipe(tmp_path)
    (tmp_path / "out").write_text("a letter")
    with mock.patch("texbake.batch.one.render_lot") as render, pytest.raises(MachineError):
        bake_recipe(recipe, out=tmp_path / "out", size_px=64)
    render.assert_not_called()
