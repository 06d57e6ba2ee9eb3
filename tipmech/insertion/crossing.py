"""Where the wire passes between the true lumen and a false channel round an edge. theory, "Round an edge".

The place is material and continuous: in the length of the first point on the new side, the share c of which lies on the
side of the point before. There one wire diameter is pressed across the edge. c is minimised out at every assembly, and
goes on to the next point where it comes to the end of one, so that a wire slides round an edge whatever its points are.
"""

import numpy as np

from ..kernel import inlined, kernel
from ..kernel.team import anyone, dealt, greatest, once, rounds, together, total
from ..rod.band import HALF
from ..rod.elastic import NO_FORCE
from ..vessel.bore import Tube
from ..vessel.energy import beyond_opening
from ..vessel.place import V
from ..vessel.walls import BACK, FALSE, HOLE, TRUE, WINDOW, Walls, locate, lumen_radius
from .margins import margins_by_share, near_margins
from .piece import Piece, at_edge, at_walls, by_place, in_world, nothing, on_surfaces
from .points import (
    E_CONTACT,
    E_SLIDE,
    G_LIP,
    H_LIP,
    LIP,
    LIP_TOUCHED,
    Array,
    Memory,
    Points,
    add_point,
    add_shared,
    crosses,
    gathered,
    keep_force,
    on_element,
    once3,
    plus,
    put_crossing,
    total3,
)

SHARE, SLID, PULL = range(3)  # columns of Memory.crossing
SEARCHES = 30  # Newton steps for c at most; 3 to 6 are needed
NEAR = 1e-10  # of the length of a point: so near c is found
THICKER = 1e-8  # m, of a radius: for derivatives by it
FIRST_TRY = 0.25  # of that length: a step where the energy is not convex in c


@kernel
def cross_edges(
    pts: Points,
    mem: Memory,
    walls: Walls,
    tube: Tube,
    x: Array,
    lip: float,
    front: float,
    second: float,
    drag: float,
    grad: Array,
    band: Array,
    border: Array,
    out: Array,
) -> None:
    """Add all crossings to gradient, Hessian and the lip's border, after the points have been placed.

    front, second : positions of front and second end at the start of the step, m; drag : on the sliding of the place
    along the wire since then, N/m (0: places stay where they are)
    """
    i = next_crossing(mem, 1)
    while i < pts.element.shape[0]:
        c = mem.crossing[i, SHARE]
        stations = near_margins(pts, mem, walls, tube, x, i) if pts.step[i] > 0.0 else 0
        if drag > 0.0 and pts.step[i] > 0.0:
            c = _least(pts, mem, walls, tube, i, c, x, lip, front, second, drag, stations)
            mem.crossing[i, SHARE] = c
            put_crossing(pts, mem, walls, i, x)
        _assemble(pts, mem, walls, tube, i, c, x, lip, front, second, drag, stations, grad, band, border, out)
        i = next_crossing(mem, i + 1)
    first = 0
    while True:
        first, last = in_openings(mem, first)
        if first < 0:
            break
        k = nearest_to_opening(pts, mem, walls, first, last)
        if k >= 0:
            _hold(pts, mem, walls, tube, k, x, grad, band, out)
        first = last


@kernel
def slide_on(
    pts: Points, mem: Memory, walls: Walls, tube: Tube, x: Array, lip: float, front: float, second: float, drag: float
) -> bool:
    """Hand crossings that have come to the end of a point's length, and would slide on, to the next one; True where
    one was. Not past a point that leads to an end of the plane or to a plug: that changes what it presses on. The
    arguments are those of the last assembly."""
    changed, dome, at = False, pts.element.shape[0] - 1, 0
    while True:
        i = next_crossing(mem, at + 1)
        if i > dome:
            break
        at = i
        c, slid, pull = mem.crossing[i, SHARE], mem.crossing[i, SLID], mem.crossing[i, PULL]
        if c == 1.0 and mem.side[i + 1] == mem.side[i]:
            k, moving, new, start, from_start = i + 1, i, mem.side[i - 1], 0.0, slid - pts.bore[i]
        elif c == 0.0 and i > 1 and mem.side[i - 2] == mem.side[i - 1]:
            k, moving, new, start, from_start = i - 1, i - 1, mem.side[i], 1.0, slid + pts.bore[i - 1]
        else:
            continue
        old = mem.side[moving]
        if not may_pass(pts, walls, mem, moving, new):
            continue
        if leads(pts, mem, walls, at, old, front, second) or leads(pts, mem, walls, at, new, front, second):
            continue
        mem.side[moving] = new
        _put(mem, k, start, from_start, pull)
        put_crossing(pts, mem, walls, k, x)
        stations = near_margins(pts, mem, walls, tube, x, k)
        slope = _energy(pts, mem, walls, tube, k, start, x, lip, front, second, drag, stations)[1]
        if k == dome:  # it has no length: the wire has slid out up to it
            slope = -1.0
        if (slope < 0.0) if k > i else (slope > 0.0):
            forget(mem, i)
            changed = True
        else:  # the least is between the two
            mem.side[moving] = old
            forget(mem, k)
    return changed


@kernel
def next_crossing(mem: Memory, start: int) -> int:
    """The first point from `start` on, ahead of the support, at which the wire crosses; behind the last: none."""
    n = mem.side.shape[0]
    found = n
    for k in dealt(n - start):
        i = start + k
        if i < found and crosses(mem, i) and mem.place[i, 0] >= 0.0:
            found = i
    return -greatest(-found)


@inlined
def _put(mem: Memory, i: int, share: float, slid: float, pull: float) -> None:
    """Let the wire cross at point i: the columns of Memory.crossing."""
    mem.crossing[i, SHARE], mem.crossing[i, SLID], mem.crossing[i, PULL] = share, slid, pull


@inlined
def forget(mem: Memory, i: int) -> None:
    """Forget what was known of a crossing at point i."""
    _put(mem, i, 0.0, 0.0, 0.0)


@kernel
def in_openings(mem: Memory, start: int) -> tuple[int, int]:
    """The next points from `start` on with which the wire passes in openings between true lumen and false channel:
    the first one and the one behind the last; -1 where there are none."""
    n, first = mem.side.shape[0], -1
    low, high = n, 0
    for i in dealt(n):
        if mem.side[i] == WINDOW or mem.side[i] == HOLE:
            low, high = min(low, i), i + 1
    low, high = -greatest(-low), greatest(high)
    for i in range(max(1, start, low), min(n, high + 1)):
        if mem.side[i] == WINDOW or mem.side[i] == HOLE:
            if first < 0 and mem.side[i - 1] != WINDOW and mem.side[i - 1] != HOLE and mem.place[i, 0] >= 0.0:
                first = i
            continue
        if first > 0 and (mem.side[first - 1] == TRUE) != (mem.side[i] == TRUE):
            return first, i
        first = -1
    return -1, n


@kernel
def nearest_to_opening(pts: Points, mem: Memory, walls: Walls, first: int, last: int) -> int:
    """Of the points from first up to last (not included) that which lies least far beyond an opening; -1 where one lies
    in it."""
    least, k = np.inf, -1
    for i in range(first, last):
        d = beyond_opening(walls, mem.place[i, 0], mem.place[i, 1], mem.place[i, 2], pts.radius[i])[0]
        if d <= 0.0:
            return -1
        if d < least:
            least, k = d, i
    return k


@kernel
def _hold(
    pts: Points, mem: Memory, walls: Walls, tube: Tube, i: int, x: Array, grad: Array, band: Array, out: Array
) -> None:
    """Add the edge's hold of a wire that passes at point i, still in the opening's channel but beyond it."""
    at = on_element(x, pts.element[i], pts.xi[i])
    p = locate(walls, at[0], at[1], at[2])
    loc = by_place(walls, p, at_edge(walls, p, pts.radius[i]))
    part = in_world(walls, tube, p, at, loc)
    out[E_CONTACT] += part.u
    keep_force(mem, i, 2, plus(gathered(mem, i, 2), on_surfaces(walls, p, loc, part.share)[2]))
    add_point(grad, band, pts.element[i], pts.xi[i], part.g, part.h)


@inlined
def may_pass(pts: Points, walls: Walls, mem: Memory, i: int, new: int) -> bool:
    """Whether point i may come to the side `new` by sliding round an edge: to a false channel from its lip to the other
    end of the window, beside which it is the more held the farther it is drawn out (18d), if it is not above the wall
    there."""
    s = mem.place[i, 0]
    if new != TRUE and walls.start < s < walls.stop and above_wall(pts, mem, walls, i):
        return False
    if new == FALSE:
        return s >= walls.start
    if new == BACK:
        return 0.0 <= s <= walls.stop
    return s >= 0.0


@inlined
def above_wall(pts: Points, mem: Memory, walls: Walls, i: int) -> bool:
    """Whether a point beside the window is clear of the lumen's wall."""
    if abs(mem.place[i, 2]) <= walls.half + pts.radius[i]:
        return False
    return mem.place[i, 1] + pts.radius[i] < lumen_radius(walls, mem.place[i, 0])[0]


@inlined
def leads(pts: Points, mem: Memory, walls: Walls, i: int, side: int, front: float, second: float) -> bool:
    """Whether point i would, on `side`, reach the end of its plane or the plug."""
    s, radius = mem.place[i, 0], pts.radius[i]
    if side == FALSE:
        return s + radius + walls.notch > front - walls.eps
    if side != walls.end_side:
        return False
    return (walls.start + walls.stop - s if side == BACK else s) + radius > second - walls.eps


@kernel
def keep_crossings(pts: Points, mem: Memory) -> None:
    """Note channels and crossings at the start of a step, from where they slide."""
    for i in dealt(mem.side.shape[0]):
        mem.crossing[i, SLID] = mem.crossing[i, SHARE] * pts.bore[i]
        mem.old_side[i] = mem.side[i]
        for k in range(3):
            mem.old_crossing[i, k] = mem.crossing[i, k]
    together()


@kernel
def restore_crossings(mem: Memory) -> None:
    """Go back to channels and crossings at the start of the step."""
    for i in dealt(mem.side.shape[0]):
        mem.side[i] = mem.old_side[i]
        for k in range(3):
            mem.crossing[i, k] = mem.old_crossing[i, k]
    together()


@kernel
def slide_drag(pts: Points, mem: Memory, i: int, drag: float) -> tuple[float, float]:
    """How far a crossing has slid along the wire in this step (m), and the drag on it (N)."""
    slid = mem.crossing[i, SHARE] * pts.bore[i] - mem.crossing[i, SLID]
    return slid, drag * 2.0 * pts.radius[i] * slid


@kernel
def _least(
    pts: Points,
    mem: Memory,
    walls: Walls,
    tube: Tube,
    i: int,
    c: float,
    x: Array,
    lip: float,
    front: float,
    second: float,
    drag: float,
    stations: int,
) -> float:
    """Share c in [0, 1] at which the energy is least, searched for downhill from where it was."""
    u, slope, bend = _energy(pts, mem, walls, tube, i, c, x, lip, front, second, drag, stations)
    for _ in range(SEARCHES):
        if slope == 0.0 or (c == 0.0 and slope > 0.0) or (c == 1.0 and slope < 0.0):
            break
        step = -slope / bend if bend > 0.0 else FIRST_TRY if slope < 0.0 else -FIRST_TRY
        step = min(1.0 - c, max(-c, step))
        found = False
        while abs(step) > NEAR:
            new = c + step
            if new > 1.0 - NEAR:
                new = 1.0
            elif new < NEAR:
                new = 0.0
            v, slope_new, bend_new = _energy(pts, mem, walls, tube, i, new, x, lip, front, second, drag, stations)
            if v < u or (v <= u * (1.0 + 1e-14) and abs(slope_new) < abs(slope)):
                c, u, slope, bend, found = new, v, slope_new, bend_new, True
                break
            step *= 0.5
        if not found:
            break
    return c


@kernel
def _energy(
    pts: Points,
    mem: Memory,
    walls: Walls,
    tube: Tube,
    i: int,
    c: float,
    x: Array,
    lip: float,
    front: float,
    second: float,
    drag: float,
    stations: int,
) -> tuple[float, float, float]:
    """Energy of a crossing point over its share c, with drag, and its two derivatives by c."""
    u, slope, bend = _drag_terms(pts, mem, i, c, drag)
    e, d, dd, _, _ = margins_by_share(pts, mem, walls, stations, x, i, c)
    u, slope, bend = u + e, slope + d, bend + dd
    u, slope, bend = once(u), once(slope), once(bend)
    for k in dealt(_parts(pts, mem, i)):
        part, xi, way, weight, change = _part(pts, mem, walls, tube, i, k, c, x, lip, front, second)[:5]
        t, ht = _along(pts, x, i, part)
        gt = part.g[0] * t[0] + part.g[1] * t[1] + part.g[2] * t[2]
        tht = ht[0] * t[0] + ht[1] * t[1] + ht[2] * t[2]
        u += weight * part.u
        slope += change * part.u + weight * way * gt
        bend += 2.0 * change * way * gt + weight * way * way * tht
    u, slope, bend = total(u), total(slope), total(bend)
    d, dd, _ = _by_taper(pts, walls, tube, i, c, x)
    return u, slope + d, bend + dd


@kernel
def _assemble(
    pts: Points,
    mem: Memory,
    walls: Walls,
    tube: Tube,
    i: int,
    c: float,
    x: Array,
    lip: float,
    front: float,
    second: float,
    drag: float,
    stations: int,
    grad: Array,
    band: Array,
    border: Array,
    out: Array,
) -> None:
    """Add a crossing point to gradient, Hessian and border, with c minimised out where it is free to move."""
    j = pts.element[i]
    u, _, bend = _drag_terms(pts, mem, i, c, drag)
    _, _, dd, first, last = margins_by_share(pts, mem, walls, stations, x, i, c)
    out[E_SLIDE] += u
    bend, by_lip = bend + dd, 0.0
    (m0, m1, m2), (m3, m4, m5) = first, last  # derivative of the gradient at both nodes by c
    m0, m1, m2, m3, m4, m5 = once(m0), once(m1), once(m2), once(m3), once(m4), once(m5)
    bend, contact, lip_g, lip_h = once(bend), once(out[E_CONTACT]), once(out[G_LIP]), once(out[H_LIP])
    lumen, flap, edge = once3(gathered(mem, i, 0)), once3(gathered(mem, i, 1)), once3(gathered(mem, i, 2))
    beyond, parts = NO_FORCE, _parts(pts, mem, i)
    for k in rounds(parts):
        part, xi, way, weight, change, f0, f1, f2, over = _part(
            pts, mem, walls, tube, i, min(k, parts - 1), c, x, lip, front, second
        )
        if k >= parts:
            part = nothing()
        if not anyone(part.u != 0.0):
            continue
        g, h = part.g, part.h
        a, b, f = 1.0 - xi, xi, weight * way
        if part.u != 0.0:
            t, ht = _along(pts, x, i, part)
            bend += 2.0 * change * way * (g[0] * t[0] + g[1] * t[1] + g[2] * t[2])
            bend += weight * way * way * (ht[0] * t[0] + ht[1] * t[1] + ht[2] * t[2])
            m0 += change * a * g[0] + f * (a * ht[0] - g[0])
            m1 += change * a * g[1] + f * (a * ht[1] - g[1])
            m2 += change * a * g[2] + f * (a * ht[2] - g[2])
            m3 += change * b * g[0] + f * (b * ht[0] + g[0])
            m4 += change * b * g[1] + f * (b * ht[1] + g[1])
            m5 += change * b * g[2] + f * (b * ht[2] + g[2])
            contact += weight * part.u
            lumen, flap, edge, beyond = plus(lumen, f0), plus(flap, f1), plus(edge, f2), plus(beyond, over)
            lip_g += weight * part.w
            lip_h += weight * part.ww
            by_lip += change * part.w + f * (part.b[0] * t[0] + part.b[1] * t[1] + part.b[2] * t[2])
        add_shared(
            grad,
            band,
            j,
            xi,
            (weight * g[0], weight * g[1], weight * g[2]),
            (weight * h[0], weight * h[1], weight * h[2], weight * h[3], weight * h[4], weight * h[5]),
        )
        if anyone(part.w != 0.0 or part.ww != 0.0):
            out[LIP_TOUCHED] = 1.0
            first, last = total3(weight * a, part.b), total3(weight * b, part.b)
            for d in range(3):
                border[LIP, 6 * j + d] += first[d]
                border[LIP, 6 * j + 6 + d] += last[d]
    m0, m1, m2, m3, m4, m5 = total(m0), total(m1), total(m2), total(m3), total(m4), total(m5)
    bend, by_lip = total(bend), total(by_lip)
    out[E_CONTACT], out[G_LIP], out[H_LIP] = total(contact), total(lip_g), total(lip_h)
    keep_force(mem, i, 0, total3(1.0, lumen))
    keep_force(mem, i, 1, total3(1.0, flap))
    keep_force(mem, i, 2, total3(1.0, edge))
    beyond = total3(1.0, beyond)
    if beyond[0] != 0.0 or beyond[1] != 0.0 or beyond[2] != 0.0:
        next_to = i + 1 if c > 0.5 else i - 1
        keep_force(mem, next_to, 2, plus(gathered(mem, next_to, 2), beyond))
    _, dd, gr = _by_taper(pts, walls, tube, i, c, x)
    bend += dd
    if bend <= 0.0 or c == 0.0 or c == 1.0:
        return
    xi = pts.xi[i] + (c - 0.5) * pts.step[i]
    m0, m1, m2 = m0 + (1.0 - xi) * gr[0], m1 + (1.0 - xi) * gr[1], m2 + (1.0 - xi) * gr[2]
    m3, m4, m5 = m3 + xi * gr[0], m4 + xi * gr[1], m5 + xi * gr[2]
    out[H_LIP] -= by_lip * by_lip / bend
    mixed = (m0, m1, m2, m3, m4, m5)
    for d in range(6):
        row = 6 * j + (d if d < 3 else d + 3)
        border[LIP, row] -= by_lip * mixed[d] / bend
        for e in range(d + 1):
            column = 6 * j + (e if e < 3 else e + 3)
            band[row, HALF - (row - column)] -= mixed[d] * mixed[e] / bend


@inlined
def _part(
    pts: Points,
    mem: Memory,
    walls: Walls,
    tube: Tube,
    i: int,
    k: int,
    c: float,
    x: Array,
    lip: float,
    front: float,
    second: float,
) -> tuple[Piece, float, float, float, float, V, V, V, V]:
    """Part k of a crossing point: the parts on the side of the point before, those on its own, and the edge.

    Returns it, its place on the element and how fast that goes with c, its weight and how fast that does; its normal
    forces, surface by surface, and the share of the edge's that the point next to it takes: it goes over from point to
    point as the place does.
    """
    k += 2 * mem.fine[i] + 1 - _parts(pts, mem, i)
    j, radius, count = pts.element[i], pts.radius[i], mem.fine[i]
    span, size = pts.step[i], pts.size[i] / count
    low, over = pts.xi[i] - 0.5 * span, ((k if k < count else k - count) + 0.5) / count
    weight, change, way, xi = c, 1.0, span * over, low + c * span * over
    if k >= count:
        weight, change, way, xi = 1.0 - c, -1.0, span * (1.0 - over), low + span * (c + (1.0 - c) * over)
    if k == 2 * count:
        weight, change, way, xi = 1.0, 0.0, span, low + span * c
    at = on_element(x, j, xi)
    p = locate(walls, at[0], at[1], at[2])
    if k == 2 * count:
        loc = by_place(walls, p, at_edge(walls, p, _edge_radius(pts, i, c)[0]))
    else:
        side = mem.side[i - 1] if k < count else mem.side[i]
        loc = by_place(walls, p, at_walls(walls, p, side, lip, front, second, radius, size, False))
    part = in_world(walls, tube, p, at, loc)
    if loc.u <= 0.0:
        return part, xi, way, weight, change, NO_FORCE, NO_FORCE, NO_FORCE, NO_FORCE
    if k < 2 * count or span == 0.0:
        f0, f1, f2 = on_surfaces(walls, p, loc, weight * part.share)
        return part, xi, way, weight, change, f0, f1, f2, NO_FORCE
    beside = abs(c - 0.5)
    f0, f1, f2 = on_surfaces(walls, p, loc, (1.0 - beside) * part.share)
    return part, xi, way, weight, change, f0, f1, f2, on_surfaces(walls, p, loc, beside * part.share)[2]


@inlined
def _edge_radius(pts: Points, i: int, c: float) -> tuple[float, float]:
    """Radius of the wire where it crosses, even between the points, with its derivative by c, m."""
    low = 0.5 * (pts.radius[i - 1] + pts.radius[i])
    if pts.step[i] == 0.0:
        return low, 0.0
    high = 0.5 * (pts.radius[i] + pts.radius[i + 1])
    return low + (high - low) * c, high - low


@inlined
def _by_taper(pts: Points, walls: Walls, tube: Tube, i: int, c: float, x: Array) -> tuple[float, float, V]:
    """What the radius at the edge adds to the two derivatives of the energy by c where the wire tapers, and to that of
    its gradient by the place (by differences: the law is smooth in the radius)."""
    radius, change = _edge_radius(pts, i, c)
    if change == 0.0:
        return 0.0, 0.0, (0.0, 0.0, 0.0)
    j = pts.element[i]
    at = on_element(x, j, pts.xi[i] + (c - 0.5) * pts.step[i])
    p = locate(walls, at[0], at[1], at[2])
    up = in_world(walls, tube, p, at, by_place(walls, p, at_edge(walls, p, radius + THICKER)))
    here = in_world(walls, tube, p, at, by_place(walls, p, at_edge(walls, p, radius)))
    down = in_world(walls, tube, p, at, by_place(walls, p, at_edge(walls, p, radius - THICKER)))
    k = change / (2.0 * THICKER)
    g = (k * (up.g[0] - down.g[0]), k * (up.g[1] - down.g[1]), k * (up.g[2] - down.g[2]))
    along = g[0] * (x[j + 1, 0] - x[j, 0]) + g[1] * (x[j + 1, 1] - x[j, 1]) + g[2] * (x[j + 1, 2] - x[j, 2])
    bend = change * change / (THICKER * THICKER) * (up.u - 2.0 * here.u + down.u) + 2.0 * pts.step[i] * along
    return k * (up.u - down.u), bend, g


@inlined
def _parts(pts: Points, mem: Memory, i: int) -> int:
    """Number of parts of a crossing point. The dome has no length to be divided: with it only the edge counts."""
    return 2 * mem.fine[i] + 1 if pts.step[i] > 0.0 else 1


@inlined
def _drag_terms(pts: Points, mem: Memory, i: int, c: float, drag: float) -> tuple[float, float, float]:
    """Energy of the drag on the sliding, with two derivatives by c."""
    k, slid = drag * 2.0 * pts.radius[i], c * pts.bore[i] - mem.crossing[i, SLID]
    return 0.5 * k * slid * slid, k * slid * pts.bore[i], k * pts.bore[i] * pts.bore[i]


@inlined
def _along(pts: Points, x: Array, i: int, part: Piece) -> tuple[V, V]:
    """Derivative of a place on the point's element by its share of that, and the piece's Hessian times it."""
    j, h = pts.element[i], part.h
    t = (x[j + 1, 0] - x[j, 0], x[j + 1, 1] - x[j, 1], x[j + 1, 2] - x[j, 2])
    return t, (
        h[0] * t[0] + h[1] * t[1] + h[2] * t[2],
        h[1] * t[0] + h[3] * t[1] + h[4] * t[2],
        h[2] * t[0] + h[4] * t[1] + h[5] * t[2],
    )
