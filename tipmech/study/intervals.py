"""Intervals of probabilities and of mean differences from independent scrambles of Sobol' points. Knows no physics.

Scrambles are independent replicates: their means give the variance, whatever the points of one scramble have in
common. For a probability that variance becomes an effective number of independent insertions, and the interval is
Wilson's with it: it neither ends beyond 0 and 1 nor has no width where all scrambles agree. Coverage and width are
measured in experiments/coverage.
"""

from dataclasses import dataclass
from math import exp, log, nan, sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import stats

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Ints = NDArray[np.int64]

CONFIDENCE = 0.95
PRIOR = 0.5  # scrambles of binomial variance added to those made: keeps a variance seen by chance as 0 off 0


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
    """Mean of paired differences with its interval, the p value of no difference, and the standard error."""

    value: float
    low: float
    high: float
    p: float
    error: float
    n: int


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


def mean_difference(
    difference: Array, use: Flags, scramble: Ints, confidence: float = CONFIDENCE, event: bool = False
) -> Contrast:
    """Mean of paired differences, with Student's t interval and p value over the scrambles' means.

    event : differences of an event (-1, 0, 1): the variance is drawn by `PRIOR` scrambles toward that of independent
    points with half a point more in each of the four cells (Agresti and Min, Biostatistics 6 (2005) 445-456, from
    memory), and is that where no point differs.

    Fewer than two scrambles, or (not an event) no spread at all between them: interval and p are not numbers, but where
    every single difference is the same the value is all there is to say (p = 1 where it is 0).
    """
    n = int(np.sum(use))
    if n == 0:
        return Contrast(nan, nan, nan, nan, nan, 0)
    means, counts = by_scramble(difference, use, scramble)
    mean = float(np.mean(difference[use]))
    if len(means) < 2:
        return Contrast(mean, nan, nan, nan, nan, n)
    variance = variance_of_mean(means, counts)
    if event:
        d = difference[use]
        independent = ((np.abs(d).sum() + 1.0) / (n + 2.0) - (d.sum() / (n + 2.0)) ** 2) / n
        groups = len(means)
        drawn = ((groups - 1) * variance + PRIOR * independent) / (groups - 1 + PRIOR)
        variance = float(drawn) if np.any(d) else float(independent)
    error = sqrt(variance)
    if error == 0.0:
        none = not np.any(difference[use])
        return Contrast(mean, nan, nan, 1.0 if none else nan, 0.0, n)
    half = float(stats.t.ppf(0.5 + confidence / 2.0, len(means) - 1)) * error
    p = 2.0 * float(stats.t.sf(abs(mean) / error, len(means) - 1))
    return Contrast(mean, mean - half, mean + half, p, error, n)


def ratio(top: Array, bottom: Array, use: Flags, scramble: Ints, confidence: float = CONFIDENCE) -> Interval:
    """Ratio of two means over the same insertions (a risk ratio), its interval from a jackknife over scrambles of ln.

    Not a number where either mean is 0, with or without one of the scrambles.
    """
    n = int(np.sum(use))
    if n == 0:
        return Interval(nan, nan, nan, 0)
    above, counts = by_scramble(top, use, scramble)
    below, _ = by_scramble(bottom, use, scramble)
    sums = np.stack([above * counts, below * counts])
    whole = sums.sum(axis=1)
    groups = len(counts)
    left = whole[:, None] - sums
    if groups < 2 or np.any(whole <= 0.0):
        return Interval(float(whole[0] / whole[1]) if whole[1] > 0.0 else nan, nan, nan, n)
    value = log(whole[0] / whole[1])
    if np.any(left <= 0.0):
        return Interval(exp(value), nan, nan, n)
    logs = np.log(left[0] / left[1])
    error = sqrt((groups - 1) / groups * float(np.sum((logs - logs.mean()) ** 2)))
    half = float(stats.t.ppf(0.5 + confidence / 2.0, groups - 1)) * error
    return Interval(exp(value), exp(value - half), exp(value + half), n)
