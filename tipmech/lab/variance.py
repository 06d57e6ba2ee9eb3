"""Shares of the variance of a figure's logarithm, by regression, and their bootstrap intervals. Floor 6."""

from math import nan

import numpy as np

from ..profile import Array

CONFIDENCE = 0.95  # of the intervals
RESAMPLES = 400  # bootstrap draws for the intervals of sd and shares: their own scatter is then below 1/20


def shares_of(scores: Array, logs: Array) -> tuple[Array, float]:
    """First-order shares of the variance of `logs` and R2: squares of standardised regression coefficients.

    Sum to R2 for independent inputs. Saltelli et al., Global Sensitivity Analysis, 2008, ch. 1 (from memory). A column
    that does not move has no share.
    """
    moved = np.ptp(scores, axis=0) > 0.0
    if not np.all(moved):
        out = np.zeros(scores.shape[1])
        out[moved], explained = shares_of(np.ascontiguousarray(scores[:, moved]), logs)
        return out, explained
    centred, spread = scores - scores.mean(axis=0), logs - logs.mean()
    total = float(spread @ spread)
    if total <= 0.0:
        return np.zeros(scores.shape[1]), nan
    slopes = np.linalg.lstsq(centred, spread, rcond=None)[0]
    rest = spread - centred @ slopes
    return np.asarray(slopes**2 * np.sum(centred**2, axis=0) / total), 1.0 - float(rest @ rest) / total


def intervals_of(scores: Array, logs: Array, seed: int) -> tuple[float, tuple[float, float], Array]:
    """Standard deviation of `logs`, its bootstrap interval, and those of the shares (T, 2)."""
    rng = np.random.default_rng(seed)
    sds, shares = [], []
    for _ in range(RESAMPLES):
        pick = rng.integers(0, len(logs), len(logs))
        sds.append(float(np.std(logs[pick], ddof=1)))
        shares.append(shares_of(scores[pick], logs[pick])[0])
    ends = [(1.0 - CONFIDENCE) / 2.0, (1.0 + CONFIDENCE) / 2.0]
    low, high = np.quantile(sds, ends)
    return float(np.std(logs, ddof=1)), (float(low), float(high)), np.quantile(np.array(shares), ends, axis=0).T
