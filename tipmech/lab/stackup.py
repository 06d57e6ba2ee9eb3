"""Tolerances of the dimensions -> distribution of one bench figure, its yield, and each dimension's share. SI units.

Scrambled Sobol' points over the tolerances, the reduced figure at each times its ratio simulated/reduced at the
nominal design; some of the points are simulated to check that. Sample, evaluate, estimate: three steps over one table.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import isfinite, nan
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.stats import binomtest, norm, qmc

from ..checks import FieldError, check_positive, check_range
from ..profile import Array
from ..wire.design import Coupling, Design
from ..wire.dimensions import Dimension
from .evaluate import buildable, reduced_values, simulated_values
from .reduced import Figure

POINTS = 512  # a power of 2, which keeps a Sobol' set balanced
CHECKS = 16  # points simulated
SIGMAS = 3.0  # standard deviations within a stated +- of a normal tolerance: a process just capable; assumed
EDGE = 1e-9  # probabilities are kept so far from 0 and 1: a normal's 6 sigma
CONFIDENCE = 0.95  # of the intervals
RESAMPLES = 400  # bootstrap draws for the intervals of sd and shares: their own scatter is then below 1/20

Distribution = Literal["normal", "uniform"]


@dataclass(frozen=True)
class Tolerance:
    """Manufacturing tolerance of a dimension: +- `plus_minus` (m), independent of the others.

    normal : standard deviation `plus_minus`/`sigmas`, not cut off
    uniform : anywhere within
    """

    dimension: Dimension
    plus_minus: float
    distribution: Distribution = "normal"
    sigmas: float = SIGMAS

    def __post_init__(self) -> None:
        check_positive(self.plus_minus, name=f"tolerance of {self.dimension.name}")
        check_range(self.sigmas, name="sigmas", low=1.0, high=6.0)

    def values(self, probability: Array) -> Array:
        """Dimension at probabilities (n,), m."""
        if self.distribution == "uniform":
            return np.asarray(self.dimension.value + self.plus_minus * (2.0 * probability - 1.0))
        steps = norm.ppf(np.clip(probability, EDGE, 1.0 - EDGE))
        return np.asarray(self.dimension.value + self.plus_minus / self.sigmas * steps)

    def words(self) -> str:
        """The tolerance in words."""
        said = f"±{self.plus_minus * 1e3:.4g} mm"
        return f"{said} uniform" if self.distribution == "uniform" else f"{said} normal ({self.sigmas:g} sd)"


@dataclass(frozen=True)
class StackUp:
    """Distribution of a figure over T tolerances at n points.

    figure : Figure
    tolerances : tuple of Tolerance, T
    nominal : value at the nominal design, simulated where there is a test, SI
    ratio : simulated/reduced there
    dimensions : ndarray, shape (n, T), m
    values : ndarray, shape (n,), figure, SI; nan: parts that do not fit together
    unbuildable : how many
    quantiles : dict, 0.025, 0.25, 0.5, 0.75, 0.975 -> value, SI
    log_sd : standard deviation of ln(figure), with its interval `log_sd_interval`
    shares : ndarray, shape (T,), share of each tolerance in the variance of ln(figure), first order, by regression
    share_intervals : ndarray, shape (T, 2)
    explained : R2 of that regression; 1 - R2 is curvature and interaction
    band : wanted band, SI, or None
    yield_share, yield_interval : share of all points within the band (unbuildable ones are not), Wilson's interval,
        which is wider than that of a Sobol' set; nan without a band
    checked : ndarray of int, shape (m,), points that were simulated
    simulated : ndarray, shape (m,), their simulated figures, SI; nan: not solved; m = 0 without a simulated test
    worst_check : largest |ln(simulated/value)| of them
    """

    figure: Figure
    tolerances: tuple[Tolerance, ...]
    nominal: float
    ratio: float
    dimensions: Array
    values: Array
    unbuildable: int
    quantiles: dict[float, float]
    log_sd: float
    log_sd_interval: tuple[float, float]
    shares: Array
    share_intervals: Array
    explained: float
    band: tuple[float, float] | None
    yield_share: float
    yield_interval: tuple[float, float]
    checked: NDArray[np.int64]
    simulated: Array
    worst_check: float


def stack_up(
    design: Design,
    tolerances: Sequence[Tolerance],
    figure: Figure,
    *,
    band: tuple[float, float] | None = None,
    points: int = POINTS,
    checks: int = CHECKS,
    seed: int = 1,
    coupling: Coupling | None = None,
    report: Callable[[float, float], None] = lambda done, total: None,
) -> StackUp:
    """Distribution of a figure over the tolerances.

    Parameters
    ----------
    design : Design
        nominal wire; its dimensions are those the tolerances were made from
    tolerances : sequence of Tolerance
        at least one
    figure : Figure
        row of `reduced.FIGURES`
    band : tuple of float, optional
        allowed values, SI
    points : int
        reduced models; a power of 2, at least 16
    checks : int
        of them simulated, spread over the distribution; 0 for none
    seed : int
        of the scramble

    Raises
    ------
    FieldError
        on bad arguments, or when less than half of the points can be built
    """
    _check(tolerances, band, points, checks)
    table = _sample(tolerances, points, seed)
    nominal = reduced_values(design, [figure], coupling)[figure.key]
    tested = simulated_values(design, [figure], coupling).get(figure.key, nan)
    if figure.simulated is not None and not isfinite(tested):
        allowed = "a figure for which the bench finds an equilibrium of the nominal wire"
        raise FieldError("figure", figure.name, allowed)
    ratio = tested / nominal if figure.simulated is not None else 1.0
    names = [t.dimension.name for t in tolerances]
    values = np.full(points, nan)
    for k, row in enumerate(table):
        if k % 64 == 0:
            report(k, points)
        one = buildable(design, dict(zip(names, row.tolist(), strict=True)))
        if one is not None:
            values[k] = ratio * reduced_values(one, [figure], coupling)[figure.key]
    good = np.flatnonzero(np.isfinite(values))
    if 2 * len(good) < points:
        raise FieldError("tolerances", f"{points - len(good)} of {points} wires unbuildable", "parts that mostly fit")
    checked = _picked(values, good, checks if figure.simulated is not None else 0)
    simulated = np.array(
        [simulated_values(_built(design, names, table[k]), [figure], coupling)[figure.key] for k in checked]
    )
    off = np.abs(np.log(simulated / values[checked]))
    logs = np.log(values[good])
    slopes, explained = _shares(_scores(tolerances, table[good]), logs)
    sd, sd_interval, share_intervals = _intervals(_scores(tolerances, table[good]), logs, seed)
    inside = int(np.sum((values[good] >= band[0]) & (values[good] <= band[1]))) if band else 0
    wilson = binomtest(inside, points).proportion_ci(CONFIDENCE, method="wilson")
    return StackUp(
        figure=figure,
        tolerances=tuple(tolerances),
        nominal=nominal * ratio,
        ratio=ratio,
        dimensions=table,
        values=values,
        unbuildable=points - len(good),
        quantiles={q: float(np.quantile(values[good], q)) for q in (0.025, 0.25, 0.5, 0.75, 0.975)},
        log_sd=sd,
        log_sd_interval=sd_interval,
        shares=slopes,
        share_intervals=share_intervals,
        explained=explained,
        band=band,
        yield_share=inside / points if band else nan,
        yield_interval=(float(wilson.low), float(wilson.high)) if band else (nan, nan),
        checked=checked,
        simulated=simulated,
        worst_check=float(np.nanmax(off, initial=0.0)),
    )


def _check(tolerances: Sequence[Tolerance], band: tuple[float, float] | None, points: int, checks: int) -> None:
    if not tolerances:
        raise FieldError("tolerance", "missing", "at least one [[tolerance]]")
    names = [t.dimension.name for t in tolerances]
    twice = next((n for n in names if names.count(n) > 1), None)
    if twice:
        raise FieldError("tolerance.dimension", twice, "each dimension once")
    if points < 16 or points & (points - 1):
        raise FieldError("points", points, "a power of 2, at least 16")
    if not 0 <= checks <= points:
        raise FieldError("checks", checks, f"0 to {points}")
    if band and not band[0] < band[1]:
        raise FieldError("band", list(band), "two values, the second larger")


def _sample(tolerances: Sequence[Tolerance], points: int, seed: int) -> Array:
    """Table of dimensions, shape (points, T)."""
    sobol = qmc.Sobol(len(tolerances), rng=np.random.default_rng(seed))
    unit = sobol.random_base2(points.bit_length() - 1)
    return np.column_stack([t.values(unit[:, k]) for k, t in enumerate(tolerances)])


def _built(design: Design, names: Sequence[str], row: Array) -> Design:
    one = buildable(design, dict(zip(names, row.tolist(), strict=True)))
    assert one is not None, "only points that can be built are checked"
    return one


def _picked(values: Array, good: NDArray[np.int64], checks: int) -> NDArray[np.int64]:
    """Points to simulate: evenly spread over the ranks, both ends included."""
    order = good[np.argsort(values[good])]
    return np.asarray(order[np.unique(np.linspace(0, len(order) - 1, min(checks, len(order))).round().astype(int))])


def _scores(tolerances: Sequence[Tolerance], table: Array) -> Array:
    """Deviations from nominal over +- (n, T)."""
    nominal = np.array([t.dimension.value for t in tolerances])
    return np.asarray((table - nominal) / np.array([t.plus_minus for t in tolerances]))


def _shares(scores: Array, logs: Array) -> tuple[Array, float]:
    """First-order shares of the variance of `logs` and R2: squares of standardised regression coefficients.

    Sum to R2 for independent inputs. Saltelli et al., Global Sensitivity Analysis, 2008, ch. 1 (from memory).
    """
    centred, spread = scores - scores.mean(axis=0), logs - logs.mean()
    total = float(spread @ spread)
    if total <= 0.0:
        return np.zeros(scores.shape[1]), nan
    slopes = np.linalg.lstsq(centred, spread, rcond=None)[0]
    rest = spread - centred @ slopes
    return np.asarray(slopes**2 * np.sum(centred**2, axis=0) / total), 1.0 - float(rest @ rest) / total


def _intervals(scores: Array, logs: Array, seed: int) -> tuple[float, tuple[float, float], Array]:
    """Standard deviation of `logs`, its bootstrap interval, and those of the shares (T, 2)."""
    rng = np.random.default_rng(seed)
    sds, shares = [], []
    for _ in range(RESAMPLES):
        pick = rng.integers(0, len(logs), len(logs))
        sds.append(float(np.std(logs[pick], ddof=1)))
        shares.append(_shares(scores[pick], logs[pick])[0])
    ends = [(1.0 - CONFIDENCE) / 2.0, (1.0 + CONFIDENCE) / 2.0]
    low, high = np.quantile(sds, ends)
    return float(np.std(logs, ddof=1)), (float(low), float(high)), np.quantile(np.array(shares), ends, axis=0).T
