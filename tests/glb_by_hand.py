"""A GLB taken apart with nothing but json and struct."""

import json
import struct
from collections.abc import Mapping
from io import BytesIO
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

COMPONENTS: Mapping[int, str] = {5123: "<u2", 5125: "<u4", 5126: "<f4"}
WIDTHS: Mapping[str, int] = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4}


class Read:
    """A GLB taken apart with nothing but json and struct."""

    def __init__(self, data: bytes) -> None:
        magic, version, length = struct.unpack_from("<4sII", data)
        assert (magic, version, length) == (b"glTF", 2, len(data))
        size, kind = struct.unpack_from("<I4s", data, 12)
        assert kind == b"JSON"
        assert size % 4 == 0
        self.document: dict[str, Any] = json.loads(data[20 : 20 + size])
        binary, kind = struct.unpack_from("<I4s", data, 20 + size)
        assert kind == b"BIN\0"
        assert binary == self.document["buffers"][0]["byteLength"]
        assert binary % 4 == 0
        self.binary = data[28 + size :]
        assert len(self.binary) == binary

    def view(self, number: int) -> bytes:
        view = self.document["bufferViews"][number]
        assert view["byteOffset"] % 4 == 0
        return self.binary[view["byteOffset"] :][: view["byteLength"]]

    def array(self, number: int) -> NDArray[Any]:
        accessor = self.document["accessors"][number]
        values = np.frombuffer(
            self.view(accessor["bufferView"]), COMPONENTS[accessor["componentType"]]
        )
        assert accessor["count"] * WIDTHS[accessor["type"]] == len(values)
        return values.reshape(accessor["count"], -1)

    def primitives(self) -> list[dict[str, Any]]:
        return [part for mesh in self.document["meshes"] for part in mesh["primitives"]]

    def corners(self, attribute: str) -> NDArray[Any]:
        """An attribute at every corner, (F, 3, D), over all primitives."""
        parts = []
        for part in self.primitives():
            triangles = self.array(part["indices"]).reshape(-1, 3)
            parts.append(self.array(part["attributes"][attribute])[triangles])
        return np.concatenate(parts)

    def image(self, number: int) -> NDArray[np.uint8]:
        data = self.view(self.document["images"][number]["bufferView"])
        with Image.open(BytesIO(data)) as image:
            assert "srgb" not in image.info
            assert "gamma" not in image.info
            return np.asarray(image)
