"""Twisted rods between clamps: straight rods by the roots of their linear equations, the localised helix by shooting.

Isotropic rods without shear or stretch, dimensionless: length and bending rigidity B are one, C is the torsional one.
"""

from math import cos, pi, sin, sqrt
from typing import NamedTuple

import numpy as np
from scipy.optimize import brentq, least_squares, minimize_scalar

from .path import Array, jacobian, value
from .space import member, soft

STEPS = 200  # of half the rod
RESIDUAL = 3e-10  # of the clamp's conditions: the floor of shooting over ten decay lengths


def greenhill() -> float:
    """Critical torque M L/B between coaxial clamps without tension, one slides: twice the first root of tan x = x."""
    return 2.0 * float(brentq(lambda x: sin(x) - x * cos(x), 4.0, 4.7, xtol=1e-14))


def hockling(tension: float) -> float:
    """Critical torque M L/B between coaxial clamps under a dead tension T L2/B (one slides and turns).

    u = x + iy obeys u'''' - i M u''' - T u'' = 0 on [-1/2, 1/2]; of solutions with u(-s) = conj u(s) four real
    coefficients are left, and the clamp gives four real equations.
    """

    def determinant(torque: float) -> float:
        mu, nu = 0.5 * torque, sqrt(0.25 * torque**2 - tension)
        e, c, s = np.exp(0.5j * mu), cos(0.5 * nu), sin(0.5 * nu)
        u = np.array([e * c, 1j * e * s / nu, 1.0, 0.5j])
        slope = np.array([e * (1j * mu * c - nu * s), 1j * e * (1j * mu * s / nu + c), 0.0, 1j])
        return float(np.linalg.det(np.array([u.real, u.imag, slope.real, slope.imag])))

    low = 2.0 * sqrt(tension)  # that of the infinite rod
    grid = low + np.linspace(1e-3, 12.0, 1201)
    seen = [determinant(float(torque)) for torque in grid]
    first = next(i for i in range(len(grid) - 1) if seen[i] * seen[i + 1] < 0.0)
    return float(brentq(determinant, grid[first], grid[first + 1], xtol=1e-13))


class Helix(NamedTuple):
    """A localised state: end rotation (rad), tension T L2/B, end torque M L/B."""

    rotation: float
    tension: float
    torque: float


class Writhe(NamedTuple):
    """A rod shortened by `short` L between coaxial clamps; torsion: C/B.

    It is shot from its middle, where a half turn about an axis across the rod brings it onto itself. Unknowns: offset
    and slope of the middle, force across, tension, moment across and along the axis, end rotation.
    """

    short: float
    torsion: float

    def end(self, z: Array) -> Array:
        """State (13, m) at the clamp."""
        offset, slope, across, tension, moment, torque = z[:6]
        y = np.zeros((13, z.shape[1]))
        y[0], y[3], y[4] = offset, np.cos(0.5 * slope), -np.sin(0.5 * slope)
        y[8], y[9], y[11], y[12] = moment, torque, across, tension
        return member(y, soft(np.inf, np.inf, 1.0, 1.0, self.torsion), 0.5, STEPS)

    def miss(self, z: Array) -> Array:
        """The clamp's six conditions: on the axis, tangent along it, the distance, half the end rotation."""
        y = self.end(z)
        a, b, c, d = y[3:7]
        turn = np.arctan2(2.0 * (b * c + a * d), a * a + b * b - c * c - d * d)
        return np.array([
            y[0], y[1], 2.0 * (b * d + a * c), 2.0 * (c * d - a * b),
            y[2] - 0.5 * (1.0 - self.short), np.sin(turn - 0.5 * z[6]),
        ])  # fmt: skip

    def start(self, half: float) -> Array:
        """The infinite rod's solution whose middle is inclined by 2 `half` (Coyne 1990; Thompson & Champneys 1996)."""
        tension = (4.0 * sin(half) / self.short) ** 2
        torque = 2.0 * cos(half) * sqrt(tension)
        moment = torque * (1.0 - cos(2.0 * half)) / sin(2.0 * half)
        return np.array([moment / tension, 2.0 * half, 0.0, tension, moment, torque, self.rotation(half)])

    def rotation(self, half: float) -> float:
        """End rotation of the infinite rod's solution, rad."""
        return 4.0 / (self.torsion * self.short) * sin(2.0 * half) + 4.0 * half

    def solve(self, z: Array, held: int) -> Array:
        """State near z with z[held] kept. Raises RuntimeError when the clamp's conditions are not met."""
        free = [i for i in range(7) if i != held]
        scale = np.maximum(np.abs(z), 1e-2)

        def f(x: Array) -> Array:
            return self.miss(x * scale[:, None])

        def whole(part: Array) -> Array:
            x = z / scale
            x[free] = part
            return x

        found = least_squares(
            lambda part: value(f, whole(part)), (z / scale)[free], lambda part: jacobian(f, whole(part))[:, free],
            method="lm", xtol=1e-15, ftol=1e-15, gtol=1e-15, max_nfev=400,
        )  # fmt: skip
        if np.linalg.norm(found.fun) > RESIDUAL:
            raise RuntimeError(f"no localised state: residual {np.linalg.norm(found.fun):.1e}")
        return whole(found.x) * scale

    def report(self, z: Array) -> Helix:
        """What the clamp sees."""
        return Helix(float(z[6]), float(z[3]), float(value(self.end, z)[9]))

    def at(self, turns: float) -> Helix:
        """The state with the smaller inclination at an end rotation in turns: the one stable with both ends held."""
        most = 0.5 * np.arccos(-0.5 * self.torsion * self.short)  # of the infinite rod, at its largest rotation
        half = brentq(lambda a: self.rotation(a) - 2.0 * pi * turns, 1e-6, most)
        return self.report(self.solve(self.start(float(half)), 6))

    def fold(self) -> Helix:
        """The largest end rotation: behind it the rod jumps into a loop."""
        most = float(np.arccos(-0.5 * self.torsion * self.short))
        near = (most - 0.02, most + 0.02)
        best = minimize_scalar(
            lambda slope: -self.solve(self.start(0.5 * slope), 1)[6], bounds=near, method="bounded",
            options={"xatol": 1e-7},
        )  # fmt: skip
        return self.report(self.solve(self.start(0.5 * float(best.x)), 1))
