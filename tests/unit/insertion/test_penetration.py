"""Stiff bodies stay stiff: the support's wall is penetrated by at most 5 % of the wire's radius."""

from dataclasses import replace

import numpy as np
import pytest
from insertion_cases import SUPPORT, in_pocket, make_case, make_scene

from experiments.robustness.run import support_penetration
from tipmech.insertion.case import Drive
from tipmech.insertion.run import advance

CASES = {
    "stiff wire, bent tip inside the support": make_case(5e-7, 60.0),
    "soft wire": make_case(1e-8, 60.0),
    "tilted support against the wall": make_case(
        2e-7, 30.0, scene=make_scene(support=replace(SUPPORT, tilt=0.5, offset=(0.3e-3, 0.0)))
    ),
    "pushed to the cap against the front": in_pocket(
        make_case(2e-7, 30.0, drive=Drive(force_cap=1.5)), front_force=1e3
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_the_support_is_hardly_penetrated(name):
    record = advance(CASES[name])
    assert len(record.feed) > 5
    assert support_penetration(record) <= 0.05


def test_the_measure_sees_a_wire_pushed_through_the_wall():
    record = advance(CASES["soft wire"])
    moved = record.positions + np.array([0.1e-3, 0.0, 0.0])
    assert support_penetration(replace(record, positions=moved)) > 0.05
