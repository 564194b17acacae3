"""Writes models as OBJ files, the same bytes everywhere."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np

from texbake.arrays import F64, I64
from texbake.demo.model import Model, normals, quads

HEADER = "# {name}: a garment of the Lantern Bay ferry uniform, in cm, +Y up, facing +Z\n"


def text(model: Model) -> str:
    """Return a laid out model as OBJ: one object, a group per piece, quads, smooth normals.

    Raises
    ------
    ValueError
        If a sheet has no UVs.
    """
    lines = [HEADER.format(name=model.name), f"o {model.name}\n"]
    lines += [f"v {x:.4f} {y:.4f} {z:.4f}\n" for x, y, z in (model.points_cm + 0.0).tolist()]
    outwards = layer_normals(model)
    corners = 0
    for sheet in model.sheets:
        if sheet.uv is None:
            raise ValueError(f"sheet {sheet.name!r} has no UVs: lay the model out first")
        flat = sheet.index.reshape(-1)
        lines += [f"vt {u:.6f} {v:.6f}\n" for u, v in sheet.uv.reshape(-1, 2).tolist()]
        up = outwards[sheet.layer][flat] + 0.0
        lines += [f"vn {x:.4f} {y:.4f} {z:.4f}\n" for x, y, z in up.tolist()]
        lines += [f"g {sheet.name}\n", f"usemtl {sheet.material}\n"]
        local = quads(np.arange(flat.size).reshape(sheet.index.shape), sheet.leans)
        for quad in local.tolist():
            corner = [f"{flat[k] + 1}/{corners + k + 1}/{corners + k + 1}" for k in quad]
            lines.append(f"f {' '.join(corner)}\n")
        corners += flat.size
    return "".join(lines)


def layer_normals(model: Model) -> dict[str, F64]:
    """Return each layer's smooth normals, (N, 3), zero where a layer has no point."""
    layers = {sheet.layer for sheet in model.sheets}
    return {
        layer: normals(model.points_cm, np.concatenate(list(faces_of(model, layer))))
        for layer in sorted(layers)
    }


def faces_of(model: Model, layer: str) -> Iterator[I64]:
    """Yield the quads of each sheet of a layer."""
    for sheet in model.sheets:
        if sheet.layer == layer:
            yield quads(sheet.index, sheet.leans)


def write_obj(path: Path, model: Model) -> Path:
    """Write a laid out model to ``path``: ASCII, line feeds, fixed decimals."""
    path.write_bytes(text(model).encode("ascii"))
    return path
