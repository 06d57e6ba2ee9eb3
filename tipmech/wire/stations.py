"""Stations at which a report states a wire's sections: at a jump there are two, one on either side. SI units."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..profile import Profile
from .design import STEP, Design, profile

Array = NDArray[np.float64]

JUMP = 1e-3  # relative change of a rigidity across a station from which it is a jump: seen in three digits
RIGIDITIES = ("EI1", "EI2", "GJ", "EA", "GA")

Side = Literal["", "tip", "hand"]


@dataclass(frozen=True)
class Station:
    """One section of a wire.

    distance : m from the tip, as asked
    side : "" where the section does not jump, else "tip" or "hand": which side of the jump this is
    at : where a profile has that side's section, m
    """

    distance: float
    side: Side
    at: float

    @property
    def words(self) -> str:
        """Side in words, "" where there is one section only."""
        return f"toward the {self.side}" if self.side else ""


def stations(design: Design, distances: Sequence[float]) -> tuple[Station, ...]:
    """Stations of a design at distances from the tip (m) within its length, two of them where its section jumps."""
    both = [profile(design, "sliding"), profile(design, "bonded")]
    ends = np.array([s for part in design.parts for s in (part.start, part.end)])
    out: list[Station] = []
    for distance in distances:
        if distance > design.length:
            continue
        end = float(ends[np.argmin(np.abs(ends - distance))])
        low, high = end - STEP, end + STEP  # where the profile's close pair of knots stands
        inside = low > 0.0 and high < design.length and abs(end - distance) <= STEP
        if inside and any(_jumps(one, low, high) for one in both):
            out += [Station(distance, "tip", low), Station(distance, "hand", high)]
        else:
            out.append(Station(distance, "", distance))
    return tuple(out)


def two_axes(stock: Profile, s: Array) -> NDArray[np.bool_]:
    """Where the two bending rigidities of a profile differ, at distances s from the tip (m)."""
    easy, hard = stock.at("EI1", s), stock.at("EI2", s)
    return np.asarray(np.abs(hard - easy) > JUMP * easy)


def _jumps(stock: Profile, low: float, high: float) -> bool:
    """Whether any rigidity changes between two distances, m."""
    values = np.array([stock.at(key, np.array([low, high])) for key in RIGIDITIES])
    return bool(np.any(np.abs(values[:, 1] - values[:, 0]) > JUMP * values[:, 0]))
