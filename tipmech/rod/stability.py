"""Stability of a rod: inertia of the tangent, critical load by its change, critical mode by inverse iteration.

The matrix is the static tangent: elastic + geometric + the potential's; never a viscous term. theory, section
"Stability".
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from .band import WIDTH, factor, solve
from .elastic import Array, RodArrays, assemble_elastic
from .statics import BoolArray, Potential, add_nodal, impose

ROUND_OFF_SHIFT = 1e-15  # of the diagonal: where a pivot is exactly zero, round-off decides anyway
MODE_ITERATIONS = 60  # inverse iteration gains a factor (lowest/next eigenvalue) each time
LOAD_TOLERANCE = 1e-9  # relative width of the final bracket of a critical load

# load parameter -> rod, node positions, frames, potential of the path's state at that load
State = tuple[RodArrays, Array, Array, Potential | None]


@dataclass(frozen=True)
class CriticalLoad:
    """Load at which the number of negative eigenvalues leaves its value at the lower end of the bracket.

    load : middle of the bracket
    bracket : loads just below and above
    mode : ndarray, shape (6 N + 3,), critical mode, largest entry of its positions 1
    """

    load: float
    bracket: tuple[float, float]
    mode: Array


def tangent(rod: RodArrays, x: Array, q: Array, fixed: BoolArray, potential: Potential | None = None) -> Array:
    """Static tangent band of a state with the prescribed unknowns taken out (their diagonal is 1).

    Parameters
    ----------
    rod, x, q, fixed, potential
        as in `statics.equilibrium`

    Returns
    -------
    ndarray, shape (6 N + 3, 9)
        lower band; N/m, N and N m by kind of unknown
    """
    size = 6 * q.shape[0] + 3
    grad, band = np.zeros(size), np.zeros((size, WIDTH))
    assemble_elastic(rod, x, q, grad, band)
    if potential is not None:
        _, g, h = potential(x)
        add_nodal(band, grad, g, h)
    impose(band, grad, fixed, np.zeros(size))
    return band


def negative_count(band: Array) -> int:
    """Negative eigenvalues of a band matrix; ArithmeticError on a non-finite pivot."""
    fac = np.empty_like(band)
    count = int(factor(band, fac, 0.0))
    if count < 0:  # a pivot that is exactly zero: a shift at round-off decides
        count = int(factor(band, fac, ROUND_OFF_SHIFT))
    if count < 0:
        message = "non-finite pivot: the state has diverged"
        raise ArithmeticError(message)
    return count


def critical_mode(band: Array, fixed: BoolArray) -> Array:
    """Eigenvector of the eigenvalue of smallest size, by inverse iteration on the band's factors.

    Parameters
    ----------
    band : ndarray, shape (6 N + 3, 9)
        from `tangent`
    fixed : ndarray of bool, shape (6 N + 3,)
        prescribed unknowns; the mode is 0 there

    Returns
    -------
    ndarray, shape (6 N + 3,)
        mode, largest position component 1
    """
    fac = np.empty_like(band)
    if factor(band, fac, 0.0) < 0:
        factor(band, fac, ROUND_OFF_SHIFT)
    n = band.shape[0]
    # a start that is no mode of any symmetric structure, the same each time
    mode = np.where(fixed, 0.0, 1.0 + np.cos(1.0 + 0.7 * np.arange(n) ** 1.5))
    for _ in range(MODE_ITERATIONS):
        b = mode[None, :].copy()
        solve(fac, b)
        mode = np.where(fixed, 0.0, b[0])
        mode /= np.linalg.norm(mode)
    places = np.concatenate([mode[a::6] for a in range(3)])
    return np.asarray(mode / places[np.argmax(np.abs(places))])


def critical_load(
    state: Callable[[float], State],
    fixed: BoolArray,
    low: float,
    high: float,
    tolerance: float = LOAD_TOLERANCE,
) -> CriticalLoad:
    """First change of the inertia along a path of states, bracketed by bisection.

    Parameters
    ----------
    state : callable
        load -> (rod, x, q, potential) of the path to be judged (for a straight column: the compressed column)
    fixed : ndarray of bool, shape (6 N + 3,)
        prescribed unknowns
    low, high : float
        loads with equal-to-path count and with a changed count
    tolerance : float
        relative width of the final bracket

    Raises
    ------
    ValueError
        when the count is the same at both ends
    """

    def band(load: float) -> Array:
        rod, x, q, potential = state(load)
        return tangent(rod, x, q, fixed, potential)

    start = negative_count(band(low))
    if negative_count(band(high)) == start:
        message = f"the count is {start} at both {low:g} and {high:g}: no critical load bracketed; widen the range"
        raise ValueError(message)
    while high - low > tolerance * abs(high):
        middle = 0.5 * (low + high)
        if negative_count(band(middle)) == start:
            low = middle
        else:
            high = middle
    return CriticalLoad(0.5 * (low + high), (low, high), critical_mode(band(low), fixed))
