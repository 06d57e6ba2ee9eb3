"""Intervals from scrambles: against scipy and statsmodels where points are independent, and their measured coverage."""

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from experiments.coverage.run import coverage, paired
from tipmech.study.intervals import clopper_pearson, mean_difference, probability, ratio, wilson


def test_wilson_and_clopper_pearson_are_those_of_statsmodels():
    for count, n in ((0, 17), (3, 40), (20, 32), (32, 32)):
        z = float(stats.norm.ppf(0.975))
        np.testing.assert_allclose(wilson(count / n, n, z), proportion_confint(count, n, method="wilson"), atol=1e-12)
        np.testing.assert_allclose(clopper_pearson(count, n), proportion_confint(count, n, method="beta"), atol=1e-9)


def test_independent_insertions_are_worth_what_they_are():
    """One point a scramble: the effective number is the number, but for the prior's share, whatever the count."""
    rng = np.random.default_rng(1)
    event = rng.random(400) < 0.3
    found = probability(event, np.ones(400, bool), np.arange(400))
    assert found.effective == pytest.approx(400, rel=0.01)
    assert (found.low, found.high) == pytest.approx(proportion_confint(event.sum(), 400, method="wilson"), abs=2e-3)


def test_points_that_tell_the_same_are_worth_one():
    event = np.repeat(np.random.default_rng(2).random(32) < 0.4, 8)  # eight copies in each scramble
    found = probability(event, np.ones(256, bool), np.repeat(np.arange(32), 8))
    assert found.effective == pytest.approx(32, rel=0.1)


def test_all_or_none_is_an_interval_of_the_independent_points():
    none = np.zeros(64, bool)
    found = probability(none, ~none, np.repeat(np.arange(16), 4), independent=16)
    assert (found.low, found.high) == pytest.approx(proportion_confint(0, 16, method="wilson"), abs=1e-12)
    assert probability(none, none, np.arange(64)).n == 0


def test_a_paired_difference_is_student_s_t_of_the_scrambles():
    rng = np.random.default_rng(3)
    difference, scramble = rng.choice([-1.0, 0.0, 1.0], 96, p=[0.3, 0.6, 0.1]), np.repeat(np.arange(12), 8)
    means = difference.reshape(12, 8).mean(axis=1)
    test = stats.ttest_1samp(means, 0.0)
    found = mean_difference(difference, np.ones(96, bool), scramble)
    assert (found.value, found.p) == pytest.approx((means.mean(), test.pvalue))
    assert (found.low, found.high) == pytest.approx(tuple(test.confidence_interval(0.95)))


def test_where_no_point_differs_the_interval_is_that_of_independent_points():
    found = mean_difference(np.zeros(64), np.ones(64, bool), np.arange(64) // 4, event=True)
    assert (found.value, found.p) == (0.0, 1.0)
    half = stats.t.ppf(0.975, 15) * np.sqrt(1.0 / 66.0 / 64.0)  # Agresti and Min's variance with no discordant pair
    assert (found.low, found.high) == pytest.approx((-half, half))


def test_a_ratio_s_interval_is_near_the_delta_method_s():
    rng = np.random.default_rng(4)
    base = rng.random(3200)
    top, bottom = (base < 0.3).astype(float), (base < 0.5).astype(float)
    found = ratio(top, bottom, np.ones(3200, bool), np.arange(3200) // 8)
    a, b, both = top.mean(), bottom.mean(), (top * bottom).mean()
    variance = ((1 - a) / a + (1 - b) / b - 2 * (both - a * b) / (a * b)) / 3200
    assert found.value == pytest.approx(a / b)
    assert np.log(found.high / found.low) == pytest.approx(2 * 1.966 * np.sqrt(variance), rel=0.08)


def test_no_ratio_of_nothing():
    zero = np.zeros(32)
    assert np.isnan(ratio(zero, zero, np.ones(32, bool), np.arange(32)).value)


@pytest.mark.parametrize("each", [2, 4])
def test_95_percent_intervals_cover_over_500_studies_and_are_not_wide(each):
    share, width = coverage(510, each, 10)
    assert share >= 0.93
    assert width <= 1.2


@pytest.mark.parametrize("each", [2, 4])
def test_paired_intervals_cover(each):
    share, width = paired(500, each, 10)
    assert share >= 0.93
    assert width <= 1.2
