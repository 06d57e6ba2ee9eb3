"""A stiff rod drawn round a post with friction: the capstan with bending stiffness."""

from dataclasses import dataclass, replace
from math import acos, cos, sin

import numpy as np

from .. import closed_forms as cf
from ..rod.build import Section, rod_along
from ..rod.elastic import Array
from ..rod.loads import Force, Load
from ..rod.solve import Equilibrium, solve_path
from ..rod.structure import Structure
from ..rod.supports import Support
from .row import Case, Row, relative

ELEMENTS, TAIL = 400, 8.0  # TAIL: radii of the post; the elastica dies away as exp(-s sqrt(P/EI))
STIFF = 1e6  # EA and GA over EI/R^2
INDENT = 1e-3  # of the radius, at which the post bears P/R per length
FRICTION, TURN = 0.3, 2.4  # TURN: rad between the pulls of a flexible line
HOLDS = (2.0, 8.0)  # P1 R^2/EI: the rod parts 41 and 20 degrees before a flexible line would
STRAIGHTENED, PASSES = 8, 40  # solutions in which the rod's free form becomes straight, and in all
SETTLED = 1e-9  # of the hold: change of a node's friction from pass to pass


@dataclass(frozen=True)
class Post:
    """Elastic post about the y axis as the energy of nodes.

    radius : m; stiffness : N/m of each node, shape (N + 1,)
    """

    radius: float
    stiffness: Array

    def pressed(self, x: Array) -> tuple[Array, Array]:
        """Normal force on each node (N + 1,), N, and its direction (N + 1, 3)."""
        off = np.hypot(x[:, 0], x[:, 2])
        return self.stiffness * np.maximum(self.radius - off, 0.0), np.column_stack(
            [x[:, 0], 0.0 * off, x[:, 2]]
        ) / off[:, None]

    def __call__(self, x: Array) -> tuple[float, Array, Array]:
        """Energy, gradient (N + 1, 3), Hessian blocks (N + 1, 3, 3)."""
        push, out = self.pressed(x)
        off = np.hypot(x[:, 0], x[:, 2])
        along = out[:, :, None] * out[:, None, :]
        around = (push / off)[:, None, None] * (np.diag([1.0, 0.0, 1.0]) - along)
        hess = np.where(push > 0.0, self.stiffness, 0.0)[:, None, None] * along - around
        return float(0.5 * np.sum(push**2 / self.stiffness)), -push[:, None] * out, hess


def _drawn(hold: float) -> Equilibrium | None:
    """A rod with EI = R = 1 that is held by `hold` at node 0 and slips round the post toward its last node.

    The friction of each node is a dead force of the normal force before; passes are repeated until it stands.
    """
    arc = TURN - 1.4 * acos(1.0 - 0.5 / hold)
    s = np.linspace(-TAIL - 0.5 * arc, TAIL + 0.5 * arc, ELEMENTS + 1)
    at = np.clip(s, -0.5 * arc, 0.5 * arc)
    points = np.column_stack([np.cos(at) - (s - at) * np.sin(at), 0.0 * s, np.sin(at) + (s - at) * np.cos(at)])
    wound = rod_along(points, Section(1.0, 1.0, 1.0, STIFF, STIFF, STIFF), directors=(0.0, 1.0, 0.0))
    post = Post(1.0 + INDENT, hold / INDENT * wound.tributary)
    pull = Force(0, (-hold * sin(0.5 * TURN), 0.0, -hold * cos(0.5 * TURN)))
    friction = np.zeros_like(points)
    state: Equilibrium | None = None
    for k in range(PASSES):
        rod = replace(wound, natural=wound.natural * max(0.0, 1.0 - k / STRAIGHTENED))
        loads: list[Load] = [pull, *(Force(i, tuple(f)) for i, f in enumerate(friction) if np.any(f))]
        structure = Structure(rod, [Support(-1, "xz", "")], loads=loads, potential=post, plane="y")
        # at first the pull grows from next to nothing, or the rod would leave the post
        factors = np.geomspace(1e-3, 1.0, 20).tolist() if state is None else [1.0]
        state = solve_path(structure, factors, start=state)[-1]
        if not state.converged:
            return None
        push, out = post.pressed(state.x)
        before, friction = friction, FRICTION * push[:, None] * out[:, ::-1] * np.array([1.0, 0.0, -1.0])
        if k > STRAIGHTENED and np.max(np.abs(friction - before)) < SETTLED * hold:
            return state
    return None


def stiff_capstan() -> list[Row]:
    """Pull that slips a stiff rod round a post, over that with which it is held."""
    found = []
    source = "elastica, point force, Euler-Eytelwein: derived; cf. Singh 2022, J. Elasticity 151, 321"
    for hold in HOLDS:
        state = _drawn(hold)
        ratio = exact = float("nan")
        if state is not None:
            pull = state.reactions[0][-1]
            size = float(np.linalg.norm(pull))
            turn = acos(float(pull @ [sin(0.5 * TURN), 0.0, cos(0.5 * TURN)]) / size)
            ratio, exact = size / hold, cf.stiff_capstan(1.0, 1.0, FRICTION, turn, hold) / hold
        quantity = f"pull over hold of a stiff rod slipping round a post, friction {FRICTION:g}, P1 R2/EI = {hold:g}"
        found.append(relative(f"stiff-capstan-{hold:g}", quantity, ratio, exact, 3e-3, source))
    return found


CASES: tuple[Case, ...] = (stiff_capstan,)
