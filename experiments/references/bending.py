"""Bending beyond the elastic limit: moments by quadrature of the stress over the section, a cantilever by shooting.

Plane sections, stress-strain curve of straight pieces, the same in tension and compression. The cantilever is plane,
inextensible and carries a dead force across its undeformed axis: theta' = kappa, M'(kappa) kappa' = -F cos theta.
"""

from collections.abc import Callable

import numpy as np
from scipy.integrate import quad, solve_ivp
from scipy.optimize import brentq

MODULUS, START, PLATEAU, LENGTH, MARTENSITE = 48e9, 0.010, 1e9, 0.05, 34e9  # Pa, -, Pa, -, Pa
POINTS, WEIGHTS = np.polynomial.legendre.leggauss(8)  # exact for the ribbon: cubics
TOLERANCE = 1e-11  # relative, of the integration


def stress(strain: float) -> float:
    """Stress of the superelastic material, Pa."""
    plateau = min(max(strain - START, 0.0), LENGTH)
    rest = max(strain - START - LENGTH, 0.0)
    return MODULUS * min(strain, START) + PLATEAU * plateau + MARTENSITE * rest


def core_moment(diameter: float, strain: float) -> float:
    """Bending moment of a round core whose outer fibre has a strain, N m."""
    radius = 0.5 * diameter

    def line(y: float) -> float:
        return 4.0 * stress(strain * y / radius) * y * float(np.sqrt(radius**2 - y**2))

    knots = [0.0] + [radius * s / strain for s in (START, START + LENGTH) if s < strain] + [radius]
    return sum(quad(line, a, b, epsabs=0.0, epsrel=1e-12)[0] for a, b in zip(knots, knots[1:], strict=False))


def _ribbon(width: float, thickness: float, of: Callable[[float], float], power: int, kappa: float) -> float:
    """2 b times the integral of of(kappa y) y^power over half the thickness."""
    half = 0.5 * thickness
    knots = [0.0] + [s / kappa for s in (START, START + LENGTH) if kappa > 0.0 and s < kappa * half] + [half]
    total = 0.0
    for a, b in zip(knots, knots[1:], strict=False):
        y = 0.5 * (a + b) + 0.5 * (b - a) * POINTS
        total += 0.5 * (b - a) * sum(w * of(kappa * v) * v**power for w, v in zip(WEIGHTS, y, strict=True))
    return 2.0 * width * total


def _rise(strain: float) -> float:
    """Tangent modulus, Pa."""
    return MODULUS if strain < START else PLATEAU if strain < START + LENGTH else MARTENSITE


def ribbon_cantilever(width: float, thickness: float, length: float, force: float) -> tuple[float, float, float]:
    """Tip's deflection across and its approach along, m, and the clamp's moment, N m, under a force, N."""

    def slope(_: float, y: np.ndarray) -> list[float]:
        kappa = max(float(y[3]), 0.0)
        rise = _ribbon(width, thickness, _rise, 2, kappa)
        return [np.sin(y[2]), np.cos(y[2]), y[3], -force * np.cos(y[2]) / rise]

    def end(kappa: float) -> np.ndarray:
        found = solve_ivp(slope, (0.0, length), [0.0, 0.0, 0.0, kappa], "DOP853", rtol=TOLERANCE, atol=1e-14)
        return np.asarray(found.y[:, -1])

    high = 2.0 * (START + LENGTH) / thickness
    clamp = brentq(lambda k: end(k)[3], 0.5 * START / thickness, high, xtol=1e-10, rtol=1e-13)
    tip = end(clamp)
    return float(tip[0]), float(length - tip[1]), _ribbon(width, thickness, stress, 1, clamp)
