"""The natural curvature an insertion starts from."""

from dataclasses import replace
from math import pi, radians

import numpy as np
import pytest
from insertion_cases import NUMERICS, SUPPORT, make_case, make_scene

from tipmech.bench.tip_shape import Shape
from tipmech.files.scene import read_case
from tipmech.files.scene_checks import tip_height
from tipmech.files.wire import read_wire
from tipmech.insertion.case import Move, Numerics, SecondTipBend, TipShape
from tipmech.insertion.record_file import case_from_json, case_to_json
from tipmech.insertion.run import advance
from tipmech.insertion.shape import natural_curvature, section_turn, soft_axis
from tipmech.outcome import Stop
from tipmech.profile import Profile
from tipmech.rod.mesh import graded_lengths
from tipmech.wire.design import profile
from tipmech.wire.presets import preset_path
from tipmech.wire.tip import Bend, SecondBend

LENGTHS = graded_lengths(25e-3, 60)
SPAN = 0.5 * (LENGTHS[1:] + LENGTHS[:-1])
DISTANCE = np.cumsum(LENGTHS[::-1])[::-1][1:]  # of the joints from the tip


def curvature(shape: TipShape, lengths: np.ndarray = LENGTHS) -> np.ndarray:
    case = make_case(tip_shape=shape, numerics=Numerics(elements=len(lengths), length=25e-3, imperfection=0.0))
    return natural_curvature(case, lengths)[1:-1]


def test_one_bend_turns_up_to_the_middle_of_the_last_element():
    k = curvature(TipShape(0.7, 2.5e-3, 0.3))
    angle = 0.7 * (1.0 - 0.5 * LENGTHS[-1] / 2.5e-3)
    assert np.sum(k * SPAN[:, None], axis=0) == pytest.approx([-angle * np.sin(0.3), angle * np.cos(0.3), 0.0])
    assert np.all(k[DISTANCE > 2.8e-3] == 0.0)


def test_a_bent_tip_s_stand_off_converges_to_the_arc_s_with_the_square_of_the_element():
    angle, length = 1.2, 2.5e-3
    exact = length * (1.0 - np.cos(angle)) / angle  # of a circular arc that begins along the axis
    off = []
    for n in (50, 100, 200):
        lengths = np.full(n, 25e-3 / n)
        k = curvature(TipShape(angle, length), lengths)[:, 1]
        direction = np.concatenate([[0.0], np.cumsum(k * lengths[1:])])
        off.append(float(np.sum(lengths * np.sin(direction)) / exact - 1.0))
    assert abs(off[0]) < 4e-3
    assert off[0] / off[1] == pytest.approx(4.0, rel=0.05) and off[1] / off[2] == pytest.approx(4.0, rel=0.05)


def test_a_second_bend_adds_its_own_in_its_place_and_plane():
    second = SecondTipBend(0.4, 3e-3, 6e-3, pi / 2)
    both, first = curvature(TipShape(0.7, 2.5e-3, 0.3, second)), curvature(TipShape(0.7, 2.5e-3, 0.3))
    near = DISTANCE < 5.5e-3
    np.testing.assert_array_equal(both[near], first[near])
    turned = np.sum((both - first) * SPAN[:, None], axis=0)
    assert turned == pytest.approx([-0.4 * np.cos(0.3), -0.4 * np.sin(0.3), 0.0])
    assert np.all(both[DISTANCE > 9.5e-3] == 0.0)


def test_a_case_with_two_bends_survives_its_record():
    case = make_case(tip_shape=TipShape(0.7, 2.5e-3, 0.3, SecondTipBend(0.4, 3e-3, 6e-3)))
    assert case_from_json(case_to_json(case)).tip_shape == case.tip_shape


def test_height_of_two_bends():
    alone = TipShape(0.7, 2.5e-3)
    unbent = replace(alone, second=SecondTipBend(0.0, 1e-3, 5e-3))
    assert tip_height(unbent) == pytest.approx(tip_height(alone), rel=0.01)
    behind = TipShape(0.0, 2.5e-3, 0.0, SecondTipBend(0.5, 2e-3, 4e-3, 1.0))
    assert tip_height(behind) == pytest.approx(2e-3 * (1.0 - np.cos(0.5)) / 0.5 + 4e-3 * np.sin(0.5), rel=0.01)


def test_the_design_s_second_bend_reaches_the_case(tmp_path):
    bends = "[bend]\nangle_deg = 20\nlength_mm = 2\n[second_bend]\nangle_deg = 15\nlength_mm = 3\ndistance_mm = {}\n"
    text = preset_path("workhorse").read_text()
    for place in (5.0, 60.0):
        (tmp_path / "own.toml").write_text(
            text.replace("[[core]]", bends.format(place) + "roll_deg = 180\n[[core]]", 1)
        )
        (tmp_path / "case.toml").write_text(
            '[wire]\nfile = "own.toml"\n[tear]\nstart_mm = 20\n[[moves]]\nadvance_mm = 20\n'
        )
        if place < 50.0:
            second = read_case(tmp_path / "case.toml").case.tip_shape.second
            assert second is not None
            assert vars(second) == pytest.approx({"angle": radians(15.0), "length": 3e-3, "distance": 5e-3, "roll": pi})
        else:
            with pytest.raises(ValueError, match=r"numerics\.length_mm' is 50; allowed: at least 63"):
                read_case(tmp_path / "case.toml")


PLANAR = 1e-6  # m, between wires that bend in one plane, whatever their rigidity about the other axis
FLAT = 8.0  # EI2 over EI1


def flat(profile: Profile) -> Profile:
    return replace(profile, EI2=FLAT * profile.EI1)


def on_edge(profile: Profile) -> Profile:
    """The same section with its axes named the other way round."""
    return replace(profile, EI1=FLAT * profile.EI2)


def test_a_flat_wire_is_bent_about_its_soft_axis_as_on_the_bench():
    wire = read_wire(preset_path("very_soft"))
    first, second = Bend(0.7, 2.5e-3), SecondBend(0.4, 3e-3, 6e-3, 0.5)
    design = replace(wire, bend=first, second_bend=second)
    shape = TipShape(0.7, 2.5e-3, 0.3, SecondTipBend(0.4, 3e-3, 6e-3, 0.5))
    numerics = Numerics(elements=60, length=25e-3, imperfection=0.0)
    for roll in (0.0, 0.3, -2.0):
        case = make_case(profile=profile(design), tip_shape=replace(shape, roll=roll), numerics=numerics)
        k, bench = natural_curvature(case, LENGTHS)[1:-1], Shape.of(design).curvature(DISTANCE - 1e-9, DISTANCE + 1e-9)
        for near, far in ((0.5e-3, 2.0e-3), (6.5e-3, 8.5e-3), (9.8e-3, 20e-3)):
            inside = (near < DISTANCE) & (far > DISTANCE)
            np.testing.assert_allclose(k[inside, :2], bench[inside], rtol=1e-6, atol=1e-9)
            across = k[inside, 0] * bench[inside, 1] - k[inside, 1] * bench[inside, 0]
            np.testing.assert_allclose(across, 0.0, atol=1e-6)  # of up to 1e5 1/m2: the same direction
        assert soft_axis(case.profile, DISTANCE) == 0


@pytest.mark.parametrize("section", [flat, on_edge])
def test_roll_turns_bend_and_section_of_a_flat_wire_together(section):
    support = replace(SUPPORT, offset=(0.0, 0.0))
    case = make_case(bend=30.0, scene=make_scene(support=support), moves=(Move("advance", 3.5e-3),))
    case = replace(case, profile=section(case.profile), numerics=replace(NUMERICS, imperfection=0.0))
    ends = {}
    for roll in (0.0, 1.0, pi):
        record = advance(replace(case, tip_shape=replace(case.tip_shape, roll=roll)))
        assert record.stop == Stop.PROTOCOL_DONE
        ends[roll] = record.positions[-1]
        tip = ends[roll][-1]
        assert np.hypot(tip[0], tip[1]) > 0.5e-3
        assert np.arctan2(tip[1], tip[0]) == pytest.approx(roll, abs=1e-6)
    np.testing.assert_allclose(ends[pi], ends[0.0] * [-1.0, -1.0, 1.0], atol=1e-9)


def test_in_the_plane_of_its_bend_a_flat_wire_is_a_round_one_of_its_lower_rigidity():
    case = make_case(2e-7, 35.0, numerics=replace(NUMERICS, imperfection=0.0), moves=(Move("advance", 8e-3),))
    a, b = advance(case), advance(replace(case, profile=flat(case.profile)))
    assert a.stop == b.stop == Stop.PROTOCOL_DONE
    assert np.max(a.force_true) > 0.0
    np.testing.assert_allclose(b.positions, a.positions, atol=PLANAR)
    np.testing.assert_allclose(b.energy_elastic, a.energy_elastic, rtol=1e-3)


def test_the_imperfection_of_a_flat_wire_keeps_its_direction_in_the_vessel():
    case = make_case(tip_shape=TipShape(0.0, 2.5e-3, 0.4))
    thin = replace(case, profile=flat(case.profile))
    k, t = natural_curvature(thin, LENGTHS)[:, :2], section_turn(thin)
    turned = k @ np.array([[np.cos(t), np.sin(t)], [-np.sin(t), np.cos(t)]])
    np.testing.assert_allclose(turned, natural_curvature(case, LENGTHS)[:, :2], atol=1e-12)
    assert t == pytest.approx(0.4 + pi / 2)
    assert section_turn(case) == 0.0
