from math import radians

import numpy as np
import pytest

from tipmech import closed_forms as cf
from tipmech.bench import lateral as bench
from tipmech.bench.lateral import LateralTest, lateral
from tipmech.checks import FieldError
from tipmech.profile import Profile, uniform
from tipmech.rod.errors import NotConvergedError

EI, LENGTH = 5e-8, 10e-3


def ribbon(ratio: float) -> Profile:
    """Flat section: EI2 = ratio EI1."""
    one = np.ones(2)
    bend, stiff = EI * one, 300.0 * one
    return Profile(np.array([0.0, 50e-3]), bend, ratio * bend, bend, stiff, stiff, 1e-4 * one, one, 1e-4, 0.1, "ribbon")


@pytest.fixture(scope="module")
def bent() -> LateralTest:
    return lateral(uniform(EI, 50e-3))


def test_small_deflection_is_that_of_a_cantilever(bent: LateralTest) -> None:
    assert bent.stiffness == pytest.approx(3.0 * EI / LENGTH**3, rel=1e-3)
    assert bent.stiffness_hard == pytest.approx(bent.stiffness, rel=1e-9)


def test_stated_deflection_lies_on_the_elastica(bent: LateralTest) -> None:
    tip = cf.tip_force_cantilever(bent.force * LENGTH**2 / EI, 0.5 * np.pi)
    assert tip.y * LENGTH == pytest.approx(bent.deflection, rel=1e-3)
    assert np.interp(bent.deflection, bent.across.deflection, bent.across.force) == pytest.approx(bent.force, rel=1e-2)


def test_curves_are_whole(bent: LateralTest) -> None:
    for curve, last in ((bent.across, 70.0), (bent.normal, 90.0)):
        n = len(curve.angle)
        assert curve.angle[0] == curve.force[0] == curve.deflection[0] == 0.0
        assert curve.angle[-1] == pytest.approx(radians(last))
        assert np.all(np.diff(curve.force) > 0.0) and np.all(np.diff(curve.deflection) > 0.0)
        assert curve.shapes.shape == (n, 61, 2)
        np.testing.assert_allclose(curve.shapes[:, -1, 1], curve.deflection)
        np.testing.assert_allclose(LENGTH - curve.shapes[:, -1, 0], curve.approach)
        # the wire is as long as before
        steps = np.linalg.norm(np.diff(curve.shapes, axis=1), axis=2)
        np.testing.assert_allclose(np.sum(steps, axis=1), LENGTH, rtol=1e-4)
    for words in ("10 mm", "2 mm", "45 deg", "normal", "without friction"):
        assert words in bent.definition


def test_the_push_decides_the_figure(bent: LateralTest) -> None:
    """At 45 degrees a force of fixed direction must be a quarter larger than one that turns with the tip."""
    assert bent.force_45 / bent.force_45_normal == pytest.approx(1.256, rel=2e-3)  # from the two elasticas


def test_a_flat_wire_bends_over_its_flat_side() -> None:
    flat, upright, soft = lateral(ribbon(4.0)), lateral(ribbon(0.25)), lateral(uniform(EI, 50e-3))
    assert flat.stiffness == pytest.approx(soft.stiffness, rel=1e-3)
    assert upright.stiffness == pytest.approx(0.25 * soft.stiffness, rel=1e-3)
    assert flat.stiffness_hard == pytest.approx(4.0 * flat.stiffness, rel=1e-3)
    assert upright.force_90_normal == pytest.approx(0.25 * flat.force_90_normal, rel=1e-3)
    assert np.all(upright.across.deflection >= 0.0) and np.all(flat.across.deflection >= 0.0)


def test_elements_do_not_decide() -> None:
    coarse, fine = (lateral(uniform(EI, 50e-3), elements=n) for n in (30, 120))
    assert coarse.stiffness == pytest.approx(fine.stiffness, rel=1e-3)
    assert coarse.force_45 == pytest.approx(fine.force_45, rel=1e-3)


def test_no_force_is_read_off_beyond_the_curve(bent: LateralTest) -> None:
    with pytest.raises(ValueError, match="0 to 70 deg"):
        bent.across.force_at(radians(90.0))


@pytest.mark.parametrize(
    ("argument", "value"),
    [("free_length", 0.0), ("free_length", 60e-3), ("free_length", float("nan")), ("deflection", 0.0),
     ("deflection", 0.9), ("elements", 4)],
)  # fmt: skip
def test_wrong_arguments_are_named(argument: str, value: float) -> None:
    with pytest.raises(FieldError, match=argument):
        lateral(uniform(EI, 50e-3), **{argument: value})  # type: ignore[arg-type]


def test_a_state_that_is_not_reached_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bench, "LAST_ACROSS", radians(95.0))  # beyond any force of fixed direction
    with pytest.raises(NotConvergedError, match="no equilibrium at a tip angle of 9"):
        lateral(uniform(EI, 50e-3))
