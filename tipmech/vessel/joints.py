"""Axial position with a continuous gradient across the joints of a chain of arcs. theory, "The vessel".

Off the axis, arc length runs 1/(1 - kappa eta) times as fast as distance (eta: offset towards the centre of
curvature), so its gradient jumps where the curvature does, and an energy that depends on it has a kink: a tip pressed
against a wall that rises along the vessel would be caught there. Within JOINT_ZONE of a joint the axial position is
moved by as much as makes both sides run at the same speed, that of the mean curvature; on the axis it stays the arc
length.
"""

from math import cos, sin

import numpy as np
from numpy.typing import NDArray

from ..kernel import inlined

Array = NDArray[np.float64]
Slopes = tuple[float, float, float, float, float, float, float, float, float]

JOINT_ZONE = 1e-3  # m on either side of a joint, and never more than half of the piece
SMALLEST_JUMP = 1e-6  # 1/m, of the curvature: below it there is no joint
ARC_LENGTH: Slopes = (1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)


@inlined
def along_chain(pieces: Array, i: int, s: float, r: float, phi: float) -> tuple[float, Slopes]:
    """Axial position S of a point with foot s (m) on piece i, at distance r (m) and angle phi (rad, in the chain's
    frame); its derivatives by s, r, phi, ss, sr, s phi, rr, r phi, phi phi."""
    n = pieces.shape[0]
    start = pieces[i, 0]
    end = pieces[i + 1, 0] if i + 1 < n else np.inf
    k, other = (i, i - 1) if s - start < end - s else (i + 1, i + 1)
    if k == 0 or k == n:
        return s, ARC_LENGTH
    before = pieces[k, 0] - pieces[k - 1, 0]
    after = (pieces[k + 1, 0] if k + 1 < n else np.inf) - pieces[k, 0]
    zone = min(JOINT_ZONE, 0.5 * before, 0.5 * after)
    u = (s - pieces[k, 0]) / zone if zone > 0.0 else 1.0
    if abs(u) >= 1.0:
        return s, ARC_LENGTH
    own, next_to = pieces[i, 14], pieces[other, 14]
    ax, ay = pieces[i, 1] * cos(own), pieces[i, 1] * sin(own)
    bx, by = pieces[other, 1] * cos(next_to), pieces[other, 1] * sin(next_to)
    if abs(bx - ax) + abs(by - ay) < SMALLEST_JUMP:
        return s, ARC_LENGTH
    c, d = cos(phi), sin(phi)
    # kappa eta on this piece and on the other: a, b; their derivatives by phi: a', b'
    a, b = r * (ax * c + ay * d), r * (bx * c + by * d)
    a1, b1 = r * (ay * c - ax * d), r * (by * c - bx * d)
    # A = N/D: by how much faster than here the mean runs, less 1
    top, down = 0.5 * (b - a), 1.0 - 0.5 * (a + b)
    top_r, down_r = top / r, (down - 1.0) / r
    top_p, down_p = 0.5 * (b1 - a1), -0.5 * (a1 + b1)
    m = top / down
    m_r, m_p = (top_r - m * down_r) / down, (top_p - m * down_p) / down
    m_rr = -2.0 * m_r * down_r / down
    m_rp = (top_p / r - m_p * down_r - m_r * down_p - m * down_p / r) / down
    m_pp = (-top - 2.0 * m_p * down_p - m * (1.0 - down)) / down
    v = 1.0 - abs(u)
    sign = 1.0 if u >= 0.0 else -1.0
    shape = zone * u * v * v * v
    shape_1 = v * v * (v - 3.0 * abs(u))
    shape_2 = 6.0 * sign * v * (abs(u) - v) / zone
    return s + m * shape, (
        1.0 + m * shape_1,
        m_r * shape,
        m_p * shape,
        m * shape_2,
        m_r * shape_1,
        m_p * shape_1,
        m_rr * shape,
        m_rp * shape,
        m_pp * shape,
    )
