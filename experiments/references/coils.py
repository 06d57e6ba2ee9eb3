"""Coils and ropes: energy of a thin helical wire over one exact turn, by quadrature. Nothing of the package is used.

The wire at azimuth phi carries the moment m of a load about the axis; with its tangent t the energy per wire length is
(|m|^2 - (m.t)^2)/2B + (m.t)^2/2C, B = EI and C = GJ of the wire.
"""

from dataclasses import dataclass
from math import atan2, cos, hypot, pi, sin

import numpy as np

STEPS = 720  # of the turn: trapezoid rule on a periodic integrand, exact to round-off
SMALL = 1e-5  # relative change of a helix for central differences: truncation and rounding below 1e-9


@dataclass(frozen=True)
class Wire:
    """A helical wire: diameter, centreline radius, pitch, m; Young's modulus, Pa; Poisson's ratio."""

    diameter: float
    radius: float
    pitch: float
    modulus: float
    poisson: float

    @property
    def angle(self) -> float:
        """Helix angle from the transverse plane, rad."""
        return atan2(self.pitch, 2.0 * pi * self.radius)

    @property
    def bend(self) -> float:
        """EI of the wire, N m2."""
        return self.modulus * pi * self.diameter**4 / 64.0


# unit loads on the axis: force x, force z, moment x, moment z; the arm of a transverse force along z counts as bending
LOADS = ("shear", "axial", "bending", "torsion")


def compliance(wire: Wire) -> np.ndarray:
    """Compliance per axial length for `LOADS`, shape (4, 4)."""
    phi = 2.0 * pi * np.arange(STEPS) / STEPS
    out, zero, one = np.stack([np.cos(phi), np.sin(phi), 0.0 * phi], axis=1), 0.0 * phi, np.ones(STEPS)
    a = wire.angle
    tangent = np.stack([-cos(a) * np.sin(phi), cos(a) * np.cos(phi), sin(a) * one], axis=1)
    x, z = np.stack([one, zero, zero], axis=1), np.stack([zero, zero, one], axis=1)
    moments = [np.cross(-wire.radius * out, x), np.cross(-wire.radius * out, z), x, z]
    along = [np.sum(m * tangent, axis=1) for m in moments]
    bend, twist = wire.bend, wire.bend / (1.0 + wire.poisson)
    found = np.empty((4, 4))
    for i in range(4):
        for j in range(4):
            both = np.sum(moments[i] * moments[j], axis=1) - along[i] * along[j]
            found[i, j] = np.mean(both / bend + along[i] * along[j] / twist) / sin(a)
    return found


def rigidities(wire: Wire) -> dict[str, float]:
    """Bending, torsional (N m2), axial with ends free to turn, shear rigidity (N)."""
    flex = compliance(wire)
    keys = {"EI1": "bending", "GJ": "torsion", "EA": "axial", "GA": "shear"}
    return {key: 1.0 / flex[LOADS.index(name), LOADS.index(name)] for key, name in keys.items()}


def wound(wire: Wire) -> float:
    """GJ where the turns touch and the coil is wound up: one axial force on the turns for each unit of torque, N m2."""
    pull, turn = LOADS.index("axial"), LOADS.index("torsion")
    flex, lead = compliance(wire), wire.pitch / (2.0 * pi)
    # stretch = lead x twist under torque 1 and wire force f; the outer torque is 1 + lead f
    force = (lead * flex[turn, turn] - flex[pull, turn]) / (flex[pull, pull] - lead * flex[turn, pull])
    return (1.0 + lead * force) / (flex[turn, turn] + force * flex[turn, pull])


def rope(core: float, wire: Wire, count: int) -> dict[str, float]:
    """Straight core of diameter `core`, `count` wires laid evenly, which hold it straight.

    EI with wires free to slide, N m2; GJ wound up at a held length, N m2; EA without turning, N. The latter two from
    the energy of a whole turn of wire: its length and the integrals of curvature and torsion along it.
    """
    bend = wire.modulus * pi * core**4 / 64.0
    axial = wire.modulus * pi * core**2 / 4.0
    lead = wire.pitch / (2.0 * pi)
    return {
        "EI": bend + count * float(rigidities(wire)["EI1"]),
        "GJ": bend / (1.0 + wire.poisson) + count * lead**2 * _second(wire, 0.0, SMALL),
        "EA": axial + count * _second(wire, SMALL, 0.0),
    }


def _second(wire: Wire, higher: float, further: float) -> float:
    """Energy of one turn per axial length, twice over the square of a small relative change of its height or angle."""
    before, less, more = (
        np.array(_turn(wire.radius, wire.pitch * (1.0 + x * higher), 2.0 * pi * (1.0 + x * further)))
        for x in (0.0, -1.0, 1.0)
    )
    area = wire.modulus * pi * wire.diameter**2 / 4.0
    stiffness = np.array([area, wire.bend, wire.bend / (1.0 + wire.poisson)])
    rate = (more - less) / (2.0 * (higher + further))
    return float(np.sum(stiffness * rate**2) / before[0] / wire.pitch)


def _turn(radius: float, height: float, angle: float) -> tuple[float, float, float]:
    """Length, total curvature and total torsion of a helix that climbs `height` over `angle`."""
    rise = height / angle
    length = angle * hypot(radius, rise)
    return length, length * radius / (radius**2 + rise**2), length * rise / (radius**2 + rise**2)
