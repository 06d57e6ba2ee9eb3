"""A wire clamped at one end and pressed end-on by a plate: increments, friction, snaps. theory, "Bench tests".

The plate is moved; every recorded state is a stable static equilibrium. Increments are cut where Newton fails; where
that does not help the wire snaps (a stuck tip lets go): the plate is held and the wire relaxes under drag.
"""

from dataclasses import dataclass, replace
from math import inf, isnan, pi

import numpy as np
from scipy.optimize import brentq

from ..profile import Profile
from ..rod.elastic import Array
from ..rod.errors import NotConvergedError
from ..rod.loads import Potential
from ..rod.solve import Equilibrium, solve
from ..rod.structure import Structure
from ..rod.supports import clamp
from .piece import piece, planes
from .plate import Plate
from .tip_shape import STRAIGHT, Shape

PENETRATION = 0.01  # of the tip's radius at the largest load expected: the plate's stiffness follows from it
PENETRATION_LIMIT = 0.05  # of the tip's radius; beyond it the run is refused
EXPECTED = 4.0 * pi**2  # largest load expected, times max EI/L^2 of the soft axis (clamped-clamped column)
SLIP = 1e-4  # of the free length: elastic slip under a friction force of 20 EI/L^2
FRICTION_CHANGE = 0.01  # of the friction limit: the lagged normal force is iterated until the force changes by less
FRICTION_PASSES = 8  # cap of that iteration, else the increment is cut
FIRST_STEP = 0.25  # of the axial shortening at the load expected
PROBE = 1e-3  # of the first increment: the bending that the offset begins is linear there
BRANCH_STEP = 1.0 / 64.0  # of the first increment: least one to which a reversal of bending cuts; real beyond it
GROWTH = 2.0  # of the increment after an easy one
LARGEST_STEP = 1.0 / 16.0  # of the travel
ONSET = 1e-6  # of the travel: the onset of slip is located this finely, a thousandth of the earliest seen
RELAX_STEP = 1.0 / 500.0  # of the travel: an increment failing at this size is a snap: hold the plate and relax
RELAX_LINE = 100.0  # EI/L^4: line stiffness (N/m2) of the drag to the last shape; twice a snap's fastest growth
RELAX_STEPS = 2000  # cap of relaxation steps
RELAX_REST = 1e-7  # of the free length: a relaxation step smaller than this is at rest
EASY, HARD = 8, 120  # Newton iterations: grow the increment up to EASY, cut it beyond HARD


@dataclass
class Acting:
    """What acts on the wire besides its clamp: the potential of its structure for the whole test.

    The structure is built and checked once; `energy` is set anew for each solution. Building it anew each time takes
    as long as five Newton iterations.
    """

    energy: Potential

    def __call__(self, x: Array) -> tuple[float, Array, Array]:
        """Energy, gradient and Hessian blocks at node positions (N + 1, 3)."""
        return self.energy(x)


Found = tuple[Equilibrium, Plate, float, int]  # a state, its plate, normal force (N), largest number of iterations


@dataclass
class Press:
    """A wire under a plate that comes down in increments, and what has been recorded so far.

    wire, acting : the wire and its potential
    state : the wire's present state
    plate : plate and friction after the last increment
    pressed : normal force, N; before the first increment the largest expected: the tip sticks as it touches
    displacement, step, travel : plate travel so far, next increment, travel in all, m
    touch : height of the tip at first touch, m
    tip_radius : m
    natural : natural curvature of the offset, 1/m
    rows : displacement, axial force, shortening, lateral force, tip angle of each recorded state
    shapes : node positions of each recorded state
    slipped_at : travel at the first slip, m (nan: none)
    depth : deepest indentation of the plate over the tip's radius
    bending : lateral movement of the nodes in the last increment (before the first: in a probe of it), (N + 1, 2), m
    least : increment below which bending that reverses is taken as found, m
    """

    wire: Structure
    acting: Acting
    state: Equilibrium
    plate: Plate
    pressed: float
    displacement: float
    step: float
    travel: float
    touch: float
    tip_radius: float
    natural: float
    rows: list[tuple[float, float, float, float, float]]
    shapes: list[Array]
    slipped_at: float
    depth: float
    bending: Array
    least: float

    @classmethod
    def start(
        cls,
        profile: Profile,
        length: float,
        friction: float,
        travel: float,
        offset: float,
        elements: int,
        shape: Shape = STRAIGHT,
    ) -> "Press":
        """Clamp the wire, let it take its natural shape, and put the plate at its tip."""
        curvature = 2.0 * offset / length
        natural = np.zeros((elements + 1, 2, 3))
        rod = piece(profile, 0.0, length, elements)
        axis = int(planes(rod)[0].turn) - 1
        natural[:, :, axis] = curvature
        natural[:, :, :2] += shape.at_nodes(length - rod.arc)[:, None, :]
        rod = replace(rod, natural=natural)
        rest = solve(Structure(rod, [clamp(0)]), 0.0)
        bend = rest.structure.model.rod.bend
        tip = rest.x[-1].copy()
        expected = EXPECTED * float(np.max(bend[:, axis])) / length**2
        plate = Plate(
            point=tip.copy(),
            normal=np.array([0.0, 0.0, -1.0]),
            stiffness=expected / (PENETRATION * profile.tip_radius),
            stick_stiffness=20.0 * float(np.max(bend)) / length**2 / (SLIP * length),
            friction=friction,
            traction=np.zeros(3),
            anchor=tip.copy(),
        )
        axial = float(np.sum(rod.lengths / rod.stretch[:, 2])) + 1.0 / plate.stiffness
        first = min(FIRST_STEP * expected * axial, LARGEST_STEP * travel)
        acting = Acting(plate.potential(0.0))
        wire = Structure(rod, [clamp(0)], potential=acting)
        press = cls(
            wire, acting, rest, plate, expected, 0.0, first, travel, float(tip[2]), profile.tip_radius, curvature,
            [(0.0, 0.0, 0.0, 0.0, _tip_angle(rest.q))], [rest.x], float("nan"), 0.0,
            np.zeros((elements + 1, 2)), BRANCH_STEP * first,
        )  # fmt: skip
        probe = press._held(PROBE * first) if friction > 0.0 else press._solve(press._plate_at(PROBE * first))
        if probe is None:
            raise press._failed(rest)
        press.bending = press._moved(probe)
        return press

    def advance(self, goal: float) -> None:
        """One converged increment of plate travel, cut as often as needed; a snap is relaxed with the plate held.

        Until it slips for the first time the tip is held as if pinned; the increment in which friction would not hold
        it any more ends where that begins. Until then an increment whose bending reverses is cut too: near its
        buckling load a wire has a second stable state, bent against its offset, which an increment may fall into but
        the test never reaches; it carries 3 to 7 % more.
        """
        while True:
            target = min(self.displacement + self.step, goal)
            size = target - self.displacement
            sticks = isnan(self.slipped_at) and 0.0 < self.plate.friction < inf
            found = self._held(target) if sticks else self._solve(self._plate_at(target))
            if found is not None and size > self.least and self._reverses(found):
                self.step = 0.5 * size
                continue
            if found is not None and sticks and _share(found) >= 1.0:
                self.step = RELAX_STEP * self.travel
                if self._to_onset(target):
                    return
                continue
            if found is None and size <= RELAX_STEP * self.travel:
                found = self._relax(self._plate_at(target))
            if found is not None:
                state, plate, pressed, effort = found
                self._accept(target, state, plate, pressed)
                if effort <= EASY:
                    self.step = min(GROWTH * size, LARGEST_STEP * self.travel)
                return
            self.step = 0.5 * size

    def _plate_at(self, displacement: float) -> Plate:
        """The plate at a travel, m, its friction that of the last increment."""
        point = self.plate.point.copy()
        point[2] = self.touch - displacement
        return replace(self.plate, point=point)

    def _moved(self, found: Found) -> Array:
        """Lateral movement of the nodes from the present state to one found, shape (N + 1, 2), m."""
        return np.asarray((found[0].x - self.state.x)[:, :2])

    def _reverses(self, found: Found) -> bool:
        """Whether a state found before the first slip undoes the bending of the last increment."""
        return isnan(self.slipped_at) and float(np.sum(self._moved(found) * self.bending)) < 0.0

    def _held(self, displacement: float) -> Found | None:
        """Stable equilibrium at a travel (m) if the tip does not slip, whatever friction that takes."""
        plate = self._plate_at(displacement)
        found = self._solve(replace(plate, friction=inf))
        return None if found is None else (found[0], plate, *found[2:])

    def _to_onset(self, beyond: float) -> bool:
        """Go to where the tip begins to slip, between the present travel and one beyond it (m); False: it is there."""

        def excess(displacement: float) -> float:
            found = self._held(displacement)
            if found is None:
                raise self._failed(self.state)
            return _share(found) - 1.0

        least = self.displacement + ONSET * self.travel
        if excess(least) >= 0.0:
            self.slipped_at = self.displacement
            return False
        at = float(brentq(excess, least, beyond, xtol=ONSET * self.travel))
        found = self._held(at)
        assert found is not None  # it was found a moment ago
        self._accept(at, *found[:3])
        self.slipped_at = at
        return True

    def _relax(self, plate: Plate) -> Found:
        """Follow a snap with the plate held: steps of drag toward the last shape, friction along the way, to rest."""
        rod, bend = self.wire.rod, self.wire.model.rod.bend
        drag = RELAX_LINE * float(np.max(bend)) / rod.length**4 * rod.tributary[:, None]
        for _ in range(RELAX_STEPS):
            before = self.state.x
            state = self._next(_dragged(plate.potential(self.pressed), before, drag))
            if not state.converged:
                raise self._failed(state)
            plate = plate.advanced(state.x[-1], self.pressed)
            self.state, self.pressed = state, plate.normal_force(state.x[-1])
            if float(np.max(np.abs(state.x - before))) < RELAX_REST * rod.length:
                break
        found = self._solve(plate)
        if found is None:
            raise self._failed(self.state)
        return found

    def _failed(self, state: Equilibrium) -> NotConvergedError:
        text = f"tip-load test: no stable equilibrium at {self.displacement * 1e3:.4g} mm of travel"
        return NotConvergedError(text, state.x)

    def _solve(self, plate: Plate) -> Found | None:
        """Stable equilibrium under the plate, the lagged normal force iterated; None: not found, cut the increment."""
        pressed, state, effort = self.pressed, self.state, 0
        for _ in range(FRICTION_PASSES):
            state = self._next(plate.potential(pressed), state)
            if not (state.converged and state.stable):
                return None
            effort = max(effort, state.iterations)
            now = plate.normal_force(state.x[-1])
            before, _ = plate.friction_force(state.x[-1], pressed)
            after, _ = plate.friction_force(state.x[-1], now)
            change = float(np.linalg.norm(after - before))
            if plate.friction == 0.0 or change <= FRICTION_CHANGE * plate.limit(now):
                return state, plate, now, effort
            pressed = now
        return None

    def _next(self, energy: Potential, start: Equilibrium | None = None) -> Equilibrium:
        """State under what now acts, next to a start (default: the present state)."""
        self.acting.energy = energy
        return solve(self.wire, 0.0, start=start or self.state, max_iterations=HARD)

    def _accept(self, target: float, state: Equilibrium, plate: Plate, pressed: float) -> None:
        tip = state.x[-1]
        force, slips = plate.friction_force(tip, pressed)
        self.bending = (state.x - self.state.x)[:, :2]
        self.state, self.pressed, self.displacement = state, pressed, target
        self.plate = plate.advanced(tip, pressed)
        self.depth = max(self.depth, plate.penetration(tip) / self.tip_radius)
        if self.depth > PENETRATION_LIMIT:
            raise ArithmeticError(f"tip-load test: the plate yields by {self.depth:.3g} of the tip's radius")
        if slips and plate.friction > 0.0 and isnan(self.slipped_at):
            self.slipped_at = target
        angle = _tip_angle(state.q)
        self.rows.append((target, pressed, self.touch - float(tip[2]), float(np.linalg.norm(force)), angle))
        self.shapes.append(state.x)


def _share(found: Found) -> float:
    """Friction that would hold the tip over the largest there is, -."""
    state, plate, pressed, _ = found
    limit = plate.limit(pressed)
    return float(np.linalg.norm(plate.trial(state.x[-1]))) / limit if limit > 0.0 else inf


def _dragged(potential: Potential, x0: Array, line: Array) -> Potential:
    """The potential plus a drag 1/2 line |x - x0|^2 of each node; `line` (N + 1, 1), N/m."""
    eye = line[:, :, None] * np.eye(3)

    def energy(x: Array) -> tuple[float, Array, Array]:
        value, g, h = potential(x)
        away = x - x0
        return value + 0.5 * float(np.sum(line * away * away)), g + line * away, h + eye

    return energy


def _tip_angle(q: Array) -> float:
    """Rotation of the tip's tangent from the clamp's axis, rad: last frame's axis, carried half an element on."""
    axis = 1.0 - 2.0 * (q[-2:, 1] ** 2 + q[-2:, 2] ** 2)
    last = np.arccos(np.clip(axis, -1.0, 1.0))
    return float(last[1] + 0.5 * (last[1] - last[0]))
