"""Rigidities against independent numbers: energies integrated over a turn, and re-derived reference values.

The numbers of the coil and of the rope are re-derived reference values (strain-energy quadrature over an exact helical
turn; unit-moment compliance average): Timoshenko & Gere 1961, Wahl, Costello, from memory.
"""

import numpy as np
import pytest

from tipmech.wire import sections
from tipmech.wire.materials import MATERIALS, Material
from tipmech.wire.strand import held_strand


def material(E: float, nu: float) -> Material:
    return Material("test", E, E / (2.0 * (1.0 + nu)), 1000.0, 0.01, "yield", (E, E), "test")


COIL_MATERIAL = material(168e9, 0.38)
COIL = sections.Helix(6e-5, np.array([1.35e-4]), 6e-5)


def test_coil_with_its_helix_angle() -> None:
    bend, other, twist, axial, *_ = sections.open_coil(COIL_MATERIAL, COIL)[:, 0]
    assert bend == other
    assert bend == pytest.approx(6.3421484470303e-09, rel=1e-6)
    assert twist == pytest.approx(7.526917444688939e-09, rel=1e-6)
    assert axial == pytest.approx(0.300252874076109, rel=1e-6)


def test_coil_shear_and_the_close_coiled_limit() -> None:
    table = sections.open_coil(COIL_MATERIAL, COIL)[:, 0]
    # a helix angle of 4.05 degrees is worth 0.44 %, no more
    close = [6.352941176470589e-09, 7.560000000000001e-09, 0.30059044551798186, 0.8296296296296298]
    assert table[[0, 2, 3, 4]] == pytest.approx(close, rel=4.5e-3)
    assert np.all(table[[0, 2, 3, 4]] < close)


def test_coil_against_strain_energy_over_one_turn() -> None:
    steep = sections.Helix(5e-5, np.array([1.2e-4]), 3e-4)
    a, radius = steep.angle[0], 1.2e-4
    bend, _, twist, *_ = sections.round_section(COIL_MATERIAL, np.array(5e-5))
    turn = np.linspace(0.0, 2.0 * np.pi, 4001)[:-1]
    e_r = np.stack([np.cos(turn), np.sin(turn), 0 * turn])
    e_t = np.stack([-np.sin(turn), np.cos(turn), 0 * turn])
    e_z = np.array([0.0, 0.0, 1.0])[:, None]
    tangent = np.cos(a) * e_t + np.sin(a) * e_z

    def compliance(moment: np.ndarray) -> float:
        along = np.sum(moment * tangent, axis=0)
        across = np.sum(moment**2, axis=0) - along**2
        return float(np.mean(along**2 / twist + across / bend) / np.sin(a))

    one = np.ones_like(turn)
    table = sections.open_coil(COIL_MATERIAL, steep)[:, 0]
    assert 1.0 / table[0] == pytest.approx(compliance(np.stack([one, 0 * one, 0 * one])), rel=1e-9)
    assert 1.0 / table[2] == pytest.approx(compliance(e_z * one), rel=1e-9)
    assert 1.0 / table[3] == pytest.approx(compliance(np.cross(radius * e_r, e_z * one, axis=0)), rel=1e-9)
    e_x = np.array([1.0, 0.0, 0.0])[:, None]
    assert 1.0 / table[4] == pytest.approx(compliance(np.cross(radius * e_r, e_x * one, axis=0)), rel=1e-9)


def test_filars_are_springs_in_parallel() -> None:
    one, six = sections.open_coil(COIL_MATERIAL, COIL), sections.open_coil(COIL_MATERIAL, COIL, filars=6)
    assert six == pytest.approx(6.0 * one)


def test_rope_of_a_core_and_six_wires() -> None:
    steel = material(190e9, 0.3)
    helix = sections.Helix(5e-5, np.array([5.5e-5]), 1.2e-3)
    core = sections.round_section(steel, np.array([6e-5]))
    rope = (core + 6.0 * sections.open_coil(steel, helix))[:, 0]
    _, axial = held_strand(steel, helix)
    assert np.degrees(np.pi / 2.0 - helix.angle[0]) == pytest.approx(16.065306751695488, rel=1e-9)
    assert rope[0] == pytest.approx(4.5314480470355134e-07, rel=1e-6)
    # the reference, wires that neither bend nor twist: their own bending adds 2.5e-4
    assert core[3, 0] + 6.0 * axial[0] == pytest.approx(2523.45774703027, rel=3e-4)


def test_solid_sections() -> None:
    steel = MATERIALS["steel_304"]
    d = np.array([0.34e-3])
    full = sections.round_section(steel, d)[:, 0]
    assert full[0] == pytest.approx(193e9 * np.pi * 0.34e-3**4 / 64.0)
    tube = sections.tube_section(steel, d, np.array([0.2e-3])) + sections.round_section(steel, np.array([0.2e-3]))
    assert tube[[0, 2, 3, 5], 0] == pytest.approx(full[[0, 2, 3, 5]])
    nearly = sections.tube_section(steel, d, np.array([1e-7]))[:, 0]
    assert nearly == pytest.approx(full, rel=1e-5)


@pytest.mark.parametrize(("ratio", "factor"), [(1.0, 0.1406), (2.0, 0.229), (10.0, 0.312)])
def test_torsion_of_a_rectangle(ratio: float, factor: float) -> None:
    # J = factor b h^3: Timoshenko & Goodier, Theory of Elasticity, art 109, table (from memory), three digits
    h = np.array([0.03e-3])
    got = sections.rectangle_section(COIL_MATERIAL, ratio * h, h)[:, 0]
    assert got[2] / COIL_MATERIAL.G / (ratio * h[0] ** 4) == pytest.approx(factor, abs=1e-3)
    assert got[0] == pytest.approx(COIL_MATERIAL.E * ratio * h[0] ** 4 / 12.0)
    assert got[1] == pytest.approx(got[0] * ratio**2)


def test_bonded_coil_lies_between_its_section_and_the_solid_one() -> None:
    base, ring = np.full((6, 3), 2.0), np.full((6, 3), 10.0)
    out = sections.bonded_coil(base, ring, np.array([1e-12, 0.5, 1.0]))[0]
    assert out == pytest.approx([2.0, 1.0 / (0.5 / 12.0 + 0.5 / 2.0), 12.0])
    assert np.all(sections.bonded_coil(0.0 * base, ring, np.full(3, 0.9))[0] == 0.0)


def test_every_material_has_a_source_and_lies_in_its_range() -> None:
    for key, m in MATERIALS.items():
        assert m.name == key
        assert m.E_range[0] <= m.E <= m.E_range[1]
        assert len(m.source) > 10


def test_pressed_turns_lie_between_the_open_coil_and_voigts_mean() -> None:
    """Cylinders pressed between two lines of contact: Johnson, Contact Mechanics, 1985, eq. 5.57 (from memory)."""
    E, nu, d, radius = 168e9, 0.38, 6e-5, 1.35e-4
    open_ea, bound = sections.open_coil(COIL_MATERIAL, COIL)[3, 0], sections.pressed_coil(COIL_MATERIAL, COIL)[0]
    force = np.array([1e-3, 1e-2, 0.1, 1.0, 10.0])
    line = force / (2.0 * np.pi * radius)
    half_width = np.sqrt(4.0 * line * (d / 4.0) * 2.0 * (1.0 - nu**2) / (np.pi * E))
    # approach of a cylinder's two sides; its derivative by the force per length, the half width going as its root
    give = 2.0 * (1.0 - nu**2) / (np.pi * E) * (2.0 * np.log(2.0 * d / half_width) - 2.0)
    stack = d * 2.0 * np.pi * radius / give
    assert np.all(stack > 1000.0 * open_ea) and np.all(stack < bound) and np.all(np.diff(stack) > 0.0)
    tube = np.pi / 4.0 * E * np.pi * ((2 * radius + d) ** 2 - (2 * radius - d) ** 2) / 4.0
    assert bound == pytest.approx(tube / np.cos(COIL.angle[0]), rel=1e-9)  # pitch = d: the turns overlap by 1 - cos a


def test_shear_leans_on_touching_turns_by_the_helix_angle() -> None:
    """A shear g moves a wire by g p beside the one a pitch p below; along the common normal that is g p sin a."""
    gain = sections.closing_gain(COIL_MATERIAL, COIL)[:, 0]
    a, shear, stretch = COIL.angle[0], 1e-3, 1e-3 * np.tan(COIL.angle[0])
    phi = np.linspace(0.0, 2.0 * np.pi, 721)
    normal = np.stack([np.sin(a) * np.sin(phi), -np.sin(a) * np.cos(phi), np.full_like(phi, np.cos(a))])
    gap = COIL.pitch * (shear * normal[0] + stretch * normal[2])
    assert np.min(gap) == pytest.approx(0.0, abs=1e-12 * COIL.pitch)
    axial = sections.open_coil(COIL_MATERIAL, COIL)[3, 0]
    assert 0.5 * gain[4] * shear**2 == pytest.approx(0.5 * axial * stretch**2)
