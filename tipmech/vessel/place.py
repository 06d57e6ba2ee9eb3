"""Where a point lies in the vessel: curvilinear coordinates and what follows from them. theory (14)-(15)."""

from math import atan2, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..kernel import inlined
from .joints import ARC_LENGTH, Slopes
from .scene import NEAR

Array = NDArray[np.float64]
V = tuple[float, float, float]

JOINT = 1e-9  # m, overlap of pieces of the centreline at a joint


class Place(NamedTuple):
    """Curvilinear coordinates of a point and the local basis (t, er, ep) there.

    foot, piece: arc length of the foot on the chain of arcs and its piece; s: axial position, the same but for a zone
    at joints; slopes: its derivatives by foot, r and phi, see `along_chain`.
    """

    s: float
    r: float
    phi: float
    t: V
    er: V
    ep: V
    stretch: float  # 1 - curvature * offset towards the centre of curvature
    kappa: float
    cr: float  # er . n, n towards the centre of curvature
    cp: float  # ep . n
    foot: float
    piece: int
    slopes: Slopes


@inlined
def foot(pieces: Array, x: float, y: float, z: float) -> Place:
    """Curvilinear coordinates of a point: nearest foot on the chain of arcs, exact within an arc; phi from the first
    axis of the chain's frame.

    A point nearer than NEAR to a piece belongs to it; behind a bend of more than 90 degrees a foot on an earlier piece
    may exist far off. Pieces out of reach are passed over, unless there is none within.
    """
    n = pieces.shape[0]
    s, i, nearest = 0.0, 0, np.inf
    for j in range(2 * n):
        k = j if j < n else j - n
        if j == n and nearest < np.inf:
            break
        p = pieces[k]
        if j < n and (x - p[15]) ** 2 + (y - p[16]) ** 2 + (z - p[17]) ** 2 > p[18]:
            continue
        ux, uy, uz = x - p[2], y - p[3], z - p[4]
        along = ux * p[5] + uy * p[6] + uz * p[7]
        eta = ux * p[8] + uy * p[9] + uz * p[10]
        kappa = p[1]
        if kappa > 0.0:
            c = 1.0 / kappa - eta
            eta = 1.0 / kappa - sqrt(c * c + along * along)
            along = atan2(along, c) / kappa
        if (k > 0 and along < -JOINT) or (k + 1 < n and p[0] + along > pieces[k + 1, 0] + JOINT):
            continue
        zeta = ux * p[11] + uy * p[12] + uz * p[13]
        square = eta * eta + zeta * zeta
        if square < nearest:
            s, i, nearest = p[0] + along, k, square
            if square < NEAR * NEAR:
                break
    p = pieces[i]
    kappa = p[1]
    ux, uy, uz = x - p[2], y - p[3], z - p[4]
    eta = ux * p[8] + uy * p[9] + uz * p[10]
    zeta = ux * p[11] + uy * p[12] + uz * p[13]
    tx, ty, tz, nx, ny, nz = p[5], p[6], p[7], p[8], p[9], p[10]
    if kappa > 0.0:
        d, c = ux * p[5] + uy * p[6] + uz * p[7], 1.0 / kappa - eta
        out = sqrt(c * c + d * d)  # distance from the centre of curvature
        c, d = c / out, d / out
        eta = 1.0 / kappa - out
        tx, nx = c * tx + d * nx, c * nx - d * tx
        ty, ny = c * ty + d * ny, c * ny - d * ty
        tz, nz = c * tz + d * nz, c * nz - d * tz
    r = sqrt(eta * eta + zeta * zeta)
    cr, ce = (eta / r, zeta / r) if r > 1e-9 else (1.0, 0.0)
    phi = atan2(ce, cr) + p[14]
    er = (cr * nx + ce * p[11], cr * ny + ce * p[12], cr * nz + ce * p[13])
    ep = (-ce * nx + cr * p[11], -ce * ny + cr * p[12], -ce * nz + cr * p[13])
    return Place(s, r, phi, (tx, ty, tz), er, ep, 1.0 - kappa * eta, kappa, cr, -ce, s, i, ARC_LENGTH)


@inlined
def by_foot(floor: float, slopes: Slopes, g: V, h: tuple[float, ...]) -> tuple[V, tuple[float, ...]]:
    """First (s, r, sigma) and second derivatives (ss, sr, sg, rr, rg, gg) by the foot's arc length, r and sigma from
    those by axial position, r and sigma."""
    k = 1.0 / floor
    j, jr, jg = slopes[0], slopes[1], slopes[2] * k
    ss, sr, sg, rr, rg, gg = h
    return (j * g[0], g[1] + jr * g[0], g[2] + jg * g[0]), (
        j * j * ss + slopes[3] * g[0],
        j * (sr + jr * ss) + slopes[4] * g[0],
        j * (sg + jg * ss) + slopes[5] * k * g[0],
        rr + 2.0 * jr * sr + jr * jr * ss + slopes[6] * g[0],
        rg + jg * sr + jr * sg + jr * jg * ss + slopes[7] * k * g[0],
        gg + 2.0 * jg * sg + jg * jg * ss + slopes[8] * k * k * g[0],
    )


@inlined
def to_world(
    p: Place, floor: float, ss: float, sr: float, sg: float, rr: float, rg: float, gg: float, d: V
) -> tuple[float, float, float, float, float, float]:
    """Hessian in the orthonormal basis (t, er, ep) from derivatives in (s, r, sigma). theory (15).

    d: total first derivatives (U_s, U_r, U_sigma). Returns tt, tr, tp, rr, rp, pp.
    """
    ps, psr, psp = sg * floor, rg * floor, gg * floor * floor
    dp = d[2] * floor
    h, k, r = p.stretch, p.kappa, p.r
    return (
        ss / (h * h) - k / h * (d[1] * p.cr + dp * p.cp / r),
        sr / h + d[0] * k / (h * h) * p.cr,
        ps / (h * r) + d[0] * k / (h * h) * p.cp,
        rr,
        psr / r - dp / (r * r),
        psp / (r * r) + d[1] / r,
    )


@inlined
def to_axes(p: Place, h: tuple[float, ...]) -> tuple[float, ...]:
    """Hessian (tt, tr, tp, rr, rp, pp) of the local basis in world axes (xx, xy, xz, yy, yz, zz)."""
    t, e, f = p.t, p.er, p.ep
    ax = h[0] * t[0] + h[1] * e[0] + h[2] * f[0]
    ay = h[0] * t[1] + h[1] * e[1] + h[2] * f[1]
    az = h[0] * t[2] + h[1] * e[2] + h[2] * f[2]
    bx = h[1] * t[0] + h[3] * e[0] + h[4] * f[0]
    by = h[1] * t[1] + h[3] * e[1] + h[4] * f[1]
    bz = h[1] * t[2] + h[3] * e[2] + h[4] * f[2]
    cx = h[2] * t[0] + h[4] * e[0] + h[5] * f[0]
    cy = h[2] * t[1] + h[4] * e[1] + h[5] * f[1]
    cz = h[2] * t[2] + h[4] * e[2] + h[5] * f[2]
    return (
        t[0] * ax + e[0] * bx + f[0] * cx,
        t[0] * ay + e[0] * by + f[0] * cy,
        t[0] * az + e[0] * bz + f[0] * cz,
        t[1] * ay + e[1] * by + f[1] * cy,
        t[1] * az + e[1] * bz + f[1] * cz,
        t[2] * az + e[2] * bz + f[2] * cz,
    )
