"""Equilibrium paths by arc length: through limit points, past bifurcation points, and onto branches.

Predictor along the path's tangent, corrector across it (the bordered system of the same factors). A change of the
count of negative eigenvalues between two points shows a special point, which is then located by bisection. theory,
"The rod by itself".
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from .elastic import Array
from .errors import NonFiniteError
from .linear import prepare
from .model import Pose
from .newton import Loop
from .solve import PLAIN_ITERATIONS, Equilibrium, at_rest, begin, result
from .structure import Structure

TURN = 0.2  # rad, largest turn of a frame in a step unless told otherwise
SMALLEST = 1.0 / 4096.0  # of the largest step: below it the path counts as lost
EASY, HARD = 4, 12  # iterations: the next step grows up to EASY; beyond HARD the step is taken again at half its size
GROWTH = 1.5
STRAIGHT = 0.8  # least cosine between the directions of two neighbouring points: less may be another branch
ASIDE = 0.2  # of a step, farthest way of its corrector, for the same reason
BISECTIONS = 40  # of a step: well below what the count can resolve
WIDTH = 1e-9  # of the load factor's scale and of the step: the bracket is narrow enough
BRANCH_TURN = 0.05  # rad, turn of a frame along the critical mode at the start of a branch


@dataclass(frozen=True)
class Special:
    """A point at which the count changes.

    kind : "limit", where the load factor turns round, or "bifurcation", where it does not
    state : the equilibrium just before it
    bracket : load factors just before and just behind it
    counts : counts there; they differ by more than 1 where several points coincide
    mode : shape (n,), critical mode over all unknowns: displacements, m, and turns, rad; largest turn 1
    coupling : |mode . load| over the lengths of both: 0 at a bifurcation point, not at a limit point
    """

    kind: Literal["limit", "bifurcation"]
    state: Equilibrium
    bracket: tuple[float, float]
    counts: tuple[int, int]
    mode: Array
    coupling: float

    @property
    def factor(self) -> float:
        """Load factor, the middle of the bracket."""
        return 0.5 * (self.bracket[0] + self.bracket[1])


@dataclass(frozen=True)
class Path:
    """Equilibria in order along a path.

    points : all converged
    specials : limit and bifurcation points between them
    complete : whether the path reached what was asked for
    reason : why it ended
    """

    points: tuple[Equilibrium, ...]
    specials: tuple[Special, ...]
    complete: bool
    reason: str

    @property
    def last(self) -> Equilibrium:
        """The last good point."""
        return self.points[-1]


@dataclass(frozen=True)
class _Metric:
    """Lengths of steps: mean squares of displacements over the rod's length and of turns, and the load factor's."""

    unknowns: Array
    factor: float

    @classmethod
    def of(cls, structure: Structure, step: float, turn: float) -> "_Metric":
        model = structure.model
        unknowns = np.zeros(structure.size)
        for a in range(3):
            unknowns[model.at_node + a] = 1.0 / (structure.rod.length**2 * len(model.at_node))
            unknowns[model.at_frame + a] = 1.0 / len(model.at_frame)
        return cls(unknowns, (turn / step) ** 2)

    def dot(self, a: tuple[Array, float], b: tuple[Array, float]) -> float:
        return float(np.sum(self.unknowns * a[0] * b[0])) + self.factor * a[1] * b[1]


@dataclass
class _Walker:
    """A loop that goes along a path: where it stands, which way it looks, how far aside the last corrector went."""

    loop: Loop
    metric: _Metric
    turn: float
    step: float
    heading: tuple[Array, float]
    aside: float = 0.0

    def look(self) -> tuple[Array, float]:
        """Unit direction of the path at the loop's converged state, on the side of the present heading."""
        self.loop.tangent()
        way = (self.loop.out.rhs[1].copy(), 1.0)
        size = np.sqrt(self.metric.dot(way, way))
        size = size if self.metric.dot(way, self.heading) >= 0.0 else -size
        return way[0] / size, way[1] / size

    def largest(self) -> float:
        """Step along the heading at which load factor or turn reaches its limit."""
        turn = float(np.max(np.abs(self.heading[0]) * np.sqrt(self.metric.unknowns * len(self.loop.trial.q))))
        return 1.0 / max(abs(self.heading[1]) / self.step, turn / self.turn)

    def go(self, pose: Pose, factor: float, size: float) -> bool:
        """From a point of the path a step on, to the equilibrium across its end."""
        loop, model = self.loop, self.loop.structure.model
        loop.pose, loop.factor = pose.copy(), factor + size * self.heading[1]
        loop.move(self.heading[0], size)
        x, ahead = loop.pose.x.copy(), loop.factor
        row = self.metric.unknowns * self.heading[0]
        if not loop.correct(PLAIN_ITERATIONS, row, None, self.metric.factor * self.heading[1]):
            return False
        self.aside = self.metric.factor * (loop.factor - ahead) ** 2
        for a in range(3):
            self.aside += float(np.sum(self.metric.unknowns[model.at_node + a] * (loop.pose.x - x)[:, a] ** 2))
        self.aside = np.sqrt(self.aside) / size
        return True


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
        the path is complete after as many special points

    Returns
    -------
    Path
        what was found, in every case
    """
    if not (np.isfinite(step) and step > 0.0 and np.all(np.isfinite(until)) and turn > 0.0):
        message = f"step {step}, until {until}, turn {turn}; allowed: finite numbers, step and turn greater than 0"
        raise NonFiniteError(message)
    low, high = (-abs(until), abs(until)) if isinstance(until, int | float) else until
    loop = begin(structure, start or at_rest(structure))
    if not loop.correct(PLAIN_ITERATIONS):
        return Path((result(loop, len(loop.history)),), (), False, f"no equilibrium at the start: {loop.reason}")
    walker = _set_out(loop, step, turn, away_from, -1.0 if backward else 1.0)
    points, specials = [result(loop, len(loop.history))], list[Special]()
    size = walker.largest()
    while low <= points[-1].factor <= high:
        if len(points) >= max_points:
            return Path(tuple(points), tuple(specials), False, f"{max_points} points")
        smallest = SMALLEST * walker.largest()
        size = min(size, walker.largest())
        taken = _take(walker, points[-1], size, smallest)
        if taken is None:
            reason = f"lost at load factor {points[-1].factor:g}: {loop.reason or 'the path turns too sharply'}"
            return Path(tuple(points), tuple(specials), False, reason)
        size, point, ahead = taken
        if point.count != points[-1].count:
            specials.append(_locate(walker, points[-1], point, size, ahead))
        points.append(point)
        walker.heading = ahead
        if stop_at is not None and len(specials) >= stop_at:
            return Path(tuple(points), tuple(specials), True, f"{stop_at} special points")
        size *= GROWTH if len(point.residuals) <= EASY else 1.0
    return Path(tuple(points), tuple(specials), True, f"load factor {points[-1].factor:g} reached")


def _set_out(loop: Loop, step: float, turn: float, away_from: Equilibrium | None, sign: float) -> _Walker:
    """A walker at the loop's converged state that looks away from another state, or toward larger load factors."""
    s = loop.structure
    ahead, factor = np.zeros(s.size), sign
    if away_from is not None:
        factor = sign * (loop.factor - away_from.factor)
        for a in range(3):
            ahead[s.model.at_node + a] = sign * (loop.pose.x - away_from.pose.x)[:, a]
    walker = _Walker(loop, _Metric.of(s, step, turn), turn, step, (ahead, factor))
    walker.heading = walker.look()
    return walker


def _take(
    walker: _Walker, point: Equilibrium, size: float, smallest: float
) -> tuple[float, Equilibrium, tuple[Array, float]] | None:
    """A step of at most `size`, halved as needed: its size, the new point and the direction there."""
    while size >= smallest:
        if walker.go(point.pose, point.factor, size) and len(walker.loop.history) <= HARD:
            ahead = walker.look()
            if walker.metric.dot(ahead, walker.heading) > STRAIGHT and walker.aside < ASIDE:
                return size, result(walker.loop, len(walker.loop.history)), ahead
        size *= 0.5
    return None


def _locate(
    walker: _Walker, before: Equilibrium, after: Equilibrium, size: float, ahead: tuple[Array, float]
) -> Special:
    """Bisection in arc length for the first change of the count in a step."""
    loop = walker.loop
    low, high = 0.0, size
    near, far, far_way = before, after, ahead
    for _ in range(BISECTIONS):
        if abs(far.factor - near.factor) <= WIDTH * walker.step and high - low <= WIDTH**0.5 * size:
            break
        middle = 0.5 * (low + high)
        if not walker.go(before.pose, before.factor, middle):
            break
        way = walker.look()
        found = result(loop, len(loop.history))
        if found.count == before.count:
            low, near = middle, found
        else:
            high, far, far_way = middle, found, way
    loop.pose, loop.factor = near.pose.copy(), near.factor
    loop.evaluate()
    way = walker.look()
    kind: Literal["limit", "bifurcation"] = "limit" if way[1] * far_way[1] < 0.0 else "bifurcation"
    mode, coupling = critical_mode(loop)
    return Special(kind, near, (near.factor, far.factor), (near.count, far.count), mode, coupling)


def critical_mode(loop: Loop) -> tuple[Array, float]:
    """Null vector next to the loop's factorised state, largest turn 1, and its coupling with the load."""
    n = loop.structure.size
    # a start that is no mode of any symmetric structure, the same each time
    right, left = loop.mode(1.0 + np.cos(1.0 + 0.7 * np.arange(n) ** 1.5))
    loop.evaluate()
    prepare(loop.structure.model, loop.out, loop.moves)
    load = loop.out.rhs[1]
    free = ~loop.structure.model.fixed
    coupling = abs(float(left[free] @ load[free])) / float(np.linalg.norm(left) * np.linalg.norm(load[free]) + 1e-300)
    turns = np.concatenate([right[loop.structure.model.at_frame + a] for a in range(3)])
    return right / turns[np.argmax(np.abs(turns))], coupling


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
    structure, state = special.state.structure, special.state
    loop = Loop.at(structure, state.pose, state.factor)
    metric = _Metric.of(structure, 1.0, 1.0)
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

    `step` (default: a twentieth of it) must be smaller than the distance of two such points that cancel in the count.
    None where there is none before.
    """
    path = trace(structure, step=step or abs(until) / 20.0, until=until, backward=until < 0.0, stop_at=1)
    return path.specials[0] if path.specials else None
