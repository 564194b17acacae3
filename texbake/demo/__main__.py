"""Writes the demo's meshes anew: ``python -m texbake.demo FOLDER``."""

import argparse
from pathlib import Path

from texbake.demo.garments import write_meshes

if __name__ == "__main__":
    parser = argparse.ArgumentParser(prog="python -m texbake.demo", description=__doc__)
    parser.add_argument("folder", type=Path, help="where to write them; recipes/meshes")
    write_meshes(parser.parse_args().folder)
