"""A stiff tube along straights and arcs: its axis, and its wall as a smooth energy of nodes.

No force within the clearance, an elastic indentation beyond it. theory, section "Torque and track in a tube".
"""

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..checks import FieldError, check_positive, check_range
from ..kernel import bundle, kernel
from ..rod.elastic import Array

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
