"""What the user is told when something is wrong: what, where, and how to fix it."""

from pathlib import Path


class UserError(Exception):
    """What is wrong, where, and how to fix it. The CLI prints it and exits 2.

    Parameters
    ----------
    what : str
        What is wrong, with the value that was found.
    fix : str
        What to do, with the values that are allowed.
    path : Path, optional
        The file that holds the mistake.
    line : int, optional
        Its line there, counted from 1.
    """

    def __init__(
        self, what: str, *, fix: str, path: Path | None = None, line: int | None = None
    ) -> None:
        super().__init__(what)
        self.what, self.fix, self.path, self.line = what, fix, path, line

    def __reduce__(self) -> tuple[object, ...]:
        """Let it travel from one process to another."""
        return _remade, (type(self), self.args, self.__dict__)

    def __str__(self) -> str:
        """Return ``file:line: what`` and the cure on a second line."""
        where = "" if self.path is None else f"{self.path}: "
        if self.path is not None and self.line is not None:
            where = f"{self.path}:{self.line}: "
        return f"{where}{self.what}\n  fix: {self.fix}"


class UserErrors(UserError):  # noqa: N818 - several errors
    """Several mistakes, told at once, in the order of their lines."""

    def __init__(self, errors: list[UserError]) -> None:
        if not errors:
            raise ValueError("UserErrors needs at least one error")
        first = errors[0]
        super().__init__(first.what, fix=first.fix, path=first.path, line=first.line)
        self.errors = tuple(sorted(errors, key=lambda e: (str(e.path), e.line or 0)))

    def __str__(self) -> str:
        """Return every mistake, one after the other."""
        return "\n".join(str(e) for e in self.errors)


class MachineError(UserError):
    """The machine failed (disk full, no permission, memory). The CLI exits 3."""


class MachineErrors(UserErrors, MachineError):  # noqa: N818 - several errors
    """Several mistakes, of which at least one is the machine's. The CLI exits 3."""


def _remade(kind: type[UserError], args: tuple[object, ...], state: dict[str, object]) -> UserError:
    error = kind.__new__(kind, *args)
    error.__dict__.update(state)
    return error
