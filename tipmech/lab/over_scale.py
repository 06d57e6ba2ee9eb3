"""Found designs over the calibrated scale: the interval of each wanted figure, and how likely it is met. SI units."""

from dataclasses import dataclass
from math import nan

import numpy as np

from ..wire.design import Coupling
from .evaluate import reduced_values
from .ratios import ratios_over
from .scale import Scale
from .wanted import Found, Wanted

WIRES = 128  # equally likely scales, at the middles of their shares (Hazen's positions): 1/128 of probability each
ENDS = (0.025, 0.975)


@dataclass(frozen=True)
class Band:
    """A wanted figure over the scale: ends of its 95 % interval, SI, and the probability that it is as wanted."""

    low: float
    high: float
    met: float


@dataclass(frozen=True)
class OverScale:
    """A found design over the scale.

    bands : one for each wanted figure, in order; nan where the bench found no equilibrium at an end or the median of
        the scale's 95 % interval
    all_met : probability that all wanted figures are as wanted together (one scale moves all of them)
    """

    bands: tuple[Band, ...]
    all_met: float


def over_scale(found: Found, wanted: tuple[Wanted, ...], scale: Scale, coupling: Coupling | None = None) -> OverScale:
    """A found design's wanted figures over `WIRES` equally likely scales.

    Reduced figures times simulated/reduced, which is taken at the ends and the median of the scale's 95 % interval.
    """
    figures = tuple({w.figure.key: w.figure for w in wanted}.values())
    ratios, scales = ratios_over(found.design, figures, scale, coupling), scale.middles(WIRES)
    rows = [reduced_values(found.design, figures, coupling, float(s)) for s in scales]
    bands, met = [], np.ones(WIRES, dtype=bool)
    for w in wanted:
        key = w.figure.key
        values = ratios.at(key, scales) * np.array([row[key] for row in rows])
        solved = bool(np.all(np.isfinite(values)))
        good = np.array([solved and w.met(float(v)) for v in values])
        first, last = np.quantile(values, ENDS, method="hazen") if solved else (nan, nan)
        bands.append(Band(float(first), float(last), float(np.mean(good)) if solved else nan))
        met &= good
    return OverScale(tuple(bands), float(np.mean(met)) if all(np.isfinite(b.met) for b in bands) else nan)
