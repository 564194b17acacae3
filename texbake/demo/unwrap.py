"""UV layouts as an artist leaves them: good, but not perfect.

Every piece is first laid flat as stiffly as it will go (local/global iteration: L. Liu et al.,
"A local/global approach to mesh parameterization", Computer Graphics Forum 27(5), 2008). Then
come the habits: a piece turned to fit, one mirrored, one squashed a little, a sleeve pulled
straight, the lining given fewer texels. Last the islands are packed in the order told.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from texbake.arrays import F64, I64, Bool
from texbake.demo.model import Model, Sheet, quads

CELLS = 512  # of the packing grid, per side
MARGIN = 12  # cells between islands: 2.3 % of the square
ROUNDS = 60  # of the flattening; the last moves less than a micrometre


@dataclass(frozen=True, slots=True, kw_only=True)
class Habit:
    """What the artist does to one island.

    Attributes
    ----------
    turns : int
        Quarter turns counter-clockwise.
    mirror : bool
    squash : (float, float)
        Factors across and along the piece, before turning.
    straighten : float
        0 leaves the sides as they fall, 1 makes them parallel.
    density : float
        Texels along an edge, against the other islands.
    """

    turns: int = 0
    mirror: bool = False
    squash: tuple[float, float] = (1.0, 1.0)
    straighten: float = 0.0
    density: float = 1.0


def halves(grid: I64, leans: Bool) -> I64:
    """Cut a grid's quads in triangles, (2 R C, 3)."""
    four = quads(grid, leans)
    return np.concatenate([four[:, [0, 1, 2]], four[:, [0, 2, 3]]])


def triangles_flat(points: F64, faces: I64) -> F64:
    """Lay each triangle down by itself, (F, 3, 2): first corner at 0, first edge along x."""
    a, b, c = points[faces].transpose(1, 0, 2)
    length = np.linalg.norm(b - a, axis=1)
    along = (b - a) / length[:, None]
    x = ((c - a) * along).sum(axis=1)
    y = np.linalg.norm(c - a - x[:, None] * along, axis=1)
    flat = np.zeros((len(faces), 3, 2))
    flat[:, 1, 0], flat[:, 2, 0], flat[:, 2, 1] = length, x, y
    return flat


def cotangents(flat: F64) -> F64:
    """Return per triangle the cotangent of the angle opposite edge k -> k + 1, (F, 3)."""
    at = np.roll(flat, -2, axis=1)  # corner k + 2, opposite that edge
    p, q = flat - at, np.roll(flat, -1, axis=1) - at
    cross = np.abs(p[..., 0] * q[..., 1] - p[..., 1] * q[..., 0])
    return np.asarray(np.maximum((p * q).sum(axis=-1) / np.maximum(cross, 1e-9), 0.05))


def start(points: F64) -> F64:
    """Return a first guess for a grid (R + 1, C + 1, 3): arc lengths along rows and columns."""
    across = np.linalg.norm(np.diff(points, axis=1), axis=2)
    along = np.linalg.norm(np.diff(points, axis=0), axis=2)
    u = np.concatenate([np.zeros((len(points), 1)), np.cumsum(across, axis=1)], axis=1)
    v = np.concatenate([np.zeros((1, points.shape[1])), np.cumsum(along, axis=0)], axis=0)
    return np.stack([u - u.mean(axis=1, keepdims=True), v], axis=-1)


def laplacian(a: I64, b: I64, weight: F64, count: int) -> Callable[[F64], F64]:
    """Return the solver of edges a -> b with weights; one corner is pinned, or all could slide."""
    from scipy.sparse import csc_array  # loads scipy: only when a mesh is made
    from scipy.sparse.linalg import splu

    i, j = np.concatenate([a, b, a, b]).ravel(), np.concatenate([a, b, b, a]).ravel()
    entries = np.concatenate([weight, weight, -weight, -weight]).ravel()
    pin = np.zeros(1, dtype=np.int64)
    where = (np.concatenate([i, pin]), np.concatenate([j, pin]))
    matrix = csc_array((np.concatenate([entries, np.ones(1)]), where), shape=(count, count))
    return splu(matrix).solve


def flatten(points: F64, leans: Bool) -> F64:
    """Lay a grid of points (R + 1, C + 1, 3) flat: (R + 1, C + 1, 2) in cm, rows upwards."""
    shape = points.shape[:2]
    faces = halves(np.arange(shape[0] * shape[1]).reshape(shape), leans)
    flat = triangles_flat(points.reshape(-1, 3), faces)
    weight = cotangents(flat)
    count = shape[0] * shape[1]
    ahead = np.roll(faces, -1, axis=1)
    solve = laplacian(faces, ahead, weight, count)
    edge = (flat - np.roll(flat, -1, axis=1)) * weight[..., None]
    uv = start(points).reshape(-1, 2)
    for _ in range(ROUNDS):
        now = uv[faces] - uv[ahead]
        angle = np.arctan2(
            (edge[..., 0] * now[..., 1] - edge[..., 1] * now[..., 0]).sum(axis=1),
            (edge * now).sum(axis=(1, 2)),
        )
        turn = np.exp(1j * angle)[:, None] * (edge[..., 0] + 1j * edge[..., 1])
        pull = np.zeros(count, dtype=np.complex128)
        np.add.at(pull, faces, turn)
        np.add.at(pull, ahead, -turn)
        uv = solve(np.stack([pull.real, pull.imag], axis=1))
    return upright_flat(uv.reshape(*shape, 2))


def upright_flat(uv: F64) -> F64:
    """Turn a flat grid so that its rows go up on the whole."""
    up = uv[-1].mean(axis=0) - uv[0].mean(axis=0)
    cos, sin = up[::-1] / np.linalg.norm(up)
    return np.asarray(uv @ np.array([[cos, sin], [-sin, cos]]))


def handled(uv: F64, habit: Habit) -> F64:
    """Apply an artist's habit to a flat grid, and put its lower left corner at 0."""
    width = (uv[:, -1] - uv[:, 0])[:, 0]
    middle = (uv[:, -1] + uv[:, 0])[:, 0] / 2.0
    steps = np.linspace(-0.5, 0.5, uv.shape[1])
    straight = uv.copy()
    straight[..., 0] = middle.mean() + steps * width.mean()
    uv = uv + (straight - uv) * habit.straighten
    uv = uv * np.array(habit.squash) * habit.density
    if habit.mirror:
        uv = uv * np.array([-1.0, 1.0])
    for _ in range(habit.turns % 4):
        uv = np.stack([-uv[..., 1], uv[..., 0]], axis=-1)
    return np.asarray(uv - uv.min(axis=(0, 1)))


def footprint(uv: F64, per_cell: int = 12) -> Bool:
    """Return which cells of the packing grid a flat grid touches; its corner is at 0."""
    share = np.linspace(0.0, 1.0, per_cell)
    a, b = share[:, None, None, None, None], share[None, :, None, None, None]
    low = uv[:-1, :-1] * (1.0 - b) + uv[:-1, 1:] * b
    high = uv[1:, :-1] * (1.0 - b) + uv[1:, 1:] * b
    cells = np.floor((low * (1.0 - a) + high * a) * CELLS).astype(np.int64).reshape(-1, 2)
    mask = np.zeros(cells.max(axis=0) + 1, dtype=np.bool_)
    mask[cells[:, 0], cells[:, 1]] = True
    return mask


def pack(islands: Sequence[F64]) -> list[F64]:
    """Put flat grids (UV units, corner at 0) one by one where they reach least high.

    Raises
    ------
    ValueError
        If an island finds no room.
    """
    from scipy.ndimage import maximum_filter  # loads scipy: only when a mesh is made

    taken = np.ones((CELLS, CELLS), dtype=np.float64)
    taken[MARGIN // 2 : -MARGIN // 2, MARGIN // 2 : -MARGIN // 2] = 0.0
    placed: list[F64] = []
    for number, uv in enumerate(islands):
        mask = footprint(uv)
        spectrum = np.fft.rfft2(taken) * np.conj(np.fft.rfft2(mask, s=taken.shape))
        hits = np.fft.irfft2(spectrum, s=taken.shape)
        fits = np.array(taken.shape) - mask.shape + 1  # beyond, the island wraps round
        free = np.argwhere(hits[: fits[0], : fits[1]] < 0.5)
        if not len(free):
            raise ValueError(f"island {number} finds no room: lower the density")
        x, y = free[np.lexsort((free[:, 0], free[:, 1] + 0.01 * free[:, 0]))[0]]
        placed.append(uv + np.array([x, y]) / CELLS)
        spot = np.zeros_like(taken)
        spot[x : x + mask.shape[0], y : y + mask.shape[1]] = mask
        taken = np.maximum(taken, maximum_filter(spot, size=2 * MARGIN + 1))
    return placed


def lay_out(model: Model, habits: Mapping[str, Habit], uv_per_cm: float) -> Model:
    """Unwrap and pack a model's sheets; ``habits`` names every sheet, in packing order."""
    by_name = {sheet.name: sheet for sheet in model.sheets}
    flat = [
        handled(flatten(model.points_cm[sheet.index], sheet.leans), habit) * uv_per_cm
        for sheet, habit in ((by_name[name], habit) for name, habit in habits.items())
    ]
    uv = dict(zip(habits, pack(flat), strict=True))
    sheets: list[Sheet] = [replace(sheet, uv=uv[sheet.name]) for sheet in model.sheets]
    return replace(model, sheets=tuple(sheets))
