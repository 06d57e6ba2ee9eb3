import numpy as np
import pytest

from tipmech.bench.flexure import flexure
from tipmech.checks import FieldError
from tipmech.profile import Profile, uniform

EI = 5e-8


def stepped(place: float, length: float = 100e-3) -> Profile:
    """Rigidity four times as large beyond a place; flat before it: easy about axis 1."""
    distance = np.array([0.0, place - 1e-6, place + 1e-6, length])
    one = np.ones(4)
    bend, stiff = EI * np.array([1.0, 1.0, 4.0, 4.0]), 300.0 * one
    return Profile(distance, bend, 3.0 * bend, bend, stiff, stiff, 1e-4 * one, one, 1e-4, 0.1, "step")


def test_a_uniform_wire_has_its_own_rigidity() -> None:
    for span in (10e-3, 40e-3):
        test = flexure(uniform(EI, 50e-3), span)
        np.testing.assert_allclose(test.apparent, EI, rtol=1e-3)
        np.testing.assert_allclose(test.force, 48.0 * EI * test.deflection / span**3, rtol=1e-3)


def test_stations_leave_the_whole_span_on_the_wire() -> None:
    test = flexure(uniform(EI, 50e-3), 20e-3, step=4e-3)
    assert test.station[0] == pytest.approx(10e-3) and test.station[-1] == pytest.approx(40e-3)
    assert len(test.station) == 9 and np.ptp(np.diff(test.station)) < 1e-12
    long = flexure(uniform(EI, 2.0), 20e-3, step=20e-3)
    assert long.station[-1] == pytest.approx(290e-3)
    assert len(flexure(uniform(EI, 50e-3), 50e-3).station) == 1
    for words in ("20 mm between two rollers", "0.2 mm in the middle", "10 to 40 mm"):
        assert words in test.definition


def test_a_step_is_smeared_over_the_span() -> None:
    """Far from it both agree; at it the apparent rigidity is the mean of 1/EI weighted by the moment's square."""
    test = flexure(stepped(50e-3))
    far = np.abs(test.station - 50e-3) > 10e-3 + 1e-6
    np.testing.assert_allclose(test.apparent[far], test.local[far], rtol=1e-3)
    assert test.apparent_at(50e-3) == pytest.approx(2.0 / (1.0 / EI + 0.25 / EI), rel=1e-3)  # half the span each
    assert test.apparent_at(42.5e-3) < 1.05 * EI and test.apparent_at(57.5e-3) > 0.9 * 4.0 * EI
    with pytest.raises(FieldError, match="10 mm to 90 mm"):
        test.apparent_at(95e-3)


def test_the_formula_holds_for_small_deflection_only() -> None:
    small, large = (flexure(uniform(EI, 50e-3), deflection=d).apparent[0] / EI - 1.0 for d in (1e-3, 5e-2))
    assert abs(small) < 1e-3 < 5e-3 < large < 2e-2


@pytest.mark.parametrize(
    ("argument", "value"),
    [("span", 0.0), ("span", 60e-3), ("distal", 0.0), ("step", 0.0), ("deflection", 0.0), ("deflection", 0.1),
     ("elements", 4), ("elements", 21)],
)  # fmt: skip
def test_wrong_arguments_are_named(argument: str, value: float) -> None:
    with pytest.raises(FieldError, match=argument):
        flexure(uniform(EI, 50e-3), **{argument: value})  # type: ignore[arg-type]
