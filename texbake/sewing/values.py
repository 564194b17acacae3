"""What one chain's sewing adds to the texels near it."""

from dataclasses import dataclass

from texbake.arrays import F32, I64
from texbake.cloth.values import Cloth


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Sewn:
    """Sewing along one chain, on the M texels that it touches, each value a mean over the texel.

    Height, slope and occlusion act on what lies beneath: pucker, groove, fold and thread all bend
    the cloth. Thread also hides it, by ``cover``.

    Attributes
    ----------
    at : (M,) int64
        Index into the band's texels, ascending, each at most once.
    height_mm : (M,) float32
        Added.
    slope : (2, M) float32
        Its gradient in the pattern plane, added.
    variance : (M,) float32
        Sub-texel slope variance (mean of both axes), added.
    occlusion : (M,) float32
        Multiplied, in [0, 1].
    cover : (M,) float32
        Share of the texel that thread hides, in [0, 1].
    shade : (M,) float32
        Thread's brightness where it covers (strands, twist); about 1 on average.
    thread : (3,) float32
        Its colour, linear light.
    alpha2 : float
        Square of the thread's GGX width.
    metal : float
        1 for a metallic thread, else 0.
    """

    at: I64
    height_mm: F32
    slope: F32
    variance: F32
    occlusion: F32
    cover: F32
    shade: F32
    thread: F32
    alpha2: float
    metal: float


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Strip:
    """Another cloth over that of the panel, on the M texels that it touches: a binding, a band.

    Attributes
    ----------
    at : (M,) int64
        Index into the band's texels, ascending, each at most once.
    cover : (M,) float32
        Share of the texel that it hides, in [0, 1].
    cloth : Cloth
        At these texels; its slope is in the panel's pattern plane.
    colours : (S, 3) float32
        Linear colour of each of the cloth's weights.
    """

    at: I64
    cover: F32
    cloth: Cloth
    colours: F32
