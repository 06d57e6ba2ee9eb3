"""Rigidities of a coil as the wire room computes them."""

import numpy as np

from ..wire.materials import Material
from ..wire.sections import KEYS, Helix, open_coil
from .row import Case, Row, relative

WIRE, MEAN, PITCH, MODULUS, POISSON = 6e-5, 2.7e-4, 6e-5, 168e9, 0.38
# bending and torsion with the helix angle, axial with ends free to turn, shear: strain energy over one exact turn
REFERENCE = {"EI1": 6.3421484470303e-09, "GJ": 7.526917444688939e-09, "EA": 0.300252874076109, "GA": 0.8296296296296298}
SOURCES = {
    "EI1": "Costello, Theory of Wire Rope; Timoshenko & Gere 1961 (helical spring column); re-derived",
    "GJ": "Wahl, Mechanical Springs; Love; re-derived",
    "EA": "Wahl, Mechanical Springs, with the helix angle; re-derived",
    "GA": "Haringx 1948; Timoshenko & Gere 1961, art. 2.19; from memory",
}


def coil() -> list[Row]:
    """Close-wound coil of a platinum alloy, wire 0.06 mm on 0.27 mm."""
    material = Material("coil", MODULUS, MODULUS / (2.0 * (1.0 + POISSON)), 21e3, 0.005, "yield", (1e11, 2e11), "check")
    table = open_coil(material, Helix(WIRE, np.array([0.5 * MEAN]), PITCH))[:, 0]
    return [
        relative(f"coil-{key}", f"{key} of a coil, {'N m2' if key in ('EI1', 'GJ') else 'N'}", float(table[i]),
                 REFERENCE[key], 1e-6, SOURCES[key])
        for i, key in enumerate(KEYS)
        if key in REFERENCE
    ]  # fmt: skip


CASES: tuple[Case, ...] = (coil,)
