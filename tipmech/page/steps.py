"""The hand's moves one increment at a time, such that the moves they add up to give the same increments to the bit."""

from collections.abc import Sequence
from functools import lru_cache
from itertools import groupby
from math import floor, frexp, ldexp
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..insertion.case import Move
from ..insertion.run import TURN_STEP, increments

Step = Literal["advance", "withdraw", "turn_left", "turn_right"]
STEPS: tuple[Step, ...] = ("advance", "withdraw", "turn_left", "turn_right")
SIGN: dict[Step, int] = {"advance": 1, "withdraw": -1, "turn_left": 1, "turn_right": -1}
LONG = 1000  # increments of a move laid out at once
DIGITS = 40  # binary, of an increment: leaves 13 for the count
NEAR = 1e-6  # of an increment: rounding when parts of it are added up


def rows_of(step: Step, number: int, size: float) -> NDArray[np.float64]:
    """Rows of `insertion.run.increments` that are increment `number` (from 0) of a move, shape (k, 2).

    size : feed per increment, m. The first increments of a move are taken in parts.
    """
    rows, bounds = _laid_out(step, size)
    last = len(bounds) - 2
    return rows[bounds[min(number, last)] : bounds[min(number, last) + 1]]


@lru_cache(maxsize=8)
def _laid_out(step: Step, size: float) -> tuple[NDArray[np.float64], tuple[int, ...]]:
    """Rows of a long move, and where its increments begin and end among them."""
    rows = increments([_move(step, LONG, size)], size)
    done = np.cumsum(np.abs(rows).sum(axis=1)) / (TURN_STEP if step.startswith("turn") else size)
    whole = np.flatnonzero(np.abs(done - np.round(done)) < NEAR) + 1
    return rows, (0, *(int(v) for v in whole))


def moves_of(made: Sequence[Step], size: float) -> tuple[Move, ...]:
    """The moves that increments one by one add up to."""
    return tuple(_move(step, len(list(run)), size) for step, run in groupby(made))


def _move(step: Step, count: int, size: float) -> Move:
    """`count` increments as one move; a share of its amount is an increment to the bit."""
    if step.startswith("turn"):
        return Move("turn", SIGN[step] * count * _short(TURN_STEP))
    return Move("advance" if step == "advance" else "withdraw", count * _short(size))


def _short(value: float) -> float:
    """`value` with the last digits off, so that its multiples by a count are exact."""
    mantissa, exponent = frexp(value)
    return ldexp(floor(ldexp(mantissa, DIGITS)), exponent - DIGITS)
