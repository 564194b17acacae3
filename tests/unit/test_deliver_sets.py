"""Whole sets: replaced at once, or not at all; nothing of the user's is lost."""

import errno
import hashlib
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from texbake.deliver import (
    MAPS,
    Record,
    Source,
    Writer,
    deliver_set,
    extra_names,
    file_names,
    read_record,
    swap,
)
from texbake.deliver import files as files_module
from texbake.deliver.png import Sink
from texbake.errors import MachineError, UserError
from texbake.maps import MapArrays, blank

NAMES = file_names("{garment}_{colourway}_{map}", "deck-coat", "slate")
ALBEDO = NAMES["albedo"]


def record() -> Record:
    source = Source(name="deck-coat.yaml", sha256="0" * 64)
    return Record(
        texbake="0.1.0",
        garment="deck-coat",
        colourway="slate",
        recipe=source,
        mesh=source,
        size_px=16,
        gutter_px=2,
        seed=1,
        normal_bits=8,
        height_lo_mm=-1.0,
        height_hi_mm=1.0,
    )


def maps_of(shade: int, size: int = 16) -> MapArrays:
    """Maps that tell by their albedo which bake they are of."""
    maps = blank(size, height_lo_mm=-1, height_hi_mm=1)
    maps.albedo[:] = shade
    maps.normal_up[..., 1] = 40
    return maps


def deliver(folder: Path, shade: int, *, threads: int = 1) -> Record:
    return deliver_set(folder, maps=maps_of(shade), names=NAMES, record=record(), threads=threads)


def names_in(folder: Path) -> list[str]:
    """The names in a folder, hidden ones too."""
    return sorted(path.name for path in folder.iterdir())


def everything(folder: Path) -> dict[str, bytes]:
    """All files below a folder, hidden ones too."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


@pytest.fixture
def place(tmp_path: Path) -> Path:
    return tmp_path / "out" / "deck-coat" / "slate"


def test_a_set_has_every_map_and_a_record_that_tells_of_them(place: Path) -> None:
    written = deliver(place, 90)
    assert names_in(place) == sorted([*NAMES.values(), "record.json"])
    assert names_in(place.parent) == ["slate"]
    assert read_record(place) == written
    assert {entry.map for entry in written.maps} == set(MAPS)
    for entry in written.maps:
        data = (place / entry.file).read_bytes()
        assert hashlib.sha256(data).hexdigest() == entry.sha256
        assert len(data) == entry.file_bytes
        with Image.open(place / entry.file) as image:
            assert image.size == (entry.width_px, entry.height_px)
            assert ("srgb" in image.info) == (entry.colour_space == "sRGB")


def test_the_two_normals_differ_in_green_alone(place: Path) -> None:
    deliver(place, 90)
    up = np.asarray(Image.open(place / NAMES["normal-up"])).astype(int)
    down = np.asarray(Image.open(place / NAMES["normal-down"])).astype(int)
    assert (up[..., 1] == 40).all()
    assert np.array_equal(up[..., 1] + down[..., 1], np.full((16, 16), 255))
    assert np.array_equal(up[..., ::2], down[..., ::2])


def test_the_same_maps_give_the_same_bytes_on_any_number_of_threads(place: Path) -> None:
    deliver(place, 90)
    first = everything(place)
    deliver(place, 90, threads=4)
    assert everything(place) == first


def test_a_new_bake_replaces_the_whole_set(place: Path) -> None:
    deliver(place, 90)
    deliver(place, 91)
    assert np.asarray(Image.open(place / ALBEDO))[0, 0, 0] == 91
    assert names_in(place.parent) == ["slate"]


def test_maps_under_names_no_longer_used_go(place: Path) -> None:
    deliver(place, 90)
    new = file_names("{map}", "deck-coat", "slate")
    deliver_set(place, maps=maps_of(91), names=new, record=record())
    assert names_in(place) == sorted([*new.values(), "record.json"])


def test_a_users_own_files_stay_through_every_bake(place: Path) -> None:
    deliver(place, 90)
    (place / "notes.txt").write_text("ask the bosun")
    (place / "sketches").mkdir()
    (place / "sketches" / "collar.txt").write_text("wider")
    for shade in (91, 92):
        deliver(place, shade)
        assert (place / "notes.txt").read_text() == "ask the bosun"
        assert (place / "sketches" / "collar.txt").read_text() == "wider"
    assert np.asarray(Image.open(place / ALBEDO))[0, 0, 0] == 92


def test_a_map_that_was_painted_over_is_not_overwritten(place: Path) -> None:
    deliver(place, 90)
    Image.fromarray(np.zeros((16, 16, 3), np.uint8)).save(place / ALBEDO)
    before = everything(place.parent)
    with pytest.raises(UserError, match="changed since") as caught:
        deliver(place, 91)
    assert caught.value.path == place / ALBEDO
    assert everything(place.parent) == before


def test_a_painted_map_stays_where_the_new_names_leave_it_alone(place: Path) -> None:
    deliver(place, 90)
    (place / ALBEDO).write_bytes(b"painted")
    names = file_names("{map}", "deck-coat", "slate")
    deliver_set(place, maps=maps_of(91), names=names, record=record())
    assert (place / ALBEDO).read_bytes() == b"painted"
    assert not (place / NAMES["height"]).exists()


@pytest.mark.parametrize("name", [ALBEDO, ALBEDO.upper()])
def test_a_file_of_the_same_name_that_is_not_ours_is_not_overwritten(
    place: Path, name: str
) -> None:
    place.mkdir(parents=True)
    (place / name).write_text("mine")
    with pytest.raises(UserError, match="did not write") as caught:
        deliver(place, 90)
    assert caught.value.path == place / name
    assert everything(place.parent) == {f"slate/{name}": b"mine"}


def test_a_folder_of_other_files_takes_a_set_in(place: Path) -> None:
    place.mkdir(parents=True)
    (place / "notes.txt").write_text("mine")
    deliver(place, 90)
    assert names_in(place) == sorted([*NAMES.values(), "notes.txt", "record.json"])


def test_beside_a_damaged_record_nothing_is_touched(place: Path) -> None:
    deliver(place, 90)
    (place / "record.json").write_text("{")
    before = everything(place.parent)
    with pytest.raises(UserError, match="damaged"):
        deliver(place, 91)
    assert everything(place.parent) == before


def test_a_file_in_the_folders_place_is_a_machine_error(place: Path) -> None:
    place.parent.mkdir(parents=True)
    place.write_text("mine")
    with pytest.raises(MachineError, match="stands where a folder is needed"):
        deliver(place, 90)
    assert place.read_text() == "mine"


def test_a_file_in_a_parents_place_is_a_machine_error(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("mine")
    with pytest.raises(MachineError, match="stands where a folder is needed"):
        deliver(tmp_path / "out" / "deck-coat" / "slate", 90)
    assert (tmp_path / "out").read_text() == "mine"


def failing(error: BaseException, after: int) -> Writer:
    """A writer whose disk fails after so many bytes."""

    def write(out: Sink) -> None:
        out.write(bytes(after))
        raise error

    return write


def deliver_failing(folder: Path, error: BaseException, *, threads: int) -> None:
    files = {"one.png": lambda out: out.write(b"1"), "two.png": failing(error, 5000)}
    typed: dict[str, Writer] = {name: _silent(write) for name, write in files.items()}
    files_module.deliver_files(folder, typed, lambda _: b"{}", threads=threads)


def _silent(write: Callable[[Sink], object]) -> Writer:
    def silent(out: Sink) -> None:
        write(out)

    return silent


@pytest.mark.parametrize(
    ("number", "said", "cure"),
    [
        (errno.ENOSPC, "disk is full", "free some space"),
        (errno.EACCES, "not permitted", "allow yourself"),
        (errno.EROFS, "read-only", "can be written to"),
        (errno.EIO, os.strerror(errno.EIO), "check the disk"),
    ],
)
@pytest.mark.parametrize("threads", [1, 2])
def test_a_disk_that_fails_leaves_the_earlier_set_whole(
    place: Path, number: int, said: str, cure: str, threads: int
) -> None:
    deliver(place, 90)
    before = everything(place.parent)
    with pytest.raises(MachineError) as caught:
        deliver_failing(place, OSError(number, os.strerror(number)), threads=threads)
    assert said in caught.value.what
    assert cure in caught.value.fix
    assert caught.value.path == place / "two.png"
    assert everything(place.parent) == before
    assert names_in(place.parent) == ["slate"]


@pytest.mark.parametrize("error", [KeyboardInterrupt(), MemoryError(), ValueError("a bug")])
def test_whatever_stops_a_bake_nothing_half_written_stays(
    place: Path, error: BaseException
) -> None:
    deliver(place, 90)
    before = everything(place.parent)
    with pytest.raises(type(error)):
        deliver_failing(place, error, threads=2)
    assert everything(place.parent) == before
    assert names_in(place.parent) == ["slate"]


def test_a_first_bake_that_fails_takes_its_folders_back(tmp_path: Path) -> None:
    with pytest.raises(MachineError):
        deliver_failing(tmp_path / "a" / "b" / "c", OSError(errno.ENOSPC, "full"), threads=1)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("failing_call", range(1, 5))
@pytest.mark.parametrize("error", [OSError(errno.EACCES, "in use"), KeyboardInterrupt()])
def test_a_swap_that_fails_at_any_rename_is_undone(
    place: Path, monkeypatch: pytest.MonkeyPatch, failing_call: int, error: BaseException
) -> None:
    deliver(place, 90)
    (place / "a.txt").write_text("mine")
    (place / "z.txt").write_text("mine too")
    before = everything(place.parent)
    real, calls = Path.rename, iter(range(1, 100))

    def rename(self: Path, target: Path) -> Path:
        if next(calls) == failing_call:
            raise error
        return real(self, target)

    monkeypatch.setattr(Path, "rename", rename)
    with pytest.raises((MachineError, KeyboardInterrupt)):
        deliver(place, 91)
    monkeypatch.undo()
    assert next(calls) > failing_call  # the rename to fail was reached
    assert everything(place.parent) == before
    assert names_in(place.parent) == ["slate"]


def dead_pid() -> int:
    """The number of a process that has ended."""
    with subprocess.Popen([sys.executable, "-c", ""]) as process:
        process.wait()
    return process.pid


def test_what_a_killed_bake_wrote_in_part_is_cleared_away(place: Path) -> None:
    stale = place.parent / f".slate.partial-{dead_pid()}"
    stale.mkdir(parents=True)
    (stale / ALBEDO).write_bytes(b"half")
    deliver(place, 90)
    assert names_in(place.parent) == ["slate"]


def test_a_set_that_a_killed_bake_was_replacing_comes_back(place: Path) -> None:
    deliver(place, 90)
    before = everything(place)
    place.rename(place.parent / f".slate.old-{dead_pid()}")
    with pytest.raises(MachineError):
        deliver_failing(place, OSError(errno.ENOSPC, "full"), threads=1)
    assert everything(place) == before
    assert names_in(place.parent) == ["slate"]


def test_a_users_file_left_in_a_replaced_set_moves_over(place: Path) -> None:
    deliver(place, 90)
    (place / "notes.txt").write_text("mine")
    place.rename(place.parent / f".slate.old-{dead_pid()}")
    # the new set, as the killed bake had put it in place, before it moved the notes over
    new = place.parent / "new"
    deliver(new, 91)
    new.rename(place)
    deliver(place, 92)
    assert (place / "notes.txt").read_text() == "mine"
    assert names_in(place.parent) == ["slate"]


def test_folders_of_a_living_process_and_of_other_sets_are_left_alone(place: Path) -> None:
    with subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE) as living:
        kept = [
            f".slate.partial-{living.pid}",
            f".slate-2.partial-{dead_pid()}",
            ".slate.partial-mine",
        ]
        for name in kept:
            (place.parent / name).mkdir(parents=True)
        deliver(place, 90)
        assert names_in(place.parent) == sorted([*kept, "slate"])
        living.communicate(b"\n")


def test_a_bake_killed_outright_leaves_the_earlier_set_whole(place: Path) -> None:
    deliver(place, 90)
    before = everything(place)
    script = (
        "import os, signal, sys\n"
        "from pathlib import Path\n"
        "from texbake.deliver import deliver_files\n"
        "def die(out):\n"
        "    out.write(b'half')\n"
        "    os.kill(os.getpid(), signal.SIGKILL)\n"
        "deliver_files(Path(sys.argv[1]), {'two.png': die}, lambda _: b'', threads=1)\n"
    )
    done = subprocess.run([sys.executable, "-c", script, str(place)], check=False)
    assert done.returncode != 0
    assert everything(place) == before
    assert len(names_in(place.parent)) == 2  # the left-over, hidden
    deliver(place, 91)
    assert names_in(place.parent) == ["slate"]


def test_an_interrupted_bake_clears_up_behind_itself(place: Path) -> None:
    deliver(place, 90)
    before = everything(place.parent)
    script = (
        "import os, signal, sys, time\n"
        "from pathlib import Path\n"
        "from texbake.deliver import deliver_files\n"
        "def slow(out):\n"
        "    out.write(b'half')\n"
        "    os.kill(os.getpid(), signal.SIGINT)\n"
        "    time.sleep(0.3)\n"
        "    out.write(b'more')\n"
        "def begin(out):\n"
        "    Path(sys.argv[1], 'begun.txt').touch()\n"
        "files = {'two.png': slow, 'three.png': begin}\n"
        "deliver_files(Path(sys.argv[1]), files, lambda _: b'', threads=1)\n"
    )
    asked = [sys.executable, "-c", script, str(place)]
    done = subprocess.run(asked, check=False, capture_output=True, text=True)
    assert "KeyboardInterrupt" in done.stderr
    assert everything(place.parent) == before
    assert names_in(place.parent) == ["slate"]


def test_a_link_to_a_folder_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "disk").mkdir()
    (tmp_path / "slate").symlink_to(tmp_path / "disk", target_is_directory=True)
    deliver(tmp_path / "slate", 90)
    assert (tmp_path / "slate").is_symlink()
    assert (tmp_path / "disk" / ALBEDO).is_file()


@pytest.fixture
def tiny_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 256 KiB, where one may be mounted."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = shutil.which("mount")
    if mount is None or sys.platform != "linux":
        pytest.skip("no disk can be mounted here")
    asked = [mount, "-t", "tmpfs", "-o", "size=256k", "tmpfs", str(disk)]
    if subprocess.run(asked, check=False, capture_output=True).returncode:
        pytest.skip("mounting a disk is not permitted here")
    yield disk
    subprocess.run(["umount", str(disk)], check=True)


def test_a_disk_that_really_is_full_leaves_the_earlier_set_whole(tiny_disk: Path) -> None:
    place = tiny_disk / "slate"
    deliver(place, 90)
    before = everything(tiny_disk)
    large = maps_of(91, size=512)
    large.albedo[:] = np.random.default_rng(0).integers(0, 255, large.albedo.shape)
    with pytest.raises(MachineError, match="disk is full"):
        deliver_set(place, maps=large, names=NAMES, record=record())
    assert everything(tiny_disk) == before
    assert names_in(tiny_disk) == ["slate"]


def test_a_living_process_is_told_from_a_dead_one() -> None:
    assert not swap._is_another_alive(dead_pid())
    assert not swap._is_another_alive(os.getpid())
    assert swap._is_another_alive(os.getppid())


def test_every_map_needs_a_name(place: Path) -> None:
    few: Mapping[str, str] = {"albedo": "a.png"}
    with pytest.raises(KeyError):
        deliver_set(place, maps=maps_of(1), names=few, record=record())
    assert not place.parent.exists()


EXTRAS = extra_names("{garment}_{colourway}_{map}", "deck-coat", "slate")


def deliver_with_extras(folder: Path, shade: int, *kinds: str, threads: int = 1) -> Record:
    def writer(kind: str) -> Writer:
        return lambda out: _put(out, f"{kind} {shade}".encode())

    return deliver_set(
        folder,
        maps=maps_of(shade),
        names={**NAMES, **EXTRAS},
        record=record(),
        extras={kind: writer(kind) for kind in kinds},
        threads=threads,
    )


def _put(out: Sink, data: bytes) -> None:
    out.write(data)


def test_what_is_made_from_the_maps_belongs_to_the_set(place: Path) -> None:
    written = deliver_with_extras(place, 90, "sheet", "glb", "view")
    assert names_in(place) == sorted([*NAMES.values(), *EXTRAS.values(), "record.json"])
    assert read_record(place) == written
    assert [entry.kind for entry in written.extras] == ["glb", "sheet", "view"]
    for entry in written.extras:
        data = (place / entry.file).read_bytes()
        assert data == f"{entry.kind} 90".encode()
        assert (entry.sha256, entry.file_bytes) == (hashlib.sha256(data).hexdigest(), len(data))


def test_extras_are_replaced_with_the_set_and_go_with_it(place: Path) -> None:
    deliver_with_extras(place, 90, "glb", "view")
    deliver_with_extras(place, 91, "view", threads=3)
    assert not (place / EXTRAS["glb"]).exists()
    assert (place / EXTRAS["view"]).read_bytes() == b"view 91"
    deliver(place, 92)
    assert names_in(place) == sorted([*NAMES.values(), "record.json"])


def test_an_extra_that_was_changed_since_is_not_overwritten(place: Path) -> None:
    deliver_with_extras(place, 90, "view")
    (place / EXTRAS["view"]).write_bytes(b"retouched")
    before = everything(place)
    with pytest.raises(UserError, match="changed since"):
        deliver_with_extras(place, 91, "view")
    assert everything(place) == before


def test_an_extra_that_fails_leaves_the_earlier_set_whole(place: Path) -> None:
    deliver_with_extras(place, 90, "view")
    before = everything(place.parent)

    def full(_out: Sink) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with pytest.raises(MachineError) as caught:
        deliver_set(
            place,
            maps=maps_of(91),
            names={**NAMES, **EXTRAS},
            record=record(),
            extras={"view": full},
        )
    assert caught.value.path == place / EXTRAS["view"]
    assert everything(place.parent) == before
