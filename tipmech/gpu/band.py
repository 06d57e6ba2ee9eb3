"""Factors and solution of a banded system by the 32 threads of a warp: see `rod/band.py`, for which this stands.

The same L D L^T in the same storage, eight rows at a time. The right-hand sides are rows of the system, below all
others: what eliminates those carries L^-1 forward. Sums come in another order than there.
"""

from numba import cuda
from numba.cuda import types

from ..kernel import inlined
from ..kernel.team import together
from ..rod import band as alone
from .team import lane, stands_for

HUGE = alone.HUGE
SUB, RHS, ROWS = 8, 16, 20  # rows at work: eight on the diagonal, eight below, up to four right-hand sides
PAD = 9


@stands_for(alone.factor_and_solve)
def _(band, fac, b):  # type: ignore[no-untyped-def]
    work = cuda.shared.array((ROWS, PAD), types.float64)  # what is left of the rows in the eight columns
    low = cuda.shared.array((ROWS, PAD), types.float64)  # the same over the pivots: L
    t, n, count = lane(), band.shape[0], b.shape[0]
    row, col = t // 8, t % 8  # of the entries that a thread moves: rows row, row + 4 and so on
    _start(work, band, b, row, col)
    together()
    negative = 0
    for first in range(0, n, 8):
        ahead = _ahead(band, b, first + 8, row, col)  # read early: needed below
        mine, last = min(t, ROWS - 1), min(8, n - first)
        for c in range(8):
            pivot = work[c, c]
            if not (pivot != 0.0 and abs(pivot) < HUGE):
                return -1
            negative += pivot < 0.0
            inverse = 1.0 / pivot
            factor = work[mine, c] * inverse
            if t > c and t < ROWS:
                for k in range(c + 1, 8):
                    work[t, k] -= factor * work[k, c]
                low[t, c] = factor
            elif t == c:
                low[t, c] = inverse
            together()
        _keep(low, fac, b, first, row, col, last)
        zero, one, two = ahead[0], ahead[1], ahead[2]
        for c in range(8):
            u = work[SUB + col, c]
            zero -= low[SUB + row, c] * u
            one -= low[SUB + row + 4, c] * u
            two -= low[RHS + row, c] * u
        together()
        work[row, col], work[row + 4, col], work[RHS + row, col] = zero, one, two
        work[SUB + row, col], work[SUB + row + 4, col] = ahead[3], ahead[4]
        together()
    _back(fac, b, n, count, row, col)
    return negative


@inlined
def _entry(band, i, j):  # type: ignore[no-untyped-def]
    """Entry of the lower triangle; behind the last row that of the unit matrix."""
    if i >= band.shape[0]:
        return 1.0 if i == j else 0.0
    return band[i, 8 + j - i] if 0 <= i - j <= 8 else 0.0


@inlined
def _side(b, k, i):  # type: ignore[no-untyped-def]
    """Entry of a right-hand side."""
    return b[k, i] if k < b.shape[0] and i < b.shape[1] else 0.0


@inlined
def _start(work, band, b, row, col):  # type: ignore[no-untyped-def]
    """The first eight columns."""
    work[row, col], work[row + 4, col] = _entry(band, row, col), _entry(band, row + 4, col)
    work[SUB + row, col], work[SUB + row + 4, col] = _entry(band, 8 + row, col), _entry(band, 12 + row, col)
    work[RHS + row, col] = _side(b, row, col)


@inlined
def _ahead(band, b, first, row, col):  # type: ignore[no-untyped-def]
    """The eight columns from `first` on: entries of the diagonal block, of the right-hand sides, of the block below."""
    i, j = first + row, first + col
    return (
        _entry(band, i, j),
        _entry(band, i + 4, j),
        _side(b, row, j),
        _entry(band, i + 8, j),
        _entry(band, i + 12, j),
    )


@inlined
def _keep(low, fac, b, first, row, col, last):  # type: ignore[no-untyped-def]
    """Write the columns from `first` on."""
    n = fac.shape[0]
    for q in (row, row + 4):
        if q < last and col <= q:
            fac[first + q, 8 + col - q] = low[q, col]
        if first + 8 + q < n and col >= q:
            fac[first + 8 + q, col - q] = low[SUB + q, col]
    if row < b.shape[0] and col < last:
        b[row, first + col] = low[RHS + row, col]


@inlined
def _back(fac, b, n, count, side, r):  # type: ignore[no-untyped-def]
    """Solve with L^T: thread r of eight a right-hand side has row r of the eight at work."""
    x = 0.0  # of the rows below
    for first in range((n - 1) // 8 * 8, -1, -8):
        i = first + r
        value = b[side, i] if side < count and i < n else 0.0
        for c in range(8):
            below = cuda.shfl_sync(0xFFFFFFFF, x, 8 * side + c)
            if c <= r and first + 8 + c < n:
                value -= fac[first + 8 + c, r - c] * below
        for k in range(7):
            c = 7 - k
            last = cuda.shfl_sync(0xFFFFFFFF, value, 8 * side + c)
            if c > r and first + c < n:
                value -= fac[first + c, 8 + r - c] * last
        x = value
        if side < count and i < n:
            b[side, i] = x
    together()
