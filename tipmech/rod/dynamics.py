"""Motion of a rod in time: steps of `time_step` with their length chosen, and the account of the energy.

theory, section "Dynamics".
"""

from dataclasses import dataclass, replace

import numpy as np

from .elastic import Array
from .scheme import Scheme
from .small import quat_log, quat_relative
from .time_step import Level, Problem, Work, first_level, try_step, workspace

SAFETY = 0.9  # of the step that the error estimate allows
SHRINK, GROW = 0.2, 2.0  # largest change of the step length in one step
ORDER = 3.0  # of the local error
SMALLEST = 2.0**-20  # of the first step: below it the run is given up
GAIN = 3.0  # times all energy put in: a run whose time steps have made more is no motion of this rod any more
FAINT = 1e-6  # of EI/L: energy below which a gain says nothing
ROUND_OFF = 1e-6  # of a step: what is left of the time below it is round-off of the sum of steps


@dataclass(frozen=True)
class State:
    """State of motion.

    time : s
    x : ndarray, shape (N + 1, 3), node positions, m
    q : ndarray, shape (N, 4), element frames
    velocity : ndarray, shape (N + 1, 3), m/s
    spin : ndarray, shape (N, 3), angular velocity in the frames, rad/s
    """

    time: float
    x: Array
    q: Array
    velocity: Array
    spin: Array


@dataclass(frozen=True)
class Motion:
    """A run in time, recorded at K times, the first and the last included.

    times : ndarray, shape (K,), s
    x, q, velocity, spin : ndarray, shapes (K, N + 1, 3), (K, N, 4), (K, N + 1, 3), (K, N, 3), as in `State`; velocities
        at prescribed positions are means over the last step
    kinetic, strain, potential : ndarray, shape (K,), energies, J
    load_work, support_work : ndarray, shape (K,), work of dead loads and of moved supports since the start, J
    drag_loss : ndarray, shape (K,), energy lost to drag, J
    numerical_loss : ndarray, shape (K,), what is missing from the balance: taken by numerical damping, and the error
        of the time steps (it can be negative), J
    iterations : ndarray of int, shape (K,), Newton iterations since the record before, failed steps' included
    error : ndarray, shape (K,), largest estimated local error of a step since the record before, m
    steps, failed : steps taken and steps that were tried and given up
    completed : whether the wanted time was reached
    reason : why not, else empty
    last : the last good state
    """

    times: Array
    x: Array
    q: Array
    velocity: Array
    spin: Array
    kinetic: Array
    strain: Array
    potential: Array
    load_work: Array
    support_work: Array
    drag_loss: Array
    numerical_loss: Array
    iterations: Array
    error: Array
    steps: int
    failed: int
    completed: bool
    reason: str
    last: State


def at_rest(x: Array, q: Array, time: float = 0.0) -> State:
    """State without motion."""
    return State(time, x, q, np.zeros_like(x), np.zeros((len(q), 3)))


def integrate(
    problem: Problem,
    start: State,
    duration: float,
    step: float,
    *,
    rho: float = 0.8,
    tolerance: float | None = None,
    residual: float | None = None,
    every: int = 1,
) -> Motion:
    """Motion from `start` over `duration` (s).

    Parameters
    ----------
    problem : Problem
        rod, inertia, supports, loads
    start : State
        positions and velocities at the start; velocities of prescribed unknowns are ignored
    duration : float
        time to cover, s
    step : float
        time step, s; with `tolerance` the largest and first one
    rho : float
        spectral radius at infinite frequency, 0 to 1: numerical damping
    tolerance : float, optional
        largest estimated local error of a step, m (rotations times the mean element length); None: fixed steps
    residual : float, optional
        largest residual force accepted, N (default as in the statics)
    every : int
        record every this many steps, and the last

    A step whose equations are not solved is halved, and grows again afterwards. Below SMALLEST of `step` the run ends
    as not completed, with what was found; so it does when the time steps have made GAIN times the energy put in.

    Raises
    ------
    ValueError
        for a duration, step or tolerance that is not positive
    """
    for name, value in (("duration", duration), ("step", step), ("tolerance", tolerance), ("every", every)):
        if value is not None and not (np.isfinite(value) and value > 0):
            message = f"{name} is {value}; it must be finite and greater than 0"
            raise ValueError(message)
    scheme, work = Scheme(rho), workspace(problem)
    level = first_level(problem, work, start.time, start.x.copy(), start.q.copy(), _joined(start))
    books = _Books(level, FAINT * float(np.max(problem.rod.bend)) / float(np.sum(problem.rod.length)))
    end, h, used, reason = start.time + duration, step, step, ""
    while end - level.time > ROUND_OFF * step and not reason:
        left = end - level.time
        h = left if h > (1.0 - ROUND_OFF) * left else h
        attempt = try_step(problem, scheme, work, _rescaled(level, h / used), h, residual)
        books.iterations += attempt.iterations
        if attempt.level is None or (tolerance is not None and attempt.error > tolerance):
            books.failed += 1
            why = attempt.why or f"estimated error {attempt.error:.3g} m"
            h *= 0.5 if attempt.level is None else _factor(tolerance, attempt.error)
            if h < SMALLEST * step:
                reason = f"no step from {level.time:.6g} s down to {h:.3g} s: {why}"
            continue
        books.add(level, attempt.level, work, h, attempt.error)
        level, used = attempt.level, h
        reason = books.unbelievable(level)
        h = min(step, h * _factor(tolerance, attempt.error))
        if books.steps % every == 0:
            books.record(level)
    if books.records[-1][0] is not level:
        books.record(level)
    return books.closed(reason)


def _factor(tolerance: float | None, error: float) -> float:
    """Factor from one step to the next: by the error estimate, or back to the wanted step after a failure."""
    if tolerance is None:
        return GROW
    return float(np.clip(SAFETY * (tolerance / max(error, 1e-300)) ** (1.0 / ORDER), SHRINK, GROW))


def _rescaled(level: Level, ratio: float) -> Level:
    """The level for a step `ratio` times the last one: a stands for the acceleration at a time that scales with it."""
    return level if ratio == 1.0 else replace(level, a=level.w + ratio * (level.a - level.w))


def _joined(state: State) -> Array:
    """Velocities in the order of the unknowns, shape (6 N + 3,)."""
    out = np.zeros(6 * len(state.q) + 3)
    for a in range(3):
        out[a::6] = state.velocity[:, a]
        out[a + 3 :: 6] = state.spin[:, a]
    return out


def _state(level: Level) -> State:
    """The level as users see it."""
    v = level.v + level.drift
    velocity, spin = np.stack([v[a::6] for a in range(3)], axis=1), np.stack([v[a::6] for a in (3, 4, 5)], axis=1)
    return State(level.time, level.x, level.q, velocity, spin)


def _support_work(old: Level, new: Level) -> float:
    """Work of the supports over a step, J: trapezoid rule on their forces and the clamps' moments."""
    moved = np.where(new.drift != 0.0, 0.5 * (old.grad + new.grad), 0.0)
    work = sum(float(np.sum(moved[a::6] * (new.x[:, a] - old.x[:, a]))) for a in range(3))
    for end in (0, 1):
        turn = quat_log(quat_relative(tuple(old.clamps[end]), tuple(new.clamps[end])))
        work -= 0.5 * float(np.dot(old.moments[end] + new.moments[end], turn))
    return work


class _Books:
    """Records and the running account of a run; filled by `integrate`, closed into a `Motion`."""

    def __init__(self, first: Level, faint: float) -> None:
        self.start, self.faint = first.kinetic + first.strain + first.potential, faint
        self.given = first.kinetic + first.strain + abs(first.potential)
        self.load = self.support = self.drag = self.error = 0.0
        self.iterations = self.steps = self.failed = 0
        self.records: list[tuple[Level, tuple[float, ...], int, float]] = []
        self.record(first)

    def add(self, old: Level, new: Level, work: Work, h: float, error: float) -> None:
        """Enter a step of h (s)."""
        self.steps += 1
        self.error = max(self.error, error)
        self.load += 0.5 * float(np.sum((old.load + new.load) * (new.x - old.x)))
        if new.clamps is not old.clamps:  # supports at rest share theirs
            self.support += _support_work(old, new)
        self.drag += 0.5 * h * float(np.sum(work.damping * (old.v**2 + new.v**2)))

    def unbelievable(self, level: Level) -> str:
        """Why the level cannot be the rod's, else empty: stored energy out of nothing.

        Kinetic energy is left out: in the first steps of a mode too fast for them the scheme's velocities overshoot.
        """
        gain = level.strain + level.potential - self.start + self.drag - self.load - self.support
        given = self.given + abs(self.load) + abs(self.support) + self.faint
        if gain <= GAIN * given:
            return ""
        return (
            f"at {level.time:.6g} s the time steps have made {gain:.3g} J out of {given:.3g} J: "
            "take shorter steps or more numerical damping (smaller rho)"
        )

    def record(self, level: Level) -> None:
        """Keep a level with the account so far."""
        self.records.append((level, (self.load, self.support, self.drag), self.iterations, self.error))
        self.iterations, self.error = 0, 0.0

    def closed(self, reason: str) -> Motion:
        """All records as arrays."""
        states = [_state(level) for level, *_ in self.records]
        kinetic, strain, potential = np.array([(r.kinetic, r.strain, r.potential) for r, *_ in self.records]).T
        load, support, drag = np.array([works for _, works, *_ in self.records]).T
        stored = kinetic + strain + potential
        return Motion(
            times=np.array([s.time for s in states]),
            x=np.array([s.x for s in states]),
            q=np.array([s.q for s in states]),
            velocity=np.array([s.velocity for s in states]),
            spin=np.array([s.spin for s in states]),
            kinetic=kinetic,
            strain=strain,
            potential=potential,
            load_work=load,
            support_work=support,
            drag_loss=drag,
            numerical_loss=load + support - drag - (stored - stored[0]),
            iterations=np.array([r[2] for r in self.records]),
            error=np.array([r[3] for r in self.records]),
            steps=self.steps,
            failed=self.failed,
            completed=not reason,
            reason=reason,
            last=states[-1],
        )
