"""Probability surfaces over the axes of an atlas: penalised logistic models, calibrated by cross-validation over sites.

Knows no physics. Sites, not insertions, are what is left out in cross-validation and drawn again in the bootstrap: the
insertions of one site share its place. Surfaces that are to be subtracted are fitted together, with one degree and one
penalty and on the same drawn sites: else their difference would be that of two models.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

from .intervals import Array, Ints, wilson
from .streams import Use, stream

DEGREES = (1, 2, 3)  # of the polynomial, of which cross-validation takes one
PENALTIES = (0.01, 0.1, 1.0, 10.0)  # inverse strengths C, likewise
FOLDS = 5
RESAMPLES = 200
BINS = 10
ITERATIONS = 200  # of Newton's method at most; a handful is usual


@dataclass(frozen=True)
class Counts:
    """Of one kind of event, at each place: in how many insertions it happened, of how many solved, and how many more
    were not solved; shape (places,)."""

    happened: Ints
    solved: Ints
    unsolved: Ints

    @property
    def one_sided(self) -> bool:
        """Whether it happened always or never."""
        return bool(np.all(self.happened == 0) or np.all(self.happened == self.solved))

    def times(self, n: NDArray[Any]) -> "Counts":
        """Each place counted n times."""
        return Counts(self.happened * n, self.solved * n, self.unsolved * n)


@dataclass(frozen=True)
class Calibration:
    """How predicted probabilities agree with what happened, on sites left out of the fit.

    brier : mean squared error of the probabilities; base : of the overall share of the sites not left out (a surface
    tells something where brier is below it); predicted, seen, low, high, count : by bin of the prediction, with
    Wilson's interval
    """

    brier: float
    base: float
    predicted: Array
    seen: Array
    low: Array
    high: Array
    count: Ints


@dataclass(frozen=True)
class Surface:
    """A fitted surface: degree and penalty chosen, weights of 1 and of every product of the axes, shape
    (1 + resamples, 1 + terms), those of all sites first; calibration.

    extremes : weights, shape (2, 1 + terms), were the event to have happened in none, and in all, of the insertions
        that were not solved
    """

    degree: int
    penalty: float
    weights: Array
    extremes: Array
    calibration: Calibration

    def probability(self, x: Array) -> Array:
        """Probability at places x (n, axes) by every model, shape (1 + resamples, n)."""
        return self._at(x, self.weights)

    def bounds(self, x: Array) -> Array:
        """Probability at places x with what was not solved counted as "did not happen", then as "happened": (2, n)."""
        return self._at(x, self.extremes)

    def _at(self, x: Array, weights: Array) -> Array:
        return np.asarray(expit(weights[:, :1] + weights[:, 1:] @ terms(x, self.degree).T))


def terms(x: Array, degree: int) -> Array:
    """All products of the axes up to a degree, shape (n, terms)."""
    from sklearn.preprocessing import PolynomialFeatures

    return np.asarray(PolynomialFeatures(degree, include_bias=False).fit_transform(x))


def fit(x: Array, site: Ints, counts: Sequence[Counts], draws: Array, seed: int) -> tuple[Surface, ...]:
    """Fit P(event) over places, one surface for each of the counts.

    Parameters
    ----------
    x : ndarray, shape (places, axes)
        -1 to 1 on every axis
    site : ndarray of int, shape (places,)
    draws : ndarray, shape (resamples, places)
        how often each place counts in each resample (`drawn`)
    seed : int
        of the study
    """
    folds = _folds(site, seed)
    losses = {}
    for degree in DEGREES:
        made = terms(x, degree)
        for penalty in PENALTIES:
            left_out = [_left_out(made, c, folds, penalty) for c in counts]
            losses[degree, penalty] = sum(_loss(p, c) for p, c in zip(left_out, counts, strict=True)), left_out
    degree, penalty = min(losses, key=lambda key: losses[key][0])
    made, out = terms(x, degree), []
    for c, p in zip(counts, losses[degree, penalty][1], strict=True):
        weights = np.stack(list(_models(made, c, np.concatenate([np.ones((1, len(x))), draws]), penalty)))
        extremes = _extremes(made, c, penalty) if np.any(c.unsolved) else np.repeat(weights[:1], 2, axis=0)
        share = np.array([np.sum(c.happened[folds != k]) / np.sum(c.solved[folds != k]) for k in range(FOLDS)])[folds]
        events = np.concatenate([np.arange(n) < k for k, n in zip(c.happened, c.solved, strict=True)])
        agreed = calibration(np.repeat(p, c.solved), events, np.repeat(share, c.solved))
        out.append(Surface(degree, penalty, weights, extremes, agreed))
    return tuple(out)


def drawn(site: Ints, counts: Sequence[Counts], seed: int, resamples: int = RESAMPLES) -> Array:
    """Sites drawn again, with replacement: how often each place counts, shape (resamples, places).

    A draw in which one of the events happened always or never is made again.
    """
    rng, out = stream(seed, Use.DRAWS), list[Array]()
    names, place = np.unique(site, return_inverse=True)
    while len(out) < resamples:
        times = np.bincount(rng.integers(len(names), size=len(names)), minlength=len(names))[place]
        if not any(c.times(times).one_sided for c in counts):
            out.append(times.astype(float))
    return np.array(out).reshape(resamples, len(site))


def calibration(p: Array, event: NDArray[np.bool_], share: Array, bins: int = BINS) -> Calibration:
    """Reliability of probabilities p (n,) beside the share alone: bins of about equal numbers, Brier's score."""
    order = np.argsort(p, kind="stable")
    groups = [g for g in np.array_split(order, min(bins, len(p))) if len(g)]
    seen, number = np.array([np.mean(event[g]) for g in groups]), np.array([len(g) for g in groups], dtype=np.int64)
    return Calibration(
        float(np.mean((p - event) ** 2)),
        float(np.mean((share - event) ** 2)),
        np.array([float(np.mean(p[g])) for g in groups]),
        seen,
        *wilson(seen, number, 1.96),
        number,
    )


def _models(made: Array, counts: Counts, times: Array, penalty: float) -> Iterator[Array]:
    """Weights (1 + terms,) of logistic regressions on the terms, each with places counted so many times."""
    from sklearn import config_context
    from sklearn.linear_model import LogisticRegression

    middle, size = made.mean(axis=0), made.std(axis=0)
    size[size < 1e-9] = 1.0  # a product that is the same everywhere
    x = np.concatenate([(made - middle) / size] * 2)
    y = np.repeat([True, False], len(made))
    model: Any = LogisticRegression(C=penalty, solver="newton-cholesky", max_iter=ITERATIONS, warm_start=True)
    for row in times:
        n = np.concatenate([row * counts.happened, row * (counts.solved - counts.happened)])
        with config_context(assume_finite=True, skip_parameter_validation=True):  # half of the time is else theirs
            model.fit(x[n > 0], y[n > 0], sample_weight=n[n > 0])
        slope = model.coef_[0] / size
        yield np.concatenate([model.intercept_ - slope @ middle, slope])


def _extremes(made: Array, counts: Counts, penalty: float) -> Array:
    """Weights with none and with all of what was not solved counted as events, shape (2, 1 + terms)."""
    n, none = counts.solved + counts.unsolved, np.zeros_like(counts.unsolved)
    ends = (Counts(counts.happened + more, n, none) for more in (none, counts.unsolved))
    return np.concatenate([np.stack(list(_models(made, c, np.ones((1, len(made))), penalty))) for c in ends])


def _folds(site: Ints, seed: int) -> Ints:
    """Fold of each place: whole sites, dealt out at random."""
    names, place = np.unique(site, return_inverse=True)
    return np.asarray((stream(seed, Use.FOLDS).permutation(len(names)) % FOLDS)[place])


def _left_out(made: Array, counts: Counts, folds: Ints, penalty: float) -> Array:
    """Probability at each place by a model that has not seen its site."""
    p = np.empty(len(made))
    for k in range(FOLDS):
        out = folds == k
        rest = counts.times(~out)
        if rest.one_sided:
            p[out] = np.sum(rest.happened) / np.sum(rest.solved)
        else:
            (weights,) = _models(made, counts, (~out).astype(float)[None, :], penalty)
            p[out] = expit(weights[0] + made[out] @ weights[1:])
    return np.clip(p, 1e-6, 1.0 - 1e-6)


def _loss(p: Array, counts: Counts) -> float:
    """Minus the logarithm of the likelihood."""
    return -float(np.sum(counts.happened * np.log(p) + (counts.solved - counts.happened) * np.log1p(-p)))
