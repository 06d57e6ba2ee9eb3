"""Factors and solution of a banded system by the 32 threads of a warp: see `rod/band.py`, for which these stand.

The same L D L^T in the same storage, column by column: what a column adds to the 36 entries behind it is dealt out.
Sums come in another order than there.
"""

from numba import cuda
from numba.cuda import types

from ..kernel import inlined
from ..rod import band as alone
from .team import ALL, lane, stands_for

RING = 16  # rows at work, in shared memory: a power of two above 8 + 1
HUGE = alone.HUGE


@stands_for(alone.factor)
def _(band, fac, shift):  # type: ignore[no-untyped-def]
    ring = cuda.shared.array((RING, 9), types.float64)
    r, n = lane(), band.shape[0]
    k, m = 1, r  # the pair 1 <= m <= k of number r; pairs 32 to 35 are (8, 5) to (8, 8)
    while m >= k:
        m -= k
        k += 1
    m += 1
    negative = 0
    cuda.syncwarp()
    for row in range(9):
        if r < 9 and row < n:
            value = band[row, r]
            ring[row, r] = value + shift * abs(value) if r == 8 else value
    ahead = band[9, r] if r < 9 and n > 9 else 0.0
    cuda.syncwarp()
    for i in range(n):
        pivot = ring[i % RING, 8]
        if not (pivot != 0.0 and abs(pivot) < HUGE):
            return -1
        negative += pivot < 0.0
        inverse = 1.0 / pivot
        a, b = ring[(i + k) % RING, 8 - k], ring[(i + m) % RING, 8 - m]
        c, d = ring[(i + 8) % RING, 0], ring[(i + r + 5) % RING, 3 - r] if r < 4 else 0.0
        own = ring[(i + r + 1) % RING, 7 - r] if r < 8 else 0.0
        cuda.syncwarp()
        if i + k < n:
            ring[(i + k) % RING, 8 - k + m] -= a * b * inverse
        if r < 4 and i + 8 < n:
            ring[(i + 8) % RING, r + 5] -= c * d * inverse
        if r < 8:
            ring[(i + r + 1) % RING, 7 - r] = own * inverse
        if r < 9:
            fac[i, r] = inverse if r == 8 else ring[i % RING, r]
            ring[(i + 9) % RING, r] = ahead + shift * abs(ahead) if r == 8 else ahead
            if i + 10 < n:
                ahead = band[i + 10, r]
        cuda.syncwarp()
    return negative


@stands_for(alone.solve)
def _(fac, b):  # type: ignore[no-untyped-def]
    # eight threads a right-hand side, four of these at once: thread r has what row i + r (then i - r) is so far
    for start in range(0, b.shape[0], 4):
        mine, r, n = start + lane() // 8, lane() % 8, fac.shape[0]
        have, first = mine < b.shape[0], lane() - r
        y = b[min(mine, b.shape[0] - 1)]
        so_far = y[r] if r < n else 0.0
        one, two = _low(fac, 1 + r, r), _low(fac, 2 + r, r)
        next_one, next_two = _entry(y, 8), _entry(y, 9)
        for i in range(n):
            three, next_three = _low(fac, i + 3 + r, r), _entry(y, i + 10)
            value = cuda.shfl_sync(ALL, so_far, first)
            moved = cuda.shfl_sync(ALL, so_far, lane() + 1)
            if have and r == 0:
                y[i] = value
            so_far = (next_one if r == 7 else moved) - one * value
            one, two, next_one, next_two = two, three, next_two, next_three
        cuda.syncwarp()
        so_far = _scaled(fac, y, n - 1 - r)
        one, two = _low(fac, n - 1, r), _low(fac, n - 2, r)
        next_one, next_two = _scaled(fac, y, n - 9), _scaled(fac, y, n - 10)
        for i in range(n - 1, -1, -1):
            three, next_three = _low(fac, i - 2, r), _scaled(fac, y, i - 10)
            value = cuda.shfl_sync(ALL, so_far, first)
            moved = cuda.shfl_sync(ALL, so_far, lane() + 1)
            if have and r == 0:
                y[i] = value
            so_far = (next_one if r == 7 else moved) - one * value
            one, two, next_one, next_two = two, three, next_two, next_three
        cuda.syncwarp()


@inlined
def _low(fac, i, r):  # type: ignore[no-untyped-def]
    return fac[i, 7 - r] if 0 <= i < fac.shape[0] else 0.0


@inlined
def _entry(y, i):  # type: ignore[no-untyped-def]
    return y[i] if i < y.shape[0] else 0.0


@inlined
def _scaled(fac, y, i):  # type: ignore[no-untyped-def]
    return y[i] * fac[i, 8] if i >= 0 else 0.0
