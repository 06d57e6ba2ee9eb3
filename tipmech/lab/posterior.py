"""Posterior of a wire's scale and of its bench's end condition, by quadrature on a grid. Floor 6.

Unknown: x = ln scale of EI and GJ (the softness family), the end condition u = ln(c/2.467)/ln(20.19/2.467) in 0..1,
and of each measurement its free length. The free lengths are summed over inside the likelihood, so two dimensions
remain: rows of u, each with a grid of x of its own that spans what is not negligible in the row. No random numbers.
docs/wire/calibration.md.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from ..bench.measured import END_RANGE, FREE_C, Datum
from .response import Response, lengths_of

Array = NDArray[np.float64]

SCALE_LOG_SD = 0.5  # prior sd of ln scale: a drawing gives EI within a factor of 2.7 in 95 %; assumed
REACH = 6.0  # prior sd: the grid's limits in x
COARSE_X, COARSE_U = 481, 41  # first pass: spacing 1/40 prior sd; Gaussians four times as narrow are still found
FINE_X, FINE_U = 161, 201  # second pass, within the windows of the rows beside: about 10 nodes to a sd
LEAST_END = 1e-12  # keeps the log of the prior finite at a free tip, where its density is 0
DROP = 20.0  # of the log posterior below its maximum: beyond it a part in 1e8 is left out
NOISE_LEVELS = (np.arange(15) + 0.5) / 15.0  # of the measurement error in predictions
PREDICTED_U, PREDICTED_X = 4, 8  # every fourth row and eighth node in predictions: still more than one to a sd


@dataclass(frozen=True)
class Posterior:
    """Weights on a grid: rows of the end condition, each with its own ln scale.

    end : ndarray, shape (m,), end condition u (0 free, 1 pinned); one row where the bench's end is known
    x : ndarray, shape (m, n), ln scale
    density : ndarray, shape (m, n), posterior density of (x, u), normalised (of x where the end is known)
    weight : ndarray, shape (m, n), probability of each node; sums to 1
    end_known : the bench's end condition is given, `end` then means nothing
    prior_sd : of ln scale
    """

    end: Array
    x: Array
    density: Array
    weight: Array
    end_known: bool
    prior_sd: float

    @cached_property
    def mean(self) -> float:
        """Posterior mean of ln scale."""
        return float(np.sum(self.weight * self.x))

    @cached_property
    def sd(self) -> float:
        """Posterior sd of ln scale, that is of ln EI at every distance from the tip within 30 mm."""
        return float(np.sqrt(np.sum(self.weight * (self.x - self.mean) ** 2)))

    @cached_property
    def correlation(self) -> float:
        """Correlation of ln scale and ln c; nan where the end condition is known."""
        if self.end_known:
            return float("nan")
        rows = np.sum(self.weight, axis=1)
        off = self.end - np.sum(rows * self.end)
        joint = np.sum(self.weight * (self.x - self.mean) * off[:, None])
        return float(joint / (self.sd * np.sqrt(np.sum(rows * off**2))))

    def scale(self, levels: Sequence[float]) -> Array:
        """Quantiles of the scale, -."""
        return np.asarray(np.exp(spread_quantiles(self.x.ravel(), self.width.ravel(), self.weight.ravel(), levels)))

    @property
    def width(self) -> Array:
        """Width in ln scale of every node's cell, shape (m, n)."""
        return np.broadcast_to((self.x[:, 1] - self.x[:, 0])[:, None], self.x.shape)

    def end_c(self, levels: Sequence[float]) -> Array:
        """Quantiles of the end condition c of P = c EI/L^2, -; nan where it is known."""
        if self.end_known:
            return np.full(len(levels), np.nan)
        return FREE_C * np.exp(END_RANGE * quantiles(self.end, np.sum(self.weight, axis=1), levels))

    def below(self, x: float, end: float) -> tuple[float, float]:
        """Posterior probabilities of a smaller ln scale than `x`, and of a smaller end condition than `end`."""
        rows = np.sum(self.weight, axis=1)
        return float(np.sum(self.weight[self.x < x])), float(np.sum(rows[self.end < end]))

    def on(self, x: Array) -> Array:
        """Density on a common grid of ln scale, shape (m, len(x)); 0 outside each row's span."""
        rows = zip(self.x, self.density, strict=True)
        return np.array([np.interp(x, own, row, left=0.0, right=0.0) for own, row in rows])


def log_prior(x: Array, end: Array, prior_sd: float, *, end_known: bool) -> Array:
    """Log prior density: normal in ln scale; in ln c triangular with its mode at a pinned tip (references row 4)."""
    out = -0.5 * (x / prior_sd) ** 2
    if end_known:
        return out
    return np.asarray(out + np.log(2.0 * np.maximum(end, LEAST_END)))


def log_likelihood(datum: Datum, response: Response, x: Array, end: Array) -> Array:
    """Log likelihood of one measurement at ln scale `x` and end condition `end`, summed over its free length."""
    lengths, weights = lengths_of(datum.kind, datum.free_length, datum.length_sd, datum.log_sd)
    total = np.full(np.broadcast_shapes(x.shape, end.shape), -np.inf)
    for length, weight in zip(lengths, weights, strict=True):
        value = response.log_value(x, end, float(length))
        off = np.log(datum.value) - value if datum.relative else datum.value - np.exp(value)
        np.logaddexp(total, np.log(weight) - 0.5 * (off / datum.error) ** 2, out=total)
    return total


def calibrate(
    data: Sequence[Datum], responses: Sequence[Response], *, end_known: bool, prior_sd: float = SCALE_LOG_SD
) -> Posterior:
    """Posterior of ln scale and end condition given measurements and the simulated response of each.

    Parameters
    ----------
    data, responses : sequences of equal length
        measurements, and what the bench simulated with the rod gives for them
    end_known : bool
        the bench's end condition is known (the responses have one end)
    prior_sd : float
        prior sd of ln scale
    """

    def log_posterior(x: Array, end: Array) -> Array:
        out = log_prior(x, end, prior_sd, end_known=end_known)
        for datum, response in zip(data, responses, strict=True):
            out = out + log_likelihood(datum, response, x, end)
        return out

    coarse = np.linspace(-REACH, REACH, COARSE_X) * prior_sd
    first = np.zeros(1) if end_known else np.linspace(0.0, 1.0, COARSE_U)
    rows = log_posterior(coarse[None, :], first[:, None])
    spans = np.array([_window(coarse, row) for row in rows])
    end = first
    if not end_known:
        end = np.linspace(*_window(first, np.max(rows, axis=1)), FINE_U)
        before = np.clip(np.searchsorted(first, end, side="right") - 1, 0, COARSE_U - 2)
        spans = np.array([[min(spans[k, 0], spans[k + 1, 0]), max(spans[k, 1], spans[k + 1, 1])] for k in before])
    x = np.linspace(spans[:, 0], spans[:, 1], FINE_X, axis=1)
    logs = log_posterior(x, end[:, None])
    density = np.exp(logs - np.max(logs))
    cell = (x[:, 1] - x[:, 0])[:, None] * np.ones(FINE_X)
    cell[:, [0, -1]] *= 0.5
    if not end_known:
        cell *= end[1] - end[0]
        cell[[0, -1]] *= 0.5
    total = np.sum(density * cell)
    return Posterior(end, x, density / total, density * cell / total, end_known, prior_sd)


def quantiles(values: Array, weights: Array, levels: Sequence[float]) -> Array:
    """Quantiles of a weighted sample: its distribution function taken at the middle of each step, linear between."""
    order = np.argsort(values, kind="stable")
    steps = weights[order]
    return np.asarray(np.interp(levels, (np.cumsum(steps) - 0.5 * steps) / np.sum(steps), values[order]))


def spread_quantiles(values: Array, widths: Array, weights: Array, levels: Sequence[float]) -> Array:
    """Quantiles of weights spread evenly over cells about their values: rows of a grid share nodes or nearly do."""
    places = np.concatenate([values - 0.5 * widths, values + 0.5 * widths])
    slopes = np.concatenate([weights / widths, -weights / widths])
    order = np.argsort(places, kind="stable")
    edges = places[order]
    below = np.concatenate([[0.0], np.cumsum(np.cumsum(slopes[order])[:-1] * np.diff(edges))])
    below = np.maximum.accumulate(below)  # rounding: sums of slopes that cancel
    return np.asarray(np.interp(levels, below / below[-1], edges))


@dataclass(frozen=True)
class Prediction:
    """Posterior predictive of a repeated measurement: another mounting (free length), another reading.

    low95, low50, median, high50, high95 : quantiles, N or N/m
    below : probability of a smaller reading than the measured one
    """

    low95: float
    low50: float
    median: float
    high50: float
    high95: float
    below: float

    @property
    def surprise(self) -> float:
        """Two-sided tail probability of the measured value; small: the model does not fit this measurement."""
        return 2.0 * min(self.below, 1.0 - self.below)


def predict(posterior: Posterior, datum: Datum, response: Response) -> Prediction:
    """Posterior predictive of one of the user's measurements, with its errors."""
    thin = np.s_[::PREDICTED_U, ::PREDICTED_X]
    x, end = posterior.x[thin], posterior.end[::PREDICTED_U, None]
    lengths, weights = lengths_of(datum.kind, datum.free_length, datum.length_sd, 1.0)
    logs = np.array([response.log_value(x, end, float(length)) for length in lengths])
    z = np.asarray(ndtri(NOISE_LEVELS))
    clean = logs[..., None]
    values = np.exp(clean + datum.error * z) if datum.relative else np.exp(clean) + datum.error * z
    chance = weights[:, None, None] * posterior.weight[thin][None]
    chances = np.broadcast_to(chance[..., None] / len(z), values.shape)
    found = quantiles(values.ravel(), chances.ravel(), (0.025, 0.25, 0.5, 0.75, 0.975))
    below = float(np.sum(chances[values < datum.value]) / np.sum(chances))
    low95, low50, median, high50, high95 = (float(v) for v in found)
    return Prediction(low95, low50, median, high50, high95, below)


def _window(nodes: Array, logs: Array) -> tuple[float, float]:
    """Range of nodes whose log density is within `DROP` of the largest, one node more on either side."""
    inside = np.flatnonzero(logs > np.max(logs) - DROP)
    first, last = max(inside[0] - 1, 0), min(inside[-1] + 1, len(nodes) - 1)
    return float(nodes[first]), float(nodes[last])
