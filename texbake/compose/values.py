"""The composed surface: everything the maps are made of."""

from dataclasses import dataclass

from texbake.arrays import F32


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
