"""Where each panel begins on what repeats, so that no two panels show the same."""

import zlib

import numpy as np

from texbake.arrays import F32
from texbake.garment.values import Garment


def panel_shifts(built: Garment) -> F32:
    """A place in [0, 1) per face, by its panel's name: so it survives a new UV layout.

    Returns
    -------
    (F, 2) float32
    """
    places = np.zeros((len(built.panels) + 1, 2), np.float32)
    for k, panel in enumerate(built.panels):
        key = zlib.crc32(panel.name.encode())
        places[k] = (key & 0xFFFF) / 65536.0, (key >> 16) / 65536.0
    out: F32 = places[built.panel]
    return out
