"""What a study of any kind but a comparison would compute, how long here, and how sharp: before any of it is made.

A pilot of a few of its own runs is timed, by the very work that makes its chunks; what they come to is neither kept nor
looked at. Of comparisons: `plan`.
"""

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from math import comb, sqrt
from typing import Any

import numpy as np
from scipy import stats

from . import run_atlas, run_attempts, run_curl, run_map, run_sensitivity, run_threshold
from .atlas import EVENTS
from .build import feasible
from .designs import scrambles_of
from .estimates import CONFIDENCE
from .evaluate import evaluate
from .index_intervals import largest_unseen
from .intervals import wilson
from .run_atlas import AtlasSpec
from .run_attempts import AttemptsSpec
from .run_compare import ArmTask
from .run_curl import CurlSpec
from .run_sensitivity import pieces
from .run_threshold import ThresholdSpec
from .sensitivity import SensitivitySpec
from .spec import StudySpec
from .table import Table
from .task import Piece, tasks_of

SHARES = (0.05, 0.2, 0.5)  # probabilities for which half-widths are told, assumed
CONDITIONS = (0.1, 0.3, 0.5)  # shares of insertions in the false lumen, assumed
DIFFER = (0.02, 0.05, 0.1, 0.3)  # shares of vessels at which two designs differ, assumed
TOTAL = 0.3  # total index for which the half-width is told, assumed
BAND = 4.5  # standard errors on both sides of an atlas's band: 4.4 to 4.6 in made-up ones
Spec = StudySpec | ThresholdSpec | AttemptsSpec | AtlasSpec | SensitivitySpec | CurlSpec


@dataclass(frozen=True)
class Sharpness:
    """Expected half-widths of 95 % intervals: what is assumed, what they are of, and one for each value assumed."""

    assumed: str
    values: tuple[float, ...]
    rows: tuple[tuple[str, tuple[float, ...]], ...]


@dataclass(frozen=True)
class Ahead:
    """What is ahead of a study.

    runs : what is run, in words (insertions, or what takes many of them); count, chunks : in all
    sizes : what makes up the count, in words
    seconds : processor time of one run, mean of the pilot; slowest of it; pilot : how many were timed; workers
    """

    runs: str
    count: int
    chunks: int
    sizes: str
    seconds: float
    slowest: float
    pilot: int
    workers: int
    sharpness: Sharpness

    @property
    def wall_time(self) -> float:
        """Expected wall time, s: runs side by side, no overhead."""
        return self.count * self.seconds / self.workers


def look_ahead(spec: Spec, pilot: int, workers: int, work: Callable[[Any], Table] | None = None) -> Ahead:
    """Look ahead: `pilot` runs spread over the study are made and timed (after one, untimed).

    work : what makes the rows of a task, in place of the study's own
    """
    runs, tasks, own, sizes = _parts(spec)
    times = timed(tasks, work or own, pilot)
    count = sum(t.count for t in tasks)
    seconds, slowest = (float(np.mean(times)), float(np.max(times))) if times else (float("nan"),) * 2
    return Ahead(runs, count, len(tasks), sizes, seconds, slowest, len(times), workers, sharpness(spec))


def timed(tasks: Sequence[Any], work: Callable[[Any], Table], pilot: int) -> list[float]:
    """Processor time (s) of some runs, spread over all tasks; the first one is made twice, timed once."""
    ends = np.cumsum([t.count for t in tasks])
    if not len(ends):
        return []
    times = []
    chosen = np.linspace(0, ends[-1] - 1, min(pilot, int(ends[-1]))).astype(int)
    for number in [chosen[0], *chosen]:
        task = tasks[int(np.searchsorted(ends, number, side="right"))]
        first = task.last - int(ends[np.searchsorted(ends, number, side="right")] - number)
        start = time.process_time()
        work(replace(task, first=first, last=first + 1))
        times.append(time.process_time() - start)
    return times[1:]


def _parts(spec: Spec) -> tuple[str, list[Piece], Callable[[Any], Table], str]:
    """What is run in words, the tasks, what makes their rows, and what makes up their number in words."""
    if isinstance(spec, SensitivitySpec):
        sizes = f"{len(spec.inputs)} inputs: {spec.trajectories} trajectories, {spec.base_points} base points"
        return "insertions", list(pieces(spec)), run_sensitivity.DesignWork(spec, evaluate), sizes
    if isinstance(spec, AtlasSpec):
        study, each = spec.study, spec.study.points
        angles = [j for j in range(len(study.angles)) if feasible(study, j)]
        sites = [ArmTask(i, j, k * each, (k + 1) * each, k) for k in range(spec.sites) for j in angles for i in (0, 1)]
        sizes = f"{spec.sites} sites x {each} vessels x 2 designs x {len(angles)} angles"
        return "insertions", list(sites), run_atlas.SitesWork(spec, evaluate), sizes
    study = spec if isinstance(spec, StudySpec) else spec.study
    everywhere = isinstance(spec, ThresholdSpec)  # cases of a pocket alone: any angle fits
    angles = [j for j in range(len(study.angles)) if everywhere or feasible(study, j)]
    cells = [(i, j) for i in range(len(study.tip_loads)) for j in angles]
    sizes = f"{len(cells)} cell{'' if len(cells) == 1 else 's'} of {study.scrambles} scrambles x {study.points} points"
    work: Callable[[Any], Any]
    if isinstance(spec, StudySpec):
        runs, chunk, work = "insertions", run_map.CHUNK, run_map.MapWork(spec, evaluate)
    elif isinstance(spec, ThresholdSpec):
        runs, chunk = "cases, each a search with a dozen insertions or more", run_threshold.CHUNK
        work = partial(run_threshold.run_chunk, spec, evaluate)
    elif isinstance(spec, AttemptsSpec):
        runs, chunk = "procedures", run_attempts.CHUNK
        work = partial(run_attempts.run_chunk, spec, run_attempts.evaluate)
    else:
        runs, chunk = "insertions with their looks", run_curl.CHUNK
        work = partial(run_curl.run_chunk, spec, run_curl.evaluate)
    return runs, list(tasks_of(cells, study.count, chunk)), work, sizes


def sharpness(spec: Spec) -> Sharpness:
    """Half-widths to expect, runs taken as independent."""
    if isinstance(spec, SensitivitySpec):
        return _of_indices(spec)
    if isinstance(spec, AtlasSpec):
        return _of_atlas(spec)
    if isinstance(spec, ThresholdSpec):
        low, high = median_ranks(spec.study.count)
        name = f"interval of a cell's P50 of {spec.study.count} cases: quantiles of their thresholds from, to"
        return Sharpness("whatever the thresholds are", (), ((name, (low, high)),))
    study = spec if isinstance(spec, StudySpec) else spec.study
    if isinstance(spec, CurlSpec):
        angles = sum(feasible(study, j) for j in range(len(study.angles)))
        n, rows = study.count * angles, []
        for words, of_condition in (("sensitivity", True), ("specificity", False)):
            numbers = [n * (c if of_condition else 1.0 - c) for c in CONDITIONS]
            for share in (0.5, 0.8):
                halves = tuple(half_width(share, m, study.scrambles) for m in numbers)
                rows.append((f"{words} of {share:g}, a wire's {n} insertions", halves))
        return Sharpness("share of the insertions in the false lumen", CONDITIONS, tuple(rows))
    name = "probability of a cell" if isinstance(spec, StudySpec) else "share through of a cell"
    halves = tuple(half_width(p, study.count, study.scrambles) for p in SHARES)
    return Sharpness("probability", SHARES, ((f"{name}, {study.count} points", halves),))


def half_width(p: float, n: float, scrambles: int) -> float:
    """Half of Wilson's interval of a proportion, with Student's t of the scrambles in place of the normal quantile."""
    low, high = wilson(p, n, float(stats.t.ppf(0.5 + CONFIDENCE / 2.0, scrambles - 1)))
    return 0.5 * float(high - low)


def median_ranks(n: int) -> tuple[float, float]:
    """Quantiles of n values between which the interval of their median lies, as of `estimates.median_of_intervals`."""
    k = int(stats.binom.ppf((1.0 - CONFIDENCE) / 2.0, n, 0.5))
    while k > 0 and 2.0 * stats.binom.cdf(k - 1, n, 0.5) > 1.0 - CONFIDENCE:
        k -= 1
    return (k / n, 1.0 - (k - 1) / n if k > 0 else 1.0)


def _of_indices(spec: SensitivitySpec) -> Sharpness:
    """Half-widths of total indices of an event, and how far the interval of one goes that no pair shows."""
    n = spec.base_points
    z = float(stats.t.ppf(0.5 + CONFIDENCE / 2.0, max(scrambles_of(n) - 1, 1)))
    variances = [p * (1.0 - p) for p in SHARES]
    changed = [2.0 * TOTAL * v for v in variances]
    halves = tuple(z * sqrt(q * (1.0 - q) / n) / (2.0 * v) for q, v in zip(changed, variances, strict=True))
    unseen = tuple(largest_unseen(n, v, z) for v in variances)
    none = "upper end of the interval where no pair differs"
    rows = ((f"total index of {TOTAL:g}, {n} base points", halves), (none, unseen))
    return Sharpness("probability of the event", SHARES, rows)


def _of_atlas(spec: AtlasSpec) -> Sharpness:
    """Half-widths of the band of a difference, mean over places, by the degree that cross-validation may choose."""
    study = spec.study
    angles = sum(feasible(study, j) for j in range(len(study.angles)))
    n, axes, rows = spec.sites * study.points * angles, len(spec.ranges) + 2, []
    for degree in (1, 2):
        weights = comb(axes + degree, degree)
        halves = tuple(BAND * sqrt(psi * weights / n) for psi in DIFFER)
        rows.append((f"difference at a place ({' and '.join(EVENTS)}), surface of degree {degree}", halves))
    return Sharpness("share of the vessels at which the designs differ", DIFFER, tuple(rows))
