from dataclasses import replace
from math import pi

import numpy as np
import pytest
from study.made_up import EXTENDED, TRUE, coin, coin_with_failures, make_spec

from tipmech import CAUTION
from tipmech.show.curls import CURVES, INTERVAL, incidence_figure, with_curls
from tipmech.show.maps import centreline_words, contour_lines, contours, map_figure
from tipmech.show.style import new_figure
from tipmech.study.estimates import wider_interval
from tipmech.study.run_map import run_map
from tipmech.study.spec import BaseScene
from tipmech.vessel.scene import Centreline, Lumen

LOADS, ANGLES = (0.5e-2, 1e-2, 2e-2), (0.3, 0.6, 0.9)
SPEC = make_spec(loads=LOADS, angles=ANGLES, scrambles=2, points=1)
RISING = np.array([[0.0, 0.2, 0.4], [0.0, 0.2, 0.4], [0.0, 0.2, 0.4]])


def drawn(values, spec=SPEC):
    ax = new_figure(4.0, 4.0).subplots()
    ax.set_xscale("log")
    return contours(ax, spec, values), ax


def words(figure):
    return " ".join(" ".join(t.get_text() for ax in figure.axes for t in ax.texts).split())


def test_contours_are_where_the_probability_is_halfway_on_the_log_axis():
    levels, ax = drawn(RISING)
    assert levels == [0.1, 0.25]
    assert [t.get_text() for t in ax.texts] == ["0.1", "0.25"]
    first = ax.lines[0].get_xdata()
    gf = np.array(LOADS) / 9.80665e-3
    assert first == pytest.approx(np.sqrt(gf[0] * gf[1]), rel=1e-4)


def test_contours_skip_cells_that_were_not_run_and_need_two_by_two():
    holed = RISING.copy()
    holed[2, :] = np.nan
    levels, ax = drawn(holed)
    assert levels == [0.1, 0.25]
    top = np.degrees(ANGLES[1])
    assert max(line.get_ydata().max() for line in ax.lines) <= top + 1e-3
    holed[1, 1] = np.nan  # no four feasible cells meet any more
    assert drawn(holed)[0] == [] and not drawn(holed)[1].lines
    one = make_spec(loads=LOADS, angles=(0.3,), scrambles=2, points=1)
    assert drawn(RISING[:1], one)[0] == []
    assert drawn(np.full((3, 3), 0.25))[0] == []  # nothing lies on either side
    assert contour_lines(np.arange(3.0), np.arange(3.0), RISING, []) == []


def by_size(case):
    """Extends ever more with the wire's stiffness, by the case's own seed."""
    share = float(case.profile.EI1[0]) / 2.5e-6
    return EXTENDED if np.random.default_rng(case.seed).random() < share else replace(TRUE, opened_area=0.0)


@pytest.fixture(scope="module")
def result(tmp_path_factory):
    spec = replace(SPEC, scrambles=4, points=2)
    return run_map(spec, tmp_path_factory.mktemp("map") / "m", workers=1, evaluate=by_size)


def test_no_label_of_a_contour_covers_a_number(result):
    figure = map_figure(result)
    figure.canvas.draw()
    found = 0
    for ax in figure.axes:
        texts = [t for t in ax.texts if t.get_bbox_patch() is not None]
        labels = [t for t in texts if "\n" not in t.get_text() and t.get_zorder() == 5]
        found += len(labels)
        for label in labels:
            box = label.get_window_extent()
            assert not any(box.overlaps(t.get_window_extent()) for t in texts if t not in labels)
    assert found >= 2


def test_a_map_says_what_was_held_fixed(result, tmp_path):
    text = words(map_figure(result))
    for fact in (
        "straight 40 mm, bend of radius 25 mm through 60°, straight 20 mm",
        "lumen diameter 3 mm at the start, taper of the radius -0.005 mm/mm",
        "tear at 45 mm, azimuth 0°, half-width 1 mm",
        "lip 1 mm long, pocket 3 mm long",
        "support bore 0.45 mm; tip bend 2.5 mm long",
        "a run ends 10 mm past the tear (P(plane extended) depends on it)",
    ):
        assert fact in text
    two = Centreline.s_curve(40e-3, 25e-3, pi / 6, 20e-3)
    assert centreline_words(two).endswith("bend of radius 25 mm through 30° the other way, straight 20 mm")
    many = Centreline((1e-3,) * 20, (0.0, *(100.0,) * 18, 125.0), (0.0,) * 20)
    assert centreline_words(many) == "20 arcs over 20 mm, the tightest bend of radius 8 mm"
    scene = BaseScene(two, Lumen(1.5e-3), support_tilt=0.1)
    long = replace(result, spec=replace(result.spec, scene=scene))
    note = "numerical uncertainty: " + 40 * "as measured "
    for figure in (map_figure(result, note), map_figure(long, note)):
        facts, foot = (t.get_window_extent() for t in (figure.axes[5].texts[0], figure.texts[-1]))
        assert CAUTION[:20] in figure.texts[-1].get_text()
        assert facts.x1 < figure.bbox.x1 and facts.y0 > foot.y1
    assert "tilted 5.72958°" in words(figure) and "no taper" in words(figure)


def test_nothing_of_a_map_is_cut_at_its_edges(result):
    figure = map_figure(result)
    figure.canvas.draw()
    assert all(len(ax.get_yticklabels()) > 1 for ax in figure.axes[6:])
    for ax in figure.axes:
        box = ax.get_tightbbox()
        assert box.x0 >= 0.0 and box.x1 <= figure.bbox.x1 and box.y1 <= figure.bbox.y1


def test_an_area_of_zero_has_no_interval(tmp_path):
    result = run_map(SPEC, tmp_path / "m", workers=1, evaluate=lambda case: TRUE)
    assert {t.get_text() for t in map_figure(result).axes[4].texts} == {"0"}


def test_the_incidence_curves_end_at_the_probability_and_interval_of_the_map(tmp_path):
    spec = make_spec(loads=LOADS[:2], angles=ANGLES[:1], scrambles=8, points=4)
    result = with_curls(run_map(spec, tmp_path / "m", workers=1, evaluate=coin_with_failures))
    table, c = result.incidence, result.cells
    assert set(table["event"]) == {*CURVES, "curled"}
    end = table["advance"] == table["advance"].max()
    for k, (i, j) in enumerate(zip(c["tip_load_index"], c["angle_index"], strict=True)):
        for event in (*CURVES, "curled"):
            at = end & (table["tip_load_index"] == i) & (table["angle_index"] == j) & (table["event"] == event)
            both = (c[f"p_{event}_{e}"][k] for e in ("low", "high", "wilson_low", "wilson_high"))
            wanted = (c[f"p_{event}"][k], *wider_interval(*both))
            assert (table["p"][at][0], table["low"][at][0], table["high"][at][0]) == pytest.approx(wanted)
    assert np.all(table["low"] <= table["p"]) and np.all(table["p"] <= table["high"])
    figure = incidence_figure(result)
    assert INTERVAL in figure.texts[-1].get_text().replace("\n", " ")
    bar = figure.axes[0].lines[1].get_ydata()
    first = end & (table["event"] == "extended") & (table["tip_load_index"] == 0) & (table["angle_index"] == 0)
    assert bar == pytest.approx([table["low"][first][0], table["high"][first][0]])


def test_curves_of_one_scramble_with_solved_runs_keep_wilsons_interval(tmp_path):
    result = run_map(make_spec(loads=(1e-2,), angles=(0.5,), scrambles=2, points=2), tmp_path / "m", 1, evaluate=coin)
    rows = {**result.rows, "scramble": np.zeros(4, dtype=np.int64)}
    table = with_curls(replace(result, rows=rows)).incidence
    assert np.all(np.isfinite(table["low"])) and np.all(table["high"] > 0.0)
