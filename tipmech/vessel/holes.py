"""Holes that the wire's tip has pierced in the flap: their rims, and how far the flap is there beside them. theory,
"Breach".

A hole is a slit with round ends: a row s1, sigma1, s2, sigma2, radius (m) of an array (HOLES, 5); radius 0: not there.
"""

from math import hypot, sqrt

import numpy as np
from numpy.typing import NDArray

from ..kernel import inlined
from .laws import step5

Array = NDArray[np.float64]
Distance = tuple[float, float, float, float, float, float]

HOLES, VALUES = 4, 5  # room for as many slits in one insertion; the next one ends it
RIM = 2.0  # radii of the wire over which the flap beside a hole comes to carry: it bends where it is cut (J)
FAR_OFF = 1e9  # m


@inlined
def _from_slit(holes: Array, k: int, s: float, g: float) -> Distance:
    """Distance of (s, sigma = g) from the middle line of slit k, with its derivatives by s, g, ss, sg, gg."""
    ax, ay = holes[k, 2] - holes[k, 0], holes[k, 3] - holes[k, 1]
    x, y = s - holes[k, 0], g - holes[k, 1]
    square = ax * ax + ay * ay
    along = (x * ax + y * ay) / square if square > 0.0 else 0.0
    t = min(1.0, max(0.0, along))
    x, y = x - t * ax, y - t * ay
    d = sqrt(x * x + y * y)
    if d == 0.0:
        return 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    x, y = x / d, y / d
    bend = 0.0 if square > 0.0 and 0.0 < along < 1.0 else 1.0 / d
    return d, x, y, bend * y * y, -bend * x * y, bend * x * x


@inlined
def nearest_rim(holes: Array, s: float, g: float) -> tuple[float, float, float, float, float, float, float]:
    """Distance of (s, sigma = g) from the middle line of the slit whose rim is nearest, with its derivatives (see
    `_from_slit`), and that slit's radius."""
    nearest, size = (FAR_OFF, 0.0, 0.0, 0.0, 0.0, 0.0), 0.0
    for k in range(holes.shape[0]):
        if holes[k, 4] <= 0.0:
            break
        d = _from_slit(holes, k, s, g)
        if d[0] - holes[k, 4] < nearest[0] - size:
            nearest, size = d, holes[k, 4]
    return nearest[0], nearest[1], nearest[2], nearest[3], nearest[4], nearest[5], size


@inlined
def along_slit(holes: Array, s: float) -> tuple[float, float]:
    """How far s lies before or behind the slit nearest along the vessel, ends included (negative: neither), with its
    derivative."""
    nearest, way = FAR_OFF, 0.0
    for k in range(holes.shape[0]):
        if holes[k, 4] <= 0.0:
            break
        behind = s - max(holes[k, 0], holes[k, 2]) - holes[k, 4]
        before = min(holes[k, 0], holes[k, 2]) - s - holes[k, 4]
        if max(behind, before) < nearest:
            nearest, way = (behind, 1.0) if behind > before else (before, -1.0)
    return nearest, way


@inlined
def flap_left(holes: Array, s: float, g: float, radius: float) -> Distance:
    """Share (0..1) of the flap that carries a wire of `radius` at (s, sigma = g): nothing over a hole, all of it RIM
    radii beside one; with its derivatives by s, g, ss, sg, gg."""
    c, c_s, c_g, c_ss, c_sg, c_gg = 1.0, 0.0, 0.0, 0.0, 0.0, 0.0
    for k in range(holes.shape[0]):
        if holes[k, 4] <= 0.0:
            break
        d, d_s, d_g, d_ss, d_sg, d_gg = _from_slit(holes, k, s, g)
        over = RIM * radius
        f, f1, f2 = step5((d - holes[k, 4]) / over)
        if f >= 1.0:
            continue
        f1, f2 = f1 / over, f2 / (over * over)
        e_s, e_g = f1 * d_s, f1 * d_g
        e_ss, e_sg, e_gg = f2 * d_s * d_s + f1 * d_ss, f2 * d_s * d_g + f1 * d_sg, f2 * d_g * d_g + f1 * d_gg
        c_ss, c_sg, c_gg = (
            c_ss * f + 2.0 * c_s * e_s + c * e_ss,
            c_sg * f + c_s * e_g + c_g * e_s + c * e_sg,
            c_gg * f + 2.0 * c_g * e_g + c * e_gg,
        )
        c_s, c_g, c = c_s * f + c * e_s, c_g * f + c * e_g, c * f
    return c, c_s, c_g, c_ss, c_sg, c_gg


def pierce(holes: Array, s: float, g: float, radius: float) -> bool:
    """Pierce the flap at (s, sigma = g) with a tip of `radius` (m), in place: a hole reached by the new one becomes a
    slit up to there. False where there is no room left."""
    for k in range(len(holes)):
        s1, g1, s2, g2, size = holes[k]
        if size <= 0.0:
            holes[k] = s, g, s, g, radius
            return True
        ends = hypot(s - s1, g - g1), hypot(s - s2, g - g2)
        if min(ends) > 2.0 * radius + size:
            continue
        if ends[0] < ends[1] and (s1, g1) != (s2, g2):
            holes[k, :2] = s, g
        else:
            holes[k, 2:4] = s, g
        return True
    return False
