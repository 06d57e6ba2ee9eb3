"""From the time of a film to the increments of a record: real time or slowed, said in words."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...insertion.classify import travel
from ...insertion.record import Array, Record
from ...units import from_si

TURN_RATE = np.radians(90.0)  # rad/s of a turn in place, in which the model knows no time (J)
SPEEDS = (1.0, 2.0, 3.0, 5.0, 10.0, 20.0, 50.0)  # times real time that a film made short runs at
SHORT = 6.0  # s of such a film, at most
LAST = 1.5  # s for which the last increment stays
ALIKE = 1e-9  # s, m: rounding


def hand_times(record: Record) -> Array:
    """Time of each increment, s: the hand moves along at its drive's rate, in place it turns at `TURN_RATE`."""
    along = np.diff(travel(record), prepend=0.0) / record.case.drive.rate
    turned = np.abs(np.diff(record.turn, prepend=0.0)) / TURN_RATE
    steps = np.where(along > 0.0, along, turned)
    steps[0] = 0.0
    return np.cumsum(steps)


def short_speed(seconds: float) -> float:
    """The least of `SPEEDS` at which so many real seconds pass within `SHORT` (the largest where none does)."""
    return next((speed for speed in SPEEDS if seconds <= speed * SHORT), SPEEDS[-1])


@dataclass(frozen=True)
class Pace:
    """Increments over a film's time.

    times : ndarray, shape (n,), of the increments in real time, s
    speed : real seconds in one second of the film
    pause : real time at which the film stands still, and for how long, s (nan: nowhere)
    """

    times: Array
    speed: float = 1.0
    pause: tuple[float, float] = (float("nan"), 0.0)

    @property
    def seconds(self) -> float:
        """Length of the film, s."""
        return float(self.times[-1] - self.times[0]) / self.speed + self.pause[1] + LAST

    def real(self, at: float) -> float:
        """Real time at a time of the film, s."""
        start, held = self.pause
        now = at * self.speed
        if now > start:  # never where there is no pause
            now = max(start, now - held * self.speed)
        return float(np.clip(self.times[0] + now, self.times[0], self.times[-1]))

    def paused(self, at: float) -> bool:
        """Whether the film stands at its pause at a time of the film, s."""
        start, held = self.pause
        return start <= at * self.speed < start + held * self.speed

    def place(self, at: float) -> tuple[int, float]:
        """Last increment at a time of the film (s), and the share of the way to the next one."""
        return place(self.times, self.real(at))


def place(times: Array, now: float) -> tuple[int, float]:
    """Last of increasing times that has come, and the share of the way to the next one (0 at the last)."""
    row = max(0, int(np.searchsorted(times, now + ALIKE, side="right")) - 1)
    if row + 1 >= len(times) or not times[row + 1] > times[row]:
        return row, 0.0
    return row, float(np.clip((now - times[row]) / (times[row + 1] - times[row]), 0.0, 1.0))


def speed_words(speed: float, rate: float, *, turns: bool = False) -> str:
    """How fast a film runs; rate: of the hand, m/s."""
    hand = f"hand at {from_si(rate, 'mm'):g} mm/s"
    how = (
        "real time"
        if speed == 1.0
        else f"slowed {1.0 / speed:.3g} times"
        if speed < 1.0
        else f"{speed:.3g} times real time"
    )
    turning = f", turns in place at {np.degrees(TURN_RATE):.0f}°/s (assumed)" if turns else ""
    return f"{how}: {hand}{turning}"
