"""Budget files: what they may say, and how a mistake in one is told."""

from dataclasses import replace
from pathlib import Path

import pytest

from texbake.advice import LIMITS
from texbake.check import Budget, load_budget, usual_budget
from texbake.check.budget_keys import BudgetKeys
from texbake.errors import UserError

EXAMPLE = Path(__file__).resolve().parents[2] / "recipes" / "budget.yaml"


def read(folder: Path, text: str) -> Budget:
    path = folder / "budget.yaml"
    path.write_text(text, encoding="utf-8")
    return load_budget(path)


def refused(folder: Path, text: str) -> list[str]:
    with pytest.raises(UserError) as caught:
        read(folder, text)
    return str(caught.value).replace(f"{folder}/", "").splitlines()


def test_the_example_has_every_key_with_its_usual_number() -> None:
    assert load_budget(EXAMPLE) == usual_budget()
    lines = EXAMPLE.read_text("utf-8").splitlines()
    keys = [line.split(":")[0] for line in lines if line and not line.startswith("#")]
    assert keys == list(BudgetKeys.model_fields)


def test_advice_and_check_have_the_same_limits() -> None:
    assert usual_budget().layout == LIMITS


def test_every_key_of_the_file_reaches_the_budget(tmp_path: Path) -> None:
    """What each key is set to here differs from the usual: so must the budget."""
    other = {"allowed": "refused", "refused": "allowed"}
    for line in EXAMPLE.read_text("utf-8").splitlines():
        if line and not line.startswith("#"):
            key, value = (part.strip() for part in line.split("#")[0].split(":"))
            number, _, unit = value.partition(" ")
            whole = {"map_size": "2048", "mip_level": "3", "triangles": "3999"}.get(key)
            changed = other.get(value) or whole or f"{0.9 * float(number):g} {unit}"
            assert read(tmp_path, f"{key}: {changed}\n") != usual_budget(), key


def test_numbers_have_their_units(tmp_path: Path) -> None:
    text = "file_size: 2 MiB\nset_size: 300 kB\nunused: 12.5 %\nnormal_tilt: 0.1 rad\n"
    got = read(tmp_path, text)
    usual = usual_budget()
    assert got == replace(
        usual,
        file_size=2 * 2**20,
        set_size=300_000,
        normal_tilt_rad=0.1,
        layout=replace(usual.layout, unused=0.125),
    )


def test_mistakes_come_all_at_once_each_with_its_line_and_cure(tmp_path: Path) -> None:
    text = "triangles: 0\ntriangels: 5\nunused: 2\nmirrored: yes\nfile_size: 5\napart:\n"
    assert refused(tmp_path, text) == [
        "budget.yaml:1: triangles: 0 is out of range",
        "  fix: allowed: whole number, 1 to 10000000",
        "budget.yaml:2: triangels: a budget has no key 'triangels'",
        f"  fix: did you mean 'triangles'? a budget has: {', '.join(BudgetKeys.model_fields)}",
        "budget.yaml:3: unused: 2 is out of range",
        "  fix: say the unit, as in 2 %; allowed: 0 % to 100 %",
        "budget.yaml:4: mirrored: 'yes' is not known here",
        "  fix: allowed: allowed, refused",
        "budget.yaml:5: file_size: 5 has no unit",
        "  fix: say the unit, as in 5 MB; units: MB, kB, GB, MiB, KiB, bytes",
        "budget.yaml:6: apart: empty",
        "  fix: write its limit, or take the key out: then the usual one counts",
    ]


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("", "budget.yaml:1: the budget is empty"),
        ("# nothing\n", "budget.yaml:1: the budget is empty"),
        ("- 1\n", "budget.yaml:1: a budget is a mapping of keys, not a list"),
        ("triangles: [4\n", "budget.yaml:1: this is not YAML"),
        ("triangles: 4\ntriangles: 5\n", "budget.yaml:2: "),
    ],
)
def test_what_is_no_budget_is_told(tmp_path: Path, text: str, what: str) -> None:
    first, cure = refused(tmp_path, text)
    assert first.startswith(what)
    assert cure.startswith("  fix: ")


def test_a_budget_that_is_not_there_is_told(tmp_path: Path) -> None:
    for path, what in ((tmp_path / "no.yaml", "there is no such file"), (tmp_path, "a folder")):
        with pytest.raises(UserError, match=what) as caught:
            load_budget(path)
        assert "recipes/budget.yaml" in caught.value.fix
