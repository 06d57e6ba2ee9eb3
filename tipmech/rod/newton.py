"""Newton's method on a structure: the loop under load control, displacement control and continuation.

Kernels do the arithmetic, two calls an iteration; Python decides and calls what potentials are given. theory, "The
rod by itself".
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from .assembly import attempt, evaluate, residual_norm
from .elastic import Array
from .linear import GeneralFactors, newton_step, shifted_step, solve
from .model import Pose, System
from .moving import advance, largest_turn
from .structure import Structure

RESIDUAL = 1e-9  # of the force scale max EI/L^2: far below any figure reported
ROUND_OFF = 4 * np.finfo(float).eps  # of the largest axial or shear rigidity and the number of elements
FALL = 0.4  # rad, turn along the lowest mode off an unstable state
NEAR = 1e-3  # of the largest residual met: below, an indefinite tangent is taken for an unstable state nearby
STALLED = 0.1  # of the residual before: an iteration that gains less has met round-off
MAX_TURN = 0.8  # rad, largest rotation of a frame in one iteration
ARMIJO = 1e-4  # of the energy that the slope promises
HALVINGS = 20  # of a step, beyond which its direction is no use
BLOW_UP = 1e4  # growth of the residual over the best so far that ends a loop without line search
MEASURE = 1e-13  # of the rod's length: a prescribed measure counts as reached
DEAF = 1e-13  # of what the lengths of both allow, least answer of a measure to the load factor: round-off below
DEAF_REASON = "the measure prescribed does not respond to the load factor here"
SINGULAR = "the tangent is singular or not finite"


@dataclass
class Loop:
    """The working arrays of one structure, its present state, and what the last iterations did.

    pose, factor : state and load factor
    wanted, accept : residual at which a loop ends; largest residual accepted where round-off allows no better, N
    history : residual of each iteration since `begin`, N
    count : negative pivots of the last factorisation (unsymmetric: 1 where the determinant is negative); -1: none
    reason : why the last loop ended, "" where it converged
    """

    structure: Structure
    pose: Pose
    factor: float
    wanted: float
    accept: float
    history: list[float]
    count: int
    reason: str
    trial: Pose
    out: System
    moves: Array
    general: GeneralFactors | None
    energy: float
    moved: bool

    @classmethod
    def at(cls, structure: Structure, pose: Pose, factor: float) -> "Loop":
        """Loop that starts from a state."""
        model = structure.model
        half = 8 if all(i in (0, structure.rod.elements) for i in structure.nodes) else 11
        scale = float(np.max(model.rod.bend)) / structure.rod.length**2
        floor = ROUND_OFF * float(np.max(model.rod.stretch)) * structure.rod.elements
        out = System.empty(structure.size, structure.unsymmetric, half)
        moves = np.zeros((2, structure.size))
        moves[1] = np.where(model.fixed, model.rate, 0.0)
        return cls(
            structure,
            pose.copy(),
            factor,
            RESIDUAL * scale,
            max(RESIDUAL * scale, floor),
            [],
            -1,
            "",
            pose.copy(),
            out,
            moves,
            None,
            0.0,
            False,
        )

    def evaluate(self) -> float:
        """Out-of-balance force, tangent and energy of the present state; the residual, N."""
        model, pose = self.structure.model, self.pose
        self.energy, norm, self.moved = evaluate(model, pose, self.factor, self.out, self.moves)
        return self._with_potential(pose, norm)

    def _with_potential(self, pose: Pose, norm: float) -> float:
        potential = self.structure.potential
        if potential is None:
            return norm
        energy, gradient, hessian = potential(pose.x)
        at, half = self.structure.model.at_node, self.out.band.shape[1] - 1
        for a in range(3):
            self.out.grad[at + a] += gradient[:, a]
            for b in range(a + 1):
                self.out.band[at + a, half + b - a] += hessian[:, a, b]
        self.energy += float(energy)
        return float(residual_norm(self.structure.model, self.out))

    def move(self, step: Array, share: float = 1.0, integrate: bool = True) -> float:
        """Go along a step and evaluate there; the residual, N. `trial` keeps the state left.

        Positions are added up from strains, or (`integrate` false) moved along straight lines: what presses on nodes
        may be stiffer than the rod.
        """
        model = self.structure.model if integrate else self.structure.model._replace(integrate=False)
        self.energy, norm, self.moved = attempt(
            model, self.pose, step, share, self.factor, self.trial, self.out, self.moves
        )
        norm = self._with_potential(self.trial, norm)
        self.pose, self.trial = self.trial, self.pose
        return norm

    def linear(self, positive: bool = False) -> int:
        """Solve for the two directions rhs[0] (toward equilibrium) and rhs[1] (per load factor); the count.

        With `positive` an indefinite symmetric system becomes a descent instead.
        """
        model, out = self.structure.model, self.out
        if self.structure.unsymmetric:
            self.general = GeneralFactors(model, out, self.moves)
            self.count = self.general.negative if self.general.ok else -1
            if self.general.ok:
                out.rhs[:] = self.general.solve(out.rhs)
            return self.count
        self.count = newton_step(model, out, self.moves, positive)
        if positive and self.count != 0:
            fall = FALL if self.history[-1] < NEAR * max(self.history) else 0.0
            if not shifted_step(model, out, np.empty((1, len(out.grad))), fall):
                self.count = -1
        return self.count

    def limit(self, step: Array) -> float:
        """Share of a step that turns no frame by more than MAX_TURN."""
        return MAX_TURN / max(MAX_TURN, largest_turn(self.structure.model, step))

    def _settled(self) -> bool:
        """Residual below what is wanted, or below round-off and no longer falling."""
        norm = self.history[-1]
        before = self.history[-2] if len(self.history) > 1 else np.inf
        return norm <= self.wanted or (before <= self.accept and STALLED * before <= norm <= self.accept)

    def minimise(self, most: int) -> bool:
        """Newton with a line search on the energy: the stable equilibrium next to the present state."""
        self.history = []
        norm = self.evaluate()
        for _ in range(most):
            self.history.append(norm)
            if self._settled() and not self.moved:
                self.reason = ""
                return True
            if not np.isfinite(norm):
                break
            grad = self.out.grad.copy()
            if self.linear(positive=True) < 0:
                self.reason = SINGULAR
                return False
            step = self.out.rhs[0]
            norm = self._search(step, norm, float(grad @ step))
        self.reason = f"no equilibrium after {len(self.history)} iterations; residual {norm:.3g} N"
        return False

    def _search(self, step: Array, norm: float, slope: float) -> float:
        """Take as much of the step as lowers the energy (or, by a tenth, the residual); the residual there."""
        share, energy, moved = self.limit(step), self.energy, self.moved
        ways = (True,) if self.structure.potential is None else (True, False)
        for _ in range(HALVINGS):
            for integrate in ways:
                now = self.move(step, share, integrate)
                lower = self.energy <= energy + ARMIJO * share * slope
                if moved or lower or now < 0.9 * norm or now <= self.accept:
                    return now
                self.pose, self.trial = self.trial, self.pose
            share *= 0.5
        return self.move(step, share)

    def correct(
        self, most: int, row: Array | None = None, lacks: Callable[[Pose], float] | None = None, weight: float = 0.0
    ) -> bool:
        """Newton without line search, unstable equilibria too: to the nearest point of the equilibrium path.

        row, lacks, weight : where a row is given, the load factor is unknown and row . step + weight (factor change)
            = lacks(state), what a measure still lacks (m); without `lacks` it is 0: a step across `row`
        """
        self.history = []
        best = np.inf
        norm = self.evaluate()
        for _ in range(most):
            self.history.append(norm)
            best = min(best, norm) if len(self.history) > 1 else np.inf  # a start of measure control is an equilibrium
            target = 0.0 if lacks is None else lacks(self.pose)
            if self._settled() and not self.moved and abs(target) <= MEASURE * self.structure.rod.length:
                self.reason = ""
                return True
            if not np.isfinite(norm) or (norm > BLOW_UP * best and norm > BLOW_UP * self.accept):
                self.reason = "Newton's method diverged"
                return False
            if self.linear() < 0:
                self.reason = SINGULAR
                return False
            step, change = self.out.rhs[0], 0.0
            if row is not None:
                answer = float(row @ self.out.rhs[1]) + weight
                if abs(answer) <= DEAF * float(np.linalg.norm(row) * np.linalg.norm(self.out.rhs[1])):
                    self.reason = DEAF_REASON
                    return False
                change = (target - float(row @ step)) / answer
                step = step + change * self.out.rhs[1]
            share = self.limit(step)
            self.factor += share * change
            norm = self.move(step, share)
        self.reason = f"no equilibrium after {most} iterations; residual {norm:.3g} N"
        return False

    def predict(self, factor: float) -> None:
        """Go along the path's direction, known from `tangent`, to another load factor."""
        step = (factor - self.factor) * self.out.rhs[1]
        if self.count >= 0 and self.limit(step) == 1.0:
            advance(self.structure.model, self.pose, step, 1.0, self.trial)
            self.pose, self.trial = self.trial, self.pose
            self.factor = factor

    def tangent(self) -> int:
        """Factorise at the state evaluated last: rhs[1] becomes the path's direction per load factor; the count."""
        return self.linear()

    def mode(self, start: Array, iterations: int = 60) -> tuple[Array, Array]:
        """Right and left null vector of the last factorised tangent by inverse iteration, largest entry 1."""
        free = ~self.structure.model.fixed
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
