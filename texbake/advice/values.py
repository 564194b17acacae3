"""What is told of a figure that is beyond its limit."""

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One figure beyond its limit.

    Attributes
    ----------
    rule : str
        The key of its limit in a budget file, as in ``uv_stretch_mean``.
    what : str
        What was found, with its number and the limit.
    fix : str
        What to do.
    value, limit : float or None
        The number and its limit, in ``unit``; None for what is there or not.
    unit : str
        "" for plain numbers.
    path : Path or None
        The file that it is about.
    line : int or None
        Its line there, from 1.
    """

    rule: str
    what: str
    fix: str
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    path: Path | None = None
    line: int | None = None


def as_plain(finding: Finding) -> dict[str, Any]:
    """Return a finding as plain values for JSON."""
    path = None if finding.path is None else finding.path.as_posix()
    return {**asdict(finding), "path": path}
