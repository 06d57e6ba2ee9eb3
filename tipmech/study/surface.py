"""Probability surfaces over the axes of an atlas: penalised logistic models, calibrated by cross-validation over sites.

Knows no physics. Sites, not insertions, are what is left out in cross-validation and drawn again in the bootstrap: the
insertions of one site share its place.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .intervals import Array, Ints, wilson

DEGREES = (1, 2, 3)  # of the polynomial, of which cross-validation takes one
PENALTIES = (0.01, 0.1, 1.0, 10.0)  # inverse strengths C, likewise
FOLDS = 5
RESAMPLES = 200
BINS = 10


@dataclass(frozen=True)
class Calibration:
    """How predicted probabilities agree with what happened, on sites left out of the fit.

    brier : mean squared error of the probabilities; base : of the overall share alone (a surface is worth something
    where brier is below it); predicted, seen, low, high, count : by bin of the prediction, with Wilson's interval
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
    """A fitted surface with its resamples: degree and penalty chosen, models (the first on all sites), calibration."""

    degree: int
    penalty: float
    models: tuple[Any, ...]
    calibration: Calibration

    def probability(self, x: Array) -> Array:
        """Probability at places x (n, axes) by every model, shape (1 + resamples, n)."""
        return np.stack([m.predict_proba(x)[:, 1] for m in self.models])


def fit(x: Array, event: NDArray[np.bool_], site: Ints, seed: int, resamples: int = RESAMPLES) -> Surface:
    """Fit P(event) over places.

    Parameters
    ----------
    x : ndarray, shape (n, axes)
        place of each insertion, -1 to 1 on every axis
    event : ndarray of bool, shape (n,)
    site : ndarray of int, shape (n,)
    seed : int
        of folds and resamples

    Raises
    ------
    ValueError
        where the event happened always or never: there is no surface
    """
    if event.all() or not event.any():
        raise ValueError("the event happened always or never")
    folds = _folds(site, seed)
    best: tuple[float, int, float, Array] | None = None
    for degree in DEGREES:
        for penalty in PENALTIES:
            p = _left_out(x, event, folds, degree, penalty)
            loss = -float(np.mean(np.where(event, np.log(p), np.log1p(-p))))
            if best is None or loss < best[0] - 1e-12:
                best = (loss, degree, penalty, p)
    assert best is not None
    _, degree, penalty, p = best
    rng = np.random.default_rng([seed, 5])
    models = [_model(degree, penalty).fit(x, event)]
    names = np.unique(site)
    members = {int(s): np.flatnonzero(site == s) for s in names}
    while len(models) < 1 + resamples:
        drawn = np.concatenate([members[int(s)] for s in rng.choice(names, len(names))])
        if event[drawn].any() and not event[drawn].all():
            models.append(_model(degree, penalty).fit(x[drawn], event[drawn]))
    return Surface(degree, penalty, tuple(models), calibration(p, event))


def calibration(p: Array, event: NDArray[np.bool_], bins: int = BINS) -> Calibration:
    """Reliability of probabilities p (n,): bins of about equal numbers, and Brier's score."""
    order = np.argsort(p, kind="stable")
    groups = [g for g in np.array_split(order, min(bins, len(p))) if len(g)]
    seen, counts = np.array([np.mean(event[g]) for g in groups]), np.array([len(g) for g in groups], dtype=np.int64)
    return Calibration(
        float(np.mean((p - event) ** 2)),
        float(np.mean(event) * (1.0 - np.mean(event))),
        np.array([float(np.mean(p[g])) for g in groups]),
        seen,
        *wilson(seen, counts, 1.96),
        counts,
    )


def _model(degree: int, penalty: float) -> Any:
    """Logistic regression on all products of the axes up to a degree."""
    from sklearn.linear_model import LogisticRegression
    from sklearn.pipeline import make_pipeline
    from sklearn.preprocessing import PolynomialFeatures, StandardScaler

    features = PolynomialFeatures(degree, include_bias=False)
    return make_pipeline(features, StandardScaler(), LogisticRegression(C=penalty, max_iter=2000))


def _folds(site: Ints, seed: int) -> Ints:
    """Fold of each insertion: whole sites, dealt out at random."""
    names = np.unique(site)
    fold = np.random.default_rng([seed, 3]).permutation(len(names)) % FOLDS
    return np.asarray(fold[np.searchsorted(names, site)])


def _left_out(x: Array, event: NDArray[np.bool_], folds: Ints, degree: int, penalty: float) -> Array:
    """Probability of each insertion by a model that has not seen its site."""
    p = np.empty(len(event))
    for k in range(FOLDS):
        out = folds == k
        rest = event[~out]
        if rest.all() or not rest.any():
            p[out] = np.mean(rest)
        else:
            p[out] = _model(degree, penalty).fit(x[~out], rest).predict_proba(x[out])[:, 1]
    return np.clip(p, 1e-6, 1.0 - 1e-6)
