"""What the hand does at each increment, in words; of a procedure with the number of the attempt."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...insertion.classify import travel
from ...insertion.record import Array, Record

STILL = 1e-9  # m, rad: less is no movement


@dataclass(frozen=True)
class Procedure:
    """A procedure of several attempts. ends : ndarray, shape (k,), travel of the hand at the end of each attempt, m;
    end : why all ended, in words."""

    ends: Array
    end: str

    def attempt(self, at: float) -> int:
        """Number of the attempt, from 1, at a travel of the hand, m."""
        return 1 + int(np.searchsorted(self.ends[:-1], at - STILL))


def action_words(record: Record, row: int, procedure: Procedure | None = None) -> str:
    """What the hand does on the way to a row: advance, withdraw, turn; in a procedure, in which attempt."""
    before = (float(record.feed[row - 1]), float(record.turn[row - 1])) if row else (0.0, 0.0)
    fed, turned = float(record.feed[row]) - before[0], float(record.turn[row]) - before[1]
    turning = f"turn to {np.degrees(record.turn[row]):.0f}°" if abs(turned) > STILL else ""
    along = "advance" if fed > STILL else "withdraw" if fed < -STILL else ""
    text = ", ".join(part for part in (along, turning) if part) or "hold"
    if procedure is None:
        return text
    number = procedure.attempt(float(travel(record)[row]))
    return f"attempt {number} of {len(procedure.ends)}: {text}"
