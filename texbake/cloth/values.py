"""What cloth is at each texel."""

from dataclasses import dataclass

from texbake.arrays import F32


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Cloth:
    """One fabric at N texels, each value the mean over the texel's footprint.

    Attributes
    ----------
    height_mm : (N,) float32
        Above the bare panel.
    slope : (2, N) float32
        Mean of dh/dx and dh/dy in the pattern plane, mm per mm.
    variance : (N,) float32
        Sub-texel slope variance, mean of both axes: what the mean slope does not tell.
    occlusion : (N,) float32
        Share of the sky that the texel sees, cosine-weighted, in [0, 1].
    cover : (N,) float32
        0 = hole, 1 = yarn.
    weights : (S, N) float32
        Weight of each colour of the fabric, shading by folds between yarns included: albedo is
        the sum of weight times linear colour. Over the whole fabric the weights sum to 1 on
        average, so the mean colour is the recipe's.
    metal : (N,) float32
        Share of metallic yarn, in [0, 1].
    alpha2 : (N,) float32
        Square of the fibres' own GGX width, before relief is added.
    level_mm : float
        Mean height of the whole fabric.
    tops : (S, N) float32 or None
        Share of each weight that lies on tops of yarns, in [0, 1]; None where nothing wears them.
    """

    height_mm: F32
    slope: F32
    variance: F32
    occlusion: F32
    cover: F32
    weights: F32
    metal: F32
    alpha2: F32
    level_mm: float
    tops: F32 | None = None
