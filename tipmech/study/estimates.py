"""Estimates from a table of rows, each with its interval: proportions, means, cumulative incidence. Knows no physics.

Insertions that were not solved are never dropped in silence: estimates are over the solved ones, and two bounds say
what they would be if all unsolved ones had, or had not, shown the event.
"""

from dataclasses import dataclass
from math import isnan, nan, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from .intervals import wilson

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

CONFIDENCE = 0.95


@dataclass(frozen=True)
class Proportion:
    """Estimate of a probability.

    p : over solved insertions; low, high: t interval over scramble means (cut to 0..1); wilson_low, wilson_high:
    Wilson's interval; bound_low, bound_high: all unsolved without / with the event; count of n events; unsolved.
    """

    p: float
    low: float
    high: float
    wilson_low: float
    wilson_high: float
    bound_low: float
    bound_high: float
    count: int
    n: int
    unsolved: int


@dataclass(frozen=True)
class Mean:
    """Mean of a quantity over solved insertions with its t interval over scramble means."""

    mean: float
    low: float
    high: float
    n: int


def proportion(event: Flags, solved: Flags, scramble: NDArray[np.int64]) -> Proportion:
    """Probability of an event from flags, shape (n,), which of them were solved, and the scramble of each."""
    n, unsolved = int(np.sum(solved)), int(np.sum(~solved))
    count = int(np.sum(event & solved))
    total = n + unsolved
    bounds = (count / total, (count + unsolved) / total) if total else (nan, nan)
    if n == 0:
        return Proportion(nan, nan, nan, nan, nan, *bounds, 0, 0, unsolved)
    mean = scramble_mean(event.astype(float), solved, scramble)
    wilson = wilson_interval(count, n)
    low, high = float(np.clip(mean.low, 0.0, 1.0)), float(np.clip(mean.high, 0.0, 1.0))
    return Proportion(count / n, low, high, *wilson, *bounds, count, n, unsolved)


def wilson_interval(count: int, n: int) -> tuple[float, float]:
    """Wilson's score interval of a proportion."""
    interval = stats.binomtest(count, n).proportion_ci(CONFIDENCE, method="wilson")
    return float(interval.low), float(interval.high)


def wider_interval(low: Array, high: Array, wilson_low: Array, wilson_high: Array) -> tuple[Array, Array]:
    """Wider of the scrambles' and Wilson's interval, end by end; Wilson's where there is only one scramble (nan)."""
    return np.fmin(low, wilson_low), np.fmax(high, wilson_high)


def scramble_mean(value: Array, solved: Flags, scramble: NDArray[np.int64]) -> Mean:
    """Mean over solved values, with the t interval of the scrambles' means (scrambles are independent).

    Scrambles without a solved value are left out; with fewer than two the interval is not a number. The spread is that
    of a ratio estimator, weighted by the solved values in each scramble, so unequal numbers are allowed:
    var = S / (S - 1) sum_k (n_k / n)^2 (m_k - m)^2.
    """
    n = int(np.sum(solved))
    if n == 0:
        return Mean(nan, nan, nan, 0)
    _, group = np.unique(scramble[solved], return_inverse=True)
    counts = np.bincount(group)
    means = np.bincount(group, weights=value[solved]) / counts
    mean = float(np.mean(value[solved]))
    groups = len(counts)
    if groups < 2:
        return Mean(mean, nan, nan, n)
    variance = groups / (groups - 1) * float(np.sum((counts / n) ** 2 * (means - mean) ** 2))
    half = float(stats.t.ppf(0.5 + CONFIDENCE / 2.0, groups - 1)) * sqrt(variance)
    return Mean(mean, mean - half, mean + half, n)


def cumulative_incidence(time: Array, cause: NDArray[np.int64], grid: Array) -> Array:
    """Cumulative incidence of cause 1 with competing causes: Aalen-Johansen.

    F_1(t) = sum over event times s <= t of S(s-) d_1(s) / n(s), S the Kaplan-Meier survival from all causes. At equal
    times events come before censoring.

    Parameters
    ----------
    time : ndarray, shape (n,)
        time (here: advance, m) of the first event or of censoring
    cause : ndarray of int, shape (n,)
        0 censored, 1 the event, 2 and more competing events
    grid : ndarray, shape (m,)
        where the incidence is wanted

    Returns
    -------
    ndarray, shape (m,)

    References
    ----------
    Aalen and Johansen, Scand. J. Statist. 5 (1978) 141-150 (from memory).
    """
    at = np.unique(time[cause > 0])
    survival, incidence = 1.0, 0.0
    steps = np.zeros(len(at))
    for k, s in enumerate(at):
        risk = np.sum(time >= s)
        here = time == s
        incidence += survival * np.sum(here & (cause == 1)) / risk
        survival *= 1.0 - np.sum(here & (cause > 0)) / risk
        steps[k] = incidence
    place = np.searchsorted(at, grid, side="right")
    return np.concatenate([[0.0], steps])[place]


def wilson_band(p: Array, n: int) -> tuple[Array, Array]:
    """Wilson's interval at proportions that need not be counts / n: exact without censoring, else approximate."""
    return wilson(p, n, float(stats.norm.ppf(0.5 + CONFIDENCE / 2.0)))


@dataclass(frozen=True)
class Median:
    """Median of interval data: every case is known to lie in [low_i, high_i], which may be 0 or infinite.

    p50: geometric middle of the median's bracket (nan when the median itself is censored); bracket_low, bracket_high:
    the median of the low and of the high ends; low, high: distribution-free order-statistic interval.
    """

    p50: float
    bracket_low: float
    bracket_high: float
    low: float
    high: float


def median_of_intervals(low: Array, high: Array) -> Median:
    """Median over cases known only by brackets, with an interval from order statistics (binomial, >= 95 %).

    The interval's ends are the k-th smallest low end and the k-th largest high end, k the largest with
    2 P(Binomial(n, 1/2) <= k - 1) <= 5 %; with too few cases for one it is [0, inf].
    """
    n = len(low)
    if n == 0:
        return Median(nan, nan, nan, nan, nan)
    lows, highs = np.sort(low), np.sort(high)
    below, above = _middle(lows), _middle(highs)
    k = int(stats.binom.ppf((1.0 - CONFIDENCE) / 2.0, n, 0.5))
    while k > 0 and 2.0 * stats.binom.cdf(k - 1, n, 0.5) > 1.0 - CONFIDENCE:
        k -= 1
    interval = (float(lows[k - 1]), float(highs[n - k])) if k > 0 else (0.0, float("inf"))
    known = below > 0.0 and np.isfinite(above)
    return Median(sqrt(below * above) if known else nan, below, above, *interval)


def _middle(ordered: Array) -> float:
    """Median of ordered values, geometric between the two middle ones; an end at 0 or infinity stays one."""
    a, b = float(ordered[(len(ordered) - 1) // 2]), float(ordered[len(ordered) // 2])
    if a == b:
        return a
    middle = sqrt(a * b) if np.isfinite(b) else b
    return 0.0 if isnan(middle) else middle
