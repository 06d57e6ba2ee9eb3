"""The hypothesis test against scipy and statsmodels, sample size against simulation."""

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.contingency_tables import mcnemar
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.weightstats import ttost_paired

from tipmech.study.hypothesis import Verdict, compare, holm, pairs_needed, power_of, trend, verdict

RNG = np.random.default_rng(7)


def events(shift, n=320, seed=1):
    """Two events on common points, the first rarer by `shift`."""
    u = np.random.default_rng(seed).random(n)
    return (u < 0.4 - shift).astype(float), (u < 0.4).astype(float)


def compared(a, b, level=0.05):
    solved = np.ones(len(a), bool)
    return compare(a, b, solved, solved, np.arange(len(a)) // 4, level=level, event=True)


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


def test_equivalence_is_both_one_sided_tests():
    """Where the interval at twice the level lies just within the margin, both one-sided tests reject just so."""
    noise = RNG.normal(0.0, 0.05, 160)
    zero = np.zeros(160)
    solved = np.ones(160, bool)
    c = compare(noise, zero, solved, solved, np.arange(160), level=0.05, event=False, largest=1.0)
    edge = max(abs(c.inside[0]), abs(c.inside[1]))
    assert ttost_paired(noise, zero, -edge, edge)[0] == pytest.approx(0.05, abs=1e-9)
    assert verdict(c, 1.0, 0.05, edge * 1.001) == Verdict.EQUIVALENT
    assert verdict(c, 1.0, 0.05, edge * 0.999) == Verdict.UNDECIDED


def test_the_words_follow_difference_and_margin():
    clear = compared(*events(0.2))
    assert verdict(clear, clear.difference.p, 0.05, 0.05) == Verdict.LOWER
    assert verdict(clear, clear.difference.p, 0.05, 0.5) == Verdict.LOWER_SLIGHTLY
    assert verdict(clear, 0.9, 0.05, 0.05) == Verdict.UNDECIDED
    same = compared(*events(0.0))
    assert verdict(same, same.difference.p, 0.05, 0.05) == Verdict.EQUIVALENT
    other = compared(*reversed(events(0.2)))
    assert verdict(other, other.difference.p, 0.05, 0.05) == Verdict.HIGHER


def test_what_was_not_solved_is_left_out_and_bounded():
    a, b = events(0.1, 64)
    solved = np.ones(64, bool)
    lost = solved.copy()
    lost[:4] = False
    c = compare(a, b, lost, solved, np.arange(64) // 4, level=0.05, event=True)
    assert c.left_out == 4 and c.difference.n == 60
    filled = [np.where(lost, a, v) for v in (0.0, 1.0)]
    assert (c.low_bound, c.high_bound) == pytest.approx(tuple(float(np.mean(v - b)) for v in filled))
    assert c.low_bound <= c.difference.value * 60 / 64 + 4 / 64 and c.low_bound < c.high_bound


def test_the_trend_is_the_mean_slope():
    loads = np.array([0.5, 1.0, 3.0])
    values = RNG.random((48, 3))
    slopes = [np.polyfit(np.log2(loads), v, 1)[0] for v in values]
    found = trend(values, np.ones((48, 3), bool), loads, np.arange(48), 0.95)
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
