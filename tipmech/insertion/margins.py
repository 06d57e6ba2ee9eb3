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

SEARCH = 2  # Newton steps to the place in a part that reaches farthest
ACROSS = 1e-18  # m2, square of a part's length along the vessel: below it the part lies across


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
        level = beyond_room(walls, g, pts.radius[i]) + pts.bore[i]  # a part lies within its own length of its point
        if level <= 0.0:
            continue
        row = (0 if g < 0.0 else 1) + (2 if side == BACK else 0)
        along = walls.start + walls.stop - s if side == BACK else s
        first, last = stations_within(walls, along, sqrt(pts.radius[i] * level) + pts.bore[i], mem.edges.shape[1])
        for k in range(first, last):
            asked = asked_opening(walls, k, along, g, pts.radius[i])
            if mem.pushed_by[row, k] < 0 or asked > mem.pushed[row, k]:
                mem.pushed_by[row, k], mem.pushed[row, k] = i, asked


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
    j, radius = pts.element[i], pts.radius[i]
    a, b, c = x[j], x[j + 1], mem.place[i]
    back = row >= 2
    d = (b[0] - a[0], b[1] - a[1], b[2] - a[2])
    way, side = -1.0 if back else 1.0, 1.0 if c[2] >= 0.0 else -1.0
    reach, moved = 0.5 * pts.step[i], 0.0
    p = _at(walls, a, d, pts.xi[i])
    for _ in range(SEARCH):
        u = station_place(walls, station) - (walls.start + walls.stop - p.s if back else p.s)
        ds, dg = _slopes(walls, p, d)
        moved += (way * u * ds + 0.5 * radius * side * dg) / max(ds * ds, ACROSS)
        moved = min(reach, max(-reach, moved))
        p = _at(walls, a, d, pts.xi[i] + moved)
    xi = pts.xi[i] + moved
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
    if abs(moved) < reach:
        _moving_place(walls, p, j, xi, d, way, side, station_place(walls, station) - s, radius, abs(t[3]), band)
    return asked


@inlined
def _at(walls: Walls, a: Array, d: V, xi: float) -> Place:
    """Place of a part of an element from a along d."""
    return locate(walls, a[0] + xi * d[0], a[1] + xi * d[1], a[2] + xi * d[2])


@inlined
def _slopes(walls: Walls, p: Place, d: V) -> tuple[float, float]:
    """What s and sigma change by along d."""
    ds = (d[0] * p.t[0] + d[1] * p.t[1] + d[2] * p.t[2]) / p.stretch
    return ds, walls.floor * ((d[0] * p.ep[0] + d[1] * p.ep[1] + d[2] * p.ep[2]) / p.r - walls.spiral * ds)


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
    force: float,
    band: Array,
) -> None:
    """Add to the Hessian that the place moves with which element j pushes (u: how far the station lies ahead of it, m):
    of a largest value D over t, D_xx - D_xt D_tx / D_tt."""
    ds = way * _slopes(walls, p, d)[0]
    by_s, by_g = way / p.stretch, side * walls.floor / p.r
    spread = -2.0 / radius * ds * by_s
    for m in range(6):
        low = _change(p, m, xi, u, radius, by_s, by_g, spread, walls.spiral * walls.floor * side)
        for k in range(m + 1):
            row, column = 6 * (j + m // 3) + m % 3, 6 * (j + k // 3) + k % 3
            other = _change(p, k, xi, u, radius, by_s, by_g, spread, walls.spiral * walls.floor * side)
            band[row, HALF - (row - column)] += force * radius / (2.0 * ds * ds) * low * other


@inlined
def _change(
    p: Place, m: int, xi: float, u: float, radius: float, by_s: float, by_g: float, spread: float, spiral: float
) -> float:
    """Derivative along the element of the m-th component (of its two nodes) of the gradient of what is asked."""
    k = m % 3
    slope = (2.0 * u / radius * by_s - spiral / p.stretch) * p.t[k] + by_g * p.ep[k]
    return -slope + (1.0 - xi) * spread * p.t[k] if m < 3 else slope + xi * spread * p.t[k]
