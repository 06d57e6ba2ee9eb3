"""Sections against a general-purpose section-analysis library, and the constants of the validation rows against it.

The library solves EI and the warping problem of GJ on a mesh, weighted by one modulus each time: for GJ it is given the
shear moduli. Circles are polygons of 128 sides (area 0.04 % small), which sets the closeness.
"""

import numpy as np
import pytest
from sectionproperties.analysis import Section
from sectionproperties.pre import Geometry, Material
from sectionproperties.pre.library import circular_hollow_section, circular_section, rectangular_section

from tipmech.validation import coils
from tipmech.wire import materials as own
from tipmech.wire import sections
from tipmech.wire.strand import bonded_strand, lifted_strand, mean_direction

SIDES = 128
CLOSE = 1e-6  # the library against its own values
UNIT = 1e-6  # m: the library works in micrometres and pascals, so that its mesh sizes stay near 1
NM2 = UNIT**4


def stuff(modulus: float) -> Material:
    return Material("check", modulus, 0.3, 1.0, 1.0, "grey")


def solved(make: object, moduli: tuple[float, ...], size: float) -> Section:
    geometry: Geometry = make(*map(stuff, moduli))  # type: ignore[operator]
    geometry.create_mesh([size])
    return Section(geometry)


def bending(make: object, moduli: tuple[float, ...], size: float) -> tuple[float, float]:
    """EI about the axes x and y, N m2."""
    section = solved(make, moduli, size)
    section.calculate_geometric_properties()
    xx, yy, _ = section.get_eic()
    return float(xx) * NM2, float(yy) * NM2


def torsion(make: object, moduli: tuple[float, ...], size: float) -> float:
    """GJ, N m2, from shear moduli."""
    section = solved(make, moduli, size)
    section.calculate_geometric_properties()
    section.calculate_warping_properties()
    return float(section.get_ej()) * NM2


def ribbon(one: Material) -> Geometry:
    width, thickness = (side / UNIT for side in coils.RIBBON_SIDES)
    return rectangular_section(d=thickness, b=width, material=one)


def ring(outer: float, inner: float, one: Material) -> Geometry:
    return circular_hollow_section(d=outer / UNIT, t=0.5 * (outer - inner) / UNIT, n=SIDES, material=one)


def tube(one: Material) -> Geometry:
    return ring(coils.JACKET, coils.TUBE_INNER, one)


def bonded(core: Material, jacket: Material) -> Geometry:
    return circular_section(d=coils.CORE / UNIT, n=SIDES, material=core) + ring(coils.JACKET, coils.CORE, jacket)


def pair(one: Material) -> Geometry:
    wire = circular_section(d=coils.TWIN / UNIT, n=SIDES, material=one)
    return wire + wire.shift_section(x_offset=coils.TWIN / UNIT)


STEEL, SOFT = coils.STEEL, coils.SOFT


def test_constants_of_the_ribbon() -> None:
    got = (*bending(ribbon, (STEEL.E,), 5.0), torsion(ribbon, (STEEL.G,), 5.0))
    assert got == pytest.approx([coils.RIBBON[key] for key in ("EI1", "EI2", "GJ")], rel=CLOSE)


def test_constants_of_the_tube() -> None:
    got = (bending(tube, (SOFT.E,), 200.0)[0], torsion(tube, (SOFT.G,), 200.0))
    assert got == pytest.approx([coils.TUBE[key] for key in ("EI1", "GJ")], rel=CLOSE)


def test_constants_of_a_core_bonded_into_a_jacket() -> None:
    got = (bending(bonded, (STEEL.E, SOFT.E), 200.0)[0], torsion(bonded, (STEEL.G, SOFT.G), 200.0))
    assert got == pytest.approx([coils.COMPOSITE[key] for key in ("EI1", "GJ")], rel=CLOSE)


def test_constants_of_two_wires_side_by_side() -> None:
    assert bending(pair, (STEEL.E,), 10.0) == pytest.approx(coils.PAIR, rel=CLOSE)


def test_one_strand_moves_the_neutral_axis() -> None:
    """A core and a thinner strand of another material, side by side: both directions within 0.5 % of the library."""
    core, strand = own.MATERIALS["nitinol"], own.MATERIALS["steel_304"]
    wide, thin = 50e-6, 30e-6
    offset = 0.5 * (wide + thin)

    def beside(one: Material, two: Material) -> Geometry:
        return circular_section(d=wide / UNIT, n=SIDES, material=one) + circular_section(
            d=thin / UNIT, n=SIDES, material=two
        ).shift_section(x_offset=offset / UNIT)

    across, along = bending(beside, (core.E, strand.E), 20.0)
    straight = sections.Helix(thin, np.array([offset]), 1.0)  # a pitch of 1 m: no helix angle left
    base = sections.round_section(core, np.array([wide])) + lifted_strand(strand, straight)
    both = base + bonded_strand(base, strand, straight)
    assert base[0, 0] == pytest.approx(across, rel=coils.SECTION_TOLERANCE)
    assert both[0, 0] == pytest.approx(along, rel=coils.SECTION_TOLERANCE)
    mean = mean_direction(base[0, 0], both[0, 0])
    assert mean == pytest.approx(2.0 / (1.0 / across + 1.0 / along), rel=coils.SECTION_TOLERANCE)
    assert along > 2.0 * across


@pytest.mark.parametrize("ratio", [1.5, 6.0])
def test_ribbons_of_other_proportions(ratio: float) -> None:
    got = sections.rectangle_section(STEEL, np.array([ratio * 2.5e-5]), np.array([2.5e-5]))[:, 0]

    def flat(one: Material) -> Geometry:
        return rectangular_section(d=25.0, b=25.0 * ratio, material=one)

    assert got[:2] == pytest.approx(bending(flat, (STEEL.E,), 5.0), rel=1e-9)
    assert got[2] == pytest.approx(torsion(flat, (STEEL.G,), 5.0), rel=1e-3)
