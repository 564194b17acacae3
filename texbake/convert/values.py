"""What a relief is, and how it is to become a normal map."""

import math
from dataclasses import dataclass
from typing import Any, Final, Literal, get_args

import numpy as np
from numpy.typing import NDArray

from texbake.arrays import Bool

Edge = Literal["wrap", "mirror", "hold"]
Green = Literal["up", "down"]
Kernel = Literal["true", "even", "short"]
Bits = Literal[8, 16]

# Of pictures: uint8, uint16 or float32, which have no type in common that says what they are.
Samples = NDArray[Any]

EDGES: Final[tuple[Edge, ...]] = get_args(Edge)
KERNELS: Final[tuple[Kernel, ...]] = get_args(Kernel)
MOST_SMOOTH: Final = 64.0

# Slopes are float32 and get squared: this keeps the squares finite, and is 1e15 times too steep.
_STEEPEST: Final = 1e17


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Relief:
    """A height map as it was stored, row 0 at the top. Each sample is the mean over its texel.

    Attributes
    ----------
    samples : (H, W) uint8, uint16 or float32
        Finite.
    covered : (H, W) bool or None
        Where there is something; None is everywhere.
    """

    samples: Samples
    covered: Bool | None = None

    def __post_init__(self) -> None:
        """Check shapes and types.

        Raises
        ------
        ValueError
            If a shape or a type is another, or a sample is not finite.
        """
        if self.samples.ndim != 2 or self.samples.size == 0:
            raise ValueError(f"height has shape {self.samples.shape}; it is (H, W), not empty")
        if self.samples.dtype not in (np.uint8, np.uint16, np.float32):
            raise ValueError(f"height is {self.samples.dtype}; it is uint8, uint16 or float32")
        if self.covered is not None and self.covered.shape != self.samples.shape:
            raise ValueError(
                f"alpha has shape {self.covered.shape}, the height {self.samples.shape}"
            )
        if self.samples.dtype == np.float32 and not np.isfinite(_span(self.samples)):
            raise ValueError("height has samples that are not finite")

    @property
    def white(self) -> float:
        """The sample that stands for white: 255, 65535 or 1."""
        return white_of(self.samples)

    @property
    def shape(self) -> tuple[int, int]:
        """Height and width, texels."""
        return self.samples.shape[0], self.samples.shape[1]


@dataclass(frozen=True, slots=True, kw_only=True)
class Recast:
    """How a relief becomes a normal map.

    Attributes
    ----------
    slope : float
        Of a step from black to white over one texel: depth / texel; finite.
    edge : 'wrap', 'mirror' or 'hold'
        What lies past the borders: the other side, the picture mirrored, or the picture turned
        about its border so that slopes go on.
    kernel : 'true', 'even' or 'short'
        How slopes are taken; see `kernels`.
    smooth_texels : float
        Standard deviation of a Gaussian that the height goes through first; 0 is none.
    mend_step : float
        The step between two levels, in samples, whose stair-steps are to be mended; 0 is none.
    bits : 8, 16 or None
        Of the codes; None is unit vectors in float32.
    dither : bool
        Spread the rounding of red and green over neighbours.
    green : 'up' or 'down'
    """

    slope: float
    edge: Edge = "hold"
    kernel: Kernel = "true"
    smooth_texels: float = 0.0
    mend_step: float = 0.0
    bits: Bits | None = 8
    dither: bool = False
    green: Green = "up"

    def __post_init__(self) -> None:
        """Check ranges.

        Raises
        ------
        ValueError
            If a number is out of range, or a word is none that is known.
        """
        if not abs(self.slope) <= _STEEPEST:
            raise ValueError(f"depth over texel is {self.slope}; it is finite and under 1e17")
        for name, word, known in (
            ("edge", self.edge, EDGES),
            ("kernel", self.kernel, KERNELS),
            ("green", self.green, ("up", "down")),
            ("bits", self.bits, (8, 16, None)),
        ):
            if word not in known:
                raise ValueError(f"{name} is {word!r}; it is one of {known}")
        if not 0.0 <= self.smooth_texels <= MOST_SMOOTH:
            raise ValueError(f"smooth_texels is {self.smooth_texels}; it is 0 to {MOST_SMOOTH}")
        if not (self.mend_step >= 0.0 and math.isfinite(self.mend_step)):
            raise ValueError(f"mend_step is {self.mend_step}; it is 0 or more")


def white_of(samples: Samples) -> float:
    """Return the sample that stands for white (or for full alpha): 255, 65535 or 1."""
    return 2.0 ** (8 * samples.itemsize) - 1.0 if samples.dtype.kind == "u" else 1.0


def _span(samples: Samples) -> float:
    """Return the range of samples; not finite if one of them is not."""
    with np.errstate(invalid="ignore", over="ignore"):
        return float(samples.max()) - float(samples.min())
