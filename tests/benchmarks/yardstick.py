"""The yardstick: what a practised user would write in an afternoon with the same packages.

One panel, one plain weave, seven maps: per-pixel ``noise`` calls, whole-image float64 arrays, Sobel
normals, occlusion from a blurred height, padding by scipy's distance transform with indices,
Pillow's defaults. It is here to be measured against, in the same run, and is written plainly but
not badly: nothing in it is slower than such a script would be. It has no seams, no panels in
millimetres, no filtering, and aliases.

``python -m tests.benchmarks.yardstick SIZE FOLDER``
"""

import sys
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image
from scipy import ndimage

THREADS = 180  # yarns across the picture: 11 texels at 2048


def fibre_noise(size: int) -> np.ndarray:
    """Four octaves of gradient noise, a call per pixel: the package has no other way."""
    from noise import pnoise2  # needs a C compiler; tests collect this file without it

    step = 64.0 / size
    rows = [[pnoise2(x * step, y * step, octaves=4) for x in range(size)] for y in range(size)]
    return np.array(rows)


def plain_weave(size: int) -> tuple[np.ndarray, np.ndarray]:
    """Height of a plain weave and which yarn is on top."""
    y, x = np.mgrid[0:size, 0:size] / size * THREADS
    across_x, across_y = np.abs(np.sin(np.pi * x)), np.abs(np.sin(np.pi * y))
    warp_up = (np.floor(x) + np.floor(y)) % 2 == 0
    warp = across_x * (0.6 + 0.4 * across_y)
    weft = across_y * (0.6 + 0.4 * across_x)
    return np.where(warp_up, warp, weft), warp_up


def island(size: int) -> Any:
    """One panel: a trapezoid that fills most of the picture."""
    y, x = np.mgrid[0:size, 0:size] / size
    return (np.abs(x - 0.5) < 0.3 + 0.15 * y) & (y > 0.04) & (y < 0.96)


def padding(covered: Any) -> tuple[Any, Any]:
    """Row and column of the nearest covered pixel, for every pixel."""
    nearest: Any = ndimage.distance_transform_edt(
        ~covered, return_distances=False, return_indices=True
    )
    row, column = nearest
    return row, column


def bake(size: int, folder: Path) -> None:
    """Make and save seven maps."""
    height, warp_up = plain_weave(size)
    grain = fibre_noise(size)
    height = height + 0.15 * grain
    padded = padding(island(size))
    colour = np.where(warp_up[..., None], [34, 50, 77], [52, 72, 106]) / 255.0
    albedo = colour * (0.75 + 0.25 * height[..., None]) * (1.0 + 0.2 * grain[..., None])
    roughness = 0.85 - 0.1 * height + 0.1 * grain
    occlusion = 1.0 - np.clip(ndimage.gaussian_filter(height, 4.0) - height, 0.0, 1.0)
    dx, dy = ndimage.sobel(height, 1), ndimage.sobel(height, 0)
    normal = np.dstack([-dx, dy, np.ones_like(height)])
    normal /= np.linalg.norm(normal, axis=2, keepdims=True)
    up = normal * 0.5 + 0.5
    down = up * [1.0, -1.0, 1.0] + [0.0, 1.0, 0.0]
    low, high = height.min(), height.max()
    maps = {"albedo": albedo, "roughness": roughness, "metal": np.zeros_like(height)}
    maps |= {"normal-up": up, "normal-down": down, "occlusion": occlusion}
    for name, picture in maps.items():
        codes = np.clip(picture[padded] * 255.0 + 0.5, 0, 255).astype(np.uint8)
        Image.fromarray(codes).save(folder / f"{name}.png")
    codes16 = ((height[padded] - low) / (high - low) * 65535.0 + 0.5).astype(np.uint16)
    Image.fromarray(codes16).save(folder / "height.png")


if __name__ == "__main__":
    bake(int(sys.argv[1]), Path(sys.argv[2]))
