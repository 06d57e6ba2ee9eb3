"""Equilibria of a structure: under a load factor, along given factors, or with a displacement prescribed instead.

Every call returns what it found; an equilibrium that was not reached is flagged, with the last good state and the
reason. Only wrong input raises.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from .assembly import right_jacobian
from .elastic import Array
from .errors import ComponentError, ShapeError
from .iteration import LoadSteps
from .model import Pose
from .moving import row3, row4
from .newton import Loop
from .numbering import node_index
from .numbers import real_array, whole
from .recover import internal
from .small import rotation
from .structure import Structure
from .supports import POSITIONS, ROTATIONS, Support, components

ITERATIONS = 60  # of one call of Newton's method with line search
SMALLEST_STEP = 1.0 / 1024.0  # of the way wanted: below it a path counts as lost
PLAIN_ITERATIONS = 25  # without line search: beyond them a smaller step gets there sooner
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
        return self._internal()[0]

    @property
    def moments(self) -> Array:
        """Internal moment before and behind each node, shape (N + 1, 2, 3), N m, about the section's axes.

        Both are the same where the rod goes on without a load or support on its section; 0 beyond the ends.
        """
        return self._internal()[1]

    @property
    def strain_energy(self) -> float:
        """Elastic energy of the rod, J; springs and potentials not in it."""
        return self._internal()[2]

    def _internal(self) -> tuple[Array, Array, float]:
        n = self.structure.rod.elements
        forces, moments = np.empty((n, 3)), np.empty((n + 1, 2, 3))
        return forces, moments, float(internal(self.structure.model, self.pose, forces, moments))

    @property
    def reactions(self) -> tuple[Array, Array]:
        """Forces (N + 1, 3), N, and moments (N + 1, 3), N m, of the supports on the rod, in space axes; 0 elsewhere.

        They balance the loads up to the out-of-balance force left (`residuals`): to 1e-9 of the load and better, but
        no better than the round-off of the strains, at most 4 eps N max(EA, GA). That is more where the rod is very
        stiff or the load very small (a cantilever of 100 elements, EA L2/EI = 1e9, load 0.1 EI/L2: 8e-7 of it).
        """
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
    """A linear measure of the state to be prescribed in place of the load factor.

    weights : ndarray, shape (N + 1, 3), of the nodes' displacements
    turns : ndarray, shape (N + 1, 3), optional, of the rotation vectors psi (`Support`) at nodes whose rotation is held
        in part, times the rod's length: the measure is in m
    """

    weights: Array
    turns: Array | None = None

    @classmethod
    def of_node(cls, structure: Structure, node: int, component: str) -> "Control":
        """Displacement "x", "y" or "z" of a node, or component "1", "2" or "3" of its psi times the rod's length."""
        shape = (structure.rod.elements + 1, 3)
        node = node_index(structure.rod, node, "control")
        if not isinstance(component, str) or len(component) != 1:
            message = f"control component {component!r}; allowed: one of 'xyz123'"
            raise ComponentError(message)
        (a,) = components(component, POSITIONS + ROTATIONS, "control")
        weights, turns = np.zeros(shape), np.zeros(shape)
        (weights if a < 3 else turns)[node, a % 3] = 1.0
        return cls(weights, turns)

    def row(self, structure: Structure) -> Array:
        """The measure as a row over all unknowns."""
        shape, model = (structure.rod.elements + 1, 3), structure.model
        weights = real_array(self.weights, "weights of a control", [shape])
        turns = np.zeros(shape) if self.turns is None else real_array(self.turns, "turns of a control", [shape])
        held = self._held(structure)
        if np.any(np.delete(turns, held, axis=0)):
            message = "control of a turn at a node at which no support holds a rotation component"
            raise ComponentError(message)
        out = np.zeros(structure.size)
        for a in range(3):
            out[model.at_node + a] = weights[:, a]
            out[model.at_frame[model.tied] + a] = structure.rod.length * turns[held, a]
        return out

    def value(self, structure: Structure, pose: Pose) -> float:
        """The measure at a state, m."""
        value = float(np.sum(self.weights * (pose.x - structure.rod.points)))
        if self.turns is not None and len(pose.psi):
            value += structure.rod.length * float(np.sum(self.turns[self._held(structure)] * pose.psi))
        return value

    def _held(self, structure: Structure) -> list[int]:
        """Nodes of the rotation vectors psi, in their order."""
        return [structure.nodes[f - structure.rod.elements] for f in structure.model.tied]


def solve(
    structure: Structure,
    factor: float = 1.0,
    *,
    start: Equilibrium | None = None,
    max_iterations: int = ITERATIONS,
) -> Equilibrium:
    """Equilibrium at a load factor, next to a start (default: the stress-free state at factor 0).

    The whole way is tried at once; where that fails, in steps as small as needed. What is constant acts in full; where
    it is too much for the stress-free state it is grown from nothing first, before the load factor. Where
    all loads have a potential the method descends in energy, so that it ends at a stable equilibrium (unless
    symmetry holds it on an unstable one: see `count`). A large step may therefore leave the path that the load would
    follow: use `solve_path` or
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
    goals = real_array(factors, "load factors")
    if goals.ndim != 1:
        message = f"load factors have shape {goals.shape}; allowed: one number each"
        raise ShapeError(message)
    most = min(PLAIN_ITERATIONS, max_iterations) if structure.unsymmetric else max_iterations
    whole(max_iterations, "max_iterations", 1)
    loop = begin(structure, start)
    found: list[Equilibrium] = []

    def attempt(goal: float) -> bool:
        loop.reach(np.array([goal]), most)
        return not loop.reason

    fresh = start is None and any(load.constant for load in structure.loads)
    while len(found) < len(goals) and (not found or found[-1].converged):
        pose, factor = loop.pose.copy(), loop.factor
        found += _reached(loop, loop.reach(goals[len(found) :], most))
        if loop.reason and fresh and not found:  # what is constant is too much at once
            fresh, grown = False, _grown(structure)
            loop = begin(structure, grown)
            if grown is not None:
                continue
        if loop.reason:  # the whole step fails
            if found:
                pose, factor = found[-1].pose.copy(), found[-1].factor
            spent = len(loop.history)
            loop.pose, loop.factor = pose, factor
            spent += _in_steps(loop, factor, float(goals[len(found)]), attempt, part=0.5)
            found.append(result(loop, spent))
    return found


def _grown(structure: Structure) -> Equilibrium | None:
    """The state under the constant loads alone, grown from nothing with all supports at rest; None: not reached."""
    loads = [replace(load, constant=False) for load in structure.loads if load.constant]
    supports = [Support(s.node, s.position, s.rotation) for s in structure.supports]
    found = solve(replace(structure, loads=loads, supports=supports))
    return replace(found, structure=structure, factor=0.0) if found.converged else None


def displace(
    structure: Structure,
    control: Control,
    values: Sequence[float],
    *,
    start: Equilibrium | None = None,
) -> list[Equilibrium]:
    """Equilibria at a row of values (m) of a control; the load factor is what it takes.

    Past limit points of the load, unstable equilibria too. Ends at the first value that is not reached, flagged with
    the reason: also where the measure does not respond to the load (a straight column moved sideways).
    """
    wanted = real_array(values, "control values")
    row = control.row(structure)
    loop = begin(structure, start or at_rest(structure))
    found: list[Equilibrium] = []
    for value in np.ravel(wanted):

        def attempt(goal: float) -> bool:
            return loop.correct(PLAIN_ITERATIONS, row, lambda pose: goal - control.value(structure, pose), tangent=True)

        now = control.value(structure, loop.pose)
        spent = _in_steps(loop, now, float(value), attempt)
        found.append(result(loop, spent))
        if not found[-1].converged:
            break
    return found


def at_rest(structure: Structure) -> Equilibrium | None:
    """The equilibrium at factor 0 where something acts there; None: the stress-free state."""
    return solve(structure, 0.0) if structure.loaded_at_rest else None


def begin(structure: Structure, start: Equilibrium | None) -> Loop:
    """A loop at a start, by default the stress-free state at factor 0."""
    if start is None:
        return Loop.at(structure, structure.reference(), 0.0)
    same = structure.reference()
    if any(np.shape(a) != np.shape(b) for a, b in zip(start.pose, same, strict=True)):
        message = "the start belongs to another structure: another number of nodes or supports"
        raise ShapeError(message)
    return Loop.at(structure, start.pose, start.factor)


def _in_steps(loop: Loop, low: float, high: float, attempt: Callable[[float], bool], part: float = 1.0) -> int:
    """Go from low to high, halving the step where it fails; the loop keeps the last good state otherwise.

    `attempt` leaves the state it reaches factorised; `part` of the way is tried first. Returns the iterations spent.
    """
    done, spent = 0.0, 0
    while part == 1.0 or (part >= SMALLEST_STEP and high != low):
        pose, factor = loop.pose.copy(), loop.factor
        goal = min(done + part, 1.0)
        reached = attempt(high if goal == 1.0 else low + goal * (high - low))
        spent += len(loop.history)
        if not reached:
            loop.pose, loop.factor = pose, factor
            part *= 0.5
        elif goal == 1.0:
            break
        else:
            done = goal
            part *= 2.0 if len(loop.history) <= EASY else 1.0
    return spent


def _reached(loop: Loop, steps: LoadSteps) -> list[Equilibrium]:
    """The load steps that were reached as results."""
    found: list[Equilibrium] = []
    for k in range(np.count_nonzero(steps.iterations)):
        pose, spent = Pose(*(a[k].copy() for a in steps.poses)), int(steps.iterations[k])
        residuals = tuple(steps.residuals[k, :spent].tolist())
        found.append(
            Equilibrium(loop.structure, float(steps.factors[k]), pose, int(steps.counts[k]), True, "", residuals, spent)
        )
    return found


def result(loop: Loop, spent: int) -> Equilibrium:
    """The loop's present state as a result; after a failure that is the last good one, whose count is taken anew."""
    if loop.reason:
        loop.evaluate()
        loop.tangent()
    return Equilibrium(
        loop.structure, float(loop.factor), loop.pose.copy(), loop.count, not loop.reason, loop.reason,
        tuple(loop.history), spent,
    )  # fmt: skip
