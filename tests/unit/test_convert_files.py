"""From files to files: names, scale, marks, what is refused, and that nothing is half written."""

import json
import os
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

from tests.convert_by_hand import chunk, codes16, png_bytes, save_png, waves
from texbake.convert import flip_green, height_to_normal
from texbake.convert.from_height import Asked, convert_heights
from texbake.convert.from_normal import AskedHeight, flip_greens, recover_heights
from texbake.convert.many import Made
from texbake.convert.mark import Mark, read_mark
from texbake.convert.outputs import Output, Shared, write_outputs
from texbake.convert.pictures import read_picture
from texbake.convert.scale import AskedScale
from texbake.deliver import MapFile, PanelNote, Record, Source
from texbake.errors import MachineError, UserError, UserErrors

SHAPE = (70, 90)
MM = AskedScale(depth="2mm", width="45 mm")  # 0.5 mm a texel


@pytest.fixture
def brick(tmp_path: Path) -> Path:
    """A height map of 16 bits in a folder of its own."""
    return save_png(tmp_path / "brick.png", codes16(waves(*SHAPE)))


def names(folder: Path) -> list[str]:
    """All files below a folder."""
    return sorted(p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file())


def only(made: tuple[Made, ...]) -> Made:
    """The one picture that came out."""
    (one,) = made
    return one


def test_both_conventions_go_beside_the_picture(brick: Path) -> None:
    made = only(convert_heights([brick], Asked(scale=MM)))
    assert names(brick.parent) == ["brick.png", "brick_normal-down.png", "brick_normal-up.png"]
    up, down = (read_picture(path).samples for path in made.files)
    want = height_to_normal(read_picture(brick).samples, depth_mm=2.0, texel_mm=0.5)
    np.testing.assert_array_equal(up, want)
    np.testing.assert_array_equal(down, flip_green(up))
    assert made.steepest_deg == pytest.approx(
        np.degrees(np.arccos((want[..., 2].min() - 127.5) / 127.5)), abs=1.0
    )
    assert (made.depth_mm, made.texel_mm) == (2.0, 0.5)


def test_one_convention_with_a_name_of_its_own(brick: Path) -> None:
    out = brick.parent / "deep" / "er" / "mine.png"
    made = only(convert_heights([brick], Asked(scale=MM, greens=("down",), bits=16), out=out))
    assert made.files == (out,)
    want = height_to_normal(
        read_picture(brick).samples, depth_mm=2.0, texel_mm=0.5, bits=16, green="down"
    )
    np.testing.assert_array_equal(read_picture(out).samples, want)
    other = only(convert_heights([brick], Asked(scale=MM), out=brick.parent / "wall"))
    assert [path.name for path in other.files] == ["wall_normal-up.png", "wall_normal-down.png"]


def test_folders_go_into_folders_and_what_was_made_is_not_read_again(brick: Path) -> None:
    inner = brick.parent / "more"
    inner.mkdir()
    save_png(inner / "tile.png", codes16(waves(*SHAPE)))
    (inner / "notes.txt").write_text("no picture", "utf-8")
    for _ in range(2):
        made = convert_heights([brick.parent], Asked(scale=MM))
        assert [m.source.name for m in made] == ["brick.png", "tile.png"]
    out = brick.parent.parent / f"{brick.parent.name}-out"
    convert_heights([brick.parent], Asked(scale=MM, greens=("up",)), out=out)
    assert names(out) == ["brick_normal-up.png", "more/tile_normal-up.png"]
    made = recover_heights([brick.parent], AskedHeight())
    assert [m.source.name for m in made] == ["brick_normal-up.png", "tile_normal-up.png"]


def test_threads_and_the_size_of_chunks_change_no_byte(brick: Path) -> None:
    found = []
    for threads in (1, 3):
        out = brick.parent / f"{threads}.png"
        asked = Asked(scale=MM, greens=("up",), dither=True, mend=True)
        convert_heights([brick], asked, out=out, threads=threads)
        found.append(out.read_bytes())
    assert found[0] == found[1]


def test_rows_are_made_once_each_for_both_files(tmp_path: Path) -> None:
    asked: list[slice] = []
    codes = np.random.default_rng(0).integers(0, 256, (300, 40_000, 3)).astype(np.uint8)

    def rows(band: slice) -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
        asked.append(band)
        return codes[band]

    outputs = [
        Output(path=tmp_path / f"{k}.png", mark=Mark(kind="normal-up"), flip_green=k == 1)
        for k in range(2)
    ]
    shares: list[float] = []
    write_outputs(outputs, rows, codes.shape, 8, report=shares.append)
    assert [band.start for band in asked] == [0, 64, 128, 192, 256]
    assert shares[-1] == 1.0
    np.testing.assert_array_equal(read_picture(outputs[0].path).samples, codes)
    np.testing.assert_array_equal(read_picture(outputs[1].path).samples, flip_green(codes))


def test_a_writer_that_is_slow_gets_its_own_rows() -> None:
    def rows(band: slice) -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
        return np.full((band.stop - band.start, 10), band.start // 64, np.uint8)

    shared = Shared(rows, (640, 70_000, 1), 2, None)

    def take(number: int) -> list[int]:
        if number == 1:
            time.sleep(0.2)  # as long as a writer that runs ahead would need for all
        mine = shared.rows_for(number)
        found = [int(mine(slice(k, k + 64))[0, 0]) for k in range(0, 640, 64)]
        shared.leave(number)
        return found

    with ThreadPoolExecutor(2) as pool:
        assert list(pool.map(take, range(2))) == [list(range(10))] * 2


def test_a_writer_that_fails_leaves_no_file_and_no_folder(tmp_path: Path) -> None:
    def rows(band: slice) -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
        if band.start >= 128:
            raise MemoryError
        return np.zeros((band.stop - band.start, 40_000, 3), np.uint8)

    folder = tmp_path / "a" / "b"
    outputs = [Output(path=folder / f"{k}.png", mark=Mark(kind="height")) for k in range(2)]
    with pytest.raises(MemoryError):
        write_outputs(outputs, rows, (300, 40_000, 3), 8)
    assert not (tmp_path / "a").exists()


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write all")
def test_a_folder_that_may_not_be_written_to_is_told(brick: Path) -> None:
    brick.parent.chmod(0o500)
    try:
        with pytest.raises(MachineError):
            convert_heights([brick], Asked(scale=MM))
    finally:
        brick.parent.chmod(0o700)


def test_a_file_in_place_of_the_folder_is_told_and_nothing_is_left(brick: Path) -> None:
    with pytest.raises(MachineError):
        convert_heights([brick], Asked(scale=MM), out=brick / "inside")
    assert names(brick.parent) == ["brick.png"]


def test_the_picture_that_is_read_is_never_written_over(brick: Path) -> None:
    before = brick.read_bytes()
    link = brick.with_name("link.png")
    link.symlink_to(brick)
    for out in (brick, link):
        with pytest.raises(UserError, match="which is read") as caught:
            convert_heights([brick], Asked(scale=MM, greens=("up",)), out=out)
        assert "-o" in caught.value.fix
    assert brick.read_bytes() == before


def test_no_other_file_is_written_over_but_our_own(brick: Path) -> None:
    theirs = save_png(brick.with_name("brick_normal-up.png"), np.zeros((4, 4, 3), np.uint8))
    before = theirs.read_bytes()
    with pytest.raises(UserError, match="not made by this command") as caught:
        convert_heights([brick], Asked(scale=MM))
    assert caught.value.path == theirs
    assert theirs.read_bytes() == before
    assert names(brick.parent) == ["brick.png", "brick_normal-up.png"]
    theirs.unlink()
    for width, texel_mm in (("45mm", 0.5), ("90mm", 1.0)):
        made = only(convert_heights([brick], Asked(scale=AskedScale(depth="2mm", width=width))))
        assert made.texel_mm == texel_mm


def test_pictures_of_one_name_are_refused_before_anything_is_written(brick: Path) -> None:
    other = brick.parent / "other"
    other.mkdir()
    twin = save_png(other / "Brick.png", codes16(waves(*SHAPE)))
    with pytest.raises(UserError, match="same name"):
        convert_heights([brick, twin], Asked(scale=MM), out=brick.parent / "out")
    assert not (brick.parent / "out").exists()


def test_those_that_fail_are_told_after_the_others_are_done(brick: Path) -> None:
    bad = brick.with_name("a.png")
    bad.write_bytes(b"nothing")
    half = brick.with_name("b.png")
    half.write_bytes(png_bytes(codes16(waves(*SHAPE)))[:900])
    said: list[Made] = []
    shares: list[float] = []
    with pytest.raises(UserErrors) as caught:
        convert_heights(
            [brick.parent],
            Asked(scale=MM),
            say=said.append,
            report=lambda _stage, share: shares.append(share),
        )
    assert [error.path for error in caught.value.errors] == [bad, half]
    assert [made.source for made in said] == [brick]
    assert names(brick.parent) == [
        "a.png",
        "b.png",
        "brick.png",
        "brick_normal-down.png",
        "brick_normal-up.png",
    ]
    assert shares == sorted(shares)


def test_a_folder_without_height_maps_is_told(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="no height maps"):
        convert_heights([tmp_path], Asked(scale=MM))
    with pytest.raises(UserError, match="no normal maps"):
        recover_heights([tmp_path], AskedHeight())
    with pytest.raises(UserError, match="no such file"):
        convert_heights([tmp_path / "none.png"], Asked(scale=MM))


@pytest.mark.parametrize(
    ("asked", "what", "cure"),
    [
        (AskedScale(depth="2mm"), "nothing says how large a texel is", "--texel 0.1 mm"),
        (AskedScale(texel="2mm"), "not known|not how high|is known, not", "--depth"),
        (AskedScale(depth="2", texel="1mm"), "--depth: 2 has no unit", "2 mm"),
        (
            AskedScale(depth="2mm", texel="1 furlong"),
            "--texel: .* no unit is called",
            "mm, cm, m, in",
        ),
        (AskedScale(depth="2mm", texel="20 tex"), "--texel: '20 tex' is a yarn count", "mm"),
        (AskedScale(depth="two", texel="1mm"), "--depth: 'two' is no length", "as in 2 mm"),
        (AskedScale(depth="2mm", texel="0mm"), "--texel: 0mm is not above 0", "--texel 0.1 mm"),
        (AskedScale(depth="2mm", width="-1cm"), "--width: -1cm is not above 0", "--width 20 cm"),
        (AskedScale(depth="0mm", width="1cm"), "--depth is 0", "--depth 2 mm"),
        (AskedScale(depth="2mm", width="1cm", texel="1mm"), "same thing", "one"),
        (AskedScale(strength=1.0, depth="2mm"), "does not go with", "--strength alone"),
        (AskedScale(strength=0.0), "--strength is 0", "--strength 1"),
        (AskedScale(strength=float("nan")), "--strength is nan", "--strength 1"),
    ],
)
def test_scales_that_say_too_little_or_too_much(
    brick: Path, asked: AskedScale, what: str, cure: str
) -> None:
    with pytest.raises(UserError, match=what) as caught:
        convert_heights([brick], Asked(scale=asked))
    assert cure in caught.value.fix
    assert names(brick.parent) == ["brick.png"]


def test_strength_is_in_hundredths_of_the_longer_side_so_that_size_does_not_matter(
    tmp_path: Path,
) -> None:
    small = save_png(tmp_path / "s.png", codes16(waves(64, 128, finest=32.0)))
    large = save_png(tmp_path / "l.png", codes16(waves(128, 256, finest=64.0)))
    asked = Asked(scale=AskedScale(strength=2.0), edge="wrap", greens=("up",))
    one, two = (only(convert_heights([path], asked)) for path in (small, large))
    np.testing.assert_array_equal(
        read_picture(one.files[0]).samples,
        height_to_normal(read_picture(small).samples, depth_mm=2.56, texel_mm=1, edge="wrap"),
    )
    assert one.steepest_deg == pytest.approx(two.steepest_deg, rel=0.02)
    assert "2.56 texels" in one.facts[0]
    bare = only(convert_heights([small], Asked()))
    assert "strength 1" in bare.facts[0]
    assert any("--depth" in note for note in bare.notes)


def record_of(folder: Path, name: str, texels_per_cm: tuple[float, ...]) -> None:
    """Write a record as a bake leaves it beside its maps."""
    height = MapFile(
        map="height",
        file=name,
        sha256="0" * 64,
        file_bytes=1,
        width_px=90,
        height_px=90,
        channels=1,
        bits=16,
        colour_space="linear",
    )
    record = Record(
        texbake="0",
        garment="vest",
        colourway="navy",
        recipe=Source(name="vest.yaml", sha256="0" * 64),
        mesh=Source(name="vest.obj", sha256="0" * 64),
        size_px=90,
        gutter_px=4,
        seed=1,
        normal_bits=8,
        height_lo_mm=-1.0,
        height_hi_mm=3.0,
        panels=tuple(
            PanelNote(
                name=f"p{k}", area_mm2=100.0 * k, stretch_rms=0.0, stretch_max=0.0, texels_per_cm=t
            )
            for k, t in enumerate(texels_per_cm, 1)
        ),
        maps=(height,),
    )
    (folder / "record.json").write_text(record.to_json(), "utf-8")


def test_the_record_of_a_bake_gives_the_scale(brick: Path) -> None:
    record_of(brick.parent, brick.name, (20.0, 20.0))
    made = only(convert_heights([brick], Asked()))
    assert (made.depth_mm, made.texel_mm) == (4.0, 0.5)
    assert "record" in made.facts[0]
    assert not any("texels of the panels" in note for note in made.notes)
    # What is asked for comes first, and what is not is taken from the record.
    made = only(convert_heights([brick], Asked(scale=AskedScale(depth="1mm"))))
    assert (made.depth_mm, made.texel_mm) == (1.0, 0.5)


def test_a_baked_map_that_was_scaled_has_larger_texels(brick: Path) -> None:
    half = save_png(brick.with_name("half.png"), codes16(waves(35, 45)))
    record_of(brick.parent, half.name, (20.0,))
    assert only(convert_heights([half], Asked())).texel_mm == 1.0  # of 90 texels are 45 left


def test_panels_of_different_texels_count_by_area_and_are_told(brick: Path) -> None:
    record_of(brick.parent, brick.name, (20.0, 10.0))  # 0.5 mm on 100 mm2, 1 mm on 200 mm2
    made = only(convert_heights([brick], Asked()))
    assert made.texel_mm == pytest.approx((0.5 + 2 * 1.0) / 3)
    assert any("0.5 to 1 mm" in note and "truer" in note for note in made.notes)


def test_records_that_do_not_know_the_picture_or_are_damaged_are_passed_by(brick: Path) -> None:
    record_of(brick.parent, "other.png", (20.0,))
    assert "strength" in only(convert_heights([brick], Asked())).facts[0]
    (brick.parent / "record.json").write_text("{]", "utf-8")
    assert "strength" in only(convert_heights([brick], Asked())).facts[0]
    (brick.parent / "record.json").write_text(json.dumps({"mine": 1}), "utf-8")
    assert "strength" in only(convert_heights([brick], Asked())).facts[0]


def test_of_a_baked_set_only_the_height_map_is_taken(brick: Path) -> None:
    record_of(brick.parent, brick.name, (20.0,))
    save_png(brick.with_name("albedo.png"), np.zeros((4, 4, 3), np.uint8))
    made = convert_heights([brick.parent], Asked())
    assert [m.source for m in made] == [brick]


def test_height_comes_back_with_its_scale_from_the_file_alone(brick: Path) -> None:
    made = only(convert_heights([brick], Asked(scale=MM, edge="wrap", bits=16)))
    back = only(recover_heights([made.files[0]], AskedHeight()))
    assert back.depth_mm == pytest.approx(2.0, rel=2e-3)
    assert back.texel_mm == 0.5
    found = read_picture(back.files[0]).samples.astype(np.float64)
    true = read_picture(brick).samples.astype(np.float64)
    assert np.corrcoef(found.reshape(-1), true.reshape(-1))[0, 1] > 0.9999
    again = only(convert_heights([back.files[0]], Asked(edge="wrap", bits=16, greens=("up",))))
    first, second = (read_picture(m.files[0]).samples.astype(int) for m in (made, again))
    assert np.abs(first - second).max() < 65535 * 0.002
    down = only(recover_heights([made.files[1]], AskedHeight()))
    assert "green down" in down.facts[0]
    np.testing.assert_allclose(read_picture(down.files[0]).samples, found, atol=2)


def test_without_a_scale_the_depth_is_in_texels_and_as_a_strength(tmp_path: Path) -> None:
    height = codes16(waves(*SHAPE))
    normals = height_to_normal(height, depth_mm=3.0, texel_mm=1.0, edge="wrap", bits=16)
    path = save_png(tmp_path / "n.png", normals)
    made = only(recover_heights([path], AskedHeight()))
    assert made.depth_mm is None
    assert "3 texels" in made.facts[1].replace("2.99", "3").replace("3.00", "3")
    assert "--strength 3.3" in made.facts[1]
    scaled = only(recover_heights([path], AskedHeight(scale=AskedScale(width="9 cm"))))
    assert scaled.depth_mm == pytest.approx(3.0, rel=5e-3)
    with pytest.raises(UserError, match="depth is what comes out"):
        recover_heights([path], AskedHeight(scale=AskedScale(depth="2mm")))


def test_a_green_that_does_not_fit_or_cannot_be_told_is_said(tmp_path: Path) -> None:
    normals = height_to_normal(codes16(waves(*SHAPE)), depth_mm=3.0, texel_mm=1.0)
    path = save_png(tmp_path / "n.png", normals)
    made = only(recover_heights([path], AskedHeight(green="down")))
    assert any("looks like green up" in note for note in made.notes)
    flat = save_png(tmp_path / "f.png", np.full((8, 8, 3), (128, 128, 255), np.uint8))
    made = only(recover_heights([flat], AskedHeight()))
    assert any("cannot be told" in note for note in made.notes)
    assert "flat" in made.facts[1]
    assert (read_picture(made.files[0]).samples == 0).all()


def test_flipping_is_exact_and_renames(brick: Path) -> None:
    made = only(convert_heights([brick], Asked(scale=MM, greens=("up",), bits=16)))
    flipped = only(flip_greens(made.files))
    assert flipped.files == (brick.with_name("brick_normal-down.png"),)
    up, down = (read_picture(m.files[0]).samples for m in (made, flipped))
    np.testing.assert_array_equal(down, flip_green(up))
    mark = read_mark(flipped.files[0])
    assert mark == Mark(kind="normal-down", depth_mm=2.0, texel_mm=0.5)
    theirs = save_png(brick.with_name("n.png"), up)
    made = only(flip_greens([theirs]))
    assert made.files == (brick.with_name("n_green-flipped.png"),)
    assert "green-up before" in made.facts[0]
    back = only(flip_greens(made.files, out=brick.with_name("back.png")))
    np.testing.assert_array_equal(read_picture(back.files[0]).samples, up)


def test_flipping_says_what_it_leaves_out(tmp_path: Path) -> None:
    alpha = np.random.default_rng(0).integers(0, 256, (9, 9, 4)).astype(np.uint8)
    made = only(flip_greens([save_png(tmp_path / "a.png", alpha)]))
    assert any("alpha" in note for note in made.notes)


def test_one_grey_is_flat_and_noted(tmp_path: Path) -> None:
    path = save_png(tmp_path / "g.png", np.full((20, 30), 99, np.uint8))
    made = only(convert_heights([path], Asked(scale=MM)))
    assert any("one even grey" in note for note in made.notes)
    assert (read_picture(made.files[0]).samples == (128, 128, 255)).all()


def test_stairs_are_told_and_mended_with_figures(tmp_path: Path) -> None:
    few = np.floor(waves(200, 200, finest=50.0) * 30).astype(np.uint8)
    path = save_png(tmp_path / "few.png", few)
    scale = AskedScale(depth="60mm", texel="1mm")
    made = only(convert_heights([path], Asked(scale=scale, edge="wrap")))
    (note,) = (n for n in made.notes if "stair-steps" in n)
    assert "--mend" in note
    made = only(convert_heights([path], Asked(scale=scale, edge="wrap", mend=True)))
    (fact,) = (f for f in made.facts if "mended" in f)
    before, after = (
        float(word) for word in fact.replace(",", "").split() if word[0].isdigit() and "." in word
    )
    assert before == pytest.approx(np.degrees(np.arctan(60 / 255 / 2)), abs=0.01)
    assert after < before / 5
    fine = save_png(tmp_path / "fine.png", codes16(waves(*SHAPE)))
    made = only(convert_heights([fine], Asked(scale=scale, mend=True)))
    assert any("nothing was mended" in note for note in made.notes)


def test_clipped_slopes_and_borders_are_told(brick: Path) -> None:
    made = only(convert_heights([brick], Asked(scale=AskedScale(depth="100m", texel="1mm"))))
    assert any("clipped" in note for note in made.notes)
    assert any("--edge wrap" in note for note in made.notes)
    made = only(convert_heights([brick], Asked(scale=MM, edge="wrap")))
    assert made.notes == ()
    cut = save_png(brick.with_name("cut.png"), codes16(waves(*SHAPE))[:, :50])
    assert only(convert_heights([cut], Asked(scale=MM))).notes == ()
    made = only(convert_heights([cut], Asked(scale=MM, edge="wrap")))
    assert any("left and right borders do not meet" in note for note in made.notes)


def test_marks_are_read_back_and_nothing_else_is_one(tmp_path: Path, brick: Path) -> None:
    made = only(convert_heights([brick], Asked(scale=MM)))
    assert read_mark(made.files[1]) == Mark(kind="normal-down", depth_mm=2.0, texel_mm=0.5)
    assert read_mark(brick) is None
    forged = tmp_path / "x.png"
    text = chunk(b"tEXt", b"texbake-convert\0normal-up depth_mm=deep texel_mm=1")
    forged.write_bytes(png_bytes(np.zeros((3, 3), np.uint8))[:-12] + text + chunk(b"IEND", b""))
    assert read_mark(forged) == Mark(kind="normal-up", texel_mm=1.0)
    forged.write_bytes(b"tEXttexbake-convert\0normal-up")
    assert read_mark(forged) is None
