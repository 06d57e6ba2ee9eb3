"""A stretch of a wire as a straight rod, and the plane in which it bends most easily. Floor 3.

Rigidities enter exactly: between knots of the profile they are linear, and the mean compliance of a stretch of linear
rigidity is one over the logarithmic mean of its ends.
"""

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from ..checks import FieldError, check_positive, mm
from ..profile import Profile
from ..rod.build import Rod, Section, rod_along
from ..rod.elastic import Array

NEAR = 1e-9  # m, breaks closer than this are one: rounding of a sum of lengths
ALIKE = 1e-6  # relative difference of two rigidities below which the logarithmic mean is the arithmetic one (to 1e-13)
KEYS = ("EI1", "EI2", "GJ", "GA", "GA", "EA")  # fields of a profile in the order of a `Section`


class Plane(NamedTuple):
    """A plane of bending of a rod along +z.

    across : space axis that the plane is perpendicular to, "x" or "y"
    turn : component of the rotation vector, "1" or "2"
    side : direction in which a force turns the rod positively about that axis, shape (3,)
    """

    across: str
    turn: str
    side: tuple[float, float, float]


PLANES = (Plane("x", "1", (0.0, -1.0, 0.0)), Plane("y", "2", (1.0, 0.0, 0.0)))
"""Bending about the section's axis 1 (EI1) and about its axis 2 (EI2)."""


def piece(profile: Profile, low: float, high: float, elements: int, *, linear: bool = False) -> Rod:
    """The wire between the distances `low` and `high` from its tip (m) as a straight rod along +z, base at node 0.

    Equal elements; node 0 lies at `high`, the last one at `low`. `linear` leaves the moment laws out, for tests whose
    curvatures are small by definition.

    Raises
    ------
    FieldError
        where the stretch is empty or reaches beyond the wire
    """
    longest = float(profile.distance[-1])
    if not 0.0 <= low < high:
        raise FieldError("low", mm(low), f"at least 0 and less than high ({mm(high)})")
    if not high <= longest + NEAR:
        raise FieldError("high", mm(high), f"at most the wire's length ({mm(longest)})")
    length = high - low
    grid = np.linspace(0.0, length, 2 * elements + 1)  # nodes and middles: the section may differ in halves of elements
    arc = cuts(profile, high, grid)
    values = np.stack([means(profile.at(key, high - arc)) for key in KEYS], axis=1)
    points = np.zeros((elements + 1, 3))
    points[:, 2] = grid[::2]
    rod = rod_along(points, [Section(*row) for row in values.tolist()], breaks=arc[1:-1].tolist())
    return rod if linear else replace(rod, law=profile.law_at(high - grid[1::2]))


def cuts(profile: Profile, end: float, grid: Array) -> Array:
    """Ends of stretches in which every rigidity is linear: a grid of arc lengths and the profile's knots, m.

    end : arc length at which the wire's tip lies, m; grid : increasing; of two closer than `NEAR` the first counts.
    """
    knots = end - profile.distance
    arc = np.unique(np.concatenate([grid, knots[(knots > grid[0] + NEAR) & (knots < grid[-1] - NEAR)]]))
    return np.asarray(arc[np.concatenate([[True], np.diff(arc) > NEAR])])


def planes(rod: Rod) -> tuple[Plane, Plane]:
    """The rod's plane of easy bending and the one across it; EI1's where both are alike."""
    give = rod.half.sum(axis=(0, 1))
    return PLANES if give[0] >= give[1] else (PLANES[1], PLANES[0])


def check_free_length(profile: Profile, length: float, *, name: str) -> float:
    """Return a length if it is positive and the wire is as long.

    Raises
    ------
    FieldError
        naming the argument and what is allowed
    """
    longest = float(profile.distance[-1])
    check_positive(length, name=name)
    if length > longest + NEAR:
        raise FieldError(name, mm(length), f"at most the wire's length ({mm(longest)})")
    return length


def check_elements(elements: int, least: int) -> int:
    """Return a number of elements that is at least `least`."""
    if elements < least:
        raise FieldError("elements", elements, f"at least {least}")
    return elements


def means(ends: Array) -> Array:
    """Logarithmic mean of each two neighbouring values, shape (n - 1,) of (n,): 1 over the mean of 1/linear."""
    a, b = ends[:-1], ends[1:]
    alike = np.abs(b - a) <= ALIKE * a
    return np.where(alike, 0.5 * (a + b), (b - a) / np.where(alike, 1.0, np.log(b / a)))
