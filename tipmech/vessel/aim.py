"""The support of a local presentation: aimed at the upstream lip, exact on bent centrelines too."""

from math import acos, atan2, cos, sin

import numpy as np
from scipy.optimize import brentq

from .scene import Centreline, Lumen, Support, Tear


def aimed_support(
    centreline: Centreline, lumen: Lumen, tear: Tear, angle: float, reach: float, inner_radius: float, friction: float
) -> Support:
    """Support whose axis meets the upstream lip's edge at `angle` (rad) to the vessel axis there.

    The mouth lies `reach` (m) before the edge on that line: the tip's free length plus its stand-off from the lip.
    The foot of the mouth on the centreline is a root; tilt and offset are taken in the frame there.
    """
    point, tangent, e1, e2 = (v[0] for v in centreline.frame(np.array([tear.start])))
    outward = cos(tear.azimuth) * e1 + sin(tear.azimuth) * e2
    aim = cos(angle) * tangent + sin(angle) * outward
    mouth = point + (lumen.radius + lumen.taper * tear.start) * outward - reach * aim

    def ahead(s: float) -> float:
        centre, axis, _, _ = centreline.frame(np.array([s]))
        return float((mouth - centre[0]) @ axis[0])

    foot = float(brentq(ahead, tear.start - 2.0 * reach, tear.start + reach, xtol=1e-12))
    centre, axis, e1, e2 = (v[0] for v in centreline.frame(np.array([foot])))
    offset, sideways = mouth - centre, aim - (aim @ axis) * axis
    return Support(
        distance=tear.start - foot,
        tilt=acos(float(np.clip(aim @ axis, -1.0, 1.0))),
        tilt_azimuth=atan2(float(sideways @ e2), float(sideways @ e1)),
        offset=(float(offset @ e1), float(offset @ e2)),
        inner_radius=inner_radius,
        friction=friction,
    )
