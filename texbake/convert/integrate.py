"""Normal to height, by least squares: the height whose slopes are nearest to those of the normals.

Slopes that were rounded, painted or scaled fit no height exactly; the sum of the squared
differences is made as small as can be.

A picture that wraps is solved by R. T. Frankot and R. Chellappa, "A method for enforcing
integrability in shape from shading algorithms", IEEE Trans. PAMI 10(4), 1988: each frequency of
the height is the projection of the two slopes' on i w. Samples are means over texels, as in
`kernels`, so that i w is exact.

Else the data are the steps from texel to texel: the integral of the slope from one middle to the
next, by a quadrature of the sixth order. That is Poisson's equation with free borders. On a whole
rectangle a cosine transform solves it (T. Simchony, R. Chellappa and M. Shao, "Direct analytical
methods for solving Poisson equations in computer vision problems", IEEE Trans. PAMI 12(5), 1990).
With empty texels it is solved by conjugate gradients, each step prepared by the solution for the
rectangle.
"""

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from texbake.arrays import F32, F64, Bool
from texbake.convert.border import line
from texbake.convert.normal import covered_of
from texbake.convert.values import EDGES, Edge, Green, white_of

# Shares of the slopes by distance from the step: exact for polynomials of the fifth degree.
_QUADRATURE: Final = (802.0 / 1440.0, -93.0 / 1440.0, 11.0 / 1440.0)
# Nothing is steeper than what 8 bits can say, 89.55 degrees.
_STEEPEST: Final = 127.5
_TOLERANCE: Final = 1e-8
_ROUNDS: Final = 500


def normal_to_height(
    normal: NDArray[Any],
    *,
    texel_mm: float,
    edge: Edge = "hold",
    green: Green = "up",
    alpha: NDArray[Any] | None = None,
    threads: int = 1,
) -> F32:
    """Recover the height that a normal map was made from, but for its mean.

    Parameters
    ----------
    normal : (H, W, 3) uint8, uint16 or float
        Codes, or vectors of any length.
    texel_mm : float
        The size of a texel, > 0.
    edge : 'wrap', 'mirror' or 'hold'
        What lies past the borders, as for `height_to_normal`.
    green : 'up' or 'down'
    alpha : (H, W), optional
        What is under half is empty: its height is 0. Pieces that do not touch each have a mean
        of 0, as nothing says how high one lies over another.
    threads : int
        >= 1.

    Returns
    -------
    (H, W) float32
        mm, with mean 0.

    Raises
    ------
    ValueError
        If something has another shape, type or range.
    """
    if not (texel_mm > 0.0 and math.isfinite(texel_mm)) or edge not in EDGES:
        raise ValueError(f"texel_mm {texel_mm} is above 0, and edge {edge!r} one of {EDGES}")
    covered = covered_of(alpha)
    across, down = slopes_of(normal, green)
    if covered is not None:
        height = _masked(_steps(across, down, covered, edge), threads)
    elif edge == "wrap":
        height = _wrapped(across, down, threads)
    else:
        height = _free(_steps(across, down, None, edge), threads)
    height *= texel_mm
    return height.astype(np.float32)


def slopes_of(normal: NDArray[Any], green: Green) -> tuple[F32, F32]:
    """Return the slopes of normals along columns and, downwards, along rows.

    Parameters
    ----------
    normal : (H, W, 3) uint8, uint16 or float
        Codes, or vectors. Normals that do not point out get the steepest slope, 127.5. The codes
        on both sides of 0 stand for 0 if red and green have them: flat maps are written with
        one of them, and half a step is a slope.
    green : 'up' or 'down'

    Returns
    -------
    across, down : (H, W) float32
        Height over length.

    Raises
    ------
    ValueError
        If the shape or the type is another, or a vector is not finite.
    """
    codes = normal.dtype.kind == "u"
    shaped = normal.ndim == 3 and normal.shape[2] == 3 and normal.size
    if not shaped or not (codes or normal.dtype.kind == "f"):
        raise ValueError(f"normals are {normal.dtype} of shape {normal.shape}; (H, W, 3) codes")
    half = white_of(normal) / 2.0 if codes else 1.0
    x, y, z = (_part(normal[..., k], half if codes else 0.0) for k in range(3))
    if codes:
        level = (np.abs(x) < 1.0) & (np.abs(y) < 1.0)
        x[level] = y[level] = 0.0
    least = np.hypot(x, y)
    least /= _STEEPEST
    np.maximum(least, 1e-6 * half, out=least)
    np.maximum(z, least, out=z)
    np.negative(z, out=z)
    x /= z
    if green == "up":
        np.negative(z, out=z)
    y /= z
    return x, y


def _part(component: NDArray[Any], middle: float) -> F32:
    """Return a component with 0 in the middle."""
    part: F32 = component.astype(np.float32)
    if not np.isfinite(part.sum()):
        raise ValueError("normals have components that are not finite")
    part -= middle
    return part


@dataclass(frozen=True, slots=True, eq=False)
class Steps:
    """Height steps from each texel to the next, in texels.

    Attributes
    ----------
    across, down : (H, W) float64
        From column j to j + 1, from row i to i + 1; the last leads to the first. 0 where there
        is none.
    across_there, down_there : (H, W) bool
        Where there are steps.
    """

    across: F64
    down: F64
    across_there: Bool
    down_there: Bool


def _steps(across: F32, down: F32, covered: Bool | None, edge: Edge) -> Steps:
    """Return the steps between covered neighbours."""
    there = np.ones(across.shape, np.bool_) if covered is None else covered
    down_step, down_there = _along(down, there, edge)
    across_step, across_there = _along(across.T, there.T, edge)
    return Steps(across_step.T, down_step, across_there.T, down_there)


def _along(slope: F32, covered: Bool, edge: Edge) -> tuple[F64, Bool]:
    """Return the steps along the first axis, and where there are any."""
    count = len(slope)
    reach = len(_QUADRATURE) - 1
    place = line(-reach, count + reach + 1, count, edge)
    # Past a mirror a slope has the other sign; where the height holds, slopes go on likewise.
    turn = np.where((np.arange(-reach, count + reach + 1) // count) % 2, -1.0, 1.0)
    sign = turn if edge == "mirror" else place.sign
    longer = slope[place.index] * sign[:, None].astype(np.float32)
    longer += place.first[:, None] * slope[:1] + place.last[:, None] * slope[-1:]
    known = covered[place.index]
    step: F64 = np.zeros(slope.shape)
    whole: Bool = np.ones(slope.shape, np.bool_)
    for k, share in enumerate(_QUADRATURE):
        before, after = (slice(n, n + count) for n in (reach - k, reach + 1 + k))
        step += share * (longer[before] + longer[after])
        whole &= known[before] & known[after]
    here, after = slice(reach, reach + count), slice(reach + 1, reach + 1 + count)
    simple = 0.5 * (longer[here] + longer[after])
    there = known[here] & known[after]
    np.copyto(step, simple, where=~whole)
    if edge != "wrap":
        there[-1] = False
    step[~there] = 0.0
    return step, there


def _divergence(across: F64, down: F64) -> F64:
    """Return what the steps say of each texel: those that come less those that go."""
    total = np.roll(across, 1, axis=1)
    total -= across
    total += np.roll(down, 1, axis=0)
    total -= down
    return total


def _free(steps: Steps, threads: int) -> F64:
    """Return the height on a whole rectangle with free borders."""
    return _poisson(_divergence(steps.across, steps.down), threads)


def _poisson(source: F64, threads: int) -> F64:
    """Solve Poisson's equation on a rectangle with free borders; the mean is 0."""
    from scipy.fft import dctn, idctn

    spectrum = dctn(source, type=2, workers=threads)
    down, along = (2.0 - 2.0 * np.cos(np.pi / n * np.arange(n)) for n in source.shape)
    weight = down[:, None] + along
    weight[0, 0] = 1.0
    spectrum /= weight
    spectrum[0, 0] = 0.0
    height: F64 = idctn(spectrum, type=2, workers=threads, overwrite_x=True)
    return height


def _wrapped(across: F32, down: F32, threads: int) -> F64:
    """Return the height that wraps, by Frankot and Chellappa."""
    from scipy.fft import irfft2, rfft2

    rows, columns = across.shape
    along = 2.0 * np.pi * np.fft.rfftfreq(columns)
    up = 2.0 * np.pi * np.fft.fftfreq(rows)
    for count, frequency in ((columns, along), (rows, up)):
        if count % 2 == 0:  # a wave of two texels has no slope at the middles of texels
            frequency[count // 2] = 0.0
    spectrum = rfft2(across.astype(np.float64), workers=threads)
    spectrum *= -1j * along
    other = rfft2(down.astype(np.float64), workers=threads)
    other *= -1j * up[:, None]
    spectrum += other
    weight = up[:, None] ** 2 + along**2
    weight[weight == 0.0] = np.inf
    spectrum /= weight
    height: F64 = irfft2(spectrum, s=across.shape, workers=threads, overwrite_x=True)
    return height


def _masked(steps: Steps, threads: int) -> F64:
    """Return the height where not all is covered, each piece with a mean of 0.

    Conjugate gradients (M. R. Hestenes and E. Stiefel, J. Res. NBS 49, 1952) with the rectangle's
    solution as preparation: a piece that is compact takes a few dozen rounds, whatever its size.
    """
    residual = _divergence(steps.across, steps.down)
    height: F64 = np.zeros_like(residual)
    covered = _joined(steps)
    goal = _TOLERANCE * float(np.linalg.norm(residual))
    direction, before = height, 0.0
    for _ in range(_ROUNDS):
        if float(np.linalg.norm(residual)) <= goal:
            break
        prepared = _poisson(residual, threads) * covered
        now = float(np.vdot(residual, prepared))
        direction = prepared + (now / before) * direction if before else prepared
        before = now
        image = _laplacian(direction, steps)
        length = now / float(np.vdot(direction, image))
        height += length * direction
        residual -= length * image
    return _centred(height, _pieces(steps, covered))


def _joined(steps: Steps) -> Bool:
    """Return the texels that a step leads to or from."""
    joined = steps.across_there | np.roll(steps.across_there, 1, axis=1)
    return joined | steps.down_there | np.roll(steps.down_there, 1, axis=0)


def _laplacian(height: F64, steps: Steps) -> F64:
    """Return the divergence of a height's own steps, where there are steps."""
    across = np.roll(height, -1, axis=1)
    across -= height
    across *= steps.across_there
    down = np.roll(height, -1, axis=0)
    down -= height
    down *= steps.down_there
    return _divergence(across, down)


def _pieces(steps: Steps, covered: Bool) -> NDArray[np.intp]:
    """Return the number of the piece that each texel is of, from 1; 0 where nothing is."""
    from scipy import ndimage
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    label, count = ndimage.label(covered)
    down, across = steps.down_there[-1], steps.across_there[:, -1]  # those that wrap
    one = np.concatenate([label[-1, down], label[across, -1]])
    other = np.concatenate([label[0, down], label[across, 0]])
    shape = (count + 1, count + 1)
    joins = coo_array((np.ones(one.size), (one, other)), shape=shape)
    _, piece = connected_components(joins, directed=False)
    return np.where(covered, piece[label] + 1, 0)


def _centred(height: F64, piece: NDArray[np.intp]) -> F64:
    """Return the height with the mean of each piece at 0, and 0 elsewhere."""
    flat = piece.reshape(-1)
    total = np.bincount(flat, weights=height.reshape(-1))
    mean = total / np.maximum(np.bincount(flat), 1)
    return np.where(piece > 0, height - mean[piece], 0.0)
