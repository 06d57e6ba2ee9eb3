"""The support as a stiff tube round an axis that may be bent: its wall on a point of the wire, its mouth.

A straight support has no pieces of axis; one that follows the vessel has the vessel's own up to its mouth.
"""

from math import sqrt
from typing import NamedTuple

from ..kernel import bundle, inlined
from .laws import corner, line, step5
from .place import Array, V, foot, to_axes, to_world
from .scene import NEAR
from .walls import HUGE


@bundle
class Tube(NamedTuple):
    """The support for kernels.

    mouth (3), axis (3) there; pieces (n, 19) of a bent axis (straight: none), see Centreline.pieces, and its length, m;
    inner radius, rounding of the edge (m), line stiffness (N/m2), friction (-), smoothing of its onset (m)
    """

    mouth: Array
    axis: Array
    pieces: Array
    length: float
    radius: float
    rho: float
    line: float
    friction: float
    eps: float


@inlined
def ahead_of_mouth(tube: Tube, x: float, y: float, z: float) -> float:
    """How far a point lies ahead of the mouth along the support's axis, m (negative: within; HUGE: nowhere near)."""
    if tube.pieces.shape[0] == 0:
        along = (x - tube.mouth[0]) * tube.axis[0] + (y - tube.mouth[1]) * tube.axis[1]
        return along + (z - tube.mouth[2]) * tube.axis[2]
    p = foot(tube.pieces, x, y, z)
    return p.s - tube.length if p.r < NEAR else HUGE


@inlined
def walls_share(tube: Tube, x: float, y: float, z: float) -> V:
    """Share that the walls take over at a point from the support's rounded end, 0 at the mouth, 1 its rounding ahead,
    with its first two derivatives by the distance ahead."""
    share, slope, bend = step5(ahead_of_mouth(tube, x, y, z) / tube.rho)
    return share, slope / tube.rho, bend / tube.rho**2


@inlined
def mouth_direction(tube: Tube, x: float, y: float, z: float) -> tuple[V, tuple[float, ...]]:
    """Gradient of `ahead_of_mouth` and its Hessian (xx, xy, xz, yy, yz, zz), 1/m: none on a straight axis."""
    if tube.pieces.shape[0] == 0:
        return (tube.axis[0], tube.axis[1], tube.axis[2]), (0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    p = foot(tube.pieces, x, y, z)
    one = 1.0 / p.stretch
    h = to_axes(p, to_world(p, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, (1.0, 0.0, 0.0)))
    return (one * p.t[0], one * p.t[1], one * p.t[2]), h


@inlined
def bore_wall(tube: Tube, x: float, y: float, z: float, radius: float, size: float) -> tuple[float, ...]:
    """Support wall on a point at x: energy, gradient (3), Hessian (6); zero before the mouth's rounded edge."""
    if tube.pieces.shape[0] > 0:
        return _bent_wall(tube, x, y, z, radius, size)
    a = tube.axis
    ux, uy, uz = x - tube.mouth[0], y - tube.mouth[1], z - tube.mouth[2]
    along = ux * a[0] + uy * a[1] + uz * a[2]
    nx, ny, nz = ux - along * a[0], uy - along * a[1], uz - along * a[2]
    r = sqrt(nx * nx + ny * ny + nz * nz)
    if r < 1e-9 or r + radius < tube.radius - tube.eps:
        return 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    nx, ny, nz = nx / r, ny / r, nz / r
    pen, px, py, pxx, pxy, pyy = corner(-along, r - tube.radius, tube.rho, radius, True)
    u, f, k, _ = line(pen, tube.line * size, tube.eps)
    ga, gr = -f * px, f * py
    haa, har, hrr = k * px * px + f * pxx, -(k * px * py + f * pxy), k * py * py + f * pyy
    hc = gr / r  # circumferential
    gx, gy, gz = ga * a[0] + gr * nx, ga * a[1] + gr * ny, ga * a[2] + gr * nz
    # H = haa aa + har (an + na) + hrr nn + hc (I - aa - nn)
    caa, cnn = haa - hc, hrr - hc
    return (
        u,
        gx,
        gy,
        gz,
        caa * a[0] * a[0] + 2.0 * har * a[0] * nx + cnn * nx * nx + hc,
        caa * a[0] * a[1] + har * (a[0] * ny + a[1] * nx) + cnn * nx * ny,
        caa * a[0] * a[2] + har * (a[0] * nz + a[2] * nx) + cnn * nx * nz,
        caa * a[1] * a[1] + 2.0 * har * a[1] * ny + cnn * ny * ny + hc,
        caa * a[1] * a[2] + har * (a[1] * nz + a[2] * ny) + cnn * ny * nz,
        caa * a[2] * a[2] + 2.0 * har * a[2] * nz + cnn * nz * nz + hc,
    )


@inlined
def _bent_wall(tube: Tube, x: float, y: float, z: float, radius: float, size: float) -> tuple[float, ...]:
    """The same round a bent axis, in its curvilinear coordinates."""
    p = foot(tube.pieces, x, y, z)
    if p.r < 1e-9 or p.r > NEAR or p.r + radius < tube.radius - tube.eps:
        return 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    pen, px, py, pxx, pxy, pyy = corner(tube.length - p.s, p.r - tube.radius, tube.rho, radius, True)
    u, f, k, _ = line(pen, tube.line * size, tube.eps)
    ds, dr = -f * px, f * py
    ss, sr, rr = k * px * px + f * pxx, -(k * px * py + f * pxy), k * py * py + f * pyy
    h = to_axes(p, to_world(p, 1.0, ss, sr, 0.0, rr, 0.0, 0.0, (ds, dr, 0.0)))
    ts = ds / p.stretch
    return (
        u,
        ts * p.t[0] + dr * p.er[0],
        ts * p.t[1] + dr * p.er[1],
        ts * p.t[2] + dr * p.er[2],
        h[0],
        h[1],
        h[2],
        h[3],
        h[4],
        h[5],
    )
