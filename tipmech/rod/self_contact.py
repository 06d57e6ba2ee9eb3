"""Contact of a folded wire with itself: points of one limb against the smooth centreline of another. theory (34)-(36).

The distal limb's contact points meet the proximal limb's centreline, a quadratic B-spline over its nodes: its tangent
turns without jumps, so that a tip slides along the shaft without ratchet. Energies depend on the vector from the
centreline to the point, u, and on the centreline's derivative, c'; both are linear in five nodes, so that gradient and
Hessian are exact with six numbers and 21. What couples the limbs lies off the band: `rod/skyline.py` factorises it.
"""

from math import sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..kernel import bundle, inlined, kernel
from ..kernel.team import anyone, dealt, greatest, stretch, together, total
from ..smooth import ramp
from .skyline import Skyline, add_entry, chain, couple, factor_skyline, load_band, number, skyline_arrays
from .small import V, dot

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

LIMBS = 4  # other limbs that are watched from a point: in a plane it can touch two, one on either side
NORMAL, STUCK, RELEASED = 0, 1, 2  # friction as it is, all sticking, none (for the stability counts)
LEAST_TURN = 0.6 * np.pi  # rad, summed turn of the wire below which no two of its limbs can touch (they need pi)
APART = 6.0  # wire radii along the wire between points that can touch: half a turn about a radius is pi
WATCHED = 0.8e-3  # m, clearance up to which another limb is watched: more than two limbs can close in one step
SAME_LIMB = 3.0  # nodes: a foot found so near to the last one is on the same limb
FOOT_STEPS = 30  # Newton steps to the foot of a point; 3 or 4 are needed
FLAT = 0.1  # of |c'|^2: least second derivative of the half squared distance (a centre of curvature has 0)
CROSSED = 0.2  # cosine of the turn of a point's direction within a step, below which a limb may have been crossed
UP = 21  # entries of a symmetric 6 x 6 matrix
PARTS = 24  # nodes that press one thing together: some ten on each of two limbs
LEAST_SHARE = 1e-3  # of a whole gradient: a node that has less of it is not coupled
TOUCHING, RECORDS, SHARED = 0, 1, 2  # entries of Fold.counts
NEAR, REACH, GRIP, ANCHOR, STAYED, FORCE, SLID, BEFORE = range(8)  # of Fold.limb


@bundle
class Fold(NamedTuple):
    """Self-contact of a wire of N elements with n contact points.

    stiffness : N/m2, force per length and penetration; onset, slip : m, smoothing of contact, elastic slip
    arc : (N + 1,) arc length from the base, m; radius : (N + 1,) wire radius at the nodes, m
    limb : (n, LIMBS, 10) a point and other limbs: NEAR its foot there as node number and fraction, at the
        start of the step (nan: none); REACH, m, at which they touch; BEFORE (3) direction from foot to point then; GRIP
        friction limit mu N, N; ANCHOR place along the limb from which slip is measured; STAYED 1 where it stuck; FORCE,
        SLID normal force (N) and slip (m) found by the last assembly. One array, since each one more costs compile time
    found : (n, LIMBS, 2) work space of the search
    nodes : (2 LIMBS n, 2) first node of the point's element and middle node of the foot's three, of each coupling
    weight : (2 LIMBS n, 10) of u and of c' by the five nodes; hess : (2 LIMBS n, 21)
    parts : (k, PARTS + 1) nodes of limbs that press one thing (a margin) together; last their number
    share : (k, PARTS, 4) gradient of that thing's opening by each of them; in the first row's last column the factor
    counts : number of watched limbs; couplings of the last assembly; things pressed together in it
    """

    stiffness: float
    onset: float
    slip: float
    arc: Array
    radius: Array
    limb: Array
    found: Array
    nodes: IntArray
    weight: Array
    hess: Array
    parts: IntArray
    share: Array
    counts: IntArray
    sky: Skyline


def fold_arrays(
    length: Array, radius: Array, points: int, stiffness: float, onset: float, slip: float, shared: int = 0
) -> Fold:
    """Arrays for a wire of element lengths (m) and node radii (m) with so many contact points.

    shared : things that limbs may press together
    """
    limb = np.zeros((points, LIMBS, BEFORE + 3))
    limb[:, :, (NEAR, ANCHOR)] = np.nan
    return Fold(
        stiffness=stiffness,
        onset=onset,
        slip=slip,
        arc=np.concatenate([[0.0], np.cumsum(length)]),
        radius=radius.copy(),
        limb=limb,
        found=np.full((points, LIMBS, 2), np.nan),
        nodes=np.zeros((2 * LIMBS * points, 2), dtype=np.int64),
        weight=np.zeros((2 * LIMBS * points, 10)),
        hess=np.zeros((2 * LIMBS * points, UP)),
        parts=np.zeros((shared, PARTS + 1), dtype=np.int64),
        share=np.zeros((shared, PARTS, 4)),
        counts=np.zeros(3, dtype=np.int64),
        sky=skyline_arrays(len(length)),
    )


@inlined
def spline_weights(t: float) -> tuple[V, V, V]:
    """Weights of three nodes in the quadratic B-spline at t in -1/2 .. 1/2, and their two derivatives."""
    return (
        (0.5 * (0.5 - t) ** 2, 0.75 - t * t, 0.5 * (0.5 + t) ** 2),
        (t - 0.5, -2.0 * t, t + 0.5),
        (1.0, -2.0, 1.0),
    )


@inlined
def _sum(x: Array, j: int, w: V) -> V:
    """Weighted sum of nodes j - 1, j, j + 1."""
    return (
        w[0] * x[j - 1, 0] + w[1] * x[j, 0] + w[2] * x[j + 1, 0],
        w[0] * x[j - 1, 1] + w[1] * x[j, 1] + w[2] * x[j + 1, 1],
        w[0] * x[j - 1, 2] + w[1] * x[j, 2] + w[2] * x[j + 1, 2],
    )


@inlined
def middle_node(place: float, nodes: int) -> int:
    """Middle one of the three nodes that span the spline at `place`."""
    return min(max(int(np.floor(place + 0.5)), 1), nodes - 2)


@kernel
def foot(x: Array, p: V, start: float, high: float) -> float:
    """Place along the centreline nearest to p next to `start`, by Newton; nan where there is none in 1/2 .. `high`."""
    place, nodes = start, x.shape[0]
    for _ in range(FOOT_STEPS):
        j = middle_node(place, nodes)
        w, w1, w2 = spline_weights(place - j)
        c, d, dd = _sum(x, j, w), _sum(x, j, w1), _sum(x, j, w2)
        u = (p[0] - c[0], p[1] - c[1], p[2] - c[2])
        slope, square = -dot(u, d), dot(d, d)
        bend = square - dot(u, dd)
        step = -slope / (bend if bend > FLAT * square else square)
        step = min(0.5, max(-0.5, step))
        place += step
        if not 0.5 < place < high:
            return np.nan
        if abs(step) < 1e-13 * nodes:
            return place
    return np.nan


@inlined
def _point(x: Array, j: int, xi: float) -> V:
    """Position of a point of element j."""
    a = 1.0 - xi
    return (
        a * x[j, 0] + xi * x[j + 1, 0],
        a * x[j, 1] + xi * x[j + 1, 1],
        a * x[j, 2] + xi * x[j + 1, 2],
    )


@kernel
def summed_turn(x: Array) -> float:
    """Lower bound of the angle through which the wire turns along its length, rad: chords between unit vectors."""
    turned, before = 0.0, (0.0, 0.0, 0.0)
    first, behind = stretch(x.shape[0] - 1)
    for j in range(max(first - 1, 0), behind):
        d = (x[j + 1, 0] - x[j, 0], x[j + 1, 1] - x[j, 1], x[j + 1, 2] - x[j, 2])
        norm = 1.0 / sqrt(dot(d, d))
        now = (d[0] * norm, d[1] * norm, d[2] * norm)
        if j > 0 and j >= first:
            c = (now[0] - before[0], now[1] - before[1], now[2] - before[2])
            turned += sqrt(dot(c, c))
        before = now
    return total(turned)


@kernel
def watch(fold: Fold, element: IntArray, xi: Array, radius: Array, x: Array) -> bool:
    """At the start of a step: find the limbs that could come to touch; True where what touches has changed by it.

    A wire that has turned by less than `LEAST_TURN` in all is left at once, at a cost of O(N).
    """
    if fold.counts[TOUCHING] == 0 and summed_turn(x) < LEAST_TURN:
        return False
    count, changed = 0, False
    for i in dealt(element.shape[0]):
        j = element[i]
        p = _point(x, j, xi[i])
        at = fold.arc[j] + xi[i] * (fold.arc[j + 1] - fold.arc[j])
        high = _last_apart(fold, at - APART * radius[i], j)
        changed = _search(fold, i, x, p, high, radius[i]) or changed
        for limb in range(LIMBS):
            if fold.limb[i, limb, NEAR] == fold.limb[i, limb, NEAR]:
                count += 1
                changed = _look(fold, i, limb, x, p, radius[i]) or changed
    together()
    fold.counts[TOUCHING] = total(count)
    return anyone(changed)


@inlined
def _last_apart(fold: Fold, arc: float, j: int) -> int:
    """Last node before arc length `arc`, counted down from j."""
    while j > 0 and fold.arc[j] > arc:
        j -= 1
    return j


@kernel
def _search(fold: Fold, i: int, x: Array, p: V, high: int, radius: float) -> bool:
    """Give point i the nearest limbs, those already watched in their places; True where a touching one was lost."""
    found = fold.found[i]
    for k in range(LIMBS):
        found[k, 0], found[k, 1] = np.nan, np.inf
    far = 2.0 * radius + WATCHED
    before, here = np.inf, np.inf
    for k in range(high + 1):
        u = (p[0] - x[k, 0], p[1] - x[k, 1], p[2] - x[k, 2])
        after = dot(u, u)
        # node k - 1 is nearer than both neighbours, and near enough (the wire's part between nodes is nearer still)
        if k > 1 and here <= before and here < after:
            reach = far + 0.5 * (fold.arc[k] - fold.arc[k - 2])
            if here < reach * reach:
                _insert(found, foot(x, p, float(k - 1), float(high)), here)
        before, here = here, after
    lost = False
    for limb in range(LIMBS):
        known = False
        for k in range(LIMBS):
            if not known and abs(fold.limb[i, limb, NEAR] - found[k, 0]) < SAME_LIMB:
                fold.limb[i, limb, NEAR], found[k, 0], known = found[k, 0], np.nan, True
        if not known:
            lost = lost or fold.limb[i, limb, FORCE] > 0.0
            _forget(fold, i, limb)
    for limb in range(LIMBS):
        for k in range(LIMBS):
            if found[k, 0] == found[k, 0] and not fold.limb[i, limb, NEAR] == fold.limb[i, limb, NEAR]:
                fold.limb[i, limb, NEAR], found[k, 0] = found[k, 0], np.nan
    return lost


@kernel
def _insert(found: Array, place: float, square: float) -> None:
    """Put a foot (nan: none) into the list, nearest first; one so near to another along the wire is the same limb's."""
    if not place == place:
        return
    for k in range(LIMBS):
        if abs(found[k, 0] - place) < SAME_LIMB:
            if square < found[k, 1]:
                found[k, 0], found[k, 1] = place, square
            return
    for k in range(LIMBS):
        if square < found[k, 1]:
            for j in range(LIMBS - 1, k, -1):
                found[j, 0], found[j, 1] = found[j - 1, 0], found[j - 1, 1]
            found[k, 0], found[k, 1] = place, square
            return


@kernel
def _forget(fold: Fold, i: int, limb: int) -> None:
    """Take a limb out of a point's watch."""
    for a in range(BEFORE):
        fold.limb[i, limb, a] = 0.0
    fold.limb[i, limb, NEAR], fold.limb[i, limb, ANCHOR] = np.nan, np.nan


@kernel
def _look(fold: Fold, i: int, limb: int, x: Array, p: V, radius: float) -> bool:
    """Note direction and reach of a watched limb; True where the reach of a touching one has changed."""
    place = fold.limb[i, limb, NEAR]
    n, _ = _direction(x, p, place)
    fold.limb[i, limb, BEFORE], fold.limb[i, limb, BEFORE + 1], fold.limb[i, limb, BEFORE + 2] = n
    reach = radius + fold.radius[middle_node(place, x.shape[0])]
    changed = fold.limb[i, limb, FORCE] > 0.0 and reach != fold.limb[i, limb, REACH]
    fold.limb[i, limb, REACH] = reach
    return changed


@inlined
def _direction(x: Array, p: V, place: float) -> tuple[V, float]:
    """Unit vector from the centreline at `place` to p, and their distance."""
    j = middle_node(place, x.shape[0])
    c = _sum(x, j, spline_weights(place - j)[0])
    u = (p[0] - c[0], p[1] - c[1], p[2] - c[2])
    d = sqrt(dot(u, u))
    return (u[0] / d, u[1] / d, u[2] / d), d


@kernel
def approach(fold: Fold, element: IntArray, xi: Array, x: Array) -> float:
    """Nearest approach of two limbs over the distance at which they touch (inf: none near), at the end of a step.

    Negative where a watched limb may have been passed through since the start of the step.
    """
    nearest = np.inf
    if fold.counts[TOUCHING] == 0:
        return nearest
    for i in dealt(element.shape[0]):
        for limb in range(LIMBS):
            place = fold.limb[i, limb, NEAR]
            if place == place:
                p = _point(x, element[i], xi[i])
                now = foot(x, p, place, float(element[i]))
                if now == now:
                    n, distance = _direction(x, p, now)
                    b = fold.limb[i, limb]
                    if n[0] * b[BEFORE] + n[1] * b[BEFORE + 1] + n[2] * b[BEFORE + 2] < CROSSED:
                        nearest = -1.0
                    nearest = min(nearest, distance / fold.limb[i, limb, REACH])
    return -greatest(-nearest)


@kernel
def assemble_self(
    fold: Fold, element: IntArray, xi: Array, size: Array, mode: int, x: Array, grad: Array
) -> tuple[float, float]:
    """Energies of contact and friction of the wire with itself, J; their gradient is added, their Hessian noted.

    size : length that a point stands for, m; mode : NORMAL, STUCK or RELEASED friction
    """
    fold.counts[RECORDS] = 0
    if fold.counts[TOUCHING] == 0:
        return 0.0, 0.0
    touch, rub = 0.0, 0.0
    for i in range(element.shape[0]):
        j = element[i]
        for limb in range(LIMBS):
            fold.limb[i, limb, FORCE], fold.limb[i, limb, SLID] = 0.0, 0.0
            start = fold.limb[i, limb, NEAR]
            if not start == start:
                continue
            p = _point(x, j, xi[i])
            place = foot(x, p, start, float(j))
            if not place == place or _met(fold, i, limb, x, p, place, j):
                continue
            touch += _push(fold, i, limb, j, xi[i], p, place, fold.stiffness * size[i], x, grad)
            anchor = fold.limb[i, limb, ANCHOR]
            if mode != RELEASED and fold.limb[i, limb, GRIP] > 0.0 and anchor == anchor:
                rub += _rub(fold, i, limb, j, xi[i], p, mode, x, grad)
    return touch, rub


@inlined
def _met(fold: Fold, i: int, limb: int, x: Array, p: V, place: float, j: int) -> bool:
    """Whether the foot is also that of a limb before it in the list: two that have met count once."""
    for other in range(limb):
        start = fold.limb[i, other, NEAR]
        if abs(start - place) < 2.0 * SAME_LIMB and abs(foot(x, p, start, float(j)) - place) < 0.5:
            return True
    return False


@inlined
def _push(
    fold: Fold, i: int, limb: int, j: int, xi: float, p: V, place: float, stiff: float, x: Array, grad: Array
) -> float:
    """Contact of point p with the centreline at its foot. theory (34), (35)."""
    m = middle_node(place, x.shape[0])
    w, w1, w2 = spline_weights(place - m)
    c, d, dd = _sum(x, m, w), _sum(x, m, w1), _sum(x, m, w2)
    u = (p[0] - c[0], p[1] - c[1], p[2] - c[2])
    dist = sqrt(dot(u, u))
    e, f, k = ramp(fold.limb[i, limb, REACH] - dist, fold.onset)
    if f <= 0.0:
        return 0.0
    f, k = stiff * f, stiff * k
    fold.limb[i, limb, FORCE] = f
    n = (u[0] / dist, u[1] / dist, u[2] / dist)
    square = dot(d, d)
    bend = max(square - dot(u, dd), FLAT * square)
    r = fold.counts[RECORDS]
    fold.counts[RECORDS] = r + 1
    _note(fold, r, j, m, xi, w, w1)
    h, q, b = fold.hess[r], f / dist, f / (dist * bend)
    s = 0
    for a in range(3):
        for o in range(a + 1):
            h[s] = (k + q) * n[a] * n[o] + b * d[a] * d[o] - (q if a == o else 0.0)  # u, u
            h[15 + s] = b * u[a] * u[o]  # c', c'
            s += 1
    for a in range(3):
        for o in range(3):
            h[6 + 3 * a + o] = b * d[a] * u[o]  # u, c'
    _add_gradient(fold, r, (-f * n[0], -f * n[1], -f * n[2]), (0.0, 0.0, 0.0), grad)
    return stiff * e


@inlined
def _rub(fold: Fold, i: int, limb: int, j: int, xi: float, p: V, mode: int, x: Array, grad: Array) -> float:
    """Friction along the other limb, elastic up to the slip length, then constant. theory (36).

    The slip is the distance of the point past the anchor along the limb's tangent there, the same whichever way the
    two turn together.
    """
    place = fold.limb[i, limb, ANCHOR]
    m = middle_node(place, x.shape[0])
    w, w1, _ = spline_weights(place - m)
    c, d = _sum(x, m, w), _sum(x, m, w1)
    u = (p[0] - c[0], p[1] - c[1], p[2] - c[2])
    long = sqrt(dot(d, d))
    t = (d[0] / long, d[1] / long, d[2] / long)
    slid, limit, slip = dot(t, u), fold.limb[i, limb, GRIP], fold.slip
    fold.limb[i, limb, SLID] = slid
    if abs(slid) <= slip or mode == STUCK:
        k, f, e = limit / slip, limit / slip * slid, 0.5 * limit / slip * slid * slid
    else:
        k, f, e = 0.0, limit if slid > 0.0 else -limit, limit * (abs(slid) - 0.5 * slip)
    r = fold.counts[RECORDS]
    fold.counts[RECORDS] = r + 1
    _note(fold, r, j, m, xi, w, w1)
    v = ((u[0] - slid * t[0]) / long, (u[1] - slid * t[1]) / long, (u[2] - slid * t[2]) / long)
    h = fold.hess[r]
    s = 0
    for a in range(3):
        for o in range(a + 1):
            across = (1.0 if a == o else 0.0) - t[a] * t[o]
            h[s] = k * t[a] * t[o]
            h[15 + s] = k * v[a] * v[o] - f / long * (t[a] * v[o] + v[a] * t[o] + slid / long * across)
            s += 1
    for a in range(3):
        for o in range(3):
            across = (1.0 if a == o else 0.0) - t[a] * t[o]
            h[6 + 3 * a + o] = k * t[a] * v[o] + f / long * across
    _add_gradient(fold, r, (f * t[0], f * t[1], f * t[2]), (f * v[0], f * v[1], f * v[2]), grad)
    return e


@kernel
def anchor_slip(fold: Fold, i: int, limb: int, p: V, x: Array) -> int:
    """Return mapping at the end of a step: the anchor follows a sliding point at one slip length; 1 where it stuck."""
    start = fold.limb[i, limb, NEAR]
    if not start == start:
        return 0
    place = foot(x, p, start, float(x.shape[0] - 1))
    if not place == place:
        return 0
    if fold.limb[i, limb, GRIP] <= 0.0 or not fold.limb[i, limb, ANCHOR] == fold.limb[i, limb, ANCHOR]:
        fold.limb[i, limb, ANCHOR] = place
        return 0
    slid = fold.limb[i, limb, SLID]
    keep = min(fold.slip, max(-fold.slip, slid))
    if keep != slid:
        m = middle_node(place, x.shape[0])
        d = _sum(x, m, spline_weights(place - m)[1])
        fold.limb[i, limb, ANCHOR] = place - keep / sqrt(dot(d, d))
        return 0
    return 1


@inlined
def _note(fold: Fold, r: int, j: int, m: int, xi: float, w: V, w1: V) -> None:
    """Nodes of coupling r, and their weights in u and in c'."""
    fold.nodes[r, 0], fold.nodes[r, 1] = j, m
    g = fold.weight[r]
    g[0], g[1], g[5], g[6] = 1.0 - xi, xi, 0.0, 0.0
    g[2], g[3], g[4] = -w[0], -w[1], -w[2]
    g[7], g[8], g[9] = w1[0], w1[1], w1[2]


@inlined
def _node(fold: Fold, r: int, a: int) -> int:
    """Number of the a-th of the five nodes of coupling r."""
    return fold.nodes[r, 0] + a if a < 2 else fold.nodes[r, 1] + a - 3


@inlined
def _add_gradient(fold: Fold, r: int, gu: V, gd: V, grad: Array) -> None:
    """Add the gradient by u and by c' to the five nodes of coupling r."""
    for a in range(5):
        k, alpha, beta = 6 * _node(fold, r, a), fold.weight[r, a], fold.weight[r, 5 + a]
        for o in range(3):
            grad[k + o] += alpha * gu[o] + beta * gd[o]


@inlined
def is_folded(fold: Fold) -> bool:
    """Whether the last assembly noted anything off the band."""
    return fold.counts[RECORDS] > 0 or fold.counts[SHARED] > 0


@kernel
def note_shared(fold: Fold, low: int, high: int, gradient: Array, factor: float) -> None:
    """Note factor g g^T between nodes low..high that are no neighbours, where these belong to different limbs.

    gradient : (N + 1, 3), g at the nodes, of the order of 1 in all
    """
    if fold.counts[TOUCHING] == 0 or fold.counts[SHARED] == fold.parts.shape[0]:
        return
    k, count, last, apart = fold.counts[SHARED], 0, low, False
    for n in range(low, high + 1):
        if max(abs(gradient[n, 0]), abs(gradient[n, 1]), abs(gradient[n, 2])) > LEAST_SHARE:
            if count == PARTS:
                return
            fold.parts[k, count] = n
            for a in range(3):
                fold.share[k, count, a] = gradient[n, a]
            apart = apart or (count > 0 and n - last > SAME_LIMB)
            count, last = count + 1, n
    if apart:
        fold.parts[k, PARTS], fold.share[k, 0, 3] = count, factor
        fold.counts[SHARED] = k + 1


@kernel
def factor_folded(fold: Fold, band: Array) -> int:
    """Factorise band + noted couplings; returns what `band.factor` does (-1 also where the profile has no room).

    Things pressed together for which there is no room are left out: the tangent lacks them, the gradient does not.
    """
    sky = fold.sky
    if not _profile(fold, True) and not _profile(fold, False):
        return -1
    load_band(sky, band)
    for r in range(fold.counts[RECORDS]):
        _load(fold, r)
    for k in range(fold.counts[SHARED]):
        _load_shared(fold, k)
    return factor_skyline(sky)


@kernel
def _profile(fold: Fold, shared: bool) -> bool:
    """Lay out the profile of band and couplings, with or without things pressed together; False where it is full."""
    sky = fold.sky
    chain(sky)
    for r in range(fold.counts[RECORDS]):
        for a in range(2, 5):
            for b in range(a):
                if not couple(sky, _node(fold, r, a), _node(fold, r, b)):
                    return False
    if not shared:
        fold.counts[SHARED] = 0
    for k in range(fold.counts[SHARED]):
        for a in range(fold.parts[k, PARTS]):
            for b in range(a):
                if not couple(sky, fold.parts[k, a], fold.parts[k, b]):
                    return False
    return number(sky)


@kernel
def _load_shared(fold: Fold, k: int) -> None:
    """Add what couples the nodes, no neighbours, that press thing k together."""
    for a in range(fold.parts[k, PARTS]):
        for b in range(a):
            i, j = fold.parts[k, a], fold.parts[k, b]
            if i - j > 1:
                for o in range(3):
                    for q in range(3):
                        value = fold.share[k, 0, 3] * fold.share[k, a, o] * fold.share[k, b, q]
                        add_entry(fold.sky, 6 * i + o, 6 * j + q, value)


@kernel
def _load(fold: Fold, r: int) -> None:
    """Add the Hessian of coupling r to the profile."""
    if fold.nodes[r, 1] + 1 < fold.nodes[r, 0]:
        for ab in dealt(25):
            _load_pair(fold, r, ab // 5, ab % 5)
    else:  # limbs that share a node: one entry after the other
        for ab in range(25):
            _load_pair(fold, r, ab // 5, ab % 5)
    together()


@kernel
def _load_pair(fold: Fold, r: int, a: int, b: int) -> None:
    """Add what couples nodes a and b of the five of coupling r, once for both orders."""
    if b > a:
        return
    h, g = fold.hess[r], fold.weight[r]
    i, k = 6 * _node(fold, r, a), 6 * _node(fold, r, b)
    uu, ud, du, dd = g[a] * g[b], g[a] * g[5 + b], g[5 + a] * g[b], g[5 + a] * g[5 + b]
    for o in range(3):
        for q in range(3 if a != b else o + 1):
            s = o * (o + 1) // 2 + q if q <= o else q * (q + 1) // 2 + o
            value = uu * h[s] + dd * h[15 + s] + ud * h[6 + 3 * o + q] + du * h[6 + 3 * q + o]
            add_entry(fold.sky, i + o, k + q, value)
