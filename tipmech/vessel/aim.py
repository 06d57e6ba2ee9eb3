"""The support of a local presentation: aimed at the upstream lip, exact on bent centrelines too."""

from math import acos, atan2, cos, sin

import numpy as np
from scipy.optimize import brentq

from .scene import Centreline, Lumen, Support


def aimed_support(
    centreline: Centreline,
    lumen: Lumen,
    lip: float,
    azimuth: float,
    angle: float,
    reach: float,
    inner_radius: float,
    friction: float,
) -> Support:
    """Support whose axis meets the upstream lip's edge, at `lip` (m) and `azimuth`, at `angle` (rad) to the vessel.

    The upstream lip, because a study samples the window's length: the support is then the same for every point of a
    cell. The mouth lies `reach` (m) before the edge on that line: the tip's free length plus its stand-off from the
    lip. The foot of the mouth on the centreline is a root; tilt and offset are taken in the frame there.
    """
    point, tangent, e1, e2 = (v[0] for v in centreline.frame(np.array([lip])))
    outward = cos(azimuth) * e1 + sin(azimuth) * e2
    aim = cos(angle) * tangent + sin(angle) * outward
    mouth = point + float(lumen.at(lip)) * outward - reach * aim

    def ahead(s: float) -> float:
        centre, axis, _, _ = centreline.frame(np.array([s]))
        return float((mouth - centre[0]) @ axis[0])

    foot = float(brentq(ahead, lip - 2.0 * reach, lip + reach, xtol=1e-12))
    centre, axis, e1, e2 = (v[0] for v in centreline.frame(np.array([foot])))
    offset, sideways = mouth - centre, aim - (aim @ axis) * axis
    return Support(
        distance=lip - foot,
        tilt=acos(float(np.clip(aim @ axis, -1.0, 1.0))),
        tilt_azimuth=atan2(float(sideways @ e2), float(sideways @ e1)),
        offset=(float(offset @ e1), float(offset @ e2)),
        inner_radius=inner_radius,
        friction=friction,
    )


def bore_fits(support: Support, lumen: Lumen, lip: float) -> bool:
    """Whether a ball as wide as the bore, at the mouth of an aimed support, lies inside the lumen.

    Then a wire leaves the mouth free of the wall, at any tilt: walls meet each of its points with its whole radius.
    """
    here = float(lumen.at(lip - support.distance))
    return float(np.hypot(*support.offset)) + support.inner_radius <= here
