"""Profile (skyline) factorisation of a rod's tangent with couplings off the band: a wire that touches itself.

Nodes are renumbered so that coupled ones come to lie together (reverse Cuthill-McKee from the base), which keeps the
rows short: two limbs side by side become a chain of double width. The L D L^T factorisation stays exact, and its
pivots count the negative eigenvalues as those of the band do. Cuthill & McKee 1969; George & Liu, Computer Solution of
Large Sparse Positive Definite Systems, 1981, ch. 4 (from memory).
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..kernel import bundle, kernel
from ..kernel.team import dealt, once, together, total
from .band import HALF, HUGE

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

LINKS = 32  # coupled nodes of a node: two neighbours, and at most some ten on each of two other limbs
ROW, FIRST, START, BELOW = range(4)  # of Skyline.rows
AT = 1  # of Skyline.place: the node at a position
MEAN_ROW = 64  # entries of a row for which there is room on average


@bundle
class Skyline(NamedTuple):
    """Arrays of the factorisation for N + 1 nodes, n = 6 N + 3 unknowns.

    links : (N + 1, LINKS + 1) coupled nodes of a node; last their number
    place : (N + 1, 2) position of a node in the new order, and the node at a position
    rows : (n, 4) ROW new number of an unknown; FIRST column of a row and START, where it is stored; BELOW the last row
        that reaches to a column
    value : (n MEAN_ROW,) rows of L, 1/D last; rhs : (n,) a right-hand side in the new order
    """

    links: IntArray
    place: IntArray
    rows: IntArray
    value: Array
    rhs: Array


def skyline_arrays(elements: int) -> Skyline:
    """Empty arrays for a rod of so many elements."""
    nodes, n = elements + 1, 6 * elements + 3
    whole = np.int64
    return Skyline(
        links=np.zeros((nodes, LINKS + 1), dtype=whole),
        place=np.zeros((nodes, 2), dtype=whole),
        rows=np.zeros((n, 4), dtype=whole),
        value=np.zeros(n * MEAN_ROW),
        rhs=np.zeros(n),
    )


@kernel
def chain(sky: Skyline) -> None:
    """Couple every node with its neighbours along the wire and with nothing else."""
    last = sky.links.shape[0] - 1
    for i in range(last + 1):
        sky.links[i, LINKS] = 0
        if i > 0:
            sky.links[i, sky.links[i, LINKS]] = i - 1
            sky.links[i, LINKS] += 1
        if i < last:
            sky.links[i, sky.links[i, LINKS]] = i + 1
            sky.links[i, LINKS] += 1


@kernel
def couple(sky: Skyline, a: int, b: int) -> bool:
    """Couple nodes a and b; False where a node has too many couplings."""
    for k in range(sky.links[a, LINKS]):
        if sky.links[a, k] == b:
            return True
    if sky.links[a, LINKS] == LINKS or sky.links[b, LINKS] == LINKS:
        return False
    sky.links[a, sky.links[a, LINKS]] = b
    sky.links[b, sky.links[b, LINKS]] = a
    sky.links[a, LINKS] += 1
    sky.links[b, LINKS] += 1
    return True


@kernel
def number(sky: Skyline) -> bool:
    """New order of the nodes, and the profile of the matrix; False where it does not fit."""
    nodes = sky.links.shape[0]
    sky.place[:, 0] = -1
    # breadth first from the base; the queue is the order itself, written from the end
    head, tail = 0, 1
    sky.place[nodes - 1, AT], sky.place[0, 0] = 0, nodes - 1
    while head < tail:
        i = sky.place[nodes - 1 - head, AT]
        head += 1
        for k in range(sky.links[i, LINKS]):
            j = sky.links[i, k]
            if sky.place[j, 0] < 0:
                sky.place[j, 0] = nodes - 1 - tail
                sky.place[nodes - 1 - tail, AT] = j
                tail += 1
    unknown, used = 0, 0
    for i in dealt(sky.rows.shape[0]):
        sky.rows[i, BELOW] = i
    together()
    for p in range(nodes):
        i = sky.place[p, AT]
        lowest = p
        for k in range(sky.links[i, LINKS]):
            lowest = min(lowest, sky.place[sky.links[i, k], 0])
        count = 6 if i < nodes - 1 else 3
        column = unknown if lowest == p else sky.rows[6 * sky.place[lowest, AT], ROW]
        for a in range(count):
            sky.rows[6 * i + a, ROW] = unknown
            sky.rows[unknown, FIRST], sky.rows[unknown, START] = column, used
            sky.rows[column, BELOW] = unknown
            used += unknown - column + 1
            unknown += 1
    for i in range(1, unknown):
        sky.rows[i, BELOW] = max(sky.rows[i, BELOW], sky.rows[i - 1, BELOW])
    return used <= sky.value.shape[0]


@kernel
def add_entry(sky: Skyline, i: int, j: int, value: float) -> None:
    """Add to the entry of unknowns i and j (old numbers), once for both of its places."""
    a, b = sky.rows[i, ROW], sky.rows[j, ROW]
    if a < b:
        a, b = b, a
    sky.value[sky.rows[a, START] + b - sky.rows[a, FIRST]] += value


@kernel
def load_band(sky: Skyline, band: Array) -> None:
    """Take over the matrix of the chain."""
    n = sky.rows.shape[0]
    for i in dealt(sky.rows[n - 1, START] + n - sky.rows[n - 1, FIRST]):
        sky.value[i] = 0.0
    together()
    for i in dealt(n):
        for k in range(max(0, HALF - i), HALF + 1):
            if band[i, k] != 0.0:
                add_entry(sky, i, i + k - HALF, band[i, k])
    together()


@kernel
def factor_skyline(sky: Skyline) -> int:
    """Factorise in place; returns the number of negative pivots, -1 on a zero or non-finite one (as `band.factor`).

    Column by column: what its entries need lies to the left of it, so that they may be found side by side.
    """
    v = sky.value
    negative = 0
    for j in range(sky.rows.shape[0]):
        low = sky.rows[j, FIRST]
        row = sky.rows[j, START] - low
        pivot = once(v[row + j])
        for n in dealt(j - low):
            k = low + n
            u = v[row + k]
            v[row + k] = u * v[sky.rows[k, START] + k - sky.rows[k, FIRST]]
            pivot -= u * v[row + k]
        pivot = total(pivot)
        if not (pivot != 0.0 and abs(pivot) < HUGE):
            return -1
        negative += pivot < 0.0
        v[row + j] = 1.0 / pivot
        together()
        for n in dealt(sky.rows[j, BELOW] - j):
            i = j + 1 + n
            if sky.rows[i, FIRST] <= j:
                begin = max(low, sky.rows[i, FIRST])
                other = sky.rows[i, START] - sky.rows[i, FIRST]
                v[other + j] -= _product(v, other + begin, row + begin, j - begin)
        together()
    return negative


@kernel
def _product(v: Array, a: int, b: int, count: int) -> float:
    """Scalar product of two stretches of the store; four sums, which need not wait for one another."""
    s0, s1, s2, s3 = 0.0, 0.0, 0.0, 0.0
    whole = count - count % 4
    for k in range(0, whole, 4):
        s0 += v[a + k] * v[b + k]
        s1 += v[a + k + 1] * v[b + k + 1]
        s2 += v[a + k + 2] * v[b + k + 2]
        s3 += v[a + k + 3] * v[b + k + 3]
    for k in range(whole, count):
        s0 += v[a + k] * v[b + k]
    return (s0 + s1) + (s2 + s3)


@kernel
def solve_skyline(sky: Skyline, b: Array) -> None:
    """Solve in place; `b` has one row per right-hand side, shape (m, n), in the old order."""
    n = sky.rows.shape[0]
    v, y = sky.value, sky.rhs
    for c in range(b.shape[0]):
        for i in dealt(n):
            y[sky.rows[i, ROW]] = b[c, i]
        together()
        for i in range(n):
            low = sky.rows[i, FIRST]
            row = sky.rows[i, START] - low
            s = once(y[i])
            for k in dealt(i - low):
                s -= v[row + low + k] * y[low + k]
            y[i] = total(s)
        together()
        for i in dealt(n):
            y[i] *= v[sky.rows[i, START] + i - sky.rows[i, FIRST]]
        together()
        for i in range(n - 1, -1, -1):
            low = sky.rows[i, FIRST]
            row = sky.rows[i, START] - low
            s = y[i]
            for k in dealt(i - low):
                y[low + k] -= v[row + low + k] * s
            together()
        for i in dealt(n):
            b[c, i] = y[sky.rows[i, ROW]]
        together()
