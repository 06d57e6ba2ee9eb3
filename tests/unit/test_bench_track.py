"""Trackability: push along a bend."""

from dataclasses import replace
from math import exp, pi
from typing import Any

import numpy as np
import pytest

from tipmech.bench.track import Track, stiffened, trackability
from tipmech.bending import GRID, PartLaw
from tipmech.checks import FieldError
from tipmech.profile import uniform
from tipmech.rod.errors import NotConvergedError
from tipmech.wire.curvature import moment_ratio, round_losses

WIRE = uniform(5e-7, 0.3)


@pytest.fixture(scope="module")
def track() -> Track:
    return trackability(
        WIRE, friction=0.1, frictions=(0.0, 0.1, 0.3), scales=(0.5, 1.0, 4.0), ways=(5e-3, 40e-3), resistance=4e-3
    )


def test_the_curves_meet_at_the_wires_own_values(track: Track) -> None:
    assert track.over_friction[1, 0] == pytest.approx(track.drag, rel=1e-3)
    assert track.over_stiffness[1, 0] == pytest.approx(track.drag, rel=1e-3)
    assert track.over_way[1] == pytest.approx(track.drag, rel=1e-3)
    assert track.over_friction[1, 1] == pytest.approx(track.drag + track.gain * 4e-3, rel=1e-3)
    assert track.rope == pytest.approx(exp(0.1 * pi / 2))


def test_more_friction_takes_more_push(track: Track) -> None:
    assert np.all(np.diff(track.over_friction, axis=0) > 0.0)
    assert np.all(track.over_friction[:, 1] > track.over_friction[:, 0])


def test_the_drag_of_a_wire_is_its_stiffness(track: Track) -> None:
    """Without resistance all forces scale with EI."""
    np.testing.assert_allclose(track.over_stiffness[:, 0], track.drag * track.scales, rtol=5e-3)


def test_without_friction_a_uniform_wire_passes_its_load_on(track: Track) -> None:
    push = trackability(WIRE, friction=0.0, frictions=(0.0,), scales=(1.0,), ways=(40e-3,)).over_friction[0]
    assert abs(push[0]) < 1e-3 * track.drag  # the bend gives back what it takes
    assert push[1] - push[0] == pytest.approx(5e-3, rel=0.02)


def test_the_record_is_whole(track: Track) -> None:
    assert track.over_friction.shape == (3, 2) and track.over_stiffness.shape == (3, 2) and track.over_way.shape == (2,)
    assert track.shape.shape == (len(track.pressed), 3) and np.all(track.pressed >= 0.0)
    for words in ("0.5 mm bore", "15 mm radius by 90 deg", "40 mm past the bend", "friction 0.1", "4 mN on the tip"):
        assert words in track.definition


def test_scaling_leaves_the_rest_of_the_wire_alone() -> None:
    other = stiffened(WIRE, 2.0)
    np.testing.assert_array_equal(other.EI1, 2.0 * WIRE.EI1)
    np.testing.assert_array_equal(other.GJ, 2.0 * WIRE.GJ)
    np.testing.assert_array_equal(other.EA, WIRE.EA)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"friction": -0.1}, "friction is -0.1"),
        ({"radius": 0.0}, "radius is 0"),
        ({"angle": 0.0}, "angle is 0"),
        ({"resistance": 0.0}, "resistance is 0"),
        ({"bore": 0.35e-3}, "bore is 0.35 mm"),
        ({"scales": ()}, "scales is"),
        ({"frictions": (0.1, -1.0)}, "frictions is -1"),
        ({"beyond": 0.4}, "at most the wire's length"),
    ],
)
def test_wrong_input_is_named(given: dict[str, object], words: str) -> None:
    with pytest.raises(FieldError, match=words):
        trackability(WIRE, **given)  # type: ignore[arg-type]


def test_a_load_that_crushes_the_wall_is_refused() -> None:
    with pytest.raises(NotConvergedError):
        trackability(uniform(1e-9, 0.3), friction=1.0, resistance=0.2, frictions=(1.0,), scales=(1.0,), ways=(40e-3,))


def test_a_wire_beyond_its_limit_presses_and_rubs_less() -> None:
    """Half the modulus beyond a limit that the bend passes; one that it does not pass changes nothing."""
    moment, slope = moment_ratio(GRID, ((0.01, 0.5),), round_losses)
    moment[0], slope[0] = 1.0, 1.0

    def drag(limit: float) -> float:
        law = PartLaw(np.ones(2), np.full(2, limit), moment, slope)
        return trackability(replace(WIRE, laws=(law,)), friction=0.1, **FEW).drag

    plain = trackability(WIRE, friction=0.1, **FEW).drag
    bend = 1.0 / 15e-3
    assert drag(3.0 * bend) == pytest.approx(plain, rel=1e-9)
    share = moment_ratio(np.array([4.0]), ((0.01, 0.5),), round_losses)[0][0] / 4.0  # of the moment in the bend
    # forces are that moment over the way on which it rises, which is a little longer: curvature lags behind the moment
    assert 0.9 * share < drag(0.25 * bend) / plain < share


FEW: dict[str, Any] = {"frictions": (0.1,), "scales": (1.0,), "ways": (40e-3,)}
