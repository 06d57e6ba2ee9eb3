"""Equilibrium of a rod under dead loads, prescribed displacements and smooth nodal potentials.

For benches and checks: one rod, a Newton loop one can read. An insertion has its own compiled loop on the same
kernels. theory, section "Solution".
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..kernel import kernel
from .band import HALF, WIDTH, factor, solve
from .elastic import Array, RodArrays, apply_step, assemble_elastic

BoolArray = NDArray[np.bool_]
# node positions (N + 1, 3) -> energy (J), gradient (N + 1, 3) (N), Hessian blocks (N + 1, 3, 3) (N/m)
Potential = Callable[[Array], tuple[float, Array, Array]]

RESIDUAL = 1e-9  # of the force scale EI/L^2: far below any figure reported
ROUND_OFF = 4 * np.finfo(float).eps  # of EA times the number of elements: strains cannot be resolved further
SHIFT_START, SHIFT_GROWTH, SHIFT_MAX = 1e-6, 10.0, 1e3  # of the diagonal, added on a negative pivot
MAX_TURN = 0.5  # rad, largest rotation of a frame in one iteration


class NotConvergedError(RuntimeError):
    """No equilibrium found; `last` is the last state reached."""

    def __init__(self, message: str, last: "Equilibrium") -> None:
        super().__init__(message)
        self.last = last


@dataclass(frozen=True)
class Equilibrium:
    """A state of the rod and how it was found.

    x : ndarray, shape (N + 1, 3), node positions, m
    q : ndarray, shape (N, 4), element frames
    energy : total potential, J
    reactions : ndarray, shape (6 N + 3,), forces (N) and moments (N m) exerted by the supports, 0 at free unknowns
    negative : negative eigenvalues of the tangent; not 0 means the equilibrium is unstable
    converged : residual below tolerance
    residuals : residual norm of each iteration, N
    """

    x: Array
    q: Array
    energy: float
    reactions: Array
    negative: int
    converged: bool
    residuals: tuple[float, ...]

    @property
    def stable(self) -> bool:
        """True where no eigenvalue of the tangent is negative."""
        return self.negative == 0


@kernel
def impose(band: Array, rhs: Array, fixed: BoolArray, delta: Array) -> None:
    """Prescribe the increments `delta` at the `fixed` unknowns of band * step = rhs."""
    n = band.shape[0]
    for i in range(n):
        for k in range(max(0, HALF - i), HALF):
            j = i + k - HALF
            if fixed[j] and not fixed[i]:
                rhs[i] -= band[i, k] * delta[j]
            if fixed[i] and not fixed[j]:
                rhs[j] -= band[i, k] * delta[i]
            if fixed[i] or fixed[j]:
                band[i, k] = 0.0
        if fixed[i]:
            band[i, HALF] = 1.0
            rhs[i] = delta[i]


@kernel
def add_nodal(band: Array, grad: Array, g: Array, h: Array) -> None:
    """Add nodal gradients (N + 1, 3) and Hessian blocks (N + 1, 3, 3)."""
    for i in range(g.shape[0]):
        for a in range(3):
            grad[6 * i + a] += g[i, a]
            for b in range(a + 1):
                band[6 * i + a, HALF + b - a] += h[i, a, b]


def straight_rod(
    lengths: Array,
    *,
    bend: Array,
    stretch: Array,
    natural: Array | None = None,
    clamped: tuple[bool, bool] = (True, False),
    axis: tuple[float, float, float] = (0.0, 0.0, 1.0),
) -> tuple[RodArrays, Array, Array]:
    """Straight rod from the origin along `axis`, with its reference positions and frames.

    Parameters
    ----------
    lengths : ndarray, shape (N,)
        element lengths, m
    bend : ndarray, shape (N + 1, 3)
        EI1, EI2, GJ at the joints (0 and N: the clamps), N m2
    stretch : ndarray, shape (N, 3)
        GA1, GA2, EA of the elements, N
    natural : ndarray, shape (N + 1, 3), optional
        natural curvature and twist, 1/m
    clamped : pair of bool
        whether the frame of the first and of the last element is tied to a clamp

    Returns
    -------
    rod, x (N + 1, 3), q (N, 4)
    """
    n = len(lengths)
    if np.any(lengths <= 0.0) or not np.all(np.isfinite(lengths)):
        message = f"element lengths must be positive and finite; the smallest is {np.min(lengths)}"
        raise ValueError(message)
    span = np.concatenate([[lengths[0] / 2], (lengths[1:] + lengths[:-1]) / 2, [lengths[-1] / 2]])
    bend = bend.copy()
    if not clamped[0]:
        bend[0] = 0.0
    if not clamped[1]:
        bend[n] = 0.0
    e = np.asarray(axis, dtype=float) / np.linalg.norm(axis)
    turn = np.array([1.0 + e[2], -e[1], e[0], 0.0]) if e[2] > -1.0 else np.array([0.0, 1.0, 0.0, 0.0])
    turn /= np.linalg.norm(turn)
    x = np.concatenate([[0.0], np.cumsum(lengths)])[:, None] * e[None, :]
    rod = RodArrays(
        np.ascontiguousarray(lengths, dtype=float),
        span,
        np.ascontiguousarray(stretch, dtype=float),
        bend,
        np.zeros((n + 1, 3)) if natural is None else natural.copy(),
        np.array([turn, turn]),
    )
    return rod, x, np.tile(turn, (n, 1))


def fix(n_elements: int, **parts: int | tuple[int, ...]) -> BoolArray:
    """Mask of prescribed unknowns, shape (6 N + 3,).

    Keywords name the component, values the nodes (or elements, for rotations; negative counts from the end):
    x, y, z positions; rx, ry, rz material rotation components. Example: fix(40, x=0, y=(0, -1), z=0).
    """
    mask = np.zeros(6 * n_elements + 3, dtype=bool)
    for key, places in parts.items():
        rotation = key.startswith("r")
        component = "xyz".index(key[-1]) + 3 * rotation
        count = n_elements if rotation else n_elements + 1
        for place in (places,) if isinstance(places, int) else places:
            mask[6 * (place % count) + component] = True
    return mask


def equilibrium(
    rod: RodArrays,
    x: Array,
    q: Array,
    *,
    fixed: BoolArray,
    target: Array | None = None,
    forces: Array | None = None,
    potential: Potential | None = None,
    residual: float | None = None,
    max_iterations: int = 200,
    throw: bool = True,
) -> Equilibrium:
    """Equilibrium next to the state (x, q), by Newton's method with exact tangent and line search.

    Parameters
    ----------
    rod : RodArrays
        the rod
    x, q : ndarray, shapes (N + 1, 3), (N, 4)
        starting state
    fixed : ndarray of bool, shape (6 N + 3,)
        prescribed unknowns
    target : ndarray, shape (N + 1, 3), optional
        positions wanted at prescribed position components (default: as in x), m
    forces : ndarray, shape (N + 1, 3), optional
        dead nodal forces, N
    potential : callable, optional
        further smooth energy of the node positions
    residual : float, optional
        largest residual force accepted, N (default RESIDUAL times max EI / length^2, not below round-off)

    Raises
    ------
    NotConvergedError
        when no equilibrium was found and `throw`
    """
    size = 6 * q.shape[0] + 3
    load = np.zeros((q.shape[0] + 1, 3)) if forces is None else forces
    total = float(np.sum(rod.length))
    floor = ROUND_OFF * float(np.max(rod.stretch)) * q.shape[0]
    accept = max(RESIDUAL * float(np.max(rod.bend)) / total**2, floor) if residual is None else residual
    scale = np.ones(size)
    lever = float(np.mean(rod.length))
    for a in (3, 4, 5):
        scale[a::6] = 1.0 / lever
    grad, band, fac = np.empty(size), np.empty((size, WIDTH)), np.empty((size, WIDTH))

    def assemble(xs: Array, qs: Array) -> float:
        grad[:] = 0.0
        band[:] = 0.0
        energy = assemble_elastic(rod, xs, qs, grad, band) - float(np.sum(load * xs))
        for a in range(3):
            grad[a::6] -= load[:, a]
        if potential is not None:
            e, g, h = potential(xs)
            energy += e
            add_nodal(band, grad, g, h)
        return float(energy)

    delta = np.zeros(size)
    if target is not None:
        for a in range(3):
            delta[a::6] = target[:, a] - x[:, a]
        delta[~fixed] = 0.0
    x, q = x.copy(), q.copy()
    trial_x, trial_q = np.empty_like(x), np.empty_like(q)
    energy = assemble(x, q)
    history: list[float] = []
    converged = False
    for _ in range(max_iterations):
        norm = float(np.max(np.abs(np.where(fixed, 0.0, grad * scale))))
        history.append(norm)
        if norm <= accept and not np.any(delta):
            converged = True
            break
        step = _newton_step(band, fac, grad, fixed, delta)
        limit = MAX_TURN / max(MAX_TURN, max(float(np.max(np.abs(step[a::6]))) for a in (3, 4, 5)))
        slope = float(np.dot(grad, step))
        moved = bool(np.any(delta))
        for halving in range(30):
            t = limit * 0.5**halving
            apply_step(x, q, step, t, trial_x, trial_q)
            new = assemble(trial_x, trial_q)
            new_norm = float(np.max(np.abs(np.where(fixed, 0.0, grad * scale))))
            if moved or new <= energy + 1e-4 * t * slope or new_norm < 0.9 * norm or new_norm <= accept:
                break
        x[:], q[:], energy = trial_x, trial_q, new
        if moved:
            delta *= 1.0 - t
            delta[np.abs(delta) < 1e-18] = 0.0
    reactions = np.where(fixed, grad, 0.0)
    impose(band, grad.copy(), fixed, np.zeros(size))
    negative = factor(band, fac, 0.0)
    found = Equilibrium(x, q, energy, reactions, negative, converged, tuple(history))
    if throw and not converged:
        message = (
            f"no equilibrium after {max_iterations} iterations; residual {history[-1]:.3g} N, wanted {accept:.3g} N"
        )
        raise NotConvergedError(message, found)
    return found


def _newton_step(band: Array, fac: Array, grad: Array, fixed: BoolArray, delta: Array) -> Array:
    """Newton step with the prescribed increments imposed; the diagonal is shifted while a pivot is negative."""
    rhs = -grad
    matrix = band.copy()
    impose(matrix, rhs, fixed, delta)
    shift = 0.0
    while factor(matrix, fac, shift) != 0:
        shift = SHIFT_START if shift == 0.0 else shift * SHIFT_GROWTH
        if shift > SHIFT_MAX:
            message = "the tangent stays indefinite under every shift: a mechanism or non-finite data"
            raise ArithmeticError(message)
    if shift > 0.0:
        rhs = np.where(fixed, delta * (1.0 + shift), rhs)
    b = rhs[None, :].copy()
    solve(fac, b)
    return b[0]
