"""Where each texel lies on the cloth.

On one face every quantity of the layout (pattern plane, space) is an affine function of the
texel's column and row, so a texel needs only its face's number; the rest is a table per face.
"""

from dataclasses import dataclass

from texbake.arrays import F32, I32, I64


@dataclass(frozen=True, slots=True, kw_only=True)
class Overlap:
    """Two panels (or one with itself, where mirrored halves share texels) on the same texels."""

    panels: tuple[int, int]
    texels: int


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Layout:
    """The texels of one garment at one size.

    Attributes
    ----------
    size_px : int
        Width and height.
    face : (H, W) int32
        Face of each texel, row 0 at the top; -1 for background. A texel whose centre lies in an
        island has exactly that face; one that an island only partly covers has the nearest.
    partial : (P,) int64
        Flat indices of the texels whose centre lies outside every island.
    to_pattern : (F, 2, 3) float32
        Pattern-plane mm from (column + 0.5, row + 0.5, 1).
    to_space : (F, 3, 3) float32
        Space in mm from the same.
    footprint_mm : (F, 2, 2) float32
        ``footprint_mm[f, :, 0]`` is the step in the pattern plane of one column to the right,
        ``[f, :, 1]`` of one row *down*.
    frame : (F, 2, 2) float32
        Turns a gradient in the pattern plane (dh/dx, dh/dy) into one in the tangent frame of the
        surface: first along +U (dP/du normalised), second at right angles to it in the surface,
        on the +V side. The normal is (-first, -second, 1), normalised, in the green-up convention.
    texel_mm : (F,) float32
        Square root of the area of a texel on the surface.
    gutter_to, gutter_from : (G,) int64
        Flat indices: each gutter texel repeats the covered texel in ``gutter_from``.
    overlaps : tuple of Overlap
    """

    size_px: int
    face: I32
    partial: I64
    to_pattern: F32
    to_space: F32
    footprint_mm: F32
    frame: F32
    texel_mm: F32
    gutter_to: I64
    gutter_from: I64
    overlaps: tuple[Overlap, ...] = ()


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Texels:
    """The covered texels of a band of rows, as flat arrays of N.

    Attributes
    ----------
    index : (N,) int64
        Flat index in the image.
    face : (N,) int32
    x_mm, y_mm : (N,) float32
        Pattern plane.
    run : (R,) int64 or None
        Where runs of one face along one row start, ascending; None where that is not known.
    """

    index: I64
    face: I32
    x_mm: F32
    y_mm: F32
    run: I64 | None = None


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Near:
    """Texels of one band that lie within reach of one chain.

    Attributes
    ----------
    at : (M,) int64
        Index into the band's N texels, ascending, each at most once.
    distance_mm : (M,) float32
        To the chain, in the pattern plane, >= 0.
    arc_mm : (M,) float32
        Arc length along the chain of the nearest point, or near it where it is eased.
    away : (2, M) float32
        Unit vector of the pattern plane that points away from the chain: the gradient of
        ``distance_mm``.
    along : (2, M) float32
        Gradient of ``arc_mm`` in the pattern plane: along the chain, at right angles to ``away``
        except round a corner.
    side : (M,) int32
        Side of the chain (0 or 1) that the texel lies on.
    segment : (M,) int32 or None
        Segment of the reach that is nearest to the texel.
    """

    at: I64
    distance_mm: F32
    arc_mm: F32
    away: F32
    along: F32
    side: I32
    segment: I32 | None = None
