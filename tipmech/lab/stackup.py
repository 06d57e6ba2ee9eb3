"""Tolerances of the dimensions -> distribution of one bench figure, its yield, and each dimension's share. SI units.

Scrambled Sobol' points over the tolerances, the reduced figure at each times its ratio simulated/reduced at the
nominal design; some of the points are simulated to check that. Sample, evaluate, estimate: three steps over one table.
The calibrated scale of the construction can be one more column of that table.
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
from .figure import Figure
from .gap import slope_gaps
from .ratios import ENDS, ratios_over
from .scale import Scale
from .variance import CONFIDENCE, intervals_of, shares_of

POINTS = 512  # a power of 2, which keeps a Sobol' set balanced
CHECKS = 16  # points simulated
SIGMAS = 3.0  # standard deviations within a stated +- of a normal tolerance: a process just capable; assumed
EDGE = 1e-9  # probabilities are kept so far from 0 and 1: a normal's 6 sigma
SCALE = "calibrated scale of EI"  # the source that is not a dimension

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
    """Distribution of a figure over T tolerances, and a calibrated scale where there is one, at n points.

    figure : Figure
    tolerances : tuple of Tolerance, T
    nominal : value at the nominal design (and the median scale), simulated where there is a test, SI
    ratio : simulated/reduced there
    dimensions : ndarray, shape (n, T), m
    scales : ndarray, shape (n,), of EI and GJ, -; all 1 without a calibration
    values : ndarray, shape (n,), figure, SI; nan: parts that do not fit together
    unbuildable : how many
    quantiles : dict, 0.025, 0.25, 0.5, 0.75, 0.975 -> value, SI
    log_sd : standard deviation of ln(figure), with its interval `log_sd_interval`
    sources : tuple of (name, words), S: the tolerances, then the calibrated scale where there is one
    shares : ndarray, shape (S,), share of each in the variance of ln(figure), first order, by regression
    share_intervals : ndarray, shape (S, 2)
    explained : R2 of that regression; 1 - R2 is curvature and interaction
    band : wanted band, SI, or None
    yield_share, yield_interval : share of all points within the band (unbuildable ones are not), Wilson's interval,
        which is wider than that of a Sobol' set; nan without a band. With a scale it is the mean over it
    yield_at : tuple of (scale, yield there) at the ends and the median of the scale's 95 % interval: the scale is the
        same for all wires of a construction, the tolerances are not; empty without band or scale
    checked : ndarray of int, shape (m,), points that were simulated
    simulated : ndarray, shape (m,), their simulated figures, SI; nan: not solved; m = 0 without a simulated test
    worst_check : largest |ln(simulated/value)| of them
    """

    figure: Figure
    tolerances: tuple[Tolerance, ...]
    nominal: float
    ratio: float
    dimensions: Array
    scales: Array
    values: Array
    unbuildable: int
    quantiles: dict[float, float]
    log_sd: float
    log_sd_interval: tuple[float, float]
    sources: tuple[tuple[str, str], ...]
    shares: Array
    share_intervals: Array
    explained: float
    band: tuple[float, float] | None
    yield_share: float
    yield_interval: tuple[float, float]
    yield_at: tuple[tuple[float, float], ...]
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
    scale: Scale | None = None,
    report: Callable[[float, float], None] = lambda done, total: None,
) -> StackUp:
    """Distribution of a figure over the tolerances, and over the scale of EI that a calibration left open.

    Parameters
    ----------
    design : Design
        nominal wire; its dimensions are those the tolerances were made from
    tolerances : sequence of Tolerance
        at least one
    figure : Figure
        that is searchable
    band : tuple of float, optional
        allowed values, SI
    points : int
        reduced models; a power of 2, at least 16
    checks : int
        of them simulated, spread over the distribution; 0 for none
    seed : int
        of the scramble
    scale : Scale, optional
        of this construction; independent of the tolerances, which are then those of further wires about the calibrated
        one's own dimensions

    Raises
    ------
    FieldError
        on bad arguments, or when less than half of the points can be built
    """
    _check(tolerances, band, points, checks)
    table, scales = _sample(tolerances, points, seed), _scales(scale, len(tolerances), points, seed)
    middle = 1.0 if scale is None else scale.median
    nominal = reduced_values(design, [figure], coupling, middle)[figure.key]
    tested = simulated_values(design, [figure], coupling, middle).get(figure.key, nan)
    if figure.simulated is not None and not isfinite(tested):
        allowed = "a figure for which the bench finds an equilibrium of the nominal wire"
        raise FieldError("figure", figure.name, allowed)
    ratio = tested / nominal if figure.simulated is not None else 1.0
    names = [t.dimension.name for t in tolerances]
    ends = [] if scale is None or band is None else [float(s) for s in scale.at(ENDS)]
    columns = np.vstack([scales, *(np.full(points, s) for s in ends)])
    factors = _factors(design, figure, ratio, scale, columns, coupling)
    factors = factors * _gaps(design, tolerances, figure, table, coupling, middle)
    found = factors * _reduced(design, [dict(zip(names, r.tolist(), strict=True)) for r in table], figure, columns,
                               coupling, report)  # fmt: skip
    values, given = found[0], found[1:]
    good = np.flatnonzero(np.isfinite(values))
    if 2 * len(good) < points:
        raise FieldError("tolerances", f"{points - len(good)} of {points} wires unbuildable", "parts that mostly fit")
    checked = _picked(values, good, checks if figure.simulated is not None else 0)
    simulated = np.array(
        [
            simulated_values(_built(design, names, table[k]), [figure], coupling, float(scales[k]))[figure.key]
            for k in checked
        ]
    )
    off = np.abs(np.log(simulated / values[checked]))
    logs = np.log(values[good])
    scores, sources = _scores(tolerances, table[good]), [(t.dimension.name, t.words()) for t in tolerances]
    if scale is not None:
        scores = np.column_stack([scores, np.log(scales[good] / middle)])
        sources.append((SCALE, f"x {scale.words()}"))
    shares, explained = shares_of(scores, logs)
    sd, sd_interval, share_intervals = intervals_of(scores, logs, seed)
    inside = _inside(values, band) if band else 0
    wilson = binomtest(inside, points).proportion_ci(CONFIDENCE, method="wilson")
    return StackUp(
        figure=figure,
        tolerances=tuple(tolerances),
        nominal=nominal * ratio,
        ratio=ratio,
        dimensions=table,
        scales=scales,
        values=values,
        unbuildable=points - len(good),
        quantiles={q: float(np.quantile(values[good], q)) for q in (0.025, 0.25, 0.5, 0.75, 0.975)},
        log_sd=sd,
        log_sd_interval=sd_interval,
        sources=tuple(sources),
        shares=shares,
        share_intervals=share_intervals,
        explained=explained,
        band=band,
        yield_share=inside / points if band else nan,
        yield_interval=(float(wilson.low), float(wilson.high)) if band else (nan, nan),
        yield_at=tuple((s, _inside(row, band) / points) for s, row in zip(ends, given, strict=True) if band),
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


def _scales(scale: Scale | None, before: int, points: int, seed: int) -> Array:
    """Scale of EI at every point, shape (points,): the Sobol' dimension after the tolerances' `before`.

    Its scramble has a generator of its own: scrambling acts on each dimension alone, so the whole is a scrambled Sobol'
    set, and the tolerances' points are the same with and without a calibration.
    """
    if scale is None:
        return np.ones(points)
    sobol = qmc.Sobol(before + 1, rng=np.random.default_rng(np.random.SeedSequence([seed, 1])))
    return scale.at(sobol.random_base2(points.bit_length() - 1)[:, before])


def _factors(
    design: Design, figure: Figure, ratio: float, scale: Scale | None, columns: Array, coupling: Coupling | None
) -> Array:
    """Simulated over reduced figure at the scales of `columns`, in their shape."""
    if scale is None:
        return np.full(columns.shape, ratio)
    ratios = ratios_over(design, [figure], scale, coupling)
    if not np.all(np.isfinite(ratios.values[figure.key])):
        allowed = "a figure for which the bench finds an equilibrium at both ends of the calibrated scale"
        raise FieldError("figure", figure.name, allowed)
    return ratios.at(figure.key, columns)


def _gaps(
    design: Design,
    tolerances: Sequence[Tolerance],
    figure: Figure,
    table: Array,
    coupling: Coupling | None,
    scale: float,
) -> Array:
    """How simulated over reduced changes with the dimensions (points, T) where the latter is rough, shape (points,)."""
    found = slope_gaps(design, [t.dimension for t in tolerances], [figure], coupling, scale)
    if figure.key not in found:
        return np.ones(len(table))
    nominal = np.array([t.dimension.value for t in tolerances])
    moved = nominal > 0.0
    return np.asarray(np.exp(np.log(table[:, moved] / nominal[moved]) @ found[figure.key][moved]))


def _reduced(
    design: Design,
    rows: Sequence[dict[str, float]],
    figure: Figure,
    columns: Array,
    coupling: Coupling | None,
    report: Callable[[float, float], None],
) -> Array:
    """Reduced figure of every row of dimensions at its scales `columns` (k, n), in that shape; nan: does not fit."""
    out = np.full(columns.shape, nan)
    for k, row in enumerate(rows):
        if k % 64 == 0:
            report(k, len(rows))
        one = buildable(design, row)
        if one is not None:
            out[:, k] = [reduced_values(one, [figure], coupling, float(s))[figure.key] for s in columns[:, k]]
    return out


def _built(design: Design, names: Sequence[str], row: Array) -> Design:
    one = buildable(design, dict(zip(names, row.tolist(), strict=True)))
    assert one is not None, "only points that can be built are checked"
    return one


def _inside(values: Array, band: tuple[float, float]) -> int:
    """How many values lie within a band; nan does not."""
    return int(np.sum((values >= band[0]) & (values <= band[1])))


def _picked(values: Array, good: NDArray[np.int64], checks: int) -> NDArray[np.int64]:
    """Points to simulate: evenly spread over the ranks, both ends included."""
    order = good[np.argsort(values[good])]
    return np.asarray(order[np.unique(np.linspace(0, len(order) - 1, min(checks, len(order))).round().astype(int))])


def _scores(tolerances: Sequence[Tolerance], table: Array) -> Array:
    """Deviations from nominal over +- (n, T)."""
    nominal = np.array([t.dimension.value for t in tolerances])
    return np.asarray((table - nominal) / np.array([t.plus_minus for t in tolerances]))
