"""The screen read at several advances of one insertion: the detector's score of each look, beside the true state.

A look is that of an operator between two strokes (insertion/glance): the frames since the last look and those while the
hand rests, from every view, with noise of its own. Where `glance` answers yes or no, the score is kept, so that any
threshold can be asked afterwards.
"""

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from math import inf, nan

import numpy as np

from ..insertion.case import Case
from ..insertion.classify import classify, curled_rows, entered_rows, travel
from ..insertion.imaging import Frames, Imaging, frames, row_times
from ..insertion.record import Outcome, Record
from ..insertion.run import advance
from ..insertion.seen import Detector, end_side, scores
from ..outcome import Stop, Where
from ..vessel.walls import BACK, FALSE
from .intervals import Array

NO_FEED = 1e-9  # m: a look that is due within this of a row is made at it
PIERCED_IN = (Stop.INTIMA_PIERCED, Stop.WEAK_SPOT_PIERCED, Stop.FLAP_PIERCED)


@dataclass(frozen=True)
class Look:
    """One look at the screen.

    advance : travel of the hand since the tear was reached, m (nan: it was not)
    score : the detector's, held for as many frames as it asks, the largest over the views: at the detector's threshold
    or above, a curl is seen
    foreshortening : of the distal 10 mm of wire, length in the image over its own: median over the frames, the largest
    over the views, - (0: no frame)
    in_false : the wire's end truly lies in the false channel; entered : wire had entered it at some time up to now
    curled : the wire is truly curled
    """

    advance: float
    score: float
    foreshortening: float
    in_false: bool
    entered: bool
    curled: bool


@dataclass(frozen=True)
class Reading:
    """An insertion and its looks, in order; the last one is made where it ended, unless it was not solved."""

    outcome: Outcome
    looks: tuple[Look, ...]


def held_score(score: Array, hold: int) -> float:
    """Largest threshold at which `hold` frames in a row show a curl: it is seen at a threshold if this is as high.

    score : ndarray, shape (k,)
        of each frame; 0 where there are fewer than `hold`
    """
    if len(score) < hold:
        return 0.0
    return float(np.min(np.lib.stride_tricks.sliding_window_view(score, hold), axis=1).max())


def read(case: Case, imaging: Imaging, detector: Detector, every: float) -> Reading:
    """Carry out an insertion and read the screen each `every` (m) of advance past the tear, and at its end."""
    return read_record(advance(case), imaging, detector, every)


def read_record(record: Record, imaging: Imaging, detector: Detector, every: float) -> Reading:
    """Read the screen of an insertion already carried out; arguments as for `read`."""
    outcome = classify(record)
    seed = int(np.random.SeedSequence([imaging.seed, record.case.seed]).generate_state(1)[0])
    own = replace(imaging, seed=seed)
    entered, curled, path = entered_rows(record), curled_rows(record), travel(record)
    looks = []
    for number, (first, row) in enumerate(strokes(record, outcome, every), start=1):
        score, short = shown(part(record, first, row + 1), own, detector, number)
        into = row == len(path) - 1 and pierced_in(record, outcome)
        looks.append(
            Look(
                advance=float(path[row]) - outcome.reached,
                score=score,
                foreshortening=short,
                in_false=into or end_in_false(record, row),
                entered=into or bool(np.any(entered[: row + 1])),
                curled=bool(curled[row]),
            )
        )
    return Reading(outcome, tuple(looks))


def strokes(record: Record, outcome: Outcome, every: float) -> Iterator[tuple[int, int]]:
    """First and last row of the stroke before each look.

    An insertion that never reached the tear is read once, where it ended; one that was not solved has no end.
    """
    path = travel(record)
    if not len(path):
        return
    solved, last = outcome.where != Where.NOT_SOLVED, len(path) - 1
    if np.isnan(outcome.reached):
        if solved:
            yield int(np.searchsorted(path, path[-1] - every)), last
        return
    first = int(np.searchsorted(path, outcome.reached))
    due = outcome.reached + every * np.arange(1, int((path[-1] - outcome.reached + NO_FEED) / every) + 1)
    rows = np.searchsorted(path, due - NO_FEED)
    for row in np.unique(np.append(rows, last) if solved else rows):
        yield min(first, int(row)), int(row)
        first = int(row) + 1


def part(record: Record, first: int, last: int) -> Record:
    """Record of the rows first..last-1."""
    cut = {
        f.name: getattr(record, f.name)[first:last]
        for f in fields(record)
        if f.name != "holes" and isinstance(getattr(record, f.name), np.ndarray)
    }
    return replace(record, **cut)


def shown(stroke: Record, imaging: Imaging, detector: Detector, number: int) -> tuple[float, float]:
    """Score and foreshortening of look `number` at a stroke, as `glance.glance` sees it."""
    seed = int(np.random.SeedSequence([imaging.seed, number]).generate_state(1)[0])
    now = replace(imaging, seed=seed)
    since = float(row_times(stroke, now)[0])
    score, short = 0.0, 0.0
    for view in now.views:
        seen: Frames = frames(stroke, now, view, (since, inf))
        score = max(score, held_score(scores(seen, detector), detector.hold))
        short = max(short, float(np.median(seen.foreshortening)) if len(seen.foreshortening) else 0.0)
    return score, short


def end_in_false(record: Record, row: int) -> bool:
    """Whether the wire's end lies in the false channel at a row: its leading point or its tip, past either lip."""
    behind = record.side[row, -1] == BACK
    return bool(behind or end_side(record, row) == FALSE)


def pierced_in(record: Record, outcome: Outcome) -> bool:
    """Whether an insertion ended with its tip pierced into the false channel, where no wire was yet."""
    return record.stop in PIERCED_IN and outcome.where == Where.FALSE_LUMEN


def look_columns(look: Look | None) -> dict[str, float | int]:
    """Columns of a look; of none: not a number, and 0 of the flags."""
    if look is None:
        return {f.name: nan if f.type is float else 0 for f in fields(Look)}
    return {f.name: float(v) if f.type is float else int(v) for f in fields(Look) for v in (getattr(look, f.name),)}
