"""The scale of EI and GJ that a calibration found, as an uncertainty of later computations. Floor 6.

The scale is the sample's EI over that of the drawing. It corrects the model of one construction (its parts, their
materials, the coupling): it is carried to a wire of the same parts, and to designs made from it by changing their
dimensions; to no other one.
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ..checks import InputError
from ..profile import Profile
from ..wire.design import Coupling, Design
from .posterior import Array, spread_quantiles
from .posterior_file import read_posterior


@dataclass(frozen=True)
class Scale:
    """Distribution of the scale: weights spread evenly over cells of its logarithm.

    path : Path
        the posterior's file
    x, width, weight : ndarray, shape (n,)
        ln scale, width of its cell, probability
    """

    path: Path
    x: Array
    width: Array
    weight: Array

    def at(self, levels: Array) -> Array:
        """Quantiles of the scale at probabilities `levels`, -."""
        return np.asarray(np.exp(spread_quantiles(self.x, self.width, self.weight, [float(v) for v in levels])))

    @property
    def median(self) -> float:
        """Median scale, -."""
        return float(self.at(np.array([0.5]))[0])

    def middles(self, n: int) -> Array:
        """Scales in the middle of n equal shares of probability, increasing, each as likely as the others: (n,)."""
        return self.at((np.arange(n) + 0.5) / n)

    def words(self) -> str:
        """Median and 95 % interval in words."""
        low, middle, high = self.at(np.array([0.025, 0.5, 0.975]))
        return f"{middle:.3g} (95 %: {low:.3g} to {high:.3g})"


def read_scale(path: Path, design: Design, coupling: Coupling | None = None) -> Scale:
    """Scale of a posterior file of `tipmech calibrate`, for the wire that it belongs to.

    Parameters
    ----------
    design : Design
        the wire of the later computation: same parts, same coupling
    coupling : {"sliding", "bonded"}, optional
        the later computation's, where it is not the design's own

    Raises
    ------
    InputError
        when the file is no posterior, or that of another wire
    """
    own, x, width, weight = read_posterior(path)
    if own.parts != design.parts:
        raise InputError(f"{path}: belongs to the wire {own.name!r}; allowed: the posterior of {design.name!r}")
    used = coupling or design.coupling
    if own.coupling != used:
        raise InputError(f"{path}: was calibrated with coupling {own.coupling!r}; allowed: {used!r}, that of this wire")
    return Scale(Path(path), x, width, weight)


def scaled(stock: Profile, scale: float) -> Profile:
    """Profile with EI and GJ times `scale` (the softness family); 1 leaves it as it is, to the bit."""
    return stock if scale == 1.0 else stock.softened(scale)
