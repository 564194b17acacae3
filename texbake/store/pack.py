"""Frozen values to bytes and back: dataclasses of arrays, numbers, texts and tuples of them.

A JSON skeleton, then the arrays' bytes, each at a multiple of 64. Nothing of a file is ever run: a
dataclass is looked up among those of this package and made from its fields. Images of face numbers
are mostly long runs of one number, and are written as such.
"""

import json
import zlib
from dataclasses import fields, is_dataclass
from pathlib import Path
from sys import byteorder
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

_MAGIC: Final = b"texbake kept 1\n"
_ALIGN: Final = 64
_SUMS: Final = 28
_PLAIN: Final = (bool, int, float, str, type(None))
_OURS: Final = "texbake."


class DamagedError(ValueError):
    """Bytes that `pack` did not make, or that changed since."""


def pack(value: object) -> bytes:
    """Write a value.

    Parameters
    ----------
    value : object
        A tuple, dataclass of this package, ndarray, number, text, ``Path`` or None; any depth.

    Returns
    -------
    bytes
        Equal values give equal bytes on systems of one byte order.

    Raises
    ------
    TypeError
        For a value of any other type.
    """
    arrays: list[NDArray[Any]] = []
    skeleton = _out(value, arrays)
    blobs = [np.ascontiguousarray(array).tobytes() for array in arrays]
    body = b"".join(blob + bytes(-len(blob) % _ALIGN) for blob in blobs)
    head = json.dumps([byteorder, skeleton, len(body)], separators=(",", ":")).encode()
    head += b" " * (-(len(_MAGIC) + _SUMS + len(head)) % _ALIGN)
    return _MAGIC + _sums(head, body) + head + body


def _sums(head: bytes, body: bytes) -> bytes:
    """Length of the head and what the bytes must sum to, in 28 characters."""
    return f"{len(head):010d}{zlib.crc32(head):08x}{zlib.crc32(body):08x} \n".encode()


def unpack(data: bytes) -> Any:  # noqa: ANN401  # whatever was packed
    """Read what `pack` wrote. Arrays are read-only views of ``data``.

    Raises
    ------
    DamagedError
        If a byte is missing or changed, or a class has other fields now.
    """
    start = len(_MAGIC) + _SUMS
    if data[: len(_MAGIC)] != _MAGIC or len(data) < start or not data[len(_MAGIC) :][:10].isdigit():
        raise DamagedError("no beginning")
    size = int(data[len(_MAGIC) :][:10])
    head, body = data[start : start + size], memoryview(data)[start + size :]
    if data[len(_MAGIC) : start] != _sums(head, body):  # type: ignore[arg-type]  # any buffer
        raise DamagedError("sums differ")
    order, skeleton, length = json.loads(head)
    if order != byteorder or length != len(body):
        raise DamagedError("from another machine")
    return _in(skeleton, body)


def _out(value: object, arrays: list[NDArray[Any]]) -> object:
    """The skeleton of a value; its arrays are appended."""
    if isinstance(value, np.ndarray):
        return _array_out(value, arrays)
    if isinstance(value, np.generic):
        return {"array": _array_out(np.asarray(value), arrays)["array"], "scalar": True}
    if isinstance(value, _PLAIN):
        return value
    if isinstance(value, Path):
        return {"path": str(value)}
    if isinstance(value, tuple):
        return [_out(part, arrays) for part in value]
    if is_dataclass(value) and not isinstance(value, type) and _is_ours(type(value)):
        name = f"{type(value).__module__}:{type(value).__qualname__}"
        parts = {f.name: _out(getattr(value, f.name), arrays) for f in fields(value)}
        return {"class": name, "fields": parts}
    raise TypeError(f"cannot keep a {type(value).__name__}")


def _is_ours(kind: type) -> bool:
    return kind.__module__.startswith(_OURS)


def _array_out(array: NDArray[Any], arrays: list[NDArray[Any]]) -> dict[str, object]:
    """Where an array lies, its type and shape."""
    if array.dtype == np.int32 and array.ndim == 2:
        runs = _runs(array)
        if runs.nbytes * 4 < array.nbytes:
            return {"runs": _place(runs, arrays), "shape": list(array.shape)}
    return {"array": _place(array, arrays)}


def _place(array: NDArray[Any], arrays: list[NDArray[Any]]) -> list[object]:
    """Append an array and say where it will lie: start, type, shape."""
    if array.dtype.hasobject:
        raise TypeError(f"cannot keep an array of {array.dtype}")
    start = sum(-(-a.nbytes // _ALIGN) * _ALIGN for a in arrays)
    arrays.append(array)
    return [start, array.dtype.str, list(array.shape)]


def _runs(array: NDArray[np.int32]) -> NDArray[np.int32]:
    """Value and length of each run of the flattened array, (2, R)."""
    flat = array.reshape(-1)
    start = np.flatnonzero(np.concatenate([[len(flat) > 0], flat[1:] != flat[:-1]]))
    count = np.diff(start, append=len(flat))
    return np.stack([flat[start], count.astype(np.int32)])


def _in(skeleton: Any, body: memoryview) -> Any:  # noqa: ANN401  # JSON in, any value out
    """The value of a skeleton."""
    if isinstance(skeleton, list):
        return tuple(_in(part, body) for part in skeleton)
    if not isinstance(skeleton, dict):
        return skeleton
    if "class" in skeleton:
        kind = _class(skeleton["class"])
        parts = {name: _in(part, body) for name, part in skeleton["fields"].items()}
        if parts.keys() != {f.name for f in fields(kind)}:
            raise DamagedError(f"{skeleton['class']} has other fields")
        return kind(**parts)
    if "path" in skeleton:
        return Path(skeleton["path"])
    if "runs" in skeleton:
        value, count = _array_in(skeleton["runs"], body)
        return np.repeat(value, count).reshape(skeleton["shape"])
    array = _array_in(skeleton["array"], body)
    return array[()] if skeleton.get("scalar") else array


def _array_in(place: list[Any], body: memoryview) -> NDArray[Any]:
    """The array at a place, read-only."""
    start, kind, shape = place
    dtype = np.dtype(kind)
    count = int(np.prod(shape, dtype=np.int64))
    return np.frombuffer(body, dtype, count, start).reshape(shape)


def _class(name: str) -> Any:  # noqa: ANN401  # a dataclass, called with its own fields
    """A dataclass of this package by name."""
    from importlib import import_module

    module, _, qualified = name.partition(":")
    if not module.startswith(_OURS):
        raise DamagedError(f"{name} is not ours")
    kind = getattr(import_module(module), qualified, None)
    if not (isinstance(kind, type) and is_dataclass(kind)):
        raise DamagedError(f"there is no {name} any more")
    return kind
