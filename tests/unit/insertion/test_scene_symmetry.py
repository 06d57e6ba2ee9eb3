"""Whole scenes reflected, and turned about the vessel's axis, give the reflected and the turned insertion."""

from dataclasses import replace
from math import radians

import numpy as np
import pytest
from insertion_cases import mirrored

from experiments.scenes.draw import FOLDER
from tipmech.files.scene import read_case
from tipmech.insertion.case import Case, Move
from tipmech.insertion.classify import classify
from tipmech.insertion.record import Record
from tipmech.insertion.run import advance
from tipmech.vessel.scene import Centreline

ROLL = radians(20.0)  # beside the scene's own: nothing lies in a plane of symmetry
TURN = 0.7  # rad
TIGHT = 1e-7  # of EI/L2: with 1e-4 a snap leaves two states a tenth of a millimetre apart, both solved
# by what rounding, grown in snaps, moves nodes and pushes solved to TIGHT (the balloon's tear: 2e-10 m)
SAME_SHAPE, SAME_PUSH = 1e-6, 1e-3  # m; of the largest push
WINDOW = ("force_lip", "force_floor", "force_hole", "force_lip_along")
FEED = {"balloon_tear": 16e-3, "haematoma": 10e-3, "spiral_dissection": 20e-3, "tortuous": 14e-3}  # m, through the tear


def scene_case(name: str) -> Case:
    """A scene's case, its tip rolled off the plane of the tear, moved until it is through the tear."""
    case = read_case(FOLDER / f"{name}.toml").case
    shape = replace(case.tip_shape, roll=case.tip_shape.roll + ROLL)
    return replace(case, tip_shape=shape, moves=(Move("advance", FEED[name]),))


def turned(case: Case, turn: float) -> Case:
    """The case with everything turned about the vessel's axis at its start."""
    scene, line = case.scene, case.scene.centreline
    c, s = np.cos(turn), np.sin(turn)
    x, y = scene.support.offset
    support = replace(
        scene.support, offset=(c * x - s * y, s * x + c * y), tilt_azimuth=scene.support.tilt_azimuth + turn
    )
    scene = replace(
        scene,
        centreline=Centreline(line.lengths, line.curvatures, tuple(plane + turn for plane in line.planes)),
        tear=replace(scene.tear, azimuth=scene.tear.azimuth + turn),
        support=support,
    )
    return replace(case, scene=scene, tip_shape=replace(case.tip_shape, roll=case.tip_shape.roll + turn))


def same_outcome(a: Record, b: Record) -> None:
    first, second = classify(a), classify(b)
    for name in ("where", "shape", "label", "stop"):
        assert getattr(first, name) == getattr(second, name)
    assert len(a.feed) == len(b.feed)
    assert max(np.max(a.force_window), np.max(a.force_false)) > 0.0, "the wire must have met the tear"


@pytest.mark.parametrize("name", FEED)
def test_a_mirrored_scene_gives_the_mirrored_record_to_the_bit(name: str) -> None:
    case = scene_case(name)
    a, b = advance(case), advance(mirrored(case))
    same_outcome(a, b)
    np.testing.assert_array_equal(b.positions, a.positions * np.array([1.0, -1.0, 1.0]))
    for quantity in ("push", "tip_force", "force_true", "force_false", *WINDOW, "force_front", "opened_area"):
        np.testing.assert_array_equal(getattr(b, quantity), getattr(a, quantity))
    np.testing.assert_array_equal(b.torque, -a.torque)
    np.testing.assert_array_equal(b.margins[:, ::-1], a.margins)


@pytest.mark.parametrize("name", FEED)
def test_a_turned_scene_gives_the_turned_record(name: str) -> None:
    case = scene_case(name)
    # no imperfection: its direction comes from the seed
    case = replace(case, numerics=replace(case.numerics, imperfection=0.0, tolerance=TIGHT))
    a, b = advance(case), advance(turned(case, TURN))
    same_outcome(a, b)
    c, s = np.cos(TURN), np.sin(TURN)
    rotation = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    np.testing.assert_allclose(b.positions, a.positions @ rotation.T, atol=SAME_SHAPE)
    np.testing.assert_allclose(b.push, a.push, atol=SAME_PUSH * np.max(np.abs(a.push)))
