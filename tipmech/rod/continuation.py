"""Equilibrium paths by arc length: through limit points, past bifurcation points, and onto branches.

A change of the count of negative eigenvalues between two points shows a special point, which is then located. theory,
"The rod by itself".
"""

from dataclasses import dataclass

import numpy as np

from .arclength import Metric, Spot, Walker, Way
from .errors import RangeError
from .newton import Loop
from .numbers import real, real_array, whole
from .solve import PLAIN_ITERATIONS, Equilibrium, at_rest, begin, result
from .special import Special, between, joined, strayed
from .structure import Structure

__all__ = ["LostPathError", "Path", "Special", "critical_point", "switch", "trace"]

TURN = 0.2  # rad, largest turn of a frame in a step unless told otherwise
SMALLEST = 1.0 / 4096.0  # of the largest step: below it the path counts as lost
EASY = 4  # iterations up to which the next step grows
GROWTH = 1.5
BRANCH_TURN = 0.05  # rad, turn of a frame along the critical mode at the start of a branch


@dataclass(frozen=True)
class Path:
    """Equilibria in order along a path.

    points : all converged; where no path could begin the one state from which it was to, which is not
    specials : limit and bifurcation points between them
    places : number of the point just before each of these
    complete : whether the path reached what was asked for
    reason : why it ended
    """

    points: tuple[Equilibrium, ...]
    specials: tuple[Special, ...]
    places: tuple[int, ...]
    complete: bool
    reason: str

    @property
    def last(self) -> Equilibrium:
        """The last good point."""
        return self.points[-1]


class LostPathError(RuntimeError):
    """A path was lost before what was sought on it; `path` holds what was found."""

    def __init__(self, path: Path) -> None:
        super().__init__(
            f"no special point up to load factor {path.last.factor:g}, where the path ended: {path.reason}"
        )
        self.path = path


def trace(
    structure: Structure,
    *,
    step: float,
    until: float | tuple[float, float] = 1.0,
    start: Equilibrium | None = None,
    away_from: Equilibrium | None = None,
    backward: bool = False,
    turn: float = TURN,
    max_points: int = 400,
    stop_at: int | None = None,
) -> Path:
    """Follow the equilibrium path.

    Parameters
    ----------
    step : float
        largest change of the load factor in a step
    until : float or pair of float
        the path is complete when the load factor leaves this range (one number: that factor and its opposite)
    start : Equilibrium, optional
        a point of the path; default: the stress-free state at factor 0
    away_from : Equilibrium, optional
        start away from this state (a branch: from the bifurcation point); default: toward larger factors
    backward : bool
        the other way
    turn : float
        largest turn of a frame in a step, rad
    max_points : int
        the path ends, incomplete, after as many points
    stop_at : int, optional
        the path is complete after as many special points (or more, where the last step holds several); incomplete
        where one of the last is not `narrow`: there the path itself bends away, and would be followed without `stop_at`

    Returns
    -------
    Path
        what was found, in every case

    Raises
    ------
    RodInputError
        one of its kinds, for a step, range, turn or number that is not allowed, or a range without the start in it
    """
    for value, what in ((step, "step"), (turn, "turn")):
        if not real(value, what) > 0.0:
            message = f"{what} is {value}; allowed: greater than 0"
            raise RangeError(message)
    ends = real_array(until, "until", [(), (2,)])
    low, high = sorted((-float(ends), float(ends))) if ends.ndim == 0 else (float(ends[0]), float(ends[1]))
    whole(max_points, "max_points", 1)
    if stop_at is not None:
        whole(stop_at, "stop_at", 1)
    if away_from is not None:
        begin(structure, away_from)
    loop = begin(structure, start or at_rest(structure))
    if not low <= loop.factor <= high:
        message = f"until {until}, start at factor {loop.factor:g}; allowed: a range (low, high) that holds the start"
        raise RangeError(message)
    if not loop.correct(PLAIN_ITERATIONS):
        return Path((result(loop, len(loop.history)),), (), (), False, f"no equilibrium at the start: {loop.reason}")
    walker, here = _set_out(loop, step, turn, away_from, -1.0 if backward else 1.0)
    points, specials, places = [here.point], list[Special](), list[int]()

    def path(complete: bool, reason: str) -> Path:
        return Path(tuple(points), tuple(specials), tuple(places), complete, reason)

    size = walker.largest(here.way)
    while low <= here.point.factor <= high:
        if len(points) >= max_points:
            return path(False, f"{max_points} points")
        taken = _take(walker, here, size, np.inf if stop_at is None else stop_at - len(specials))
        if taken is None:
            return path(False, f"lost at load factor {here.point.factor:g}: {walker.reason}")
        size, there, found = taken
        both = joined(walker, specials[-1], found[0]) if specials and found else None
        if both is not None:
            specials[-1], found = both, found[1:]
        specials += found
        places += [len(points) - 1] * (len(specials) - len(places))
        points.append(there.point)
        here = there
        if stop_at is not None and len(specials) >= stop_at:
            return path(not walker.reason, walker.reason or f"{len(specials)} special points")
        size *= GROWTH if len(here.point.residuals) <= EASY else 1.0
    return path(True, f"load factor {here.point.factor:g} reached")


def _set_out(loop: Loop, step: float, turn: float, away_from: Equilibrium | None, sign: float) -> tuple[Walker, Spot]:
    """A walker at the loop's converged state that looks away from another state, or toward larger load factors."""
    s = loop.structure
    loop.tangent()
    metric = Metric.of(s).with_load(loop.out.rhs[1], step, turn)
    walker = Walker(loop, metric, turn, step)
    side: Way = np.zeros(s.size), sign
    if away_from is not None:
        # without the frames, whose turns between far states say nothing
        way, turned = np.zeros(s.size), sign * (loop.factor - away_from.factor)
        for a in range(3):
            way[s.model.at_node + a] = sign * (loop.pose.x - away_from.pose.x)[:, a]
        side = way, turned
    loop.evaluate()
    return walker, walker.spot(walker.look(side))


def _take(walker: Walker, here: Spot, size: float, wanted: float) -> tuple[float, Spot, list[Special]] | None:
    """A step of at most `size`, halved as needed, the new point and the special points before it.

    A step that may lead to another path is taken only where its special points were what was wanted.
    """
    largest = walker.largest(here.way)
    size = max(min(size, largest), SMALLEST * largest)
    while size >= SMALLEST * largest:
        there = walker.go(here.point, here.way, size)
        if there is not None:
            found = between(walker, here, there)
            walker.reason = strayed(found)
            if not walker.reason or len(found) >= wanted:
                return size, there, found
        size *= 0.5
    return None


def switch(special: Special, sign: int = 1, turn: float = BRANCH_TURN) -> Equilibrium:
    """A state on the branch that leaves a bifurcation point along its critical mode, to one side or the other.

    Parameters
    ----------
    special : Special
        from `trace`
    sign : int
        side: 1 or -1 times the mode
    turn : float
        largest turn of a frame away from the bifurcation point, rad; larger and smaller ones are tried too

    Returns
    -------
    Equilibrium
        go on with `trace(structure, start=..., away_from=special.state)`; flagged where no branch was found
    """
    if special.kind == "limit":
        message = f"the special point at load factor {special.factor:g} is a limit point: no branch leaves it"
        raise RangeError(message)
    structure, state = special.state.structure, special.state
    loop = Loop.at(structure, state.pose, state.factor)
    if sign not in (-1, 1) or not real(turn, "turn") > 0.0:
        message = f"sign is {sign}, turn {turn}; allowed: 1 or -1, and greater than 0"
        raise RangeError(message)
    metric = Metric.of(structure)
    row = metric.unknowns * special.mode
    spent = 0
    for share in (1.0, 0.5, 2.0, 0.25, 4.0, 0.1):
        loop.pose, loop.factor = state.pose.copy(), state.factor
        loop.move(special.mode, np.sign(sign) * share * turn)
        if loop.correct(PLAIN_ITERATIONS, row):
            loop.tangent()
            return result(loop, spent + len(loop.history))
        spent += len(loop.history)
    loop.pose, loop.factor = state.pose.copy(), state.factor
    loop.reason = loop.reason or "no branch found"
    return result(loop, spent)


def critical_point(structure: Structure, until: float, *, step: float | None = None) -> Special | None:
    """First limit or bifurcation point of the path from the stress-free state up to the load factor `until`.

    None where there is none, or only one beyond it. `step` (default: a twentieth of it) must be smaller than the
    distance of two points of a symmetric structure that cancel in the count; without a potential such pairs are seen by
    their eigenvalues, if these are still among the four next to zero at the step's end. Where the point is not `narrow`
    the structure bends away gradually next to it.

    Raises
    ------
    LostPathError
        where the path was lost before `until` without such a point: that there is none is then not known
    """
    step = abs(real(until, "until")) / 20.0 if step is None else step
    path = trace(structure, step=step, until=until, backward=until < 0.0, stop_at=1)
    if not path.specials and not path.complete:
        raise LostPathError(path)
    within = [point for point in path.specials[:1] if abs(point.factor) <= abs(until)]  # the last step goes beyond
    return within[0] if within else None
