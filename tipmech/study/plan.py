"""What a comparison would compute, how long here, and with what power: before any insertion of it is made.

A pilot of a few of its own insertions is timed; what they come to is neither kept nor looked at.
"""

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..insertion.case import Case
from .build import build_case, feasible
from .compare_spec import CompareSpec, arms, of_design
from .evaluate import evaluate
from .factors import points_of
from .inputs import point_seed, scramble_points
from .power import power_of
from .run_compare import CHUNK

DIFFERENCES = (0.02, 0.05, 0.1, 0.2)  # risk differences for which the power is told
DISCORDANT = (0.05, 0.1, 0.2, 0.4)  # shares of points at which two designs differ, assumed


@dataclass(frozen=True)
class Outlook:
    """What is ahead.

    arms, cells : combinations of factors and replicates; cells that fit, over arms, angles and designs
    points : of one cell at first; insertions (or procedures), chunks : in all at first; most : insertions if every cell
    takes all scrambles it may (the same where no half-width is wanted)
    seconds : processor time of one insertion, mean of the pilot; slowest of it; workers
    pairs : points of the pooled comparison of two designs, over its arms and angles
    degrees : of freedom of its error; level : of Holm's first step
    power : over `DIFFERENCES` (rows) and `DISCORDANT` (columns), the least and the most: a point's arms and angles all
    go together, or each is as good as a point of its own; none of an area, whose spread is not known before
    """

    arms: int
    cells: int
    points: int
    insertions: int
    chunks: int
    most: int
    seconds: float
    slowest: float
    workers: int
    pairs: int
    degrees: int
    level: float
    power: tuple[tuple[tuple[float, float], ...], ...]

    @property
    def wall_time(self) -> float:
        """Expected wall time of the first round, s: insertions side by side, no overhead."""
        return self.insertions * self.seconds / self.workers

    @property
    def longest(self) -> float:
        """The same if every cell takes all its scrambles, s."""
        return self.most * self.seconds / self.workers


def outlook(
    spec: CompareSpec, pilot: int, workers: int, evaluate: Callable[[Case], Any] = evaluate, chunk: int = CHUNK
) -> Outlook:
    """Look ahead: `pilot` insertions, spread over arms, angles and designs, are made and timed (after one, untimed).

    evaluate : what is made of a case; chunk : rows of a chunk at most
    """
    study, all_arms = spec.study, arms(spec)
    places = [
        (arm, i, j)
        for arm in all_arms
        for j in range(len(study.angles))
        if feasible(arm.spec, j)
        for i in range(len(study.tip_loads))
    ]
    chosen = [places[int(k)] for k in np.linspace(0, len(places) - 1, min(pilot, len(places)))] if places else []
    times = []
    for number, (common, i, j) in enumerate([*chosen[:1], *chosen]):
        arm = of_design(spec, common, i)
        u = points_of(arm, scramble_points(spec.seed, number, 1), spec.distributions)[0]
        case = build_case(arm.spec, i, j, u, point_seed(spec.seed, number))
        start = time.process_time()
        evaluate(case)
        times.append(time.process_time() - start)
    timed = np.array(times[1:]) if chosen else np.array([np.nan])
    cells, designs = len(places), len(study.tip_loads)
    pairs = study.count * cells // designs
    most = spec.plan.most_scrambles * study.points if spec.plan.half_width is not None else study.count
    level = spec.plan.level / (designs - 1)
    differences = () if spec.plan.outcome == "opened_area" else DIFFERENCES
    degrees = study.scrambles - 1

    def power(d: float, psi: float) -> tuple[float, float]:
        least, most = (power_of(d, psi, level, n, degrees) if degrees else np.nan for n in (study.count, pairs))
        return least, most

    return Outlook(
        len(all_arms),
        cells,
        study.count,
        study.count * cells,
        -(-study.count // chunk) * cells,
        most * cells,
        float(np.mean(timed)),
        float(np.max(timed)),
        workers,
        pairs,
        degrees,
        level,
        tuple(tuple(power(d, psi) for psi in DISCORDANT) for d in differences),
    )
