"""What the shooting references share: an integrator of eighth order, Newton iteration, paths by arc length.

A function of unknowns maps columns to columns, shape (unknowns, m) -> (equations, m): one call gives all differences.
"""

from collections.abc import Callable
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy.integrate import DOP853
from scipy.optimize import brentq

Array = NDArray[np.float64]
Function = Callable[[Array], Array]
Point = tuple[Array, Array]  # unknowns and unit tangent of a path

STAGES = 12
A, B = np.ascontiguousarray(DOP853.A[:STAGES, :STAGES]), np.ascontiguousarray(DOP853.B)
DIFFERENCE = 1e-5  # of central differences of fourth order: their error is near 1e-11 for unknowns of order one
SHARP_TURN = 0.95  # cosine of the turn of the tangent above which a step of the path is halved


def integrator(slope: Any) -> Any:
    """Fixed steps with the eighth-order Dormand-Prince weights for an autonomous compiled `slope(y, p, out)`.

    Returns
    -------
    function of (y0 (d, m), p (k, m), length, steps) -> y at the end (d, m)
    """

    @njit
    def integrate(start, parameters, length, steps):  # type: ignore[no-untyped-def]
        size, columns = start.shape
        end = np.empty((size, columns))
        k, stage, h = np.empty((STAGES, size)), np.empty(size), length / steps
        for j in range(columns):
            y, p = start[:, j].copy(), parameters[:, j].copy()
            for _ in range(steps):
                for i in range(STAGES):
                    stage[:] = y
                    for b in range(i):
                        for a in range(size):
                            stage[a] += h * A[i, b] * k[b, a]
                    slope(stage, p, k[i])
                for b in range(STAGES):
                    for a in range(size):
                        y[a] += h * B[b] * k[b, a]
            end[:, j] = y
        return end

    return integrate


def value(f: Function, z: Array) -> Array:
    """The equations at one set of unknowns."""
    return f(z[:, None])[:, 0]


def jacobian(f: Function, z: Array) -> Array:
    """Derivative of f at z by central differences of fourth order, shape (equations, unknowns)."""
    n, h = len(z), DIFFERENCE
    around = np.repeat(z[:, None], 4 * n, axis=1)
    for k, shift in enumerate((h, -h, 2 * h, -2 * h)):
        around[np.arange(n), k * n + np.arange(n)] += shift
    near, below, far, far_below = np.split(f(around), 4, axis=1)
    return (8.0 * (near - below) - (far - far_below)) / (12.0 * h)


def newton(f: Function, z: Array, free: list[int], tolerance: float = 1e-12) -> Array:
    """Solve f = 0 for the `free` unknowns; steps of at most one. Raises RuntimeError when 60 steps do not do."""
    z = z.copy()
    for _ in range(60):
        step = -np.linalg.solve(jacobian(f, z)[:, free], value(f, z))
        largest = float(np.max(np.abs(step)))
        z[free] += min(1.0, 1.0 / max(largest, 1e-300)) * step
        if largest < tolerance * (1.0 + np.max(np.abs(z))):
            return z
    if np.max(np.abs(value(f, z))) < 1e-10:  # differences hold the last steps up, the equations are met
        return z
    raise RuntimeError(f"no convergence: residual {np.max(np.abs(value(f, z))):.1e}")


def loaded(f: Function, z: Array, load: int, levels: Array) -> Array:
    """Solve for all unknowns but z[load], which takes the `levels` one after the other."""
    z, free = z.copy(), [i for i in range(len(z)) if i != load]
    for level in levels:
        z[load] = level
        z = newton(f, z, free)
    return z


def tangent(f: Function, z: Array, along: Array | None = None) -> Array:
    """Unit null vector of the Jacobian (one unknown more than equations), on the side of `along`."""
    t: Array = np.linalg.svd(jacobian(f, z))[2][-1]
    return -t if along is not None and t @ along < 0.0 else t


def corrected(f: Function, guess: Array, z: Array, t: Array, distance: float) -> Array | None:
    """Point of the path in the plane at `distance` along t from z; None without convergence."""
    w, left = guess, np.inf
    for _ in range(12):
        miss = np.append(value(f, w), t @ (w - z) - distance)
        left = float(np.max(np.abs(miss)))
        step = np.linalg.solve(np.vstack([jacobian(f, w), t]), -miss)
        w = w + step
        if not np.all(np.isfinite(w)) or np.max(np.abs(step)) > 10.0:
            return None
        if np.max(np.abs(step)) < 1e-11 * (1.0 + np.max(np.abs(w))):
            return w
    return w if left < 1e-9 else None


def follow(f: Function, z: Array, step: float, along: Array, stop: Callable[[Array], bool]) -> list[Point]:
    """Points of the solution path from z, started toward `along`, until `stop`; pseudo-arc length, steps adapted."""
    t = tangent(f, z, along)
    points, h = [(z, t)], step
    while not stop(z):
        w = corrected(f, z + h * t, z, t, h)
        turned = None if w is None else tangent(f, w, t)
        if w is None or turned is None or turned @ t < SHARP_TURN:
            h *= 0.5
            if h < 1e-8:
                raise RuntimeError("the path could not be followed: step too small")
            continue
        if turned @ t > 0.99:
            h = min(1.4 * h, step)
        z, t = w, turned
        points.append((z, t))
    return points


def crossings(f: Function, path: list[Point], g: Callable[[Array, Array], float]) -> list[Array]:
    """Unknowns where g(z, tangent) changes its sign, found on the path itself to round-off."""
    found = []
    seen = [g(*point) for point in path]
    for (z, t), (end, _), before, after in zip(path[:-1], path[1:], seen[:-1], seen[1:], strict=True):
        if before * after < 0.0:
            length = float(t @ (end - z))

            def at(h: float, z: Array = z, t: Array = t, end: Array = end, length: float = length) -> Array:
                w = corrected(f, z + (end - z) * (h / length), z, t, h)
                if w is None:
                    raise RuntimeError("a point of the path was lost")
                return w

            def miss(h: float, at: Callable[[float], Array] = at, t: Array = t) -> float:
                w = at(h)
                return g(w, tangent(f, w, t))

            found.append(at(float(brentq(miss, 0.0, length, xtol=1e-10))))
    return found


def limits(f: Function, path: list[Point], load: int) -> list[Array]:
    """Limit points of z[load] on a path."""
    return crossings(f, path, lambda z, t: float(t[load]))
