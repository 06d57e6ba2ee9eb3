"""Profile (skyline) factorisation of a rod's tangent with couplings off the band: a wire that touches itself.

Nodes are renumbered so that coupled ones come to lie together (reverse Cuthill-McKee from the base), which keeps the
rows short: two limbs side by side become a chain of double width. The L D L^T factorisation stays exact, and its
pivots count the negative eigenvalues as those of the band do. Cuthill & McKee 1969; George & Liu, Computer Solution of
Large Sparse Positive Definite Systems, 1981, ch. 4 (from memory).
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..kernel import kernel
from .band import HALF, HUGE

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

LINKS = 32  # coupled nodes of a node: two neighbours, and at most some ten on each of two other limbs
MEAN_ROW = 64  # entries of a row for which there is room on average


class Skyline(NamedTuple):
    """Arrays of the factorisation for N + 1 nodes, n = 6 N + 3 unknowns.

    links : (N + 1, LINKS) coupled nodes; degree : (N + 1,) their number
    place : (N + 1,) position of a node in the new order; order : (N + 1,) the node at a position
    row : (n,) new number of an unknown; first, start : (n,) first column of a row and where it is stored
    value : (n MEAN_ROW,) rows of L, 1/D last; rhs : (n,) a right-hand side in the new order
    """

    links: IntArray
    degree: IntArray
    place: IntArray
    order: IntArray
    row: IntArray
    first: IntArray
    start: IntArray
    value: Array
    rhs: Array


def skyline_arrays(elements: int) -> Skyline:
    """Empty arrays for a rod of so many elements."""
    nodes, n = elements + 1, 6 * elements + 3
    whole = np.int64
    return Skyline(
        links=np.zeros((nodes, LINKS), dtype=whole),
        degree=np.zeros(nodes, dtype=whole),
        place=np.zeros(nodes, dtype=whole),
        order=np.zeros(nodes, dtype=whole),
        row=np.zeros(n, dtype=whole),
        first=np.zeros(n, dtype=whole),
        start=np.zeros(n, dtype=whole),
        value=np.zeros(n * MEAN_ROW),
        rhs=np.zeros(n),
    )


@kernel
def chain(sky: Skyline) -> None:
    """Couple every node with its neighbours along the wire and with nothing else."""
    last = sky.degree.shape[0] - 1
    for i in range(last + 1):
        sky.degree[i] = 0
        if i > 0:
            sky.links[i, sky.degree[i]] = i - 1
            sky.degree[i] += 1
        if i < last:
            sky.links[i, sky.degree[i]] = i + 1
            sky.degree[i] += 1


@kernel
def couple(sky: Skyline, a: int, b: int) -> bool:
    """Couple nodes a and b; False where a node has too many couplings."""
    for k in range(sky.degree[a]):
        if sky.links[a, k] == b:
            return True
    if sky.degree[a] == LINKS or sky.degree[b] == LINKS:
        return False
    sky.links[a, sky.degree[a]] = b
    sky.links[b, sky.degree[b]] = a
    sky.degree[a] += 1
    sky.degree[b] += 1
    return True


@kernel
def number(sky: Skyline) -> bool:
    """New order of the nodes, and the profile of the matrix; False where it does not fit."""
    nodes = sky.degree.shape[0]
    sky.place[:] = -1
    # breadth first from the base; the queue is the order itself, written from the end
    head, tail = 0, 1
    sky.order[nodes - 1], sky.place[0] = 0, nodes - 1
    while head < tail:
        i = sky.order[nodes - 1 - head]
        head += 1
        for k in range(sky.degree[i]):
            j = sky.links[i, k]
            if sky.place[j] < 0:
                sky.place[j] = nodes - 1 - tail
                sky.order[nodes - 1 - tail] = j
                tail += 1
    unknown, used = 0, 0
    for p in range(nodes):
        i = sky.order[p]
        lowest = p
        for k in range(sky.degree[i]):
            lowest = min(lowest, sky.place[sky.links[i, k]])
        count = 6 if i < nodes - 1 else 3
        column = unknown if lowest == p else sky.row[6 * sky.order[lowest]]
        for a in range(count):
            sky.row[6 * i + a] = unknown
            sky.first[unknown], sky.start[unknown] = column, used
            used += unknown - column + 1
            unknown += 1
    return used <= sky.value.shape[0]


@kernel
def add_entry(sky: Skyline, i: int, j: int, value: float) -> None:
    """Add to the entry of unknowns i and j (old numbers), once for both of its places."""
    a, b = sky.row[i], sky.row[j]
    if a < b:
        a, b = b, a
    sky.value[sky.start[a] + b - sky.first[a]] += value


@kernel
def load_band(sky: Skyline, band: Array) -> None:
    """Take over the matrix of the chain."""
    n = sky.first.shape[0]
    sky.value[: sky.start[n - 1] + n - sky.first[n - 1]] = 0.0
    for i in range(n):
        for k in range(max(0, HALF - i), HALF + 1):
            if band[i, k] != 0.0:
                add_entry(sky, i, i + k - HALF, band[i, k])


@kernel
def factor_skyline(sky: Skyline) -> int:
    """Factorise in place; returns the number of negative pivots, -1 on a zero or non-finite one (as `band.factor`)."""
    v = sky.value
    negative = 0
    for i in range(sky.first.shape[0]):
        low = sky.first[i]
        row = sky.start[i] - low
        for j in range(low, i):
            begin = max(low, sky.first[j])
            other = sky.start[j] - sky.first[j]
            v[row + j] -= _product(v, row + begin, other + begin, j - begin)
        pivot = v[row + i]
        for j in range(low, i):
            u = v[row + j]
            v[row + j] = u * v[sky.start[j] + j - sky.first[j]]
            pivot -= u * v[row + j]
        if not (pivot != 0.0 and abs(pivot) < HUGE):
            return -1
        negative += pivot < 0.0
        v[row + i] = 1.0 / pivot
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
    n = sky.first.shape[0]
    v, y = sky.value, sky.rhs
    for c in range(b.shape[0]):
        for i in range(n):
            y[sky.row[i]] = b[c, i]
        for i in range(n):
            low = sky.first[i]
            row = sky.start[i] - low
            s = y[i]
            for j in range(low, i):
                s -= v[row + j] * y[j]
            y[i] = s
        for i in range(n):
            y[i] *= v[sky.start[i] + i - sky.first[i]]
        for i in range(n - 1, -1, -1):
            low = sky.first[i]
            row = sky.start[i] - low
            s = y[i]
            for j in range(low, i):
                y[j] -= v[row + j] * s
        for i in range(n):
            b[c, i] = y[sky.row[i]]
