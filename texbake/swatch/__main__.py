"""Write the page of fabrics: ``python -m texbake.swatch [RECIPES_FOLDER]``."""

import sys
from pathlib import Path

from texbake.swatch.page import PICTURES, write_page, write_pictures

if __name__ == "__main__":
    target = Path(sys.argv[1] if len(sys.argv) > 1 else "recipes")
    write_page(target)
    write_pictures(target / PICTURES)
