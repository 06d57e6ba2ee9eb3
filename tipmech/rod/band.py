"""Symmetric banded matrices: storage, L D L^T factorisation with its inertia, solution.

Row i of `band` holds columns i-8 .. i of the lower triangle (diagonal last); half-bandwidth 8 is what the
ordering x_0, th_0, x_1, th_1, ... of the rod's unknowns needs.
"""

import numpy as np
from numpy.typing import NDArray

from ..kernel import inlined, kernel
from .small import M

Array = NDArray[np.float64]

Eight = tuple[float, float, float, float, float, float, float, float]

HALF = 8  # half-bandwidth
WIDTH = HALF + 1
HUGE = 1e300  # a pivot beyond this is a diverged matrix


@inlined
def write_near(band: Array, row: int, near: M, diagonal: M) -> None:
    """Write three rows from the block left of the diagonal on: that block and the lower triangle of the diagonal's."""
    band[row, HALF - 3], band[row, HALF - 2], band[row, HALF - 1] = near[0], near[1], near[2]
    band[row + 1, HALF - 4], band[row + 1, HALF - 3], band[row + 1, HALF - 2] = near[3], near[4], near[5]
    band[row + 2, HALF - 5], band[row + 2, HALF - 4], band[row + 2, HALF - 3] = near[6], near[7], near[8]
    band[row, HALF] = diagonal[0]
    band[row + 1, HALF - 1], band[row + 1, HALF] = diagonal[3], diagonal[4]
    band[row + 2, HALF - 2], band[row + 2, HALF - 1], band[row + 2, HALF] = diagonal[6], diagonal[7], diagonal[8]


@inlined
def write_far(band: Array, row: int, far: M) -> None:
    """Write what lies left of that in the same rows: minus the block two left of the diagonal."""
    band[row, 0], band[row, 1], band[row + 1, 0] = 0.0, 0.0, 0.0
    band[row, HALF - 6], band[row, HALF - 5], band[row, HALF - 4] = 0.0 - far[0], 0.0 - far[1], 0.0 - far[2]
    band[row + 1, HALF - 7], band[row + 1, HALF - 6], band[row + 1, HALF - 5] = 0.0 - far[3], 0.0 - far[4], 0.0 - far[5]
    band[row + 2, HALF - 8], band[row + 2, HALF - 7], band[row + 2, HALF - 6] = 0.0 - far[6], 0.0 - far[7], 0.0 - far[8]


@kernel
def add_diagonal(band: Array, row: int, m: M) -> None:
    """Add a symmetric 3x3 block on the diagonal (its lower triangle)."""
    band[row, HALF] += m[0]
    band[row + 1, HALF - 1] += m[3]
    band[row + 1, HALF] += m[4]
    band[row + 2, HALF - 2] += m[6]
    band[row + 2, HALF - 1] += m[7]
    band[row + 2, HALF] += m[8]


@kernel
def factor(band: Array, fac: Array, shift: float) -> int:
    """Factorise band + shift diag|band| = L D L^T into `fac` (1/D in the last column).

    The inner loops are written out: 8 steps of at most 7 products a row, kept in registers (20 us against
    44 us as loops at 723 unknowns; LAPACK's banded Cholesky and solve: 55 us).

    Returns
    -------
    int
        number of negative pivots = negative eigenvalues (Sylvester's law of inertia); -1: a zero or
        non-finite pivot
    """
    n = band.shape[0]
    negative = 0
    for i in range(min(HALF, n)):
        pivot = _first_row(band, fac, i, shift)
        if not (pivot != 0.0 and abs(pivot) < HUGE):
            return -1
        negative += pivot < 0.0
    for i in range(HALF, n):
        a = i - 8
        u0 = band[i, 0]
        u1 = band[i, 1] - u0 * fac[a + 1, 7]
        u2 = band[i, 2] - u0 * fac[a + 2, 6] - u1 * fac[a + 2, 7]
        u3 = band[i, 3] - u0 * fac[a + 3, 5] - u1 * fac[a + 3, 6] - u2 * fac[a + 3, 7]
        u4 = band[i, 4] - u0 * fac[a + 4, 4] - u1 * fac[a + 4, 5] - u2 * fac[a + 4, 6] - u3 * fac[a + 4, 7]
        u5 = band[i, 5] - u0 * fac[a + 5, 3] - u1 * fac[a + 5, 4] - u2 * fac[a + 5, 5] - u3 * fac[a + 5, 6]
        u5 -= u4 * fac[a + 5, 7]
        u6 = band[i, 6] - u0 * fac[a + 6, 2] - u1 * fac[a + 6, 3] - u2 * fac[a + 6, 4] - u3 * fac[a + 6, 5]
        u6 -= u4 * fac[a + 6, 6] + u5 * fac[a + 6, 7]
        u7 = band[i, 7] - u0 * fac[a + 7, 1] - u1 * fac[a + 7, 2] - u2 * fac[a + 7, 3] - u3 * fac[a + 7, 4]
        u7 -= u4 * fac[a + 7, 5] + u5 * fac[a + 7, 6] + u6 * fac[a + 7, 7]
        l0, l1, l2, l3 = u0 * fac[a, 8], u1 * fac[a + 1, 8], u2 * fac[a + 2, 8], u3 * fac[a + 3, 8]
        l4, l5, l6, l7 = u4 * fac[a + 4, 8], u5 * fac[a + 5, 8], u6 * fac[a + 6, 8], u7 * fac[a + 7, 8]
        pivot = band[i, 8] + shift * abs(band[i, 8])
        pivot -= (l0 * u0 + l1 * u1) + (l2 * u2 + l3 * u3) + (l4 * u4 + l5 * u5) + (l6 * u6 + l7 * u7)
        fac[i, 0], fac[i, 1], fac[i, 2], fac[i, 3] = l0, l1, l2, l3
        fac[i, 4], fac[i, 5], fac[i, 6], fac[i, 7] = l4, l5, l6, l7
        if not (pivot != 0.0 and abs(pivot) < HUGE):
            return -1
        negative += pivot < 0.0
        fac[i, 8] = 1.0 / pivot
    return negative


@kernel
def _first_row(band: Array, fac: Array, i: int, shift: float) -> float:
    """Row i < 8 of the factorisation, as plain loops; returns the pivot."""
    pivot = band[i, HALF] + shift * abs(band[i, HALF])
    for j in range(i):
        k = HALF + j - i
        value = band[i, k]
        for m in range(j):
            value -= fac[i, HALF + m - i] * fac[j, HALF + m - j]
        fac[i, k] = value
    for j in range(i):
        k = HALF + j - i
        low = fac[i, k] * fac[j, HALF]
        pivot -= low * fac[i, k]
        fac[i, k] = low
    fac[i, HALF] = 1.0 / pivot
    return pivot


@kernel
def solve(fac: Array, b: Array) -> None:
    """Solve L D L^T y = b in place; `b` has one row per right-hand side, shape (m, n).

    A row of L waits for the one before it, so right-hand sides go through it two at a time, one in the other's
    waiting time; the eight values that a row needs stay in registers (723 unknowns: one in 5 to 7 us, two in 6 to 10;
    as loops over memory 8.4 us each).
    """
    m = b.shape[0]
    for c in range(0, m - 1, 2):
        _solve_two(fac, b[c], b[c + 1])
    if m % 2 == 1:
        _solve_one(fac, b[m - 1])


@kernel
def factor_and_solve(band: Array, fac: Array, b: Array) -> int:
    """Factorise a band and solve for right-hand sides, in place; returns what `factor` does (-1: not solved)."""
    negative = factor(band, fac, 0.0)
    if negative >= 0:
        solve(fac, b)
    return negative


@kernel
def _solve_one(fac: Array, b: Array) -> None:
    """One right-hand side, shape (n,)."""
    n = fac.shape[0]
    _first_rows(fac, b)
    if n > HALF:
        v = (b[0], b[1], b[2], b[3], b[4], b[5], b[6], b[7])
        for i in range(HALF, n):
            value = _ahead(fac, i, b[i], v)
            b[i] = value
            v = (v[1], v[2], v[3], v[4], v[5], v[6], v[7], value)
    _last_rows(fac, b)
    if n > HALF:
        k = n - HALF
        v = (b[k], b[k + 1], b[k + 2], b[k + 3], b[k + 4], b[k + 5], b[k + 6], b[k + 7])
        for i in range(k - 1, -1, -1):
            value = _back(fac, i, b[i], v)
            b[i] = value
            v = (value, v[0], v[1], v[2], v[3], v[4], v[5], v[6])


@kernel
def _solve_two(fac: Array, b: Array, d: Array) -> None:
    """Two right-hand sides, shape (n,) each."""
    n = fac.shape[0]
    _first_rows(fac, b)
    _first_rows(fac, d)
    if n > HALF:
        v = (b[0], b[1], b[2], b[3], b[4], b[5], b[6], b[7])
        w = (d[0], d[1], d[2], d[3], d[4], d[5], d[6], d[7])
        for i in range(HALF, n):
            one, two = _ahead(fac, i, b[i], v), _ahead(fac, i, d[i], w)
            b[i], d[i] = one, two
            v = (v[1], v[2], v[3], v[4], v[5], v[6], v[7], one)
            w = (w[1], w[2], w[3], w[4], w[5], w[6], w[7], two)
    _last_rows(fac, b)
    _last_rows(fac, d)
    if n > HALF:
        k = n - HALF
        v = (b[k], b[k + 1], b[k + 2], b[k + 3], b[k + 4], b[k + 5], b[k + 6], b[k + 7])
        w = (d[k], d[k + 1], d[k + 2], d[k + 3], d[k + 4], d[k + 5], d[k + 6], d[k + 7])
        for i in range(k - 1, -1, -1):
            one, two = _back(fac, i, b[i], v), _back(fac, i, d[i], w)
            b[i], d[i] = one, two
            v = (one, v[0], v[1], v[2], v[3], v[4], v[5], v[6])
            w = (two, w[0], w[1], w[2], w[3], w[4], w[5], w[6])


@inlined
def _ahead(fac: Array, i: int, b: float, v: Eight) -> float:
    """Entry i of the solution with L from those of the eight rows before."""
    value = b - (fac[i, 0] * v[0] + fac[i, 1] * v[1])
    value -= (fac[i, 2] * v[2] + fac[i, 3] * v[3]) + fac[i, 4] * v[4]
    return value - ((fac[i, 5] * v[5] + fac[i, 6] * v[6]) + fac[i, 7] * v[7])


@inlined
def _back(fac: Array, i: int, b: float, v: Eight) -> float:
    """Entry i of the solution with D L^T from those of the eight rows behind."""
    value = b * fac[i, 8] - fac[i + 8, 0] * v[7]
    value = value - fac[i + 7, 1] * v[6] - fac[i + 6, 2] * v[5] - fac[i + 5, 3] * v[4]
    return value - fac[i + 4, 4] * v[3] - fac[i + 3, 5] * v[2] - fac[i + 2, 6] * v[1] - fac[i + 1, 7] * v[0]


@kernel
def _first_rows(fac: Array, b: Array) -> None:
    """Solution with L, its first eight entries."""
    for i in range(min(HALF, fac.shape[0])):
        for k in range(HALF - i, HALF):
            b[i] -= fac[i, k] * b[i + k - HALF]


@kernel
def _last_rows(fac: Array, b: Array) -> None:
    """Solution with D L^T, its last eight entries."""
    n = fac.shape[0]
    for i in range(n - 1, max(n - 1 - HALF, -1), -1):
        b[i] *= fac[i, HALF]
        for k in range(n - 1 - i, 0, -1):
            b[i] -= fac[i + k, HALF - k] * b[i + k]
