"""Intervals of probabilities and of mean differences from independent scrambles of Sobol' points. Knows no physics.

Scrambles are independent replicates: their means give the variance, whatever the points of one scramble have in
common. For a probability that variance becomes an effective number of independent insertions, and the interval is
Wilson's with it: it neither ends beyond 0 and 1 nor has no width where all scrambles agree. Coverage and width are
measured in experiments/coverage.
"""

from dataclasses import dataclass, replace
from math import exp, isnan, log, nan, sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from . import score
from .strata import Layout, Spread, Strata

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Ints = NDArray[np.int64]

CONFIDENCE = 0.95
PRIOR = 0.5  # scrambles of binomial variance added to those made: keeps a variance seen by chance as 0 off 0
FEW = 4.0  # points that differ at which the scrambles' variance counts half: measured in experiments/coverage


@dataclass(frozen=True)
class Interval:
    """Estimate with its interval; effective: independent insertions it is worth (nan: not a probability)."""

    value: float
    low: float
    high: float
    n: int
    effective: float = nan

    @property
    def half_width(self) -> float:
        """Half of the interval's width."""
        return 0.5 * (self.high - self.low)


@dataclass(frozen=True)
class Contrast:
    """Mean of paired differences with its interval, the p value of no difference, and the standard error.

    degrees : of freedom of the error; effective, apart : of an event the independent points that it is worth within a
    draw of shared unknowns, and the share of them at which the two differ (nan: not an event)
    spread : what the variance is made of (None: nothing was used)
    """

    value: float
    low: float
    high: float
    p: float
    error: float
    n: int
    degrees: float = nan
    effective: float = nan
    apart: float = nan
    spread: Spread | None = None

    def errors_above(self, difference: float) -> float:
        """Standard errors by which the mean lies above a difference."""
        if isnan(self.apart) or self.spread is None:
            return (self.value - difference) / self.error if self.error > 0.0 else nan
        more, fewer = (0.5 * self.effective * max(self.apart + s * self.value, 0.0) for s in (1.0, -1.0))
        return score.statistic(more, fewer, self.effective, difference, self.spread.replicates)

    def p_of(self, difference: float) -> float:
        """Two-sided p value of a difference."""
        return 2.0 * float(stats.t.sf(abs(self.errors_above(difference)), self.degrees))

    def p_outside(self, margin: float) -> float:
        """P value of a difference outside the margin: the larger of both one-sided tests' (TOST)."""
        ends = (self.errors_above(-margin), -self.errors_above(margin))
        return max(float(stats.t.sf(e, self.degrees)) for e in ends)


def by_scramble(value: Array, use: Flags, scramble: Ints) -> tuple[Array, Array]:
    """Means of the used values in each scramble, and how many there are; scrambles without one are left out."""
    _, group = np.unique(scramble[use], return_inverse=True)
    counts = np.bincount(group).astype(float)
    return np.bincount(group, weights=value[use]) / counts, counts


def variance_of_mean(means: Array, counts: Array) -> float:
    """Variance of the mean over all values, weighted by the values of each scramble (ratio estimator).

    var = S/(S - 1) sum_k (n_k/n)^2 (m_k - m)^2
    """
    groups, share = len(means), counts / counts.sum()
    return groups / (groups - 1) * float(np.sum(share**2 * (means - np.sum(share * means)) ** 2))


def probability(
    event: Flags, solved: Flags, scramble: Ints, confidence: float = CONFIDENCE, independent: int | None = None
) -> Interval:
    """Probability of an event over solved insertions.

    Wilson's score interval with n_eff = p (1 - p)/V insertions and Student's t of the scrambles in place of the normal
    quantile, V the variance of the mean from the scrambles, drawn toward the binomial one by `PRIOR` scrambles. (With
    Clopper-Pearson's interval in place of Wilson's: Korn and Graubard, Survey Methodology 24 (1998) 193-201, from
    memory.) With all or none of n insertions showing it n_eff is the number of independent ones.

    Parameters
    ----------
    event, solved : ndarray of bool, shape (n,)
    scramble : ndarray of int, shape (n,)
    independent : int, optional
        points among the insertions, where some share one (several arms); all n if left out

    Returns
    -------
    Interval
        nan throughout where nothing was solved; Wilson's own with n where there is one scramble
    """
    n = int(np.sum(solved))
    if n == 0:
        return Interval(nan, nan, nan, 0)
    p = float(np.mean(event[solved]))
    means, counts = by_scramble(event.astype(float), solved, scramble)
    groups = len(means)
    if groups < 2 or p in (0.0, 1.0):
        points = n if independent is None else min(n, independent)
        low, high = wilson(p, points, float(stats.norm.ppf(0.5 + confidence / 2.0)))
        return Interval(p, float(low), float(high), n, float(points))
    binomial = p * (1.0 - p) / n
    variance = ((groups - 1) * variance_of_mean(means, counts) + PRIOR * binomial) / (groups - 1 + PRIOR)
    effective = p * (1.0 - p) / variance
    low, high = wilson(p, effective, float(stats.t.ppf(0.5 + confidence / 2.0, groups - 1)))
    return Interval(p, float(low), float(high), n, effective)


def wilson(p: float | Array, n: float | NDArray[Any], z: float) -> tuple[Array, Array]:
    """Wilson's score interval of proportions p of n (p n and n not necessarily whole) for the quantile z."""
    centre = (p + z * z / (2.0 * n)) / (1.0 + z * z / n)
    half = z / (1.0 + z * z / n) * np.sqrt(p * (1.0 - p) / n + z * z / (4.0 * n * n))
    return np.maximum(0.0, centre - half), np.minimum(1.0, centre + half)


def clopper_pearson(count: int, n: int, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Exact interval of a proportion for independent trials."""
    interval = stats.binomtest(count, n).proportion_ci(confidence, method="exact")
    return float(interval.low), float(interval.high)


def pooled(event: Flags, use: Flags, layout: Layout, confidence: float = CONFIDENCE) -> Interval:
    """Probability of an event, every stratum with the same weight: `probability` for a layout of several strata.

    In place of the binomial variance that of independent points, in place of n points the number that they are worth.
    """
    strata = Strata(layout, use)
    p = strata.mean(event.astype(float))
    if isnan(p):
        return Interval(nan, nan, nan, strata.n)
    spread = strata.spread(event.astype(float))
    variance = spread.variance(spread.degrees / (spread.degrees + PRIOR))
    if isnan(variance):
        return Interval(p, nan, nan, strata.n)
    quantile, effective = float(stats.norm.ppf(0.5 + confidence / 2.0)), spread.worth
    if variance > 0.0:
        effective = p * (1.0 - p) / variance
        quantile = float(stats.t.ppf(0.5 + confidence / 2.0, spread.freedom()))
    low, high = wilson(p, effective, quantile)
    return Interval(p, float(low), float(high), strata.n, effective)


def mean_difference(
    difference: Array, use: Flags, layout: Layout, confidence: float = CONFIDENCE, event: bool = False
) -> Contrast:
    """Mean of paired differences over strata, with Student's t interval and p value.

    event : differences of an event (-1, 0, 1): the score interval of as many independent points as the variance says,
    with Student's t. With few points that differ, scrambles say little of the variance: it is drawn toward that of
    independent points by `FEW` such points.

    Fewer than two scrambles of a stratum, or (not an event) no spread at all between them: interval and p are not
    numbers.
    """
    strata = Strata(layout, use)
    mean, quiet = strata.mean(difference), (nan, nan, nan)
    if isnan(mean):
        return Contrast(nan, *quiet, nan, strata.n)
    spread = strata.spread(difference)
    if not event:
        variance, degrees = spread.variance(), spread.freedom()
        if not variance > 0.0:
            return Contrast(mean, *quiet, sqrt(variance), strata.n, spread=spread)
        half = float(stats.t.ppf(0.5 + confidence / 2.0, degrees)) * sqrt(variance)
        plain = Contrast(mean, mean - half, mean + half, nan, sqrt(variance), strata.n, degrees, spread=spread)
        return replace(plain, p=plain.p_of(0.0))
    differ = len(np.unique(layout.point[use & (difference != 0.0)]))
    share = differ / (differ + FEW)
    variance, degrees = spread.variance(share), spread.freedom(share)
    if isnan(variance):
        return Contrast(mean, *quiet, nan, strata.n, spread=spread)
    apart = strata.mean(np.abs(difference))
    within = variance - spread.replicates
    effective = (apart - mean**2) / within if within > 0.0 else spread.worth
    t = float(stats.t.ppf(0.5 + confidence / 2.0, degrees))
    more, fewer = (0.5 * effective * max(apart + s * mean, 0.0) for s in (1.0, -1.0))
    low, high = score.interval(more, fewer, effective, t, spread.replicates)
    scored = Contrast(mean, low, high, nan, sqrt(variance), strata.n, degrees, effective, apart, spread)
    return replace(scored, p=scored.p_of(0.0))


def ratio(
    top: Array, bottom: Array, use: Flags, layout: Layout, confidence: float = CONFIDENCE, event: bool = False
) -> Interval:
    """Ratio of two means over the same insertions (a risk ratio), with Student's t interval of its logarithm.

    The logarithm's variance is that of top/m_top - bottom/m_bottom. Of events the interval is that of means with half
    an event more in each (Walter, Biometrika 62 (1975) 371-374, from memory), so that it is there where the first is 0.
    Not a number where the second mean is 0, nor, but for events, where the first is.
    """
    strata = Strata(layout, use)
    m, of = strata.mean(top), strata.mean(bottom)
    if isnan(m) or not of > 0.0:
        return Interval(nan, nan, nan, strata.n)
    worth = 1.0 / float(np.sum(np.bincount(np.unique(layout.point, return_inverse=True)[1], strata.weights()) ** 2))
    more = 0.5 / worth if event else 0.0
    if not m + more > 0.0:
        return Interval(m / of, nan, nan, strata.n)
    spread = strata.spread(top / (m + more) - bottom / (of + more))
    shown = len(np.unique(layout.point[use & (top != bottom)]))
    share = shown / (shown + FEW) if event else 1.0
    variance = spread.variance(share)
    if event:  # 1/(x + 1/2) in all, as for x independent events: where x is small the scrambles show less
        variance += sum(0.5 / (worth * share_of + 0.5) ** 2 for share_of in (m, of))
    half = float(stats.t.ppf(0.5 + confidence / 2.0, spread.freedom(share))) * sqrt(variance)
    centre = log((m + more) / (of + more))
    return Interval(m / of, exp(centre - half), exp(centre + half), strata.n)
