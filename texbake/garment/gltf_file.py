"""A glTF document and its numbers, checked as they are read.

The document is a tree of JSON that anybody may have written, so no field is taken for granted:
each is asked for by kind, and what is missing or of the wrong kind is a ``UserError``. Only buffers
that hold numbers are opened; textures never are.

Read with numpy alone. The library at hand (trimesh 5.2) reads one UV set only, accepts an index of
255 on 24 vertices, and takes half a second to import.
Format: glTF 2.0 (ISO/IEC 12113:2022), sections 3.6 (accessors) and 4.4 (GLB).
"""

import base64
import binascii
import json
import struct
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import Any, NoReturn
from urllib.parse import unquote

import numpy as np

from texbake.arrays import F64, I64
from texbake.errors import UserError
from texbake.garment.text import decode

COMPONENTS: Mapping[int, str] = MappingProxyType(
    {5120: "i1", 5121: "u1", 5122: "<i2", 5123: "<u2", 5125: "<u4", 5126: "<f4"}
)
WIDTHS: Mapping[str, int] = MappingProxyType({"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4})
JSON_CHUNK, BIN_CHUNK = 0x4E4F534A, 0x004E4942
COMPRESSED = frozenset(
    {"KHR_draco_mesh_compression", "EXT_meshopt_compression", "KHR_meshopt_compression"}
)
# Extensions that change surfaces, light or number formats, but no shape and no UV that is read.
NO_GEOMETRY = (
    *("KHR_materials_", "KHR_texture_", "EXT_texture_", "KHR_lights_", "KHR_xmp"),
    "KHR_mesh_quantization",
)
AGAIN = "export it again as glTF 2.0"

Fields = Mapping[str, Any]


@dataclass(frozen=True, slots=True, eq=False)
class Document:
    """The JSON of a glTF file, and the bytes of the buffers that its accessors use."""

    path: Path
    root: Fields
    buffers: Mapping[int, bytes]

    def fail(self, what: str, fix: str = AGAIN) -> NoReturn:
        """Raise a UserError that names the file."""
        raise UserError(what, fix=fix, path=self.path)

    def entry(self, kind: str, index: int) -> Fields:
        """Return an element of a list of the root, such as ``accessors``."""
        return self.member(self.root, kind, index)

    def member(self, of: Fields, kind: str, index: int) -> Fields:
        """Return an element of a list of JSON objects."""
        items = self.items(of, kind)
        if index >= len(items):
            self.fail(f"the file uses {kind}[{index}] but has {len(items)} {kind}")
        if not isinstance(items[index], dict):
            self.fail(f"{kind}[{index}] is no JSON object")
        found: Fields = items[index]
        return found

    def items(self, of: Fields, key: str) -> list[Any]:
        """Return a list; a missing one is empty."""
        found = of.get(key, [])
        if not isinstance(found, list):
            self.fail(f"'{key}' is {type(found).__name__}, not a list")
        return found

    def fields(self, of: Fields, key: str) -> Fields:
        """Return a JSON object; a missing one is empty."""
        found = of.get(key, {})
        if not isinstance(found, dict):
            self.fail(f"'{key}' is {type(found).__name__}, not a JSON object")
        return found

    def whole(self, value: object, what: str) -> int:
        """Return a whole number >= 0."""
        if isinstance(value, bool) or not isinstance(value, int) or value < 0:
            self.fail(f"{what} is {value!r}, not a whole number from 0")
        return value

    def count(self, of: Fields, key: str, default: int | None = None) -> int:
        """Return a whole number >= 0 by its key; without a default it must be there."""
        return self.whole(of.get(key, default), f"'{key}'")

    def floats(self, of: Fields, key: str, default: tuple[float, ...]) -> F64:
        """Return as many finite numbers as the default has."""
        found = of.get(key, default)
        plain = isinstance(found, (list, tuple)) and len(found) == len(default)
        if not plain or not all(isinstance(x, (int, float)) and abs(x) < 1e30 for x in found):
            self.fail(f"'{key}' is {str(found)[:60]}, not {len(default)} numbers")
        return np.array(found, np.float64)

    def name(self, of: Fields, default: str) -> str:
        """Return the entry's name."""
        found = of.get("name", default)
        return found if isinstance(found, str) and found else default


def open_document(path: Path, data: bytes) -> Document:
    """Take a .gltf or .glb apart.

    Raises
    ------
    UserError
        If it is cut short, not JSON, or not version 2.
    """
    binary = None
    text = data
    if data.startswith(b"glTF"):
        text, binary = _chunks(path, data)
    try:
        root = json.loads(decode(path, text))
    except (ValueError, RecursionError) as error:
        what = f"the glTF is not whole: its JSON cannot be read ({error})"
        raise UserError(what, fix=AGAIN, path=path) from None
    if not isinstance(root, dict):
        raise UserError("the glTF holds no JSON object", fix=AGAIN, path=path)
    document = Document(path, root, {})
    version = document.fields(root, "asset").get("version")
    if not str(version).startswith("2."):
        document.fail(f"glTF version {version!r}, not 2.0")
    _demand_known(document)
    used = {
        document.count(document.entry("bufferViews", view), "buffer") for view in _views(document)
    }
    return replace(document, buffers={k: _buffer(document, k, binary) for k in sorted(used)})


def _demand_known(document: Document) -> None:
    """Refuse what the file itself says cannot be read without an extension we lack."""
    needed = [str(name) for name in document.items(document.root, "extensionsRequired")]
    packed = [name for name in needed if name in COMPRESSED]
    if packed:
        fail_compressed(document, packed)
    strange = [name for name in needed if not name.startswith(NO_GEOMETRY)]
    if strange:
        document.fail(
            f"the file cannot be read without {', '.join(strange)}",
            "export it as plain glTF 2.0, without that extension",
        )


def fail_compressed(document: Document, how: list[str]) -> NoReturn:
    """Refuse compressed meshes."""
    document.fail(f"the mesh is compressed ({', '.join(how)})", "export it without compression")


def _views(document: Document) -> set[int]:
    """Return the buffer views that hold numbers."""
    found = set()
    for index in range(len(document.items(document.root, "accessors"))):
        accessor = document.entry("accessors", index)
        sparse = document.fields(accessor, "sparse")
        parts = (accessor, document.fields(sparse, "indices"), document.fields(sparse, "values"))
        found |= {document.count(part, "bufferView") for part in parts if "bufferView" in part}
    return found


def _chunks(path: Path, data: bytes) -> tuple[bytes, bytes | None]:
    """Return the JSON and binary chunks of a GLB."""
    if len(data) < 20:
        raise _cut_short(path, len(data), 20)
    version, length = struct.unpack_from("<II", data, 4)
    if version != 2:
        raise UserError(f"GLB version {version}, not 2", fix=AGAIN, path=path)
    if length > len(data):
        raise _cut_short(path, len(data), length)
    chunks: dict[int, bytes] = {}
    at = 12
    while at + 8 <= length:
        size, kind = struct.unpack_from("<II", data, at)
        if at + 8 + size > length:
            raise _cut_short(path, length, at + 8 + size)
        chunks.setdefault(kind, data[at + 8 : at + 8 + size])
        at += 8 + size
    if JSON_CHUNK not in chunks:
        raise UserError("the GLB has no JSON chunk", fix=AGAIN, path=path)
    return chunks[JSON_CHUNK], chunks.get(BIN_CHUNK)


def _cut_short(path: Path, have: int, need: int) -> UserError:
    what = f"the GLB is cut short: {have} of at least {need} bytes are there"
    return UserError(what, fix="copy or export it again", path=path)


def numbers(document: Document, index: int, width: int) -> F64:
    """Return an accessor's elements as numbers (N, width); normalised integers become shares.

    Raises
    ------
    UserError
        If it has another width, is not finite, or does not lie within its buffer.
    """
    accessor = document.entry("accessors", index)
    values = _elements(document, accessor, width)
    kind = values.dtype.kind
    result = values.astype(np.float64)
    if kind != "f" and accessor.get("normalized") is True:
        result /= float(np.iinfo(values.dtype).max)  # section 3.11: c / 255, max(c / 127, -1) ...
        np.maximum(result, -1.0, out=result)
    if not np.isfinite(result).all():
        document.fail(f"accessor {index} holds numbers that are not finite")
    return result


def indices(document: Document, index: int) -> I64:
    """Return an accessor's elements as indices (N,)."""
    accessor = document.entry("accessors", index)
    values = _elements(document, accessor, 1)
    if values.dtype.kind != "u":
        document.fail(f"accessor {index} should hold indices, but its type is {values.dtype}")
    return values.ravel().astype(np.int64)


def _elements(document: Document, accessor: Fields, width: int) -> np.ndarray:
    """Return the stored elements (N, width), sparse ones put in their place."""
    kind = accessor.get("type")
    if not isinstance(kind, str) or WIDTHS.get(kind) != width:
        document.fail(f"an accessor has type {kind!r}, where {width} numbers are needed")
    dtype = _dtype(document, accessor)
    count = document.count(accessor, "count")
    if "bufferView" in accessor:
        values = _stored(document, accessor, dtype, (count, width))
    elif "sparse" in accessor:
        values = np.zeros((_sane(document, count), width), dtype)
    else:
        document.fail("an accessor has no data", "export without compression")
    if "sparse" in accessor:
        values = _with_sparse(document, document.fields(accessor, "sparse"), values.copy())
    return values


def _sane(document: Document, count: int) -> int:
    """Refuse to make room for what no garment has."""
    if count > 50_000_000:
        document.fail(f"an accessor of {count} elements")
    return count


def _dtype(document: Document, of: Fields) -> np.dtype[Any]:
    """Return the number type of an accessor."""
    component = document.count(of, "componentType")
    if component not in COMPONENTS:
        document.fail(f"component type {component}, not one of {', '.join(map(str, COMPONENTS))}")
    return np.dtype(COMPONENTS[component])


def _stored(
    document: Document, of: Fields, dtype: np.dtype[Any], shape: tuple[int, int]
) -> np.ndarray:
    """Look into a buffer view at (N, width) elements."""
    view = document.entry("bufferViews", document.count(of, "bufferView"))
    data = document.buffers[document.count(view, "buffer")]
    length, item = document.count(view, "byteLength"), dtype.itemsize * shape[1]
    stride = document.count(view, "byteStride", item)
    inner = document.count(of, "byteOffset", 0)
    start = document.count(view, "byteOffset", 0) + inner
    need = (shape[0] - 1) * stride + item if shape[0] else 0
    if stride < item or inner + need > length or start + need > len(data):
        there = max(min(length - inner, len(data) - start), 0)
        document.fail(
            f"the buffer is too short: {shape[0]} elements need {need} bytes, {there} are there",
            "copy the file again together with its .bin, or export it again",
        )
    if shape[0] == 0:
        return np.zeros(shape, dtype)
    return np.ndarray(shape, dtype, data, start, (stride, dtype.itemsize))


def _with_sparse(document: Document, sparse: Fields, values: np.ndarray) -> np.ndarray:
    """Overwrite single elements (section 3.6.2.3)."""
    count = document.count(sparse, "count")
    where, what = document.fields(sparse, "indices"), document.fields(sparse, "values")
    at = _stored(document, where, _dtype(document, where), (count, 1)).ravel().astype(np.int64)
    if len(at) and (at.min() < 0 or at.max() >= len(values)):
        document.fail(f"a sparse accessor names element {at.max()} of {len(values)}")
    values[at] = _stored(document, what, values.dtype, (count, values.shape[1]))
    return values


def _buffer(document: Document, index: int, binary: bytes | None) -> bytes:
    """Return a buffer: the GLB's own chunk, a data URI, or a file beside the document."""
    uri = document.entry("buffers", index).get("uri")
    if uri is None:
        if binary is None or index != 0:
            document.fail(f"buffers[{index}] has no data")
        return binary
    if not isinstance(uri, str):
        document.fail(f"buffers[{index}] has a URI that is no text")
    if uri.startswith("data:"):
        try:
            return base64.b64decode(uri.partition(",")[2], validate=True)
        except (binascii.Error, ValueError) as error:
            document.fail(f"buffers[{index}]: its data URI cannot be decoded ({error})")
    if "://" in uri:
        document.fail(
            f"buffers[{index}] lies at {uri[:80]}", "save the mesh with its data beside it"
        )
    beside = document.path.parent / unquote(uri)
    try:
        return beside.read_bytes()
    except (OSError, ValueError):
        document.fail(f"its data file {unquote(uri)!r} cannot be read", f"put it at {beside}")
