"""The sheet: maps reduced as what they stand for, and everything where it belongs."""

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.bent_by_hand import welded
from tests.garments_by_hand import box, garment, sheet
from texbake.arrays import I32
from texbake.chart import look
from texbake.colour import srgb_decode
from texbake.deliver import PanelNote, Record, Source
from texbake.garment.values import Garment
from texbake.maps import MapArrays, blank
from texbake.recipe.values import (
    Basket,
    Colour,
    Draft,
    Fabric,
    Felt,
    HemRecipe,
    Jersey,
    Melange,
    Plain,
    Recipe,
    Rib,
    Satin,
    SeamRecipe,
    Structure,
    Thread,
    Twill,
    Yarn,
)
from texbake.sheet import VIEWS_PX, WIDTH_PX, sheet_picture, shrink
from texbake.sheet.tiles import TILE_PX, Stencil, stencil_of, tiles
from texbake.sheet.words import (
    dyes,
    fabric_words,
    plain_text,
    structure_words,
    thread_colours,
)

NAVY, AMBER, FOG = (Colour(c) for c in ((0.2, 0.2, 0.4), (0.8, 0.6, 0.2), (0.6, 0.8, 0.8)))
DRILL = Fabric(
    name="drill",
    structure=Twill(over=2, under=1),
    warp=Yarn(count_tex=30, per_cm=24, colour=NAVY),
    weft=Yarn(count_tex=34, per_cm=18, colour=FOG),
    scale=4.0,
)
JERSEY = Fabric(
    name="jersey",
    structure=Jersey(),
    yarn=Yarn(count_tex=20, per_cm=0, colour=FOG, melange=Melange(((AMBER, 0.25), (FOG, 0.75)))),
    wales_per_cm=14,
    courses_per_cm=18,
)


def two_panels(mm: float = 500.0) -> Garment:
    """Two squares side by side; the UV square is ``mm`` wide on the cloth."""
    uv = np.concatenate(
        [sheet(2, 2, box(0.05, 0.3, 0.45, 0.7)), sheet(2, 2, box(0.55, 0.3, 0.95, 0.7))]
    )
    panel: I32 = np.repeat([0, 1], 8).astype(np.int32)
    cloth = garment(uv, panel=panel, pattern_mm=uv * mm)
    return welded(cloth, points_mm=cloth.mesh.points_mm)


def record(size: int = 64, **said: Any) -> Record:
    source = Source(name="deck-coat.yaml", sha256="0" * 64)
    notes = [
        PanelNote(
            name=name,
            area_mm2=40_000.0,
            stretch_rms=0.0,
            stretch_max=0.0,
            texels_per_cm=size / 50.0,
        )
        for name in ("front", "back")
    ]
    record = Record(
        texbake="0.1.0",
        garment="deck-coat",
        colourway="slate",
        recipe=source,
        mesh=source,
        size_px=size,
        gutter_px=2,
        seed=1,
        normal_bits=8,
        height_lo_mm=-1.0,
        height_hi_mm=1.0,
        panels=tuple(notes),
    )
    return replace(record, **said)


def recipe(*fabrics: Fabric) -> Recipe:
    return Recipe(
        path=Path("deck-coat.yaml"),
        garment="deck-coat",
        mesh=Path("deck-coat.obj"),
        fabrics={fabric.name: fabric for fabric in fabrics},
        fabric=fabrics[0].name,
    )


def maps_of(size: int = 64) -> MapArrays:
    maps = blank(size, height_lo_mm=-1.0, height_hi_mm=1.0)
    maps.albedo[:] = (200, 60, 30)
    return maps


def made(**said: Any) -> NDArray[np.uint8]:
    maps = said.pop("maps", None) or maps_of()
    told: dict[str, Any] = {
        "recipe": recipe(DRILL, JERSEY),
        "worn": ["drill", "jersey"],
        "record": record(len(maps.albedo)),
        **said,
    }
    return sheet_picture(told.pop("garment", None) or two_panels(), maps, **told)


def packed(picture: NDArray[np.uint8]) -> NDArray[np.int32]:
    """Each pixel as one number."""
    return np.asarray(picture.astype(np.int32) @ np.array([65536, 256, 1], np.int32))


def found(page: NDArray[np.uint8], part: NDArray[np.uint8]) -> bool:
    """Whether a picture lies somewhere on the page, to the bit."""
    whole, piece = packed(page), packed(part)
    rows, columns = piece.shape
    high, wide = len(whole) - rows + 1, whole.shape[1] - columns + 1
    at = np.argwhere(whole[:high, :wide] == piece[0, 0])
    for y, x in np.random.default_rng(5).integers(0, (rows, columns), (40, 2)).tolist():
        at = at[whole[at[:, 0] + y, at[:, 1] + x] == piece[y, x]]
    return any(np.array_equal(whole[y : y + rows, x : x + columns], piece) for y, x in at[:50])


# Reduction


def test_light_is_averaged_as_light() -> None:
    """Half black and half white are 188 in sRGB (IEC 61966-2-1), not 128."""
    board = np.indices((256, 256)).sum(axis=0) % 2 * 255
    image = np.repeat(board[..., None], 3, axis=2).astype(np.uint8)
    assert (shrink.light(image, 64) == 188).all()


@pytest.mark.parametrize("size", [64, 128, 256])
def test_the_mean_of_light_stays(size: int) -> None:
    image = np.random.default_rng(7).integers(0, 256, (512, 512, 3)).astype(np.uint8)
    want = srgb_decode(image / 255.0).mean(axis=(0, 1))
    got = srgb_decode(shrink.light(image, size) / 255.0).mean(axis=(0, 1))
    assert got == pytest.approx(want, abs=2e-3)


def test_lines_near_two_texels_apart_leave_no_beats() -> None:
    """A box over two texels would leave beats of a third of the contrast."""
    at = np.arange(1024)
    wave = 0.5 + 0.5 * np.cos(2 * np.pi * at / 2.1)
    image = np.tile((wave * 65535).astype(np.uint16), (1024, 1))
    small = shrink.numbers(image, 512)[:, 8:-8]
    assert np.ptp(small) < 0.02
    pairs = wave.reshape(-1, 2).mean(axis=1)
    assert np.ptp(pairs) > 0.05


def test_mean_normals_have_unit_length() -> None:
    maps = blank(128, height_lo_mm=0.0, height_hi_mm=1.0)
    maps.normal_up[:, 0::2] = (218, 128, 218)  # 45 degrees to the right, and to the left
    maps.normal_up[:, 1::2] = (37, 128, 218)
    small = shrink.vectors(maps.normal_up, 32)
    assert np.abs(small.astype(int) - [128, 128, 255]).max() <= 1


@pytest.mark.parametrize("bits", [8, 16])
def test_relief_that_is_filtered_out_becomes_roughness(bits: Any) -> None:
    """Slopes of +-1 under roughness 0.5: alpha'^2 = 0.5^4 + 1, clipped; of +-0.5: in full."""
    maps = blank(128, height_lo_mm=0.0, height_hi_mm=1.0, normal_bits=bits)
    maps.roughness[:] = 128
    top = np.iinfo(maps.normal_up.dtype).max
    nz = 1.0 / math.sqrt(1.25)
    for start, nx in ((0, -0.5 * nz), (1, 0.5 * nz)):
        code = np.floor((np.array([nx, 0.0, nz]) * 0.5 + 0.5) * top + 0.5)
        maps.normal_up[:, start::2] = code.astype(maps.normal_up.dtype)
    want = ((128 / 255) ** 4 + 0.25) ** 0.25
    assert shrink.roughness(maps, 32) == pytest.approx(want, abs=0.005)
    assert shrink.roughness(maps, 128)[:, 2:-2] == pytest.approx(128 / 255, abs=0.005)


def test_small_maps_are_enlarged_texel_by_texel() -> None:
    image = np.arange(256, dtype=np.uint8).reshape(16, 16)
    large = shrink.grey(shrink.numbers(image, 64))
    assert np.array_equal(large[..., 0], np.kron(image, np.ones((4, 4), np.uint8)))


# Tiles


def clear() -> Stencil:
    return Stencil(
        outline=np.zeros((TILE_PX, TILE_PX), np.float32),
        cover=np.ones((TILE_PX, TILE_PX), np.float32),
    )


def test_every_map_has_a_tile_that_says_what_it_is() -> None:
    maps = blank(64, height_lo_mm=-0.5, height_hi_mm=1.5, normal_bits=16)
    said = {tile.name: f"{tile.said}; {tile.meaning}" for tile in tiles(maps, clear())}
    assert list(said) == [
        "albedo",
        "roughness",
        "metal",
        "occlusion",
        "normal-up",
        "normal-down",
        "height",
    ]
    assert "64 x 64 px, 3 x 8 bits, sRGB" in said["albedo"]
    assert "64 x 64 px, 8 bits, linear" in said["roughness"]
    assert "3 x 16 bits, linear; green up" in said["normal-up"]
    assert "16 bits, linear; full scale -0.50 to 1.50 mm" in said["height"]


def test_green_down_is_green_up_turned_over() -> None:
    maps = blank(64, height_lo_mm=0.0, height_hi_mm=1.0)
    maps.normal_up[:] = (128, 200, 230)
    shown = {tile.name: tile.picture for tile in tiles(maps, clear())}
    up, down = shown["normal-up"].astype(int), shown["normal-down"].astype(int)
    assert (up[..., 1] > 190).all()
    assert (up[..., 1] + down[..., 1] == 255).all()
    assert np.array_equal(up[..., ::2], down[..., ::2])


def test_heights_are_spread_and_the_ends_are_told() -> None:
    maps = blank(64, height_lo_mm=-1.0, height_hi_mm=1.0)
    maps.height[:] = 32768
    maps.height[:16] = 65535  # a quarter lies at 1 mm, the rest at 0
    (tile,) = (tile for tile in tiles(maps, clear()) if tile.name == "height")
    assert "seen here -0.40 to 1.00 mm" in tile.meaning
    assert tile.picture[0, 0, 0] == 255
    assert tile.picture[-1, 0, 0] == pytest.approx(255 * 0.4 / 1.4, abs=1)


def test_borders_are_drawn_and_what_lies_between_islands_is_blank() -> None:
    stencil = stencil_of(two_panels())
    v = round(0.5 * TILE_PX)
    for u, covered in ((0.25, 1.0), (0.5, 0.0), (0.75, 1.0), (0.01, 0.0)):
        assert stencil.cover[v, round(u * TILE_PX)] == covered
    row = stencil.outline[v]
    inked = np.flatnonzero(row > 0.3) / TILE_PX
    assert all(min(abs(u - edge) for edge in (0.05, 0.45, 0.55, 0.95)) < 0.005 for u in inked)
    assert len(inked) >= 4
    tile = next(tiles(maps_of(), stencil)).picture
    assert tuple(tile[v, TILE_PX // 2]) == look.GRID
    assert tile[v, TILE_PX // 4].tolist() == [200, 60, 30]
    edge = tile[v, round(0.05 * TILE_PX)]
    assert tuple(edge) != look.GRID
    assert edge.tolist() != [200, 60, 30]


# Words


@pytest.mark.parametrize(
    ("structure", "said"),
    [
        (Plain(), "plain weave"),
        (Twill(over=3, under=1, direction="S"), "twill 3/1 S"),
        (Satin(ends=5, move=2), "satin 5/2"),
        (Draft(rows=("x..", ".x.")), "drawn, 3 x 2"),
        (Basket(ends=2, picks=2), "basket 2x2"),
        (Jersey(), "single jersey"),
        (Rib(face=2, back=1), "rib 2x1"),
        (Felt(), "felt"),
    ],
)
def test_structures_are_named_as_in_recipes(structure: Structure, said: str) -> None:
    assert structure_words(structure) == said


def test_fabrics_are_told_in_two_lines() -> None:
    assert fabric_words(DRILL) == (
        "twill 2/1 Z, 24 x 18 per cm",
        "30 and 34 tex, 4 times life size",
    )
    assert fabric_words(JERSEY) == ("single jersey, 14 x 18 per cm", "20 tex, life size")
    felt = Fabric(name="felt", structure=Felt(), thickness_mm=2.5)
    assert fabric_words(felt) == ("felt, 2.5 mm", "life size")


def test_colours_of_yarns_are_told_the_largest_share_first() -> None:
    assert [dye.said for dye in dyes(DRILL)] == ["warp #333366", "weft #99cccc"]
    assert [dye.said for dye in dyes(JERSEY)] == ["#99cccc 75%", "#cc9933 25%"]


def test_thread_is_told_once_and_only_where_it_is_sewn() -> None:
    amber, navy = Thread(colour=AMBER), Thread(colour=NAVY)
    sewn = replace(
        recipe(DRILL),
        seams=(
            SeamRecipe(stitch="301", thread=amber),
            SeamRecipe(stitch=None, thread=navy),
            SeamRecipe(stitch="301", thread=Thread()),
        ),
        hems=(HemRecipe(stitch="301", thread=amber),),
    )
    assert thread_colours(sewn) == (AMBER,)


def test_letters_that_the_typeface_lacks_are_replaced() -> None:
    assert plain_text("Rücken, weiß: 船") == "Rucken, weiss: ?"


# The page


def test_the_same_input_gives_the_same_sheet() -> None:
    first = made()
    assert first.shape[1:] == (WIDTH_PX, 3)
    assert first.dtype == np.uint8
    assert np.array_equal(first, made())


def test_views_of_the_right_size_are_shown_as_they_are() -> None:
    seen = np.random.default_rng(3).integers(0, 256, (VIEWS_PX[1], VIEWS_PX[0], 3))
    views = seen.astype(np.uint8)
    page = made(views=views)
    assert found(page, views)
    assert len(page) > len(made())


def test_views_of_another_size_are_fitted_in() -> None:
    views = np.full((300, 200, 3), (250, 20, 120), np.uint8)
    page = made(views=views)
    pink = np.argwhere((np.abs(page.astype(int) - (250, 20, 120)) <= 1).all(axis=2))
    high, wide = np.ptp(pink, axis=0) + 1
    assert (wide, high) == (812, VIEWS_PX[1])


def test_every_tile_is_on_the_page() -> None:
    maps = maps_of()
    page = made(maps=maps)
    for tile in tiles(maps, stencil_of(two_panels())):
        assert found(page, tile.picture), tile.name


def test_a_piece_of_each_fabric_that_is_worn_is_shown_as_baked() -> None:
    """At 512 texels a piece is cut 2:1 or more from the middle of the roomiest island."""
    maps = maps_of(512)
    maps.albedo[:, :256] = np.random.default_rng(1).integers(0, 256, (512, 256, 3))
    maps.albedo[:, 256:] = (20, 90, 160)
    both = made(maps=maps)
    assert found(both, np.full((60, 500, 3), (20, 90, 160), np.uint8))
    only = made(maps=maps, worn=["drill", "drill"], garment=two_panels())
    assert not found(only, np.full((60, 500, 3), (20, 90, 160), np.uint8))


def test_colours_are_swatches() -> None:
    page = made()
    for colour in (NAVY, FOG, AMBER):
        fill = np.array([round(c * 255) for c in colour.srgb], np.uint8)
        assert found(page, np.broadcast_to(fill, (20, 20, 3)))


def ink(page: NDArray[np.uint8]) -> NDArray[np.bool_]:
    """Where there is ink in the field of the scale, the last of the eight."""
    return np.asarray(packed(page[-700:, -630:]) == packed(np.array([[look.NAVY]], np.uint8)))


def longest_line(page: NDArray[np.uint8]) -> int:
    """Longest level run of ink in the field of the scale, px."""
    runs = (np.diff(np.flatnonzero(np.diff(np.pad(row, 1).astype(int)))) for row in ink(page))
    return max(int(run[::2].max(initial=0)) for run in runs)


@pytest.mark.parametrize(("per_cm", "bar_px"), [(1.28, 204.8), (0.4, 160.0), (30.0, 240.0)])
def test_the_scale_bar_is_as_long_as_the_cloth_is(per_cm: float, bar_px: float) -> None:
    """64 texels on 512 px: at 1.28 texels per cm 20 cm are 204.8 px; at 0.4, 50 cm are 160 px."""
    note = replace(record().panels[0], texels_per_cm=per_cm)
    page = made(record=record(panels=(note, replace(note, name="back"))))
    assert longest_line(page) == pytest.approx(bar_px, abs=6)


def test_a_panel_of_another_density_has_its_own_bar() -> None:
    front, back = record().panels
    other = made(record=record(panels=(front, replace(back, texels_per_cm=0.8, area_mm2=1.0))))
    bars = [(ink(page).sum(axis=1) > 100).sum() for page in (made(), other)]
    assert bars[0] > 0
    assert bars[1] == 2 * bars[0]


def test_many_fabrics_make_the_sheet_longer_and_cover_no_map() -> None:
    views = np.zeros((VIEWS_PX[1], VIEWS_PX[0], 3), np.uint8)
    few = made(views=views)
    cloths = [replace(JERSEY, name=f"jersey {k}") for k in range(8)]
    maps = maps_of()
    many = made(
        maps=maps,
        views=views,
        recipe=recipe(DRILL, *cloths),
        worn=["drill", *(c.name for c in cloths)],
    )
    assert len(many) > len(few)
    for tile in tiles(maps, stencil_of(two_panels())):
        assert found(many, tile.picture), tile.name


@pytest.mark.parametrize("name", ["船乗り", "a" * 190, "W" * 190, "x"])
def test_any_name_leaves_the_head_its_margins(name: str) -> None:
    page = made(record=record(garment=name, colourway=name))
    margin = (WIDTH_PX - 4 * TILE_PX - 3 * 44) // 2
    assert (page[:, : margin - 8] == look.PAPER).all()
    assert (page[:, -margin + 8 :] == look.PAPER).all()


def test_a_title_stands_for_the_garments_name() -> None:
    assert np.array_equal(made(title="deck-coat"), made())
    assert not np.array_equal(made(title="Deck coat")[:260], made()[:260])


@pytest.mark.parametrize("size", [16, 2048])
def test_maps_of_any_size_do(size: int) -> None:
    assert made(maps=maps_of(size)).shape[1] == WIDTH_PX


def test_a_garment_without_panels_does() -> None:
    bare = two_panels()
    bare = replace(bare, panel=np.full(16, -1, np.int32), panels=())
    assert made(garment=bare, worn=[], record=record(panels=())).shape[1] == WIDTH_PX
