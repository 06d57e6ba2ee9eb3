"""References that are roots and elliptic functions: buckled columns, narrow beams, natural frequencies, whip."""

from collections.abc import Callable
from math import cos, cosh, degrees, pi, radians, sin, tan

import numpy as np
from scipy.optimize import brentq, minimize_scalar
from scipy.special import ellipj, ellipk, jv


def root(f: Callable[[float], float], low: float, high: float) -> float:
    """The root of f between two bounds of opposite sign, to round-off."""
    return float(brentq(f, low, high, xtol=1e-14))


def buckled(tip_degrees: float) -> float:
    """P/P_Euler of a clamped-free column whose tip is turned by an angle: (2 K/pi)^2, modulus sin(angle/2)."""
    return float((2.0 / pi * ellipk(sin(0.5 * radians(tip_degrees)) ** 2)) ** 2)


def narrow_cantilever() -> float:
    """P L2/sqrt(EI GJ) of a narrow cantilever with an end load: twice the first root of J_-1/4."""
    return 2.0 * root(lambda x: float(jv(-0.25, x)), 1.5, 2.5)


def narrow_middle() -> float:
    """P L2/sqrt(EI GJ) of a narrow beam in forks loaded in its middle: 16 times the first root of J_-3/4."""
    return 16.0 * root(lambda x: float(jv(-0.75, x)), 0.8, 1.3)


def cantilever_waves() -> list[float]:
    """First three roots of cos z cosh z = -1."""
    return [root(lambda z: cos(z) + 1.0 / cosh(z), *near) for near in ((1.5, 2.2), (4.3, 5.0), (7.5, 8.2))]


def free_waves() -> list[float]:
    """First three roots of cos z cosh z = 1 above zero."""
    return [root(lambda z: cos(z) - 1.0 / cosh(z), *near) for near in ((4.5, 5.0), (7.5, 8.2), (10.7, 11.3))]


# ---- whip -------------------------------------------------------------------------------------------------------


def whip_base(tip: float, lam: float) -> float:
    """Base angle of a bent rod in a bent tube whose tip stands at an angle, rad.

    theta'' = lam^2 sin(theta), no torque at the tip: pi - theta is a pendulum let go at pi - tip.
    """
    k = cos(0.5 * tip)
    _, cn, dn, _ = ellipj(lam, k * k)
    return pi - 2.0 * float(np.arcsin(k * cn / dn))


def whip_tip(base_degrees: float, lam: float) -> float:
    """Tip angle, deg, at a base angle on the branch that starts at zero."""
    top = pi if lam <= 0.5 * pi else _whip_limit(lam)
    return degrees(root(lambda tip: whip_base(tip, lam) - radians(base_degrees), 1e-12, top))


def whip_snap(lam: float) -> tuple[float, float, float]:
    """Base angle of the snap, tip angle before and after it, deg; on the branch behind it both angles are mirrored."""
    before = _whip_limit(lam)
    base = whip_base(before, lam)
    after = root(lambda tip: whip_base(tip, lam) - (2.0 * pi - base), 1e-12, before)
    return degrees(base), degrees(before), 360.0 - degrees(after)


def whip_length(feed: float) -> float:
    """Critical lambda L behind a straight feed of `feed` L: x feed tan x = 1 (pi/2 without feed)."""
    return 0.5 * pi if feed == 0.0 else root(lambda x: x * feed * tan(x) - 1.0, 0.01, 1.57)


def _whip_limit(lam: float) -> float:
    """Tip angle at the largest base angle, rad."""
    tips = np.linspace(1e-4, pi, 2001)
    best = int(np.argmax([whip_base(float(tip), lam) for tip in tips]))
    found = minimize_scalar(
        lambda tip: -whip_base(tip, lam),
        bounds=(tips[best - 1], tips[min(best + 1, 2000)]),
        method="bounded",
        options={"xatol": 1e-12},
    )
    return float(found.x)
