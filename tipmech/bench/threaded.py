"""A wire laid in a tube: mesh, shape at rest, wall. theory, section "Torque and track in a tube"."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..bending import MomentLaw, turned_to
from ..checks import FieldError, mm
from ..profile import Profile
from ..rod.build import Rod, Section, rod_along
from ..rod.elastic import Array
from ..rod.errors import NotConvergedError
from ..rod.solve import Equilibrium, solve
from ..rod.structure import Structure
from ..rod.supports import clamp
from .piece import KEYS, cuts, means
from .tip_shape import STRAIGHT, Shape
from .tube import Route, Wall

INDENT = 0.02  # of the clearance: how far the wall gives way under the force of a wire that just fits the bend
INDENT_LIMIT = 0.25  # of the clearance: a wall that gave way further is no tube, the test is refused
# share of the way on which the wire's free form goes from the tube's shape to its own: small as it first touches
STRAIGHTENING = (0.01, 0.05, 0.2, 0.5, 1.0)
ITERATIONS = 80  # of Newton's method: nodes that touch for the first time cost some each
CUTS = 5  # halvings of a change of form or of friction that fails
# of sqrt(c R), element length in and beside a bend: half of it changes the wall's force by less than 1 %, at a shaped
# tip by 2 %
MESH = 0.3
NEAR = 6.0  # sqrt(c R), how far beside a bend: a wire straightens within 3.5
COARSE = 2e-3  # m, longest element
TIP_ELEMENTS = 8  # of each bend of a shaped tip
DIRECTIONS = 16  # over a quarter turn, of which a section without a soft side is the mean: one ribbon's moment to 1e-3


@dataclass(frozen=True)
class Threaded:
    """A wire in a tube, N elements; node 0 is the base, in the axis at the proximal end and clamped there.

    rod : built along the axis; its natural curvature is set anew for each solution
    wall : Wall
    distance : ndarray, shape (N + 1,), from the tip, m
    """

    rod: Rod
    wall: Wall
    distance: Array

    @classmethod
    def along(
        cls,
        profile: Profile,
        route: Route,
        bore: float,
        end: float,
        *,
        shape: Shape = STRAIGHT,
        load: float = 0.0,
    ) -> "Threaded":
        """Wire with its base at the route's beginning and its tip at arc length `end` (m).

        bore : inner diameter of the tube, m
        shape : bends of the free tip
        load : largest axial force expected, N: the wall is stiff enough for it
        Both bending rigidities are their mean, in the bends of the tip the lower one, and the moment law with them: the
        rod has no soft side.

        Raises
        ------
        FieldError
            where the wire does not fit into the bore
        """
        widest = 2.0 * float(
            np.max(profile.radius[profile.distance <= end], initial=profile.at("radius", np.array([end]))[0])
        )
        if bore <= widest:
            raise FieldError("bore", mm(bore), f"greater than the wire's diameter in the tube ({mm(widest)})")
        arc = graded(route, end, 0.5 * (bore - widest), shape)
        distance = end - arc
        room = 0.5 * bore - profile.at("radius", distance)
        middle = 0.5 * (distance[1:] + distance[:-1])
        rod = _sideless_rod(profile, route.points(arc), arc, shape)
        rod = replace(rod, law=sideless(profile, middle, shape.inside(middle)))
        stiff = np.mean([profile.at("EI1", distance), profile.at("EI2", distance)], axis=0)
        curved = np.full(len(arc), max(float(np.max(route.curvature)), 1.0 / route.total))
        for one in shape.arcs:
            here = (distance >= one.start) & (distance <= one.end)
            curved = np.where(here, np.maximum(curved, one.angle / one.length), curved)
        # a wire that fits the bend rests on points about sqrt(4 c R) apart
        reach = np.sqrt(4.0 * room / curved)
        force = stiff * curved / reach + load * curved * rod.tributary
        return cls(rod, Wall(route, room, force / (INDENT * room)), distance)

    def structure(self, natural: Array) -> Structure:
        """The wire with natural curvature (N + 1, 3), 1/m, in the carried frame."""
        rod = replace(self.rod, natural=np.repeat(natural[:, None, :], 2, axis=1))
        return Structure(rod, [clamp(0)], potential=self.wall)

    def lay(self, natural: Array) -> Equilibrium:
        """The wire at rest without friction, from a form in which it fills the axis free of stress.

        Raises
        ------
        NotConvergedError
            where no equilibrium is found
        """
        state: Equilibrium | None = None
        fitted = 0.5 * (self.rod.natural[:, 0] + self.rod.natural[:, 1])
        form = fitted
        for part in STRAIGHTENING:
            goal = (1.0 - part) * fitted + part * natural
            state, form = self.reform(state, form, goal), goal
        assert state is not None
        return state

    def reform(self, start: Equilibrium | None, before: Array, natural: Array, cuts: int = CUTS) -> Equilibrium:
        """The wire at rest next to a start that had another natural curvature; its change is cut where need be.

        Raises
        ------
        NotConvergedError
            where no equilibrium is found
        """
        state = solve(self.structure(natural), 0.0, start=start, max_iterations=ITERATIONS)
        if state.converged:
            return state
        if cuts == 0:
            raise NotConvergedError(f"the wire finds no rest in the tube: {state.reason}", state.x)
        middle = 0.5 * (before + natural)
        return self.reform(self.reform(start, before, middle, cuts - 1), middle, natural, cuts - 1)

    def checked(self, state: Equilibrium) -> Equilibrium:
        """The state, if the wall gave way no further than it may."""
        deep = self.wall.indent(state.x)
        if deep > INDENT_LIMIT:
            message = f"the tube's wall gives way by {deep:.2g} of the clearance, more than {INDENT_LIMIT:g}"
            raise NotConvergedError(message, state.x)
        return state


def _sideless_rod(profile: Profile, points: Array, arc: Array, shape: Shape) -> Rod:
    """Rod through points (N + 1, 3) at arc lengths (N + 1,) of the axis, sections exact between the profile's knots.

    Without laws; arc lengths within an element go with its chord.
    """
    ends = [s for one in shape.arcs for s in (arc[-1] - one.end, arc[-1] - one.start) if arc[0] < s < arc[-1]]
    cut = cuts(profile, arc[-1], np.unique(np.concatenate([arc, 0.5 * (arc[1:] + arc[:-1]), ends])))
    at = arc[-1] - cut
    one, two, *others = (profile.at(key, at) for key in KEYS)
    inside = shape.inside(0.5 * (at[1:] + at[:-1]))
    bend = np.where(inside, means(np.minimum(one, two)), means(0.5 * (one + two)))
    table = np.stack([bend, bend, *(means(row) for row in others)], axis=1)
    chord = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    breaks = np.interp(cut[1:-1], arc, chord)
    return rod_along(points, [Section(*row) for row in table.tolist()], breaks=breaks.tolist())


def sideless(profile: Profile, distance: Array, soft: NDArray[np.bool_]) -> MomentLaw | None:
    """Law at distances from the tip (m) of a wire that bends alike in all directions; None: it stays on the line.

    Bending energy is the mean over all directions, as that of the mean of EI1 and EI2 is; where `soft`, that of the
    direction of easy bending.
    """
    law = profile.law_at(distance)
    if law is None:
        return None
    ratio = profile.at("EI2", distance) / profile.at("EI1", distance)
    even = np.sin((np.arange(DIRECTIONS) + 0.5) * 0.5 * np.pi / DIRECTIONS) ** 2
    across = np.where(soft[:, None], np.where(ratio < 1.0, 1.0, 0.0)[:, None], even)
    return turned_to(law, ratio, across)


def graded(route: Route, end: float, clearance: float, shape: Shape = STRAIGHT) -> Array:
    """Arc lengths from 0 to `end` (m) of a mesh: fine in bends, where wires straighten beside them, in a shaped tip.

    A wire in a bend of radius R with clearance c touches at distances of some sqrt(c R) (closed_forms.bend_wall_force).
    """
    knots, sizes = [0.0, end], []
    for arc in shape.arcs:
        sizes.append((end - arc.end, end - arc.start, arc.length / TIP_ELEMENTS))
        knots += [max(0.0, end - arc.end), end - arc.start]
    for a, b, c in zip(route.knots[:-1], route.knots[1:], route.curvature[1:-1], strict=True):
        if c > 0.0:
            reach = float(np.sqrt(clearance / c))
            sizes.append((a - NEAR * reach, b + NEAR * reach, MESH * reach))
            knots += [a, b, *sizes[-1][:2]]
    stations = np.unique(np.clip(knots, 0.0, end))
    out = [np.zeros(1)]
    for a, b in zip(stations[:-1], stations[1:], strict=True):
        middle = 0.5 * (a + b)
        size = min([COARSE, *(h for low, high, h in sizes if low < middle < high)])
        count = max(1, int(np.ceil((b - a) / size - 1e-9)))
        out.append(np.linspace(a, b, count + 1)[1:])
    return np.concatenate(out)
