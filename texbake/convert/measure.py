"""What the converter's errors are: the figures of ``recipes/NORMALS.md``, and of tests.

All fields here are sums of waves, so that their slopes are known and nothing is random.
"""

import math
from collections.abc import Callable, Iterator, Mapping
from types import MappingProxyType
from typing import Final

import numpy as np

from texbake.arrays import F32, F64
from texbake.convert.integrate import normal_to_height
from texbake.convert.normal import height_to_normal
from texbake.convert.values import Bits, Edge, Kernel, Samples

ANGLES_DEG: Final = tuple(180.0 / 16.0 * k for k in range(16))
WAVES: Final = (64.0, 32.0, 16.0, 12.0, 8.0, 6.0, 5.0, 4.0, 3.5, 3.0, 2.5)
_SIDE: Final = 80
_MARGIN: Final = 8
_GOLDEN: Final = 0.6180339887498949

# What others take slopes with: the weights across, of a difference over two texels.
OTHERS: Final[Mapping[str, tuple[float, float, float]]] = MappingProxyType(
    {"Sobel": (0.25, 0.5, 0.25), "Scharr": (3 / 16, 10 / 16, 3 / 16)}
)

# From heights, (H, W) float32 in texels, to the slopes along columns and rows.
Slopes = Callable[[F32], tuple[F64, F64]]


def ours(kernel: Kernel) -> Slopes:
    """Return how one of our kernels takes slopes."""

    def slopes(height: F32) -> tuple[F64, F64]:
        vector = height_to_normal(height, depth_mm=1.0, texel_mm=1.0, kernel=kernel, bits=None)
        x, y, z = (vector[..., k].astype(np.float64) for k in range(3))
        return -x / z, y / z

    return slopes


def three_by_three(across: tuple[float, float, float]) -> Slopes:
    """Return how a kernel of three by three takes slopes; borders are left at 0."""

    def along(height: F64) -> F64:
        step = 0.5 * (height[:, 2:] - height[:, :-2])
        mean = sum(w * step[k : len(step) - 2 + k] for k, w in enumerate(across))
        return np.pad(np.asarray(mean), 1)

    def slopes(height: F32) -> tuple[F64, F64]:
        exact = height.astype(np.float64)
        return along(exact), along(exact.T).T

    return slopes


def wave(texels: float, angle_deg: float) -> tuple[F32, F64, F64]:
    """Return a wave of slope 1, as means over texels, and the means of its slopes.

    Parameters
    ----------
    texels : float
        From crest to crest.
    angle_deg : float
        From the rows' direction to the wave's.

    Returns
    -------
    height : (80, 80) float32
        In texels.
    across, down : (80, 80) float64
    """
    angle = math.radians(angle_deg)
    turn = 2.0 * math.pi / texels
    w_across, w_down = turn * math.cos(angle), turn * math.sin(angle)
    at = np.arange(_SIDE, dtype=np.float64)
    phase = w_across * at + w_down * at[:, None]
    # The mean over a texel: np.sinc(x) is sin(pi x) / (pi x).
    mean = float(np.sinc(w_across / (2.0 * math.pi)) * np.sinc(w_down / (2.0 * math.pi)))
    slope = mean * np.cos(phase)
    height = (mean / turn * np.sin(phase)).astype(np.float32)
    return height, slope * math.cos(angle), slope * math.sin(angle)


def angles_deg(found: tuple[F64, F64], true: tuple[F64, F64]) -> F64:
    """Return the angles between the normals of two pairs of slopes, degrees."""
    a, b = (np.stack([-x, y, np.ones_like(x)], axis=-1) for x, y in (found, true))
    cross = np.linalg.norm(np.cross(a, b), axis=-1)
    angle: F64 = np.degrees(np.arctan2(cross, (a * b).sum(axis=-1)))
    return angle


def wave_error_deg(slopes: Slopes, texels: float, angle_deg: float) -> float:
    """Return the greatest angle by which normals of a wave are off, degrees."""
    height, across, down = wave(texels, angle_deg)
    inner = slice(_MARGIN, -_MARGIN)
    found = slopes(height)
    errors = angles_deg(found, (across, down))[inner, inner]
    return float(errors.max())


def worst_deg(slopes: Slopes, texels: float) -> float:
    """Return the greatest error over 16 directions, degrees."""
    return max(wave_error_deg(slopes, texels, angle) for angle in ANGLES_DEG)


def jump_spill(slopes: Slopes) -> float:
    """Return the steepest false slope beside a jump of 1 texel, in texels that do not touch it."""
    height = np.where(np.arange(_SIDE) < _SIDE // 2, 0.0, 1.0)
    across, _ = slopes(np.tile(height, (_SIDE, 1)).astype(np.float32))
    away = np.abs(np.arange(_SIDE) + 0.5 - _SIDE // 2) > 1.0
    return float(np.abs(across[_MARGIN:-_MARGIN, away]).max())


def noise_gain(slopes: Slopes) -> float:
    """Return the root mean square slope that one texel of height 1 makes: what noise becomes."""
    height = np.zeros((_SIDE, _SIDE), np.float32)
    height[_SIDE // 2, _SIDE // 2] = 1.0
    across, _ = slopes(height)
    return float(np.sqrt(np.square(across[_MARGIN:-_MARGIN, _MARGIN:-_MARGIN]).sum()))


def relief(side: int, texels: float) -> F64:
    """Return a smooth relief that wraps, from 0 to 1.

    Parameters
    ----------
    side : int
        Its height and width.
    texels : float
        Its finest waves; the coarsest are three times as long.
    """
    at = 2.0 * np.pi / side * np.arange(side)
    total: F64 = np.zeros((side, side))
    for number in range(48):
        turns = side / (texels * (1.0 + 2.0 * ((number * _GOLDEN) % 1.0)))
        angle = math.pi * ((number * _GOLDEN * _GOLDEN) % 1.0)
        across, down = round(turns * math.cos(angle)), round(turns * math.sin(angle))
        total += np.cos(across * at + down * at[:, None] + 2.399963 * number * number)
    total -= total.min()
    total /= total.max()
    return total


def mending(texels: float, levels: int, *, mend: bool, smooth_texels: float = 0.0) -> float:
    """Return the angle by which normals of a relief of few levels are off, degrees.

    The relief has hard edges, a disc and a block, and is 20 texels deep.

    Returns
    -------
    float
        Root mean square, against the normals of the same relief before rounding.
    """
    side = 256
    height = 0.7 * relief(side, texels)
    at = np.arange(side)
    height[(at - 75) ** 2 + (at[:, None] - 100) ** 2 < 30**2] += 0.3
    height[150:200, 150:210] = 0.5
    codes = np.floor(height * (levels - 1) + 0.5).astype(np.uint8)
    true = _vectors((height * (levels - 1) / 255.0).astype(np.float32), levels)
    found = _vectors(codes, levels, mend=mend, smooth_texels=smooth_texels)
    cross = np.linalg.norm(np.cross(true, found), axis=-1)
    return float(np.sqrt(np.square(np.degrees(np.arcsin(np.minimum(cross, 1.0)))).mean()))


def _vectors(
    height: Samples, levels: int, *, mend: bool = False, smooth_texels: float = 0.0
) -> F64:
    """Return the normals of a relief, 20 texels deep at its levels."""
    return height_to_normal(
        height,
        depth_mm=20.0 * 255.0 / (levels - 1),
        texel_mm=1.0,
        edge="wrap",
        bits=None,
        mend=mend,
        smooth_texels=smooth_texels,
    ).astype(np.float64)


def round_trip(edge: Edge, bits: Bits, texels: float) -> tuple[float, float]:
    """Return how near a height comes to itself through normals: correlation, and slope.

    The relief is 10 texels deep, with finest waves of ``texels``; where it need not wrap it lies
    on an incline.
    """
    height = relief(256, texels)
    if edge == "hold":
        height = 0.5 * height + 0.5 * np.linspace(0.0, 1.0, 256)
    if edge == "mirror":  # a quarter of a relief that is even about its borders
        height = height + height[::-1]
        height = (height + height[:, ::-1])[:128, :128] / 4.0
    true = 10.0 * (height - height.mean())
    normal = height_to_normal(
        height.astype(np.float32), depth_mm=10.0, texel_mm=1.0, edge=edge, bits=bits
    )
    found = normal_to_height(normal, texel_mm=1.0, edge=edge).astype(np.float64)
    together = float((found * true).sum())
    correlation = together / math.sqrt(float((found**2).sum() * (true**2).sum()))
    return correlation, together / float((true**2).sum())


def code_errors(bits: Bits, *, dither: bool) -> tuple[float, float, float]:
    """Return what codes do to normals of all slopes up to 80 degrees.

    Returns
    -------
    length : float
        The greatest error of length, in steps of the code.
    turn_deg, turn_rms_deg : float
        The greatest and the root mean square angle.
    """
    height = (relief(256, 24.0)).astype(np.float32)
    worst, turns = 0.0, []
    for depth in (2.0, 10.0, 40.0, 120.0):
        codes, vectors = (
            height_to_normal(
                height, depth_mm=depth, texel_mm=1.0, edge="wrap", bits=b, dither=dither
            ).astype(np.float64)
            for b in (bits, None)
        )
        half = (2.0**bits - 1.0) / 2.0
        codes = codes / half - 1.0
        length = np.linalg.norm(codes, axis=-1)
        worst = max(worst, float(np.abs(length - 1.0).max()) * half)
        cross = np.linalg.norm(np.cross(codes, vectors), axis=-1) / length
        turns.append(np.degrees(np.arcsin(cross)))
    every = np.stack(turns)
    return worst, float(every.max()), float(np.sqrt(np.square(every).mean()))


def all_slopes() -> Iterator[tuple[str, Slopes]]:
    """Return our kernels, then those of others, by name."""
    kernels: tuple[Kernel, ...] = ("true", "even", "short")
    for kernel in kernels:
        yield kernel, ours(kernel)
    for name, across in OTHERS.items():
        yield name, three_by_three(across)
