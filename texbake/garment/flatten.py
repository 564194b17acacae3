"""One piece of cloth, laid flat.

The plane is the complex plane, since a turn is then one multiplication. Every face f has its true
shape laid flat as reference edges d (opposite to each corner), and wants to be that shape turned:
with the turn R_f, |R_f| = 1, the as-rigid-as-possible energy of a position u per vertex is

    E(u) = 1/2 sum_f sum_corners cot |w - R_f d|^2 = 1/2 u* L u - sum_f |S_f| + constant,

with w the edges of u, L the cotangent Laplacian, S = G* u, and the best turns R_f = S_f / |S_f|.
The local/global method of Liu, Zhang, Xu, Gotsman and Gortler (A local/global approach to mesh
parameterization, SGP 2008) steps to u = L^-1 G R. That is gradient descent preconditioned by L,
and it creeps along soft bends; so its steps feed an L-BFGS memory (Liu, Bouaziz and Kavan,
Quasi-Newton methods for real-time simulation, ACM TOG 2017), which needs a tenth of the steps.

Turns never mirror, so a piece that starts unfolded keeps the outside of the cloth up. The start is
conformal (Levy, Petitjean, Ray and Maillot, Least squares conformal maps, SIGGRAPH 2002); where
that folds, it is Tutte's embedding (How to draw a graph, 1963), which cannot.
All of this is a geometry solve: float64 and complex128.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal, NamedTuple, cast

import numpy as np
from numpy.typing import NDArray

from texbake.arrays import F64, I32, I64, Bool

C128 = NDArray[np.complexfloating[Any, Any]]
Solve = Callable[[C128], C128]

# A face flatter than this (height to longest side) is weighed as if it were this high: weights
# stay those of a real triangle, so L stays positive, and no cotangent is larger than 1000.
LEAST_HEIGHT = 1e-3
# Converged when one local/global step moves the vertices by less than this share of the mean edge
# (RMS): so little that starts, numbering and processors end within 1e-4 mm of each other. It costs
# a third more steps than 1e-7 would.
STEP_SHARE = 1e-9
MAX_STEPS = 600
ROUNDING = 1e-14  # of the energy's two parts, which nearly cancel
MEMORY = 8


@dataclass(frozen=True, slots=True, eq=False)
class _System:
    """What stays the same while a piece is solved. Vertex 0 is held at 0."""

    faces: I64
    edges: C128  # (K, 3) reference edges, opposite to each corner
    cot: F64  # (K, 3) of each corner
    laplacian: Any  # (V, V) CSR, real
    pull: Any  # G: (V, K) CSR, complex
    gather: Any  # G*: (K, V) CSR, complex
    solve: Solve


class _State(NamedTuple):
    """A position, its energy (without the constant) and its gradient."""

    u: C128
    energy: float
    gradient: C128


def flatten(
    points_mm: F64, faces: I32 | I64, *, start: Literal["conformal", "tutte"] | F64 = "conformal"
) -> F64:
    """Lay one connected piece flat, as rigidly as possible.

    Parameters
    ----------
    points_mm : (V, 3) float64
        Positions, mm. Each is used by some face.
    faces : (K, 3) int
        Triangles of a connected, oriented piece with at least one border and no handle (a disk,
        perhaps with holes), counter-clockwise seen from outside. Faces without area are borne.
    start : 'conformal', 'tutte' or (V, 2) float64
        Where to start from; one that is mirrored as a whole is turned over first. The result does
        not depend on it beyond a turn and a shift, unless the piece is so curved that it has
        several best ways to lie.

    Returns
    -------
    (V, 2) float64
        Positions in the plane, mm; faces are counter-clockwise where the shape allows it.

    Raises
    ------
    ValueError
        If the piece has no border.
    """
    if len(faces) == 1 and len(points_mm) == 3:  # automatic layouts have hundreds of these
        corner = np.zeros(3, np.complex128)
        edges = reference_edges(points_mm, faces)[0]
        corner[np.asarray(faces)[0]] = [0.0, edges[2], -edges[1]]
        return _plane(corner)
    ring = borders(faces)
    if not ring:
        raise ValueError("a piece without a border cannot be laid flat: cut it open first")
    system = _system(points_mm, faces)
    if isinstance(start, np.ndarray):
        u = start[:, 0] + 1j * start[:, 1]
        return _plane(_rigid(system, u if _upright(u, system.faces) else np.conj(u)))
    first = start == "conformal"
    u = _conformal(system, points_mm, ring) if first else _tutte(points_mm, faces, ring)
    if first and folded(_plane(u), faces, system.edges).any():
        u = _tutte(points_mm, faces, ring)
    return _plane(_rigid(system, u))


def borders(faces: I32 | I64) -> list[I64]:
    """Return the border loops of an oriented piece, each (B,) int64 vertices in face direction."""
    start = np.asarray(faces, dtype=np.int64)
    end = np.roll(start, -1, axis=1)
    count = int(start.max(initial=-1)) + 1
    forth, back = (start * count + end).ravel(), (end * count + start).ravel()
    open_ = ~np.isin(forth, back)
    following = dict(zip(start.ravel()[open_].tolist(), end.ravel()[open_].tolist(), strict=True))
    loops = []
    while following:  # a Python loop over border vertices: 0.1 ms per 1,000
        loop = [next(iter(following))]
        while (vertex := following.pop(loop[-1], None)) is not None:
            loop.append(vertex)
        loops.append(np.array(loop[:-1] if loop[0] == loop[-1] else loop, np.int64))
    return loops


def folded(flat_mm: F64, faces: I32 | I64, edges: C128 | None = None) -> Bool:
    """Tell which faces (K,) lie upside down in the plane.

    Parameters
    ----------
    flat_mm : (V, 2) float64
    faces : (K, 3) int
    edges : (K, 3) complex128, optional
        Reference edges; a face that has no height there has no upper side, and is never folded.
    """
    u = flat_mm[:, 0] + 1j * flat_mm[:, 1]
    w = _edges(u, np.asarray(faces, dtype=np.int64))
    down = _cross(w[:, 1], w[:, 2]) < 0
    if edges is not None:
        longest = np.abs(edges).max(axis=1)
        down &= _cross(edges[:, 1], edges[:, 2]) > LEAST_HEIGHT * longest**2
    return down


def reference_edges(points_mm: F64, faces: I32 | I64) -> C128:
    """Lay each face flat by itself: (K, 3) complex128 edges, opposite to each corner."""
    a, b, c = (points_mm[np.asarray(faces)[:, i]] for i in range(3))
    side = np.linalg.norm(b - a, axis=1)
    along = (b - a) / np.where(side > 0, side, 1.0)[:, None]
    x = ((c - a) * along).sum(axis=1)
    y = np.linalg.norm((c - a) - x[:, None] * along, axis=1)
    apex = x + 1j * y
    return np.stack([apex - side, -apex, side + 0j], axis=1)


def _rigid(system: _System, u: C128) -> C128:
    """Minimise the energy from ``u``: L-BFGS whose first guess is the local/global step."""
    edge = float(np.abs(system.edges).mean())
    goal = STEP_SHARE * edge * math.sqrt(len(u))
    state = _local(system, system.solve(system.pull @ _turns(system, u)[0]))
    memory: list[tuple[C128, C128, float]] = []
    for _ in range(MAX_STEPS):
        step, bare = _direction(system, state.gradient, memory)
        if math.sqrt(_dot(bare, bare)) <= goal:
            break
        new = _descend(system, state, step)
        if new is None:  # the memory misleads: forget it; the bare step never climbs
            new = _local(system, state.u - bare)
            memory = []
        moved, change = new.u - state.u, new.gradient - state.gradient
        curve = _dot(moved, change)
        if curve > 0:
            memory = [*memory[1 - MEMORY :], (moved, change, 1.0 / curve)]
        state = new
    return state.u


def _local(system: _System, u: C128) -> _State:
    """Return energy and gradient at the best turns for ``u``."""
    turns, pulled = _turns(system, u)
    stiff = system.laplacian @ u
    gradient = stiff - system.pull @ turns
    gradient[0] = 0.0
    return _State(u, 0.5 * _dot(u, stiff) - pulled, gradient)


def _turns(system: _System, u: C128) -> tuple[C128, float]:
    """Return each face's best turn (K,) and the sum of |S|."""
    s = system.gather @ u
    size = np.abs(s)
    turns = np.divide(s, size, out=np.ones_like(s), where=size > 0)
    return turns, float(size.sum())


def _direction(
    system: _System, gradient: C128, memory: list[tuple[C128, C128, float]]
) -> tuple[C128, C128]:
    """Return the L-BFGS step (two-loop recursion), and how far a bare step would go from here."""
    q = gradient.copy()
    shares = []
    for moved, change, weight in reversed(memory):
        share = weight * _dot(moved, q)
        q -= share * change
        shares.append(share)
    r = system.solve(q)
    bare = r if not memory else system.solve(gradient)
    step = r.copy()
    for (moved, change, weight), share in zip(memory, reversed(shares), strict=True):
        step += (share - weight * _dot(change, step)) * moved
    return -step, bare


def _descend(system: _System, state: _State, step: C128) -> _State | None:
    """Walk along ``step``, halving it until the energy falls enough (Armijo); None if it will not.

    Near the goal the fall is lost in rounding, and a rise within rounding is allowed.
    """
    slope = _dot(step, state.gradient)
    blur = ROUNDING * float((system.cot * np.abs(system.edges) ** 2).sum())
    size = 1.0
    while size > 0.01:
        new = _local(system, state.u + size * step)
        if new.energy <= state.energy + 1e-4 * size * slope + blur:
            return new
        size *= 0.5
    return None


def _system(points_mm: F64, faces: I32 | I64) -> _System:
    """Build the energy of a piece and factor its Laplacian."""
    from scipy.sparse import csr_array

    face = np.asarray(faces, dtype=np.int64)
    edges = reference_edges(points_mm, face)
    cot = _cotangents(edges)
    count, k = len(points_mm), len(face)
    after, before = np.roll(face, -1, axis=1), np.roll(face, -2, axis=1)
    rows = np.concatenate([after, before, after, before]).ravel()
    columns = np.concatenate([before, after, after, before]).ravel()
    weight = np.concatenate([-cot, -cot, cot, cot]).ravel()
    laplacian = csr_array((weight, (rows, columns)), shape=(count, count))
    pulls = cot * edges
    pulls = np.roll(pulls, 1, axis=1) - np.roll(pulls, 2, axis=1)
    where = (face.ravel(), np.repeat(np.arange(k), 3))
    pull = csr_array((-pulls.ravel(), where), shape=(count, k))
    return _System(face, edges, cot, laplacian, pull, pull.conj().T.tocsr(), _solver(laplacian))


def _cotangents(edges: C128) -> F64:
    """Return the cotangent at each corner (K, 3), faces without height taken as LEAST_HEIGHT."""
    longest = np.abs(edges).max(axis=1)
    area2 = _cross(edges[:, 0], edges[:, 1])
    # Raise a flat face on its longest side; the foot of its height stays where it is.
    top = np.abs(edges).argmax(axis=1)
    rows = np.arange(len(edges))
    base = np.where(longest > 0, longest, 1.0)
    foot = -(np.conj(edges[rows, top]) * edges[rows, (top + 2) % 3]).real / base
    height = np.maximum(area2 / base, LEAST_HEIGHT * base)
    foot = np.where(longest > 0, foot, 0.5)
    cot = np.empty(edges.shape)
    cot[rows, (top + 1) % 3] = foot / height
    cot[rows, (top + 2) % 3] = (base - foot) / height
    cot[rows, top] = (height - foot * (base - foot) / height) / base
    return cot


def _solver(matrix: Any) -> Solve:  # noqa: ANN401 - a scipy sparse array, imported late
    """Factor a real, positive matrix with vertex 0 held at 0."""
    solve_real = _factor(matrix[1:, 1:])

    def solve(right: C128) -> C128:
        both = solve_real(np.stack([right[1:].real, right[1:].imag], axis=1))
        out = np.zeros(len(right), np.complex128)
        out.real[1:], out.imag[1:] = both[:, 0], both[:, 1]
        return out

    return solve


def _factor(matrix: Any) -> Callable[[Any], Any]:  # noqa: ANN401 - scipy, imported late
    """Factor a Hermitian, positive matrix; return what solves with it.

    Without the hints for such matrices the factors of 5,000 vertices take ten times as long.
    """
    from scipy.sparse.linalg import splu

    factors = splu(
        matrix.tocsc(),
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    )
    return cast("Callable[[Any], Any]", factors.solve)


def _conformal(system: _System, points_mm: F64, ring: list[I64]) -> C128:
    """Least squares conformal map, two far border vertices held at their distance in space.

    The energy is Dirichlet's less the area, times 4: L with +i on each half-edge and -i on its
    twin, which cancel inside, so the start knows nothing but the shape.
    """
    from scipy.sparse import csr_array

    count = len(points_mm)
    rim = np.concatenate([np.stack([loop, np.roll(loop, -1)], axis=1) for loop in ring])
    spin = np.repeat([1j, -1j], len(rim))
    ends = np.concatenate([rim, rim[:, ::-1]])
    matrix = (system.laplacian + csr_array((spin, ends.T), shape=(count, count))).tocsc()
    held = _far_pair(points_mm, rim[:, 0])
    free = np.setdiff1d(np.arange(count), held)
    u = np.zeros(count, np.complex128)
    u[held[1]] = np.linalg.norm(points_mm[held[1]] - points_mm[held[0]])
    right = -(matrix[free][:, held] @ u[held])
    if len(free):
        u[free] = _factor(matrix[free][:, free])(right)
    return u


def _far_pair(points_mm: F64, among: I64) -> I64:
    """Return two vertices of ``among`` that lie far apart."""
    points = points_mm[among]
    first = np.linalg.norm(points - points.mean(axis=0), axis=1).argmax()
    second = np.linalg.norm(points - points[first], axis=1).argmax()
    return np.array([among[first], among[second]])


def _tutte(points_mm: F64, faces: I32 | I64, ring: list[I64]) -> C128:
    """Longest border on a circle, all else at the mean of its neighbours; never folds.

    A hole is filled by a vertex joined to its whole rim, as the theorem wants a disk.
    """
    from scipy.sparse import csr_array, diags_array

    around = [np.linalg.norm(points_mm[r] - points_mm[np.roll(r, -1)], axis=1) for r in ring]
    longest = int(np.argmax([length.sum() for length in around]))
    outer, length = ring[longest], around[longest]
    holes = [r for i, r in enumerate(ring) if i != longest]
    face = np.asarray(faces, dtype=np.int64)
    links = [np.stack([face.ravel(), np.roll(face, -1, axis=1).ravel()], axis=1)]
    links += [
        np.stack([r, np.full(len(r), len(points_mm) + i)], axis=1) for i, r in enumerate(holes)
    ]
    ends = np.concatenate(links)
    ends = np.unique(np.concatenate([ends, ends[:, ::-1]]), axis=0)
    count = len(points_mm) + len(holes)
    matrix = csr_array((np.ones(len(ends)), ends.T), shape=(count, count))
    u = np.zeros(count, np.complex128)
    angle = 2.0 * np.pi * (np.cumsum(length) - length) / max(float(length.sum()), 1e-300)
    u[outer] = np.exp(1j * angle) * np.sqrt(_area(points_mm, face) / np.pi)
    free = np.setdiff1d(np.arange(count), outer)
    if len(free):
        degree = np.bincount(ends[:, 0], minlength=count)[free].astype(np.float64)
        laplacian = diags_array(degree) - matrix[free][:, free]
        u[free] = _factor(laplacian.astype(np.complex128))(matrix[free][:, outer] @ u[outer])
    return u[: len(points_mm)]


def _area(points_mm: F64, face: I64) -> float:
    """Return the area of the faces, mm^2."""
    a, b, c = (points_mm[face[:, i]] for i in range(3))
    return float(0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1).sum())


def _edges(u: C128, face: I64 | I32) -> C128:
    """Return the edges (K, 3) opposite to each corner."""
    corner = u[face]
    return np.roll(corner, -2, axis=1) - np.roll(corner, -1, axis=1)


def _upright(u: C128, face: I64) -> bool:
    w = _edges(u, face)
    return float(_cross(w[:, 1], w[:, 2]).sum()) >= 0.0


def _cross(a: C128, b: C128) -> F64:
    return (np.conj(a) * b).imag


def _dot(a: C128, b: C128) -> float:
    """Real scalar product. Not ``np.vdot``: its sum depends on the number of BLAS threads."""
    return float((a.real * b.real + a.imag * b.imag).sum())


def _plane(u: C128) -> F64:
    return np.stack([u.real, u.imag], axis=1)
