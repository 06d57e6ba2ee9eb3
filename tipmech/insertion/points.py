"""Contact of the whole wire: points along it against support and walls, friction, the shared front.

Contact points are material points of the centreline, some per element, the last one the tip dome. Every energy
comes with its exact gradient and Hessian; normal forces in friction are those of the last pass ("grip").
"""

from math import sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..kernel import bundle, inlined, kernel
from ..kernel.team import anyone, apart, dealt, greatest, in_turn, once, rounds, together, total, turns
from ..rod.band import HALF
from ..rod.elastic import NO_FORCE
from ..rod.self_contact import RELEASED, STUCK
from ..smooth import ramp
from ..vessel.bore import Tube, ahead_of_mouth, bore_wall
from ..vessel.front import front_position, notch
from ..vessel.laws import step5
from ..vessel.place import V, by_foot, to_axes, to_world
from ..vessel.walls import BACK, FALSE, TRUE, Walls, in_false_channel, locate, lumen_radius
from .piece import nothing, pressed_walls

Array = NDArray[np.float64]
Five = tuple[float, float, float, float, float]
IntArray = NDArray[np.int64]

SLOTS = 4  # surfaces with friction of their own: outer walls and support, flap, margins, front
ASIDE = 24  # stations of the margins beside a crossing at most
EDGE_ZONE = 0.4e-3  # m, distance from mouth and lips within which a point's length is divided
STEEPEST = 1.875  # largest slope of the quintic step
FINE = 9e-6  # m, length of these parts: below the contact length on a stiff edge (theory, "Contact")
E_CONTACT, E_FRICTION, E_FRONT, G_LIP, H_LIP, F_FRONT, K_FRONT, LIP_TOUCHED, F_END, K_END, E_SLIDE, OUT = range(12)
NO_HESSIAN = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
LIP, FRONT, END, BORDERS = range(4)  # rows of the borders: variables that the whole wire shares


@bundle
class Points(NamedTuple):
    """Contact points, n of them: element, position within it (0..1), share of the element (step, -) and length
    (bore, m) they stand for, the same as it counts against tissue (size: fading under the dome), radius (m);
    first (N + 1,): each element's first point, n last."""

    element: IntArray
    xi: Array
    step: Array
    bore: Array
    size: Array
    radius: Array
    first: IntArray


@bundle
class Memory(NamedTuple):
    """State of contact kept from increment to increment, and what the last assembly found, for n points.

    side : (n,) channel; anchor : (n, 4, 3) friction anchors, m; grip : (n, 4) friction limits mu N, N
    normal : (n, 4, 3) normals of the last pass; force, direction : the same of the last assembly
    stuck : (n, 4) 1 where the point stuck at the end of the last increment
    place : (n, 5) s (-1: in the support), r, sigma; then the compacted leading surfaces and stiffnesses
    tangential : (n, 3) friction force, N; lead, stiff : (n,) leading surfaces (m) and stiffness (N/m) at the front
    tube : (n,) 1 where the point touches the support
    crossing : (n, 3) where the wire passes between true lumen and false channel at this point, see crossing.py: the
        share (0..1) of its length that is on the side of the point before it; from where along its length this has
        slid since the start of the step, m; drag on that at the end of the last step, N
    at : (n,) where on its element the place of a point is (xi, or that of the part in the false channel)
    old_side, old_crossing : side and crossing at the start of the step
    fine : (n,) parts into which its length is divided (parts of FINE near an edge)
    edges : (2 or 4, m) opening of the margins beyond W/2 at stations (row 0: sigma < 0; rows 2 and 3: of the plane
        behind the upstream lip, mirrored), m; pushed : how far the wire asks them to be opened, m (-inf: it is not
        near); pushing (2 or 4, m, 2) : the first and the last point near, where one is
    taken, weight, lateral, aside : (n,), (n,), (N + 1, 3), (ASIDE, 10) scratch of the margins: shares taken over from
        the support, weights at one station, gradient of what is asked there; stations beside a crossing, see margins.py
    """

    side: IntArray
    anchor: Array
    grip: Array
    normal: Array
    force: Array
    direction: Array
    stuck: IntArray
    place: Array
    tangential: Array
    lead: Array
    stiff: Array
    tube: IntArray
    crossing: Array
    at: Array
    old_side: IntArray
    old_crossing: Array
    fine: IntArray
    edges: Array
    pushed: Array
    pushing: IntArray
    taken: Array
    weight: Array
    lateral: Array
    aside: Array


@bundle
class Surface(NamedTuple):
    """Friction data: coefficient against tissue and at the front, static over kinetic, slip length (m)."""

    friction: float
    front_friction: float
    static_ratio: float
    slip: float


@inlined
def on_element(x: Array, j: int, xi: float) -> V:
    """Position at the share xi of element j, m."""
    return (
        (1.0 - xi) * x[j, 0] + xi * x[j + 1, 0],
        (1.0 - xi) * x[j, 1] + xi * x[j + 1, 1],
        (1.0 - xi) * x[j, 2] + xi * x[j + 1, 2],
    )


@inlined
def crosses(mem: Memory, i: int) -> bool:
    """Whether the wire passes between the true lumen and a false channel from point i - 1 to point i."""
    if i == 0:
        return False
    a, b = mem.side[i - 1], mem.side[i]
    return (a == TRUE and in_false_channel(b)) or (b == TRUE and in_false_channel(a))


@inlined
def in_plane(mem: Memory, i: int) -> tuple[int, float]:
    """The false channel in which point i lies, and the share of its length that does (TRUE and 0: in none)."""
    side, share = mem.side[i], mem.crossing[i, 0]
    if crosses(mem, i):
        return (side, 1.0 - share) if in_false_channel(side) else (mem.side[i - 1], share)
    return (side, 1.0) if in_false_channel(side) else (TRUE, 0.0)


@inlined
def middle_in_plane(pts: Points, mem: Memory, i: int, share: float) -> tuple[float, float, float, float]:
    """Of a point at which the wire crosses, with this `share` on the side of the point before: how much of its length
    is in the false channel and where the middle of that lies on the element, each with its derivative by the share."""
    low, span = pts.xi[i] - 0.5 * pts.step[i], pts.step[i]
    if in_false_channel(mem.side[i]):
        return 1.0 - share, -1.0, low + 0.5 * (1.0 + share) * span, 0.5 * span
    return share, 1.0, low + 0.5 * share * span, 0.5 * span


@inlined
def put_crossing(pts: Points, mem: Memory, walls: Walls, i: int, x: Array) -> None:
    """Note the place of a point at which the wire crosses: that of what is in the false channel."""
    mem.at[i] = middle_in_plane(pts, mem, i, mem.crossing[i, 0])[2]
    at = on_element(x, pts.element[i], mem.at[i])
    p = locate(walls, at[0], at[1], at[2])
    mem.place[i, 0], mem.place[i, 1], mem.place[i, 2] = p.s, p.r, p.phi * walls.floor


@inlined
def point_position(pts: Points, x: Array, i: int) -> V:
    """Position of contact point i, m."""
    return on_element(x, pts.element[i], pts.xi[i])


@inlined
def add_node(grad: Array, band: Array, i: int, g: tuple[float, ...], h: tuple[float, ...]) -> None:
    """Add gradient (3) and Hessian (xx, xy, xz, yy, yz, zz) to the node of unknowns i .. i + 2.

    Everything is read before anything is written, here and below: reads that may wait for one another take, on a GPU,
    longer than all the rest.
    """
    (
        grad[i],
        grad[i + 1],
        grad[i + 2],
        band[i, HALF],
        band[i + 1, HALF - 1],
        band[i + 1, HALF],
        band[i + 2, HALF - 2],
        band[i + 2, HALF - 1],
        band[i + 2, HALF],
    ) = (
        grad[i] + g[0],
        grad[i + 1] + g[1],
        grad[i + 2] + g[2],
        band[i, HALF] + h[0],
        band[i + 1, HALF - 1] + h[1],
        band[i + 1, HALF] + h[3],
        band[i + 2, HALF - 2] + h[2],
        band[i + 2, HALF - 1] + h[4],
        band[i + 2, HALF] + h[5],
    )


@inlined
def add_point(grad: Array, band: Array, j: int, xi: float, g: tuple[float, ...], h: tuple[float, ...]) -> None:
    """Add a point's gradient (3) and Hessian (xx, xy, xz, yy, yz, zz) to nodes j and j + 1."""
    a, b = 1.0 - xi, xi
    i = 6 * j
    aa, ab, bb = a * a, a * b, b * b
    add_node(
        grad,
        band,
        i,
        (a * g[0], a * g[1], a * g[2]),
        (aa * h[0], aa * h[1], aa * h[2], aa * h[3], aa * h[4], aa * h[5]),
    )
    k = i + 6
    add_node(
        grad,
        band,
        k,
        (b * g[0], b * g[1], b * g[2]),
        (bb * h[0], bb * h[1], bb * h[2], bb * h[3], bb * h[4], bb * h[5]),
    )
    add_cross(band, k, (ab * h[0], ab * h[1], ab * h[2], ab * h[3], ab * h[4], ab * h[5]))


@inlined
def add_cross(band: Array, k: int, h: tuple[float, ...]) -> None:
    """Add a Hessian (xx, xy, xz, yy, yz, zz) between the node of unknowns k .. k + 2 and the one before it."""
    (
        band[k, HALF - 6],
        band[k, HALF - 5],
        band[k, HALF - 4],
        band[k + 1, HALF - 7],
        band[k + 1, HALF - 6],
        band[k + 1, HALF - 5],
        band[k + 2, HALF - 8],
        band[k + 2, HALF - 7],
        band[k + 2, HALF - 6],
    ) = (
        band[k, HALF - 6] + h[0],
        band[k, HALF - 5] + h[1],
        band[k, HALF - 4] + h[2],
        band[k + 1, HALF - 7] + h[1],
        band[k + 1, HALF - 6] + h[3],
        band[k + 1, HALF - 5] + h[4],
        band[k + 2, HALF - 8] + h[2],
        band[k + 2, HALF - 7] + h[4],
        band[k + 2, HALF - 6] + h[5],
    )


@inlined
def add_shared(grad: Array, band: Array, j: int, xi: float, g: tuple[float, ...], h: tuple[float, ...]) -> None:
    """`add_point` of parts that a team has dealt out among itself: all of theirs, at places xi of the same element."""
    a, b = 1.0 - xi, xi
    aa, ab, bb = a * a, a * b, b * b
    add_node(grad, band, 6 * j, total3(a, g), total6(aa, h))
    add_node(grad, band, 6 * j + 6, total3(b, g), total6(bb, h))
    add_cross(band, 6 * j + 6, total6(ab, h))


@inlined
def total3(a: float, v: tuple[float, ...]) -> V:
    """Sum over the team of a times a vector."""
    return total(a * v[0]), total(a * v[1]), total(a * v[2])


@inlined
def total6(a: float, h: tuple[float, ...]) -> tuple[float, ...]:
    """The same of a symmetric matrix."""
    return total(a * h[0]), total(a * h[1]), total(a * h[2]), total(a * h[3]), total(a * h[4]), total(a * h[5])


@inlined
def _friction(mem: Memory, i: int, x: float, y: float, z: float, slip: float, mode: int) -> tuple[float, ...]:
    """Friction of point i at x: energy, force gradient (3), Hessian (6). theory (28).

    Elastic stick up to the slip length, then constant force mu N, in the plane across the lagged normal.
    """
    e, gx, gy, gz = 0.0, 0.0, 0.0, 0.0
    hxx, hxy, hxz, hyy, hyz, hzz = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    for slot in range(SLOTS):
        limit = mem.grip[i, slot]
        if limit <= 0.0:
            continue
        n = mem.normal[i, slot]
        ux, uy, uz = x - mem.anchor[i, slot, 0], y - mem.anchor[i, slot, 1], z - mem.anchor[i, slot, 2]
        un = ux * n[0] + uy * n[1] + uz * n[2]
        ux, uy, uz = ux - un * n[0], uy - un * n[1], uz - un * n[2]
        u = sqrt(ux * ux + uy * uy + uz * uz)
        if u <= slip or mode == STUCK:
            k, c = limit / slip, 0.0
            e += 0.5 * k * u * u
        else:
            k = limit / u
            c = -k / (u * u)
            e += limit * (u - 0.5 * slip)
        gx, gy, gz = gx + k * ux, gy + k * uy, gz + k * uz
        hxx += k * (1.0 - n[0] * n[0]) + c * ux * ux
        hxy += -k * n[0] * n[1] + c * ux * uy
        hxz += -k * n[0] * n[2] + c * ux * uz
        hyy += k * (1.0 - n[1] * n[1]) + c * uy * uy
        hyz += -k * n[1] * n[2] + c * uy * uz
        hzz += k * (1.0 - n[2] * n[2]) + c * uz * uz
    return e, gx, gy, gz, hxx, hxy, hxz, hyy, hyz, hzz


@kernel
def mark_edges(pts: Points, mem: Memory, walls: Walls, tube: Tube, x: Array) -> bool:
    """Mark the points near the support's mouth and the lips: there the line contact is integrated finer.

    Returns True where a mark has changed.
    """
    changed = False
    for i in dealt(pts.element.shape[0] - 1):
        j, xi = pts.element[i], pts.xi[i]
        px, py, pz = on_element(x, j, xi)
        along = ahead_of_mouth(tube, px, py, pz)
        near = abs(along) < EDGE_ZONE
        if along > 0.0 and not near:
            p = locate(walls, px, py, pz)
            near = abs(p.s - walls.start) < EDGE_ZONE or abs(p.s - walls.stop) < EDGE_ZONE
            near = near and p.r + pts.radius[i] > lumen_radius(walls, p.s)[0] - EDGE_ZONE - walls.gap
        parts = int(np.ceil(pts.bore[i] / FINE)) if near else 1
        changed = changed or parts != mem.fine[i]
        mem.fine[i] = parts
    together()
    return anyone(changed)


@kernel
def assemble_contact(
    pts: Points,
    mem: Memory,
    walls: Walls,
    tube: Tube,
    surf: Surface,
    x: Array,
    lip: float,
    previous: float,
    strength: float,
    centre: float,
    second: float,
    end_strength: float,
    mode: int,
    grad: Array,
    band: Array,
    border: Array,
    out: Array,
) -> tuple[float, float]:
    """Add contact, friction, front and second end to gradient (6 N + 3,), Hessian band and borders (BORDERS, 6 N + 3).

    lip : lift of the free lip, m; previous, second : positions of front and second end (see `Walls`) at the start of
    the increment, m; strength, end_strength : their forces, N (inf: held); centre : lateral position of the notch, m
    (nan: not touched yet); mode : NORMAL, STUCK or RELEASED friction; border : derivative of the energy by the lip and
    (negative) by front and second end, N/m; out : see the E_, G_, H_, F_, K_ indices.

    Returns
    -------
    tuple of float
        positions of front and second end, m
    """
    out[:] = 0.0
    for i in dealt(border.shape[1]):
        for k in range(BORDERS):
            border[k, i] = 0.0
    together()
    n = pts.element.shape[0]
    reach = max(walls.gap, walls.thickness) + max(lip, 0.0) + walls.eps
    sums = (0.0, 0.0, 0.0, 0.0, 0.0)
    for turn in turns():
        for j in in_turn(turn, pts.first.shape[0] - 1):
            for i in range(pts.first[j], pts.first[j + 1]):
                if not apart(mem.fine[i]):
                    sums = point(
                        pts,
                        mem,
                        walls,
                        tube,
                        surf,
                        i,
                        x,
                        lip,
                        previous,
                        second,
                        centre,
                        reach,
                        mode,
                        grad,
                        band,
                        border,
                        sums,
                    )
        together()
    i = next_apart(mem, 0)
    while i < n:
        sums = point(
            pts, mem, walls, tube, surf, i, x, lip, previous, second, centre, reach, mode, grad, band, border, sums
        )
        i = next_apart(mem, i + 1)
    out[E_CONTACT], out[E_FRICTION], out[G_LIP], out[H_LIP] = (
        total(sums[0]),
        total(sums[1]),
        total(sums[2]),
        total(sums[3]),
    )
    out[LIP_TOUCHED] = 1.0 if anyone(sums[4] > 0.0) else 0.0
    in_false, at_end = False, False
    for i in dealt(n):
        in_false = in_false or (mem.side[i] == FALSE and mem.lead[i] > 0.0)
        at_end = at_end or (mem.side[i] == walls.end_side and mem.lead[i] > second - walls.eps)
    front = previous
    if anyone(in_false):
        front = _push_end(pts, mem, walls, x, FALSE, previous, strength, walls.notch, centre, grad, band, border, out)
    if anyone(at_end):
        second = _push_end(
            pts, mem, walls, x, walls.end_side, second, end_strength, 0.0, np.nan, grad, band, border, out
        )
    return front, second


@inlined
def next_apart(mem: Memory, start: int) -> int:
    """The first point from `start` on whose parts the team deals out; behind the last: none."""
    n = mem.fine.shape[0]
    if not apart(2):
        return n
    found = n
    for k in dealt(n - start):
        if start + k < found and apart(mem.fine[start + k]):
            found = start + k
    return -greatest(-found)


@inlined
def point(
    pts: Points,
    mem: Memory,
    walls: Walls,
    tube: Tube,
    surf: Surface,
    i: int,
    x: Array,
    lip: float,
    previous: float,
    second: float,
    centre: float,
    reach: float,
    mode: int,
    grad: Array,
    band: Array,
    border: Array,
    sums: Five,
) -> Five:
    """Point i against support and walls, and its friction; returns `sums` with its own added: energy of contact and of
    friction, gradient and Hessian by the lip, whether (> 0) it touches that."""
    j, xi, count, tip = pts.element[i], pts.xi[i], mem.fine[i], i == pts.element.shape[0] - 1
    side, radius, span = mem.side[i], pts.radius[i], pts.size[i]
    mem.lead[i] = -1.0
    mem.tube[i] = 0
    at = on_element(x, j, xi)
    along = ahead_of_mouth(tube, at[0], at[1], at[2])
    passes = along > 0.0 and not tip and crosses(mem, i)  # its walls: crossing.py
    contact, rub, lip_g, lip_h, touched = sums
    lumen, flap, edge, in_tube = NO_FORCE, NO_FORCE, NO_FORCE, False
    if count == 1:
        if along < tube.rho + radius and not tip:
            t = bore_wall(tube, at[0], at[1], at[2], radius, pts.bore[i])
            if t[0] > 0.0:
                contact, in_tube, lumen = contact + t[0], True, (t[1], t[2], t[3])
                add_point(grad, band, j, xi, lumen, (t[4], t[5], t[6], t[7], t[8], t[9]))
        if along > 0.0 and not passes:
            p = locate(walls, at[0], at[1], at[2])
            mem.place[i, 0], mem.place[i, 1], mem.place[i, 2] = p.s, p.r, p.phi * walls.floor
            if side != TRUE or not _is_clear(walls, p.s, p.r, radius, 0.0, reach):
                part, f0, f1, f2 = pressed_walls(walls, tube, p, at, side, lip, previous, second, radius, span, tip)
                if part.u != 0.0:
                    contact, lumen, flap, edge = contact + part.u, plus(lumen, f0), f1, f2
                    add_point(grad, band, j, xi, part.g, part.h)
                    if part.w != 0.0 or part.ww != 0.0:
                        lip_g, lip_h, touched = lip_g + part.w, lip_h + part.ww, 1.0
                        for c in range(3):
                            border[LIP, 6 * j + c] += (1.0 - xi) * part.b[c]
                            border[LIP, 6 * j + 6 + c] += xi * part.b[c]
    else:
        step = pts.step[i] / count
        p = locate(walls, at[0], at[1], at[2])
        clear = passes or along <= -0.5 * pts.bore[i]
        clear = clear or (side == TRUE and _is_clear(walls, p.s, p.r, radius, pts.bore[i], reach))
        for k in rounds(count):
            xi_k = xi + (k + 0.5 - 0.5 * count) * step
            at_k = on_element(x, j, xi_k)
            if along < tube.rho + radius + EDGE_ZONE:
                t = bore_wall(tube, at_k[0], at_k[1], at_k[2], radius, pts.bore[i] / count)
                touches = k < count and t[0] > 0.0
                if anyone(touches):
                    in_tube = True
                    f, h = NO_FORCE, NO_HESSIAN
                    if touches:
                        f, h = (t[1], t[2], t[3]), (t[4], t[5], t[6], t[7], t[8], t[9])
                        contact, lumen = contact + t[0], plus(lumen, f)
                    add_shared(grad, band, j, xi_k, f, h)
            if not clear:
                p_k = locate(walls, at_k[0], at_k[1], at_k[2])
                part, f0, f1, f2 = nothing(), NO_FORCE, NO_FORCE, NO_FORCE
                if k < count and (side != TRUE or not _is_clear(walls, p_k.s, p_k.r, radius, 0.0, reach)):
                    part, f0, f1, f2 = pressed_walls(
                        walls, tube, p_k, at_k, side, lip, previous, second, radius, span / count, tip
                    )
                if anyone(part.u != 0.0):
                    contact, lumen, flap, edge = contact + part.u, plus(lumen, f0), plus(flap, f1), plus(edge, f2)
                    add_shared(grad, band, j, xi_k, part.g, part.h)
                    if anyone(part.w != 0.0 or part.ww != 0.0):
                        lip_g, lip_h, touched = lip_g + part.w, lip_h + part.ww, 1.0
                        a, b = total3(1.0 - xi_k, part.b), total3(xi_k, part.b)
                        for c in range(3):
                            border[LIP, 6 * j + c] += a[c]
                            border[LIP, 6 * j + 6 + c] += b[c]
        lumen, flap, edge = total3(1.0, lumen), total3(1.0, flap), total3(1.0, edge)
        mem.place[i, 0], mem.place[i, 1], mem.place[i, 2] = p.s, p.r, p.phi * walls.floor
    mem.tube[i] = 1 if in_tube else 0
    keep_force(mem, i, 0, lumen)
    keep_force(mem, i, 1, flap)
    keep_force(mem, i, 2, edge)
    mem.force[i, 3] = 0.0
    mem.at[i] = xi
    if passes:
        put_crossing(pts, mem, walls, i, x)
    if along > 0.0:
        _lead_point(mem, walls, i, radius, tip, span, centre)
    else:
        mem.place[i, 0] = -1.0
    if mode != RELEASED:
        r = _friction(mem, i, at[0], at[1], at[2], surf.slip, mode)
        mem.tangential[i, 0], mem.tangential[i, 1], mem.tangential[i, 2] = r[1], r[2], r[3]
        if r[0] > 0.0:
            rub += once(r[0]) if apart(count) else r[0]
            add_point(grad, band, j, xi, (r[1], r[2], r[3]), (r[4], r[5], r[6], r[7], r[8], r[9]))
    return contact, rub, lip_g, lip_h, touched


@inlined
def plus(a: V, b: V) -> V:
    """Sum of two vectors."""
    return a[0] + b[0], a[1] + b[1], a[2] + b[2]


@inlined
def keep_force(mem: Memory, i: int, slot: int, g: V) -> None:
    """Force and unit direction of a surface on point i from its gradient."""
    f = sqrt(g[0] * g[0] + g[1] * g[1] + g[2] * g[2])
    mem.force[i, slot] = f
    if f > 0.0:
        mem.direction[i, slot, 0], mem.direction[i, slot, 1], mem.direction[i, slot, 2] = g[0] / f, g[1] / f, g[2] / f


@inlined
def gathered(mem: Memory, i: int, slot: int) -> V:
    """Gradient of a surface on point i, of which force and direction are kept."""
    f, d = mem.force[i, slot], mem.direction[i, slot]
    return (d[0] * f, d[1] * f, d[2] * f) if f > 0.0 else NO_FORCE


@inlined
def once3(v: V) -> V:
    """A vector from which a sum over the team starts."""
    return once(v[0]), once(v[1]), once(v[2])


@inlined
def _is_clear(walls: Walls, s: float, r: float, radius: float, length: float, reach: float) -> bool:
    """Whether a piece of wire of `length` (m) about (s, r) in the true lumen is out of reach of lumen and flap."""
    margin = reach if walls.middle > 0.0 or s + length > walls.start - walls.lip_length else walls.eps
    return (
        r + radius + length < lumen_radius(walls, s)[0] - STEEPEST * walls.narrow[0] / walls.narrow[3] * length - margin
    )


@inlined
def _lead_point(
    mem: Memory,
    walls: Walls,
    i: int,
    radius: float,
    tip: bool,
    size: float,
    centre: float,
) -> None:
    """Note the surface with which point i leads: in the false channel to the front, else to the second end."""
    if mem.side[i] == walls.end_side:
        s = mem.place[i, 0]
        mem.lead[i] = (walls.start + walls.stop - s if walls.end_side == BACK else s) + radius
        mem.stiff[i] = walls.front_stiffness * (1.0 if tip else size / (2.0 * radius))
    if mem.side[i] != FALSE:
        return
    offset = mem.place[i, 2] - centre if centre == centre else 0.0
    sides = step5(mem.place[i, 1] / walls.far - 1.0)[0]  # about the axis there are none: the notch lets go
    mem.lead[i] = mem.place[i, 0] + radius + sides * notch(offset, walls.notch, radius)[0]
    mem.stiff[i] = walls.front_stiffness * (1.0 if tip else size / (2.0 * radius))


@kernel
def _push_end(
    pts: Points,
    mem: Memory,
    walls: Walls,
    x: Array,
    side: int,
    previous: float,
    strength: float,
    depth: float,
    centre: float,
    grad: Array,
    band: Array,
    border: Array,
    out: Array,
) -> float:
    """A shared end that yields, front (side FALSE) or second end (see `Walls`): its position for the present leading
    surfaces, and its share of energy and tangent. depth : of its notch, m; centre : where that is, m."""
    n = pts.element.shape[0]
    way = -1.0 if side == BACK else 1.0  # in which it is pushed
    force, stiffness, row = (F_FRONT, K_FRONT, FRONT) if side == FALSE else (F_END, K_END, END)
    a = _position(mem, n, side, previous, strength, walls.eps)
    if a > previous:
        out[E_FRONT] += strength * (a - previous)
    for i in range(n):
        e, f, k = ramp(mem.lead[i] - a, walls.eps)
        if mem.lead[i] < 0.0 or f <= 0.0 or mem.side[i] != side:
            continue
        stiff = mem.stiff[i]
        j, xi = pts.element[i], pts.xi[i]
        px, py, pz = on_element(x, j, xi)
        p = locate(walls, px, py, pz)
        offset = p.phi * walls.floor - centre if centre == centre else 0.0
        near, v1, v2 = notch(offset, depth, pts.radius[i])
        if centre != centre:
            v1, v2 = 0.0, 0.0
        a0, a1, a2 = step5(p.r / walls.far - 1.0)
        v1, v2, cross = a0 * v1, a0 * v2, a1 / walls.far * v1
        rise, bend = a1 / walls.far * near, a2 / (walls.far * walls.far) * near
        out[E_CONTACT] += stiff * e
        out[force] += stiff * f
        out[stiffness] += stiff * k
        f, k = stiff * f, stiff * k
        # the surface leads by s and the notch's depth; both at fixed azimuth, where the plane spirals
        turn = walls.spiral * walls.floor
        lead = way - turn * v1
        total = (f * lead, f * rise, f * v1)
        ss, sr, sg = (
            k * lead * lead + f * turn * turn * v2,
            k * lead * rise - f * turn * cross,
            k * lead * v1 - f * turn * v2,
        )
        rr, rg, gg = k * rise * rise + f * bend, k * rise * v1 + f * cross, k * v1 * v1 + f * v2
        if p.slopes[0] != 1.0 or p.s != p.foot:
            total, h = by_foot(walls.floor, p.slopes, total, (ss, sr, sg, rr, rg, gg))
            ss, sr, sg, rr, rg, gg = h
            lead, rise, v1 = p.slopes[0] * lead, rise + p.slopes[1] * lead, v1 + p.slopes[2] / walls.floor * lead
        local = to_world(p, walls.floor, ss, sr, sg, rr, rg, gg, total)
        e1, e3 = lead / p.stretch, v1 * walls.floor / p.r
        to_lead = (
            e1 * p.t[0] + rise * p.er[0] + e3 * p.ep[0],
            e1 * p.t[1] + rise * p.er[1] + e3 * p.ep[1],
            e1 * p.t[2] + rise * p.er[2] + e3 * p.ep[2],
        )
        g = (f * to_lead[0], f * to_lead[1], f * to_lead[2])
        keep_force(mem, i, 3, g)
        add_point(grad, band, j, xi, g, to_axes(p, local))
        for c in range(3):
            value = k * to_lead[c]
            border[row, 6 * j + c] -= (1.0 - xi) * value
            border[row, 6 * j + 6 + c] -= xi * value
    return a


@kernel
def _position(mem: Memory, n: int, side: int, previous: float, strength: float, eps: float) -> float:
    """Position of a yielding end for the noted leading surfaces (those with lead >= 0) of the points on its side."""
    count = 0
    for i in range(n):
        if mem.lead[i] > previous - eps and mem.side[i] == side:
            mem.place[count, 3], mem.place[count, 4] = mem.lead[i], mem.stiff[i]
            count += 1
    return front_position(mem.place[:, 3], mem.place[:, 4], count, previous, strength, eps)
