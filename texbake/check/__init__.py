"""The check before upload: mesh, layout, sets and colours against a budget."""

from texbake.check.budget import Budget, load_budget, usual_budget
from texbake.check.run import Checked, check_recipe

__all__ = ["Budget", "Checked", "check_recipe", "load_budget", "usual_budget"]
