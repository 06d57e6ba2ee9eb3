"""Equilibria of a structure: under a load factor, along given factors, or with a displacement prescribed instead.

Every call returns what it found; an equilibrium that was not reached is flagged, with the last good state and the
reason. Only wrong input raises.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from .assembly import right_jacobian
from .elastic import Array, _joint, element_strain
from .errors import NodeError, NonFiniteError, ShapeError
from .model import Pose
from .moving import row3, row4
from .newton import Loop
from .small import quat_mul, rotation
from .structure import Structure

ITERATIONS = 60  # of one call of Newton's method with line search
PLAIN_ITERATIONS = 25  # without line search: beyond them a smaller step gets there sooner
SMALLEST_STEP = 1.0 / 1024.0  # of the way wanted: below it a path counts as lost
EASY = 5  # iterations up to which the next step is twice as long


@dataclass(frozen=True)
class Equilibrium:
    """A state of a structure and how it was found.

    structure : Structure
    factor : load factor
    pose : node positions x (N + 1, 3), m, and frames q: the first N are the elements', then those of `structure.nodes`
    count : negative eigenvalues of the tangent: 0 means stable, each other one a direction in which the state falls
        away. Where loads have no potential: 1 if the tangent's determinant is negative, else 0; a change then shows
        a limit or bifurcation point, but 0 does not mean stable and flutter is not seen. -1: not known
    converged : out-of-balance force below tolerance
    reason : why not, "" if it is
    residuals : out-of-balance force of each iteration of the last step, N
    iterations : Newton iterations of all steps
    """

    structure: Structure
    factor: float
    pose: Pose
    count: int
    converged: bool
    reason: str
    residuals: tuple[float, ...]
    iterations: int

    @property
    def x(self) -> Array:
        """Node positions, shape (N + 1, 3), m."""
        return self.pose.x

    @property
    def q(self) -> Array:
        """Quaternions of the elements' frames, shape (N, 4)."""
        return self.pose.q[: self.structure.rod.elements]

    @property
    def displacement(self) -> Array:
        """Displacement of each node, shape (N + 1, 3), m."""
        return self.pose.x - self.structure.rod.points

    @property
    def stable(self) -> bool | None:
        """Whether no eigenvalue of the tangent is negative; None where loads have no potential."""
        return None if self.structure.unsymmetric or self.count < 0 else self.count == 0

    @property
    def forces(self) -> Array:
        """Internal force of each element in its frame's axes 1, 2 and tangent, shape (N, 3), N; tension positive."""
        rod, x = self.structure.model.rod, self.pose.x
        out = np.empty((len(rod.length), 3))
        for j in range(len(rod.length)):
            d = x[j + 1] - x[j]
            strain = element_strain((d[0], d[1], d[2]), rotation(row4(self.pose.q, j)), rod.length[j])
            out[j] = rod.stretch[j] * np.array(strain)
        return out

    @property
    def moments(self) -> Array:
        """Internal moment before and behind each node, shape (N + 1, 2, 3), N m, about the section's axes.

        Both are the same where the rod goes on without a load or support on its section; 0 beyond the ends.
        """
        model, n = self.structure.model, self.structure.rod.elements
        out = np.zeros((n + 1, 2, 3))
        for k, (a, b) in enumerate(model.sides):
            _, m, _ = _joint(model.rod, k, self._first_side(k), row4(self.pose.q, b))
            if a < n and b < n:
                out[b] = m
            elif a < n:
                out[a + 1, 0] = m
            else:
                out[b, 1] = m
        return out

    def _first_side(self, k: int) -> tuple[float, float, float, float]:
        model = self.structure.model
        q = row4(self.pose.q, model.sides[k, 0])
        return q if model.turned[k] == 0 else quat_mul(q, row4(model.offset, k))

    @property
    def strain_energy(self) -> float:
        """Elastic energy of the rod, J; springs and potentials not in it."""
        rod = self.structure.model.rod
        energy = 0.5 * float(np.sum(rod.length[:, None] * self.forces**2 / rod.stretch))
        for k, b in enumerate(self.structure.model.sides[:, 1]):
            energy += _joint(rod, k, self._first_side(k), row4(self.pose.q, b))[2]
        return energy

    @property
    def reactions(self) -> tuple[Array, Array]:
        """Forces (N + 1, 3), N, and moments (N + 1, 3), N m, of the supports on the rod, in space axes; 0 elsewhere."""
        s = self.structure
        loop = Loop.at(s, self.pose, self.factor)
        loop.evaluate()
        forces, moments = np.zeros_like(self.pose.x), np.zeros_like(self.pose.x)
        grad = loop.out.grad
        for a in range(3):
            forces[:, a] = np.where(s.model.fixed[s.model.at_node + a], grad[s.model.at_node + a], 0.0)
        n = s.rod.elements
        for k, f in enumerate(s.model.tied):
            u = s.model.at_frame[f]
            g = grad[u : u + 3]
            if s.model.loose[k]:  # the gradient by psi is J^T g
                jacobian = np.reshape(right_jacobian(row3(self.pose.psi, k)), (3, 3))
                g = np.linalg.solve(jacobian.T, np.where(s.model.fixed[u : u + 3], g, 0.0))
            moments[s.nodes[f - n]] = np.reshape(rotation(row4(self.pose.q, f)), (3, 3)) @ g
        return forces, moments


@dataclass(frozen=True)
class Control:
    """A linear measure of the node positions to be prescribed in place of the load factor.

    weights : ndarray, shape (N + 1, 3); the measure is the sum of weights times displacements, m
    """

    weights: Array

    @classmethod
    def of_node(cls, structure: Structure, node: int, component: str) -> "Control":
        """Displacement "x", "y" or "z" of a node."""
        weights = np.zeros((structure.rod.elements + 1, 3))
        weights[node % len(weights), "xyz".index(component)] = 1.0
        if not -len(weights) <= node < len(weights):
            message = f"control at node {node}; allowed: {-len(weights)} to {len(weights) - 1}"
            raise NodeError(message)
        return cls(weights)

    def row(self, structure: Structure) -> Array:
        """The measure as a row over all unknowns."""
        if np.shape(self.weights) != (structure.rod.elements + 1, 3):
            message = f"control weights have shape {np.shape(self.weights)}; allowed: {(structure.rod.elements + 1, 3)}"
            raise ShapeError(message)
        out = np.zeros(structure.size)
        for a in range(3):
            out[structure.model.at_node + a] = self.weights[:, a]
        return out

    def value(self, structure: Structure, x: Array) -> float:
        """The measure at node positions, m."""
        return float(np.sum(self.weights * (x - structure.rod.points)))


def solve(
    structure: Structure,
    factor: float = 1.0,
    *,
    start: Equilibrium | None = None,
    max_iterations: int = ITERATIONS,
) -> Equilibrium:
    """Equilibrium at a load factor, next to a start (default: the stress-free state at factor 0).

    The whole way is tried at once; where that fails, in steps as small as needed. Where all loads have a potential the
    method descends in energy, so that it ends at a stable equilibrium (unless it is held on an unstable one by
    symmetry: see `count`). A large step may therefore leave the path that the load would follow: use `solve_path` or
    `trace` where it matters.
    """
    return solve_path(structure, [factor], start=start, max_iterations=max_iterations)[-1]


def solve_path(
    structure: Structure,
    factors: Sequence[float],
    *,
    start: Equilibrium | None = None,
    max_iterations: int = ITERATIONS,
) -> list[Equilibrium]:
    """Equilibria at a row of load factors, each from the one before; ends at the first that is not reached."""
    if not np.all(np.isfinite(factors)):
        message = f"load factors {list(factors)}; allowed: finite numbers"
        raise NonFiniteError(message)
    loop = begin(structure, start)
    found: list[Equilibrium] = []
    for factor in factors:
        spent = _reach(loop, float(factor), max_iterations, predict=bool(found))
        found.append(result(loop, spent))
        if not found[-1].converged:
            break
    return found


def displace(
    structure: Structure,
    control: Control,
    values: Sequence[float],
    *,
    start: Equilibrium | None = None,
) -> list[Equilibrium]:
    """Equilibria at a row of values (m) of a control; the load factor is what it takes.

    Past limit points of the load, unstable equilibria too. Ends at the first value that is not reached.
    """
    if not np.all(np.isfinite(values)):
        message = f"control values {list(values)}; allowed: finite numbers"
        raise NonFiniteError(message)
    row = control.row(structure)
    loop = begin(structure, start)
    found: list[Equilibrium] = []
    for value in values:

        def attempt(goal: float) -> bool:
            return loop.correct(PLAIN_ITERATIONS, row, lambda x: goal - control.value(structure, x))

        now = control.value(structure, loop.pose.x)
        spent = _in_steps(loop, now, float(value), attempt)
        found.append(result(loop, spent))
        if not found[-1].converged:
            break
    return found


def begin(structure: Structure, start: Equilibrium | None) -> Loop:
    """A loop at a start, by default the stress-free state at factor 0."""
    if start is None:
        return Loop.at(structure, structure.reference(), 0.0)
    same = structure.reference()
    if any(np.shape(a) != np.shape(b) for a, b in zip(start.pose, same, strict=True)):
        message = "the start belongs to another structure: another number of nodes or supports"
        raise ShapeError(message)
    return Loop.at(structure, start.pose, start.factor)


def _reach(loop: Loop, factor: float, most: int, predict: bool) -> int:
    """Bring the loop to a load factor, in one step or several; the iterations spent."""

    def attempt(goal: float) -> bool:
        if predict:
            loop.predict(goal)
        loop.factor = goal
        if loop.structure.unsymmetric:
            return loop.correct(PLAIN_ITERATIONS)
        return loop.minimise(most)

    return _in_steps(loop, loop.factor, factor, attempt)


def _in_steps(loop: Loop, low: float, high: float, attempt: Callable[[float], bool]) -> int:
    """Go from low to high, halving the step where it fails; the loop keeps the last good state otherwise."""
    done, part, spent = 0.0, 1.0, 0
    while True:
        pose, factor = loop.pose.copy(), loop.factor
        goal = min(done + part, 1.0)
        if attempt(high if goal == 1.0 else low + goal * (high - low)):
            spent += len(loop.history)
            loop.tangent()
            if goal == 1.0:
                return spent
            done = goal
            part *= 2.0 if len(loop.history) <= EASY else 1.0
            continue
        spent += len(loop.history)
        loop.pose, loop.factor = pose, factor
        part *= 0.5
        if part < SMALLEST_STEP or high == low:
            return spent


def result(loop: Loop, spent: int) -> Equilibrium:
    """The loop's present state as a result."""
    return Equilibrium(
        loop.structure, float(loop.factor), loop.pose.copy(), loop.count, not loop.reason, loop.reason,
        tuple(loop.history), spent,
    )  # fmt: skip
