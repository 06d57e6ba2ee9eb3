"""Torque response: the twisted wire and the test's figures."""

from dataclasses import replace
from math import degrees, pi, radians
from typing import Any

import numpy as np
import pytest

from tipmech.bench.threaded import Threaded
from tipmech.bench.tip_shape import STRAIGHT, Arc, Shape, one_bend
from tipmech.bench.torque import ROLLS, Torque, _series, in_tube, rolled, torque_response, turned
from tipmech.bench.tube import Piece, Route, bend
from tipmech.bench.twist import Held, Twist, _energy, _system
from tipmech.checks import FieldError
from tipmech.files.wire import read_wire
from tipmech.profile import Profile, uniform
from tipmech.wire.design import profile

EI = 5e-8
SHORT = Route((Piece(10e-3), bend(15e-3, radians(60.0))))


def wire(scale: float = 1.0) -> Profile:
    return uniform(scale * EI, 0.3)


@pytest.fixture(scope="module")
def shaped() -> Torque:
    return torque_response(wire(), shape=one_bend(radians(45.0), 2e-3), friction=0.1)


def random_twist() -> tuple[Twist, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(1)
    twist = Twist(rng.uniform(1.0, 2.0, 11), rng.normal(size=(12, 3, 2)), rng.uniform(0.0, 0.5, 12))
    return twist, rng.normal(size=12), rng.normal(size=12)


def test_the_gradient_and_the_hessian_are_those_of_the_energy() -> None:
    twist, t, anchor = random_twist()
    stick = twist.limit / 0.5
    held = Held(twist.spring, twist.waves, twist.limit, stick, anchor)
    grad, diag, other = np.empty(12), np.empty(12), np.empty(12)
    _system(t, held, grad, diag)
    for i in range(1, 12):
        step = np.zeros(12)
        step[i] = 1e-6
        slope = (_energy(t + step, held)[0] - _energy(t - step, held)[0]) / 2e-6
        assert grad[i] == pytest.approx(slope, rel=1e-6, abs=1e-7)
        ahead, back = np.empty(12), np.empty(12)
        _system(t + step, held, ahead, other)
        _system(t - step, held, back, other)
        assert diag[i] == pytest.approx((ahead[i] - back[i]) / 2e-6, rel=1e-5, abs=1e-6)
        if i < 11:
            assert (ahead[i + 1] - back[i + 1]) / 2e-6 == pytest.approx(-twist.spring[i], rel=1e-5)


def test_a_straight_wire_without_friction_follows_at_once() -> None:
    test = torque_response(wire(), SHORT, friction=0.0)
    assert test.ratio == pytest.approx(1.0, abs=1e-6) and test.lag < 1e-6
    assert test.whip == 0.0 and test.jumps == () and np.max(np.abs(test.torque)) < 1e-15


def test_friction_of_a_straight_wire_makes_one_lag_and_one_torque() -> None:
    one, two = (torque_response(wire(), SHORT, friction=f) for f in (0.1, 0.2))
    assert two.lag == pytest.approx(2.0 * one.lag, rel=1e-3) and one.lag > 0.0
    slid = 0.1 * wire().radius[0] * np.sum(one.pressed[1:])
    assert one.torque[-1] == pytest.approx(slid, rel=1e-6)
    assert one.ratio == pytest.approx(1.0 - one.lag / one.base[-1], rel=1e-3)


def test_stiffness_alone_changes_neither_lag_nor_whip() -> None:
    """Forces of the wall and torques scale with EI and GJ together."""
    soft, stiff = (
        torque_response(wire(c), SHORT, shape=one_bend(radians(60.0), 2e-3), friction=0.1) for c in (1.0, 4.0)
    )
    assert stiff.lag == pytest.approx(soft.lag, rel=2e-3)
    assert stiff.shape_energy == pytest.approx(4.0 * soft.shape_energy, rel=2e-3)


def test_the_record_is_whole(shaped: Torque) -> None:
    n = len(shaped.base)
    assert shaped.tip.shape == shaped.torque.shape == (n,) and np.all(np.diff(shaped.base) > 0.0)
    assert shaped.base[0] == shaped.tip[0] == 0.0 and shaped.base[-1] == pytest.approx(3.0 * pi)
    assert shaped.first_turn == pytest.approx(float(np.interp(2 * pi, shaped.base, shaped.tip)) / (2 * pi))
    assert shaped.pressed.shape == shaped.distance.shape == shaped.twist.shape
    for words in (
        "0.5 mm bore",
        "60 mm radius",
        "15 mm radius by 90 deg in a plane turned by 90 deg",
        "45 deg over 2 mm",
    ):
        assert words in shaped.definition
    assert "friction 0.1;" in shaped.definition and "1.5 turns" in shaped.definition


def test_a_shaped_tip_waits_and_then_hurries(shaped: Torque) -> None:
    straight = torque_response(wire(), friction=0.1)
    assert degrees(shaped.lag) > 360.0 > 20.0 * degrees(straight.lag)  # a soft wire all along hardly turns its tip
    short = torque_response(wire(), SHORT, shape=one_bend(radians(25.0), 2e-3), friction=0.1)
    assert short.whip == 0.0 and 1.5 < short.steepest < 10.0


def test_a_strong_shape_whips_and_with_the_tip_in_a_straight_it_does_not() -> None:
    strong = torque_response(wire(), SHORT, shape=one_bend(radians(90.0), 4e-3), friction=0.02)
    assert strong.whip > radians(60.0) and strong.steepest == np.inf
    base, before, after = strong.jumps[0]
    assert after - before > radians(60.0) and 0.0 < before < base
    longer = Route((*SHORT.pieces, Piece(15e-3)))
    out = torque_response(wire(), longer, shape=one_bend(radians(90.0), 4e-3), friction=0.02)
    assert out.whip == 0.0 and out.lag < 0.3 * strong.lag


def test_a_ribbon_whips_without_a_shape() -> None:
    ribbon = replace(wire(), EI2=5.0 * wire().EI2)
    test = torque_response(ribbon, SHORT, friction=0.0)
    assert test.whip > radians(30.0) and test.jumps[0][0] > radians(30.0)  # it begins at rest
    last, before = test.jumps[-1], test.jumps[-2]
    np.testing.assert_allclose(np.subtract(last, before), pi, atol=radians(0.1))  # the same after half a turn


def test_friction_holds_each_node_below_its_limit() -> None:
    profile, length = wire(), 2e-3
    threaded = Threaded.along(profile, SHORT, 0.5e-3, SHORT.total, shape=one_bend(radians(45.0), length))
    twist, pressed, _ = in_tube(threaded, profile, 0.2, one_bend(radians(45.0), length))
    _, states, _ = turned(twist, pi)
    for state in states[::20]:
        assert np.all(np.abs(twist.friction(state)) <= twist.limit * (1.0 + 1e-9))
        taken = -np.sum((twist.friction(state) + twist.bending(state))[1:])
        assert twist.torque(state) == pytest.approx(taken, rel=1e-6, abs=1e-6 * np.sum(twist.limit))
    np.testing.assert_allclose(twist.limit, 0.2 * profile.radius[0] * pressed)


def test_the_series_is_the_energy_of_the_rolls() -> None:
    threaded = Threaded.along(wire(), SHORT, 0.5e-3, SHORT.total, shape=one_bend(radians(45.0), 2e-3))
    energies, _ = rolled(threaded, one_bend(radians(45.0), 2e-3))
    series = _series(energies, 0.0)
    h = np.arange(1, len(series) + 1)
    at = (2.0 * pi * np.arange(ROLLS) / ROLLS)[:, None] * h
    again = np.sum(series[:, 0] * np.cos(at) + series[:, 1] * np.sin(at), axis=1)
    np.testing.assert_allclose(again, energies - np.mean(energies), atol=2e-3 * np.ptp(energies))


def test_half_the_mesh_changes_little(monkeypatch: pytest.MonkeyPatch) -> None:
    coarse = torque_response(wire(), SHORT, shape=one_bend(radians(45.0), 2e-3), friction=0.2)
    monkeypatch.setattr("tipmech.bench.threaded.MESH", 0.15)
    monkeypatch.setattr("tipmech.bench.threaded.TIP_ELEMENTS", 16)
    fine = torque_response(wire(), SHORT, shape=one_bend(radians(45.0), 2e-3), friction=0.2)
    assert np.sum(coarse.pressed) == pytest.approx(np.sum(fine.pressed), rel=0.03)
    assert coarse.lag == pytest.approx(fine.lag, rel=0.02)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"friction": -0.1}, "friction is -0.1"),
        ({"shape": one_bend(1.0, 0.2)}, "shape is 200 mm"),
        ({"turns": 0.0}, "turns is 0"),
        ({"bore": 0.3e-3}, "bore is 0.3 mm"),
    ],
)
def test_wrong_input_is_named(given: dict[str, Any], words: str) -> None:
    with pytest.raises(FieldError, match=words):
        torque_response(wire(), SHORT, **given)


def test_a_wire_shorter_than_the_tube_is_refused() -> None:
    with pytest.raises(FieldError, match="no longer than the wire"):
        torque_response(uniform(EI, 0.1))


def test_two_bends_in_a_row_are_one() -> None:
    half = radians(20.0)
    pair = Shape((Arc(half, 1e-3), Arc(half, 1e-3, 1e-3)))
    whole, parts = (torque_response(wire(), SHORT, shape=s, friction=0.1) for s in (one_bend(2 * half, 2e-3), pair))
    assert parts.shape_energy == pytest.approx(whole.shape_energy, rel=0.02)  # the mesh in the tip is twice as fine
    assert parts.lag == pytest.approx(whole.lag, rel=0.02)
    assert "20 deg over 1 mm and 20 deg over 1 mm from 1 mm behind the tip" in parts.definition


def test_a_second_bend_counts_with_its_plane() -> None:
    """In a tight tube the torques of two bends in one arc add as vectors."""
    tight = 2.0 * (float(wire().radius[0]) + 5e-6)

    def energy(*arcs: Arc) -> float:
        threaded = Threaded.along(wire(), SHORT, tight, SHORT.total, shape=Shape(arcs))
        return 0.5 * float(np.ptp(rolled(threaded, Shape(arcs))[0]))

    first, behind = Arc(radians(40.0), 2e-3), Arc(radians(40.0), 2e-3, 4e-3)
    one, two = energy(first), energy(behind)  # the clearance takes more of the torque of the bend at the free end
    assert energy(first, behind) == pytest.approx(one + two, rel=0.02)
    assert energy(first, replace(behind, roll=0.5 * pi)) == pytest.approx(np.hypot(one, two), rel=0.02)
    assert energy(first, replace(behind, roll=pi)) == pytest.approx(abs(one - two), abs=0.02 * (one + two))


def test_a_shape_covers_its_angle_whatever_the_mesh() -> None:
    shape = Shape((Arc(0.7, 2e-3), Arc(0.5, 3e-3, 5e-3, radians(90.0))))
    threaded = Threaded.along(wire(), SHORT, 0.5e-3, SHORT.total, shape=shape)
    angles = threaded.rod.tributary @ shape.at_nodes(threaded.distance)
    np.testing.assert_allclose(angles, (0.7, 0.5), rtol=1e-4)  # the tube's chords for its arcs
    assert shape.reach == 8e-3 and STRAIGHT.reach == 0.0 and Shape.of(read_wire("workhorse")) == STRAIGHT
    shaped = read_wire("stranded_shaped")
    second = shaped.second_bend
    assert second is not None
    assert Shape.of(shaped).arcs[1] == Arc(second.angle, second.length, second.distance, second.roll)


def test_a_ribbon_keeps_to_its_law_as_it_turns() -> None:
    """Energy of a section at the curvature of the tube, over its roll: by the law beyond its limit, else the line's."""
    design = read_wire("very_soft")
    found = {}
    for limit in (1.0, 0.1):
        stock = profile(design)
        laws = tuple(replace(law, limit=limit * law.limit) for law in stock.laws)
        stock = replace(stock, laws=laws)
        threaded = Threaded.along(stock, SHORT, 0.5e-3, SHORT.total)
        line = replace(stock, laws=())
        found[limit] = [
            np.sum(np.abs(in_tube(replace(threaded, rod=replace(threaded.rod, law=law)), p, 0.1)[0].waves[:, 1]))
            for p, law in ((line, None), (stock, threaded.rod.law))
        ]
    assert found[1.0][1] == pytest.approx(found[1.0][0], rel=1e-6)  # the bend stays below the ribbon's limit
    assert found[0.1][0] == pytest.approx(found[1.0][0], rel=1e-6) and found[0.1][1] < 0.9 * found[0.1][0]
