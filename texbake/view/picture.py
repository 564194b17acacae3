"""The picture of a garment: named views side by side, or a close-up of a panel."""

from collections.abc import Iterable, Iterator, Sequence

from texbake.arrays import U8
from texbake.garment.values import Garment
from texbake.maps.values import MapArrays
from texbake.view.draw import Scene, render, set_up
from texbake.view.frames import model_of
from texbake.view.near import casters, near_camera, panel_to_show
from texbake.view.studio import ground_under, raking_lights, studio_lights
from texbake.view.values import Cell
from texbake.view.views import cells, check_views

VIEWS = ("front", "back")
SIZE_PX = (1200, 900)


def show_picture(
    garment: Garment,
    maps: MapArrays,
    *,
    views: Sequence[str] = VIEWS,
    size: tuple[int, int] = SIZE_PX,
    near: str | None = None,
    threads: int | None = None,
) -> U8:
    """Draw a garment in its cloth.

    Parameters
    ----------
    garment : Garment
    maps : MapArrays
        As baked, or from ``read_set``.
    views : sequence of str
        ``front``, ``back``, ``left``, ``right`` or ``three-quarter``, side by side in one picture.
    size : (int, int)
        Width and height of the picture, 64 to 8192 px.
    near : str, optional
        A panel: the picture is then a close-up of it, 90 mm wide, and ``views`` do not count.
    threads : int, optional
        All cores if not given. The bytes are the same for any.

    Returns
    -------
    (H, W, 3) uint8
        sRGB, row 0 at the top.

    Raises
    ------
    UserError
        For views, panels and sizes that there are not.
    """
    check_views(views if near is None else VIEWS[:1], size)
    panel = None if near is None else panel_to_show(garment, near)
    model = model_of(garment)
    ground = ground_under(model)
    if panel is None:
        scene = Scene(model=model, maps=maps, lights=studio_lights(), ground=ground)
        placed = cells(model, views, size, floor_mm=ground.floor_mm)
    else:
        camera = near_camera(garment, model, panel, size)
        placed = (Cell(left=0, top=0, camera=camera),)
        scene = Scene(
            model=model,
            maps=maps,
            lights=raking_lights(),
            ground=ground,
            casters=casters(model, camera),
        )
    return render(scene, placed, size, threads=threads)


def show_each(
    garment: Garment,
    dressed: Iterable[MapArrays],
    *,
    views: Sequence[str] = VIEWS[:1],
    size: tuple[int, int] = SIZE_PX,
    threads: int | None = None,
) -> Iterator[U8]:
    """Draw a garment in one set of maps after the other: the same cameras and lamps for all.

    Each picture is, to the byte, the one of `show_picture`.

    Parameters
    ----------
    garment : Garment
    dressed : iterable of MapArrays
        Taken one at a time.
    views, size, threads
        As for `show_picture`.

    Yields
    ------
    (H, W, 3) uint8
        sRGB, row 0 at the top.
    """
    check_views(views, size)
    model = model_of(garment)
    ground = ground_under(model)
    placed = cells(model, views, size, floor_mm=ground.floor_mm)
    stage = None
    for maps in dressed:
        scene = Scene(model=model, maps=maps, lights=studio_lights(), ground=ground)
        stage = stage or set_up(scene, tuple(cell.camera for cell in placed), threads)
        yield render(scene, placed, size, threads=threads, stage=stage)
