"""The wire against the side margins of the planes: at every station the part of the wire that reaches farthest pushes.

theory (22b). Where the wire's tip, a loop or a bulge leads, the margin ahead of it pushes back along the vessel too.
"""

from math import sqrt

from ..kernel import inlined, kernel
from ..rod.band import HALF
from ..vessel.bore import Tube
from ..vessel.energy import Local, from_mirror
from ..vessel.margins import asked_opening, push_margin, reach_aside, station_place, stations_within
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
    """Note for every station the contact point that would open it farthest (-1: none comes near it)."""
    for row in range(mem.edges.shape[0]):
        for k in range(mem.edges.shape[1]):
            mem.pushed_by[row, k], mem.pushed[row, k] = -1, 0.0
    for i in range(pts.element.shape[0]):
        side, s, r, g = mem.side[i], mem.place[i, 0], mem.place[i, 1], mem.place[i, 2]
        if not (side == FALSE or side == BACK) or s < 0.0:
            continue
        radius = _radius(pts, i, pts.xi[i])[0]
        # a part lies within its own length of its point
        level = reach_aside(walls, r, g)[0] + radius - 0.5 * walls.room + pts.bore[i]
        if level <= 0.0:
            continue
        row = _row(side, g)
        along = walls.start + walls.stop - s if side == BACK else s
        first, last = stations_within(walls, along, sqrt(radius * level) + pts.bore[i], mem.edges.shape[1])
        for k in range(first, last):
            asked = asked_opening(walls, k, along, r, g, radius)
            if mem.pushed_by[row, k] < 0 or asked > mem.pushed[row, k]:
                mem.pushed_by[row, k], mem.pushed[row, k] = i, asked


@inlined
def _row(side: int, g: float) -> int:
    """Row of the margin on the side of sigma = g, of the plane that channel `side` is."""
    return (0 if g < 0.0 else 1) + (2 if side == BACK else 0)


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
    """Add what the wire does to a station that point i would open farthest; returns how far it asks that to be opened,
    m.

    It pushes at the place that asks most, which moves along the wire as this slides: the gradient is that at a fixed
    place (the largest value does not change with it), the Hessian has the move.
    """
    xi, end = _farthest(pts, walls, row, station, i, x)
    other = i + end
    if end != 0 and 0 <= other < pts.element.shape[0] and mem.side[other] == mem.side[i]:  # beyond the part's end?
        if mem.place[other, 0] >= 0.0 and _row(mem.side[other], mem.place[other, 2]) == row:
            there, beyond = _farthest(pts, walls, row, station, other, x)
            if beyond != -end:
                i, xi, end = other, there, beyond
    j = pts.element[i]
    a, b = x[j], x[j + 1]
    d = (b[0] - a[0], b[1] - a[1], b[2] - a[2])
    p = _at(walls, a, d, xi)
    s, r, g, shift, bend = p.s, p.r, p.phi * walls.floor, 0.0, 0.0
    if row >= 2:
        s, more, shift, bend = mirror(walls, p.s)
        r += more
    radius = _radius(pts, i, xi)[0]
    asked = asked_opening(walls, station, s, r, g, radius)
    t = push_margin(walls, station, mem.edges[row, station], s, r, g, radius)
    if t[0] == 0.0:
        return asked
    loc = Local(t[0], 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, *t[1:10], 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    if row >= 2:
        loc = from_mirror(loc, shift, bend)
    reopen_force(mem, i, 2)
    put_wall(mem, walls, tube, i, j, xi, p, a, d, loc, grad, band, border, out)
    close_force(mem, i, 2)
    if end == 0:
        _moving_place(pts, walls, row, station, i, xi, p, d, t[10], band)
    return asked


@inlined
def _farthest(pts: Points, walls: Walls, row: int, station: int, i: int, x: Array) -> tuple[float, int]:
    """Where in the part about point i (its xi) a station is asked to be opened farthest, and whether that is within it
    (0) or at its end toward the base (-1) or the tip (1)."""
    j, n = pts.element[i], pts.element.shape[0]
    a, b = x[j], x[j + 1]
    d = (b[0] - a[0], b[1] - a[1], b[2] - a[2])
    # of the dome, which is the end of the last part, half of that
    low, high = (1.0 - 0.5 * pts.step[i - 1], 1.0) if i == n - 1 else (
        pts.xi[i] - 0.5 * pts.step[i], pts.xi[i] + 0.5 * pts.step[i]
    )  # fmt: skip
    xi, end = pts.xi[i], 0
    for _ in range(SEARCH):
        rises, falls = _along(pts, walls, row, station, i, xi, _at(walls, a, d, xi), d)
        xi += rises / falls
        end = -1 if xi <= low else 1 if xi >= high else 0
        xi = min(high, max(low, xi))
    return xi, end


@inlined
def _at(walls: Walls, a: Array, d: V, xi: float) -> Place:
    """Place of a part of an element from a along d."""
    return locate(walls, a[0] + xi * d[0], a[1] + xi * d[1], a[2] + xi * d[2])


@inlined
def _along(pts: Points, walls: Walls, row: int, station: int, i: int, xi: float, p: Place, d: V) -> tuple[float, float]:
    """Derivative along the element (d) of what is asked at place p, and by how much that falls (at least FLAT), m."""
    radius, thicker = _radius(pts, i, xi)
    way = -1.0 if row >= 2 else 1.0
    u = station_place(walls, station) - (walls.start + walls.stop - p.s if row >= 2 else p.s)
    ds = (d[0] * p.t[0] + d[1] * p.t[1] + d[2] * p.t[2]) / p.stretch
    dr = d[0] * p.er[0] + d[1] * p.er[1] + d[2] * p.er[2]
    dp = d[0] * p.ep[0] + d[1] * p.ep[1] + d[2] * p.ep[2]
    dg = walls.floor * (dp / p.r - walls.spiral * ds)
    _, c_r, c_g, c_rr, c_rg = reach_aside(walls, p.r, p.phi * walls.floor)
    away = way * ds + u / radius * thicker
    rises = 2.0 * way * u * ds / radius + c_r * dr + c_g * dg + (1.0 + (u / radius) ** 2) * thicker
    bend = c_g * -2.0 * dr * walls.floor * dp / (p.r * p.r) + c_r * dp * dp / p.r + (c_rr * dr + 2.0 * c_rg * dg) * dr
    return rises, max(2.0 * away * away / radius - bend, FLAT)


@inlined
def _moving_place(
    pts: Points, walls: Walls, row: int, station: int, i: int, xi: float, p: Place, d: V, force: float, band: Array
) -> None:
    """Add to the Hessian that the place with which the wire pushes moves: of a largest value D over t, D_xx - D_xt
    D_tx / D_tt (but for the walls' own curvature)."""
    radius, thicker = _radius(pts, i, xi)
    way = -1.0 if row >= 2 else 1.0
    u = station_place(walls, station) - (walls.start + walls.stop - p.s if row >= 2 else p.s)
    ds = (d[0] * p.t[0] + d[1] * p.t[1] + d[2] * p.t[2]) / p.stretch
    falls = _along(pts, walls, row, station, i, xi, p, d)[1]
    _, c_r, c_g, _, _ = reach_aside(walls, p.r, p.phi * walls.floor)
    by_s = (2.0 * way * u / radius - walls.spiral * walls.floor * c_g) / p.stretch
    by_g, spread = c_g * walls.floor / p.r, -2.0 / radius * (ds + way * u / radius * thicker) / p.stretch
    j = pts.element[i]
    for m in range(6):
        low = _change(p, m, xi, by_s, c_r, by_g, spread)
        for k in range(m + 1):
            row_of, column = 6 * (j + m // 3) + m % 3, 6 * (j + k // 3) + k % 3
            band[row_of, HALF - (row_of - column)] += force / falls * low * _change(p, k, xi, by_s, c_r, by_g, spread)


@inlined
def _change(p: Place, m: int, xi: float, by_s: float, by_r: float, by_g: float, spread: float) -> float:
    """Derivative along the element of the m-th component (of its two nodes) of the gradient of what is asked."""
    k = m % 3
    slope = by_s * p.t[k] + by_r * p.er[k] + by_g * p.ep[k]
    return -slope + (1.0 - xi) * spread * p.t[k] if m < 3 else slope + xi * spread * p.t[k]
