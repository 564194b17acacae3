"""What lies past the borders, against numpy's own padding."""

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from texbake.convert.border import block, line, mask_block
from texbake.convert.values import EDGES, Edge

# numpy.pad: "symmetric" turns over at the border, which comes twice; "reflect" with "odd" turns by
# half a turn about the border sample.
PAD: dict[Edge, dict[str, str]] = {
    "wrap": {"mode": "wrap"},
    "mirror": {"mode": "symmetric"},
    "hold": {"mode": "reflect", "reflect_type": "odd"},
}


@pytest.mark.parametrize("edge", EDGES)
@pytest.mark.parametrize("shape", [(5, 7), (2, 3), (9, 2)])
@pytest.mark.parametrize("kind", [np.uint8, np.uint16, np.float32])
def test_blocks_are_what_numpy_pads(edge: Edge, shape: tuple[int, int], kind: type) -> None:
    samples: NDArray[Any] = (np.arange(shape[0] * shape[1]).reshape(shape) * 7919 % 251).astype(
        kind
    )
    margin = 11
    rows, columns = (line(-margin, n + margin, n, edge) for n in shape)
    padded = np.pad(samples.astype(np.float64), margin, **PAD[edge])  # type: ignore[call-overload]
    found = block(samples, rows, columns)
    assert found.dtype == np.float32
    np.testing.assert_allclose(found, padded, atol=1e-3 if edge == "hold" else 0.0)


@pytest.mark.parametrize("edge", EDGES)
def test_a_part_of_a_block_is_the_part_of_the_whole(edge: Edge) -> None:
    samples = np.arange(60, dtype=np.float32).reshape(6, 10) ** 2
    whole = block(samples, line(-4, 10, 6, edge), line(-4, 14, 10, edge))
    part = block(samples, line(3, 9, 6, edge), line(-2, 4, 10, edge))
    np.testing.assert_array_equal(part, whole[7:13, 2:8])


@pytest.mark.parametrize("edge", EDGES)
def test_one_texel_goes_on_as_it_is(edge: Edge) -> None:
    found = block(np.array([[7]], np.uint8), line(-3, 4, 1, edge), line(-3, 4, 1, edge))
    assert (found == 7).all()


def test_masks_are_turned_over_where_heights_are() -> None:
    covered = np.array([[True, False, False, True, True]])
    for edge, want in (("wrap", "TTTFFTTTF"), ("mirror", "FTTFFTTTT"), ("hold", "FFTFFTTTF")):
        found = mask_block(covered, line(0, 1, 1, "wrap"), line(-2, 7, 5, edge))  # type: ignore[arg-type]
        assert "".join("FT"[int(there)] for there in found[0]) == want, edge
