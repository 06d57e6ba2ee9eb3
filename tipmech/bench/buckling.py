"""A wire as a clamped column under a dead axial load on its tip: straight up to its critical load, then bowed aside.

The path is followed by arc length through the bifurcation point and along the branch that leaves it; no imperfection is
assumed. theory, sections "The rod by itself" and "Bench tests".
"""

from dataclasses import dataclass
from math import pi

import numpy as np

from ..checks import check_range
from ..profile import Profile
from ..rod.continuation import critical_point, switch, trace
from ..rod.elastic import Array
from ..rod.errors import NotConvergedError
from .column import LEAST_ELEMENTS, compressed, critical_load
from .piece import check_elements, check_free_length, piece, planes

FREE_LENGTH = 10e-3  # m, as for the tip load
LARGEST_TURN = 2.0  # rad of the tip up to which the branch is followed: the elastica's load has then risen by 1/3
BEYOND = 1.05  # times the critical load: the path is followed so far to find its bifurcation point
PATH_STEP = 0.35  # of the critical load: a straight column has no other point before it
BRANCH_STEP = 0.05  # of the critical load, largest step along the branch
TURN = 0.05  # rad, largest turn of a frame in a step: some forty states
MOST_LOAD = 3.0  # times the critical load, far above any reached
ELEMENTS = 80


@dataclass(frozen=True)
class Buckling:
    """A column's states, n of them, N elements; the first is unloaded, the second straight under its critical load.

    free_length : m
    critical : critical load, N
    load : ndarray, shape (n,), axial load on the tip, N
    aside : ndarray, shape (n,), deflection of the tip across the axis, m
    shortening : ndarray, shape (n,), approach of the tip to the clamp along the axis, m
    turned : ndarray, shape (n,), rotation of the tip's tangent, rad
    shapes : ndarray, shape (n, N + 1, 2), distance from the clamp along the axis and across it, m
    definition : the test in words
    """

    free_length: float
    critical: float
    load: Array
    aside: Array
    shortening: Array
    turned: Array
    shapes: Array
    definition: str


def buckling(profile: Profile, free_length: float = FREE_LENGTH, *, elements: int = ELEMENTS) -> Buckling:
    """Load against deflection of the distal `free_length` of a wire as a clamped-free column, past its critical load.

    The wire is straight and without weight, its laws of bending linear, its proximal end clamped; it bows in its plane
    of easy bending until its tip has turned by `LARGEST_TURN`.

    Parameters
    ----------
    profile : Profile
        the wire
    free_length : float
        clamp to tip, m
    elements : int
        rod elements

    Raises
    ------
    FieldError
        when an argument is out of range
    NotConvergedError
        when the branch is not found
    """
    check_free_length(profile, free_length, name="free_length")
    check_range(free_length, name="free_length", low=0.0, above=True)
    check_elements(elements, LEAST_ELEMENTS)
    rod = piece(profile, 0.0, free_length, elements, linear=True)
    easy, _ = planes(rod)
    column = compressed(rod, "clamped-free", easy)
    load = critical_load(rod, "clamped-free")
    point = critical_point(column, BEYOND * load, step=PATH_STEP * load)
    if point is None:
        raise NotConvergedError(f"buckling test: no bifurcation point up to {BEYOND * load:.4g} N", rod.points)
    first = switch(point)
    if not first.converged:
        raise NotConvergedError(f"buckling test: the bowed branch was not found: {first.reason}", first.x)
    path = trace(
        column, step=BRANCH_STEP * load, until=(0.0, MOST_LOAD * load), start=first, away_from=point.state, turn=TURN
    )
    side = np.asarray(easy.side)
    straight = rod.points[:, [2, 0]] * [1.0, 0.0]
    rows = [(0.0, 0.0, 0.0, 0.0), (point.factor, 0.0, free_length - float(point.state.x[-1, 2]), 0.0)]
    shapes = [straight, np.column_stack([point.state.x[:, 2], np.zeros(elements + 1)])]
    sign = 1.0 if float(path.points[-1].x[-1] @ side) > 0.0 else -1.0
    for state in path.points:
        across = sign * (state.x @ side)
        ahead, beside = np.diff(state.x[-2:, 2])[0], np.diff(across[-2:])[0]
        turned = float(np.arctan2(beside, ahead) % (2.0 * pi))
        rows.append((state.factor, float(across[-1]), free_length - float(state.x[-1, 2]), turned))
        shapes.append(np.column_stack([state.x[:, 2], across]))
        if turned > LARGEST_TURN:
            break
    table = np.array(rows)
    return Buckling(
        free_length=free_length,
        critical=point.factor,
        load=table[:, 0],
        aside=table[:, 1],
        shortening=table[:, 2],
        turned=table[:, 3],
        shapes=np.array(shapes),
        definition=(
            f"distal {free_length * 1e3:g} mm as a column, clamped at its proximal end, a dead axial load on its free "
            "tip, no weight, straight at first, in its plane of easy bending"
        ),
    )
