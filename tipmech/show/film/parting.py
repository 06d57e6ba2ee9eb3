"""Where two insertions part: the first event or channel of the tip in which they differ, in order, not in time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...insertion.classify import CURL_HOLD, travel
from ...insertion.record import Outcome, Record
from ...vessel.walls import BACK, FALSE, HOLE, TRUE, WINDOW

STAY = CURL_HOLD  # m of travel for which the tip must stay in a channel to have been there, as a curl must last
CHANNELS: dict[int, str] = {
    TRUE: "the tip is back in the true lumen",
    WINDOW: "the tip goes into the tear's window",
    FALSE: "the tip goes under the flap",
    HOLE: "the tip goes into a hole of the flap",
    BACK: "the tip goes under the flap behind the upstream lip",
}


@dataclass(frozen=True)
class Event:
    """What happened, and at which travel of the hand, m."""

    words: str
    at: float


@dataclass(frozen=True)
class Parting:
    """Where two records part: travel of the hand (m), and the next event of each (None: nothing more happens)."""

    at: float
    events: tuple[Event | None, Event | None]


def events(record: Record, outcome: Outcome) -> list[Event]:
    """Events of an insertion in order: reaches the tear, channels of the tip, enters, curls, extends the plane."""
    zero = outcome.reached if np.isfinite(outcome.reached) else 0.0
    found = [Event("reaches the tear", outcome.reached)] if np.isfinite(outcome.reached) else []
    for since, words in (
        (outcome.entered, "has entered the false lumen"),
        (outcome.curled, "curls"),
        (outcome.extended, "has extended the plane by 0.5 mm"),
    ):
        if np.isfinite(since):
            found.append(Event(words, zero + since))
    return sorted([*found, *_channels(record)], key=lambda event: event.at)


def _channels(record: Record) -> list[Event]:
    """Channels of the tip after the first one, each for at least `STAY` or to the end."""
    path, tip = travel(record), record.side[:, -1]
    starts = np.flatnonzero(np.diff(tip, prepend=tip[0] - 1))
    ends = np.append(path[starts[1:]], np.inf)
    found, last = [], int(tip[0])
    for row, end in zip(starts[1:], ends[1:], strict=True):
        if end - path[row] >= STAY and int(tip[row]) != last:
            last = int(tip[row])
            found.append(Event(CHANNELS[last], float(path[row])))
    return found


def parting(first: list[Event], second: list[Event]) -> Parting | None:
    """Where two rows of events first differ in what happens; None where they are the same throughout."""
    for k in range(max(len(first), len(second))):
        one, two = (own[k] if k < len(own) else None for own in (first, second))
        if one is None or two is None or one.words != two.words:
            return Parting(min(event.at for event in (one, two) if event is not None), (one, two))
    return None
