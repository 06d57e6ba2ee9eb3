"""Steps along an equilibrium path: lengths, the path's direction, predictor and corrector.

The predictor goes along a direction, the corrector across it (the bordered system of the same factors). A corrected
point far from the predicted one belongs to another part of the path, or to another path: the step is refused. theory,
"The rod by itself".
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse.linalg import ArpackNoConvergence, LinearOperator, eigs
from scipy.spatial.transform import Rotation

from .elastic import Array
from .model import Pose
from .newton import Loop
from .solve import PLAIN_ITERATIONS, Equilibrium, result
from .structure import Structure

LEAST_LOAD = 0.01  # of the turn allowed in a step: what a whole step of the load counts at least
HARD = 12  # iterations, beyond which a step is refused
STRAIGHT = 0.8  # least cosine between the directions of two neighbouring points: less may be another branch
ASIDE = 0.2  # of a step, farthest way of its corrector, for the same reason
WINDOW = 4  # eigenvalues next to zero that are looked at where loads have no potential
REAL = 1e-6  # of its size, largest imaginary part of an eigenvalue taken for real

Way = tuple[Array, float]  # change of the unknowns, change of the load factor


@dataclass(frozen=True)
class Metric:
    """Lengths of steps: mean squares of displacements over the rod's length and of turns, and the load factor's."""

    unknowns: Array
    factor: float

    @classmethod
    def of(cls, structure: Structure) -> "Metric":
        """The load factor counts nothing."""
        model = structure.model
        unknowns = np.zeros(structure.size)
        for a in range(3):
            unknowns[model.at_node + a] = 1.0 / (structure.rod.length**2 * len(model.at_node))
            unknowns[model.at_frame + a] = 1.0 / len(model.at_frame)
        return cls(unknowns, 0.0)

    def with_load(self, rate: Array, step: float, turn: float) -> "Metric":
        """A load step counts as much as the change of the unknowns that it brings at the start (`rate`, per factor).

        So the load does not hide where the path bends; at least LEAST_LOAD and at most all of the turn allowed.
        """
        brings = step * np.sqrt(np.sum(self.unknowns * rate**2))
        return Metric(self.unknowns, float(min(max(brings, LEAST_LOAD * turn), turn) / step) ** 2)

    def dot(self, a: Way, b: Way) -> float:
        """Scalar product."""
        return float(np.sum(self.unknowns * a[0] * b[0])) + self.factor * a[1] * b[1]

    def size(self, a: Way) -> float:
        """Length."""
        return float(np.sqrt(self.dot(a, a)))


@dataclass(frozen=True)
class Spot:
    """A point of a path and what decides whether it lies beyond a special point.

    way : unit direction of the path there
    negative : negative ones of the WINDOW real eigenvalues next to zero where loads have no potential, else 0
    nearest : size of the eigenvalue next to zero, in units of `model.metric`; 0 where there is a potential
    """

    point: Equilibrium
    way: Way
    negative: int
    nearest: float

    @property
    def side(self) -> float:
        """Sign of the determinant of the tangent bordered by the load and the direction: sign(dlambda) (-1)^count.

        Along a path it changes at bifurcation points only: on the path whose count changes there, and on the branch
        whose load turns round.
        """
        return float(np.sign(self.way[1])) * (-1.0) ** self.point.count

    def beyond(self, other: "Spot") -> bool:
        """Whether a special point lies between: the count or the bordered determinant's sign differs, or two
        eigenvalues crossed zero, which leaves both (one of the window alone need not have crossed: it may have come in
        from afar)."""
        changed = self.point.count != other.point.count or self.side != other.side
        return changed or abs(self.negative - other.negative) > 1


@dataclass
class Walker:
    """A loop that goes along a path in steps of at most `turn` (rad) and `step` (load factor); why it refused one."""

    loop: Loop
    metric: Metric
    turn: float
    step: float
    reason: str = ""

    def look(self, side: Way) -> Way:
        """Unit direction of the path at the loop's converged state, on the side of another direction."""
        self.loop.tangent()
        way = (self.loop.out.rhs[1].copy(), 1.0)
        size = self.metric.size(way)
        size = size if self.metric.dot(way, side) >= 0.0 else -size
        return way[0] / size, way[1] / size

    def largest(self, way: Way) -> float:
        """Step along a direction at which load factor or turn reaches its limit."""
        turn = float(np.max(np.abs(way[0]) * np.sqrt(self.metric.unknowns * len(self.loop.trial.q))))
        return 1.0 / max(abs(way[1]) / self.step, turn / self.turn)

    def go(self, point: Equilibrium, way: Way, size: float, straight: float = STRAIGHT) -> Spot | None:
        """From a point a step on, to the equilibrium across its end; None where it is none of this path."""
        loop = self.loop
        loop.pose, loop.factor = point.pose.copy(), point.factor + size * way[1]
        loop.move(way[0], size)
        aim, factor = loop.pose.copy(), loop.factor
        if not loop.correct(PLAIN_ITERATIONS, self.metric.unknowns * way[0], None, self.metric.factor * way[1]):
            self.reason = loop.reason
            return None
        aside = self.metric.size((difference(loop.structure, aim, loop.pose), loop.factor - factor))
        if len(loop.history) > HARD or aside > ASIDE * size:
            self.reason = "the path bends too sharply, or another is too near"
            return None
        ahead = self.look(way)
        if self.metric.dot(ahead, way) < straight:
            self.reason = "the path bends too sharply"
            return None
        return self.spot(ahead)

    def spot(self, way: Way) -> Spot:
        """The loop's converged and factorised state."""
        negative, nearest = near_zero(self.loop)
        return Spot(result(self.loop, len(self.loop.history)), way, negative, nearest)


def difference(structure: Structure, a: Pose, b: Pose) -> Array:
    """Step from one state to another over all unknowns, shape (n,), m and rad."""
    model = structure.model
    turn = (_rotation(a.q).inv() * _rotation(b.q)).as_rotvec()
    turn[model.tied] = b.psi - a.psi
    out = np.zeros(structure.size)
    for i in range(3):
        out[model.at_node + i] = (b.x - a.x)[:, i]
        out[model.at_frame + i] = turn[:, i]
    return out


def _rotation(q: Array) -> Rotation:
    return Rotation.from_quat(np.roll(q, -1, axis=1))


def near_zero(loop: Loop) -> tuple[int, float]:
    """Number of negative real ones among the WINDOW eigenvalues next to zero, and the size of the nearest.

    Of the factorised tangent against `model.metric`; Arnoldi's method on the inverse (ARPACK). (0, 0) for a symmetric
    tangent, whose count says all.
    """
    general = loop.general
    if general is None or not general.ok:
        return 0, 0.0
    metric = loop.structure.model.metric
    n = len(metric)

    def inverse(v: Array) -> Array:
        return general.solve((metric * v.ravel())[None, :])[0]

    start = 1.0 + np.cos(1.0 + 0.7 * np.arange(n) ** 1.5)  # the same each time, a mode of no symmetric structure
    try:
        values: NDArray[np.complex128] = eigs(
            LinearOperator((n, n), inverse, dtype=float), WINDOW, v0=start, return_eigenvectors=False
        )
    except ArpackNoConvergence as none:
        values = none.eigenvalues.astype(complex)
    if len(values) == 0:
        return 0, 0.0
    real = np.abs(values.imag) <= REAL * np.abs(values)
    return int(np.sum(values.real[real] < 0.0)), float(1.0 / np.max(np.abs(values)))
