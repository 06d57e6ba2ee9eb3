"""Estimates of a sensitivity study from its outcomes, by SALib: Morris' measures and Sobol' indices, with intervals.

They know no physics. A block is what belongs together: a trajectory of Morris, a base point of Saltelli. Insertions
that were not solved leave a hole in their block. Estimates are over complete blocks, whose number is given; two more
estimates over all blocks say what comes out with every hole set to the least and to the largest value of the outcome.
They are no strict bounds (an index is no monotonic function of an outcome), but where they agree with the estimate the
holes decide nothing.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from .designs import level_ends, problem
from .estimates import CONFIDENCE

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Part = dict[str, Array]

RESAMPLES = 1000  # of the bootstrap over blocks: its standard deviation is then known within about 2 %
LEAST_BLOCKS = 2  # complete blocks below which there is no estimate


@dataclass(frozen=True)
class Estimate:
    """One measure of d inputs, every array of shape (d,); nan: no estimate.

    value, with its 95 % interval low to high (normal, standard deviation by bootstrap over blocks); at_least, at_most:
    the same measure over all blocks, holes set to the least and the largest value of the outcome.
    """

    value: Array
    low: Array
    high: Array
    at_least: Array
    at_most: Array


@dataclass(frozen=True)
class Screening:
    """Morris' measures of one outcome: mean of the absolute elementary effects mu*, their standard deviation sigma,
    both in the outcome's unit, and the mean mu, whose sign tells the way. trajectories, complete: all, without a hole.
    """

    mu_star: Estimate
    sigma: Estimate
    mu: Estimate
    trajectories: int
    complete: int


@dataclass(frozen=True)
class Indices:
    """Sobol' indices of one outcome. base_points, complete: all, without a hole; mean, sd: of the outcome over the
    solved insertions at the independent points A and B, in its unit.
    """

    first: Estimate
    total: Estimate
    base_points: int
    complete: int
    mean: float
    sd: float


def screening(
    design: Array, values: Array, solved: Flags, limits: tuple[float, float], levels: int, seed: int
) -> Screening:
    """Morris' measures of d inputs.

    An elementary effect is the change of the outcome over one step, divided by the step's length as a share of the
    grid, levels / (2 (levels - 1)): 2/3 with 4 levels.

    Parameters
    ----------
    design : ndarray, shape (trajectories * (d + 1), d)
        of `designs.morris_design`
    values, solved : ndarray, shape (trajectories * (d + 1),)
        outcome of each insertion, and whether it was solved
    limits : tuple of float
        least and largest value that an outcome can have (or had)
    """
    from SALib.analyze import morris

    count = design.shape[1]

    def measures(x: Array, y: Array) -> Part:
        rng = np.random.default_rng(np.random.SeedSequence([seed, 3]))
        found = morris.analyze(
            problem(count, *level_ends(levels)), x, y, num_resamples=RESAMPLES, num_levels=levels, seed=rng
        )
        effects = elementary_effects(x, y, levels)
        drawn = np.random.default_rng(np.random.SeedSequence([seed, 4])).integers(
            len(effects), size=(RESAMPLES, len(effects))
        )
        again = effects[drawn]
        return {
            **{name: np.asarray(found[name], dtype=float) for name in ("mu", "mu_star", "sigma")},
            "mu_star_half": np.asarray(found["mu_star_conf"], dtype=float),
            "mu_half": _half(again.mean(axis=1)),
            "sigma_half": _half(again.std(axis=1, ddof=1)),
        }

    parts, blocks, complete = _with_holes(design, values, solved, limits, count + 1, measures)
    sizes = {
        name: _estimate(parts, name, floor=-np.inf if name == "mu" else 0.0) for name in ("mu_star", "sigma", "mu")
    }
    return Screening(**sizes, trajectories=blocks, complete=complete)


def elementary_effects(design: Array, values: Array, levels: int) -> Array:
    """Elementary effects of complete trajectories, shape (trajectories, d), in the unit of the outcome."""
    count = design.shape[1]
    x, y = design.reshape(-1, count + 1, count), values.reshape(-1, count + 1)
    low, high = level_ends(levels)
    steps, changes = np.diff(x, axis=1) / (high - low), np.diff(y, axis=1)
    moved = np.argmax(np.abs(steps), axis=2)
    effects = np.empty((len(x), count))
    rows = np.arange(len(x))[:, None]
    effects[rows, moved] = changes / np.take_along_axis(steps, moved[:, :, None], axis=2)[:, :, 0]
    return effects


def sobol_indices(count: int, values: Array, solved: Flags, limits: tuple[float, float], seed: int) -> Indices:
    """First-order and total Sobol' indices of `count` inputs from the outcomes of a Saltelli design.

    First order by Saltelli et al. (2010), total by Jansen (1999), both over the variance of A and B. Where the outcome
    is the same at all points there is no index (nan).

    Parameters
    ----------
    values, solved : ndarray, shape (base_points * (count + 2),)
        outcome of each insertion in the order of `designs.sobol_design`, and whether it was solved
    """
    from SALib.analyze import sobol

    def measures(_: Array, y: Array) -> Part:
        ends = y.reshape(-1, count + 2)[:, [0, -1]]
        if np.ptp(ends) == 0.0:
            names = ("first", "total", "first_half", "total_half")
            return {name: np.full(count, np.nan) for name in names}
        rng = np.random.default_rng(np.random.SeedSequence([seed, 5]))
        found = sobol.analyze(problem(count), y, calc_second_order=False, num_resamples=RESAMPLES, seed=rng)
        keys = {"first": "S1", "total": "ST", "first_half": "S1_conf", "total_half": "ST_conf"}
        return {name: np.asarray(found[key], dtype=float) for name, key in keys.items()}

    nothing = np.empty((len(values), 0))
    parts, blocks, complete = _with_holes(nothing, values, solved, limits, count + 2, measures)
    ends = np.isin(np.arange(len(values)) % (count + 2), (0, count + 1)) & solved
    about = values[ends]
    mean, sd = (float(np.mean(about)), float(np.std(about))) if len(about) else (np.nan, np.nan)
    sizes = {name: _estimate(parts, name, floor=-np.inf if name == "first" else 0.0) for name in ("first", "total")}
    return Indices(**sizes, base_points=blocks, complete=complete, mean=mean, sd=sd)


def _with_holes(
    design: Array,
    values: Array,
    solved: Flags,
    limits: tuple[float, float],
    size: int,
    measures: Callable[[Array, Array], Part],
) -> tuple[tuple[Part, Part, Part], int, int]:
    """Measures over complete blocks, over all with holes at the least and at the largest value; all and complete."""
    if len(values) % size or not len(values) == len(solved) == len(design):
        raise ValueError(
            f"{len(values)} outcomes, {len(solved)} flags, {len(design)} points; allowed: blocks of {size}"
        )
    if not np.all(np.isfinite(values[solved])):
        raise ValueError("the outcome of a solved insertion is not a finite number")
    whole = np.repeat(np.all(solved.reshape(-1, size), axis=1), size)
    blocks, complete = len(values) // size, int(np.sum(whole)) // size
    filled = [measures(design, np.where(solved, values, limit)) for limit in limits]
    if complete < LEAST_BLOCKS:
        kept = {name: np.full_like(value, np.nan) for name, value in filled[0].items()}
    else:
        kept = measures(design[whole], values[whole])
    return (kept, filled[0], filled[1]), blocks, complete


def _half(resampled: Array) -> Array:
    """Half the width of a 95 % interval from bootstrap values, shape (resamples, d)."""
    return np.asarray(stats.norm.ppf(0.5 + CONFIDENCE / 2.0) * resampled.std(axis=0, ddof=1), dtype=float)


def _estimate(parts: tuple[Part, Part, Part], name: str, floor: float) -> Estimate:
    """One measure with its interval, which ends at `floor`: what is no less than 0 by its definition."""
    kept, least, most = parts
    value, half = kept[name], kept[f"{name}_half"]
    return Estimate(value, np.maximum(value - half, floor), value + half, least[name], most[name])
