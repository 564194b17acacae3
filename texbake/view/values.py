"""What is drawn, from where, and under which light. All lengths mm, all colour linear light."""

from dataclasses import dataclass

from texbake.arrays import F32, F64, I32


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Model:
    """The faces to draw, each with its own three corners.

    Attributes
    ----------
    points_mm : (F, 3, 3) float64
    normals : (F, 3, 3) float32
        Unit, outwards.
    tangents : (F, 3, 4) float32
        Unit, along +U; the last is the handedness w, 1 or -1: the bitangent, along +V, is
        ``cross(normal, tangent) * w`` (glTF 2.0, section 3.7.2.1).
    uv : (F, 3, 2) float64
        (0, 0) at the bottom left.
    face : (F,) int32
        Their numbers in the garment.
    """

    points_mm: F64
    normals: F32
    tangents: F32
    uv: F64
    face: I32


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Camera:
    """A pinhole with an upright picture.

    Attributes
    ----------
    eye_mm : (3,) float64
    axes : (3, 3) float64
        Rows, unit: to the right in the picture, up in it, and from the cloth to the eye.
    focal_px : float
        Pixels that 1 mm takes at a distance of 1 mm.
    centre_px : (float, float)
        Where the axis meets the picture, from its top left corner, x to the right, y down.
    size_px : (int, int)
        Width and height.
    near_mm : float
        Faces that reach nearer to the eye are not drawn.
    """

    eye_mm: F64
    axes: F64
    focal_px: float
    centre_px: tuple[float, float]
    size_px: tuple[int, int]
    near_mm: float = 1.0


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Cell:
    """One view's place in a picture: its first column and row, and its camera."""

    left: int
    top: int
    camera: Camera


@dataclass(frozen=True, slots=True, kw_only=True)
class Light:
    """A lamp so far away that its rays are parallel.

    Attributes
    ----------
    to_light : (float, float, float)
        Unit vector from the cloth to the lamp, in the camera's axes: the studio stands still
        and the garment is turned.
    strength : float
        Light on a face square to it: a white matt one then shows as bright as this.
    radius_rad : float
        Half the angle under which the lamp is seen. It widens highlights; shadows are as soft
        as the depth map is coarse.
    ambient : bool
        Part of the light from all around, which the baked occlusion holds off.
    shadow_px : int
        Size of its depth map; 0: it casts no shadow.
    """

    to_light: tuple[float, float, float]
    strength: float
    radius_rad: float = 0.0
    ambient: bool = False
    shadow_px: int = 0


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Ground:
    """What is seen beside the garment: a backdrop, and a floor that only its shade shows.

    Attributes
    ----------
    top, bottom : float
        Linear light at the upper and lower edge of the picture.
    floor_mm : float
        Height of the floor in space.
    shade : (N, N) float32
        Share of light that the garment takes off the floor; row 0 at the least z.
    low_mm : (float, float)
        x and z of the outer corner of ``shade[0, 0]``.
    step_mm : float
        Its cells are this wide.
    """

    top: float
    bottom: float
    floor_mm: float
    shade: F32
    low_mm: tuple[float, float]
    step_mm: float
