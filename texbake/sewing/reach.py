"""What of a garment each chain's sewing touches: faces, and rows of texels."""

from collections.abc import Sequence

import numpy as np

from texbake.arrays import I64
from texbake.garment.values import Garment
from texbake.layout import Reach, borders_of, reach_of
from texbake.sewing.spec import SewnSpec, reach_mm


def reaches(garment: Garment, sewn: Sequence[SewnSpec]) -> tuple[Reach, ...]:
    """Find the faces and edges that each of ``sewn`` touches."""
    borders = borders_of(garment)
    return tuple(
        reach_of(
            garment,
            spec.chain,
            reach_mm=reach_mm(spec),
            rivals=_rivals(garment, spec, sewn),
            eased=True,
            borders=borders,
        )
        for spec in sewn
    )


def _rivals(garment: Garment, spec: SewnSpec, sewn: Sequence[SewnSpec]) -> list[int]:
    """The other hems of a hem's panel: where they meet at a corner, cloth is turned in once."""
    panel = garment.chains[spec.chain].panels[0]
    return [
        other.chain
        for other in sewn
        if spec.kind == other.kind == "hem" and garment.chains[other.chain].panels[0] == panel
    ]


def reach_facts(sewn: Sequence[SewnSpec]) -> tuple[tuple[int, str, float], ...]:
    """What of ``sewn`` its reaches follow from: equal facts, equal reaches on one garment."""
    return tuple((spec.chain, spec.kind, reach_mm(spec)) for spec in sewn)


def rows_touched(garment: Garment, found: Sequence[Reach], size_px: int) -> I64:
    """First and last row of the faces within each reach, (chains, 2).

    Most bands hold no texel of most chains, and asking `near` costs 20 us even then.
    """
    rows = np.zeros((len(found), 2), np.int64)
    row = (1.0 - garment.mesh.uv[:, :, 1]) * size_px
    for k, reach in enumerate(found):
        close = row[reach.count > 0]
        if close.size:  # partly covered texels lie up to one row outside
            rows[k] = np.floor(close.min()) - 1, np.ceil(close.max()) + 1
        else:
            rows[k] = size_px, -1
    return rows
