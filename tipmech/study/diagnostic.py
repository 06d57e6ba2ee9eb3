"""Measures of a diagnostic test from its fourfold table, each with its interval. Knows no physics.

Observations of one insertion, and of one scramble of Sobol' points, hang together: the scramble is the cluster.
Proportions take the interval of `intervals.probability`; ratios and the area under the ROC curve a jackknife over the
scrambles, of the logarithm (of the logit, for the area), with Student's t. What is not defined is not a number, with
the reason in words: never a 0 or an infinity that four small counts made.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, isnan, log, nan, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from .intervals import CONFIDENCE, Array, Flags, Interval, Ints, probability

TP, FN, FP, TN = range(4)
CELLS = ("tp", "fn", "fp", "tn")
ALONE = "fewer than two scrambles: no interval"


@dataclass(frozen=True)
class Measure:
    """Estimate with its interval; n: observations; reason: why value or interval is not a number ("": it is one)."""

    value: float
    low: float
    high: float
    n: int
    reason: str = ""


def fourfold(positive: Flags, condition: Flags, use: Flags, scramble: Ints) -> Array:
    """Counts of each scramble that has a used observation, shape (scrambles, 4): TP, FN, FP, TN."""
    _, group = np.unique(scramble[use], return_inverse=True)
    cell = np.where(condition, np.where(positive, TP, FN), np.where(positive, FP, TN))[use]
    out = np.zeros((int(group.max()) + 1 if len(group) else 0, len(CELLS)))
    np.add.at(out, (group, cell), 1.0)
    return out


def sensitivity(c: Array) -> Array:
    """TP/(TP + FN) of counts, shape (..., 4)."""
    return _over(c[..., TP], c[..., TP] + c[..., FN])


def specificity(c: Array) -> Array:
    """TN/(TN + FP) of counts, shape (..., 4)."""
    return _over(c[..., TN], c[..., TN] + c[..., FP])


def likelihood_positive(c: Array) -> Array:
    """Positive likelihood ratio, sensitivity/(1 - specificity), of counts, shape (..., 4)."""
    return _over(sensitivity(c), _over(c[..., FP], c[..., TN] + c[..., FP]))


def likelihood_negative(c: Array) -> Array:
    """Negative likelihood ratio, (1 - sensitivity)/specificity, of counts, shape (..., 4)."""
    return _over(_over(c[..., FN], c[..., TP] + c[..., FN]), specificity(c))


def odds_ratio(c: Array) -> Array:
    """Diagnostic odds ratio, TP TN/(FP FN), of counts, shape (..., 4)."""
    return _over(c[..., TP] * c[..., TN], c[..., FP] * c[..., FN])


def _over(top: Array, bottom: Array) -> Array:
    """Quotient; not a number where the bottom is 0."""
    return np.asarray(np.divide(top, bottom, out=np.full(np.shape(bottom), nan), where=bottom > 0.0))


RATIOS: dict[str, Callable[[Array], Array]] = {
    "likelihood_positive": likelihood_positive,
    "likelihood_negative": likelihood_negative,
    "odds_ratio": odds_ratio,
}
MEASURES: dict[str, Callable[[Array], Array]] = {
    "sensitivity": sensitivity,
    "specificity": specificity,
    **RATIOS,
}
ENDS: dict[str, tuple[tuple[int, str], ...]] = {
    "likelihood_positive": ((FP, "infinite"), (TP, "0")),
    "likelihood_negative": ((TN, "infinite"), (FN, "0")),
    "odds_ratio": ((FP, "infinite"), (FN, "infinite"), (TP, "0"), (TN, "0")),
}
"""Cells of which each ratio needs one at least, and what it would be without."""
AT_AN_END: dict[str, tuple[int, ...]] = {
    "likelihood_positive": (FN, TN),
    "likelihood_negative": (TP, FP),
    "odds_ratio": (),
}
"""Cells without which a share in a ratio is 1 of all that were seen: its scatter, and so an interval, is not known."""
WORDS = {TP: "true positive", FN: "false negative", FP: "false positive", TN: "true negative"}


def why_not(name: str, c: Array) -> str:
    """Why a ratio of counts, shape (4,), is no finite number above 0, in words ("": it is one)."""
    if c[TP] + c[FN] == 0.0:
        return "no observation with the condition"
    if c[FP] + c[TN] == 0.0:
        return "no observation without the condition"
    for cell, end in ENDS[name]:
        if c[cell] == 0.0:
            group, word = (c[TP] + c[FN], "with") if cell in (TP, FN) else (c[FP] + c[TN], "without")
            return f"no {WORDS[cell]} among {group:.0f} {word} the condition (the ratio would be {end})"
    return ""


def ratio_measure(name: str, counts: Array, confidence: float = CONFIDENCE) -> Measure:
    """One of `RATIOS` from the counts of the scrambles, shape (scrambles, 4); interval: jackknife of ln over scrambles.

    With one observation in each scramble it is that of the delta method (the "log method" of Simel, Samsa and Matchar,
    J Clin Epidemiol 44 (1991) 763-770, from memory).
    """
    whole = counts.sum(axis=0)
    n = int(whole.sum())
    reason = why_not(name, whole)
    if reason:
        return Measure(nan, nan, nan, n, reason)
    value = float(RATIOS[name](whole))
    for cell in AT_AN_END[name]:
        if whole[cell] == 0.0:
            return Measure(value, nan, nan, n, f"no interval: no {WORDS[cell]}, and so no scatter")
    left = whole - counts
    bad = [w for w in (why_not(name, part) for part in left) if w]
    if len(counts) < 2:
        return Measure(value, nan, nan, n, ALONE)
    if bad:
        return Measure(value, nan, nan, n, f"no interval: without one of the scrambles {bad[0]}")
    half = _jackknife(np.log(RATIOS[name](left)), confidence)
    return Measure(value, exp(log(value) - half), exp(log(value) + half), n)


def _jackknife(left: Array, confidence: float) -> float:
    """Half-width from estimates that leave out one cluster each, shape (clusters,)."""
    groups = len(left)
    error = sqrt((groups - 1) / groups * float(np.sum((left - left.mean()) ** 2)))
    return float(stats.t.ppf(0.5 + confidence / 2.0, groups - 1)) * error


def share(event: Flags, use: Flags, scramble: Ints, point: Ints, confidence: float = CONFIDENCE) -> Interval:
    """Share of the used observations that show an event (`intervals.probability`).

    point : ndarray of int, shape (n,)
        Sobol' point of each observation: of those that share one, all or none count as one
    """
    return probability(event, use, scramble, confidence, independent=len(np.unique(point[use])))


def bounds(name: str, whole: Array, unsolved: float) -> tuple[float, float]:
    """Least and most of a measure with all unsolved observations counted as TP, or FN, or FP, or TN; shape (4,).

    Without any it is the measure twice; nan where one of the ways leaves it undefined.
    """
    values = MEASURES[name](whole + unsolved * np.eye(len(CELLS)))
    return float(np.min(values)), float(np.max(values))


def area(score: Array, condition: Flags) -> float:
    """Area under the ROC curve: Mann and Whitney's U over the number of pairs, ties counting one half."""
    m, n = int(np.sum(condition)), int(np.sum(~condition))
    if m == 0 or n == 0:
        return nan
    rank = stats.rankdata(score)
    return float((np.sum(rank[condition]) - 0.5 * m * (m + 1)) / (m * n))


def area_measure(score: Array, condition: Flags, use: Flags, scramble: Ints, confidence: float = CONFIDENCE) -> Measure:
    """Area under the ROC curve of the used observations; interval: jackknife of its logit over the scrambles."""
    s, c, k = score[use], condition[use], scramble[use]
    value = area(s, c)
    if isnan(value):
        return Measure(nan, nan, nan, len(s), f"no observation {'with' if not np.any(c) else 'without'} the condition")
    groups = np.unique(k)
    if len(groups) < 2:
        return Measure(value, nan, nan, len(s), ALONE)
    left = np.array([area(s[k != g], c[k != g]) for g in groups])
    if np.any(np.isnan(left)):
        missing = "with" if any(not np.any(c[k != g]) for g in groups) else "without"
        why = f"no interval: without one of the scrambles no observation {missing} the condition"
        return Measure(value, nan, nan, len(s), why)
    if not (0.0 < value < 1.0 and np.all((left > 0.0) & (left < 1.0))):
        return Measure(value, nan, nan, len(s), "no interval: the scores keep the two groups wholly apart")
    half = _jackknife(np.log(left / (1.0 - left)), confidence)
    at = log(value / (1.0 - value))
    return Measure(value, 1.0 / (1.0 + exp(half - at)), 1.0 / (1.0 + exp(-half - at)), len(s))


def curve(score: Array, condition: Flags) -> tuple[Array, Array, Array]:
    """ROC curve: thresholds (falling, from infinity), false positive rate and sensitivity at each.

    Positive is a score at the threshold or above. The corners of the curve only: thresholds between two that lie on a
    straight line with them are left out. nan throughout where one of the two groups is empty.
    """
    at = np.concatenate([[np.inf], np.unique(score)[::-1]])
    with_, without = np.sort(score[condition]), np.sort(score[~condition])
    hits, alarms = (len(v) - np.searchsorted(v, at, side="left") for v in (with_, without))
    if not len(with_) or not len(without):
        return at, np.full(len(at), nan), np.full(len(at), nan)
    keep = np.ones(len(at), dtype=bool)
    dx, dy = np.diff(alarms), np.diff(hits)
    keep[1:-1] = dx[1:] * dy[:-1] != dx[:-1] * dy[1:]
    return at[keep], alarms[keep] / len(without), hits[keep] / len(with_)


def predictive_positive(ratio: Measure, prevalence: NDArray[np.float64]) -> tuple[Array, Array, Array]:
    """Probability of the condition after a positive at each prevalence, and its interval, by Bayes.

    odds after = odds before x LR+, so the ends are those of LR+.
    """
    before = prevalence / (1.0 - prevalence)
    value, low, high = (before * v / (1.0 + before * v) for v in (ratio.value, ratio.low, ratio.high))
    return value, low, high


def predictive_negative(ratio: Measure, prevalence: NDArray[np.float64]) -> tuple[Array, Array, Array]:
    """Probability of no condition after a negative at each prevalence, and its interval, by Bayes: from LR-."""
    before = prevalence / (1.0 - prevalence)
    value, high, low = (1.0 / (1.0 + before * v) for v in (ratio.value, ratio.low, ratio.high))
    return value, low, high
