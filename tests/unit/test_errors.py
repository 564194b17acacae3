"""Errors travel whole from one process to another."""

import pickle
from pathlib import Path

import pytest

from texbake.errors import MachineError, MachineErrors, UserError, UserErrors


@pytest.mark.parametrize(
    "error",
    [
        UserError("no cloth", fix="take some", path=Path("a.yaml"), line=3),
        MachineError("disk full", fix="make room"),
        UserErrors([UserError("one", fix="a", line=2), UserError("two", fix="b", line=1)]),
        MachineErrors([MachineError("one", fix="a")]),
    ],
)
def test_an_error_is_the_same_after_it_was_pickled(error: UserError) -> None:
    again = pickle.loads(pickle.dumps(error))  # noqa: S301  our own
    assert type(again) is type(error)
    assert str(again) == str(error)
    assert again.args == error.args
