"""Special points of a path: limit and bifurcation points between two of its points, located by bisection."""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from .arclength import Spot, Walker, Way, difference
from .elastic import Array
from .linear import prepare
from .newton import RESIDUAL, Loop
from .solve import Equilibrium

BISECTIONS = 60
MOST = 12  # special points in one step
WIDTH = 1e-9  # of the largest load step, and its root of the path's step: wanted of a bracket
POINT = 1e-6  # rms turn, rad, and displacement over length between a bracket's ends: no more than a point all the same
SHARES = (0.5, 0.25, 0.75, 0.125, 0.875, 0.4, 0.6)  # of the bracket, tried one after another
CLEAR = 1e-3  # of the path's step, bracket down to which its ends tell count and direction
BLUR = (
    30.0 * RESIDUAL**0.5
)  # rms turn within which, and where the load changes by less than its square, round-off decides
ZERO = 0.1  # of its size at the step's ends: below, an eigenvalue has come to zero


@dataclass(frozen=True)
class Special:
    """A point at which an eigenvalue comes to zero.

    kind : "limit", where count and direction of the load change, or "bifurcation"
    state : the equilibrium just before it
    bracket : load factors just before and just behind it: to 1e-9 of the largest load step, where round-off allows
    narrow : whether the states before and behind it are the same within 1e-6 (rms turn, rad, and displacement over the
        length). Where not, the path itself bends away next to the point, because the mesh breaks a symmetry: refine it
    counts : counts there; they differ by more than 1 where several points coincide, and not at all where a branch meets
        the path it left (its load turns round there) or, where loads have no potential and the count is the
        determinant's sign, at a pair of points
    mode : shape (n,), critical mode over all unknowns: displacements, m, and turns, rad; largest turn 1
    coupling : |mode . load| over the lengths of both, measured by `model.metric` and its inverse: between 0, at a
        bifurcation point, and 1. Small at a limit point too where the load hardly moves the critical part, such as
        the prescribed turn of a far end (1e-6)
    """

    kind: Literal["limit", "bifurcation"]
    state: Equilibrium
    bracket: tuple[float, float]
    narrow: bool
    counts: tuple[int, int]
    mode: Array
    coupling: float

    @property
    def factor(self) -> float:
        """Load factor, the middle of the bracket."""
        return 0.5 * (self.bracket[0] + self.bracket[1])


def between(walker: Walker, before: Spot, after: Spot) -> list[Special]:
    """All special points seen between two neighbouring points of a path, in order."""
    found: list[Special] = []
    for _ in range(MOST):
        if not after.beyond(before):
            break
        special, before = _first(walker, before, after)
        if special is not None:
            found.append(special)
    return found


def _first(walker: Walker, before: Spot, after: Spot) -> tuple[Special | None, Spot]:
    """The first special point and a point clear behind it; None where no eigenvalue comes to zero after all.

    Next to a bifurcation point round-off decides the count and the path's direction: both are taken from the last
    bracket wide enough to tell, what lies within it is one point.
    """
    loop = walker.loop
    near, far = clear = before, after
    whole = walker.metric.size(_chord(near, far))
    narrow = False
    for _ in range(BISECTIONS):
        chord = _chord(near, far)
        gap = walker.metric.size(chord)
        if gap > CLEAR * whole and not _blurred(walker, near.point, chord):
            clear = near, far
        narrow = gap <= POINT
        if abs(chord[1]) <= WIDTH * walker.step and gap <= WIDTH**0.5 * whole:
            narrow = True
            break
        found = _inside(walker, near, chord, gap)
        if found is None:
            break
        near, far = (near, found) if found.beyond(before) else (found, far)
    start, end = clear
    if not end.beyond(start):
        return None, end
    same = start.point.count == end.point.count
    if same and start.side == end.side and near.nearest > ZERO * max(before.nearest, after.nearest):
        return None, end
    loop.pose, loop.factor = near.point.pose.copy(), near.point.factor
    loop.evaluate()
    loop.tangent()
    mode, coupling = critical_mode(loop)
    turns = start.way[1] * end.way[1] < 0.0
    kind: Literal["limit", "bifurcation"] = "limit" if turns and start.side == end.side else "bifurcation"
    bracket = (near.point.factor, far.point.factor)
    counts = (start.point.count, end.point.count)
    return Special(kind, near.point, bracket, narrow, counts, mode, coupling), end


def joined(walker: Walker, first: Special, second: Special) -> Special | None:
    """Two special points as one where a step ended in between, too near for a count; None: they are two."""
    a, b = first.state, second.state
    if not _blurred(walker, a, (difference(a.structure, a.pose, b.pose), b.factor - a.factor)):
        return None
    counts = (first.counts[0], second.counts[1])
    return replace(first, kind="bifurcation", narrow=first.narrow and second.narrow, counts=counts)


def strayed(found: list[Special]) -> str:
    """Why a step may have left its path; "" where it has not.

    Next to an avoided bifurcation two paths come near and bend away from each other. A step straight across changes the
    bordered determinant's sign all the same, but its bracket stays wide.
    """
    for point in found:
        if not point.narrow:
            low, high = sorted(point.bracket)
            return f"between load factors {low:.6g} and {high:.6g} the path bends away, and the step leads to another"
    return ""


def _blurred(walker: Walker, point: Equilibrium, way: Way) -> bool:
    """Whether round-off decides the count along a way from a point: eigenvalues change no faster than the load, and on
    a branch near its bifurcation point both with the square of the way."""
    load = abs(way[1]) / max(walker.step, abs(point.factor))
    return walker.metric.size(way) <= 3.0 * BLUR and load <= 10.0 * BLUR**2


def _chord(a: Spot, b: Spot) -> Way:
    """Step from one point to another."""
    return difference(a.point.structure, a.point.pose, b.point.pose), b.point.factor - a.point.factor


def _inside(walker: Walker, near: Spot, chord: Way, gap: float) -> Spot | None:
    """A point of the path across the chord from one end of a bracket to the other, its middle if possible.

    From the chord, not along the path's direction, which is lost where the tangent is next to singular.
    """
    way = (chord[0] / gap, chord[1] / gap)
    for share in SHARES:
        found = walker.go(near.point, way, share * gap, straight=-1.0)
        if found is not None:
            return found
    return None


def critical_mode(loop: Loop) -> tuple[Array, float]:
    """Null vector next to the loop's factorised state, largest turn 1, and its coupling with the load."""
    n = loop.structure.size
    # a start that is no mode of any symmetric structure, the same each time
    right, left = loop.mode(1.0 + np.cos(1.0 + 0.7 * np.arange(n) ** 1.5))
    loop.evaluate()
    prepare(loop.structure.model, loop.out, loop.moves)
    load = loop.out.rhs[1]
    free = ~loop.structure.model.fixed
    push, metric = left[free] * load[free], loop.structure.model.metric[free]
    size = float(np.sum(metric * left[free] ** 2) * np.sum(load[free] ** 2 / metric))
    coupling = abs(float(np.sum(push))) / (size**0.5 + 1e-300)
    turns = np.concatenate([right[loop.structure.model.at_frame + a] for a in range(3)])
    return right / turns[np.argmax(np.abs(turns))], coupling
