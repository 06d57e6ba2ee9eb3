"""Does the softer tip lower it? Paired comparisons of designs on common points, trend, equivalence, sample size.

Every design meets the same vessels (common random numbers), so that all is done on differences point by point. Knows
no physics: rows with a design, a point, a scramble and an outcome.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import ceil, inf, isnan, nan, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from .intervals import Contrast, Interval, mean_difference, ratio

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Ints = NDArray[np.int64]


class Verdict(StrEnum):
    """What a comparison says of a design beside the reference, at the level of significance and the margin stated."""

    LOWER = "lower"
    HIGHER = "higher"
    EQUIVALENT = "equivalent within the margin"
    LOWER_SLIGHTLY = "lower, within the margin"
    HIGHER_SLIGHTLY = "higher, within the margin"
    UNDECIDED = "undecided"


@dataclass(frozen=True)
class Comparison:
    """A design beside the reference on the points that both solved.

    difference : mean paired difference (risk difference of an event) with interval, p adjusted for none
    inside : interval of the difference at twice the level of significance, by which equivalence is judged (TOST)
    ratio : of the means
    more, fewer : points at which the design alone, or the reference alone, shows the event (nan: not an event)
    p_pairs : exact McNemar p value of these, independent points assumed (nan: not an event)
    low_bound, high_bound : the difference with every unsolved insertion counted so as to make it least, or most
    left_out : points at which either was not solved
    spread : standard deviation of the differences between points (nan: fewer than two)
    """

    difference: Contrast
    inside: tuple[float, float]
    ratio: Interval
    more: float
    fewer: float
    p_pairs: float
    low_bound: float
    high_bound: float
    left_out: int
    spread: float


def compare(
    value: Array,
    reference: Array,
    solved: Flags,
    solved_reference: Flags,
    scramble: Ints,
    *,
    level: float,
    event: bool,
    largest: float = nan,
) -> Comparison:
    """Compare a design with the reference, point by point.

    Parameters
    ----------
    value, reference : ndarray, shape (n,)
        the outcome of design and reference at the same points (0/1 for an event)
    solved, solved_reference : ndarray of bool, shape (n,)
    scramble : ndarray of int, shape (n,)
    level : float
        level of significance of a single comparison: intervals are at 1 - level
    event : bool
        the outcome is an event
    largest : float
        largest value an unsolved insertion could have had, for the bounds (an event: 1)
    """
    both = solved & solved_reference
    difference = np.where(both, value - reference, 0.0)
    whole = mean_difference(difference, both, scramble, 1.0 - level, event)
    narrow = mean_difference(difference, both, scramble, 1.0 - 2.0 * level, event)
    top = 1.0 if event else largest
    least = np.where(solved, value, 0.0) - np.where(solved_reference, reference, top)
    most = np.where(solved, value, top) - np.where(solved_reference, reference, 0.0)
    more = fewer = p_pairs = nan
    if event and np.any(both):
        more = float(np.sum(difference[both] > 0.0))
        fewer = float(np.sum(difference[both] < 0.0))
        pairs = int(more + fewer)
        p_pairs = float(stats.binomtest(int(more), pairs).pvalue) if pairs else 1.0
    return Comparison(
        whole,
        (narrow.low, narrow.high),
        ratio(np.where(both, value, 0.0), np.where(both, reference, 0.0), both, scramble, 1.0 - level),
        more,
        fewer,
        p_pairs,
        float(np.mean(least)) if len(value) else nan,
        float(np.mean(most)) if len(value) else nan,
        int(np.sum(~both)),
        float(np.std(difference[both], ddof=1)) if np.sum(both) > 1 else nan,
    )


def verdict(comparison: Comparison, adjusted_p: float, level: float, margin: float) -> Verdict:
    """Verdict of one comparison: a difference by the adjusted p value, equivalence by both one-sided tests at `level`.

    Equivalence needs no adjustment: its two tests must both reject (intersection-union).
    """
    d, (low, high) = comparison.difference, comparison.inside
    if d.error == 0.0 and d.n > 0 and d.value == 0.0:
        return Verdict.EQUIVALENT  # not one point differs
    within = -margin < low and high < margin
    if not isnan(adjusted_p) and adjusted_p < level:
        if within:
            return Verdict.LOWER_SLIGHTLY if d.value < 0.0 else Verdict.HIGHER_SLIGHTLY
        return Verdict.LOWER if d.value < 0.0 else Verdict.HIGHER
    return Verdict.EQUIVALENT if within else Verdict.UNDECIDED


def holm(p: Sequence[float]) -> list[float]:
    """Holm's step-down adjustment of p values for their number; not-a-number stays and does not count."""
    order = sorted((k for k, v in enumerate(p) if not isnan(v)), key=lambda k: p[k])
    out, largest = [nan] * len(p), 0.0
    for rank, k in enumerate(order):
        largest = max(largest, min(1.0, (len(order) - rank) * p[k]))
        out[k] = largest
    return out


def trend(values: Array, solved: Flags, loads: Array, scramble: Ints, confidence: float) -> Contrast:
    """Change of the outcome per doubling of the tip load: mean over points of each point's own least-squares slope.

    Parameters
    ----------
    values, solved : ndarray, shape (n, loads)
        outcome of every design at every point; a point with an unsolved design is left out
    loads : ndarray, shape (loads,)
        tip loads, increasing, any unit
    scramble : ndarray of int, shape (n,)
    """
    x = np.log2(loads)
    x = x - x.mean()
    use = np.all(solved, axis=1)
    slopes = np.where(use, np.where(solved, values, 0.0) @ x / float(x @ x), 0.0)
    return mean_difference(slopes, use, scramble, confidence)


def pairs_needed(difference: float, discordant: float, level: float, power: float) -> float:
    """Points at which a paired risk difference is found with the power wanted (two-sided McNemar test).

    n = (z_a sqrt(psi) + z_b sqrt(psi - d^2))^2 / d^2 with psi the share of points at which the designs differ: Connor,
    Biometrics 43 (1987) 207-211 (from memory). Infinite for d = 0; not a number where |d| > psi, which cannot be.
    """
    if difference == 0.0:
        return inf
    if abs(difference) > discordant:
        return nan
    za, zb = stats.norm.ppf(1.0 - level / 2.0), stats.norm.ppf(power)
    return float(ceil((za * sqrt(discordant) + zb * sqrt(discordant - difference**2)) ** 2 / difference**2))


def power_of(difference: float, discordant: float, level: float, points: int) -> float:
    """Power of the paired comparison with so many points: the inverse of `pairs_needed`."""
    if discordant <= 0.0 or abs(difference) > discordant:
        return nan
    za = stats.norm.ppf(1.0 - level / 2.0)
    spread = sqrt(max(discordant - difference**2, 1e-12))
    return float(stats.norm.cdf((abs(difference) * sqrt(points) - za * sqrt(discordant)) / spread))


def points_needed(difference: float, spread: float, level: float, power: float) -> float:
    """Points at which a paired difference of means is found with the power wanted (two-sided test).

    n = ((z_a + z_b) s / d)^2 with s the standard deviation of the differences between points, points independent.
    Infinite for d = 0.
    """
    if difference == 0.0:
        return inf
    z = stats.norm.ppf(1.0 - level / 2.0) + stats.norm.ppf(power)
    return float(np.ceil((z * spread / difference) ** 2))


def power_of_mean(difference: float, spread: float, level: float, points: int) -> float:
    """Power of the paired comparison of means with so many points: the inverse of `points_needed`."""
    if spread == 0.0:
        return nan
    return float(stats.norm.cdf(abs(difference) * sqrt(points) / spread - stats.norm.ppf(1.0 - level / 2.0)))
