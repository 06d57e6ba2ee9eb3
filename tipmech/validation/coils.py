"""Rigidities as the wire room computes them: coils, ropes, solid and bonded sections."""

import numpy as np

from ..wire.design import Coupling, Design, profile
from ..wire.materials import Material
from ..wire.parts import Jacket, Part, Ribbon, Strand, Taper
from ..wire.sections import KEYS, Helix, open_coil, round_section, wound_coil
from ..wire.strand import held_strand
from ..wire.tip import Surface, Tip
from . import helix
from .row import Case, Row, relative

WIRE, MEAN, PITCH, MODULUS, POISSON = 6e-5, 2.7e-4, 6e-5, 168e9, 0.38
# bending and torsion with the helix angle, axial with ends free to turn, shear: strain energy over one exact turn
REFERENCE = {"EI1": 6.3421484470303e-09, "GJ": 7.526917444688939e-09, "EA": 0.300252874076109, "GA": 0.8259991708849314}
SOURCES = {
    "EI1": "Costello, Theory of Wire Rope; Timoshenko & Gere 1961 (helical spring column); re-derived",
    "GJ": "Wahl, Mechanical Springs; Love; re-derived",
    "EA": "Wahl, Mechanical Springs, with the helix angle; re-derived",
    "GA": "Haringx 1948; Timoshenko & Gere 1961, art. 2.19; from memory; with the helix angle, re-derived",
}
WOUND = 7.537536390208523e-09
EXACT = 1e-6  # the same energy, integrated by quadrature instead of by hand
UNITS = {"EI1": "N m2", "EI2": "N m2", "GJ": "N m2", "EA": "N", "GA": "N"}

ROPE = {"EI": 4.531448047035513e-07, "GJ": 8.900534312675586e-07, "EA": 2524.097817542295}
"""Core 0.06 mm and six wires 0.05 mm at 0.055 mm, pitch 1.2 mm, 190 GPa."""

SECTION_TOLERANCE = 0.005  # asked for; the meshes behind the reference values are good to 0.1 % (polygons for circles)
SECTIONS = "general-purpose section analysis (finite elements on a mesh of the section), sectionproperties 3.10"
# a section as the library was given it: EI1, EI2, GJ, N m2; computed anew by tests/unit/wire/test_section_library.py
RIBBON = {"EI1": 1.9791666666666578e-08, "EI2": 2.0266666666666695e-07, "GJ": 2.445286697445121e-08}
TUBE = {"EI1": 2.536368776666667e-07, "GJ": 1.8116919833333317e-07}
COMPOSITE = {"EI1": 5.802080910949234e-07, "GJ": 4.210703798242385e-07}
PAIR = (1.509696607089222e-08, 7.550908670280832e-08)
"""Two round wires side by side: EI across and along the line of their centres, N m2."""

STEEL = Material("steel", 190e9, 190e9 / 2.6, 7900.0, 0.01, "yield", (1e11, 2e11), "check")
SOFT = Material("soft", 0.25e9, 0.25e9 / 2.8, 2500.0, 0.1, "yield", (1e8, 1e9), "check")
LENGTH = 0.1  # m, of the designs
RIBBON_SIDES, CORE, JACKET, TUBE_INNER, TWIN = (8e-5, 2.5e-5), 6e-5, 4.4e-4, 3.6e-4, 3e-5  # m


def coil() -> list[Row]:
    """Close-wound coil of a platinum alloy, wire 0.06 mm on 0.27 mm."""
    material = Material("coil", MODULUS, MODULUS / (2.0 * (1.0 + POISSON)), 21e3, 0.005, "yield", (1e11, 2e11), "check")
    shape = Helix(WIRE, np.array([0.5 * MEAN]), PITCH)
    table = open_coil(material, shape)[:, 0]
    found = [
        relative(f"coil-{key}", f"{key} of a coil, {UNITS[key]}", float(table[i]), REFERENCE[key], EXACT, SOURCES[key])
        for i, key in enumerate(KEYS)
        if key in REFERENCE
    ]
    wound = float(wound_coil(material, shape)[0])
    text = "energy over one turn, touching turns, derived in docs/theory.md"
    found.append(relative("coil-wound-GJ", "GJ of a coil of touching turns, wound up, N m2", wound, WOUND, EXACT, text))
    return found


def rope() -> list[Row]:
    """Straight core with six wires laid around it: they slide in a bend; else they hold the core straight."""
    shape = Helix(5e-5, np.array([5.5e-5]), 1.2e-3)
    core, (torsion, axial) = round_section(STEEL, np.array([6e-5]))[:, 0], held_strand(STEEL, shape)
    found = {
        "EI": core[0] + 6.0 * open_coil(STEEL, shape)[0, 0],
        "GJ": core[2] + 6.0 * torsion[0],
        "EA": core[3] + 6.0 * axial[0],
    }
    source = "energy over one turn; without the wires' own bending and twisting Costello, Theory of Wire Rope"
    return [
        relative(f"rope-{key}", text, float(found[key]), ROPE[key], EXACT, source)
        for key, text in (
            ("EI", "EI of a rope, wires free to slide, N m2"),
            ("GJ", "GJ of a rope wound up at a held length, N m2"),
            ("EA", "EA of a rope that cannot turn, N"),
        )
    ]


def rigidity(parts: tuple[Part, ...], coupling: Coupling) -> dict[str, float]:
    """Rigidities of a design uniform along its length, half way."""
    design = Design("check", parts, Tip("dome", 2e-5, 1e-5), Surface("bare"), may_gap=True)
    found, at = profile(design, coupling), np.array([0.5 * LENGTH])
    return {key: float(found.at(key, at)[0]) for key in UNITS}


def sections() -> list[Row]:
    """Ribbon, tube, core bonded into a jacket, and two wires bonded side by side and twisted."""
    core = Taper(STEEL, (0.0, LENGTH), (CORE, CORE))
    cases: tuple[tuple[str, str, tuple[Part, ...], dict[str, float]], ...] = (
        ("ribbon", "a ribbon 0.08 x 0.025 mm", (Ribbon(STEEL, 0.0, LENGTH, *RIBBON_SIDES),), RIBBON),
        ("tube", "a tube 0.44/0.36 mm", (Jacket(SOFT, 0.0, LENGTH, JACKET, TUBE_INNER),), TUBE),
        ("bonded", "a core bonded into a jacket", (core, Jacket(SOFT, 0.0, LENGTH, JACKET, CORE)), COMPOSITE),
    )
    found = []
    for word, name, parts, reference in cases:
        got = rigidity(parts, "bonded")
        for key, value in reference.items():
            quantity = f"{key} of {name}, {UNITS[key]}"
            found.append(relative(f"section-{word}-{key}", quantity, got[key], value, SECTION_TOLERANCE, SECTIONS))
    twin = (Taper(STEEL, (0.0, LENGTH), (TWIN, TWIN)), Strand(STEEL, 0.0, LENGTH, TWIN, 4e-3, TWIN))
    mean = 2.0 / (1.0 / PAIR[0] + 1.0 / PAIR[1])
    quantity = "EI of two wires bonded side by side, twisted with a long pitch, N m2"
    text = f"{SECTIONS}; the compliances of the two directions averaged over a turn"
    found.append(relative("section-twin", quantity, rigidity(twin, "bonded")["EI1"], mean, SECTION_TOLERANCE, text))
    return found


CASES: tuple[Case, ...] = (coil, rope, sections, *helix.CASES)
