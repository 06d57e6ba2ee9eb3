"""Measures of a diagnostic test against scikit-learn, statsmodels and closed formulae, and what is no number."""

import re

import numpy as np
import pytest
from scipy import stats
from sklearn.metrics import confusion_matrix, roc_auc_score, roc_curve
from statsmodels.stats.contingency_tables import Table2x2

from tipmech.study.diagnostic import (
    FN,
    FP,
    MEASURES,
    RATIOS,
    TN,
    TP,
    Measure,
    area,
    area_measure,
    bounds,
    curve,
    fourfold,
    predictive_negative,
    predictive_positive,
    ratio_measure,
)

N = 2000
Z = float(stats.norm.ppf(0.975))


@pytest.fixture(scope="module")
def drawn():
    """Independent observations, one a scramble: condition, score (with ties), scramble."""
    rng = np.random.default_rng(1)
    condition = rng.random(N) < 0.35
    score = np.round(rng.normal(np.where(condition, 1.2, 0.4), 0.6), 1)
    return condition, score, np.arange(N)


def test_area_and_curve_are_those_of_scikit_learn(drawn):
    condition, score, _ = drawn
    assert area(score, condition) == pytest.approx(roc_auc_score(condition, score), abs=1e-12)
    at, alarms, hits = curve(score, condition)
    x, y, levels = roc_curve(condition, score, drop_intermediate=False)
    theirs = {round(float(v), 6): (a, h) for v, a, h in zip(levels, x, y, strict=True)}
    for v, a, h in zip(at, alarms, hits, strict=True):
        assert (a, h) == pytest.approx(theirs[round(float(v), 6)], abs=1e-12)
    assert np.trapezoid(hits, alarms) == pytest.approx(roc_auc_score(condition, score), abs=1e-12)
    assert at[0] == np.inf and (alarms[0], hits[0], alarms[-1], hits[-1]) == (0.0, 0.0, 1.0, 1.0)
    for threshold, a, h in zip(at, alarms, hits, strict=True):
        positive = score >= threshold
        assert h == pytest.approx(np.mean(positive[condition])) and a == pytest.approx(np.mean(positive[~condition]))


def test_corners_only_leave_the_curve_as_it_is():
    condition = np.array([1, 1, 0, 0, 1, 0], dtype=bool)
    at, alarms, hits = curve(np.array([5.0, 4.0, 3.0, 2.0, 1.0, 1.0]), condition)
    assert list(at) == [np.inf, 4.0, 2.0, 1.0]
    np.testing.assert_allclose((alarms, hits), ([0, 0, 2 / 3, 1], [0, 2 / 3, 2 / 3, 1]))


def test_ratios_are_those_of_statsmodels_and_the_log_method(drawn):
    condition, score, scramble = drawn
    positive = score >= 1.0
    counts = fourfold(positive, condition, np.ones(N, bool), scramble)
    whole = counts.sum(axis=0)
    table = confusion_matrix(condition, positive)
    assert list(whole) == [table[1, 1], table[1, 0], table[0, 1], table[0, 0]]
    reference = {
        "likelihood_positive": (Table2x2([[whole[TP], whole[FN]], [whole[FP], whole[TN]]]), "riskratio"),
        "likelihood_negative": (Table2x2([[whole[FN], whole[TP]], [whole[TN], whole[FP]]]), "riskratio"),
        "odds_ratio": (Table2x2([[whole[TP], whole[FN]], [whole[FP], whole[TN]]]), "oddsratio"),
    }
    for name, (made, what) in reference.items():
        found = ratio_measure(name, counts)
        low, high = getattr(made, f"{what}_confint")()
        assert found.value == pytest.approx(getattr(made, what))
        assert (found.low, found.high) == pytest.approx((low, high), rel=0.01)
    tp, fn, fp, tn = whole
    error = np.sqrt(1 / tp - 1 / (tp + fn) + 1 / fp - 1 / (fp + tn))  # Simel 1991
    found = ratio_measure("likelihood_positive", counts)
    assert np.log(found.high / found.low) == pytest.approx(2 * Z * error, rel=0.01)


def test_the_area_s_interval_is_delong_s_where_observations_are_independent(drawn):
    condition, score, scramble = drawn
    found = area_measure(score, condition, np.ones(N, bool), scramble)
    x, y = score[condition], score[~condition]
    wins = (x[:, None] > y[None, :]) + 0.5 * (x[:, None] == y[None, :])
    error = np.sqrt(np.var(wins.mean(axis=1), ddof=1) / len(x) + np.var(wins.mean(axis=0), ddof=1) / len(y))
    assert 0.5 * (found.high - found.low) == pytest.approx(Z * error, rel=0.02)
    assert found.low < found.value < found.high


def test_copies_of_an_observation_tell_no_more_than_one(drawn):
    condition, score, scramble = (np.repeat(v[:300], 5) for v in drawn)
    one = fourfold(score[::5] >= 1.0, condition[::5], np.ones(300, bool), scramble[::5])
    five = fourfold(score >= 1.0, condition, np.ones(1500, bool), scramble)
    for name in RATIOS:
        a, b = ratio_measure(name, one), ratio_measure(name, five)
        assert (a.value, a.low, a.high) == pytest.approx((b.value, b.low, b.high))
    every = np.ones(300, bool)
    a = area_measure(score[::5], condition[::5], every, scramble[::5])
    b = area_measure(score, condition, np.ones(1500, bool), scramble)
    assert (a.low, a.high) == pytest.approx((b.low, b.high))


@pytest.mark.slow
def test_intervals_cover_with_clusters():
    """LR+ and area of observations that share a scramble's luck: the stated rate, over 400 studies of 16 scrambles."""
    rng = np.random.default_rng(5)
    hit = {"likelihood_positive": 0, "area": 0}
    truth_area = float(stats.norm.cdf(0.8 / np.sqrt(2.0 * (1.0 + 0.3**2))))
    rates = [float(stats.norm.sf((1.0 - m) / np.sqrt(1.0 + 0.3**2))) for m in (1.2, 0.4)]
    made = 400
    for _ in range(made):
        scramble = np.repeat(np.arange(16), 24)
        condition = rng.random(len(scramble)) < 0.4
        luck = 0.3 * rng.normal(size=(16, 2))[scramble, condition.astype(int)]
        score = np.where(condition, 1.2, 0.4) + luck + rng.normal(size=len(scramble))
        every = np.ones(len(scramble), bool)
        found = ratio_measure("likelihood_positive", fourfold(score >= 1.0, condition, every, scramble))
        hit["likelihood_positive"] += found.low <= rates[0] / rates[1] <= found.high
        found = area_measure(score, condition, every, scramble)
        hit["area"] += found.low <= truth_area <= found.high
    assert all(0.92 <= count / made <= 0.985 for count in hit.values()), hit


@pytest.mark.parametrize(
    ("counts", "name", "word"),
    [
        ([5, 5, 0, 9], "likelihood_positive", "no false positive among 9 without the condition .* infinite"),
        ([0, 5, 2, 9], "likelihood_positive", "no true positive among 5 with the condition .* be 0"),
        ([5, 5, 9, 0], "likelihood_negative", "no true negative among 9 without the condition .* infinite"),
        ([5, 0, 2, 9], "likelihood_negative", "no false negative among 5 with the condition .* be 0"),
        ([5, 0, 2, 9], "odds_ratio", "no false negative"),
        ([0, 0, 2, 9], "odds_ratio", "no observation with the condition"),
        ([3, 4, 0, 0], "likelihood_negative", "no observation without the condition"),
    ],
)
def test_what_is_not_defined_is_not_a_number_with_a_reason(counts, name, word):
    found = ratio_measure(name, np.array([counts, np.zeros(4)]))
    assert np.isnan([found.value, found.low, found.high]).all()
    assert re.search(word, found.reason)


def test_a_ratio_that_hangs_on_one_scramble_has_no_interval():
    found = ratio_measure("likelihood_positive", np.array([[5, 5, 1, 9], [5, 5, 0, 10]], dtype=float))
    assert np.isfinite(found.value) and np.isnan(found.low) and "without one of the scrambles" in found.reason
    alone = ratio_measure("likelihood_positive", np.array([[5, 5, 1, 9]], dtype=float))
    assert np.isfinite(alone.value) and "fewer than two scrambles" in alone.reason


@pytest.mark.parametrize(
    ("name", "counts"),
    [
        ("likelihood_negative", [0, 9, 1, 9]),
        ("likelihood_negative", [4, 9, 0, 9]),
        ("likelihood_positive", [4, 0, 1, 9]),
    ],
)
def test_a_share_of_all_or_none_has_no_scatter_and_so_no_interval(name, counts):
    found = ratio_measure(name, np.array([counts, counts], dtype=float))
    assert np.isfinite(found.value) and np.isnan([found.low, found.high]).all() and "no scatter" in found.reason


def test_no_area_of_one_group_and_no_interval_of_groups_apart():
    score, k = np.arange(8.0), np.arange(8)
    every = np.ones(8, bool)
    none = area_measure(score, ~every, every, k)
    assert np.isnan(none.value) and none.reason == "no observation with the condition"
    lonely = area_measure(score, score > 6, every, k)
    assert lonely.value == 1.0 and lonely.reason.endswith(
        "without one of the scrambles no observation with the condition"
    )
    apart = area_measure(score, score > 3, every, k)
    assert apart.value == 1.0 and np.isnan(apart.low) and "wholly apart" in apart.reason
    assert np.isnan(curve(score, every)[1]).all()


def test_bounds_count_the_unsolved_each_way():
    whole = np.array([6.0, 2.0, 1.0, 11.0])
    assert bounds("sensitivity", whole, 2) == pytest.approx((6 / 10, 8 / 10))
    assert bounds("specificity", whole, 2) == pytest.approx((11 / 14, 13 / 14))
    assert bounds("likelihood_positive", whole, 2) == pytest.approx((0.75 / (3 / 14), 0.75 / (1 / 14)))
    for name, f in MEASURES.items():
        assert bounds(name, whole, 0) == pytest.approx((float(f(whole)),) * 2)
    assert np.isnan(bounds("likelihood_positive", np.array([6.0, 2.0, 0.0, 11.0]), 2)).all()
    assert whole[[TP, FN, FP, TN]].sum() == 20


def test_predictive_values_are_bayes_theorem():
    p, sens, spec = np.array([0.05, 0.3, 0.8]), 0.7, 0.9
    plus = Measure(sens / (1 - spec), 4.0, 12.0, 100)
    minus = Measure((1 - sens) / spec, 0.2, 0.6, 100)
    value, low, high = predictive_positive(plus, p)
    np.testing.assert_allclose(value, sens * p / (sens * p + (1 - spec) * (1 - p)))
    assert np.all((low < value) & (value < high))
    value, low, high = predictive_negative(minus, p)
    np.testing.assert_allclose(value, spec * (1 - p) / (spec * (1 - p) + (1 - sens) * p))
    assert np.all((low < value) & (value < high))
    assert np.isnan(predictive_positive(Measure(np.nan, np.nan, np.nan, 9, "no"), p)[0]).all()
