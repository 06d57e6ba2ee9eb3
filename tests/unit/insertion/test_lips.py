"""The force on the lips' edges, told apart from that on the window's floor and in holes."""

import numpy as np
import pytest
from insertion_cases import TEAR, make_case

from experiments.scenes.draw import FOLDER
from tipmech.files.scene import read_case
from tipmech.insertion.build import build
from tipmech.insertion.case import Move
from tipmech.insertion.lips import pressed
from tipmech.insertion.run import Insertion, advance
from tipmech.insertion.solve import S_LIP, assemble
from tipmech.vessel.walls import FALSE, HOLE, TRUE, WINDOW

CASE = make_case()
LUMEN, FLAP = CASE.scene.lumen.radius, CASE.scene.wall.flap_thickness
RADIUS = float(CASE.profile.radius[0])
DEEP = 1e-6  # m of penetration
FLOOR = LUMEN + FLAP - RADIUS + DEEP  # m from the axis
ROW = ("force_lip", "force_floor", "force_lip_along")
# a point's height, and its place along the vessel, m: what it presses on
PLACES = {
    "floor": (FLOOR, TEAR.start + 0.5 * TEAR.length),
    "downstream": (LUMEN - TEAR.gap + 0.5 * FLAP, TEAR.end - RADIUS + DEEP),
    "upstream": (LUMEN + 0.4 * FLAP, TEAR.start + RADIUS - DEEP),
    "both": (FLOOR, TEAR.start + RADIUS - DEEP),
}


def at(height: float, along: float, side: int = WINDOW, behind: int = TRUE) -> tuple[float, float, float, float]:
    """What the tip of a straight wire, alone in its channel, presses on (lips' edges, floor, edges along the vessel),
    and what its slots of outer walls and flap hold in sum, N; behind : channel of all behind it."""
    model, work, _ = build(CASE)
    node = np.concatenate([[0.0], np.cumsum(model.rod.length)])
    work.x[:] = np.array([height, 0.0, along]) + (node - node[-1])[:, None] * np.array([0.0, 0.0, 1.0])
    model.mem.side[:] = behind
    model.mem.side[-1] = side
    assemble(model, work, work.x, work.q, work.state[S_LIP], 0.0, 0)
    tip = len(model.mem.side) - 1
    found = pressed(model.pts, model.mem, model.walls, model.tube, work.x, tip)
    return (*found, float(model.mem.force[tip, 0] + model.mem.force[tip, 1]))


def test_on_the_floor_nothing_is_on_the_lips_and_on_a_lip_nothing_on_the_floor() -> None:
    lip, floor, along, whole = at(*PLACES["floor"])
    assert lip == along == 0.0 and floor == whole > 0.0
    lip, floor, along, whole = at(*PLACES["downstream"])
    assert floor == 0.0 and lip == whole > 0.0 and along == pytest.approx(lip), "it stands against the advance"
    lip, floor, along, whole = at(*PLACES["upstream"])
    assert floor == pytest.approx(0.0, abs=1e-12) and lip == pytest.approx(whole) and lip > 0.0
    assert along == pytest.approx(-lip), "it stands against being drawn back"


def test_on_lip_and_floor_at_once_each_has_what_it_has_alone() -> None:
    lip, floor, along, whole = at(*PLACES["both"])
    assert lip == pytest.approx(at(*PLACES["upstream"])[0], rel=1e-9)
    assert floor == pytest.approx(at(*PLACES["floor"])[1], rel=1e-9)
    assert along == pytest.approx(-lip) and whole == pytest.approx(np.hypot(lip, floor))


def test_in_the_false_channel_the_upstream_lip_is_not_there_and_its_rounding_is_under_a_point_in_the_lumen() -> None:
    assert at(*PLACES["upstream"], FALSE, FALSE)[:3] == (0.0, 0.0, 0.0)
    rounding = TEAR.start - 0.3 * TEAR.lip_radius
    lip, floor, along, whole = at(LUMEN - RADIUS + 0.15 * TEAR.lip_radius, rounding, TRUE)
    assert lip == floor == 0.0 and whole > 0.0, "such a point counts in the true lumen"
    assert -whole < along < 0.0, "the rounding leans down the vessel"


def test_the_parts_are_the_sum_over_all_that_lies_in_the_window() -> None:
    """Step by step through the mouth: lips and floor make up all that the points in the window press on; the most that
    both together can be over it is where they stand at right angles."""
    case = read_case(FOLDER / "balloon_tear.toml").case
    insertion, on_lips, on_floor = Insertion(case), 0, 0
    insertion.carry_out(Move("advance", 12.5e-3))
    for _ in range(24):
        insertion.carry_out(Move("advance", 0.25e-3))
        memory, record = insertion._model.mem, insertion.record()
        there = (memory.side == WINDOW) & (memory.place[:, 0] >= 0.0)
        whole = np.sum((np.where(memory.tube == 0, memory.force[:, 0], 0.0) + memory.force[:, 1])[there])
        lip, floor, _ = (float(getattr(record, name)[-1]) for name in ROW)
        assert whole - 1e-12 <= lip + floor <= np.sqrt(2.0) * whole + 1e-12
        if min(lip, floor) == 0.0:
            assert lip + floor == pytest.approx(whole, abs=1e-12)
            on_lips += lip > 0.0
            on_floor += floor > 0.0
    assert on_lips > 0 and on_floor > 0, "lips and floor must each have been touched alone"
    assert np.array_equal(record.force_window, record.force_lip + record.force_floor + record.force_hole)


def test_a_wire_in_a_hole_of_the_flap_presses_on_no_lip() -> None:
    record = advance(read_case(FOLDER.parent / "wall" / "reentry.toml").case)
    assert np.any(record.side[-1] == HOLE) and record.force_hole[-1] > 10e-3
    for name in ROW:
        assert np.all(getattr(record, name)[-20:] == 0.0), name


def test_before_the_tear_nothing_of_it_is_touched() -> None:
    record = advance(CASE)
    before = record.lead_s < TEAR.start - 0.5e-3
    assert before.any()
    for name in (*ROW, "force_window"):
        assert np.all(getattr(record, name)[before] == 0.0), name
