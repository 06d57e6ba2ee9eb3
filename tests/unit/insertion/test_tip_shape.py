"""The natural curvature an insertion starts from."""

from dataclasses import replace
from math import pi, radians

import numpy as np
import pytest
from insertion_cases import make_case

from tipmech.files.scene import read_case
from tipmech.files.scene_checks import tip_height
from tipmech.insertion.case import Numerics, SecondTipBend, TipShape
from tipmech.insertion.record_file import case_from_json, case_to_json
from tipmech.insertion.run import natural_curvature
from tipmech.rod.mesh import graded_lengths
from tipmech.wire.presets import preset_path

LENGTHS = graded_lengths(25e-3, 60)
SPAN = 0.5 * (LENGTHS[1:] + LENGTHS[:-1])
DISTANCE = np.cumsum(LENGTHS[::-1])[::-1][1:]  # of the joints from the tip


def curvature(shape: TipShape) -> np.ndarray:
    case = make_case(tip_shape=shape, numerics=Numerics(elements=60, length=25e-3, imperfection=0.0))
    return natural_curvature(case, LENGTHS)[1:-1]


def test_one_bend_turns_by_its_angle_within_its_length():
    k = curvature(TipShape(0.7, 2.5e-3, 0.3))
    turned = np.sum(k * SPAN[:, None], axis=0)
    assert turned == pytest.approx([-0.7 * np.sin(0.3), 0.7 * np.cos(0.3), 0.0])
    assert np.all(k[DISTANCE > 2.8e-3] == 0.0)


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
        (tmp_path / "case.toml").write_text('[wire]\nfile = "own.toml"\n[tear]\nstart_mm = 20\n')
        if place < 50.0:
            second = read_case(tmp_path / "case.toml").case.tip_shape.second
            assert second is not None
            assert vars(second) == pytest.approx({"angle": radians(15.0), "length": 3e-3, "distance": 5e-3, "roll": pi})
        else:
            with pytest.raises(ValueError, match=r"numerics\.length_mm' is 50; allowed: at least 63"):
                read_case(tmp_path / "case.toml")
