"""The page's drawings against the records and the library that they show."""

import re

import numpy as np
import pytest
from matplotlib import colormaps
from matplotlib.colors import to_hex

from tipmech.page.bench import Bench
from tipmech.page.chart import chart, range_of, ticks
from tipmech.page.contest import limits
from tipmech.page.controls import Setting, Wire
from tipmech.page.frame import Shown, frame_data, limits_of
from tipmech.page.lane import HISTORY
from tipmech.page.lesson import STEPS
from tipmech.page.looks import BINS, RIM, STRAIN, STRAIN_COLOURS, chart_shapes, screen_shapes, section_shapes
from tipmech.page.rest import at_rest
from tipmech.page.row import row_data, row_record
from tipmech.page.screen import Screen
from tipmech.page.section import frame_of, moving, shades, still
from tipmech.show import style
from tipmech.show.view import wires
from tipmech.vessel.walls import FALSE, TRUE


@pytest.fixture(scope="module")
def pushed() -> Bench:
    bench = Bench(Setting(wires=(Wire("workhorse", 4.0),)))
    for _ in range(112):
        bench.step("advance")
    return bench


def points(path: str) -> np.ndarray:
    return np.array([[float(v) for v in pair.split()] for pair in re.findall(r"[ML]([-0-9.e]+ [-0-9.e]+)", path)])


def test_colours_are_those_of_the_map() -> None:
    middles = [to_hex(colormaps[style.WIRE_CMAP]((k + 0.5) / BINS)) for k in range(BINS)]
    assert tuple(middles) == STRAIN_COLOURS
    assert shades(np.array([0.0, STRAIN, 2.0 * STRAIN])).tolist() == [0, BINS - 1, BINS - 1]


def test_the_wire_is_drawn_where_the_record_has_it(pushed: Bench) -> None:
    lane = pushed.lanes[0]
    frame = frame_of(lane.last)
    paint = moving(lane.last, frame)
    wire = wires(lane.last, [len(lane.last.feed) - 1])[0]
    drawn = np.vstack([points(paint[f"side_{part}_rim"]["d"]) for part in ("true", "false")])
    assert drawn[-1] == pytest.approx([wire.s[-1] * 1e3, wire.depth[-1] * 1e3], abs=1e-3)
    plan = np.vstack([points(paint[f"plan_{part}_rim"]["d"]) for part in ("true", "false")])
    assert plan[-1] == pytest.approx([wire.s[-1] * 1e3, frame.plan - wire.around[-1] * 1e3], abs=1e-3)
    assert wire.side[-1] == FALSE
    assert wire.side[0] == TRUE
    assert points(paint["front"]["d"])[0, 0] == pytest.approx(lane.last.front[-1] * 1e3, abs=1e-3)
    assert lane.last.front[-1] > lane.case.scene.tear.end + lane.case.scene.channel.length


@pytest.mark.parametrize(("angle", "broken"), [(5.0, False), (30.0, True), (52.0, True)])
def test_the_wire_ends_at_a_break_mark_where_the_support_meets_the_wall(angle: float, broken: bool) -> None:
    bench = Bench(Setting(angle_deg=angle))
    for _ in range(30):
        bench.step("advance")
    lane = bench.lanes[0]
    frame = frame_of(lane.last)
    case, mark = lane.case, still(lane.case, frame)["break"]["d"]
    drawn = np.vstack(
        [points(paint["d"]) for name, paint in moving(lane.last, frame).items() if "side_true" in name and paint["d"]]
    )
    wall = -float(case.scene.lumen.at(np.array(case.scene.tear.start)))
    assert bool(mark) == broken and drawn[:, 1].min() > 1e3 * wall
    wire = wires(lane.last, [0])[0]
    assert (wire.depth[wire.s * 1e3 > frame.left - 1.0] < wall).any() == broken, "behind the mark it goes on"
    if broken:
        ends = points(mark)[[0, -1]]
        along = (ends[1] - ends[0]) / np.hypot(*(ends[1] - ends[0]))
        off = abs((drawn - ends[0]) @ np.array([-along[1], along[0]]))
        assert off.min() == pytest.approx(1e3 * case.profile.radius[0] + 0.5 * RIM, abs=0.01), "its round end meets it"


def test_every_name_that_is_painted_has_a_shape(pushed: Bench) -> None:
    lane = pushed.lanes[0]
    frame = frame_of(lane.last)
    known = {shape.name for shape in section_shapes(0.356)}
    assert set(moving(lane.last, frame)) | set(still(lane.case, frame)) <= known
    now = limits(lane.case)
    assert set(chart(lane, now, range_of([lane], [now]))) <= {shape.name for shape in chart_shapes()}
    assert set(Screen(-30.0).paint(lane.last)) <= {shape.name for shape in screen_shapes(0.356)}


def test_the_view_grows_with_the_front(pushed: Bench) -> None:
    first = frame_of(at_rest(pushed.lanes[0].case))
    for _ in range(60):
        pushed.step("advance")
    last = frame_of(pushed.lanes[0].last)
    assert last.right >= pushed.lanes[0].last.front[-1] * 1e3 + 1.0 - 1e-9
    assert last.right >= first.right
    assert last.left == first.left


def test_the_charts_lines_end_where_the_history_does(pushed: Bench) -> None:
    history, now = pushed.lanes[0].columns(), limits(pushed.lanes[0].case)
    paint = chart(pushed.lanes[0], now, range_of(pushed.lanes, [now]))
    push, front = (points(paint[name]["d"])[-1] for name in ("push", "front"))
    assert push[0] == front[0]
    zero, five = paint["y0"]["y"], paint["y1"]["y"]
    per_mn = (zero - five) / (float(paint["y1"]["text"]) - float(paint["y0"]["text"]))
    forces = history[-1, [HISTORY.index("push"), HISTORY.index("front")]] * 1e3
    assert push[1] - front[1] == pytest.approx((forces[1] - forces[0]) * per_mn, abs=0.3)
    assert f"{now.front * 1e3:.3g} mN" in paint["front_limit_words"]["text"]


@pytest.mark.parametrize(("low", "high"), [(0.0, 5.25), (0.0, 101.0), (-3.2, 44.0), (0.0, 0.4)])
def test_ticks_are_round_and_few(low: float, high: float) -> None:
    found = ticks(low, high)
    assert 2 <= len(found) <= 6
    assert all(low - 1e-9 <= v <= high + 1e-9 for v in found)
    assert np.allclose(np.diff(found), found[1] - found[0])


def test_a_row_survives_its_way_to_the_drawing_in_space(pushed: Bench) -> None:
    lane = pushed.lanes[0]
    back = row_record(at_rest(lane.case), row_data(lane.last))
    assert np.allclose(back.positions[-1], lane.last.positions[-1], atol=1e-9)
    assert np.array_equal(back.side[-1], lane.last.side[-1])
    assert back.front[-1] == lane.last.front[-1]
    assert np.allclose(back.margins[-1], lane.last.margins[-1], atol=1e-9)
    start = at_rest(lane.case)
    assert np.array_equal(row_record(start, row_data(start)).side, start.side)


@pytest.mark.parametrize("step", STEPS, ids=lambda s: s.title)
def test_every_step_of_the_lesson_can_be_set_up_and_pushed(step: object) -> None:
    bench = Bench(step.setting)  # type: ignore[attr-defined]
    assert bench.step("advance")
    data = frame_data(bench, limits_of(bench), Screen(0.0), [Shown() for _ in bench.lanes])
    assert len(data["lanes"]) == len(step.setting.wires)  # type: ignore[attr-defined]
