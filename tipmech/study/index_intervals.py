"""Intervals of Sobol' indices from independent scrambles of a Saltelli design. Knows no physics.

An index is a mean over base points divided by the variance of the outcome. Its error is that of the mean of residuals,
numerator less index times variance, point by point. Scrambles are independent: their sums of residuals give it, with
Student's t. Of an event a few base points carry everything, and by chance none may: points are added for the interval
(not for the estimate), one either way to a first-order index (Bonett and Price, Br. J. Math. Stat. Psychol. 65 (2012)
430-449, from memory) and two with a change and two without to a total index (Agresti and Coull, Am. Stat. 52 (1998)
119-126, from memory); the error is not below that of independent points, and Student's t has no more degrees of freedom
than there were events. The total index of a quantity has its interval in the logarithm. Coverage is measured in
experiments/coverage/indices.py.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from .estimates import CONFIDENCE

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Ends = tuple[Array, Array]

LARGEST = 50.0  # of the logarithm of an interval's end over its value: what is so wide says nothing anyway


@dataclass(frozen=True)
class Blocks:
    """Outcomes of complete base points, shape (n, d + 2): A, A with each input from B, B; the scramble of each."""

    outcomes: Array
    scramble: Ints

    @property
    def ends(self) -> Array:
        """Outcomes at the independent points A and B, shape (n, 2)."""
        return self.outcomes[:, [0, -1]]

    @property
    def first(self) -> Array:
        """Numerator of the first-order indices at each base point, shape (n, d)."""
        a, mixed, b = self.outcomes[:, :1], self.outcomes[:, 1:-1], self.outcomes[:, -1:]
        return np.asarray((b - self.outcomes.mean()) * (mixed - a))

    @property
    def total(self) -> Array:
        """The same of the total indices."""
        return np.asarray(0.5 * (self.outcomes[:, :1] - self.outcomes[:, 1:-1]) ** 2)

    @property
    def variance(self) -> Array:
        """Squared distance of the ends from their mean, at each base point, shape (n, 1)."""
        return np.asarray(np.mean((self.ends - self.ends.mean()) ** 2, axis=1, keepdims=True))


def interval_ends(blocks: Blocks, event: bool) -> tuple[Ends, Ends]:
    """Ends of the intervals of first-order and of total indices, every array of shape (d,).

    Both lie within 0 and 1, and a first-order index is never above its total index: so intervals are cut, to no less
    than what holds the estimate, and 0 of an estimate below it.
    """
    quantile = _quantile(blocks, event)
    added = (np.array([1.0, -1.0]), np.array([0.5, 0.5, 0.0, 0.0])) if event else (np.zeros(0), np.zeros(0))
    low, high = _ends(blocks, blocks.first, added[0], quantile, event)
    total_low, total_high = _ends(blocks, blocks.total, added[1], quantile, event)
    value = np.mean(blocks.total, axis=0) / np.mean(blocks.variance)
    if not event:
        part = np.where(value > 0.0, (total_high - value) / np.where(value > 0.0, value, 1.0), 0.0)
        total_low, total_high = value * np.exp(-part), value * np.exp(np.minimum(part, LARGEST))
    first = np.mean(blocks.first, axis=0) / np.mean(blocks.variance)
    total_high = np.maximum(np.minimum(total_high, 1.0), value)
    low = np.minimum(np.maximum(low, 0.0), first)
    return (low, np.maximum(np.minimum(np.maximum(high, 0.0), total_high), first)), (
        np.maximum(total_low, 0.0),
        total_high,
    )


def largest_unseen(points: int, variance: float, quantile: float) -> float:
    """Upper end of the interval of an event's total index where an input changed the outcome in none of the pairs.

    With the points added the numerator's mean is 1/n, and all squared residuals come to 1/2 - 1/n: (1/2 - 1/n)^2 twice,
    1/n^2 of each of the others, taking every point to be as far from the mean as another.
    """
    n = points + 4
    return min((1.0 + quantile * float(np.sqrt(0.5 - 1.0 / n))) / (n * variance), 1.0)


def _quantile(blocks: Blocks, event: bool) -> float:
    """Quantile of Student's t by the number of scrambles, and of events (or of their opposites, if these are fewer)."""
    groups = len(np.unique(blocks.scramble))
    degrees = groups - 1 if groups > 1 else len(blocks.outcomes) - 1
    if event:
        seen = int(np.sum(blocks.ends))
        degrees = min(degrees, min(seen, blocks.ends.size - seen) - 1)
    return float(stats.t.ppf(0.5 + CONFIDENCE / 2.0, max(degrees, 1)))


def _ends(blocks: Blocks, numerator: Array, added: Array, quantile: float, event: bool) -> Ends:
    """Ends of one kind of index; added: numerators of the points added to the interval, shape (points,)."""
    n, variance = len(numerator), float(np.mean(blocks.variance))
    value = np.mean(numerator, axis=0) / variance
    centre = (np.sum(numerator, axis=0) + np.sum(added)) / ((n + len(added)) * variance)
    residual = numerator - centre * blocks.variance
    more = np.sum((added[:, None] - centre * variance) ** 2, axis=0)
    independent = (np.sum(residual**2, axis=0) + more) / (n + len(added)) ** 2
    _, group = np.unique(blocks.scramble, return_inverse=True)
    groups = int(group.max()) + 1
    squared = independent
    if groups > 1:
        sums = np.stack([np.bincount(group, weights=r, minlength=groups) for r in residual.T], axis=1)
        between = groups / (groups - 1) * np.sum((sums - sums.mean(axis=0)) ** 2, axis=0) / n**2
        squared = np.maximum(between, independent) if event else between
    half = quantile * np.sqrt(squared) / variance
    return np.minimum(centre - half, value), np.maximum(centre + half, value)
