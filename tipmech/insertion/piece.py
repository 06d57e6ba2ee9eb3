"""A piece of wire at the walls: its energy in the channel it lies in, with derivatives in world axes."""

from typing import NamedTuple

from ..kernel import inlined
from ..vessel.bore import Tube, mouth_direction, walls_share
from ..vessel.energy import (
    Local,
    along_spiral,
    false_side,
    from_mirror,
    held_at_edge,
    hole_side,
    local_by_foot,
    true_side,
)
from ..vessel.place import Place, V, to_axes, to_world
from ..vessel.walls import BACK, FALSE, HOLE, WINDOW, Walls, in_false_channel, mirror

NONE = (0.0, 0.0, 0.0)


class Piece(NamedTuple):
    """Energy of a piece, J: gradient (3), Hessian (xx, xy, xz, yy, yz, zz); by the lip's lift: first and second
    derivative, and that of the gradient (3). share: of it that the support's mouth leaves to the walls."""

    u: float
    g: V
    h: tuple[float, ...]
    w: float
    ww: float
    b: V
    share: float


@inlined
def at_walls(
    walls: Walls,
    p: Place,
    side: int,
    lip: float,
    front: float,
    second: float,
    radius: float,
    size: float,
    tip: bool,
) -> Local:
    """Energy of a piece of `size` (m) at p against lumen, lips, flap and outer wall, and against the edges of the
    openings beyond which it lies.

    front, second : positions of front and second end (see `Walls`), m
    """
    g = p.phi * walls.floor
    mirrored = p.s < walls.middle
    s, r, lift, end, shift, bend = p.s, p.r, lip, front, 0.0, 0.0
    if mirrored:
        s, more, shift, bend = mirror(walls, p.s)
        r, lift, end = p.r + more, 0.0, second
    if in_false_channel(side):
        loc = false_side(walls, s, r, g, lift, end, radius, size, tip, mirrored)
    elif side == HOLE:
        loc = hole_side(walls, p.s, p.r, g, lip, front, radius, size, tip)
    else:
        loc = true_side(walls, s, r, g, lift, end, side, radius, size, tip, mirrored)
    if mirrored:
        loc = from_mirror(loc, shift, bend)
    drawn = (side == FALSE and p.s < walls.stop) or (side == BACK and p.s > walls.start)
    if drawn or side == WINDOW or (side == HOLE and not tip):
        loc = held_at_edge(walls, loc, p.s, p.r, g, radius, size * walls.line, side if drawn else WINDOW)
    return loc


@inlined
def at_edge(walls: Walls, p: Place, radius: float) -> Local:
    """Energy of the edge that holds a wire where it passes from the true lumen to the false channel, theory (18b): one
    diameter of it pressed across that edge."""
    n = 0.0
    none = Local(n, n, n, n, n, n, n, n, n, n, n, n, n, n, n, n, n, n, n, n, n, n)
    return held_at_edge(walls, none, p.s, p.r, p.phi * walls.floor, radius, 2.0 * radius * walls.line, WINDOW)


@inlined
def in_world(walls: Walls, tube: Tube, p: Place, x: V, loc: Local) -> Piece:
    """The same in world axes (`loc` by place, see `by_place`), as far as the support's mouth leaves it to the walls."""
    share, slope, bend = walls_share(tube, x[0], x[1], x[2])
    e1, e3 = share / p.stretch, share * walls.floor / p.r
    total = (loc.a_s + loc.b_s + loc.c_s, loc.a_r + loc.b_r + loc.c_r, loc.a_g + loc.b_g + loc.c_g)
    ts, tr, tg = total[0] * e1, share * total[1], total[2] * e3
    gx = ts * p.t[0] + tr * p.er[0] + tg * p.ep[0]
    gy = ts * p.t[1] + tr * p.er[1] + tg * p.ep[1]
    gz = ts * p.t[2] + tr * p.er[2] + tg * p.ep[2]
    h = to_axes(p, to_world(p, walls.floor, loc.ss, loc.sr, loc.sg, loc.rr, loc.rg, loc.gg, total))
    a = (0.0, 0.0, 0.0)
    if share < 1.0:
        a, turning = mouth_direction(tube, x[0], x[1], x[2])
        h = _handed_over(a, h, (gx, gy, gz), share, slope, bend * loc.u, slope * loc.u, turning)
        gx, gy, gz = gx + slope * loc.u * a[0], gy + slope * loc.u * a[1], gz + slope * loc.u * a[2]
    ws, wr, wg, ww = loc.sw * e1, share * loc.rw, loc.gw * e3, slope * loc.w
    return Piece(
        share * loc.u,
        (gx, gy, gz),
        h,
        share * loc.w,
        share * loc.ww,
        (
            ws * p.t[0] + wr * p.er[0] + wg * p.ep[0] + ww * a[0],
            ws * p.t[1] + wr * p.er[1] + wg * p.ep[1] + ww * a[1],
            ws * p.t[2] + wr * p.er[2] + wg * p.ep[2] + ww * a[2],
        ),
        share,
    )


@inlined
def by_place(walls: Walls, p: Place, loc: Local) -> Local:
    """Derivatives at fixed azimuth where the plane spirals, and by the foot's arc length near joints of the arcs."""
    if walls.spiral != 0.0:
        loc = along_spiral(walls, loc)
    if p.slopes[0] != 1.0 or p.s != p.foot:
        loc = local_by_foot(walls.floor, p.slopes, loc)
    return loc


@inlined
def _handed_over(
    a: V,
    h: tuple[float, ...],
    g: V,
    share: float,
    slope: float,
    bend: float,
    pull: float,
    turning: tuple[float, ...],
) -> tuple[float, ...]:
    """Hessian (xx, xy, xz, yy, yz, zz) of share(s) U from that of U (h); g: share times the gradient of U; a, turning:
    gradient and Hessian of s; bend, pull: second and first derivative of the share times U."""
    k = slope / share if share > 0.0 else 0.0
    return (
        share * h[0] + 2.0 * k * a[0] * g[0] + bend * a[0] * a[0] + pull * turning[0],
        share * h[1] + k * (a[0] * g[1] + a[1] * g[0]) + bend * a[0] * a[1] + pull * turning[1],
        share * h[2] + k * (a[0] * g[2] + a[2] * g[0]) + bend * a[0] * a[2] + pull * turning[2],
        share * h[3] + 2.0 * k * a[1] * g[1] + bend * a[1] * a[1] + pull * turning[3],
        share * h[4] + k * (a[1] * g[2] + a[2] * g[1]) + bend * a[1] * a[2] + pull * turning[4],
        share * h[5] + 2.0 * k * a[2] * g[2] + bend * a[2] * a[2] + pull * turning[5],
    )


@inlined
def nothing() -> Piece:
    """A piece that touches no wall."""
    n = 0.0
    return Piece(n, (n, n, n), (n, n, n, n, n, n), n, n, (n, n, n), n)


@inlined
def pressed_walls(
    walls: Walls,
    tube: Tube,
    p: Place,
    at: V,
    side: int,
    lip: float,
    previous: float,
    second: float,
    radius: float,
    size: float,
    tip: bool,
) -> tuple[Piece, V, V, V]:
    """Lumen, lips, flap, outer wall and margins on the part `size` (m) of the wire at p, and its gradient surface by
    surface (see `on_surfaces`)."""
    loc = at_walls(walls, p, side, lip, previous, second, radius, size, tip)
    if loc.u == 0.0:
        return nothing(), NONE, NONE, NONE
    loc = by_place(walls, p, loc)
    part = in_world(walls, tube, p, at, loc)
    f0, f1, f2 = on_surfaces(walls, p, loc, part.share)
    return part, f0, f1, f2


@inlined
def on_surfaces(walls: Walls, p: Place, loc: Local, share: float) -> tuple[V, V, V]:
    """Gradient (3) of a piece by each of the surfaces with friction of its own: outer walls, flap, margins and edges;
    share: of it."""
    e1, e3 = share / p.stretch, share * walls.floor / p.r
    return (
        _in_axes(p, loc.a_s * e1, share * loc.a_r, loc.a_g * e3),
        _in_axes(p, loc.b_s * e1, share * loc.b_r, loc.b_g * e3),
        _in_axes(p, loc.c_s * e1, share * loc.c_r, loc.c_g * e3),
    )


@inlined
def _in_axes(p: Place, gs: float, gr: float, gg: float) -> V:
    """A gradient in world axes from that in the local basis."""
    return (
        gs * p.t[0] + gr * p.er[0] + gg * p.ep[0],
        gs * p.t[1] + gr * p.er[1] + gg * p.ep[1],
        gs * p.t[2] + gr * p.er[2] + gg * p.ep[2],
    )
