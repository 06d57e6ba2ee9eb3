"""Holes that the wire's tip has pierced in the flap: where the flap is closed. theory, "Breach"."""

from math import sqrt

import numpy as np
from numpy.typing import NDArray

from ..kernel import inlined
from .laws import step5

Array = NDArray[np.float64]

HOLES = 4  # room for as many in one insertion; the next tip force that could pierce the flap ends it
NO_HOLE = (1.0, 0.0, 0.0, 0.0, 0.0, 0.0)


@inlined
def closed_share(
    holes: Array, s: float, g: float, radius: float
) -> tuple[float, float, float, float, float, float]:
    """Share (0..1) of the flap that a wire of `radius` meets at (s, sigma = g): none where it passes a hole without
    touching its rim, all where it lies wholly beside it. Derivatives by s, g, ss, sg, gg.

    holes : (HOLES, 3) middle (s, sigma) and radius, m (radius 0: not there)
    """
    c, c_s, c_g, c_ss, c_sg, c_gg = NO_HOLE
    for k in range(holes.shape[0]):
        size = holes[k, 2]
        if size <= 0.0:
            break
        x, y = s - holes[k, 0], g - holes[k, 1]
        d = sqrt(x * x + y * y)
        f, f1, f2 = step5(0.5 * (d - size + radius) / radius)
        if f >= 1.0:
            continue
        e_s, e_g, e_ss, e_sg, e_gg = 0.0, 0.0, 0.0, 0.0, 0.0
        if d > 0.0:
            f1, f2 = 0.5 * f1 / radius, 0.25 * f2 / (radius * radius)
            x, y = x / d, y / d
            e_s, e_g = f1 * x, f1 * y
            e_ss, e_sg, e_gg = f2 * x * x + f1 / d * y * y, (f2 - f1 / d) * x * y, f2 * y * y + f1 / d * x * x
        c_ss, c_sg, c_gg = (
            c_ss * f + 2.0 * c_s * e_s + c * e_ss,
            c_sg * f + c_s * e_g + c_g * e_s + c * e_sg,
            c_gg * f + 2.0 * c_g * e_g + c * e_gg,
        )
        c_s, c_g, c = c_s * f + c * e_s, c_g * f + c * e_g, c * f
    return c, c_s, c_g, c_ss, c_sg, c_gg


@inlined
def in_hole(holes: Array, s: float, g: float) -> bool:
    """Whether (s, sigma = g) lies over a hole."""
    for k in range(holes.shape[0]):
        x, y, size = s - holes[k, 0], g - holes[k, 1], holes[k, 2]
        if size > 0.0 and x * x + y * y < size * size:
            return True
    return False
