"""``python -m texbake.cli`` is ``texbake``."""

from texbake.cli import main

if __name__ == "__main__":
    main()
