"""Energies of a record as forces: what the hand works against, over its travel."""

from __future__ import annotations

import numpy as np

from ..insertion.classify import travel
from ..insertion.record import Array, Record

WINDOW_OF_TRAVEL = 0.3e-3  # m over which energies are turned into forces: three usual increments
NO_FORCE = 0.05e-3  # N: a force that is less leads nothing; a thousandth of what a hand feels


def rate(record: Record, energy: Array) -> Array:
    """Change of an energy (n,), J, over the last `WINDOW_OF_TRAVEL` of the hand, over it, N; 0 before the hand has
    gone so far: there the wire settles in its support."""
    return over_travel(travel(record), energy)


def hand_way(feed: Array) -> Array:
    """Which way the hand last moved at each row of its feed (n,), m: 1 on, -1 back; 1 before it moved at all."""
    moved = np.sign(np.diff(feed, prepend=feed[:1]))
    last = np.maximum.accumulate(np.where(moved != 0.0, np.arange(len(feed)), 0))
    return np.asarray(np.where(moved[last] < 0.0, -1.0, 1.0))


def over_travel(path: Array, energy: Array) -> Array:
    """The same over a travel (n,), m, that never runs back."""
    back = path - WINDOW_OF_TRAVEL
    change = energy - np.interp(back, path, energy)
    return np.asarray(np.where(back >= path[0], change / WINDOW_OF_TRAVEL, 0.0))
