"""The hypothesis test against scipy and statsmodels, sample size against simulation."""

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.contingency_tables import mcnemar
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.weightstats import ttost_paired

from tipmech.study import score
from tipmech.study.hypothesis import Verdict, compare, holm, judge, trend
from tipmech.study.power import pairs_needed, power_of, power_of_mean
from tipmech.study.strata import Layout

RNG = np.random.default_rng(7)


def events(shift, n=320, seed=1):
    """Two events on common points, the first rarer by `shift`."""
    u = np.random.default_rng(seed).random(n)
    return (u < 0.4 - shift).astype(float), (u < 0.4).astype(float)


def compared(a, b, level=0.05):
    solved = np.ones(len(a), bool)
    return compare(a, b, solved, solved, Layout.of(np.arange(len(a)) // 4), level=level, event=True)


def test_holm_is_that_of_statsmodels():
    p = [0.001, 0.04, 0.03, 0.6, 0.012]
    assert holm(p) == pytest.approx(multipletests(p, method="holm")[1])
    assert np.isnan(holm([0.2, float("nan")])[1]) and holm([0.2, float("nan")])[0] == 0.2


def test_pairs_are_those_of_mcnemar():
    a, b = events(0.05)
    c = compared(a, b)
    table = [[np.sum((a == x) & (b == y)) for y in (0, 1)] for x in (0, 1)]
    assert c.p_pairs == pytest.approx(mcnemar(table, exact=True).pvalue)
    assert (c.more, c.fewer) == (table[1][0], table[0][1])


def said(c, margin=0.05, level=0.05):
    return judge([c], level, [margin])[0].verdict


def test_equivalence_is_both_one_sided_tests():
    noise = RNG.normal(0.0, 0.05, 160)
    noise += 0.001 - noise.mean()
    zero = np.zeros(160)
    solved = np.ones(160, bool)
    c = compare(noise, zero, solved, solved, Layout.of(np.arange(160)), level=0.05, event=False, largest=1.0)
    for margin in (0.005, 0.01, 0.02):
        assert c.p_outside(margin) == pytest.approx(ttost_paired(noise, zero, -margin, margin)[0], rel=1e-9)
    assert said(c, 0.02) == Verdict.EQUIVALENT and said(c, 0.004) == Verdict.UNDECIDED


def test_equivalence_is_adjusted_for_the_number_of_designs():
    """Each alone within the margin at the level, four together not."""
    noise = RNG.normal(0.0, 0.05, 160)
    noise += 0.001 - noise.mean()
    solved = np.ones(160, bool)
    c = compare(noise, 0.0 * noise, solved, solved, Layout.of(np.arange(160)), level=0.05, event=False, largest=1.0)
    margins = np.linspace(0.002, 0.02, 200)
    p = np.array([c.p_outside(m) for m in margins])
    margin = float(margins[np.argmax((p < 0.05) & (p > 0.0125))])
    assert said(c, margin) == Verdict.EQUIVALENT
    together = judge([c] * 4, 0.05, [margin] * 4)
    assert {j.verdict for j in together} == {Verdict.UNDECIDED}
    assert [j.p_outside for j in together] == pytest.approx(holm([c.p_outside(margin)] * 4))


def test_the_words_follow_difference_and_margin():
    clear = compared(*events(0.2))
    assert said(clear) == Verdict.LOWER and said(clear, 0.5) == Verdict.LOWER_SLIGHTLY
    assert judge([clear], 1e-12, [0.05])[0].verdict == Verdict.UNDECIDED
    assert said(compared(*events(0.0))) == Verdict.EQUIVALENT
    assert said(compared(*reversed(events(0.2)))) == Verdict.HIGHER


def test_nothing_seen_decides_nothing():
    for value in (0.0, 1.0):
        c = compared(np.full(320, value), np.full(320, value))
        assert said(c) == Verdict.NO_SPREAD and c.p == 1.0


def test_what_was_not_solved_is_left_out_and_bounded():
    a, b = events(0.1, 64)
    solved = np.ones(64, bool)
    lost = solved.copy()
    lost[:4] = False
    c = compare(a, b, lost, solved, Layout.of(np.arange(64) // 4), level=0.05, event=True)
    assert c.left_out == 4 and c.difference.n == 60
    filled = [np.where(lost, a, v) for v in (0.0, 1.0)]
    assert (c.least.value, c.most.value) == pytest.approx(tuple(float(np.mean(v - b)) for v in filled))
    assert c.least.low < c.least.value < c.most.value < c.most.high


def test_a_verdict_must_hold_whatever_unsolved_runs_would_have_shown():
    """160 points, the design's event rarer by 0.2; enough unsolved runs of it that enter could take it away."""
    a, b = events(0.2, 320)
    all_solved = np.ones(320, bool)
    for lost, told in ((8, Verdict.LOWER), (100, Verdict.UNSOLVED)):
        solved = all_solved.copy()
        solved[np.flatnonzero(a == 0.0)[:lost]] = False
        c = compare(a, b, solved, all_solved, Layout.of(np.arange(320) // 4), level=0.05, event=True)
        assert c.p < 0.05 and said(c) == told
    same, _ = events(0.0, 320)
    solved = all_solved.copy()
    solved[:40] = False
    c = compare(same, same, solved, all_solved, Layout.of(np.arange(320) // 4), level=0.05, event=True)
    assert c.p_outside(0.05) < 0.05 and said(c) == Verdict.UNSOLVED


def test_the_score_statistic_is_mcnemar_s_at_no_difference_and_its_interval_its_inverse():
    """At 0 the square is McNemar's chi-square; the constrained share maximises the likelihood (by scipy)."""
    from scipy.optimize import minimize_scalar

    more, fewer, n = 9.0, 3.0, 44.0
    table = [[20, more], [fewer, 12]]
    assert score.statistic(more, fewer, n, 0.0) ** 2 == pytest.approx(mcnemar(table, False, False).statistic)
    x = 0.25

    def unlikely(q):
        return -(more * np.log(q + x) + fewer * np.log(q) + (n - more - fewer) * np.log(1.0 - 2.0 * q - x))

    q = minimize_scalar(unlikely, bounds=(1e-6, (1.0 - x) / 2.0 - 1e-6), method="bounded", options={"xatol": 1e-10}).x
    by_hand = (more - fewer - n * x) / np.sqrt(n * (2.0 * q + x - x * x))
    assert score.statistic(more, fewer, n, x) == pytest.approx(by_hand, rel=1e-6)
    low, high = score.interval(more, fewer, n, 1.96)
    assert score.statistic(more, fewer, n, low) == pytest.approx(1.96, abs=1e-6)
    assert score.statistic(more, fewer, n, high) == pytest.approx(-1.96, abs=1e-6)
    assert score.interval(0.0, 0.0, 64.0, 1.96) == pytest.approx(
        (-(1.96**2) / (64 + 1.96**2), 1.96**2 / (64 + 1.96**2))
    )


def test_the_trend_is_the_mean_slope():
    loads = np.array([0.5, 1.0, 3.0])
    values = RNG.random((48, 3))
    slopes = [np.polyfit(np.log2(loads), v, 1)[0] for v in values]
    found = trend(values, np.ones((48, 3), bool), loads, Layout.of(np.arange(48)), 0.95)
    assert (found.value, found.p) == pytest.approx((np.mean(slopes), stats.ttest_1samp(slopes, 0.0).pvalue))


def test_points_needed_give_the_power():
    """Two-sided McNemar with the points that Connor's formula asks for, simulated."""
    d, psi, level, power = 0.1, 0.2, 0.05, 0.8
    n = int(pairs_needed(d, psi, level, power))
    assert power_of(d, psi, level, n) == pytest.approx(power, abs=0.01)
    draws = RNG.multinomial(n, [(psi + d) / 2, (psi - d) / 2, 1 - psi], size=4000)
    more, fewer = draws[:, 0], draws[:, 1]
    z = np.abs(more - fewer) / np.sqrt(np.maximum(more + fewer, 1))
    assert np.mean(z > stats.norm.ppf(1 - level / 2)) == pytest.approx(power, abs=0.03)
    assert pairs_needed(0.0, psi, level, power) == np.inf and np.isnan(pairs_needed(0.3, psi, level, power))


def test_power_with_few_scrambles_is_that_of_student_s_t():
    """Simulated: the error of a mean difference known from 16 scrambles, as a t test of their means."""
    d, sd, level = 0.12, 0.15, 0.05 / 4
    means = RNG.normal(d, sd, (20_000, 16))
    p = stats.ttest_1samp(means, 0.0, axis=1).pvalue
    assert power_of_mean(d, sd / 4.0, level, 15) == pytest.approx(np.mean(p < level), abs=0.015)
    assert power_of_mean(d, sd / 4.0, level) > power_of_mean(d, sd / 4.0, level, 15) + 0.05
    assert power_of(0.1, 0.2, level, 64, 15) < power_of(0.1, 0.2, level, 64)
