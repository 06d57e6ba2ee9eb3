"""Rods in space by shooting: the references of the themes space and spatial, and of the localised helix.

Equations of a Cosserat rod (Simo 1985, Antman): state position (3), quaternion (4, scalar first), moment (3) and force
(3) in space; section axes 1, 2 and the tangent 3.
"""

from collections.abc import Callable, Sequence
from math import cos, pi, radians, sin, sqrt

import numpy as np
from numba import njit
from scipy.optimize import brentq
from scipy.spatial.transform import Rotation

from .path import Array, integrator, loaded, value

STEPS = 60  # of each member


@njit
def _slope(y, p, out):  # type: ignore[no-untyped-def]
    """p: 1/GA1, 1/GA2, 1/EA, 1/EI1, 1/EI2, 1/GJ, natural curvatures 1, 2, 3."""
    a, b, c, d = y[3], y[4], y[5], y[6]
    s = 2.0 / (a * a + b * b + c * c + d * d)
    r = (
        (1.0 - s * (c * c + d * d), s * (b * c - a * d), s * (b * d + a * c)),
        (s * (b * c + a * d), 1.0 - s * (b * b + d * d), s * (c * d - a * b)),
        (s * (b * d - a * c), s * (c * d + a * b), 1.0 - s * (b * b + c * c)),
    )
    v0, v1, v2 = r[0][2], r[1][2], r[2][2]
    for i in range(3):
        strain = p[i] * (r[0][i] * y[10] + r[1][i] * y[11] + r[2][i] * y[12])
        v0 += r[0][i] * strain
        v1 += r[1][i] * strain
        v2 += r[2][i] * strain
    u1 = p[6] + p[3] * (r[0][0] * y[7] + r[1][0] * y[8] + r[2][0] * y[9])
    u2 = p[7] + p[4] * (r[0][1] * y[7] + r[1][1] * y[8] + r[2][1] * y[9])
    u3 = p[8] + p[5] * (r[0][2] * y[7] + r[1][2] * y[8] + r[2][2] * y[9])
    out[0], out[1], out[2] = v0, v1, v2
    out[3] = -0.5 * (b * u1 + c * u2 + d * u3)
    out[4] = 0.5 * (a * u1 + c * u3 - d * u2)
    out[5] = 0.5 * (a * u2 - b * u3 + d * u1)
    out[6] = 0.5 * (a * u3 + b * u2 - c * u1)
    out[7], out[8], out[9] = v2 * y[11] - v1 * y[12], v0 * y[12] - v2 * y[10], v1 * y[10] - v0 * y[11]
    out[10] = out[11] = out[12] = 0.0


_integrate = integrator(_slope)


def member(start: Array, section: Array, length: float, steps: int = STEPS) -> Array:
    """End state (13, m) of a member with its start (13, m); section: the nine numbers of `_slope`."""
    p = np.repeat(section[:, None], start.shape[1], axis=1)
    end: Array = _integrate(np.ascontiguousarray(start), p, length, steps)
    return end


def soft(
    shear: float, axial: float, bend1: float, bend2: float, twist: float, natural: Sequence[float] = (0, 0, 0)
) -> Array:
    """A section from its rigidities (inf: none of that strain)."""
    return np.array([*(1.0 / np.array([shear, shear, axial, bend1, bend2, twist])), *natural])


def frame(one: Sequence[float], tangent: Sequence[float]) -> Array:
    """Quaternion of the section with axis 1 and tangent as given (unit vectors)."""
    axes = np.column_stack([one, np.cross(tangent, one), tangent])
    x, y, z, w = Rotation.from_matrix(axes).as_quat()
    return np.array([w, x, y, z])


def cantilever(section: Array, length: float, start: Array, direction: Sequence[float], loads: Array) -> Array:
    """Tip (3,) of a rod clamped at the origin with the frame `start` under a dead tip force grown through `loads`."""
    unit = 1.0 / (section[3:6].max() * length)  # of the clamp's moment

    def tip(z: Array) -> Array:
        y = np.zeros((13, z.shape[1]))
        y[3:7], y[7:10] = start[:, None], unit * z[:3]
        y[10:13] = np.array(direction)[:, None] * z[3]
        return member(y, section, length)

    z = loaded(lambda z: tip(z)[7:10] / unit, np.zeros(4), 3, loads)
    return value(tip, z)[:3]


def bend45(load: float) -> Array:
    """Tip (x, y, z), in, of the 45 degree bend of 100 in, section 1 in x 1 in, E = 1e7 psi, nu = 0, J = 1/6 in4."""
    section = soft(5e6, 1e7, 1e7 / 12.0, 1e7 / 12.0, 5e6 / 6.0, natural=(0.0, 0.01, 0.0))
    start = frame((1.0, 0.0, 0.0), (0.0, 1.0, 0.0))
    return cantilever(section, 25.0 * pi, start, (0.0, 0.0, 1.0), np.linspace(0.0, load, 13)[1:])


BEAM_LENGTH, BEAM_LONG, BEAM_SHORT, BEAM_MODULUS, BEAM_POISSON = 0.508, 12.3777e-3, 3.2024e-3, 71.7e9, 0.31


def princeton(load: float, degrees: float) -> Array:
    """Tip moved along the long side, the short side and the axis, m; load in N at an angle from the long side."""
    a, b, e = BEAM_LONG, BEAM_SHORT, BEAM_MODULUS
    g, k = e / (2.0 * (1.0 + BEAM_POISSON)), np.arange(1, 400, 2)
    torsion = a * b**3 * (1.0 / 3.0 - 64.0 / pi**5 * b / a * np.sum(np.tanh(k * pi * a / (2.0 * b)) / k**5))
    section = soft(5.0 / 6.0 * g * a * b, e * a * b, e * a * b**3 / 12.0, e * b * a**3 / 12.0, g * torsion)
    direction = (cos(radians(degrees)), sin(radians(degrees)), 0.0)
    tip = cantilever(section, BEAM_LENGTH, np.array([1.0, 0.0, 0.0, 0.0]), direction, np.linspace(0.0, load, 11)[1:])
    return tip - np.array([0.0, 0.0, BEAM_LENGTH])


# ---- right-angle frame, N and mm --------------------------------------------------------------------------------

LEG, DEEP, THIN, MODULUS, POISSON = 240.0, 30.0, 0.6, 71240.0, 0.31
SHEAR = MODULUS / (2.0 * (1.0 + POISSON))
LATERAL, TORSION = MODULUS * DEEP * THIN**3 / 12.0, SHEAR * DEEP * THIN**3 / 3.0
IN_PLANE = MODULUS * THIN * DEEP**3 / 12.0
FRAME_SECTION = soft(SHEAR * DEEP * THIN, MODULUS * DEEP * THIN, IN_PLANE, LATERAL, TORSION)  # axis 1 across the plane
NUDGE = 1e-5  # out of the plane, of central differences


def _round_corner(y: Array, degrees: float) -> Array:
    """State (13, m) behind a rigid corner: the section turned about its own axis 1."""
    c, s = cos(0.5 * radians(degrees)), sin(0.5 * radians(degrees))
    q0, q1, q2, q3 = y[3:7]
    turned = y.copy()
    turned[3:7] = c * q0 - s * q1, c * q1 + s * q0, c * q2 + s * q3, c * q3 - s * q2
    return turned


def _from_clamp(moment: Array, force: Sequence[float]) -> Array:
    """Moment (3, m) left over at the frame's free end; moment: at the clamp, over LATERAL/LEG, shape (3, m)."""
    unit = LATERAL / LEG
    y = np.zeros((13, moment.shape[1]))
    y[3:7] = frame((0.0, 0.0, 1.0), (1.0, 0.0, 0.0))[:, None]
    y[7:10], y[10:13] = unit * moment, np.array(force)[:, None]
    y = member(_round_corner(member(y, FRAME_SECTION, LEG), 90.0), FRAME_SECTION, LEG)
    end: Array = y[7:10] / unit
    return end


def frame_load(direction: Sequence[float], largest: float = 5.0, step: float = 0.1) -> float:
    """Lowest dead end load, N, at which the frame clamped at the origin can leave its plane.

    Legs along +x, then +y. The plane state is solved for; the map of the two clamp moments out of the plane to the two
    left over at the free end then loses its rank. RuntimeError when it does not below `largest`.
    """

    def plane(z: Array) -> Array:
        moment = np.zeros((3, z.shape[1]))
        moment[2] = z[0]
        return np.concatenate([_from_clamp(moment[:, [j]], load * vector)[2:] for j, load in enumerate(z[1])], axis=1)

    vector, seen = np.array(direction), np.zeros(1)

    def determinant(load: float) -> float:
        seen[0] = loaded(plane, np.array([seen[0], load]), 1, np.array([load]))[0]
        moment = np.repeat(np.array([[0.0], [0.0], [seen[0]]]), 4, axis=1)
        moment[0, :2] = moment[1, 2:] = NUDGE, -NUDGE
        out = _from_clamp(moment, load * vector)[:2]
        return float(np.linalg.det((out[:, ::2] - out[:, 1::2]) / (2.0 * NUDGE)))

    return _first_zero(determinant, np.arange(0.0, largest, step))


def frame_moments(opening: bool) -> float:
    """Critical end moments, N mm, of the frame on hinges that turn in its plane only; one hinge slides.

    No reactions: the moment is the same everywhere. The lowest mode is symmetric: at the corner the section does not
    turn about the line of symmetry, no moment acts about the line of the hinges. The antisymmetric modes lie higher.
    """
    c, unit = sqrt(0.5), LATERAL / LEG

    def corner(load: float, x: Array, y: Array) -> Array:
        start = np.zeros((13, len(x)))
        start[3:7] = frame((0.0, 0.0, 1.0), (c, c, 0.0))[:, None]
        start[7], start[8], start[9] = unit * x, unit * y, load
        return member(start, FRAME_SECTION, LEG)

    def determinant(load: float) -> float:
        signed = load if opening else -load
        nudge = NUDGE * np.array([1.0, -1.0, 0.0, 0.0])
        y = corner(signed, nudge, nudge[::-1])
        d = (y[:, ::2] - y[:, 1::2]) / (2.0 * NUDGE)
        q = 0.5 * (y[3:7, 0] + y[3:7, 1])
        about_y = 2.0 * (q[0] * d[5] - q[2] * d[3] - (d[6] * q[1] - d[4] * q[3]))
        return float(np.linalg.det(np.array([about_y, d[7] / unit])))

    return _first_zero(determinant, np.arange(1.0, 1000.0, 20.0))


def _first_zero(f: Callable[[float], float], grid: Array) -> float:
    """First zero of f bracketed by the grid, refined. RuntimeError when there is none."""
    before = f(float(grid[0]))
    for low, high in zip(grid[:-1], grid[1:], strict=True):
        after = f(float(high))
        if before * after < 0.0:
            return float(brentq(f, float(low), float(high), xtol=1e-10 * high))
        before = after
    raise RuntimeError("no critical load within the range")
