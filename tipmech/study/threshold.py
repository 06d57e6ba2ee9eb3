"""The front force at which the tip curls before it drives the front on: ladder, then bisection, case by case."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import IntEnum
from math import inf, isnan, sqrt

import numpy as np
from numpy.typing import NDArray

from ..checks import FieldError
from ..insertion.case import Case
from ..insertion.record import Outcome
from ..outcome import Label

LADDER_LOW, LADDER_HIGH, LADDER_COUNT = 0.3, 8.0, 8  # forces of the ladder over the scale 2 EI / Wc^2
TOLERANCE = 0.02  # relative width of the final bracket
MOST_BISECTIONS = 40  # a ladder step of any size is narrowed to any sensible tolerance long before


class Event(IntEnum):
    """What came first in one insertion in the pocket."""

    DROVE_ON = 0
    CURLED = 1
    NEITHER = 2
    NOT_SOLVED = 3


class Status(IntEnum):
    """How the search for one case's threshold ended."""

    ONE_CROSSING = 0
    ALWAYS_CURLED = 1
    NEVER_CURLED = 2
    NON_MONOTONE = 3
    NOT_SOLVED = 4
    NEITHER = 5


@dataclass(frozen=True)
class ThresholdResult:
    """Threshold of one case.

    status : Status
    low, high : float
        bracket of F*, N: the front was driven on at low, the tip curled first at high; forces in between at which
        neither happened within the advance leave it wide. Always curled (no force drove the front on): from 0 to the
        lowest force that curled. Never (none curled): from the highest force that drove it on to infinity. Not solved,
        or neither at any rung: 0 to infinity. Non-monotone (curled below a force that drove on): the lowest upward
        crossing
    ladder, events : tuple
        front forces of the ladder (N) and the `Event` at each
    runs : int
        insertions made
    unsolved : int
        those of them not solved (left out; a bisection stops at one and keeps the bracket it has)
    """

    status: int
    low: float
    high: float
    ladder: tuple[float, ...]
    events: tuple[int, ...]
    runs: int
    unsolved: int

    @property
    def force(self) -> float:
        """Geometric middle of the bracket, N; nan if it is open."""
        return sqrt(self.low * self.high) if self.low > 0.0 and self.high < inf else float("nan")


def event_of(outcome: Outcome) -> Event:
    """Which came first: a curl, or 0.5 mm of front travel; or neither within the advance."""
    if outcome.label == Label.NOT_SOLVED:
        return Event.NOT_SOLVED
    curled, extended = outcome.curled, outcome.extended
    if not isnan(curled) and (isnan(extended) or curled <= extended):
        return Event.CURLED
    return Event.NEITHER if isnan(extended) else Event.DROVE_ON


def ladder_about(
    scale: float, low: float = LADDER_LOW, high: float = LADDER_HIGH, count: int = LADDER_COUNT
) -> NDArray[np.float64]:
    """Front forces spaced geometrically from `low` to `high` times `scale` (N)."""
    return scale * np.geomspace(low, high, count)


def threshold_of(
    case_for_force: Callable[[float], Case],
    ladder: Sequence[float] | NDArray[np.float64],
    tol: float,
    evaluate: Callable[[Case], Outcome],
) -> ThresholdResult:
    """Find the front force between driving the front on and curling before it has moved 0.5 mm, for one case.

    Parameters
    ----------
    case_for_force : callable
        the case with its front force set to the given value, N
    ladder : sequence of float
        increasing front forces, N; all are run, so that more than one crossing is seen and flagged
    tol : float
        the bracket is bisected (geometrically) until high / low <= 1 + tol; where neither happened in between, its
        ends are
    evaluate : callable
        what a case comes to; it ends with what comes first, a curl or a longer plane
    """
    forces = tuple(float(f) for f in ladder)
    if len(forces) < 2 or forces[0] <= 0.0 or any(b <= a for a, b in zip(forces, forces[1:], strict=False)):
        raise FieldError("ladder", list(forces), "at least two positive forces, each larger than the one before")
    if not tol > 0.0:
        raise FieldError("tol", tol, "greater than 0")

    def event_at(force: float) -> Event:
        case = case_for_force(force)
        return event_of(evaluate(replace(case, stop=replace(case.stop, at_extension=True))))

    events = tuple(event_at(f) for f in forces)
    known = [(f, e) for f, e in zip(forces, events, strict=True) if e != Event.NOT_SOLVED]
    status, low, high = _bracket(known)
    silent = [f for f, e in known if e == Event.NEITHER and low < f < high]
    gap = (silent[0], silent[-1]) if silent else None  # between driving on and curling: neither happened there
    bisections, unsolved = 0, len(forces) - len(known)
    while 0.0 < low and high < inf and bisections < MOST_BISECTIONS:
        a, b = (low, high) if gap is None else (low, gap[0])
        if gap is not None and b / a <= 1.0 + tol:
            a, b = gap[1], high
        if b / a <= 1.0 + tol:
            break
        middle = sqrt(a * b)
        event = event_at(middle)
        bisections += 1
        if event == Event.NOT_SOLVED:
            unsolved += 1
            break
        if event == Event.NEITHER:
            gap = (middle, middle) if gap is None else (min(gap[0], middle), max(gap[1], middle))
        elif event == Event.CURLED:
            high, gap = middle, gap if gap is not None and gap[1] < middle else None
        else:
            low, gap = middle, gap if gap is not None and gap[0] > middle else None
    codes = tuple(int(e) for e in events)
    return ThresholdResult(int(status), low, high, forces, codes, len(forces) + bisections, unsolved)


def _bracket(known: Sequence[tuple[float, Event]]) -> tuple[Status, float, float]:
    """Status and starting bracket from the solved rungs (force, event)."""
    if not known:
        return Status.NOT_SOLVED, 0.0, inf
    decided = [(f, e == Event.CURLED) for f, e in known if e != Event.NEITHER]
    if not decided:
        return Status.NEITHER, 0.0, inf
    pairs = list(zip(decided, decided[1:], strict=False))
    upward = [(a[0], b[0]) for a, b in pairs if not a[1] and b[1]]
    crossings = sum(a[1] != b[1] for a, b in pairs)
    if crossings == 0:
        if decided[0][1]:
            return Status.ALWAYS_CURLED, 0.0, decided[0][0]
        return Status.NEVER_CURLED, decided[-1][0], inf
    if crossings == 1 and upward:
        return Status.ONE_CROSSING, *upward[0]
    # a ladder that only ever turns from curled to driven on holds no upward crossing: only its ends are known
    return Status.NON_MONOTONE, *(upward[0] if upward else (0.0, inf))
