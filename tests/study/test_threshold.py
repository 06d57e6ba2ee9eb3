from dataclasses import replace
from math import inf, nan

import numpy as np
import pytest
from study.made_up import (
    CURLED,
    EXTENDED,
    TRUE,
    UNSOLVED,
    band,
    by_force,
    make_spec,
    true_threshold,
)

from tipmech.checks import FieldError
from tipmech.study.build import build_pocket_case
from tipmech.study.inputs import sobol_points
from tipmech.study.run_threshold import ThresholdSpec, run_threshold
from tipmech.study.table import read_parquet
from tipmech.study.threshold import Event, Status, event_of, ladder_about, threshold_of

SPEC = make_spec(scrambles=2, points=4)
POINT = sobol_points(SPEC)[0]
LADDER = ladder_about(1.0)


def case_for(force):
    return build_pocket_case(SPEC, 0, 0, POINT, front_force=force)


def test_ladder_is_geometric():
    assert len(LADDER) == 8 and (LADDER[0], LADDER[-1]) == pytest.approx((0.3, 8.0))
    assert np.diff(np.log(LADDER)) == pytest.approx(np.log(8 / 0.3) / 7)


def test_a_single_crossing_is_bracketed():
    r = threshold_of(case_for, LADDER, 0.02, band(1.37, inf, CURLED, EXTENDED))
    assert r.status == Status.ONE_CROSSING and r.low <= 1.37 < r.high <= r.low * 1.02
    assert r.force == pytest.approx(1.37, rel=0.01) and r.runs == 8 + 5


def test_always_and_never_are_censored():
    always = threshold_of(case_for, LADDER, 0.02, lambda case: CURLED)
    never = threshold_of(case_for, LADDER, 0.02, lambda case: EXTENDED)
    assert (always.status, always.low, always.high) == (Status.ALWAYS_CURLED, 0.0, LADDER[0])
    assert (never.status, never.low, never.high) == (Status.NEVER_CURLED, LADDER[-1], inf)
    assert np.isnan(always.force) and np.isnan(never.force) and always.runs == 8


def test_more_than_one_crossing_is_flagged():
    r = threshold_of(case_for, LADDER, 0.02, band(0.7, 3.0, CURLED, EXTENDED))
    assert r.status == Status.NON_MONOTONE and r.low <= 0.7 <= r.high
    down = threshold_of(case_for, LADDER, 0.02, band(0.1, 3.0, CURLED, EXTENDED))
    assert down.status == Status.NON_MONOTONE and (down.low, down.high) == (0.0, inf)


def in_order(*events):
    """Outcomes by the place of the front force on a ladder."""
    edges = np.sqrt(LADDER[1:] * LADDER[:-1])
    return lambda case: events[int(np.searchsorted(edges, case.scene.channel.front_force))]


def test_neither_is_not_driving_on():
    neither = replace(TRUE, curled=nan)
    drove, curled = EXTENDED, CURLED
    nothing = threshold_of(case_for, LADDER, 0.02, lambda case: neither)
    assert (nothing.status, nothing.low, nothing.high) == (Status.NEITHER, 0.0, inf)
    above = threshold_of(case_for, LADDER, 0.02, in_order(drove, drove, curled, *[neither] * 5))
    assert above.status == Status.ONE_CROSSING and above.force == pytest.approx(
        np.sqrt(LADDER[1] * LADDER[2]), rel=0.02
    )
    never = threshold_of(case_for, LADDER, 0.02, in_order(*[drove] * 6, neither, neither))
    assert (never.status, never.low, never.high) == (Status.NEVER_CURLED, LADDER[5], inf)
    below = threshold_of(case_for, LADDER, 0.02, in_order(neither, neither, *[curled] * 6))
    assert (below.status, below.low, below.high) == (Status.ALWAYS_CURLED, 0.0, LADDER[2])
    between = threshold_of(case_for, LADDER, 0.02, in_order(drove, drove, neither, neither, *[curled] * 4))
    assert between.status == Status.ONE_CROSSING
    assert between.low == pytest.approx(np.sqrt(LADDER[1] * LADDER[2]), rel=0.02)  # both ends are sharp, between is not
    assert between.high == pytest.approx(np.sqrt(LADDER[3] * LADDER[4]), rel=0.02)


def test_unsolved_rungs_are_left_out_and_counted():
    r = threshold_of(case_for, LADDER, 0.02, band(1.0, 2.0, UNSOLVED, EXTENDED))
    assert r.status == Status.NEVER_CURLED and r.unsolved == 2 and Event.NOT_SOLVED in r.events

    def gap(case):
        f = case.scene.channel.front_force
        return UNSOLVED if 1.0 < f < 2.0 else (CURLED if f > 1.5 else EXTENDED)

    r = threshold_of(case_for, LADDER, 0.02, gap)
    assert r.status == Status.ONE_CROSSING and r.low <= 1.0 and r.high >= 2.0 and r.unsolved == 3
    nothing = threshold_of(case_for, LADDER, 0.02, lambda case: UNSOLVED)
    assert (nothing.status, nothing.low, nothing.high) == (Status.NOT_SOLVED, 0.0, inf)


def test_which_came_first():
    assert event_of(CURLED) == Event.CURLED and event_of(EXTENDED) == Event.DROVE_ON
    assert event_of(replace(CURLED, extended=2e-3)) == Event.DROVE_ON  # the front moved first
    assert event_of(replace(CURLED, extended=3e-3)) == Event.CURLED
    assert event_of(replace(TRUE, curled=nan)) == Event.NEITHER and event_of(UNSOLVED) == Event.NOT_SOLVED


def test_bad_ladders_are_refused():
    for ladder in ([1.0], [2.0, 1.0], [0.0, 1.0]):
        with pytest.raises(FieldError, match="ladder"):
            threshold_of(case_for, ladder, 0.02, by_force)
    with pytest.raises(FieldError, match="ladder_count"):
        ThresholdSpec(SPEC, ladder_count=7)


def test_a_study_recovers_known_thresholds(tmp_path):
    spec = ThresholdSpec(make_spec(loads=(0.5e-2, 2e-2), angles=(0.3,), scrambles=8, points=2))
    result = run_threshold(spec, tmp_path / "t", workers=1, evaluate=by_force)
    points = sobol_points(spec.study)
    for k in range(len(result.rows["index"])):
        i, index = result.rows["tip_load_index"][k], result.rows["index"][k]
        truth = true_threshold(build_pocket_case(spec.study, i, 0, points[index]))
        assert result.rows["force_low"][k] <= truth <= result.rows["force_high"][k]
    cells = result.cells
    assert list(cells["n_one_crossing"]) == [16, 16] and np.all(cells["ratio"] > 1.0) and np.all(cells["ratio"] < 3.4)
    # forces and scale go with EI alike: the ratio is the same for both wires, the force four times as large
    assert cells["ratio"][0] == pytest.approx(cells["ratio"][1], rel=1e-9)
    assert cells["p50"][1] / cells["p50"][0] == pytest.approx(4.0, rel=1e-9)
    assert np.all(cells["p50_low"] < cells["p50"]) and np.all(cells["p50"] < cells["p50_high"])
    stored = read_parquet(tmp_path / "t" / "cells.parquet")
    assert np.array_equal(stored["p50"], cells["p50"])
