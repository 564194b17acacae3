"""Write the document of the converter: ``python -m texbake.convert [PROJECT_FOLDER]``."""

import sys
from pathlib import Path

from texbake.convert.document import normals_markdown

NORMALS = "recipes/NORMALS.md"


def write(folder: Path) -> None:
    """Write the document into a project folder."""
    (folder / NORMALS).write_text(normals_markdown(), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    write(Path(sys.argv[1] if len(sys.argv) > 1 else "."))
