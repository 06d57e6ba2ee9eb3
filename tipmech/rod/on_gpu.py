"""Factors and solution of a banded system by the 32 threads of a warp: see `band.py`, for which this stands.

The same L D L^T in the same storage, eight rows at a time. The right-hand sides are rows of the system, below all
others: what eliminates those carries L^-1 forward. Sums come in another order than there.
"""

from numba import cuda, types

from ..gpu.team import ALL, lane, stands_for
from ..kernel import inlined
from ..kernel.team import together
from . import band as alone

HUGE = alone.HUGE
SUB, RHS, ROWS = 8, 16, 20  # rows at work: eight on the diagonal, eight below, up to four right-hand sides
PAD = 9


@stands_for(alone.factor_and_solve)
def _(band, fac, b):  # type: ignore[no-untyped-def]
    work = cuda.shared.array((ROWS, PAD), types.float64)  # what is left of the rows in the eight columns
    low = cuda.shared.array((ROWS, PAD), types.float64)  # the same over the pivots: L; the pivots' inverses
    t, n, count = lane(), band.shape[0], b.shape[0]
    row, col = t // 8, t % 8  # of the entries that a thread moves: rows row, row + 4 and so on
    mine = min(t, ROWS - 1)  # the row that it eliminates from
    _put(work, _ahead(band, b, 0, row, col), row, col)
    together()
    negative = 0
    for first in range(0, n, 8):
        ahead = _ahead(band, b, first + 8, row, col)  # read early: needed below
        w = (
            work[mine, 0], work[mine, 1], work[mine, 2], work[mine, 3],
            work[mine, 4], work[mine, 5], work[mine, 6], work[mine, 7],
        )  # fmt: skip
        w, bad0, minus0 = _eliminate(work, low, mine, w, 0)
        w, bad1, minus1 = _eliminate(work, low, mine, w, 1)
        w, bad2, minus2 = _eliminate(work, low, mine, w, 2)
        w, bad3, minus3 = _eliminate(work, low, mine, w, 3)
        w, bad4, minus4 = _eliminate(work, low, mine, w, 4)
        w, bad5, minus5 = _eliminate(work, low, mine, w, 5)
        w, bad6, minus6 = _eliminate(work, low, mine, w, 6)
        w, bad7, minus7 = _eliminate(work, low, mine, w, 7)
        together()
        if bad0 or bad1 or bad2 or bad3 or bad4 or bad5 or bad6 or bad7:
            return -1
        negative += minus0 + minus1 + minus2 + minus3 + minus4 + minus5 + minus6 + minus7
        _keep(low, fac, b, first, row, col, min(8, n - first))
        zero, one, two = ahead[0], ahead[1], ahead[2]
        for c in range(8):
            u = work[SUB + col, c]
            zero -= low[SUB + row, c] * u
            one -= low[SUB + row + 4, c] * u
            two -= low[RHS + row, c] * u
        together()
        _put(work, (zero, one, two, ahead[3], ahead[4]), row, col)
        together()
    _back(fac, b, n, count, row, col)
    return negative


@inlined
def _eliminate(work, low, t, w, c):  # type: ignore[no-untyped-def]
    """Column c of the eight from row t, whose entries are w: these, whether there is no pivot, and 1 for a negative
    one."""
    work[t, c] = w[c]
    together()
    pivot = work[c, c]
    bad = not (pivot != 0.0 and abs(pivot) < HUGE)
    inverse = 1.0 / pivot
    f = w[c] * inverse
    low[t, c] = inverse if t == c else f
    if t <= c:
        f = 0.0
    w = (
        w[0],
        w[1] - f * work[1, c] if c < 1 else w[1],
        w[2] - f * work[2, c] if c < 2 else w[2],
        w[3] - f * work[3, c] if c < 3 else w[3],
        w[4] - f * work[4, c] if c < 4 else w[4],
        w[5] - f * work[5, c] if c < 5 else w[5],
        w[6] - f * work[6, c] if c < 6 else w[6],
        w[7] - f * work[7, c] if c < 7 else w[7],
    )
    return w, bad, 1 if pivot < 0.0 else 0


@inlined
def _put(work, entries, row, col):  # type: ignore[no-untyped-def]
    """Entries that this thread moves: of the diagonal block, of the right-hand sides, of the block below."""
    work[row, col], work[row + 4, col], work[RHS + row, col] = entries[0], entries[1], entries[2]
    work[SUB + row, col], work[SUB + row + 4, col] = entries[3], entries[4]


@inlined
def _entry(band, i, j):  # type: ignore[no-untyped-def]
    """Entry of the lower triangle; behind the last row that of the unit matrix."""
    if i >= band.shape[0]:
        return 1.0 if i == j else 0.0
    return band[i, 8 + j - i] if 0 <= i - j <= 8 else 0.0


@inlined
def _side(b, k, i):  # type: ignore[no-untyped-def]
    """Entry of a right-hand side."""
    return b[k, i] if k < b.shape[0] and 0 <= i < b.shape[1] else 0.0


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
    first = (n - 1) // 8 * 8
    column, value = _column(fac, first, r), _side(b, side, first + r)
    while first >= 0:
        ahead, next_value = _column(fac, first - 8, r), _side(b, side, first - 8 + r)
        for c in range(8):
            value -= column[8 + c] * cuda.shfl_sync(ALL, x, 8 * side + c)
        for k in range(7):
            value -= column[7 - k] * cuda.shfl_sync(ALL, value, 8 * side + 7 - k)
        x = value
        if side < count and first + r < n:
            b[side, first + r] = x
        first -= 8
        column, value = ahead, next_value
    together()


@inlined
def _column(fac, first, r):  # type: ignore[no-untyped-def]
    """Column r of L in the eight rows from `first` on (those below the diagonal; else 0), and in the eight below."""
    return (
        0.0,
        _below(fac, first + 1, 7 + r, r < 1), _below(fac, first + 2, 6 + r, r < 2),
        _below(fac, first + 3, 5 + r, r < 3), _below(fac, first + 4, 4 + r, r < 4),
        _below(fac, first + 5, 3 + r, r < 5), _below(fac, first + 6, 2 + r, r < 6),
        _below(fac, first + 7, 1 + r, r < 7), _below(fac, first + 8, r, True),
        _below(fac, first + 9, r - 1, r > 0), _below(fac, first + 10, r - 2, r > 1),
        _below(fac, first + 11, r - 3, r > 2), _below(fac, first + 12, r - 4, r > 3),
        _below(fac, first + 13, r - 5, r > 4), _below(fac, first + 14, r - 6, r > 5),
        _below(fac, first + 15, r - 7, r > 6),
    )  # fmt: skip


@inlined
def _below(fac, i, k, there):  # type: ignore[no-untyped-def]
    """Entry k of row i of the factors; 0 where there is none."""
    return fac[i, k] if there and 0 <= i < fac.shape[0] else 0.0
