"""What the counts of an atlas say beyond its surfaces: paired differences at the sites near a place on one axis or two.

A smooth surface cannot follow an edge (a gap wider than the wire, say): beside one it is off by more than the sites
drawn again can show. On one axis or two at a time the sites near a place hold enough insertions to show it.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from .intervals import Array

NEAR, FEWEST = 16, 8  # the nearest sixteenth of the sites, and at least so many


@dataclass(frozen=True)
class Beside:
    """Places of the sites, shape (sites, axes), and of each event the seen less the fitted difference of the designs at
    each site, shape (sites,)."""

    places: Array
    excess: Mapping[str, Array]

    def along(self, event: str, x: Array, group: int) -> tuple[Array, Array]:
        """Mean excess at the sites nearest to places x (n, axes or more) on each axis and each pair of axes, and its
        standard error, means over `group` places that follow each other; each of shape (axes and pairs, n / group)."""
        near = min(len(self.places), max(FEWEST, len(self.places) // NEAR))
        axes = self.places.shape[1]
        mean, error = [], []
        for on in [*combinations(range(axes), 1), *combinations(range(axes), 2)]:
            at, back = np.unique(x[:, on], axis=0, return_inverse=True)
            off = sum((at[:, None, k] - self.places[:, axis]) ** 2 for k, axis in enumerate(on))
            mine = self.excess[event][np.argpartition(off, near - 1, axis=1)[:, :near]]
            back = back.reshape(-1)
            mean.append(mine.mean(axis=1)[back].reshape(-1, group).mean(axis=1))
            error.append((mine.std(axis=1, ddof=1) / np.sqrt(near))[back].reshape(-1, group).mean(axis=1))
        return np.array(mean), np.array(error)
