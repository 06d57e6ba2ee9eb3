"""Moments of sections against quadrature of the stress and against known plastic moments."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad

from tipmech.bending import GRID
from tipmech.checks import FieldError
from tipmech.rod.build import profile_rod
from tipmech.rod.loads import Moment
from tipmech.rod.solve import solve_path
from tipmech.rod.structure import Structure
from tipmech.rod.supports import clamp
from tipmech.wire.curvature import has_law, moment_ratio, rectangle_losses, round_losses
from tipmech.wire.design import Design, profile
from tipmech.wire.materials import MATERIALS, Hardening, Material, Superelastic
from tipmech.wire.parts import Coil, Jacket, Part, Ribbon, Taper
from tipmech.wire.tip import Surface, Tip

STEEL, NITINOL, PLATINUM = MATERIALS["steel_304"], MATERIALS["nitinol"], MATERIALS["platinum_nickel_10"]


def stress(material: Material, strain: float) -> float:
    """Stress from the material's fields, piece by piece."""
    E, start, law = material.E, material.yield_strain, material.law
    if strain <= start:
        return E * strain
    if isinstance(law, Hardening):
        return E * start + law.slope * (strain - start)
    assert isinstance(law, Superelastic)
    plateau = min(strain - start, law.transformation_strain)
    rest = strain - start - plateau
    return E * start + law.plateau_slope * plateau + law.martensite_modulus * rest


def moment_by_quadrature(material: Material, kappa: float, half: float, width) -> float:  # type: ignore[no-untyped-def]
    """2 int_0^half sigma(kappa y) y b(y) dy."""
    assert material.law is not None
    kinks = [s / kappa for s, _ in material.law.breaks(material.E, material.yield_strain) if s / kappa < half]
    knots = [0.0, *kinks, half]
    return 2.0 * sum(
        quad(lambda y: stress(material, kappa * y) * y * width(y), a, b, epsabs=0.0, epsrel=1e-12)[0]
        for a, b in zip(knots, knots[1:], strict=False)
    )


def design(*parts: Part) -> Design:
    return Design("test", parts, Tip("dome", 0.04e-3, 0.02e-3), Surface("bare"))


@pytest.mark.parametrize("material", [STEEL, NITINOL])
@pytest.mark.parametrize("x", [1.01, 1.5, 4.0, 6.5, 15.0])
def test_round_and_rectangle_against_quadrature(material: Material, x: float) -> None:
    assert material.law is not None
    breaks = material.law.breaks(material.E, material.yield_strain)
    r, h, b = 0.05e-3, 0.02e-3, 0.1e-3
    for half, width, second, losses in (
        (r, lambda y: 2.0 * np.sqrt(r**2 - y**2), np.pi * r**4 / 4.0, round_losses),
        (h, lambda y: b, b * (2.0 * h) ** 3 / 12.0, rectangle_losses),
    ):
        limit = material.yield_strain / half
        reference = moment_by_quadrature(material, x * limit, half, width)
        got = material.E * second * limit * moment_ratio(np.array(x), breaks, losses)[0]
        assert got == pytest.approx(reference, rel=1e-9)


def test_slope_is_the_moments_derivative() -> None:
    assert NITINOL.law is not None
    breaks = NITINOL.law.breaks(NITINOL.E, NITINOL.yield_strain)
    for losses in (round_losses, rectangle_losses):
        for x in (1.2, 3.0, 7.0, 20.0):
            up, down = (moment_ratio(np.array(x * f), breaks, losses)[0] for f in (1.0 + 1e-5, 1.0 - 1e-5))
            assert moment_ratio(np.array(x), breaks, losses)[1] == pytest.approx((up - down) / (2e-5 * x), rel=1e-6)


def test_perfectly_plastic_rectangle() -> None:
    """M/My = 3/2 (1 - (ky/k)^2/3): Timoshenko, Strength of Materials II (from memory)."""
    x = np.geomspace(1.0, 30.0, 50)
    np.testing.assert_allclose(
        moment_ratio(x, ((0.01, 1.0),), rectangle_losses)[0], 1.5 * (1.0 - 1.0 / (3.0 * x**2)), rtol=1e-13
    )


def test_plastic_moments() -> None:
    """d^3 sigma_y/6 and b h^2 sigma_y/4; beyond 32 limits only 0.1 % is missing (the elastic core)."""
    d, b, h, E, strain = 0.1e-3, 0.1e-3, 0.03e-3, 190e9, 0.009
    x = np.array(1e4)
    round_moment = E * np.pi * d**4 / 64.0 * 2.0 * strain / d * moment_ratio(x, ((strain, 1.0),), round_losses)[0]
    flat_moment = E * b * h**3 / 12.0 * 2.0 * strain / h * moment_ratio(x, ((strain, 1.0),), rectangle_losses)[0]
    assert round_moment == pytest.approx(d**3 * E * strain / 6.0, rel=1e-6)
    assert flat_moment == pytest.approx(b * h**2 * E * strain / 4.0, rel=1e-6)


def test_a_wires_moment_is_the_sum_of_its_parts() -> None:
    ribbon = Ribbon(NITINOL, 0.0, 100e-3, 0.1e-3, 0.03e-3)
    coil = Coil(PLATINUM, 0.0, 30e-3, 0.06e-3, 0.296e-3, 0.078e-3)
    wire = profile(design(ribbon, coil))
    at = np.array([10e-3, 60e-3])
    law = wire.law_at(at)
    assert law is not None
    np.testing.assert_allclose(law.limit, 2.0 * 0.010 / 0.03e-3)
    kappa = 3e3
    got = wire.at("EI1", at) * law.at(np.full((2, 1), kappa))[0][:, 0]
    own = moment_by_quadrature(NITINOL, kappa, 0.015e-3, lambda y: 0.1e-3)
    bare = coil.rigidity(at)[0, 0] * kappa
    np.testing.assert_allclose(got, [own + bare, own], rtol=1e-3)  # what the table's cubics leave


@pytest.mark.parametrize("axis", [0, 1])
def test_a_ribbon_in_a_coil_bends_about_each_axis_by_its_own_law(axis: int) -> None:
    """A rod of them under an end moment: the ribbon's by quadrature about that axis, and the coil's on the line."""
    b, h = 0.1e-3, 0.03e-3
    ribbon = Ribbon(NITINOL, 0.0, 100e-3, b, h)
    coil = Coil(PLATINUM, 0.0, 100e-3, 0.06e-3, 0.296e-3, 0.078e-3)
    half, width = ((h / 2.0, b), (b / 2.0, h))[axis]
    kappa = 2.5 * NITINOL.yield_strain / half
    moment = moment_by_quadrature(NITINOL, kappa, half, lambda y: width) + coil.rigidity(np.zeros(1))[0, 0] * kappa
    rod = profile_rod(profile(design(ribbon, coil)), np.full(10, 0.1e-3))
    load = Moment(-1, (moment, 0.0, 0.0) if axis == 0 else (0.0, moment, 0.0))
    state = solve_path(Structure(rod, [clamp(0)], loads=[load]), [0.25, 0.5, 0.75, 1.0])[-1]
    assert state.converged
    turn = 2.0 * np.arccos(np.clip(np.abs(np.sum(state.q[0] * state.q[1])), 0.0, 1.0))
    assert turn / 0.1e-3 == pytest.approx(kappa, rel=3e-3)  # the tables leave 1e-3 of the moment; its slope is a third


def test_only_cores_and_ribbons_of_such_materials_leave_the_line() -> None:
    core = Taper(STEEL, (0.0, 0.1), (0.05e-3, 0.2e-3))
    coil = Coil(STEEL, 0.0, 100e-3, 0.06e-3, 0.296e-3, 0.078e-3)
    jacket = Jacket(MATERIALS["ptfe"], 0.0, 0.1, 0.5e-3, 0.42e-3)
    assert [has_law(p) for p in (core, coil, jacket)] == [True, False, False]
    assert not has_law(replace(core, material=PLATINUM))
    assert profile(design(replace(core, material=PLATINUM), coil)).laws == ()
    assert profile(design(core, coil), linear=True).laws == ()
    assert len(profile(design(core, coil)).laws) == 1


def test_softening_scales_the_moment_at_every_curvature() -> None:
    wire = profile(design(Taper(STEEL, (0.0, 0.1), (0.05e-3, 0.2e-3))))
    soft = wire.softened(0.4)
    at = np.array([5e-3, 45e-3, 80e-3])
    one, two = wire.law_at(at), soft.law_at(at)
    assert one is not None and two is not None
    kappa = one.limit[:, None] * GRID[None, ::5]
    before = wire.at("EI1", at)[:, None] * one.at(kappa)[0]
    after = soft.at("EI1", at)[:, None] * two.at(kappa)[0]
    np.testing.assert_allclose(after / before, np.array([[0.4], [0.7], [1.0]]) * np.ones_like(kappa), rtol=2e-3)


def test_wrong_materials_are_refused() -> None:
    assert isinstance(NITINOL.law, Superelastic)
    assert NITINOL.law.hysteresis(NITINOL.E, NITINOL.yield_strain) == pytest.approx(280e6)
    with pytest.raises(FieldError, match="less than E"):
        replace(STEEL, law=Hardening(200e9, "test"))
    with pytest.raises(FieldError, match="slope"):
        Hardening(-1.0, "test")
    for field, value in (("plateau_slope", 40e9), ("martensite_modulus", 60e9), ("unloading_stress", 500e6),
                         ("transformation_strain", 0.0)):  # fmt: skip
        with pytest.raises(FieldError, match=field):
            replace(NITINOL, law=replace(NITINOL.law, **{field: value}))


def test_whoever_scales_the_rigidity_scales_the_moment() -> None:
    """A profile whose EI1 is replaced keeps a law that fits it."""
    wire = profile(design(Taper(STEEL, (0.0, 0.1), (0.05e-3, 0.2e-3))))
    half = replace(wire, EI1=0.5 * wire.EI1, EI2=0.5 * wire.EI2)
    at = np.array([5e-3])
    one, two = wire.law_at(at), half.law_at(at)
    assert one is not None and two is not None
    np.testing.assert_array_equal(one.moment, two.moment)
    np.testing.assert_array_equal(one.limit, two.limit)
