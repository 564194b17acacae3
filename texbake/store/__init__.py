"""Keeps what was worked out once in the user's cache folder."""

from texbake.store.kept import Store, default_folder
from texbake.store.pack import DamagedError, pack, unpack

__all__ = ["DamagedError", "Store", "default_folder", "pack", "unpack"]
