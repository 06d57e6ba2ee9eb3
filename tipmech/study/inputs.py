"""Unknowns that scatter from insertion to insertion: named distributions, one Sobol' dimension each.

Row numbers are those of the table "values that decide entry probability" (docs/parameters.md). The same points are
used in every cell of a study (common random numbers), and every point's seed follows from (study seed, index).
"""

from dataclasses import dataclass
from math import inf, log, pi
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import stats
from scipy.stats import qmc

from .spec import LONGEST_UNSUPPORTED, LONGEST_WINDOW, THICKEST_FLAP, StudySpec

Array = NDArray[np.float64]

TINY = 2.0**-31  # half a bin of the 30-bit Sobol' sequence: keeps u off 0 and 1, where a normal has no value
FRICTION_SCATTER = ((0.04, 0.5), (0.12, 0.4), (0.25, 0.35))  # median friction, log-sd: row 7


@dataclass(frozen=True)
class Unknown:
    """One unknown: its distribution, cut to [low, high], mapped from u in (0, 1) by the inverse of its CDF.

    name with its SI unit; source: where the distribution comes from, or "assumed"; zero_below: for u below this the
    value is 0, and the rest of (0, 1) is stretched over the distribution.
    """

    name: str
    unit: str
    distribution: Any
    source: str
    low: float = -inf
    high: float = inf
    zero_below: float = 0.0

    def value(self, u: float) -> float:
        """Value at the probability `u` of the cut distribution."""
        if u < self.zero_below:
            return 0.0
        u = (u - self.zero_below) / (1.0 - self.zero_below)
        first, last = float(self.distribution.cdf(self.low)), float(self.distribution.cdf(self.high))
        return float(np.clip(self.distribution.ppf(first + u * (last - first)), self.low, self.high))


def _lognormal(median: float, log_sd: float) -> Any:
    return stats.lognorm(s=log_sd, scale=median)


UNKNOWNS: tuple[Unknown, ...] = (
    Unknown("fracture_energy_factor", "-", _lognormal(1.0, 0.5), "row 1, scatter about the shared median; assumed"),
    Unknown("mouth_gap", "m", _lognormal(0.25e-3, 0.6), "row 3; assumed, no source", 0.02e-3, 1.2e-3),
    Unknown(
        "unsupported_length", "m", _lognormal(8e-3, 0.6), "row 6; assumed; cut to 2-30 mm", 2e-3, LONGEST_UNSUPPORTED
    ),
    Unknown("friction_z", "-", stats.norm(), "row 7, standard normal times the log-sd of the surface"),
    Unknown("tip_radius_factor", "-", stats.norm(1.0, 0.125), "row 9: sd 0.02 of 0.16 mm; cut to +- 2 sd", 0.75, 1.25),
    Unknown("youngs_modulus", "Pa", _lognormal(0.6e6, 0.6), "row 10; assumed"),
    Unknown(
        "flap_thickness", "m", stats.norm(0.348e-3, 0.084e-3), "row 11 (tomography of 11 flaps)", 0.1e-3, THICKEST_FLAP
    ),
    Unknown("room", "m", _lognormal(2e-3, 0.5), "row 13; assumed, no source; cut below at 0.6 mm", 0.6e-3, inf),
    Unknown("thickness", "m", _lognormal(0.8e-3, 0.5), "row 14: closed with probability 0.5; assumed", zero_below=0.5),
    Unknown("window_length", "m", _lognormal(2e-3, 0.5), "row 15; assumed; cut to 0.5-6 mm", 0.5e-3, LONGEST_WINDOW),
    Unknown("free_lip", "-", stats.randint(0, 2), "row 15: 1 = downstream lip free, 0 = upstream; assumed"),
    Unknown("roll_share", "-", stats.uniform(-1.0, 2.0), "row 16: share of the roll's half range; assumed"),
    Unknown(
        "offset_share", "-", stats.powerlaw(2.0), "row 16: radius in the free disc, uniform over its area; assumed"
    ),
    Unknown("offset_direction", "rad", stats.uniform(0.0, 2.0 * pi), "row 16; assumed"),
    Unknown("pressure", "Pa", stats.uniform(-1.3e3, 2.6e3), "row 18: 0 +- 10 mmHg; assumed"),
    Unknown("lip_radius", "m", stats.uniform(0.05e-3, 0.1e-3), "0.05-0.15 mm; assumed"),
    Unknown("front_stiffness", "N/m", _lognormal(600.0, 0.5), "contact stiffness of the front; assumed", 150.0, 2400.0),
)
NAMES = tuple(x.name for x in UNKNOWNS)


def sobol_points(spec: StudySpec) -> Array:
    """Scrambled Sobol' points of all scrambles, one after the other.

    Returns
    -------
    ndarray, shape (scrambles * points, number of unknowns)
        values in (0, 1); scramble k is seeded by (study seed, k), so each is independent of how many there are
    """
    return np.concatenate([scramble_points(spec.seed, k, spec.points) for k in range(spec.scrambles)])


def points_between(seed: int, points: int, first: int, last: int) -> Array:
    """Rows first..last-1 of all scrambles of a study, each of so many `points`: only what is asked for is drawn."""
    scrambles = range(first // points, -(-last // points))
    u = np.concatenate([scramble_points(seed, k, points) for k in scrambles])
    return u[first - scrambles[0] * points : last - scrambles[0] * points]


def scramble_points(seed: int, scramble: int, points: int) -> Array:
    """Points of one scramble, shape (points, number of unknowns), values in (0, 1)."""
    rng = np.random.default_rng(np.random.SeedSequence([seed, scramble]))
    return np.clip(qmc.Sobol(len(UNKNOWNS), scramble=True, rng=rng).random(points), TINY, 1.0 - TINY)


def point_seed(study_seed: int, index: int) -> int:
    """Seed of one point's imperfection, from the study seed and the point's index."""
    return int(np.random.SeedSequence([study_seed, 7, index]).generate_state(1)[0])


def draw(u: Array) -> dict[str, float]:
    """Values of all unknowns (SI) at one point `u`, shape (number of unknowns,)."""
    if len(u) != len(UNKNOWNS):
        raise ValueError(f"a point has {len(u)} coordinates; allowed: {len(UNKNOWNS)}, one for each unknown")
    return {x.name: x.value(float(v)) for x, v in zip(UNKNOWNS, u, strict=True)}


def friction_log_sd(median: float) -> float:
    """Scatter (log-sd) of a surface's friction: row 7, linear in log(median) between its three surfaces."""
    medians, sds = np.array(FRICTION_SCATTER).T
    return float(np.interp(log(max(median, 1e-6)), np.log(medians), sds))
