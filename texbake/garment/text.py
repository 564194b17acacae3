"""Text of unknown encoding."""

import codecs
from pathlib import Path

from texbake.errors import UserError

MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),  # before UTF-16, whose mark it begins with
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)


def decode(path: Path, data: bytes) -> str:
    """Decode by byte order mark, else as UTF-8, else as Latin-1 (which takes any bytes).

    Raises
    ------
    UserError
        If the text has NUL characters or does not fit its mark: it is not text.
    """
    mark, encoding = next((m for m in MARKS if data.startswith(m[0])), (b"", "utf-8"))
    body = data[len(mark) :]
    try:
        text = body.decode(encoding)
    except UnicodeDecodeError:
        text = body.decode("latin-1") if encoding == "utf-8" else "\0"
    if "\0" in text:
        raise UserError(
            "not a text file (or UTF-16 without a byte order mark)",
            fix="export the mesh again as OBJ, glTF, GLB or PLY; save text as UTF-8",
            path=path,
        )
    return text
