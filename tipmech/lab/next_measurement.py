"""Which next measurement would narrow ln EI most: expected posterior sd, over what the present posterior predicts.

Preposterior analysis: Raiffa and Schlaifer, Applied Statistical Decision Theory, 1961 (from memory).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from ..bench.measured import LENGTH_CUT, LENGTH_SD, Datum, Kind, Setup
from ..profile import Profile
from .posterior import Array, Posterior, quantiles
from .response import Response, lengths_of, respond

CANDIDATES: tuple[tuple[Kind, float], ...] = (
    *(("tip_load", x) for x in (5e-3, 10e-3, 15e-3, 20e-3)),
    *(("lateral", x) for x in (5e-3, 10e-3, 20e-3)),
)
"""Kind and free length (m) of the measurements compared."""

READINGS = 32  # equally likely readings over which the posterior sd is averaged
NOISE_LEVELS = (np.arange(9) + 0.5) / 9.0
EVERY_X, EVERY_U = 4, 2  # nodes of the posterior's grid used: still three to a sd
CANDIDATE_SCALES = 2  # simulated scales of a candidate: off by 1e-4 at most where the posterior lies
LEAST_REACH = 0.05  # of ln scale: the simulated scales of a candidate lie at least this far apart


@dataclass(frozen=True)
class Candidate:
    """A measurement not made yet.

    kind, free_length : what and at which free length, m
    sd : expected posterior sd of ln scale once it is made, -
    """

    kind: Kind
    free_length: float
    sd: float


def rank_candidates(
    profile: Profile, posterior: Posterior, setup: Setup, log_sd: float, length_sd: float = LENGTH_SD
) -> tuple[Candidate, ...]:
    """Expected posterior sd of ln scale for every candidate the wire is long enough for, the best first.

    Parameters
    ----------
    profile : Profile
        the wire as drawn
    posterior : Posterior
        what is known by now
    setup : Setup
        the bench of the tip loads: the same end condition at every length, that of the data
    log_sd : float
        relative measurement error of the candidates, -
    length_sd : float
        error of their free lengths, m
    """
    found = []
    # simulated about the posterior, not about the drawing: two scales are then enough
    wire = profile.softened(float(np.exp(posterior.mean)))
    reach = max(posterior.sd, LEAST_REACH)
    for kind, length in CANDIDATES:
        if length + LENGTH_CUT * length_sd > profile.distance[-1]:
            continue
        response = respond(wire, kind, length, length_sd, setup, reach, CANDIDATE_SCALES)
        found.append(Candidate(kind, length, expected_sd(posterior, response, kind, length, length_sd, log_sd)))
    return tuple(sorted(found, key=lambda c: c.sd))


def expected_sd(
    posterior: Posterior, response: Response, kind: Kind, free_length: float, length_sd: float, log_sd: float
) -> float:
    """Posterior sd of ln scale after one more measurement, averaged over its predicted readings.

    Parameters
    ----------
    response : Response
        of the candidate, for ln scale counted from the posterior's mean
    """
    x = posterior.x[::EVERY_U, ::EVERY_X]
    weight = posterior.weight[::EVERY_U, ::EVERY_X].ravel()
    weight = weight / np.sum(weight)
    lengths, chances = lengths_of(kind, free_length, length_sd, log_sd)
    end = posterior.end[::EVERY_U, None]
    logs = np.array([response.log_value(x - posterior.mean, end, float(v)).ravel() for v in lengths])
    spread = logs[..., None] + log_sd * np.asarray(ndtri(NOISE_LEVELS))
    mass = np.broadcast_to((chances[:, None] * weight)[..., None], spread.shape)
    levels = (np.arange(READINGS) + 0.5) / READINGS
    readings = quantiles(spread.ravel(), mass.ravel(), [float(v) for v in levels])
    flat = x.ravel()
    return float(np.mean([_sd(flat, weight * _likelihood(r, logs, chances, log_sd)) for r in readings]))


def _likelihood(reading: float, logs: Array, chances: Array, log_sd: float) -> Array:
    """Likelihood of a reading (ln) at every node, up to a factor."""
    return np.asarray(chances @ np.exp(-0.5 * ((reading - logs) / log_sd) ** 2))


def _sd(values: Array, weights: Array) -> float:
    total = float(np.sum(weights))
    mean = float(np.sum(weights * values)) / total
    return float(np.sqrt(np.sum(weights * (values - mean) ** 2) / total))


def typical_error(data: Sequence[Datum]) -> float:
    """Relative error of a measurement like the user's: the median of theirs."""
    return float(np.median([d.log_sd for d in data]))
