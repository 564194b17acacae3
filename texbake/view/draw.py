"""From a scene to a picture, in bands of rows over threads.

A band finds its fragments, reads the maps, lights them and adds up its pixels; nothing is handed
from band to band, so that neither the number of threads nor the size of bands changes a byte.
"""

import os
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from texbake.arrays import F32, F64, U8, bands
from texbake.colour import srgb_encode
from texbake.maps.values import MapArrays
from texbake.view.backdrop import backdrop, dither
from texbake.view.fragments import fragments, resolve
from texbake.view.need import needed
from texbake.view.project import Places, Projected, at_places, places, project, steps_at
from texbake.view.pyramid import ACROSS, UP, Pyramid, pyramid
from texbake.view.sample import read_maps
from texbake.view.shade import REFLECTANCE, Lamp, Surface, shade
from texbake.view.shadow import depth_map, lamps_in_space, seen_share
from texbake.view.spans import PATTERN, owners
from texbake.view.values import Camera, Cell, Ground, Light, Model
from texbake.view.vectors import cross, dot, make_unit

BAND_PIXELS = 32768
_DITHER = 0.9  # codes, from end to end
_SHOULDER = 0.9  # linear light over it is pressed together


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Scene:
    """What is drawn in one picture, whatever the view.

    Attributes
    ----------
    model : Model
    maps : MapArrays
    lights : tuple of Light
    ground : Ground or None
        None: black.
    casters : Model or None
        What throws shade; None: all of ``model``.
    reflectance : float
        Of what is not metal; 0 leaves only the matt base.
    """

    model: Model
    maps: MapArrays
    lights: tuple[Light, ...]
    ground: Ground | None = None
    casters: Model | None = None
    reflectance: float = REFLECTANCE


@dataclass(frozen=True, slots=True, eq=False)
class _View:
    """A scene made ready for one camera."""

    camera: Camera
    projected: Projected
    lamps: tuple[Lamp, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Stage:
    """Cameras set up and lamps lit: what pictures of one garment share, whatever it wears."""

    middle: F64
    views: tuple[_View, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Shared:
    """What all bands read."""

    scene: Scene
    textures: Pyramid
    points_mm: F32  # (F, 3, 3), from `middle`
    frames: F32  # (F, 3, 7): normal, tangent, hand
    uv: F32
    middle: F64


def radiance(scene: Scene, camera: Camera, *, threads: int = 1) -> tuple[F32, F32]:
    """Draw a scene as linear light, without ground.

    Parameters
    ----------
    scene : Scene
    camera : Camera
    threads : int
        Speed only.

    Returns
    -------
    light : (H, W, 3) float32
        Times the cover.
    cover : (H, W) float32
    """
    width, height = camera.size_px
    light, cover = np.empty((height, width, 3), np.float32), np.empty((height, width), np.float32)

    def keep(_view: int, rows: slice, colour: F32, covered: F32) -> None:
        light[rows] = colour.T.reshape(-1, width, 3)
        cover[rows] = covered.reshape(-1, width)

    _draw(scene, set_up(scene, (camera,), threads), keep, threads, BAND_PIXELS)
    return light, cover


def set_up(scene: Scene, cameras: tuple[Camera, ...], threads: int | None = None) -> Stage:
    """Set up cameras and draw the shadows of all lamps; the maps of the scene do not count."""
    middle = scene.model.points_mm.reshape(-1, 3).mean(axis=0)
    projected = [project(scene.model, camera) for camera in cameras]
    with ThreadPoolExecutor(threads or os.cpu_count()) as pool:
        views = tuple(_prepare(scene, cameras, projected, middle, pool))
    return Stage(middle=middle, views=views)


def render(
    scene: Scene,
    cells: tuple[Cell, ...],
    size_px: tuple[int, int],
    *,
    threads: int | None = None,
    band_pixels: int = BAND_PIXELS,
    stage: Stage | None = None,
) -> U8:
    """Draw a scene from several cameras into one picture.

    Parameters
    ----------
    scene : Scene
    cells : tuple of Cell
        Where each camera's picture goes.
    size_px : (int, int)
        Width and height of the picture.
    threads, band_pixels : int
        Speed only.
    stage : Stage, optional
        From `set_up`, for the same garment, lights and cells: half the time of a small picture.

    Returns
    -------
    (H, W, 3) uint8
        sRGB, row 0 at the top.
    """
    width, height = size_px
    picture = np.empty((height, width, 3), np.uint8)

    def behind(rows: slice, columns: slice) -> F32:
        if scene.ground is None:
            return np.zeros((rows.stop - rows.start, columns.stop - columns.start), np.float32)
        return backdrop(scene.ground, cells, height, rows, columns)

    if sum(cell.camera.size_px[0] * cell.camera.size_px[1] for cell in cells) < width * height:
        for rows in bands(height, max(1, band_pixels // width)):
            bare = behind(rows, slice(0, width)).reshape(-1)
            picture[rows] = _codes(np.stack([bare] * 3), width, rows, 0)

    def keep(number: int, rows: slice, colour: F32, covered: F32) -> None:
        cell = cells[number]
        wide = cell.camera.size_px[0]
        down = slice(rows.start + cell.top, rows.stop + cell.top)
        across = slice(cell.left, cell.left + wide)
        colour += behind(down, across).reshape(-1) * (1.0 - covered)
        picture[down, across] = _codes(colour, wide, down, cell.left)

    workers = threads or os.cpu_count() or 1
    ready = stage or set_up(scene, tuple(cell.camera for cell in cells), workers)
    _draw(scene, ready, keep, workers, band_pixels)
    return picture


def _codes(colour: F32, width: int, rows: slice, left: int) -> U8:
    """Turn linear light (3, N) into sRGB codes (rows, width, 3), dithered by half a code."""
    _shoulder(colour)
    np.clip(colour, 0.0, 1.0, out=colour)
    encoded = srgb_encode(colour)
    encoded *= 255.0
    encoded += dither(width, rows, left).reshape(-1) * _DITHER
    encoded += 0.5
    np.clip(encoded, 0.0, 255.0, out=encoded)
    return np.ascontiguousarray(encoded.astype(np.uint8).T).reshape(-1, width, 3)


def _shoulder(colour: F32) -> None:
    """Press what is brighter than 0.9 into 0.9 to 1, in place: whites keep their relief."""
    over = colour - _SHOULDER
    np.maximum(over, 0.0, out=over)
    bent = over / (1.0 + over * (1.0 / (1.0 - _SHOULDER)))
    colour += bent - over


Keep = Callable[[int, slice, F32, F32], None]


def _draw(scene: Scene, stage: Stage, keep: Keep, threads: int, band_pixels: int) -> None:
    """Draw all bands of all views, and hand each to ``keep``."""
    shared = _share(scene, stage, threads)
    with ThreadPoolExecutor(threads) as pool:
        jobs = [
            pool.submit(_band, shared, view, number, rows, keep)
            for number, view in enumerate(stage.views)
            for rows in bands(view.camera.size_px[1], max(1, band_pixels // view.camera.size_px[0]))
        ]
        for job in jobs:
            job.result()


def _share(scene: Scene, stage: Stage, threads: int) -> _Shared:
    """Make what all views and bands read: the maps' smaller sizes, and corners in float32."""
    model = scene.model
    uv = model.uv.astype(np.float32)
    height, width = scene.maps.roughness.shape
    views = [(view.projected, view.camera.size_px) for view in stage.views]
    base, window = needed((width, height), uv, views)
    return _Shared(
        scene=scene,
        textures=pyramid(scene.maps, base=base, window=window, threads=threads),
        points_mm=(model.points_mm - stage.middle).astype(np.float32),
        frames=np.concatenate([model.normals, model.tangents], axis=2),
        uv=uv,
        middle=stage.middle,
    )


def _prepare(
    scene: Scene,
    cameras: tuple[Camera, ...],
    projected: list[Projected],
    middle: F64,
    pool: ThreadPoolExecutor,
) -> Iterator[_View]:
    """Draw the depth maps of all lamps, view by view."""
    casters = scene.casters or scene.model
    model = replace(casters, points_mm=casters.points_mm - middle)
    for camera, one in zip(cameras, projected, strict=True):
        directions = lamps_in_space(scene.lights, camera.axes)
        jobs = [
            pool.submit(depth_map, model, direction, light.shadow_px) if light.shadow_px else None
            for light, direction in zip(scene.lights, directions, strict=True)
        ]
        seen = [partial(seen_share, job.result()) if job else None for job in jobs]
        lamps = tuple(
            (light, (x, y, z), share)
            for light, (x, y, z), share in zip(scene.lights, directions.tolist(), seen, strict=True)
        )
        yield _View(camera, one, lamps)


def _band(shared: _Shared, view: _View, number: int, rows: slice, keep: Keep) -> None:
    """Draw a band of one view."""
    width = view.camera.size_px[0]
    owner = owners(view.projected.faces, rows, width)
    parts = fragments(owner, rows.start, PATTERN)
    where = places(view.projected, parts.face, parts.x_px, parts.y_px)
    surface = _surface(shared, view, where)
    colour = shade(surface, view.lamps, reflectance=shared.scene.reflectance)
    keep(number, rows, *resolve(parts, colour, width * (rows.stop - rows.start)))


def _surface(shared: _Shared, view: _View, where: Places) -> Surface:
    """Find frames, texels and the eye at the points of a band."""
    uv = at_places(where, shared.uv)
    texels = read_maps(shared.textures, uv[0], uv[1], steps_at(where, shared.uv))
    points = at_places(where, shared.points_mm)
    frame = at_places(where, shared.frames)
    smooth, tangent, hand = frame[:3], frame[3:6], np.sign(frame[6])
    make_unit(smooth)
    tangent -= smooth * dot(smooth, tangent)
    make_unit(tangent)
    bitangent = cross(smooth, tangent)
    bitangent *= hand
    normals = tangent * texels[ACROSS]
    normals += bitangent * texels[UP]
    normals += smooth
    make_unit(normals)
    behind = np.where(view.projected.turned[where.face], -1.0, 1.0).astype(np.float32)
    eye = (view.camera.eye_mm - shared.middle).astype(np.float32)
    to_eye = eye[:, None] - points
    make_unit(to_eye)
    return Surface(
        points_mm=points,
        smooth=smooth * behind,
        normals=normals * behind,
        to_eye=to_eye,
        texels=texels,
    )
