"""The wire against the side margins of the planes: at every station the parts that reach farthest push together.

theory (22b). Where the wire's tip, a loop or a bulge leads, the margin ahead of it pushes back along the vessel too.
"""

from math import exp, log, pi, sqrt

import numpy as np

from ..kernel import inlined, kernel
from ..kernel.team import dealt, greatest, in_turn, together, total, turns
from ..rod.band import HALF
from ..rod.elastic import NO_FORCE, fill
from ..rod.self_contact import SHARED, Fold, note_shared
from ..vessel.bore import Tube, mouth_direction, walls_share
from ..vessel.energy import Local, from_mirror
from ..vessel.laws import yielding
from ..vessel.margins import STATION, asked_opening, asked_slopes, reach_aside, stations_within
from ..vessel.place import Place, V, to_axes, to_world
from ..vessel.walls import BACK, TRUE, Walls, locate, mirror
from .piece import by_place
from .points import (
    E_CONTACT,
    Array,
    Memory,
    Points,
    add_point,
    gathered,
    in_plane,
    keep_force,
    middle_in_plane,
    on_element,
    plus,
    total3,
)

SPREAD = 2.0  # times the smoothing of contact: parts that ask for less than the most by about so much push too
LEAST = 12.0  # times that: parts that ask for less by more do not


@kernel
def push_margins(
    pts: Points, mem: Memory, walls: Walls, tube: Tube, fold: Fold, x: Array, grad: Array, band: Array, out: Array
) -> None:
    """Add the margins to gradient and Hessian band, after the walls have been assembled (that places the points); what
    couples limbs that press a margin together is noted in `fold`."""
    fold.counts[SHARED] = 0
    lowest, highest = _find_most(pts, mem, walls, tube, x)
    for row in range(mem.edges.shape[0]):
        for k in range(lowest, highest):
            if mem.pushed[row, k] > -np.inf:
                mem.pushed[row, k] = _push(pts, mem, walls, tube, fold, row, k, x, grad, band, out)


@inlined
def _side(row: int) -> float:
    """Side of the margin in `row`: -1 (sigma < 0) or 1."""
    return -1.0 if row % 2 == 0 else 1.0


@inlined
def _along_margins(mem: Memory, walls: Walls, i: int) -> tuple[int, float, float, float]:
    """First row of the plane that point i is in (-1: in none), its s and r there, m (mirrored behind the upstream lip),
    and the share of its length that is."""
    s, r = mem.place[i, 0], mem.place[i, 1]
    side, inside = in_plane(mem, i)
    if side == TRUE or s < 0.0:
        return -1, s, r, 0.0
    if side == BACK:
        along, more, _, _ = mirror(walls, s)
        return 2, along, r + more, inside
    return 0, s, r, inside


@kernel
def _find_most(pts: Points, mem: Memory, walls: Walls, tube: Tube, x: Array) -> tuple[int, int]:
    """Note for every station the most that a point asks it to be opened, m, and the first and last point near it.
    Returns the first station that one is near, and the one behind the last."""
    width = SPREAD * walls.eps
    fill(mem.pushed, -np.inf)
    lowest, highest = mem.edges.shape[1], 0
    low, high = _in_planes(mem)
    for i in range(low, high):
        plane, s, r, share = _along_margins(mem, walls, i)
        if plane < 0:
            continue
        at = on_element(x, pts.element[i], mem.at[i])
        mem.taken[i] = walls_share(tube, at[0], at[1], at[2])[0]
        share *= mem.taken[i]
        for row in range(plane, plane + 2):
            side, g, radius = _side(row), mem.place[i, 2], pts.radius[i]
            level = reach_aside(walls, side, r, g)[0] + radius - 0.5 * walls.room + LEAST * width
            if level <= 0.0 or share == 0.0:
                continue
            first, last = stations_within(walls, s, sqrt(radius * level), mem.edges.shape[1])
            lowest, highest = min(lowest, first), max(highest, last)
            for n in dealt(last - first):
                k = first + n
                asked = asked_opening(walls, side, k, s, r, g, radius) + width * log(share)
                if mem.pushed[row, k] == -np.inf:
                    mem.pushing[row, k, 0] = i
                mem.pushing[row, k, 1] = i
                mem.pushed[row, k] = max(mem.pushed[row, k], asked)
            together()
    return lowest, highest


@kernel
def _in_planes(mem: Memory) -> tuple[int, int]:
    """The first point that lies, in part, in a false channel ahead of the support, and the one behind the last."""
    first, last = mem.side.shape[0], 0
    for i in dealt(mem.side.shape[0]):
        if in_plane(mem, i)[0] != TRUE and mem.place[i, 0] >= 0.0:
            first, last = min(first, i), i + 1
    return -greatest(-first), greatest(last)


@inlined
def _weight(pts: Points, mem: Memory, walls: Walls, row: int, station: int, i: int, most: float) -> float:
    """Weight with which point i pushes at a station: its length in the plane times exp((D - most)/width); the dome's is
    that of a long straight wire."""
    plane, s, r, inside = _along_margins(mem, walls, i)
    if plane < 0 or plane != row - row % 2:
        return 0.0
    width = SPREAD * walls.eps
    asked = asked_opening(walls, _side(row), station, s, r, mem.place[i, 2], pts.radius[i])
    if asked < most - LEAST * width:
        return 0.0
    whole = sqrt(pi * pts.radius[i] * width)
    length = whole if i == pts.element.shape[0] - 1 else pts.bore[i]
    return mem.taken[i] * inside * length / whole * exp((asked - most) / width)


@kernel
def near_margins(pts: Points, mem: Memory, walls: Walls, tube: Tube, x: Array, i: int) -> int:
    """Note in mem.aside the stations at which point i, where the wire crosses, pushes or would if all of it were in the
    plane; returns how many. Each as its row, its number, how far the point asks it to be opened, the weight of all
    other points, and the sum of their weighted gradients at the two nodes of the point's element."""
    plane, s, r, _ = _along_margins(mem, walls, i)
    width, count = SPREAD * walls.eps, 0
    for row in range(plane, plane + 2):
        side, g, radius = _side(row), mem.place[i, 2], pts.radius[i]
        level = reach_aside(walls, side, r, g)[0] + pts.bore[i] + radius - 0.5 * walls.room + LEAST * width
        if level <= 0.0:
            continue
        if count == 0:
            for k in dealt(pts.element.shape[0]):
                at = on_element(x, pts.element[k], mem.at[k])
                mem.taken[k] = walls_share(tube, at[0], at[1], at[2])[0]
            together()
        first, last = stations_within(walls, s, sqrt(radius * level), mem.edges.shape[1])
        for station in range(first, min(last, first + mem.aside.shape[0] - count)):
            asked = asked_opening(walls, side, station, s, r, g, radius)
            weight, a, b = 0.0, NO_FORCE, NO_FORCE
            for k in dealt(pts.element.shape[0]):
                if k != i:
                    weight, a, b = _add_other(pts, mem, walls, x, row, station, k, pts.element[i], asked, weight, a, b)
            mem.aside[count, 0], mem.aside[count, 1], mem.aside[count, 2] = row, station, asked
            mem.aside[count, 3] = total(weight)
            for d in range(3):
                mem.aside[count, 4 + d], mem.aside[count, 7 + d] = total(a[d]), total(b[d])
            count += 1
    return count


@inlined
def _add_other(
    pts: Points,
    mem: Memory,
    walls: Walls,
    x: Array,
    row: int,
    station: int,
    i: int,
    j: int,
    most: float,
    sum_: float,
    a: V,
    b: V,
) -> tuple[float, V, V]:
    """Sums of `near_margins` over the others at a station, with point i added: of weights, and of weighted gradients
    where they act on the nodes j (a) and j + 1 (b) of an element."""
    weight = _weight(pts, mem, walls, row, station, i, most)
    own = pts.element[i]
    if weight == 0.0 or abs(own - j) > 1:
        return sum_ + weight, a, b
    xi = mem.at[i]
    at = on_element(x, own, xi)
    g, _ = _asked_in_world(walls, locate(walls, at[0], at[1], at[2]), row, station, pts.radius[i])
    for node, share in ((own, 1.0 - xi), (own + 1, xi)):
        f = weight * share
        if node == j:
            a = (a[0] + f * g[0], a[1] + f * g[1], a[2] + f * g[2])
        elif node == j + 1:
            b = (b[0] + f * g[0], b[1] + f * g[1], b[2] + f * g[2])
    return sum_ + weight, a, b


@kernel
def margins_by_share(
    pts: Points, mem: Memory, walls: Walls, count: int, x: Array, i: int, share: float
) -> tuple[float, float, float, V, V]:
    """Energy of the `count` stations noted by `near_margins` for the `share` of crossing point i that is on the side of
    the point before, with two derivatives by that, and the mixed ones by the nodes of its element."""
    a, b = (0.0, 0.0, 0.0), (0.0, 0.0, 0.0)
    if count == 0:
        return 0.0, 0.0, 0.0, a, b
    width, j = SPREAD * walls.eps, pts.element[i]
    inside, change, xi, way = middle_in_plane(pts, mem, i, share)
    at = on_element(x, j, xi)
    t = (way * (x[j + 1, 0] - x[j, 0]), way * (x[j + 1, 1] - x[j, 1]), way * (x[j + 1, 2] - x[j, 2]))
    p = locate(walls, at[0], at[1], at[2])
    factor = mem.taken[i] * pts.bore[i] / sqrt(pi * pts.radius[i] * width)
    u, slope, bend = 0.0, 0.0, 0.0
    for k in dealt(count):
        row, station = int(mem.aside[k, 0]), int(mem.aside[k, 1])
        s, r = p.s, p.r
        if row >= 2:
            s, more, _, _ = mirror(walls, s)
            r += more
        asked = asked_opening(walls, _side(row), station, s, r, p.phi * walls.floor, pts.radius[i])
        g, h = _asked_in_world(walls, p, row, station, pts.radius[i])
        d = (g[0] * t[0] + g[1] * t[1] + g[2] * t[2]) / width
        ht = (
            h[0] * t[0] + h[1] * t[1] + h[2] * t[2],
            h[1] * t[0] + h[3] * t[1] + h[4] * t[2],
            h[2] * t[0] + h[4] * t[1] + h[5] * t[2],
        )
        dd = (ht[0] * t[0] + ht[1] * t[1] + ht[2] * t[2]) / width
        own = factor * exp((asked - mem.aside[k, 2]) / width)
        whole = mem.aside[k, 3] + inside * own
        if whole <= 0.0:
            continue
        pen = mem.aside[k, 2] + width * log(whole) - mem.edges[row, station] - walls.eps
        e, force, stiff, _ = yielding(pen, walls.line * STATION, walls.margin * STATION, walls.eps)
        first = own * (change + inside * d) / whole
        second = own * (2.0 * change * d + inside * (dd + d * d)) / whole
        u, slope = u + e, slope + force * width * first
        bend += stiff * (width * first) ** 2 + force * width * (second - first * first)
        weight, turn = inside * own / whole, stiff * width * first - force * first
        a = _mixed(a, mem.aside[k, 4:7], g, ht, whole, turn, force, 1.0 - xi, -way, weight, first)
        b = _mixed(b, mem.aside[k, 7:10], g, ht, whole, turn, force, xi, way, weight, first)
    return total(u), total(slope), total(bend), total3(1.0, a), total3(1.0, b)


@inlined
def _mixed(
    sum_: V,
    others: Array,
    g: V,
    ht: V,
    whole: float,
    turn: float,
    force: float,
    share: float,
    change: float,
    weight: float,
    first: float,
) -> V:
    """Add a station to the mixed derivative by one node: turn times the gradient of what is asked there, and force
    times the change of this point's part in it. share, change : of the point on the node, and how it goes with c."""
    return (
        sum_[0]
        + turn * (others[0] / whole + weight * share * g[0])
        + force * (first * share * g[0] + weight * (share * ht[0] + change * g[0])),
        sum_[1]
        + turn * (others[1] / whole + weight * share * g[1])
        + force * (first * share * g[1] + weight * (share * ht[1] + change * g[1])),
        sum_[2]
        + turn * (others[2] / whole + weight * share * g[2])
        + force * (first * share * g[2] + weight * (share * ht[2] + change * g[2])),
    )


@kernel
def _push(
    pts: Points,
    mem: Memory,
    walls: Walls,
    tube: Tube,
    fold: Fold,
    row: int,
    station: int,
    x: Array,
    grad: Array,
    band: Array,
    out: Array,
) -> float:
    """Add what the wire does to a station; returns how far it asks that to be opened, m."""
    width, most = SPREAD * walls.eps, mem.pushed[row, station]
    first, last = mem.pushing[row, station, 0], mem.pushing[row, station, 1]
    whole = 0.0
    for n in dealt(last + 1 - first):
        mem.weight[first + n] = _weight(pts, mem, walls, row, station, first + n, most)
        whole += mem.weight[first + n]
    whole = total(whole)
    asked = most + width * log(whole)
    pen = asked - mem.edges[row, station] - walls.eps
    e, force, stiff, _ = yielding(pen, walls.line * STATION, walls.margin * STATION, walls.eps)
    if force <= 0.0:
        return asked
    out[E_CONTACT] += e
    low, high = pts.element[first], pts.element[last] + 1
    fill(mem.lateral[low : high + 1], 0.0)
    for turn in turns():
        for n in in_turn(turn, high - low):
            for i in range(max(first, pts.first[low + n]), min(last + 1, pts.first[low + n + 1])):
                share = mem.weight[i] / whole
                if share > 0.0:
                    _add_part(pts, mem, walls, tube, row, station, i, x, share, force, width, grad, band)
        together()
    # all of them together: (Y'' - Y'/width) G G^T, G the gradient of what is asked; here between neighbouring nodes
    note_shared(fold, low, high, mem.lateral, stiff - force / width)
    for m in dealt(high + 1 - low):
        n = low + m
        for a in range(3):
            i = 6 * n + a
            for b in range(a + 1):
                band[i, HALF - (a - b)] += (stiff - force / width) * mem.lateral[n, a] * mem.lateral[n, b]
            if n > low:
                for b in range(3):
                    band[i, HALF - (6 + a - b)] += (stiff - force / width) * mem.lateral[n, a] * mem.lateral[n - 1, b]
    together()
    return asked


@inlined
def _add_part(
    pts: Points,
    mem: Memory,
    walls: Walls,
    tube: Tube,
    row: int,
    station: int,
    i: int,
    x: Array,
    share: float,
    force: float,
    width: float,
    grad: Array,
    band: Array,
) -> None:
    """Add point i's share of the force on a station: gradient, and the part of the Hessian that is its own; collect its
    gradient in mem.lateral."""
    j, b = pts.element[i], mem.at[i]
    at = on_element(x, j, b)
    g, h = _asked_in_world(walls, locate(walls, at[0], at[1], at[2]), row, station, pts.radius[i])
    if mem.taken[i] < 1.0:
        g, h = _with_support(tube, at, width, g, h)
    f, c = force * share, force * share / width
    add_point(
        grad,
        band,
        j,
        b,
        (f * g[0], f * g[1], f * g[2]),
        (
            f * h[0] + c * g[0] * g[0],
            f * h[1] + c * g[0] * g[1],
            f * h[2] + c * g[0] * g[2],
            f * h[3] + c * g[1] * g[1],
            f * h[4] + c * g[1] * g[2],
            f * h[5] + c * g[2] * g[2],
        ),
    )
    for d in range(3):
        mem.lateral[j, d] += (1.0 - b) * share * g[d]
        mem.lateral[j + 1, d] += b * share * g[d]
    keep_force(mem, i, 2, plus(gathered(mem, i, 2), (f * g[0], f * g[1], f * g[2])))


@inlined
def _with_support(tube: Tube, at: V, width: float, g: V, h: tuple[float, ...]) -> tuple[V, tuple[float, ...]]:
    """Gradient and Hessian of what a point asks with what its weight adds while the support hands it over: width times
    the logarithm of the share."""
    share, slope, bend = walls_share(tube, at[0], at[1], at[2])
    n, t = mouth_direction(tube, at[0], at[1], at[2])
    f, k = width * slope / share, width * (bend / share - (slope / share) ** 2)
    return (g[0] + f * n[0], g[1] + f * n[1], g[2] + f * n[2]), (
        h[0] + k * n[0] * n[0] + f * t[0],
        h[1] + k * n[0] * n[1] + f * t[1],
        h[2] + k * n[0] * n[2] + f * t[2],
        h[3] + k * n[1] * n[1] + f * t[3],
        h[4] + k * n[1] * n[2] + f * t[4],
        h[5] + k * n[2] * n[2] + f * t[5],
    )


@inlined
def _asked_in_world(walls: Walls, p: Place, row: int, station: int, radius: float) -> tuple[V, tuple[float, ...]]:
    """Gradient and Hessian (xx, xy, xz, yy, yz, zz) of what a place asks a station to be opened."""
    s, r, g, shift, bend = p.s, p.r, p.phi * walls.floor, 0.0, 0.0
    if row >= 2:
        s, more, shift, bend = mirror(walls, p.s)
        r += more
    d_s, d_r, d_g, d_ss, d_rr, d_rg = asked_slopes(walls, _side(row), station, s, r, g, radius)
    n = 0.0
    loc = Local(1.0, n, n, n, n, n, n, d_s, d_r, d_g, d_ss, n, n, d_rr, d_rg, n, n, n, n, n, n, n)
    if row >= 2:
        loc = from_mirror(loc, shift, bend)
    loc = by_place(walls, p, loc)
    ts, tr, tg = loc.c_s / p.stretch, loc.c_r, loc.c_g * walls.floor / p.r
    gradient = (
        ts * p.t[0] + tr * p.er[0] + tg * p.ep[0],
        ts * p.t[1] + tr * p.er[1] + tg * p.ep[1],
        ts * p.t[2] + tr * p.er[2] + tg * p.ep[2],
    )
    first = (loc.c_s, loc.c_r, loc.c_g)
    local = to_world(p, walls.floor, loc.ss, loc.sr, loc.sg, loc.rr, loc.rg, loc.gg, first)
    return gradient, to_axes(p, local)
