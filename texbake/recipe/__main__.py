"""Write the JSON Schema and the reference: ``python -m texbake.recipe [PROJECT_FOLDER]``."""

import json
import sys
from pathlib import Path

from texbake.recipe.document import json_schema, reference_markdown

SCHEMA, REFERENCE = "texbake/recipe/recipe.schema.json", "recipes/REFERENCE.md"


def write(folder: Path) -> None:
    """Write both files into a project folder."""
    schema = json.dumps(json_schema(), indent=2, ensure_ascii=False) + "\n"
    (folder / SCHEMA).write_text(schema, encoding="utf-8", newline="\n")
    (folder / REFERENCE).write_text(reference_markdown(), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    write(Path(sys.argv[1] if len(sys.argv) > 1 else "."))
