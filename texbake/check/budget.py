"""What a garment may be: limits of mesh, layout, maps and colourways, from a budget file."""

from dataclasses import dataclass
from pathlib import Path

from texbake.advice import Limits
from texbake.errors import UserError, UserErrors


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """Limits. What a platform asks for differs, so each can be set; see ``budget_keys``.

    Attributes
    ----------
    layout : Limits
        Of the UV layout.
    mip_level : int
        The last mip level at which islands and background must stay apart.
    triangles, map_size, file_size, set_size : int
        At most; px and bytes.
    albedo_low, albedo_high : float
        Luminance in linear light that cloth can have.
    albedo_outside : float
        Share of the texels that may lie outside of it.
    normal_length, normal_tilt_rad : float
        How far a normal may be from length 1; and the mean of all from straight up.
    height_used : float
        Share of the codes that a height map uses, at least.
    missing, stale, changed, identical : bool
        Whether sets or maps may be missing, may be of an earlier recipe or mesh, may have been
        changed since they were baked; whether colourways may be alike.
    apart, thread_contrast : float
        dE00 between two colourways, and between thread and cloth, at least.
    """

    layout: Limits
    mip_level: int
    triangles: int
    map_size: int
    file_size: int
    set_size: int
    albedo_low: float
    albedo_high: float
    albedo_outside: float
    normal_length: float
    normal_tilt_rad: float
    height_used: float
    missing: bool
    stale: bool
    changed: bool
    identical: bool
    apart: float
    thread_contrast: float


def usual_budget() -> Budget:
    """Return the budget that counts where none is named: ``recipes/budget.yaml``."""
    from texbake.check.budget_keys import BudgetKeys  # pydantic is heavy: only where it is used

    return BudgetKeys().budget()


def load_budget(path: Path) -> Budget:
    """Read a budget file.

    Raises
    ------
    UserError
        The file cannot be read, or is not YAML.
    UserErrors
        Its mistakes, in the order of their lines.
    """
    # Pydantic and the YAML parser are heavy: only where a budget is read.
    from pydantic import ValidationError

    from texbake.check.budget_keys import BudgetKeys
    from texbake.recipe import tree as trees
    from texbake.recipe.messages import told, translate

    form = trees.Form("budget", "write at least one limit", "begin with triangles: 4000")
    tree, errors = trees.parse(_text(path), path, form=form)
    for at, node in trees.walk(tree):
        if node.value is None:
            fix = "write its limit, or take the key out: then the usual one counts"
            errors.append(told("empty", fix, node, at, path))
    try:
        keys = BudgetKeys.model_validate(trees.plain(tree))
    except ValidationError as found:
        errors += translate(found, tree, path, BudgetKeys)
    else:
        if not errors:
            return keys.budget()
    raise UserErrors(errors)


def _text(path: Path) -> str:
    """Return the text of the file."""
    from texbake.recipe.tree import read_text

    if not path.is_file():
        what = "this is a folder" if path.is_dir() else "there is no such file"
        fix = "name a budget, a YAML file; recipes/budget.yaml is an example with every key"
        raise UserError(f"--budget: {what}", fix=fix, path=path)
    return read_text(path)
