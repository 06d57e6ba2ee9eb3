from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad

from tipmech import closed_forms as cf
from tipmech.bench.bend import RECOVERED, Law, Shape, bend, part_laws, plastic_moment, springback
from tipmech.checks import FieldError
from tipmech.validation.bench_statics import springback_of_fibres
from tipmech.wire.design import Design, least_bend_radii
from tipmech.wire.materials import MATERIALS
from tipmech.wire.parts import Coil, Jacket, Ribbon, Taper
from tipmech.wire.tip import Surface, Tip

STEEL, NITINOL, PLATINUM = (MATERIALS[m] for m in ("steel_304", "nitinol", "platinum_nickel_10"))
CORE = Taper(STEEL, (0.0, 0.1), (0.05e-3, 0.05e-3))
COIL = Coil(PLATINUM, 0.0, 0.1, 0.06e-3, 0.296e-3, 0.072e-3)
TIP = Tip("dome", 0.05e-3, 0.02e-3)


def wire(*parts: Taper | Ribbon | Coil | Jacket) -> Design:
    return Design("test", parts, TIP, Surface("bare"))


@pytest.mark.parametrize("curvature", [0.5, 1.0, 1.3, 4.0, 50.0])
@pytest.mark.parametrize("shape", ["rectangle", "round"])
def test_plastic_moment_is_the_integral_over_the_section(curvature: float, shape: Shape) -> None:
    """Over the upper half of a section of unit half height, over the same integral at the yield curvature."""

    def moment(k: float) -> float:
        def part(y: float) -> float:
            return (1.0 if shape == "rectangle" else np.sqrt(1.0 - y * y)) * min(k * y, 1.0) * y

        return float(quad(part, 0.0, 1.0, points=[min(1.0, 1.0 / k)])[0])

    assert plastic_moment(curvature, shape) == pytest.approx(moment(curvature) / moment(1.0), rel=1e-7)
    assert plastic_moment(-curvature, shape) == -plastic_moment(curvature, shape)


def test_a_strip_springs_back_as_the_formula_says() -> None:
    t, e = 0.05e-3, STEEL.yield_strain
    laws = part_laws(wire(Ribbon(replace(STEEL, law=None), 0.0, 0.1, 0.1e-3, t)), 2e-3)
    for radius in (0.3e-3, 1e-3, 2.7e-3):
        # Ri/Rf = 4 (Ri e/t)^3 - 3 (Ri e/t) + 1
        x = radius * e / t
        kept = springback(laws, 1.0 / radius)
        assert kept * radius == pytest.approx(4.0 * x**3 - 3.0 * x + 1.0, rel=1e-9)
        assert kept == pytest.approx(cf.rectangle_springback(e, t, radius), rel=1e-9)
    assert springback(laws, 1.0 / 2.8e-3) == 0.0 == cf.rectangle_springback(e, t, 2.8e-3)


@pytest.mark.parametrize("around", [0.0, 1.0, 5.0, 40.0])
def test_an_elastic_coil_pulls_the_core_back_even_beyond_its_yield(around: float) -> None:
    """With as much rigidity around it and more the core yields again on its way back."""
    own = STEEL.E * np.pi * 0.05e-3**4 / 64.0
    limit = 2.0 * STEEL.yield_strain / 0.05e-3
    kept = springback([Law(own, limit, "round"), Law(around * own, np.inf, "round")], 6.0 * limit)
    exact = springback_of_fibres(STEEL.E, STEEL.yield_strain, 0.05e-3, around * own, 6.0 * limit)
    assert kept == pytest.approx(exact, rel=1e-3)
    assert (6.0 * limit - kept > 2.0 * limit) == (around >= 1.0)


def test_only_what_yields_keeps_a_shape() -> None:
    soft = bend(wire(replace(CORE, material=NITINOL), COIL))
    hard = bend(wire(CORE, COIL))
    bare = bend(wire(CORE))
    small = hard.mandrel <= 1e-3
    assert np.all(soft.kept[hard.mandrel >= 0.35e-3] == 0.0)
    assert np.all(hard.kept[small] > 0.05) and np.all(hard.kept <= 1.0)
    assert np.all(bare.kept[small] > hard.kept[small])
    np.testing.assert_allclose(hard.residual_angle, 0.5 * np.pi * hard.kept)
    assert hard.set_radius == pytest.approx(0.025e-3 / STEEL.yield_strain)
    assert bend(wire(replace(CORE, material=NITINOL))).set_radius == 0.0


def test_radii_of_a_tapered_core() -> None:
    """The core is thickest, and gives out first, at the proximal end of the length looked at."""
    design = wire(Taper(STEEL, (0.0, 0.1), (0.05e-3, 0.15e-3)), COIL)
    test = bend(design, radii=(1e-3, 5e-3))
    at_30 = 0.5 * (0.05e-3 + 0.3 * 0.1e-3)
    assert test.parts == ("core 1", "coil 1") and test.limits == ("yield", "yield")
    assert test.least_radius[0] == pytest.approx(at_30 / STEEL.yield_strain) == pytest.approx(test.kink_radius)
    np.testing.assert_allclose(test.strain[0], test.least_radius[0] / np.array([1e-3, 5e-3]))
    assert test.strain[0, 0] > 1.0 > test.strain[0, 1]
    near = least_bend_radii(design, 30e-3)
    assert test.least_radius[0] >= near["core 1"] and test.least_radius[1] == pytest.approx(near["coil 1"])


def test_a_superelastic_core_kinks_where_it_no_longer_recovers() -> None:
    core = replace(CORE, material=NITINOL)
    test = bend(wire(core))
    assert test.least_radius[0] == pytest.approx(0.025e-3 / NITINOL.yield_strain)
    assert test.kink_radius == pytest.approx(0.025e-3 / RECOVERED)


def test_parts_that_begin_behind_the_length_are_left_out() -> None:
    far = Coil(STEEL, 30e-3, 0.1, 0.06e-3, 0.296e-3, 0.064e-3)
    near = Coil(PLATINUM, 0.0, 30e-3, 0.06e-3, 0.296e-3, 0.072e-3)
    design = wire(CORE, near, far)
    assert bend(design).parts == ("core 1", "coil 1")
    assert bend(design, distal=31e-3).parts == ("core 1", "coil 1", "coil 2")
    # at the seam one coil is counted, not both
    assert len(part_laws(design, 30e-3)) == 4  # core and far coil, both of steel: what yields and what hardens


def test_the_axis_bends_to_the_mandrel_plus_the_wires_radius() -> None:
    jacket = Jacket(MATERIALS["ptfe"], 0.0, 0.1, 0.4e-3, 0.36e-3)
    test = bend(wire(CORE, COIL, jacket), mandrels=(1e-3,))
    laws = part_laws(wire(CORE, COIL, jacket), 2e-3)
    assert test.kept[0] == pytest.approx(springback(laws, 1.0 / 1.2e-3) * 1.2e-3)
    assert "0.2 mm" in test.definition and "2 mm from the tip" in test.definition


@pytest.mark.parametrize(
    ("argument", "value"),
    [("radii", ()), ("radii", (0.0,)), ("mandrels", ()), ("mandrels", (-1e-3,)), ("distal", 0.0), ("distal", 0.2),
     ("shaped_at", 0.0), ("shaped_at", 0.2)],
)  # fmt: skip
def test_wrong_arguments_are_named(argument: str, value: object) -> None:
    with pytest.raises(FieldError, match=argument):
        bend(wire(CORE, COIL), **{argument: value})  # type: ignore[arg-type]


def test_a_bend_of_no_curvature_is_refused() -> None:
    with pytest.raises(FieldError, match="curvature"):
        springback([Law(1.0, 1.0, "round")], 0.0)


def test_a_hardening_core_springs_back_further() -> None:
    """Against fibres of a bilinear material with kinematic hardening, each loaded and let go (Prager)."""
    (station,), radius = (1e-3,), 0.5e-3
    laws = part_laws(wire(CORE), station)
    curvature = 1.0 / radius
    y, share = np.linspace(0.0, 25e-6, 4001), np.sqrt(1.0 - np.linspace(0.0, 1.0, 4001) ** 2)
    slope = STEEL.law.slope / STEEL.E  # type: ignore[union-attr]

    def stress(strain: np.ndarray, limit: float) -> np.ndarray:
        return np.where(strain < limit, strain, limit + slope * (strain - limit))

    def left(kept: float) -> float:
        limit = STEEL.yield_strain
        top = stress(curvature * y, limit)
        return float(np.trapezoid(share * y * (top - stress((curvature - kept) * y, 2.0 * limit)), y))

    kept = springback(laws, curvature)
    low, high = 0.0, curvature
    while high - low > 1e-9 * curvature:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if left(middle) < 0.0 else (low, middle)
    assert kept == pytest.approx(low, rel=1e-4)
    perfectly = [replace(laws[0], rigidity=sum(law.rigidity for law in laws))]
    assert kept < 0.95 * springback(perfectly, curvature)
