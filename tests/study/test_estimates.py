from math import inf, nan

import numpy as np
import pytest
from statsmodels.duration import survfunc as survival
from study.made_up import P_ENTER, P_EXTEND, P_REACH, coin, make_spec

from tipmech.study import events
from tipmech.study.estimates import (
    cumulative_incidence,
    median_of_intervals,
    proportion,
    scramble_mean,
    wilson_band,
    wilson_interval,
)
from tipmech.study.execute import Task
from tipmech.study.run_map import MapWork
from tipmech.study.table import concat, from_rows, select, to_rows

SCRAMBLE = np.repeat(np.arange(16), 2)
ALL = np.ones(32, dtype=bool)


@pytest.mark.parametrize("p", [0.15, 0.3, 0.6])
def test_intervals_cover_a_known_probability(p):
    rng = np.random.default_rng(7)
    inside_t = inside_wilson = 0
    for _ in range(1500):
        result = proportion(rng.random(32) < p, ALL, SCRAMBLE)
        inside_t += result.low <= p <= result.high
        inside_wilson += result.wilson_low <= p <= result.wilson_high
    assert 0.91 <= inside_t / 1500 <= 0.975
    assert 0.92 <= inside_wilson / 1500 <= 0.985


def test_a_made_up_simulator_is_recovered_through_cases_and_rows():
    covered = {"reached": 0, "entered": 0, "extended": 0, "entered_curled": 0}
    truth = {
        "reached": P_REACH,
        "entered": P_REACH * P_ENTER,
        "extended": P_REACH * P_ENTER * P_EXTEND,
        "entered_curled": P_REACH * P_ENTER * (1 - P_EXTEND),
    }
    for seed in range(20):
        spec = make_spec(seed=seed)
        rows = MapWork(spec, coin)(Task(0, 0, 0, 32))
        for name in covered:
            p = proportion(events.flags(rows)[name], events.solved(rows), rows["scramble"])
            covered[name] += p.wilson_low <= truth[name] <= p.wilson_high
    # 20 trials at 95 %: 16 or fewer have a probability of 0.3 % each
    assert min(covered.values()) >= 17, covered


def test_unsolved_insertions_are_bounds_not_dropped():
    event = np.array([1, 1, 0, 0, 0, 1, 0, 0], dtype=bool)
    solved = np.array([1, 1, 1, 1, 1, 0, 0, 1], dtype=bool)
    p = proportion(event, solved, np.arange(8) // 2)
    assert (p.count, p.n, p.unsolved, p.p) == (2, 6, 2, 2 / 6)
    assert (p.bound_low, p.bound_high) == (2 / 8, 4 / 8)
    nothing = proportion(event, np.zeros(8, dtype=bool), np.arange(8) // 2)
    assert np.isnan(nothing.p) and (nothing.bound_low, nothing.bound_high) == (0.0, 1.0)


def test_scramble_interval_against_the_plain_formula_and_by_hand():
    value = np.array([0.0, 1.0, 1.0, 1.0, 0.0, 0.0])
    m = scramble_mean(value, np.ones(6, dtype=bool), np.array([0, 0, 1, 1, 2, 2]))
    # means 0.5, 1, 0; sd 0.5; t(0.975, 2) = 4.3027
    assert m.mean == 0.5 and m.high - m.mean == pytest.approx(4.30265 * 0.5 / np.sqrt(3), rel=1e-5)
    one = scramble_mean(value, np.array([1, 1, 0, 0, 0, 0], dtype=bool), np.array([0, 0, 1, 1, 2, 2]))
    assert one.mean == 0.5 and np.isnan(one.low)


def test_wilson_at_nothing_seen_is_not_empty():
    # z^2 / (n + z^2) = 3.8415 / 35.8415
    assert wilson_interval(0, 32) == pytest.approx((0.0, 0.10718), abs=1e-5)
    low, high = wilson_band(np.array([0.0, 10 / 32]), 32)
    assert (low[1], high[1]) == pytest.approx(wilson_interval(10, 32)) and high[0] == pytest.approx(0.10718, abs=1e-5)


def test_cumulative_incidence_by_hand():
    # at risk 6, 5, 4, 2: event at 1; competing at 2; censored at 3, 3 (event at 3 first); event at 5
    time = np.array([1.0, 2.0, 3.0, 3.0, 5.0, 6.0])
    cause = np.array([1, 2, 1, 0, 1, 0])
    # S: 1, 5/6, 4/6, 4/6*3/4 = 1/2 ; F1: 1/6, 1/6, 1/6 + 4/6/4 = 1/3, 1/3 + 1/2 * 1/2 = 7/12
    got = cumulative_incidence(time, cause, np.array([0.5, 1.0, 2.5, 3.0, 4.9, 5.0, 9.0]))
    assert got == pytest.approx([0, 1 / 6, 1 / 6, 1 / 3, 1 / 3, 7 / 12, 7 / 12])


def test_cumulative_incidence_against_statsmodels():
    rng = np.random.default_rng(3)
    time, cause = rng.exponential(5.0, 200).round(1) + 0.1, rng.integers(0, 3, 200)
    reference = survival.CumIncidenceRight(time, cause)
    got = cumulative_incidence(time, cause.astype(np.int64), np.asarray(reference.times))
    assert got == pytest.approx(np.asarray(reference.cinc[0]), abs=1e-12)


def test_without_censoring_the_curve_ends_at_the_joint_probability():
    spec = make_spec(seed=5, scrambles=16, points=8)
    rows = concat([MapWork(spec, coin)(Task(0, 0, k, k + 32)) for k in (0, 32, 64, 96)])
    for event in ("extended", "curled"):
        end = cumulative_incidence(*events.competing(rows, event), np.array([10e-3]))[0]
        assert end == pytest.approx(np.mean(~np.isnan(rows[event])), abs=1e-12)
    early = cumulative_incidence(*events.competing(rows, "curled"), np.array([2.9e-3, 3.1e-3]))
    assert early[0] == 0.0 < early[1]  # every made-up curl happens at 3 mm


def test_a_curl_after_an_extension_counts_and_a_pierced_wall_competes():
    rows = {
        "reached": np.array([1.0, 1.0, nan, 1.0]),
        "curled": np.array([5.0, nan, nan, nan]),
        "extended": np.array([2.0, nan, nan, nan]),
        "feed_past_tear": np.array([5.0, 4.0, nan, 10.0]),
        "stop": np.array([1, 3, 0, 2]),
    }
    time, cause = events.competing(rows, "curled")
    assert list(time) == [5.0, 4.0, 0.0, 10.0] and list(cause) == [1, 3, 4, 0]
    time, cause = events.competing(rows, "extended")
    assert list(time) == [2.0, 4.0, 0.0, 10.0] and list(cause) == [1, 3, 4, 0]


def test_a_curl_that_does_not_end_the_run_does_not_compete_with_extension():
    rows = {
        "reached": np.array([1.0, 1.0, 1.0]),
        "curled": np.array([3.0, 3.0, 3.0]),
        "extended": np.array([5.0, nan, nan]),
        "feed_past_tear": np.array([8.0, 8.0, 3.3]),
        "stop": np.array([9, 9, 1]),  # twice past the curl, once at it
    }
    time, cause = events.competing(rows, "extended")
    assert list(time) == [5.0, 8.0, 3.0] and list(cause) == [1, 0, 2]
    time, cause = events.competing(rows, "curled")
    assert list(time) == [3.0, 3.0, 3.0] and list(cause) == [1, 1, 1]


def test_median_keeps_censored_cases_in_their_place():
    low = np.array([1.0, 2.0, 3.0, 4.0, 9.0])
    high = np.array([1.1, 2.1, 3.1, 4.1, inf])
    m = median_of_intervals(low, high)
    assert m.p50 == pytest.approx(np.sqrt(3.0 * 3.1)) and (m.bracket_low, m.bracket_high) == (3.0, 3.1)
    assert (m.low, m.high) == (0.0, inf)  # five cases allow no 95 % interval
    never = median_of_intervals(np.full(5, 8.0), np.full(5, inf))
    assert np.isnan(never.p50) and (never.bracket_low, never.bracket_high) == (8.0, inf)
    always = median_of_intervals(np.zeros(6), np.full(6, 0.3))
    assert np.isnan(always.p50) and (always.bracket_low, always.bracket_high, always.low) == (0.0, 0.3, 0.0)


def test_median_interval_covers():
    rng = np.random.default_rng(11)
    inside = 0
    for _ in range(2000):
        x = rng.lognormal(0.0, 0.8, 16)
        m = median_of_intervals(x * 0.999, x * 1.001)
        inside += m.low <= 1.0 <= m.high
    # n = 16, k = 4: exact coverage 1 - 2 P(B <= 3) = 0.979
    assert inside / 2000 == pytest.approx(0.979, abs=0.012)


def test_rows_of_a_table_are_those_it_was_made_of():
    rows = [{"a": 1, "b": 0.5, "c": "x"}, {"a": 2, "b": -1.5, "c": "ü"}]
    assert to_rows(from_rows(rows)) == rows
    assert to_rows({}) == [] == to_rows(select(from_rows(rows), np.zeros(2, dtype=bool)))
