"""``python -m texbake.cli`` is ``texbake``."""

from texbake.cli import program

if __name__ == "__main__":
    program()
