"""Newton's method on a structure: the loop under load control, displacement control and continuation.

The loop itself is compiled (`iteration.py`); Python calls what potentials and measures are given. theory, "The rod by
itself".
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from math import inf, isfinite

import numpy as np

from .assembly import attempt, evaluate, residual_norm
from .elastic import Array
from .errors import ShapeError
from .iteration import (
    CONVERGED,
    DEAF_MEASURE,
    DIVERGED,
    JUDGE,
    KEEP,
    NOT_REACHED,
    PREDICT,
    S_COUNT,
    S_DONE,
    S_ENERGY,
    S_FACTOR,
    S_ITERATIONS,
    S_NORM,
    S_TARGET,
    SINGULAR,
    START,
    STATE,
    STEP,
    TANGENT,
    LoadSteps,
    Rule,
    Work,
    iterate,
)
from .linear import GeneralFactors, add_nodal, newton_step, solve
from .model import Model, Pose, System
from .structure import Structure

RESIDUAL = 1e-9  # of the force scale max EI/L^2: far below any figure reported
ROUND_OFF = 4 * np.finfo(float).eps  # of the forces that a relative change of 1 of the positions or frames makes
MEASURE = 1e-13  # of the rod's length: a prescribed measure counts as reached
STIFF = 1e3  # EI/L3: a motion by 1e-3 of the length, which adding up strains may make, changes its force by EI/L2
NO_ROW = np.zeros(0)
REASONS = {
    CONVERGED: "",
    NOT_REACHED: "no equilibrium after {count} iterations; residual {norm:.3g} N",
    DIVERGED: "Newton's method diverged",
    SINGULAR: "the tangent is singular or not finite",
    DEAF_MEASURE: "the measure prescribed does not respond to the load factor here",
}


def _round_off(structure: Structure) -> float:
    """Largest force of an element or joint (N) that a change of all positions by the rod's length, of frames by 1 rad,
    makes: the shortest element decides."""
    rod, scale = structure.model.rod, structure.rod.elements / structure.rod.length
    stretch = np.max(rod.stretch, axis=1) / rod.length * structure.rod.length
    turn = np.max(rod.bend, axis=1) / rod.span * scale
    return float(max(np.max(stretch), np.max(turn)))


@dataclass
class Loop:
    """The working arrays of one structure, its present state, and what the last iterations did.

    pose, factor : state and load factor
    rule : when a loop ends; what it does is set for each
    model : the structure's; with a potential it has `anchored` of its own, for what the potential presses on. Else a
        trial state, whose positions are added up from strains, would leave a plate or be pressed far into it.
    stiff : stiffness of the potential at a node, N/m, from which on it presses
    trial, out, moves, ahead, room, state : see `Work`
    history : residual of each iteration of the last loop, N
    count : negative pivots of the last factorisation (unsymmetric: 1 where the determinant is negative); -1: none
    reason : why the last loop ended, "" where it converged
    """

    structure: Structure
    pose: Pose
    factor: float
    rule: Rule
    model: Model
    stiff: float
    trial: Pose
    out: System
    moves: Array
    ahead: Array
    room: Array
    state: Array
    history: list[float] = field(default_factory=list)
    count: int = -1
    reason: str = ""
    general: GeneralFactors | None = None

    @classmethod
    def at(cls, structure: Structure, pose: Pose, factor: float) -> "Loop":
        """Loop that starts from a state."""
        model, size = structure.model, structure.size
        if structure.potential is not None:
            model = model._replace(anchored=model.anchored.copy())
        half = 8 if all(i in (0, structure.rod.elements) for i in structure.nodes) else 11
        scale = float(np.max(model.rod.bend)) / structure.rod.length**2
        floor = ROUND_OFF * _round_off(structure)
        moves = np.zeros((2, size))
        moves[1] = np.where(model.fixed, model.rate, 0.0)
        rule = Rule(
            search=False, row=NO_ROW, weight=0.0, wanted=RESIDUAL * scale, accept=max(RESIDUAL * scale, floor),
            exact=MEASURE * structure.rod.length, called=structure.potential is not None, tangent=False,
        )  # fmt: skip
        return cls(
            structure, pose.copy(), factor, rule, model, STIFF * scale / structure.rod.length, pose.copy(),
            System.empty(size, structure.unsymmetric, half), moves, np.zeros(size), np.zeros((1, size)),
            np.zeros(STATE),
        )  # fmt: skip

    def evaluate(self) -> float:
        """Out-of-balance force and tangent of the present state; the residual, N."""
        energy, norm, _ = evaluate(self.model, self.pose, self.factor, self.out, self.moves)
        return self._with_potential(self.pose, energy, norm)[1]

    def _with_potential(self, pose: Pose, energy: float, norm: float) -> tuple[float, float]:
        """Energy and residual of a state with the structure's potential, which is added to its system."""
        potential = self.structure.potential
        if potential is None:
            return energy, norm
        more, gradient, hessian = potential(pose.x)
        if np.shape(gradient) != pose.x.shape or np.shape(hessian) != (*pose.x.shape, 3):
            shapes = f"{np.shape(gradient)} and {np.shape(hessian)}"
            message = f"gradient and Hessian of the potential have shapes {shapes}"
            raise ShapeError(f"{message}; allowed: {pose.x.shape} and {(*pose.x.shape, 3)}")
        parts = np.ascontiguousarray(gradient, dtype=float), np.ascontiguousarray(hessian, dtype=float)
        add_nodal(self.model.at_node, *parts, self.out.grad, self.out.band)
        pressed = np.diagonal(hessian, axis1=1, axis2=2) > self.stiff
        np.logical_or(self.structure.model.anchored, pressed, out=self.model.anchored)
        norm = float(residual_norm(self.model, self.out)) if isfinite(more) else inf
        return energy + float(more), norm

    def move(self, step: Array, share: float = 1.0) -> float:
        """Go along a step and evaluate there; the residual, N."""
        energy, norm, _ = attempt(self.model, self.pose, step, share, self.factor, self.trial, self.out, self.moves)
        self.pose, self.trial = self.trial, self.pose
        return self._with_potential(self.pose, energy, norm)[1]

    def linear(self) -> int:
        """Solve for the two directions rhs[0] (toward equilibrium) and rhs[1] (per load factor); the count."""
        if self.structure.unsymmetric:
            self._factorise()
        else:
            self.count = newton_step(self.model, self.out, self.moves, False)
        return self.count

    def _factorise(self) -> int:
        """The same for an unsymmetric system."""
        self.general = GeneralFactors(self.model, self.out, self.moves)
        self.count = self.general.negative if self.general.ok else -1
        if self.general.ok:
            self.out.rhs[:] = self.general.solve(self.out.rhs)
        return self.count

    def reach(self, factors: Array, most: int) -> LoadSteps:
        """Equilibria at load factors one after another, factorised; ends at the first that fails.

        With a line search on the energy, hence stable, where all loads have a potential; else as `correct`. Each begins
        along the path, where its direction is known from the state reached before.
        """
        steps = self._steps(factors, most)
        self._run(steps, self.rule._replace(search=not self.structure.unsymmetric, tangent=True), PREDICT)
        return steps

    def correct(
        self,
        most: int,
        row: Array | None = None,
        lacks: Callable[[Pose], float] | None = None,
        weight: float = 0.0,
        *,
        tangent: bool = False,
    ) -> bool:
        """Newton without line search, unstable equilibria too: to the nearest point of the equilibrium path.

        row, lacks, weight : where a row is given, the load factor is unknown and row . step + weight (factor change)
            = lacks(state), what a measure still lacks (m); without `lacks` it is 0: a step across `row`
        tangent : factorise at the end
        """
        rule = self.rule._replace(row=NO_ROW if row is None else row, weight=weight, tangent=tangent)
        rule = rule._replace(called=rule.called or lacks is not None)
        return self._run(self._steps(NO_ROW, most), rule, START, lacks)

    def _steps(self, factors: Array, most: int) -> LoadSteps:
        k = len(factors)
        poses = Pose(*(np.empty((k, *a.shape)) for a in self.pose))
        counts = np.zeros((2, k), np.int64)
        return LoadSteps(factors, poses, counts[0], counts[1], np.empty((max(k, 1), most)))

    def _run(self, steps: LoadSteps, rule: Rule, stage: int, lacks: Callable[[Pose], float] | None = None) -> bool:
        """Go through the loop from a stage; whether it has converged."""
        model, state = self.model, self.state
        work = Work(self.pose, self.trial, self.out, self.moves, self.ahead, self.room, steps, state)
        state[S_FACTOR], state[S_DONE] = self.factor, 0.0
        while (stage := iterate(model, work, rule, stage)) > CONVERGED:
            if stage == JUDGE:
                energy, norm = state[S_ENERGY], state[S_NORM]
                state[S_ENERGY], state[S_NORM] = self._with_potential(self.trial, energy, norm)
                state[S_TARGET] = 0.0 if lacks is None else lacks(self.trial)
            else:
                state[S_COUNT] = self._factorise()
                stage = KEEP if stage == TANGENT else STEP if self.count >= 0 else SINGULAR
        self.factor, self.count = float(state[S_FACTOR]), int(state[S_COUNT])
        last = max(0, min(int(state[S_DONE]), len(steps.factors) - 1))
        self.history = steps.residuals[last, : int(state[S_ITERATIONS])].tolist()
        self.reason = REASONS[stage].format(count=len(self.history), norm=state[S_NORM])
        return stage == CONVERGED

    def tangent(self) -> int:
        """Factorise at the state evaluated last: rhs[1] becomes the path's direction per load factor; the count."""
        return self.linear()

    def mode(self, start: Array, iterations: int = 60) -> tuple[Array, Array]:
        """Right and left null vector of the last factorised tangent by inverse iteration, largest entry 1."""
        free = ~self.model.fixed
        right = np.where(free, start, 0.0)
        left = right.copy()
        for _ in range(iterations):
            if self.general is not None:
                right = self.general.solve(right[None, :])[0]
                left = self.general.solve(left[None, :], transposed=True)[0]
            else:
                b = right[None, :].copy()
                solve(self.out.fac, b)
                right = b[0]
            right = np.where(free, right, 0.0)
            right /= np.max(np.abs(right))
            if self.general is None:
                left = right
            else:
                left = np.where(free, left, 0.0)
                left /= np.max(np.abs(left))
        return right, left
