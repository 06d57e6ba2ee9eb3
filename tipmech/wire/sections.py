"""Rigidities of sections and of helical wires: pure formulas, each with its source. SI units.

Every function returns the rows of `KEYS` for an array of stations: bending about the two section axes and torsion (N
m2), axial and shear rigidity (N), mass per length (kg/m). docs/theory.md, section "The wire".
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .materials import Material

Array = NDArray[np.float64]

KEYS = ("EI1", "EI2", "GJ", "EA", "GA", "mass")  # rows of a rigidity table
SERIES_TERMS = 5  # of the rectangle's torsion series: the next term is below 1e-5 of the sum for any ratio


def round_section(material: Material, diameter: Array) -> Array:
    """Solid round section: EI = E pi d^4/64, GJ = G pi d^4/32.

    Shear coefficient 6 (1 + nu)/(7 + 6 nu): Cowper, J Appl Mech 33 (1966) 335 (from memory).
    """
    area = np.pi * diameter**2 / 4.0
    second = np.pi * diameter**4 / 64.0
    shear = 6.0 * (1.0 + material.nu) / (7.0 + 6.0 * material.nu)
    return _table(material, second, second, 2.0 * second, area, shear)


def tube_section(material: Material, outer: Array, inner: Array) -> Array:
    """Round tube. Shear coefficient of a hollow circle: Cowper 1966, table 1 (from memory)."""
    area = np.pi * (outer**2 - inner**2) / 4.0
    second = np.pi * (outer**4 - inner**4) / 64.0
    nu, m2 = material.nu, (inner / outer) ** 2
    shear = 6.0 * (1.0 + nu) * (1.0 + m2) ** 2 / ((7.0 + 6.0 * nu) * (1.0 + m2) ** 2 + (20.0 + 12.0 * nu) * m2)
    return _table(material, second, second, 2.0 * second, area, shear)


def rectangle_section(material: Material, width: Array, thickness: Array) -> Array:
    """Ribbon: EI1 = E b h^3/12 (bending about the width, the easy way), EI2 the hard way.

    Torsion constant of a rectangle: Saint-Venant's series, Timoshenko & Goodier, Theory of Elasticity, art 109 (from
    memory). Shear coefficient 10 (1 + nu)/(12 + 11 nu): Cowper 1966 (from memory).
    """
    long, short = np.maximum(width, thickness), np.minimum(width, thickness)
    odd = 2.0 * np.arange(SERIES_TERMS) + 1.0
    tail = np.sum(np.tanh(np.pi * odd * (long / short)[..., None] / 2.0) / odd**5, axis=-1)
    torsion = long * short**3 / 3.0 * (1.0 - 192.0 / np.pi**5 * short / long * tail)
    shear = 10.0 * (1.0 + material.nu) / (12.0 + 11.0 * material.nu)
    return _table(material, width * thickness**3 / 12.0, thickness * width**3 / 12.0, torsion, width * thickness, shear)


class Helix(NamedTuple):
    """Geometry of one helical wire: wire diameter, radius of its centreline, axial length of one turn, all in m."""

    wire: float
    radius: Array
    pitch: float

    @property
    def angle(self) -> Array:
        """Helix angle from the transverse plane, rad: tan a = p/(2 pi R)."""
        return np.arctan2(self.pitch, 2.0 * np.pi * self.radius)


def open_coil(material: Material, helix: Helix, filars: int = 1) -> Array:
    """Open coil of helical wires whose turns do not touch, per axial length.

    Strain energy of a thin helical wire over one turn, each load alone (Love; Wahl, Mechanical Springs; Costello,
    Theory of Wire Rope; re-derived in docs/theory.md). With B = E I and C = G J of the wire and a the helix angle:

    - bending   1/EI = [(1 + sin^2 a)/B + cos^2 a/C]/(2 sin a), equal to 2 B sin a/(2 + nu cos^2 a)
    - torsion   1/GJ = [cos^2 a/B + sin^2 a/C]/sin a
    - axial, ends free to turn   1/EA = R^2 [cos^2 a/C + sin^2 a/B]/sin a
    - shear     1/GA = R^2/2 [cos^2 a/B + sin^2 a/C]/sin a, the mean over the azimuth of the torque F R sin phi that a
      transverse force F has about the axis; flat turns give B p/(pi R^3), the form of Haringx 1948 (from memory)

    Filars are springs in parallel. The wire's own curvature and its shear are neglected: shear alone adds d^2/(8 k R^2)
    to the axial compliance (2.7 % at an index D/d of 4.5), curvature takes away more, together -3 d^2/(16 D^2), 0.9 %
    (Ancker & Goodier 1958, from memory).
    """
    wire = round_section(material, np.array(helix.wire))
    bend, twist, mass = wire[0], wire[2], wire[5]
    a, radius = helix.angle, helix.radius
    sin, cos = np.sin(a), np.cos(a)
    bending = 2.0 * sin / ((1.0 + sin**2) / bend + cos**2 / twist)
    torsion = sin / (cos**2 / bend + sin**2 / twist)
    axial = sin / (radius**2 * (cos**2 / twist + sin**2 / bend))
    shear = 2.0 * torsion / radius**2
    return filars * np.stack([bending, bending, torsion, axial, shear, mass / sin])


def closing_gain(material: Material, helix: Helix, filars: int = 1) -> Array:
    """What a coil gains over `open_coil` while its touching turns are shut: each row for that deformation alone.

    - bending   EA R^2: touching turns cannot close on the inner side of a bend, so the coil opens about the line of
      contact at its mean radius R: its axis stretches by R kappa, which costs 1/2 EA (R kappa)^2 beside the bending
    - torsion   wound up: `wound_coil`
    - axial     pressed solid: `pressed_coil`
    - shear     EA tan^2 a: neighbouring wires meet along the wire's binormal, which leans by a off the axis, so that a
      shear g closes the gaps by g tan a of their height on one side; the coil stretches by as much instead

    All but the axial one let the coil lengthen freely, without friction between turns. Derived in docs/theory.md.
    """
    table = open_coil(material, helix, filars)
    gain = np.zeros_like(table)
    gain[0] = gain[1] = table[3] * helix.radius**2
    gain[2] = wound_coil(material, helix, filars) - table[2]
    gain[3] = pressed_coil(material, helix, filars) - table[3]
    gain[4] = table[3] * np.tan(helix.angle) ** 2
    return gain


def pressed_coil(material: Material, helix: Helix, filars: int = 1) -> Array:
    """Axial rigidity of a coil whose turns are pressed onto each other, N: E times the wire's volume per axial length.

    Voigt's mean, an upper bound of whatever carries with that volume (Hill 1963, from memory): n E pi d^2/(4 sin a),
    for touching turns pi/4 of the solid tube's. Lines of contact make it softer at small forces: a sixth at 10 mN in a
    close coil of 0.06 mm wire on 0.27 mm (Johnson 1985, eq. 5.57, from memory), against 1/20000 for the open coil.
    """
    area = round_section(material, np.array(helix.wire))[3]
    return np.asarray(filars * area / np.sin(helix.angle))


def wound_coil(material: Material, helix: Helix, filars: int = 1) -> Array:
    """Torsional rigidity of a coil with touching turns turned so that it winds up, N m2.

    More turns in the same length need room: touching turns push the coil longer by e = t p/(2 pi) for a twist t per
    length. With the free helix's stiffness S of stretch and twist (the inverse of its compliance: (31) and the mixed
    term R cos a (1/C - 1/B): a wire softer in torsion than in bending winds up as it is pulled), GJ = S_tt
    + 2 S_et p/(2 pi) + S_ee (p/(2 pi))^2. Turned the other way the turns part and the open coil's GJ holds.
    """
    wire = round_section(material, np.array(helix.wire))
    bend, twist = wire[0], wire[2]
    table = open_coil(material, helix)
    mixed = helix.radius * np.cos(helix.angle) * (1.0 / twist - 1.0 / bend)
    axial, turning = 1.0 / table[3], 1.0 / table[2]
    scale = filars / (axial * turning - mixed**2)
    lead = helix.pitch / (2.0 * np.pi)
    return np.asarray(scale * (axial - 2.0 * mixed * lead + turning * lead**2))


def preload_moments(tension: float, radius: float) -> tuple[float, float]:
    """Moments at which a touching coil wound with an initial tension T0 (N) begins to open, and is open, N m.

    Touching turns press on each other with T0, spread evenly over a ring of radius R. A moment M shifts that pressure
    by M cos(phi)/(pi R^2) per arc (rigid turns, linear spread); it vanishes on the outer side at M = T0 R/2. At
    M = T0 R the whole pressure has moved to the inner side, and the coil opens about that point as `closing_gain`
    says: M = EI kappa + R (T0 + EA R kappa). Derived in docs/theory.md. Under tension alone the turns part at T0
    (Wahl, Mechanical Springs: extension springs).
    """
    return 0.5 * tension * radius, tension * radius


def winding_stress(tension: float, wire: float, radius: Array) -> Array:
    """Shear stress in the wire of a coil at its initial tension, Pa: 16 T0 R/(pi d^3), without curvature (Wahl)."""
    return np.asarray(16.0 * tension * radius / (np.pi * wire**3))


def bonded_coil(base: Array, ring: Array, fraction: Array) -> Array:
    """Rigidities of a continuous section `base` onto which turns are bonded (upper bound).

    Along the axis, stretches under a turn (`base` + `ring`, a share `fraction` of the length) and stretches in a gap
    (`base`) lie in series, so compliances add by length. Touching turns (fraction 1) make a solid tube. Where `base` is
    0, gaps carry nothing.
    """
    stiff = base + ring
    with np.errstate(divide="ignore", invalid="ignore"):
        series = 1.0 / (fraction / stiff + (1.0 - fraction) / base)
    out = np.where(fraction >= 1.0, stiff, np.where(base > 0.0, series, 0.0))
    out[5] = base[5]  # mass is counted by the caller: it does not act in series
    return np.asarray(out)


def _table(material: Material, first: Array, second: Array, torsion: Array, area: Array, shear: float | Array) -> Array:
    """Rows of `KEYS` from the geometry of a section."""
    return np.stack(
        [
            material.E * first,
            material.E * second,
            material.G * torsion,
            material.E * area,
            shear * material.G * area,
            material.density * area,
        ]
    )
