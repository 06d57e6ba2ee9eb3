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

from .designs import level_ends, problem, scramble_of
from .estimates import CONFIDENCE
from .index_intervals import Blocks, interval_ends

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Part = dict[str, Array]

RESAMPLES = 1000  # of the bootstrap over trajectories: its standard deviation is then known within about 2 %
UNUSED = 2  # resamples of SALib's own bootstrap of Sobol' indices, the fewest it takes
LEAST_BLOCKS = 2  # complete blocks below which there is no estimate


@dataclass(frozen=True)
class Estimate:
    """One measure of d inputs, every array of shape (d,); nan: no estimate.

    value, with its 95 % interval low to high (Morris: normal, standard deviation by bootstrap over trajectories;
    Sobol': `index_intervals`); at_least, at_most: the same measure over all blocks, holes set to the least and the
    largest value of the outcome.
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
        halves = {
            "mu_star": np.asarray(found["mu_star_conf"], dtype=float),
            "mu": _half(again.mean(axis=1)),
            "sigma": _half(again.std(axis=1, ddof=1)),
        }
        out: Part = {}
        for name, half in halves.items():
            value = np.asarray(found[name], dtype=float)
            out |= {name: value, f"{name}_high": value + half}
            out[f"{name}_low"] = value - half if name == "mu" else np.maximum(value - half, 0.0)
        return out

    parts, blocks, complete = _with_holes(design, values, solved, limits, count + 1, measures)
    sizes = {name: _estimate(parts, name) for name in ("mu_star", "sigma", "mu")}
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


def sobol_indices(
    count: int, values: Array, solved: Flags, limits: tuple[float, float], event: bool = False
) -> Indices:
    """First-order and total Sobol' indices of `count` inputs from the outcomes of a Saltelli design.

    First order by Saltelli et al. (2010), total by Jansen (1999), both over the variance of A and B. Where the outcome
    is the same at all points there is no index (nan).

    Parameters
    ----------
    values, solved : ndarray, shape (base_points * (count + 2),)
        outcome of each insertion in the order of `designs.sobol_design`, and whether it was solved
    event : bool
        whether the outcome is 0 or 1
    """
    from SALib.analyze import sobol

    def measures(scramble: Array, y: Array) -> Part:
        blocks = Blocks(y.reshape(-1, count + 2), scramble[:: count + 2, 0].astype(np.int64))
        if np.ptp(blocks.ends) == 0.0:
            names = (f"{name}{end}" for name in ("first", "total") for end in ("", "_low", "_high"))
            return {name: np.full(count, np.nan) for name in names}
        rng = np.random.default_rng(UNUSED)
        found = sobol.analyze(problem(count), y, calc_second_order=False, num_resamples=UNUSED, seed=rng)
        out = {name: np.asarray(found[key], dtype=float) for name, key in (("first", "S1"), ("total", "ST"))}
        for name, (low, high) in zip(("first", "total"), interval_ends(blocks, event), strict=True):
            out |= {f"{name}_low": low, f"{name}_high": high}
        return out

    scramble = np.repeat(scramble_of(len(values) // (count + 2)), count + 2).astype(float)[:, None]
    parts, blocks, complete = _with_holes(scramble, values, solved, limits, count + 2, measures)
    ends = np.isin(np.arange(len(values)) % (count + 2), (0, count + 1)) & solved
    about = values[ends]
    mean, sd = (float(np.mean(about)), float(np.std(about))) if len(about) else (np.nan, np.nan)
    sizes = {name: _estimate(parts, name) for name in ("first", "total")}
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


def _estimate(parts: tuple[Part, Part, Part], name: str) -> Estimate:
    """One measure with its interval."""
    kept, least, most = parts
    return Estimate(kept[name], kept[f"{name}_low"], kept[f"{name}_high"], least[name], most[name])
