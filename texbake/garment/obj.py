"""OBJ, read as it is met.

A reader of our own, because those at hand misread what garments come as (measured, trimesh 5.2 and
tinyobjloader 2.0rc13): the first drops the UVs of a whole group when one face lacks them, counts
negative indices from the end of the file instead of from the line that uses them, accepts index 0,
and needs a further package for text that is not UTF-8; the second reads UTF-16 as no faces without
a word, refuses a backslash before CRLF, loses triangles of n-gons, and has no wheels for today's
Pythons.

The lines are sorted by keyword in one pass; all else happens on whole arrays, and each distinct
corner ("12/7/3") is parsed once. 24,000 triangles (2 MB) take about 0.1 s.
Format: Wavefront, "Object Files (.obj)", appendix B1 of the Advanced Visualizer manual.
"""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import repeat
from pathlib import Path

import numpy as np

from texbake.arrays import F64, I64
from texbake.errors import UserError
from texbake.garment.raw import CROSSED, MOST_COORDINATE, MOST_UV, Raw, counted, listed, used_names
from texbake.garment.text import decode
from texbake.garment.triangulate import triangulate

# Stands for 'none given': no file has as many lines.
ABSENT = int(np.iinfo(np.int64).min)

KEYS = ("v", "vt", "vn", "f")
NAMES = ("o", "g", "usemtl")
# They say how to shade or where to look, and change nothing that is read here.
HARMLESS = frozenset({"s", "mtllib", "vp", "lod", "maplib", "usemap", "bevel", "c_interp"})
HARMLESS |= {"d_interp", "shadow_obj", "trace_obj", "mg"}


@dataclass(slots=True)
class _Lines:
    """The file's lines by keyword: what follows it, and their numbers counted from 1.

    Texts, not lists of fields: 70,000 lists would keep the garbage collector busy (0.1 s).
    """

    text: dict[str, list[str]] = field(default_factory=lambda: {key: [] for key in KEYS})
    number: dict[str, list[int]] = field(default_factory=lambda: {key: [] for key in KEYS})
    names: dict[str, list[tuple[int, str]]] = field(
        default_factory=lambda: {kind: [(0, "")] for kind in NAMES}
    )
    other: Counter[str] = field(default_factory=Counter)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Faces:
    """The faces of three corners and more.

    ``of`` is the number of each among all ``f`` lines, ``count`` its corners, ``line`` its line;
    ``corners`` (C, 3) has v, vt and vn as the file has them, ABSENT where it has none.
    """

    of: I64
    count: I64
    line: I64
    corners: I64

    def line_of(self, corner: int) -> int:
        """Return the line of a corner."""
        return int(self.line[np.searchsorted(np.cumsum(self.count), corner, side="right")])


def read_obj(path: Path, data: bytes) -> Raw:
    """Read an OBJ file.

    Parameters
    ----------
    path : Path
        Where it came from, for messages.
    data : bytes
        Its content: UTF-8, UTF-16 with a byte order mark, or Latin-1.

    Returns
    -------
    Raw
        Polygons are the file's ``f`` lines, counted from 0. A face in several groups has their
        names joined by a blank. Normals are given if every corner has one.

    Raises
    ------
    UserError
        With the line: numbers that are none, not finite or above 1e9 (UV: 1e6); indices that are
        0 or beyond what the file holds; faces without UVs; no faces.
    """
    lines = _scan(_whole_lines(decode(path, data)))
    faces, notes = _faces(path, lines)
    points = _numbers(path, lines, "v", 3, MOST_COORDINATE)
    uvs = _numbers(path, lines, "vt", 2, MOST_UV)
    at = _resolve(path, lines, faces, "v")
    if (at == ABSENT).any():
        line = faces.line_of(int((at == ABSENT).argmax()))
        raise UserError(
            "a corner without a position",
            fix="write corners as v/vt or v/vt/vn",
            path=path,
            line=line,
        )
    uv_at = _resolve(path, lines, faces, "vt")
    _demand_uvs(path, lines, faces, uv_at)
    triangles, polygon, torn = triangulate(points, at, faces.count)
    if torn:
        notes.append(counted(torn, *CROSSED))
    normals, why = _normals(path, lines, faces)
    notes += [why] if why else []
    named = {kind: _named(lines, kind, faces.of[polygon]) for kind in NAMES}
    return Raw(
        points=points,
        faces=at[triangles].astype(np.int32),
        uv=uvs[uv_at[triangles]],
        polygon=faces.of[polygon].astype(np.int32),
        object_of=named["o"][0],
        group_of=named["g"][0],
        material_of=named["usemtl"][0],
        objects=named["o"][1],
        groups=named["g"][1],
        materials=named["usemtl"][1],
        normals=None if normals is None else normals[triangles],
        notes=tuple(notes),
    )


def _whole_lines(text: str) -> list[str]:
    """Split into lines; one continued by a backslash takes the next, which leaves a blank."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    if not re.search(r"\\[ \t]*(\n|\r)", text):
        return lines
    for k in range(len(lines) - 2, -1, -1):
        begun = lines[k].rstrip(" \t")
        if begun.endswith("\\") and not begun.lstrip().startswith("#"):
            lines[k], lines[k + 1] = f"{begun[:-1]} {lines[k + 1]}", ""
    return lines


def _scan(lines: list[str]) -> _Lines:
    """Sort the lines by keyword. About 0.5 us a line."""
    out = _Lines()
    for number, line in enumerate(lines, 1):
        head, _, rest = line.partition(" ")
        if head not in KEYS:
            head, _, rest = _keyword(line)
        if head in KEYS:
            if "#" in rest:  # a comment begins a field: numbers like 1.#IND are met
                rest = re.split(r"(?:^|\s)#", rest)[0]
            out.text[head].append(rest)
            out.number[head].append(number)
        elif head in NAMES:
            name = " ".join(rest.split()) if head == "g" else rest.strip()
            out.names[head].append((len(out.text["f"]), name))
        elif head and not head.startswith("#"):
            out.other[head] += 1
    return out


def _keyword(line: str) -> tuple[str, str, str]:
    """Part a line at its first blank or tab."""
    head, *rest = line.split(None, 1) or [""]
    return head, " ", rest[0] if rest else ""


def _numbers(path: Path, lines: _Lines, key: str, take: int, most: float) -> F64:
    """Return the first ``take`` numbers of each line (N, take); ``vt`` may lack its second."""
    rows, need = lines.text[key], 1 if key == "vt" else take
    count = np.fromiter(map(len, map(str.split, rows)), np.int64, len(rows))
    if (count < need).any():
        k = int((count < need).argmax())
        raise UserError(
            f"'{key}' has {count[k]} of {take} numbers",
            fix="export the mesh again; the line is not whole",
            path=path,
            line=lines.number[key][k],
        )
    if (count != take).any():
        rows = [" ".join([*row.split(), "0"][:take]) for row in rows]
    try:
        flat = list(map(float, " ".join(rows).split()))
    except ValueError:
        raise _not_a_number(path, lines, key, rows) from None
    values = np.array(flat, np.float64).reshape(-1, take)
    bad = ~(np.abs(values) <= most).all(axis=1)
    if bad.any():
        k = int(bad.argmax())
        raise UserError(
            f"'{key} {rows[k].strip()}' is not finite or beyond {most:g}",
            fix="export the mesh again; such a number is a fault of the file",
            path=path,
            line=lines.number[key][k],
        )
    return values


def _not_a_number(path: Path, lines: _Lines, key: str, rows: list[str]) -> UserError:
    """Find the field that is no number."""
    for row, number in zip(rows, lines.number[key], strict=True):
        for text in row.split():
            try:
                float(text)
            except ValueError:
                fix = "write plain decimal numbers, such as 12.5, with a point"
                return UserError(
                    f"'{key}' has '{text}', no number", fix=fix, path=path, line=number
                )
    raise AssertionError("unreachable: all fields are numbers")


def _faces(path: Path, lines: _Lines) -> tuple[_Faces, list[str]]:
    """Parse the faces; those of less than three corners are left out and noted."""
    rows, number = lines.text["f"], np.array(lines.number["f"], np.int64)
    notes = _other_lines(lines)
    count = np.fromiter(map(len, map(str.split, rows)), np.int64, len(rows))
    of = np.flatnonzero(count >= 3)
    if len(of) < len(rows):
        short = [str(line) for line in number[count < 3].tolist()]
        notes.append(f"faces of less than three corners left out: line {listed(short)}")
        rows = [rows[k] for k in of.tolist()]
    if len(of) == 0:
        raise _no_faces(path, lines)
    tokens = " ".join(rows).split()
    distinct = dict.fromkeys(tokens)
    try:
        table = _corners(list(distinct))
    except (ValueError, OverflowError):
        raise _bad_corner(path, lines) from None
    row_of = dict(zip(distinct, range(len(distinct)), strict=True))
    corners = table[np.fromiter(map(row_of.__getitem__, tokens), np.int64, len(tokens))]
    return _Faces(of=of, count=count[of], line=number[of], corners=corners), notes


def _corners(tokens: list[str]) -> I64:
    """Parse 'v', 'v/vt', 'v//vn' or 'v/vt/vn' (N, 3); an empty place is ABSENT."""
    slashes = list(map(str.count, tokens, repeat("/")))
    if max(slashes) > 2:
        raise ValueError("more than three parts")
    # With two slashes each, all have three parts, and one split does for all.
    padded = [token + "//"[n:] for token, n in zip(tokens, slashes, strict=True)]
    parts = [int(part) if part else ABSENT for part in "/".join(padded).split("/")]
    return np.array(parts, np.int64).reshape(-1, 3)


def _bad_corner(path: Path, lines: _Lines) -> UserError:
    """Find the corner that cannot be parsed."""
    for row, number in zip(lines.text["f"], lines.number["f"], strict=True):
        for token in row.split():
            try:
                _corners([token])
            except (ValueError, OverflowError):
                fix = "write corners as whole numbers: v/vt or v/vt/vn"
                return UserError(f"'{token}' is no corner", fix=fix, path=path, line=number)
    raise AssertionError("unreachable: all corners parse")


def _resolve(path: Path, lines: _Lines, faces: _Faces, key: str) -> I64:
    """Turn v, vt or vn of each corner into an index from 0; ABSENT stays.

    Negative ones count back from what the file has above the line that uses them.
    """
    given = faces.corners[:, ("v", "vt", "vn").index(key)]
    total = len(lines.text[key])
    at = given - (given > 0)
    back = (given < 0) & (given != ABSENT)
    if back.any():
        above = np.searchsorted(np.array(lines.number[key], np.int64), faces.line)
        at[back] = (given + np.repeat(above, faces.count))[back]
    wrong = (given != ABSENT) & ((at < 0) | (at >= total) | (given == 0))
    if wrong.any():
        k = int(wrong.argmax())
        raise UserError(
            f"a face uses {key} {int(given[k])}, but the file has {total} '{key}' lines"
            + (" and counts them from 1" if given[k] == 0 else "")
            + (" (fewer above this line)" if given[k] < 0 <= total + given[k] else ""),
            fix="export the mesh again: an index must name a line of the file",
            path=path,
            line=faces.line_of(k),
        )
    return np.asarray(at)


def _demand_uvs(path: Path, lines: _Lines, faces: _Faces, uv_at: I64) -> None:
    """Raise if a corner has no UV: say which faces, how many, and of what name."""
    bare = np.logical_or.reduceat(uv_at == ABSENT, np.cumsum(faces.count) - faces.count)
    if not bare.any():
        return
    which = np.flatnonzero(bare)
    words = {"o": "object", "g": "group", "usemtl": "material"}
    names = [
        f"{word} '{name}'"
        for kind, word in words.items()
        for name in _named(lines, kind, faces.of[which])[1]
        if name
    ]
    places = listed([str(k) for k in faces.line[which].tolist()])
    inside = f", in {listed(names)}" if names else ""
    some = f"{len(which)} of {len(bare)} faces {'has' if len(which) == 1 else 'have'} no UVs"
    what = "no face has UVs" if bare.all() else some
    word = "line" if len(which) == 1 else "lines"
    raise UserError(
        f"mesh without UVs: {what} ({word} {places}{inside})",
        fix="unwrap every face and export with UVs (corners written v/vt or v/vt/vn)",
        path=path,
        line=int(faces.line[which[0]]),
    )


def _normals(path: Path, lines: _Lines, faces: _Faces) -> tuple[F64 | None, str | None]:
    """Return unit normals per corner (C, 3) if all have one, else why they are left out."""
    given = faces.corners[:, 2] != ABSENT
    if not given.all():
        return None, "some corners have no normal: all normals left out" if given.any() else None
    try:
        at = _resolve(path, lines, faces, "vn")
        normals = _numbers(path, lines, "vn", 3, MOST_COORDINATE)[at]
    except UserError as error:  # they are not needed: a fault in them is no reason to refuse
        return None, f"normals left out: line {error.line}: {error.what}"
    length = np.linalg.norm(normals, axis=1, keepdims=True)
    if (length == 0.0).any():
        return None, "normals left out: some have no length"
    return normals / length, None


def _named(lines: _Lines, kind: str, face: I64) -> tuple[np.ndarray, tuple[str, ...]]:
    """Return the name in force at each of the ``f`` lines ``face``."""
    since = np.array([at for at, _ in lines.names[kind]], np.int64)
    event = np.searchsorted(since, face, side="right") - 1
    return used_names([name for _, name in lines.names[kind]], event)


def _other_lines(lines: _Lines) -> list[str]:
    """Note what the file has beside faces."""
    strange = {key: n for key, n in lines.other.items() if key not in HARMLESS}
    if not strange:
        return []
    told = listed([f"'{key[:20]}' ({n})" for key, n in sorted(strange.items())])
    return [f"lines of these kinds were passed over: {told}"]


def _no_faces(path: Path, lines: _Lines) -> UserError:
    """Say what the file has instead of faces."""
    kinds = {**{key: len(rows) for key, rows in lines.text.items()}, **lines.other}
    has: Sequence[str] = [f"{n} '{key[:20]}'" for key, n in kinds.items() if n]
    what = f"it has {listed(has)} lines" if has else "it is empty"
    return UserError(
        f"no faces in the mesh: {what}",
        fix="export the garment as polygons, not as points, lines or curves",
        path=path,
    )
