"""Pictures of a cloth: at life size, enlarged, and in folds.

At life size one pixel is 25.4 / 96 mm: so long is a pixel of CSS (CSS Values and Units 4, "1in =
96px"), and that is what a screen at 100 % shows. Cloth is then drawn as it is, whatever scale the
recipe gives it for its garment.
"""

import math
from dataclasses import replace

import numpy as np

from texbake import cloth
from texbake.arrays import F32, F64, U8
from texbake.colour import srgb_codes, srgb_decode
from texbake.maps import MapArrays
from texbake.recipe import Fabric
from texbake.swatch.body import curtain, flat
from texbake.swatch.piece import Piece, cut
from texbake.view import Camera, Cell, Light, Model, Scene, render
from texbake.view.studio import raking_lights, studio_lights

PX_MM = 25.4 / 96.0
ENLARGED = (2, 4, 8, 16, 32)
YARN_PX = 7.0  # a yarn is this wide or wider when enlarged
SHEET_MM = 0.6  # what is to be seen of cloth without yarns: tufts, grain, fibres
FOLDS_MM = 200.0  # side of the cloth that hangs in folds
FILL = 0.80  # of it that is in the picture, so that no edge is
BOARD = 0.012  # linear light of the board that nets lie on
SHADOW_PX = 160
BLOCK = 64
YARN_TEXELS = 2.2  # to a yarn: with fewer than two it would beat against the texels
FINER = 2  # what is not enlarged is drawn so many times finer first
FAR = 40.0  # how many picture widths the eye is away from a flat piece


def life_size(fabric: Fabric, side_px: int, *, threads: int | None = None) -> U8:
    """A flat piece at life size, lit from the side; (side, side, 3) uint8."""
    return _flat_view(fabric, side_px, 1, threads)


def enlarged(fabric: Fabric, side_px: int, *, threads: int | None = None) -> U8:
    """The same, `times` as large."""
    return _flat_view(fabric, side_px, times(fabric), threads)


def times(fabric: Fabric) -> int:
    """How many times life size shows a fabric's yarns."""
    return next((k for k in ENLARGED if _finest_mm(fabric) * k / PX_MM >= YARN_PX), ENLARGED[-1])


def _finest_mm(fabric: Fabric) -> float:
    """From yarn to yarn at life size, where they are closest."""
    if not cloth.has_yarns(fabric):
        return SHEET_MM
    return min(*cloth.pitch_mm(fabric), cloth.yarn_mm(fabric)) / fabric.scale


def folds(
    fabric: Fabric, side_px: int, *, side_mm: float = FOLDS_MM, threads: int | None = None
) -> U8:
    """Cloth that hangs in folds, at life size as seen from a metre or so."""
    texels = _in_blocks(2.0 * side_px / FILL)
    size, seen = (side_mm, side_mm), texels * FILL / side_px  # of a pixel, in texels
    piece = cut(replace(fabric, scale=1.0), size, texels, spread_px=seen, threads=threads)
    return folded(piece, side_px, threads=threads)


def folded(piece: Piece, side_px: int, *, threads: int | None = None) -> U8:
    """A square piece that hangs in folds; it is seen to ``FILL`` of its width."""
    side_mm = min(piece.width_mm, piece.length_mm)
    eye = np.array([0.0, 0.10 * side_mm, 4.0 * side_mm])
    camera = _camera(eye, FILL * side_mm, side_px)
    return _drawn(
        curtain(piece.width_mm, piece.length_mm), piece.maps, camera, studio_lights(), threads
    )


def _flat_view(fabric: Fabric, side_px: int, enlargement: int, threads: int | None) -> U8:
    """A flat piece, one pixel being so many times smaller than at life size."""
    side_mm = side_px * PX_MM / enlargement
    sample = replace(fabric, scale=1.0)
    finer = FINER if enlargement == 1 else 1
    wanted = max(finer * side_px, min(YARN_TEXELS * side_mm / _finest_mm(fabric), 4.0 * side_px))
    piece = cut(sample, (side_mm, side_mm), _in_blocks(wanted), threads=threads)
    camera = _camera(np.array([0.0, 0.0, FAR * side_mm]), side_mm, finer * side_px)
    # On a table nothing but the relief throws shade, and that is in the occlusion.
    lights = tuple(replace(light, shadow_px=0) for light in raking_lights(fewer=4))
    drawn = _drawn(flat(side_mm, side_mm), piece.maps, camera, lights, threads)
    return _halved(drawn) if finer > 1 else drawn


def _halved(picture: U8) -> U8:
    """Draw together two pixels by two, with weights 1 3 3 1 along each axis.

    The mean over a pixel's own square lets yarns that are as fine as pixels beat against them;
    these weights all but end such waves.
    """
    light = srgb_decode(picture.astype(np.float32) * np.float32(1.0 / 255.0))
    for axis in (0, 1):
        rows = np.moveaxis(light, axis, 0)
        wide = np.concatenate([rows[:1], rows, rows[-1:]])
        a, b, c, d = (wide[k : k + len(rows) : 2] for k in range(4))
        light = np.moveaxis((a + 3.0 * (b + c) + d) * 0.125, 0, axis)
    return _codes(light)


def _in_blocks(least: float) -> int:
    """Texels to a side: so many that the maps can be halved a few times."""
    return BLOCK * math.ceil(least / BLOCK)


def _camera(eye_mm: F64, width_mm: float, side_px: int) -> Camera:
    """Look at the origin, so that ``width_mm`` there fill the picture."""
    away = float(np.linalg.norm(eye_mm))
    back = eye_mm / away
    right = np.cross([0.0, 1.0, 0.0], back)
    right /= np.linalg.norm(right)
    return Camera(
        eye_mm=eye_mm,
        axes=np.stack([right, np.cross(back, right), back]),
        focal_px=away * side_px / width_mm,
        centre_px=(side_px / 2.0, side_px / 2.0),
        size_px=(side_px, side_px),
    )


def _drawn(
    model: Model,
    maps: MapArrays,
    camera: Camera,
    lights: tuple[Light, ...],
    threads: int | None,
) -> U8:
    scene = Scene(model=model, maps=on_board(maps), lights=lights)
    cells = (Cell(left=0, top=0, camera=camera),)
    return render(scene, cells, camera.size_px, threads=threads)


def on_board(maps: MapArrays) -> MapArrays:
    """Lay a net on a dark, matt board: a renderer without holes then shows them; others as is."""
    if maps.opacity is None:
        return maps
    cover = (maps.opacity.astype(np.float32) * np.float32(1.0 / 255.0))[..., None]
    light = srgb_decode(maps.albedo.astype(np.float32) * np.float32(1.0 / 255.0))
    light = light * cover + np.float32(BOARD) * (1.0 - cover)
    return replace(maps, albedo=_codes(light))


def _codes(light: F32) -> U8:
    """Encode linear light, (H, W, 3)."""
    channels = [srgb_codes(np.ascontiguousarray(light[..., k]).ravel()) for k in range(3)]
    return np.stack(channels, axis=1).reshape(light.shape)
