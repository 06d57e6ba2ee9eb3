"""Means over strata of fixed weight, and their variance from scrambles that strata share. Knows no physics.

A stratum is an arm and angle: each has the same weight, however many scrambles it was given. The equations are in
docs/compare.md ("What is computed").
"""

from dataclasses import dataclass, replace
from math import inf, nan
from typing import Self

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Layout:
    """Where values lie: stratum, scramble, point and replicate of each, shape (n,).

    point : the same for all values that share one; replicate : -1 throughout where no shared unknown is drawn
    """

    stratum: Ints
    scramble: Ints
    point: Ints
    replicate: Ints

    @classmethod
    def of(cls, scramble: Ints) -> Self:
        """One stratum, every value a point of its own."""
        zero = np.zeros(len(scramble), dtype=np.int64)
        return cls(zero, scramble, np.arange(len(scramble)), zero - 1)

    def take(self, chosen: Ints | Flags) -> Self:
        """The layout of some of the values."""
        return replace(self, **{name: column[chosen] for name, column in vars(self).items()})


@dataclass(frozen=True)
class Spread:
    """Variance of a mean over strata, by what makes it vary.

    scrambles, degrees : variance from the scrambles' means, and its degrees of freedom
    points : the same if points were independent, whatever the strata of one have in common
    replicates, of_replicates : variance from the replicates' means (0 without them), its degrees of freedom
    worth : points that such a mean is one of, if points were independent
    """

    scrambles: float
    degrees: float
    points: float
    replicates: float
    of_replicates: float
    worth: float

    def variance(self, share: float = 1.0) -> float:
        """Variance in all: `share` of it from the scrambles, the rest of independent points; and of the replicates."""
        return share * self.scrambles + (1.0 - share) * self.points + self.replicates

    def freedom(self, share: float = 1.0) -> float:
        """Its degrees of freedom, by Satterthwaite; infinite where independent points are all there is to it."""
        parts = ((share * self.scrambles, self.degrees), (self.replicates, self.of_replicates))
        below = sum(v * v / degrees for v, degrees in parts if v > 0.0)
        return self.variance(share) ** 2 / below if below > 0.0 else inf


@dataclass(frozen=True)
class Strata:
    """What is used of a layout, ready to average: `use` says which values, shape (n,)."""

    layout: Layout
    use: Flags

    @property
    def n(self) -> int:
        """Values used."""
        return int(np.sum(self.use))

    def weights(self) -> Array:
        """Weight of each value, shape (n,): the same for every stratum, within one the same for every value used.

        Not a number where a stratum has none, for then nothing is known of the mean over all of them.
        """
        _, stratum = np.unique(self.layout.stratum, return_inverse=True)
        used = np.bincount(stratum, weights=self.use.astype(float))
        if not len(used) or np.any(used == 0.0):
            return np.full(len(self.use), nan)
        return np.where(self.use, 1.0 / (len(used) * used[stratum]), 0.0)

    def mean(self, value: Array) -> float:
        """Mean over strata of the means in each; unused values may be anything finite."""
        return float(np.sum(self.weights() * value)) if len(value) else nan

    def spread(self, value: Array) -> Spread:
        """Variance of `mean(value)`. A stratum with fewer than two scrambles, or one replicate alone, makes it nan."""
        weights = self.weights()
        _, stratum = np.unique(self.layout.stratum, return_inverse=True)
        centre = _sums(stratum, weights * value) * (stratum.max() + 1.0)
        off = weights * (value - centre[stratum])  # each value's share in the error of the mean
        scrambles, degrees = self._by_scramble(off, stratum)
        replicates, of_replicates = self._by_replicate(centre, stratum)
        point = np.unique(self.layout.point, return_inverse=True)[1]
        return Spread(
            scrambles,
            degrees,
            float(np.sum(_sums(point, off) ** 2)),
            replicates,
            of_replicates,
            1.0 / float(np.sum(_sums(point, weights) ** 2)),
        )

    def _by_scramble(self, off: Array, stratum: Ints) -> tuple[float, float]:
        """Variance with scrambles as clusters, and its degrees of freedom.

        Scrambles that were made for the same strata vary alike: Satterthwaite over these groups, less 1 for the mean.
        """
        names, scramble = np.unique(self.layout.scramble, return_inverse=True)
        made = np.zeros((len(names), int(stratum.max()) + 1), dtype=bool)
        used = made.copy()
        made[scramble, stratum] = True
        used[scramble[self.use], stratum[self.use]] = True
        count = used.sum(axis=0).astype(float)
        if np.any(count < 2.0):
            return nan, nan
        squares = _sums(scramble, off * np.sqrt(count / (count - 1.0))[stratum]) ** 2
        variance = float(squares.sum())
        _, group, sizes = np.unique(made, axis=0, return_inverse=True, return_counts=True)
        of_group = _sums(group.ravel(), squares)
        if variance == 0.0:
            return 0.0, float(len(names) - 1)
        return variance, max(1.0, variance**2 / float(np.sum(of_group**2 / sizes)) - 1.0)

    def _by_replicate(self, centre: Array, stratum: Ints) -> tuple[float, float]:
        """Variance of the mean from replicates as clusters of strata, and its degrees of freedom."""
        if not np.any(self.layout.replicate >= 0):
            return 0.0, inf
        of_stratum = np.zeros(len(centre), dtype=np.int64)
        of_stratum[stratum] = self.layout.replicate
        _, replicate = np.unique(of_stratum, return_inverse=True)
        groups = int(replicate.max()) + 1
        if groups < 2:
            return nan, nan
        off = _sums(replicate, (centre - centre.mean()) / len(centre))
        return groups / (groups - 1) * float(np.sum(off**2)), float(groups - 1)


def _sums(group: Ints, value: Array) -> Array:
    """Sums of values by group."""
    return np.asarray(np.bincount(group, weights=value), dtype=float)
