"""A plane chain of rigid links in a groove: its arrays, and the contact of its links' ends. theory (91).

Links are counted from the tip (0). The groove runs along x from the mouth of a bore (x < 0) to a front; y is across.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..kernel import bundle, inlined, kernel
from ..smooth import ramp

Array = NDArray[np.float64]

STATION = 0.12e-3  # m, at which a wall's place is kept: as in an insertion
SLIP = 10e-6  # m, elastic slip of friction
ONSET = 5e-6  # m, smoothing of the onset of contact


@bundle
class Chain(NamedTuple):
    """Links and work space; index 0 at the tip. step: length of a link, m; stiff: EI/ds of the joint behind a link,
    N m; bend: its natural angle, rad. Work space: angles, places (x, y), contact, Hessian."""

    step: float
    stiff: Array  # (n,)
    bend: Array  # (n,)
    theta: Array  # (n,)
    trial: Array  # (n,)
    x: Array  # (n,)
    y: Array  # (n,)
    inside: Array  # (n,) 1 in the bore
    edge: Array  # (stations, 2) how far a wall has been moved out for good, below and above, m
    out: Array  # (n, 2) the same at each link's end
    pinch: Array  # (stations,) friction limit of floor and flap that hold the wire between them, N/m
    anchor: Array  # (n, 4) of friction along the walls, across the front, and of the pinched wire along and across
    normal: Array  # (n, 3) normal forces of walls and front (N), friction limit of the pinched wire (N)
    grad: Array  # (n,)
    move: Array  # (n,)
    lead: Array  # (n,) leading surface at the front, its slope and curvature across, stiffness, its slope times that
    lead1: Array
    lead2: Array
    share: Array
    sums: Array  # (n, 7) prefix sums of forces and stiffnesses from the tip
    hess: Array  # (n, n)
    factor: Array  # (n, n)


class Groove(NamedTuple):
    """What the chain meets; lengths m, line stiffness N/m2.

    clear: play in the bore to either side; bore: its line stiffness
    half: from the middle to where the wire's centreline meets a wall; wall: its line stiffness; limit: force per length
        at which it yields, N/m
    front: its place from the bore's mouth; front_force, N, that drives it on (inf: none does); front_stiffness, N/m;
        notch: its depth (0: flat)
    radius, tip_radius: of shaft and dome; friction, front_friction; curved: curvature of the floor across, 1/m
    """

    clear: float
    bore: float
    half: float
    wall: float
    limit: float
    front: float
    front_force: float
    front_stiffness: float
    notch: float
    radius: float
    tip_radius: float
    friction: float
    front_friction: float
    curved: float


@inlined
def _yielding(pen: float, stiff: float, limit: float) -> tuple[float, float, float]:
    """Energy, force and stiffness of a line contact that yields at the force `limit`."""
    e, f, k = ramp(pen, ONSET)
    if stiff * f <= limit:
        return stiff * e, stiff * f, stiff * k
    top = limit / stiff
    return stiff * (0.5 * top * top + ONSET * ONSET / 6.0) + limit * (pen - top), limit, 0.0


@inlined
def _slip(u: float, limit: float) -> tuple[float, float, float]:
    """Energy, force and stiffness of friction at the slip u past the anchor."""
    a = abs(u)
    if a <= SLIP:
        return 0.5 * limit * u * u / SLIP, limit * u / SLIP, limit / SLIP
    return limit * (a - 0.5 * SLIP), limit if u > 0.0 else -limit, 0.0


@kernel
def contact(c: Chain, g: Groove, j: int, x: float, y: float) -> tuple[float, float, float, float, float, float, float]:
    """Energy of the outer end of link j at (x, y) against walls and in friction: U, U_x, U_y, U_xx, U_xy, U_yy, normal
    force of the walls."""
    size = c.step if j > 0 else 2.0 * g.tip_radius
    b = c.inside[j]
    u1, f1, k1 = ramp(y - g.clear, ONSET)
    u2, f2, k2 = ramp(-g.clear - y, ONSET)
    bore = b * g.bore * size
    u, fy, kyy = bore * (u1 + u2), bore * (f1 - f2), bore * (k1 + k2)
    out = (1.0 - b) * size
    a, fa, ka = _yielding(y - g.half - c.out[j, 1], g.wall, g.limit)
    d, fd, kd = _yielding(-y - g.half - c.out[j, 0], g.wall, g.limit)
    u += out * (a + d)
    fy += out * (fa - fd)
    kyy += out * (ka + kd)
    # friction
    e1, s1, t1 = _slip(x - c.anchor[j, 0], g.friction * c.normal[j, 0])
    e2, s2, t2 = _slip(y - c.anchor[j, 1], g.front_friction * c.normal[j, 1])
    # held between floor and flap: friction in both directions
    limit = c.normal[j, 2]
    p, q = x - c.anchor[j, 2], y - c.anchor[j, 3]
    a = (p * p + q * q) ** 0.5
    if a <= SLIP:
        k = limit / SLIP
        e3, hx, hy, kx, kxy, ky = 0.5 * k * a * a, k * p, k * q, k, 0.0, k
    else:
        k = limit / a
        e3, hx, hy = limit * (a - 0.5 * SLIP), k * p, k * q
        p, q = p / a, q / a
        kx, kxy, ky = k * q * q, -k * p * q, k * p * p
    return u + e1 + e2 + e3, s1 + hx, fy + s2 + hy, t1 + kx, kxy, kyy + t2 + ky, out * (fa + fd)


@kernel
def leading(c: Chain, g: Groove, base: float, m: int) -> None:
    """Leading surface of each link's end at the front, its slope and curvature across, and stiffness."""
    w2 = g.radius * g.radius
    for j in range(m):
        o = c.y[j] - base
        q = o * o + w2
        radius = g.radius if j > 0 else g.tip_radius
        c.lead[j] = c.x[j] + radius + g.notch * o * o / q
        c.lead1[j] = 2.0 * g.notch * w2 * o / (q * q)
        c.lead2[j] = 2.0 * g.notch * w2 * (w2 - 3.0 * o * o) / (q * q * q)
        c.share[j] = g.front_stiffness * (c.step / (2.0 * radius) if j > 0 else 1.0)
