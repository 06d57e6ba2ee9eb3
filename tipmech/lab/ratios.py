"""Simulated over reduced figures of a design, over the calibrated scale. SI units."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..profile import Array
from ..wire.design import Coupling, Design
from .evaluate import reduced_values, simulated_values
from .figure import Figure
from .scale import Scale

ENDS = np.array([0.025, 0.5, 0.975])  # of the scale's distribution, where both are evaluated


@dataclass(frozen=True)
class Ratios:
    """Ratio simulated/reduced of each figure at three scales, linear in the logarithm of the scale between them.

    For a tip load it hardly depends on the scale; that of the torque ratio does, for only the distal wire is scaled.

    places : ndarray, shape (3,), ln scale
    values : dict, figure's key -> ndarray, shape (3,); 1 without a simulated test, nan where it found no equilibrium
    """

    places: Array
    values: dict[str, Array]

    def at(self, key: str, scales: Array) -> Array:
        """Ratio of a figure at scales (n,), -; that of the nearest end beyond the three."""
        return np.asarray(np.interp(np.log(scales), self.places, self.values[key]))


def ratios_over(design: Design, figures: Sequence[Figure], scale: Scale, coupling: Coupling | None = None) -> Ratios:
    """Ratios of a design's figures at the ends and the median of the scale's 95 % interval."""
    scales = scale.at(ENDS)
    rows = []
    for s in scales.tolist():
        reduced = reduced_values(design, figures, coupling, s)
        simulated = simulated_values(design, figures, coupling, s)
        rows.append({f.key: simulated.get(f.key, reduced[f.key]) / reduced[f.key] for f in figures})
    return Ratios(np.log(scales), {f.key: np.array([row[f.key] for row in rows]) for f in figures})
