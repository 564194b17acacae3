"""Many recipes: which they are, the jobs that they make, and jobs done side by side."""

from texbake.many.find import find_recipes
from texbake.many.job import Job, Order, Outcome, Trouble, do, failure
from texbake.many.local import run_here
from texbake.many.split import split

__all__ = [
    "Job",
    "Order",
    "Outcome",
    "Trouble",
    "do",
    "failure",
    "find_recipes",
    "run_here",
    "split",
]
