"""The wire against the side margins of the planes: at every station the part of the wire that reaches farthest pushes.

theory (22b). Where the wire's tip, a loop or a bulge leads, the margin ahead of it pushes back along the vessel too.
"""

from math import sqrt

from ..kernel import inlined, kernel
from ..rod.band import HALF
from ..vessel.bore import Tube
from ..vessel.energy import Local, from_mirror
from ..vessel.margins import asked_opening, beyond_room, push_margin, station_place, stations_within
from ..vessel.place import Place, V
from ..vessel.walls import BACK, FALSE, Walls, locate, mirror
from .points import Array, Memory, Points, close_force, put_wall, reopen_force

SEARCH = 3  # Newton steps to the place in a part that reaches farthest
FLAT = 1e-9  # m, second derivative along a part of what is asked: below it its end asks most


@kernel
def push_margins(
    pts: Points, mem: Memory, walls: Walls, tube: Tube, x: Array, grad: Array, band: Array, border: Array, out: Array
) -> None:
    """Add the margins to gradient and Hessian band, after all else has been assembled (it places the points)."""
    _choose(pts, mem, walls)
    for row in range(mem.edges.shape[0]):
        for k in range(mem.edges.shape[1]):
            i = mem.pushed_by[row, k]
            if i >= 0:
                mem.pushed[row, k] = _push(pts, mem, walls, tube, row, k, i, x, grad, band, border, out)


@kernel
def _choose(pts: Points, mem: Memory, walls: Walls) -> None:
    """Note for every station the contact point that would open it farthest (-1: none reaches it)."""
    for row in range(mem.edges.shape[0]):
        for k in range(mem.edges.shape[1]):
            mem.pushed_by[row, k], mem.pushed[row, k] = -1, 0.0
    for i in range(pts.element.shape[0]):
        side, s, r, g = mem.side[i], mem.place[i, 0], mem.place[i, 1], mem.place[i, 2]
        if not (side == FALSE or side == BACK) or s < 0.0 or r <= walls.far:
            continue
        radius = _radius(pts, i, pts.xi[i])[0]
        level = beyond_room(walls, g, radius) + pts.bore[i]  # a part lies within its own length of its point
        if level <= 0.0:
            continue
        row = (0 if g < 0.0 else 1) + (2 if side == BACK else 0)
        along = walls.start + walls.stop - s if side == BACK else s
        first, last = stations_within(walls, along, sqrt(radius * level) + pts.bore[i], mem.edges.shape[1])
        for k in range(first, last):
            asked = asked_opening(walls, k, along, g, radius)
            if mem.pushed_by[row, k] < 0 or asked > mem.pushed[row, k]:
                mem.pushed_by[row, k], mem.pushed[row, k] = i, asked


@inlined
def _radius(pts: Points, i: int, xi: float) -> tuple[float, float]:
    """Radius with which the wire meets the margins at xi in the part about point i, linear between the parts' middles,
    m, and its slope by xi; the dome meets them with that of the wire whose end it is."""
    n = pts.radius.shape[0]
    k = min(i, n - 2)
    t = (xi - pts.xi[k]) / pts.step[k]
    ahead = k + 1 if t > 0.0 and k < n - 2 else k
    slope = pts.radius[ahead] - pts.radius[ahead - 1] if ahead > 0 else 0.0
    return pts.radius[k] + t * slope, slope / pts.step[k]


@kernel
def _push(
    pts: Points,
    mem: Memory,
    walls: Walls,
    tube: Tube,
    row: int,
    station: int,
    i: int,
    x: Array,
    grad: Array,
    band: Array,
    border: Array,
    out: Array,
) -> float:
    """Add what the part of the wire about point i does to a station; returns how far it asks that to be opened, m.

    It pushes at the place within the part that asks most, which moves along the wire as this slides: the gradient is
    that at a fixed place (the largest value does not change with it), the Hessian has the move.
    """
    j = pts.element[i]
    a, b, c = x[j], x[j + 1], mem.place[i]
    back = row >= 2
    d = (b[0] - a[0], b[1] - a[1], b[2] - a[2])
    way, side = -1.0 if back else 1.0, 1.0 if c[2] >= 0.0 else -1.0
    # of the dome, which is the end of the last part, half of that
    tip = i == pts.element.shape[0] - 1
    back_to, reach, moved = (-0.5 * pts.step[i - 1], 0.0, 0.0) if tip else (-0.5 * pts.step[i], 0.5 * pts.step[i], 0.0)
    p = _at(walls, a, d, pts.xi[i])
    for _ in range(SEARCH):
        u = station_place(walls, station) - (walls.start + walls.stop - p.s if back else p.s)
        ds, dg, bend = _slopes(walls, p, d)
        radius, thicker = _radius(pts, i, pts.xi[i] + moved)
        away = way * ds + u / radius * thicker
        falls = max(2.0 * away * away / radius - side * bend, FLAT)
        moved += (2.0 * way * u * ds / radius + side * dg + (1.0 + (u / radius) ** 2) * thicker) / falls
        moved = min(reach, max(back_to, moved))
        p = _at(walls, a, d, pts.xi[i] + moved)
    xi = pts.xi[i] + moved
    radius, thicker = _radius(pts, i, xi)
    s, r, g, shift, bend = p.s, p.r, p.phi * walls.floor, 0.0, 0.0
    if back:
        s, more, shift, bend = mirror(walls, p.s)
        r += more
    asked = asked_opening(walls, station, s, g, radius) if p.r >= 2.0 * walls.far else 0.0
    t = push_margin(walls, station, mem.edges[row, station], s, r, g, radius)
    if t[0] == 0.0:
        return asked
    loc = Local(t[0], 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, *t[1:], 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    if back:
        loc = from_mirror(loc, shift, bend)
    reopen_force(mem, i, 2)
    put_wall(mem, walls, tube, i, j, xi, p, a, d, loc, grad, band, border, out)
    close_force(mem, i, 2)
    if back_to < moved < reach:
        _moving_place(
            walls, p, j, xi, d, way, side, station_place(walls, station) - s, radius, thicker, abs(t[3]), band
        )
    return asked


@inlined
def _at(walls: Walls, a: Array, d: V, xi: float) -> Place:
    """Place of a part of an element from a along d."""
    return locate(walls, a[0] + xi * d[0], a[1] + xi * d[1], a[2] + xi * d[2])


@inlined
def _slopes(walls: Walls, p: Place, d: V) -> tuple[float, float, float]:
    """What s and sigma change by along d, and sigma's second derivative."""
    ds = (d[0] * p.t[0] + d[1] * p.t[1] + d[2] * p.t[2]) / p.stretch
    dr = d[0] * p.er[0] + d[1] * p.er[1] + d[2] * p.er[2]
    dg = walls.floor * (d[0] * p.ep[0] + d[1] * p.ep[1] + d[2] * p.ep[2]) / p.r
    return ds, dg - walls.floor * walls.spiral * ds, -2.0 * dr / p.r * dg


@inlined
def _moving_place(
    walls: Walls,
    p: Place,
    j: int,
    xi: float,
    d: V,
    way: float,
    side: float,
    u: float,
    radius: float,
    thicker: float,
    force: float,
    band: Array,
) -> None:
    """Add to the Hessian that the place moves with which element j pushes (u: how far the station lies ahead of it, m):
    of a largest value D over t, D_xx - D_xt D_tx / D_tt."""
    ds, _, bend = _slopes(walls, p, d)
    away = way * ds + u / radius * thicker
    falls = max(2.0 * away * away / radius - side * bend, FLAT)
    by_s, by_g = way / p.stretch, side * walls.floor / p.r
    spread = -2.0 / radius * away * by_s
    for m in range(6):
        low = _change(p, m, xi, u, radius, by_s, by_g, spread, walls.spiral * walls.floor * side)
        for k in range(m + 1):
            row, column = 6 * (j + m // 3) + m % 3, 6 * (j + k // 3) + k % 3
            other = _change(p, k, xi, u, radius, by_s, by_g, spread, walls.spiral * walls.floor * side)
            band[row, HALF - (row - column)] += force / falls * low * other


@inlined
def _change(
    p: Place, m: int, xi: float, u: float, radius: float, by_s: float, by_g: float, spread: float, spiral: float
) -> float:
    """Derivative along the element of the m-th component (of its two nodes) of the gradient of what is asked."""
    k = m % 3
    slope = (2.0 * u / radius * by_s - spiral / p.stretch) * p.t[k] + by_g * p.ep[k]
    return -slope + (1.0 - xi) * spread * p.t[k] if m < 3 else slope + xi * spread * p.t[k]
