"""Does the softer tip lower it? Paired comparisons of designs on common points, trend, equivalence.

Every design meets the same vessels (common random numbers), so that all is done on differences point by point. Knows
no physics: rows with a design, a point, a scramble and an outcome.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import isnan, nan

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from .intervals import Contrast, Interval, mean_difference, ratio
from .strata import Layout, Strata

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]


class Verdict(StrEnum):
    """What a comparison says of a design beside the reference, at the level of significance and the margin stated."""

    LOWER = "lower"
    HIGHER = "higher"
    EQUIVALENT = "equivalent within the margin"
    LOWER_SLIGHTLY = "lower, within the margin"
    HIGHER_SLIGHTLY = "higher, within the margin"
    UNDECIDED = "undecided"
    UNSOLVED = "undecided: hangs on unsolved runs"
    NO_SPREAD = "undecided: no run tells them apart"
    ONE_DRAW = "undecided: one draw of what is shared"


@dataclass(frozen=True)
class Comparison:
    """A design beside the reference on the points that both solved, every stratum with the same weight.

    difference : mean paired difference (risk difference of an event) with interval, p adjusted for none
    least, most : the same over all points, with every unsolved run counted so as to make it least, or most
    ratio : of the means; mean, mean_reference : the means
    more, fewer : points at which the design alone, or the reference alone, shows the event (nan: not an event)
    p_pairs : exact McNemar p value of these, independent points assumed (nan: not an event)
    left_out : points at which either was not solved
    sd : standard deviation of the differences between points (nan: fewer than two)
    silent : nothing to judge by: no run of either shows the event, or all do; or no area differs
    """

    difference: Contrast
    least: Contrast
    most: Contrast
    ratio: Interval
    mean: float
    mean_reference: float
    more: float
    fewer: float
    p_pairs: float
    left_out: int
    sd: float
    silent: bool

    @property
    def p(self) -> float:
        """Two-sided p value of no difference; 1 where there is nothing to judge by."""
        return 1.0 if self.silent else self.difference.p

    @property
    def p_unsolved(self) -> float:
        """The same where unsolved runs are counted against the difference seen; 1 where they could turn it round."""
        worst = self.most if self.difference.value < 0.0 else self.least
        turned = worst.value * self.difference.value <= 0.0
        return 1.0 if self.silent or turned else worst.p

    def p_outside(self, margin: float) -> float:
        """P value of a difference outside the margin (TOST); 1 where there is nothing to judge by."""
        return 1.0 if self.silent else self.difference.p_outside(margin)

    def p_outside_unsolved(self, margin: float) -> float:
        """The same where unsolved runs are counted toward either end."""
        return 1.0 if self.silent else max(self.least.p_outside(margin), self.most.p_outside(margin))


def compare(
    value: Array,
    reference: Array,
    solved: Flags,
    solved_reference: Flags,
    layout: Layout,
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
    layout : Layout
        stratum, scramble, point and replicate of each
    level : float
        level of significance of a single comparison: intervals are at 1 - level
    event : bool
        the outcome is an event
    largest : float
        largest value an unsolved insertion could have had, for the bounds (an event: 1)
    """
    both = solved & solved_reference
    one, other = np.where(both, value, 0.0), np.where(both, reference, 0.0)
    difference = one - other
    whole = mean_difference(difference, both, layout, 1.0 - level, event)
    least = most = whole
    if not np.all(both):
        top, everywhere = 1.0 if event else largest, np.ones(len(both), dtype=bool)
        low = np.where(solved, value, 0.0) - np.where(solved_reference, reference, top)
        high = np.where(solved, value, top) - np.where(solved_reference, reference, 0.0)
        least, most = (mean_difference(d, everywhere, layout, 1.0 - level, event) for d in (low, high))
    more = fewer = p_pairs = nan
    if event and np.any(both):
        more, fewer = float(np.sum(difference > 0.0)), float(np.sum(difference < 0.0))
        pairs = int(more + fewer)
        p_pairs = float(stats.binomtest(int(more), pairs).pvalue) if pairs else 1.0
    shown = np.concatenate([one[both], other[both]])
    strata = Strata(layout, both)
    return Comparison(
        whole,
        least,
        most,
        ratio(one, other, both, layout, 1.0 - level, event),
        strata.mean(one),
        strata.mean(other),
        more,
        fewer,
        p_pairs,
        int(np.sum(~both)),
        float(np.std(difference[both], ddof=1)) if np.sum(both) > 1 else nan,
        bool(np.all(shown == shown[:1]) if event else not np.any(difference)),
    )


@dataclass(frozen=True)
class Judged:
    """P values of a comparison adjusted by Holm over its family, as `Comparison` has them; and what they say."""

    p: float
    p_unsolved: float
    p_outside: float
    p_outside_unsolved: float
    verdict: Verdict


def judge(family: Sequence[Comparison], level: float, margins: Sequence[float]) -> list[Judged]:
    """Verdicts of a family of comparisons: differences and equivalences are each adjusted by Holm over all of it."""
    p, p_unsolved = holm([c.p for c in family]), holm([c.p_unsolved for c in family])
    pairs = list(zip(family, margins, strict=True))
    outside = holm([c.p_outside(m) for c, m in pairs])
    outside_unsolved = holm([c.p_outside_unsolved(m) for c, m in pairs])
    out = []
    for k, c in enumerate(family):
        told = verdict(c, p[k], p_unsolved[k], outside[k], outside_unsolved[k], level)
        out.append(Judged(p[k], p_unsolved[k], outside[k], outside_unsolved[k], told))
    return out


def verdict(
    c: Comparison, p: float, p_unsolved: float, p_outside: float, p_outside_unsolved: float, level: float
) -> Verdict:
    """Verdict by p values adjusted for the family.

    One that unsolved runs could take away is none: whatever they would have shown, it must hold.
    """
    if c.silent and c.difference.n > 0:
        return Verdict.NO_SPREAD
    if c.difference.spread is not None and isnan(c.difference.spread.of_replicates):
        return Verdict.ONE_DRAW
    differs, within = p < level and p_unsolved < level, p_outside < level and p_outside_unsolved < level
    lower = c.difference.value < 0.0
    if differs and within:
        return Verdict.LOWER_SLIGHTLY if lower else Verdict.HIGHER_SLIGHTLY
    if differs:
        return Verdict.LOWER if lower else Verdict.HIGHER
    if within:
        return Verdict.EQUIVALENT
    return Verdict.UNSOLVED if p < level or p_outside < level else Verdict.UNDECIDED


def holm(p: Sequence[float]) -> list[float]:
    """Holm's step-down adjustment of p values for their number; not-a-number stays and does not count."""
    order = sorted((k for k, v in enumerate(p) if not isnan(v)), key=lambda k: p[k])
    out, largest = [nan] * len(p), 0.0
    for rank, k in enumerate(order):
        largest = max(largest, min(1.0, (len(order) - rank) * p[k]))
        out[k] = largest
    return out


def trend(values: Array, solved: Flags, loads: Array, layout: Layout, confidence: float) -> Contrast:
    """Change of the outcome per doubling of the tip load: mean over points of each point's own least-squares slope.

    Parameters
    ----------
    values, solved : ndarray, shape (n, loads)
        outcome of every design at every point; a point with an unsolved design is left out
    loads : ndarray, shape (loads,)
        tip loads, increasing, any unit
    layout : Layout
        stratum, scramble, point and replicate of each point
    """
    x = np.log2(loads)
    x = x - x.mean()
    use = np.all(solved, axis=1)
    slopes = np.where(use, np.where(solved, values, 0.0) @ x / float(x @ x), 0.0)
    return mean_difference(slopes, use, layout, confidence)
