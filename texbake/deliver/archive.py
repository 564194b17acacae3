"""A whole set as one zip, the same bytes for the same set on every system.

Files are stored, not compressed: each is compressed already, and another zlib would give other
bytes. They stand in the order of their names, without a time and with one set of permissions. The
record inside is that of the set without the zip itself.
"""

import hashlib
import shutil
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO, Final

from texbake.deliver.naming import RECORD_NAME
from texbake.deliver.record import ExtraFile, Record

if TYPE_CHECKING:
    from zipfile import ZipInfo

ZIP: Final = "zip"
_EARLIEST: Final = (1980, 1, 1, 0, 0, 0)  # what the format can tell
_UNIX: Final = 3
_RIGHTS: Final = 0o100644 << 16


def zip_name(garment: str, colourway: str) -> str:
    """Return the name of a set's zip."""
    return f"{garment}_{colourway}.zip"


def without_zip(record: Record) -> Record:
    """Return the record that goes into the zip of a set."""
    return replace(record, extras=tuple(e for e in record.extras if e.kind != ZIP))


def zip_key(record: Record) -> str:
    """Return what a zip is made from as a digest: the record in it names all with theirs."""
    return hashlib.sha256(without_zip(record).to_json().encode()).hexdigest()


def zip_of(record: Record) -> ExtraFile | None:
    """Return the record's line for the zip, if there is one."""
    return next((entry for entry in record.extras if entry.kind == ZIP), None)


def write_zip(out: BinaryIO, folder: Path, files: Iterable[str], record: Record) -> None:
    """Write the files of a set and its record as a zip.

    Parameters
    ----------
    out : BinaryIO
        Empty, open for writing, and able to seek.
    folder : Path
        Where the files are.
    files : iterable of str
    record : Record
        Of the set; what it says of a zip is left out.

    Raises
    ------
    OSError
        From reading or writing.
    """
    import zipfile  # 5 ms: only where one is written

    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED, allowZip64=True) as archive:
        for name in sorted(files):
            with (folder / name).open("rb") as source:
                info = _info(name, (folder / name).stat().st_size)
                with archive.open(info, "w") as target:
                    shutil.copyfileobj(source, target, 1 << 20)
        data = without_zip(record).to_json().encode()
        archive.writestr(_info(RECORD_NAME, len(data)), data)


def _info(name: str, file_bytes: int) -> "ZipInfo":
    """Return the line for one file."""
    import zipfile

    info = zipfile.ZipInfo(name, _EARLIEST)
    info.create_system, info.external_attr = _UNIX, _RIGHTS
    info.file_size = file_bytes  # tells zipfile whether it needs its large form
    return info
