"""Looks at the place of a set before it is baked: a long bake must not end at a closed door."""

import errno
import os
from collections.abc import Iterable
from pathlib import Path

from texbake.deliver.owned import owned_files, refuse_clashes
from texbake.deliver.trouble import told
from texbake.deliver.turns import in_turn


def check_place(folder: Path, names: Iterable[str]) -> None:
    """Complain now about what `deliver_set` would complain about after the bake.

    Parameters
    ----------
    folder : Path
        Of the set; it need not be there.
    names : iterable of str
        Files that will be written.

    Raises
    ------
    UserError
        If a file would be overwritten that is not Texbake's; if the earlier record is damaged.
    MachineError
        If something that is no folder is in the way, or the folder may not be written to.
    """
    above = folder
    while not above.exists() and above != above.parent:
        above = above.parent
    with told(above), in_turn(folder, shared=True):
        if not above.is_dir():
            raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR))
        if not os.access(above, os.W_OK | os.X_OK):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
        if above == folder:
            refuse_clashes(folder, names, owned_files(folder))
