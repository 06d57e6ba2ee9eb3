"""What must hold whatever the numbers: symmetry, scaling, and the limits in which the outcome is known beforehand."""

from dataclasses import replace
from math import pi, radians

import numpy as np
import pytest
from insertion_cases import CHANNEL, NUMERICS, SUPPORT, TEAR, in_pocket, make_case, make_scene, mirrored, scaled

from tipmech.insertion.case import Drive, Move, Numerics, StopRules
from tipmech.insertion.classify import classify
from tipmech.insertion.run import advance
from tipmech.outcome import Label, Stop, Where
from tipmech.vessel.scene import Centreline, Lumen, Wall

SAME_SHAPE = 1e-6  # m: forces are solved to 1e-4 EI/L^2, which bends 10 mm of wire by less than a micrometre


def same_outcome(a, b):
    first, second = classify(a), classify(b)
    assert (first.where, first.shape, first.label, first.stop) == (
        second.where,
        second.shape,
        second.label,
        second.stop,
    )
    assert len(a.feed) == len(b.feed)


CASES = {
    "bent vessel, rolled tip": make_case(
        bend=40.0,
        roll=0.4,
        scene=make_scene(
            centreline=Centreline.arc(8e-3, 20e-3, 0.8, 25e-3, plane=2.5),
            tear=replace(TEAR, azimuth=0.3),
            support=replace(SUPPORT, offset=(0.5e-3, 0.2e-3), tilt=0.1, tilt_azimuth=0.7),
        ),
    ),
    "soft wire that curls": make_case(1e-8, 40.0, roll=-0.3),
    "stiff wire that drives the front on": make_case(2e-7, 20.0, roll=0.2),
    "pocket": in_pocket(make_case(2e-8, 30.0, roll=0.8)),
}


@pytest.mark.parametrize("name", CASES)
def test_a_mirrored_scene_gives_the_mirrored_result(name):
    case = CASES[name]
    a, b = advance(case), advance(mirrored(case))
    same_outcome(a, b)
    np.testing.assert_allclose(b.positions, a.positions * np.array([1.0, -1.0, 1.0]), atol=SAME_SHAPE)


@pytest.mark.parametrize("name", CASES)
def test_scaling_every_force_leaves_shapes_and_outcome(name):
    case = CASES[name]
    # a power of four: every rounding is scaled too, so that any difference is an absolute number in the solver
    a, b = advance(case), advance(scaled(case, 4.0))
    same_outcome(a, b)
    np.testing.assert_allclose(b.positions, a.positions, atol=SAME_SHAPE)
    np.testing.assert_allclose(b.push, 4.0 * a.push, atol=1e-3 * 4.0 * np.max(np.abs(a.push)))


@pytest.mark.parametrize("rigidity", [1e-8, 5e-8, 2e-7])
@pytest.mark.parametrize("free_lip", ["downstream", "upstream"])
def test_a_coaxial_straight_tip_does_not_enter_a_mouth_without_gap(rigidity, free_lip):
    scene = make_scene(
        tear=replace(TEAR, gap=0.0, free_lip=free_lip),
        channel=replace(CHANNEL, thickness=0.0),
        support=replace(SUPPORT, offset=(0.0, 0.0)),
    )
    outcome = classify(advance(make_case(rigidity, 0.0, scene=scene)))
    assert outcome.where == Where.TRUE_LUMEN
    assert np.isnan(outcome.entered)


@pytest.mark.parametrize("rigidity", [1e-8, 5e-8])
@pytest.mark.parametrize("bend", [0.0, 30.0])
def test_a_front_and_margins_without_strength_and_no_friction_never_curl_the_tip(rigidity, bend):
    free = {"front_force": 1e-7, "fracture_energy": 1e-4, "front_friction": 0.0}
    case = in_pocket(make_case(rigidity, bend, friction=0.0), **free)
    case = replace(case, scene=replace(case.scene, support=replace(SUPPORT, friction=0.0)))
    outcome = classify(advance(case))
    assert outcome.label == Label.FALSE_LUMEN_EXTENDED
    assert np.isnan(outcome.curled)
    assert outcome.extension > 5e-3


@pytest.mark.parametrize("rigidity", [1e-8, 5e-8, 2e-7])
@pytest.mark.parametrize("start", ["lumen", "pocket"])
def test_a_front_of_endless_strength_is_never_extended(rigidity, start):
    case = make_case(rigidity, 20.0, scene=make_scene(wall=Wall(0.6e6, 0.348e-3, 1e9)))
    if start == "pocket":
        # 7 mm, 4 of them against the front: fed further, the stiffest wire is wound up across the vessel's axis and not
        # solved (docs/limits.md)
        case = replace(in_pocket(case, front_force=1e3), moves=(Move("advance", 7e-3),))
    else:
        case = replace(case, scene=replace(case.scene, channel=replace(CHANNEL, front_force=1e3)))
    record = advance(case)
    outcome = classify(record)
    assert outcome.label != Label.NOT_SOLVED
    assert np.max(record.force_front) > 0.0, "the wire must have met the front"
    assert outcome.extension == 0.0
    assert np.isnan(outcome.extended)


LIP_SUPPORT = replace(SUPPORT, offset=(0.9e-3, 0.0), tilt=radians(4.0), friction=0.0)


def dragged(elements):
    """A straight wire that lies on the upstream lip, its tip over a long window: forces over feed without friction."""
    scene = make_scene(
        tear=replace(TEAR, length=8e-3, gap=1.2e-3, free_lip="downstream"),
        wall=Wall(0.6e6, 1.2e-3, 600.0),
        channel=replace(CHANNEL, thickness=1.2e-3),
        lumen=Lumen(1.25e-3),
        support=LIP_SUPPORT,
    )
    case = make_case(
        5e-8,
        0.0,
        scene=scene,
        friction=0.0,
        numerics=Numerics(elements=elements, length=25e-3, increment=0.03e-3, imperfection=0.0),
        moves=(Move("advance", 9.5e-3),),
        drive=Drive(force_cap=5.0),
        stop=StopRules(20e-3, advance_past_curl=0.0),
    )
    return advance(case)


@pytest.mark.parametrize("elements", [40, 60, 97])
def test_a_straight_wire_dragged_over_a_lip_without_friction_feels_no_ripple(elements):
    record = dragged(elements)
    assert record.stop == Stop.PROTOCOL_DONE
    over = (record.tip_s > TEAR.start + 1.2e-3) & (record.tip_s < TEAR.start + 5e-3)
    force = (record.force_true + record.force_window)[over]
    assert len(force) > 80
    assert np.min(force) > 0.0
    s = (record.tip_s[over] - TEAR.start) * 1e3
    ripple = (force - np.polyval(np.polyfit(s, force, 5), s)) / force
    assert np.max(np.abs(ripple)) < 0.01


def turned(case, turn):
    """The case with everything turned about the axis of its straight vessel."""
    c, s = np.cos(turn), np.sin(turn)
    x, y = case.scene.support.offset
    scene = replace(
        case.scene,
        tear=replace(case.scene.tear, azimuth=turn),
        support=replace(case.scene.support, offset=(c * x - s * y, s * x + c * y), tilt_azimuth=turn),
    )
    rotation = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    return replace(case, scene=scene, tip_shape=replace(case.tip_shape, roll=case.tip_shape.roll + turn)), rotation


@pytest.mark.parametrize("rigidity", [5e-8, 3e-7])
def test_turning_the_whole_scene_about_the_axis_of_a_straight_vessel_turns_the_result(rigidity):
    case = make_case(rigidity, 30.0, roll=0.2, numerics=replace(NUMERICS, imperfection=0.0))
    other, rotation = turned(case, 0.7)
    a, b = advance(case), advance(other)
    same_outcome(a, b)
    # the soft one snaps over in the support on the way: what is compared is where it ends. Friction is iterated to 1 %:
    # with other rigidities single increments on the way differ by up to 20 um
    if rigidity == 3e-7:
        np.testing.assert_allclose(b.positions, a.positions @ rotation.T, atol=SAME_SHAPE)
    np.testing.assert_allclose(b.positions[-1], a.positions[-1] @ rotation.T, atol=SAME_SHAPE)


def test_a_straight_wire_on_the_axis_meets_nothing_until_it_leaves_the_vessel():
    scene = make_scene(support=replace(SUPPORT, offset=(0.0, 0.0)))
    case = make_case(5e-8, 0.0, scene=scene, numerics=replace(NUMERICS, imperfection=0.0))
    record = advance(case)
    assert classify(record).label == Label.TRUE_LUMEN
    for force in (record.force_true, record.force_window, record.force_false, record.force_front):
        assert np.all(force == 0.0)
    assert np.max(np.abs(record.positions[:, :, :2])) < 1e-9
    assert record.tip_angle[-1] < pi * 1e-6
