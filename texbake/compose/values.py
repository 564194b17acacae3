"""The composed surface: everything the maps are made of."""

from dataclasses import dataclass

from texbake.arrays import F32, I64


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Surface:
    """N texels, composed: one height, cover and variance, from which all maps come.

    Attributes
    ----------
    albedo : (C, N) float32
        Linear light, in [0, 1]: three channels, of several colourways side by side.
    height_mm : (N,) float32
    slope : (2, N) float32
        Gradient of height in the pattern plane, mm per mm.
    alpha2 : (N,) float32
        Square of the GGX width, relief that the texel hides included
        (alpha'^2 = alpha^2 + 2 variance).
    metal : (N,) float32
    occlusion : (N,) float32
    opacity : (N,) float32 or None
        Share of the texel that is not a hole; None: none is.
    """

    albedo: F32
    height_mm: F32
    slope: F32
    alpha2: F32
    metal: F32
    occlusion: F32
    opacity: F32 | None = None


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Ink:
    """A print on the M texels of a band that have some of it.

    Attributes
    ----------
    at : (M,) int64
        Index into the band's texels, ascending, each at most once.
    cover : (M,) float32
        Share of the texel that it hides, in [0, 1].
    colour : (3, M) or (3, 1) float32
        Linear light.
    alpha2 : float
        Square of its GGX width.
    fill : float
        Share of the cloth's relief that it fills, in [0, 1].
    """

    at: I64
    cover: F32
    colour: F32
    alpha2: float
    fill: float
