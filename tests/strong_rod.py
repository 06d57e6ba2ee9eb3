"""Boundary-value solution of the rod's strong equations, for tests: shares nothing with the package's kernels.

Simo-Reissner rod (Simo 1985; Antman, Nonlinear Problems of Elasticity, ch. 8; from memory). With r the centreline,
R(q) the section's frame (third column: the axis), n and m the internal force and moment in space, 0 < s < 1:

    r' = R (C^-1 R^T n + e3)        q' = q (0, D^-1 R^T m + kappa0(s)) / 2
    n' = -f                         m' = -r' x n

f is a dead load per length. Scaled: lengths by L, stiffnesses by EI and EI/L^2, forces by EI/L^2, moments by EI/L.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_bvp

Array = NDArray[np.float64]

MESH = 41  # collocation nodes to begin with; solve_bvp adds more where it needs them
ON_THE_WAY, FINAL = 1e-3, 1e-7  # relative residual of the collocation, along the path and at its end
STEPS = 6


@dataclass(frozen=True)
class StrongRod:
    """A rod of unit length in scaled units, its loads and what holds it.

    The end at s = 0 is clamped at the origin with the frame (e1, e2, e3).

    bend : ndarray, shape (3,), EI1, EI2, GJ
    stretch : ndarray, shape (3,), GA1, GA2, EA
    natural : callable, s of shape (k,) -> natural curvature and twist, shape (3, k)
    spread : ndarray, shape (3,), dead load per length
    force : ndarray, shape (3,), dead force on the far end (where `place` is None)
    moment : ndarray, shape (3,), dead moment on the far end (where `turn` is None)
    place : ndarray, shape (3,), optional, displacement of the far end from (0, 0, 1)
    turn : ndarray, shape (3,), optional, rotation vector of the far end's frame
    """

    bend: Array
    stretch: Array
    natural: Callable[[Array], Array]
    spread: Array
    force: Array
    moment: Array
    place: Array | None = None
    turn: Array | None = None

    def part(self, share: float) -> "StrongRod":
        """The same rod with a share of the loads and of what is prescribed at the far end."""
        return replace(
            self,
            spread=share * self.spread,
            force=share * self.force,
            moment=share * self.moment,
            place=None if self.place is None else share * self.place,
            turn=None if self.turn is None else share * self.turn,
        )


def quaternion(turn: Array) -> Array:
    """Unit quaternion of a rotation vector, shape (4,)."""
    angle = float(np.linalg.norm(turn))
    return np.concatenate([[np.cos(0.5 * angle)], 0.5 * np.sinc(0.5 * angle / np.pi) * turn])


def rotate(q: Array, v: Array) -> Array:
    """Vectors of the frame in space: R(q) v, shapes (4, k) and (3, k); q need not be of unit length."""
    t = 2.0 * np.cross(q[1:], v, axis=0)
    return np.asarray(v + (q[0] * t + np.cross(q[1:], t, axis=0)) / np.sum(q * q, axis=0))


def product(a: Array, b: Array) -> Array:
    """Quaternion product, shapes (4, k)."""
    scalar = a[0] * b[0] - np.sum(a[1:] * b[1:], axis=0)
    return np.concatenate([scalar[None], a[0] * b[1:] + b[0] * a[1:] + np.cross(a[1:], b[1:], axis=0)])


def conjugate(q: Array) -> Array:
    """Inverse turn, shape (4, k)."""
    return np.concatenate([q[:1], -q[1:]])


def slopes(rod: StrongRod, s: Array, y: Array) -> Array:
    """Derivatives by s; rows of y: r (3), q (4), n (3), m (3)."""
    q, n, m = y[3:7], y[7:10], y[10:13]
    strain = rotate(conjugate(q), n) / rod.stretch[:, None] + np.array([[0.0], [0.0], [1.0]])
    curvature = rotate(conjugate(q), m) / rod.bend[:, None] + rod.natural(s)
    tangent = rotate(q, strain)
    turning = 0.5 * product(q, np.concatenate([np.zeros((1, s.size)), curvature]))
    spread = np.repeat(-rod.spread[:, None], s.size, axis=1)
    return np.concatenate([tangent, turning, spread, -np.cross(tangent, n, axis=0)])


def ends(rod: StrongRod, a: Array, b: Array) -> Array:
    """Thirteen conditions that vanish at the solution: seven at s = 0, six at s = 1."""
    clamp = np.concatenate([a[:3], a[3:7] - np.array([1.0, 0.0, 0.0, 0.0])])
    far = b[7:10] - rod.force if rod.place is None else b[:3] - np.array([0.0, 0.0, 1.0]) - rod.place
    if rod.turn is None:
        return np.concatenate([clamp, far, b[10:13] - rod.moment])
    off = product(conjugate(quaternion(rod.turn)[:, None]), b[3:7, None])[1:, 0]
    return np.concatenate([clamp, far, off])


def strong_solution(rod: StrongRod) -> Callable[[Array], Array]:
    """Solution s -> (13, k), followed from the unloaded rod in STEPS equal parts of all loads.

    Raises
    ------
    ArithmeticError
        when the collocation does not reach its tolerance
    """
    s, y = np.linspace(0.0, 1.0, MESH), np.zeros((13, MESH))
    y[2], y[3] = s, 1.0
    for step in range(STEPS + 1):
        part = rod.part(step / STEPS)
        found = solve_bvp(
            lambda s, y, part=part: slopes(part, s, y),
            lambda a, b, part=part: ends(part, a, b),
            s,
            y,
            tol=FINAL if step == STEPS else ON_THE_WAY,
            max_nodes=20000,
        )
        if found.status != 0:
            message = f"the reference has not converged at part {step} of {STEPS}: {found.message}"
            raise ArithmeticError(message)
        s, y = found.x, found.y
    return found.sol
