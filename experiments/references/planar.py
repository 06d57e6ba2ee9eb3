"""Plane rods by shooting: the references of the theme planar, and of the inclined cantilevers.

Equations of Reissner 1972, dimensionless (EI = 1): state x, y, section angle, moment; the force on a section is
constant between loads. Rods without shear or stretch have zero compliances. Signs: x right, y up, angles and
moments counterclockwise.
"""

from math import cos, radians, sin

import numpy as np
from numba import njit

from .path import Array, Point, crossings, follow, integrator, limits, loaded, value

STEPS = 40  # of each member; twice as many change no digit before the tenth


@njit
def _slope(y, p, out):  # type: ignore[no-untyped-def]
    """p: force x, force y, 1/EA, 1/GA, natural curvature."""
    c, s = np.cos(y[2]), np.sin(y[2])
    along = 1.0 + (p[0] * c + p[1] * s) * p[2]
    across = (p[1] * c - p[0] * s) * p[3]
    out[0] = along * c - across * s
    out[1] = along * s + across * c
    out[2] = p[4] + y[3]
    out[3] = out[1] * p[0] - out[0] * p[1]


_integrate = integrator(_slope)


def member(
    start: Array, force: tuple[Array, Array], length: float, soft: tuple[float, float], natural: float = 0.0
) -> Array:
    """End state (4, m) of a member with its start (4, m); force: components on every section; soft: 1/EA, 1/GA."""
    one = np.ones(start.shape[1])
    p = np.array([force[0] * one, force[1] * one, soft[0] * one, soft[1] * one, natural * one])
    end: Array = _integrate(np.ascontiguousarray(start), p, length, STEPS)
    return end


# ---- Lee's frame ------------------------------------------------------------------------------------------------

LEE_AXIAL = 2.0 / (6.0 * 120.0**2)  # EI/EA L2: A = 6, I = 2, L = 120; nu = 0 and shear factor 1: GA = EA/2


def _lee(z: Array) -> tuple[Array, Array]:
    """Misses at the right hinge and the loaded point; z: angle at the left hinge, its force x, y, and the load."""
    angle, right, up, load = z
    zero, soft = 0.0 * load, (LEE_AXIAL, 2.0 * LEE_AXIAL)
    y = member(np.array([zero, zero, angle + 0.5 * np.pi, zero]), (right, up), 1.0, soft)
    y[2] -= 0.5 * np.pi  # the rigid corner
    point = member(y, (right, up), 0.2, soft)
    y = member(point, (right, up + load), 0.8, soft)
    return np.array([y[0] - 1.0, y[1] - 1.0, y[3]]), point


def lee_path() -> tuple[list[tuple[float, float, float]], tuple[float, float]]:
    """Limit points (P L2/EI, right/L, down/L of the loaded point), and (right, down) where no load is needed."""

    def moved(z: Array) -> tuple[float, float]:
        point = _lee(z[:, None])[1][:, 0]
        return float(point[0] - 0.2), float(1.0 - point[1])

    def f(z: Array) -> Array:
        return _lee(z)[0]

    def stop(z: Array) -> bool:
        right, down = moved(z)
        return right > 0.7 and down > 0.55  # behind the second limit point the load moves down again

    path = follow(f, np.zeros(4), 1.5, np.array([0.0, 0.0, 0.0, 1.0]), stop)
    found = [(float(z[3]), *moved(z)) for z in limits(f, path, 3)]
    empty = crossings(f, path[1:], lambda z, t: float(z[3]))[0]
    return found, moved(empty)


# ---- arch and toggle --------------------------------------------------------------------------------------------

ARCH_ANGLE = radians(107.5)  # from the crown to each end
ARCH_SOFT = (1e-6, 1e-6)  # EA = GA = 100 EI at R = 100


def _arch(z: Array) -> tuple[Array, Array]:
    """Misses at the hinge and the crown, R = 1; z: clamp moment, force x, y, load."""
    moment, right, up, load = z
    zero = 0.0 * load
    start = np.array([zero, zero, ARCH_ANGLE + zero, moment])
    crown = member(start, (right, up), ARCH_ANGLE, ARCH_SOFT, -1.0)
    y = member(crown, (right, up + load), ARCH_ANGLE, ARCH_SOFT, -1.0)
    return np.array([y[0] - 2.0 * sin(ARCH_ANGLE), y[1], y[3]]), crown


def arch_path() -> tuple[list[tuple[float, float, float]], tuple[float, float]]:
    """Limit points (P R2/EI, crown right/R, down/R) of the arch of 215 deg, and (right, up) at P R2/EI = 6."""

    def moved(z: Array) -> tuple[float, float]:
        crown = _arch(z[:, None])[1][:, 0]
        return float(crown[0] - sin(ARCH_ANGLE)), float(1.0 - cos(ARCH_ANGLE) - crown[1])

    def f(z: Array) -> Array:
        return _arch(z)[0]

    def stop(z: Array) -> bool:
        return moved(z)[1] > 1.3  # behind the second limit point

    path = follow(f, np.zeros(4), 0.5, np.array([0.0, 0.0, 0.0, 1.0]), stop)
    right, down = moved(crossings(f, path, lambda z, t: float(z[3] - 6.0))[0])
    return [(float(z[3]), *moved(z)) for z in limits(f, path, 3)], (right, -down)


TOGGLE_SPAN, TOGGLE_RISE, TOGGLE_BEND, TOGGLE_AXIAL = 12.943, 0.386, 9270.0, 1.885e6  # in, lbf in2, lbf


def toggle_limits() -> list[tuple[float, float]]:
    """Limit points (load, lbf; apex down, in) of the toggle, unshearable; half of it by symmetry."""
    length, slope = float(np.hypot(TOGGLE_SPAN, TOGGLE_RISE)), float(np.arctan2(TOGGLE_RISE, TOGGLE_SPAN))
    unit = TOGGLE_BEND / length**2

    def end(z: Array) -> Array:
        right, moment, load = z
        start = np.array([0.0 * load, 0.0 * load, slope + 0.0 * load, moment])
        return member(start, (right, -0.5 * load), 1.0, (unit / TOGGLE_AXIAL, 0.0))

    def f(z: Array) -> Array:
        y = end(z)
        return np.array([y[0] - TOGGLE_SPAN / length, y[2] - slope])

    def down(z: Array) -> float:
        return TOGGLE_RISE - length * float(value(end, z)[1])

    path: list[Point] = follow(f, np.zeros(3), 0.4, np.array([0.0, 0.0, 1.0]), lambda z: down(z) > 2.0 * TOGGLE_RISE)
    return [(float(z[2]) * unit, down(z)) for z in limits(f, path, 2)]


# ---- cantilevers ------------------------------------------------------------------------------------------------


def follower(load: float, axial: float) -> tuple[float, float]:
    """Shortening/L and tip across/L under a tip force that stays normal to the tip's section axis.

    load : P L2/EI; axial : EA L2/EI. An initial-value problem from the tip: no iteration.
    """
    force = (np.zeros(1), np.full(1, load))
    x, y, angle, _ = member(np.zeros((4, 1)), force, -1.0, (1.0 / axial, 0.0))[:, 0]
    c, s = cos(angle), sin(angle)  # turned so that the clamp's axis is x
    return float(1.0 + c * x + s * y), float(s * x - c * y)


def cantilever(
    load: float, degrees: float = 90.0, soft: tuple[float, float] = (0.0, 0.0)
) -> tuple[float, float, float, float]:
    """Tip x/L, y/L, section angle (rad) and clamp moment L/EI under a dead tip force.

    load : F L2/EI; degrees : from the outward axis; soft : EI/EA L2, EI/GA L2.
    """
    c, s = cos(radians(degrees)), sin(radians(degrees))

    def tip(z: Array) -> Array:
        zero = 0.0 * z[0]
        return member(np.array([zero, zero, zero, z[0]]), (c * z[1], s * z[1]), 1.0, soft)

    z = loaded(lambda z: tip(z)[3:], np.zeros(2), 1, np.linspace(0.0, load, 21)[1:])
    x, y, angle, _ = value(tip, z)
    return float(x), float(y), float(angle), float(z[0])
