"""The linear systems of a structure: prescribed unknowns, factorisation with inertia or determinant, solution.

A band of half-bandwidth 8 goes to `band.py`; a frame at an inner node widens it to 11, factorised by plain loops.
What has no potential makes the matrix unsymmetric: LAPACK's banded LU then.
"""

from math import sqrt

import numpy as np
from scipy.linalg.lapack import dgbtrf, dgbtrs

from ..kernel import kernel
from .band import HALF as NARROW
from .band import HUGE
from .band import factor as factor_narrow
from .band import solve as solve_narrow
from .elastic import Array
from .model import BoolArray, IntArray, Model, System
from .moving import largest_turn
from .small import M

ROUND_OFF_SHIFT = 1e-15  # of the diagonal
FOUNDATION, FOUNDATION_GROWTH, FOUNDATION_MAX = 0.01, 6.0, 1e12  # EI/L4: buckled modes begin near 1
ASIDE = 1e-3  # least cosine between residual and mode: below, symmetry holds the state where it is
MODE_ITERATIONS = 4  # a direction is wanted, not an eigenvector


@kernel
def add_block(band: Array, row: int, col: int, m: M) -> None:
    """Add a 3x3 block below the diagonal (row >= col + 3)."""
    k = band.shape[1] - 1 + col - row
    for a in range(3):
        band[row + a, k - a] += m[3 * a]
        band[row + a, k - a + 1] += m[3 * a + 1]
        band[row + a, k - a + 2] += m[3 * a + 2]


@kernel
def add_diagonal(band: Array, row: int, m: M) -> None:
    """Add a symmetric 3x3 block on the diagonal (its lower triangle)."""
    half = band.shape[1] - 1
    band[row, half] += m[0]
    band[row + 1, half - 1] += m[3]
    band[row + 1, half] += m[4]
    band[row + 2, half - 2] += m[6]
    band[row + 2, half - 1] += m[7]
    band[row + 2, half] += m[8]


@kernel
def add_nodal(at_node: IntArray, gradient: Array, hessian: Array, grad: Array, band: Array) -> None:
    """Add gradients (N + 1, 3) and Hessian blocks (N + 1, 3, 3) by node positions."""
    half = band.shape[1] - 1
    for i in range(at_node.shape[0]):
        k = at_node[i]
        for a in range(3):
            grad[k + a] += gradient[i, a]
            for b in range(a + 1):
                band[k + a, half + b - a] += hessian[i, a, b]


@kernel
def impose(band: Array, rhs: Array, fixed: BoolArray, moves: Array) -> None:
    """Take the prescribed unknowns out of a band and put their increments `moves` (k, n) into right sides (k, n)."""
    n = band.shape[0]
    half = band.shape[1] - 1
    for i in range(n):
        if not fixed[i]:
            continue
        first, end = max(0, i - half), min(n, i + half + 1)
        for c in range(rhs.shape[0]):
            rhs[c, i] = moves[c, i]
            if moves[c, i] != 0.0:
                for j in range(first, end):
                    if not fixed[j]:
                        rhs[c, j] -= band[max(i, j), half + min(i, j) - max(i, j)] * moves[c, i]
        for j in range(first, i):
            band[i, half + j - i] = 0.0
        for j in range(i + 1, end):
            band[j, half + i - j] = 0.0
        band[i, half] = 1.0


@kernel
def factor(band: Array, fac: Array, shift: float) -> int:
    """Factorise band + shift diag|band| = L D L^T; number of negative pivots, -1: a zero or non-finite one."""
    half = band.shape[1] - 1
    if half == NARROW:
        return factor_narrow(band, fac, shift)
    n = band.shape[0]
    negative = 0
    for i in range(n):
        first = max(0, i - half)
        for j in range(first, i):
            value = band[i, half + j - i]
            for m in range(max(first, j - half), j):
                value -= fac[i, half + m - i] * fac[j, half + m - j]
            fac[i, half + j - i] = value
        pivot = band[i, half] + shift * abs(band[i, half])
        for j in range(first, i):
            low = fac[i, half + j - i] * fac[j, half]
            pivot -= low * fac[i, half + j - i]
            fac[i, half + j - i] = low
        if not (pivot != 0.0 and abs(pivot) < HUGE):
            return -1
        negative += pivot < 0.0
        fac[i, half] = 1.0 / pivot
    return negative


@kernel
def solve(fac: Array, b: Array) -> None:
    """Solve L D L^T y = b in place; `b` has one row per right-hand side."""
    half = fac.shape[1] - 1
    if half == NARROW:
        solve_narrow(fac, b)
        return
    n = fac.shape[0]
    for c in range(b.shape[0]):
        for i in range(n):
            for k in range(max(0, half - i), half):
                b[c, i] -= fac[i, k] * b[c, i + k - half]
        for i in range(n):
            b[c, i] *= fac[i, half]
        for i in range(n - 1, -1, -1):
            for k in range(max(0, half - i), half):
                b[c, i + k - half] -= fac[i, k] * b[c, i]


@kernel
def prepare(model: Model, out: System, moves: Array) -> None:
    """Right sides -grad and -load, and the prescribed increments imposed on them and on the band."""
    for i in range(out.grad.shape[0]):
        out.rhs[0, i] = -out.grad[i]
        out.rhs[1, i] = -out.load[i]
    impose(out.band, out.rhs, model.fixed, moves)


@kernel
def newton_step(model: Model, out: System, moves: Array, positive: bool) -> int:
    """Both solutions of the symmetric system into rhs; returns the number of negative pivots (-1: none found).

    With `positive` an indefinite system is left unsolved, prepared for `shifted_step`.
    """
    prepare(model, out, moves)
    count = factor(out.band, out.fac, 0.0)
    if count < 0:  # a pivot that is exactly zero: a shift at round-off decides
        count = factor(out.band, out.fac, ROUND_OFF_SHIFT)
    if count == 0 or (count > 0 and not positive):
        solve(out.fac, out.rhs)
    return count


@kernel
def shifted_step(model: Model, out: System, mode: Array, fall: float) -> bool:
    """Descent where the system that `newton_step` has left is indefinite; whether one was found.

    rhs[0] becomes the step with a foundation (a multiple of `model.metric`) under all unknowns that makes the matrix
    positive definite. Where this promises less than a turn by `fall` (rad; 0: never) along the direction of the lowest
    eigenvalue against that metric, this turn is added, downhill: off an unstable state. The direction comes from
    inverse iteration from the step itself, so that of modes that are alike it follows the load; `mode` (1, n) is its
    workspace.
    """
    n, half = out.band.shape[0], out.band.shape[1] - 1
    shift, added = FOUNDATION, 0.0
    while True:
        for i in range(n):
            out.band[i, half] += (shift - added) * model.metric[i]
        added = shift
        if factor(out.band, out.fac, 0.0) == 0:
            break
        shift *= FOUNDATION_GROWTH
        if shift > FOUNDATION_MAX:
            return False
    solve(out.fac, out.rhs)
    if fall == 0.0:
        return True
    for i in range(n):
        mode[0, i] = out.rhs[0, i]
    for _ in range(MODE_ITERATIONS):
        before = sqrt(square(model.metric, mode))
        for i in range(n):
            mode[0, i] *= model.metric[i] / before
        solve(out.fac, mode)
    lowest = 1.0 / sqrt(square(model.metric, mode)) - shift
    slope, downhill, pull, way = 0.0, 0.0, 0.0, 0.0
    for i in range(n):
        slope += out.grad[i] * out.rhs[0, i]
        if not model.fixed[i]:
            force, move = out.grad[i] * model.scale[i], mode[0, i] / model.scale[i]
            downhill += force * move
            pull += force * force
            way += move * move
    size = fall / largest_turn(model, mode[0])
    gain = 0.5 * lowest * size * size * square(model.metric, mode)
    if gain < min(slope, 0.0) and abs(downhill) > ASIDE * sqrt(pull * way):
        for i in range(n):
            out.rhs[0, i] += (size if downhill <= 0.0 else -size) * mode[0, i]
    return True


@kernel
def square(metric: Array, mode: Array) -> float:
    """Squared length of a mode (1, n)."""
    total = 0.0
    for i in range(metric.shape[0]):
        total += metric[i] * mode[0, i] * mode[0, i]
    return total


@kernel
def fill_general(model: Model, out: System, moves: Array, full: Array) -> None:
    """Unsymmetric system for LAPACK: `full` (n, 3 half + 1) holds column i of its band storage in row i."""
    band, extra, fixed = out.band, out.extra, model.fixed
    n = band.shape[0]
    half = band.shape[1] - 1
    full[:] = 0.0
    for i in range(n):
        out.rhs[0, i] = -out.grad[i]
        out.rhs[1, i] = -out.load[i]
    for i in range(n):
        for j in range(max(0, i - half), min(n, i + half + 1)):
            value = extra[i, half + j - i]
            value += band[i, half + j - i] if j <= i else band[j, half + i - j]
            if fixed[i]:
                value = 1.0 if i == j else 0.0
            elif fixed[j]:
                out.rhs[0, i] -= value * moves[0, j]
                out.rhs[1, i] -= value * moves[1, j]
                value = 0.0
            full[j, 2 * half + i - j] = value
    for i in range(n):
        if fixed[i]:
            out.rhs[0, i] = moves[0, i]
            out.rhs[1, i] = moves[1, i]


class GeneralFactors:
    """LU factors of the unsymmetric system of a state.

    negative : 1 where the determinant is negative, else 0
    """

    def __init__(self, model: Model, out: System, moves: Array) -> None:
        self.half = out.band.shape[1] - 1
        full = np.empty((out.band.shape[0], 3 * self.half + 1))
        fill_general(model, out, moves, full)
        self.lu, self.pivots, info = dgbtrf(full.T, self.half, self.half, overwrite_ab=True)
        self.ok = info == 0 and bool(np.all(np.isfinite(self.lu[2 * self.half])))
        swaps = int(np.count_nonzero(self.pivots != np.arange(len(self.pivots))))
        self.negative = (swaps + int(np.count_nonzero(self.lu[2 * self.half] < 0.0))) % 2

    def solve(self, b: Array, transposed: bool = False) -> Array:
        """Solution for right-hand sides (m, n)."""
        x, _ = dgbtrs(self.lu, self.half, self.half, b.T, self.pivots, trans=int(transposed))
        return np.ascontiguousarray(x.T)
