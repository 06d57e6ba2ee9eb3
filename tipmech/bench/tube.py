"""A stiff tube along straights and arcs, and a wire that lies in it: its shape and the force of the wall on it.

The wall is a smooth energy of the rod's nodes: no force within the clearance, an elastic indentation beyond it. theory,
section "Torque and track in a tube".
"""

from dataclasses import dataclass, field, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..checks import FieldError, check_positive, check_range, mm
from ..kernel import bundle, kernel
from ..profile import Profile
from ..rod.build import Rod, Section, rod_along
from ..rod.elastic import Array
from ..rod.errors import NotConvergedError
from ..rod.solve import Equilibrium, solve
from ..rod.structure import Structure
from ..rod.supports import clamp

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
TIP_ELEMENTS = 8  # of a shaped tip
RUN_ON = 1.0  # m, how far the straights at the tube's ends go on
RULE = 1e-9  # rad or m: how far a foot may lie outside its piece by rounding


@dataclass(frozen=True)
class Piece:
    """A straight or an arc of a tube's axis.

    length : m
    curvature : 1/m, 0 for a straight
    plane : rad, direction of the bend about the tangent, in a frame that is carried along without turning about it
    """

    length: float
    curvature: float = 0.0
    plane: float = 0.0

    def __post_init__(self) -> None:
        check_positive(self.length, name="piece.length")
        check_range(self.curvature, name="piece.curvature", low=0.0)
        check_range(self.plane, name="piece.plane")


def bend(radius: float, angle: float, plane: float = 0.0) -> Piece:
    """Arc of `radius` (m) that turns by `angle` (rad)."""
    check_positive(radius, name="bend.radius")
    check_range(angle, name="bend.angle", low=0.0, high=2.0 * np.pi, above=True)
    return Piece(radius * angle, 1.0 / radius, plane)


@dataclass(frozen=True)
class Route:
    """Axis of a tube from its proximal end at the origin along +z; P pieces and a straight run-on at each end.

    pieces : from the proximal end
    start, tangent, normal : ndarray, shape (P + 2, 3), first point, tangent and direction to the centre of each piece
    curvature, length : ndarray, shape (P + 2,), 1/m, m
    """

    pieces: tuple[Piece, ...]
    start: Array = field(init=False, repr=False, compare=False)
    tangent: Array = field(init=False, repr=False, compare=False)
    normal: Array = field(init=False, repr=False, compare=False)
    curvature: Array = field(init=False, repr=False, compare=False)
    length: Array = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if not self.pieces:
            raise FieldError("route", [], "at least one piece")
        x, frame = np.array([0.0, 0.0, -RUN_ON]), np.eye(3)  # columns: two carried directions and the tangent
        rows = []
        for piece in (Piece(RUN_ON), *self.pieces, Piece(RUN_ON)):
            normal = frame[:, 0] * np.cos(piece.plane) + frame[:, 1] * np.sin(piece.plane)
            tangent = frame[:, 2].copy()
            rows.append((x, tangent, normal, piece.curvature, piece.length))
            if piece.curvature == 0.0:
                x = x + piece.length * tangent
                continue
            angle, radius = piece.length * piece.curvature, 1.0 / piece.curvature
            x = x + radius * (np.sin(angle) * tangent + (1.0 - np.cos(angle)) * normal)
            axis = np.cross(tangent, normal)
            frame = (
                np.cos(angle) * frame
                + np.sin(angle) * np.cross(axis, frame.T).T
                + (1.0 - np.cos(angle)) * np.outer(axis, axis @ frame)
            )
        for key, column in zip(
            ("start", "tangent", "normal", "curvature", "length"), zip(*rows, strict=True), strict=True
        ):
            object.__setattr__(self, key, np.array(column, dtype=float))

    @property
    def total(self) -> float:
        """Length of the pieces, m."""
        return float(np.sum(self.length[1:-1]))

    @property
    def knots(self) -> Array:
        """Arc lengths at which the pieces begin and the last one ends, shape (P + 1,), m."""
        return np.concatenate([[0.0], np.cumsum(self.length[1:-1])])

    def points(self, s: Array) -> Array:
        """Points of the axis at arc lengths s (m), shape (n, 3); beyond the ends on the run-on."""
        k, a = self._place(s)
        c = self.curvature[k]
        one = np.where(c > 0.0, c, 1.0)
        along = np.where(c > 0.0, np.sin(c * a) / one, a)
        across = np.where(c > 0.0, (1.0 - np.cos(c * a)) / one, 0.0)
        return np.asarray(self.start[k] + along[:, None] * self.tangent[k] + across[:, None] * self.normal[k])

    def curvatures(self, s: Array) -> Array:
        """Curvature vector at arc lengths s (m) in the carried frame: about its axes 1 and 2, shape (n, 2), 1/m.

        A bend toward the carried direction e turns about the tangent cross e.
        """
        k, _ = self._place(s)
        plane = np.array([0.0, *(p.plane for p in self.pieces), 0.0])[k]
        return np.asarray(self.curvature[k][:, None] * np.column_stack([-np.sin(plane), np.cos(plane)]))

    def _place(self, s: Array) -> tuple[NDArray[np.int64], Array]:
        """Piece and arc length within it."""
        knots = self.knots
        k = np.searchsorted(knots, s, side="right")
        first = np.concatenate([[-RUN_ON], knots])
        return k, s - first[k]


@bundle
class Axis(NamedTuple):
    """A route as arrays, for the kernel: see `Route`."""

    start: Array
    tangent: Array
    normal: Array
    curvature: Array
    length: Array


@kernel
def _wall(
    axis: Axis, room: Array, stiffness: Array, x: Array, grad: Array, hess: Array, push: Array, foot: Array
) -> float:
    """Energy of nodes x (n, 3) that the wall keeps within `room` (n,) of the axis; fills what it is handed.

    grad (n, 3) and hess (n, 3, 3): exact derivatives; push (n,): force of the wall, N; foot (n, 3): tangent of the
    axis beside the node. The distance to the axis is the least over the pieces beside which the node lies.
    """
    start, tangent, normal, curvature, length = axis.start, axis.tangent, axis.normal, axis.curvature, axis.length
    energy = 0.0
    for i in range(x.shape[0]):
        best, at = np.inf, 0
        for p in range(len(curvature)):
            c = curvature[p]
            a = b = z = 0.0
            for m in range(3):
                d = x[i, m] - start[p, m]
                a += d * tangent[p, m]
                b += d * normal[p, m]
            for m in range(3):
                z += (x[i, m] - start[p, m] - a * tangent[p, m] - b * normal[p, m]) ** 2
            if c > 0.0:
                rho = np.sqrt(a * a + (1.0 / c - b) ** 2)
                turn = np.arctan2(a, 1.0 / c - b)
                if turn < -0.5 * np.pi:
                    turn += 2.0 * np.pi
                along, square = turn / c, (rho - 1.0 / c) ** 2 + z
            else:
                along, square = a, b * b + z
            if -RULE <= along <= length[p] + RULE and square < best:
                best, at = square, p
        c = curvature[at]
        a = b = 0.0
        for m in range(3):
            d = x[i, m] - start[at, m]
            a += d * tangent[at, m]
            b += d * normal[at, m]
        # direction along the axis there, and the node's offset from the axis
        rho, ct, sn = 1.0, 1.0, 0.0
        if c > 0.0:
            rho = np.sqrt(a * a + (1.0 / c - b) ** 2)
            ct, sn = (1.0 / c - b) / rho, a / rho
        off = np.sqrt(best)
        deep = off - room[i]
        push[i] = 0.0
        for m in range(3):
            foot[i, m] = ct * tangent[at, m] + sn * normal[at, m]
            grad[i, m] = 0.0
            for n in range(3):
                hess[i, m, n] = 0.0
        if not deep > 0.0:
            continue
        k = stiffness[i]
        push[i] = k * deep
        energy += 0.5 * k * deep * deep
        inward = 0.0  # component of the outward direction along the radius of the arc
        for m in range(3):
            if c > 0.0:
                radial = sn * tangent[at, m] - ct * normal[at, m]
                side = x[i, m] - start[at, m] - a * tangent[at, m] - b * normal[at, m]
                grad[i, m] = ((rho - 1.0 / c) * radial + side) / off
                inward += grad[i, m] * radial
            else:
                grad[i, m] = (x[i, m] - start[at, m] - a * tangent[at, m]) / off
        around = inward / rho if c > 0.0 else 0.0
        for m in range(3):
            for n in range(3):
                across = (1.0 if m == n else 0.0) - foot[i, m] * foot[i, n] - grad[i, m] * grad[i, n]
                hess[i, m, n] = k * (grad[i, m] * grad[i, n] + deep * (across / off + around * foot[i, m] * foot[i, n]))
        for m in range(3):
            grad[i, m] *= push[i]
    return energy


@dataclass(frozen=True)
class Wall:
    """Wall of a tube as the energy of nodes.

    route : axis; room : m, shape (n,), at which each node touches; stiffness : N/m, shape (n,)
    """

    route: Route
    room: Array
    stiffness: Array

    def _evaluate(self, x: Array) -> tuple[float, Array, Array, Array, Array]:
        n, r = len(x), self.route
        grad, hess, push, foot = np.empty((n, 3)), np.empty((n, 3, 3)), np.empty(n), np.empty((n, 3))
        axis = Axis(r.start, r.tangent, r.normal, r.curvature, r.length)
        energy = _wall(axis, self.room, self.stiffness, np.ascontiguousarray(x), grad, hess, push, foot)
        return energy, grad, hess, push, foot

    def __call__(self, x: Array) -> tuple[float, Array, Array]:
        """Energy, gradient (n, 3), Hessian blocks (n, 3, 3)."""
        return self._evaluate(x)[:3]

    def pressed(self, x: Array) -> tuple[Array, Array]:
        """Force of the wall on each node (n,), N, and the axis' tangent beside it (n, 3)."""
        return self._evaluate(x)[3:]

    def indent(self, x: Array) -> float:
        """Deepest indentation over the clearance there, -."""
        return float(np.max(self.pressed(x)[0] / (self.stiffness * self.room)))


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
        shape: tuple[float, float] = (0.0, 1.0),
        load: float = 0.0,
    ) -> "Threaded":
        """Wire with its base at the route's beginning and its tip at arc length `end` (m).

        bore : inner diameter of the tube, m
        shape : angle (rad) by which the free tip is bent and the distal length (m) over which it is
        load : largest axial force expected, N: the wall is stiff enough for it
        Both bending rigidities are their mean: the wall's force is that on a wire without a soft side.

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
        angle, bent = shape
        arc = graded(route, end, 0.5 * (bore - widest), bent if angle > 0.0 else 0.0)
        distance = end - arc
        room = 0.5 * bore - profile.at("radius", distance)
        middle = 0.5 * (distance[1:] + distance[:-1])
        keys = ["EI1", "EI2", "GJ", "GA", "GA", "EA"]
        table = np.stack([profile.at(key, middle) for key in keys], axis=1)
        table[:, :2] = np.mean(table[:, :2], axis=1, keepdims=True)
        rod = rod_along(route.points(arc), [Section(*(float(v) for v in row)) for row in table])
        stiff = np.mean([profile.at("EI1", distance), profile.at("EI2", distance)], axis=0)
        curved = np.full(len(arc), max(float(np.max(route.curvature)), 1.0 / route.total))
        if angle > 0.0:
            curved = np.where(distance <= bent, np.maximum(curved, angle / bent), curved)
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


def graded(route: Route, end: float, clearance: float, tip: float = 0.0) -> Array:
    """Arc lengths from 0 to `end` (m) of a mesh: fine in bends and where wires straighten beside them, and over `tip`.

    A wire in a bend of radius R with clearance c touches at distances of some sqrt(c R) (closed_forms.bend_wall_force).
    """
    knots, sizes = [0.0, end, max(0.0, end - tip)], []
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
        if middle > end - tip:
            size = min(size, tip / TIP_ELEMENTS)
        count = max(1, int(np.ceil((b - a) / size - 1e-9)))
        out.append(np.linspace(a, b, count + 1)[1:])
    return np.concatenate(out)
