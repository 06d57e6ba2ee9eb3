"""One implicit step in time: generalised-alpha on the rod's Lie group. theory (40)-(45).

Arnold & Bruels 2007 (the method with vectors of acceleration on one side only), Bruels & Cardona 2010 (on Lie groups);
from memory.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import cos, sin, sqrt
from typing import NamedTuple

import numpy as np

from ..kernel import kernel
from .band import WIDTH, factor, solve
from .elastic import Array, RodArrays, clamp_moment
from .inertia import Inertia, add_inertia, diagonal
from .linear import impose
from .loads import Potential
from .model import BoolArray
from .scheme import Scheme
from .small import Q, V, dot, quat_log, quat_mul, quat_turn
from .static_terms import assemble_static

RESIDUAL = 1e-9  # of the force scale: far below the error of a step
ROUND_OFF = 4 * np.finfo(float).eps  # of EA times the number of elements and of EI over l^2: strains resolve no further
MAX_ITERATIONS = 25  # beyond them a shorter step gets there sooner
MAX_TURN = 0.5  # rad, largest rotation of a frame in one iteration

# time (s) -> positions (N + 1, 3), m, of which the prescribed components count, and the clamps' frames (2, 4)
MovedSupports = Callable[[float], tuple[Array, Array]]
Loads = Callable[[float], Array]  # time (s) -> dead nodal forces (N + 1, 3), N


@dataclass(frozen=True)
class Problem:
    """What moves, what holds it and what acts on it.

    rod : the rod; its clamps are those of supports at rest, `supports` moves them
    inertia : masses and moments of inertia
    fixed : ndarray of bool, shape (6 N + 3,), prescribed unknowns; their own mass counts as the support's
    damping : ndarray, shape (6 N + 3,), viscous coefficients (N s/m, N m s), see `inertia.line_drag`
    supports : prescribed positions and clamps over time, or None: all as at the start
    loads : dead forces over time, or None
    potential : smooth energy of the node positions as in the statics, or None
    """

    rod: RodArrays
    inertia: Inertia
    fixed: BoolArray
    damping: Array | None = None
    supports: MovedSupports | None = None
    loads: Loads | None = None
    potential: Potential | None = None

    def __post_init__(self) -> None:
        n = len(self.rod.length)
        size = 6 * n + 3
        if self.inertia.mass.shape != (n + 1,) or self.inertia.spin.shape != (n, 3):
            message = (
                f"inertia has shapes {self.inertia.mass.shape} and {self.inertia.spin.shape}; the rod {n} elements"
            )
            raise ValueError(message)
        if self.fixed.shape != (size,) or (self.damping is not None and self.damping.shape != (size,)):
            message = f"fixed and damping must have {size} entries"
            raise ValueError(message)


@dataclass(frozen=True)
class Level:
    """All that is known at one time.

    time : s
    x, q : ndarray, shapes (N + 1, 3), (N, 4)
    v, w, a : ndarray, shape (6 N + 3,), velocities, accelerations, auxiliary accelerations; 0 at prescribed unknowns
    drift : ndarray, shape (6 N + 3,), mean velocity over the last step at prescribed unknowns, else 0
    grad : ndarray, shape (6 N + 3,), gradient of the static potential with the dead loads, N and N m
    load : ndarray, shape (N + 1, 3), dead forces, N
    clamps, moments : ndarray, shapes (2, 4), (2, 3), clamps' frames and the rod's moments on them (in them), N m
    strain, potential, kinetic : energies, J
    """

    time: float
    x: Array
    q: Array
    v: Array
    w: Array
    a: Array
    drift: Array
    grad: Array
    load: Array
    clamps: Array
    moments: Array
    strain: float
    potential: float
    kinetic: float


class Work(NamedTuple):
    """Workspace of a run.

    mass, damping, scale, turns : shape (6 N + 3,), diagonal mass matrix, drag, factors that make a residual a force in
        N, and 1 at rotations (else 0)
    band, fac : shape (6 N + 3, 9), tangent and its factors
    """

    mass: Array
    damping: Array
    scale: Array
    turns: Array
    band: Array
    fac: Array


@dataclass(frozen=True)
class Attempt:
    """A step that was tried: the new level, or None and why; iterations; estimated local error, m."""

    level: Level | None
    iterations: int
    error: float = 0.0
    why: str = ""


def workspace(problem: Problem) -> Work:
    """Arrays a run needs."""
    mass = diagonal(problem.inertia)
    size = len(mass)
    damping = np.zeros(size) if problem.damping is None else np.ascontiguousarray(problem.damping)
    scale, turns = np.ones(size), np.zeros(size)
    for a in (3, 4, 5):
        scale[a::6] = 1.0 / float(np.mean(problem.rod.length))
        turns[a::6] = 1.0
    return Work(mass, damping, scale, turns, np.zeros((size, WIDTH)), np.empty((size, WIDTH)))


@kernel
def largest(values: Array, scale: Array, fixed: BoolArray) -> float:
    """Largest size of scale * values at free unknowns; not a number where one is not."""
    found = 0.0
    for i in range(values.shape[0]):
        if not fixed[i]:
            size = abs(scale[i] * values[i])
            if not size <= found:
                found = size
                if size != size:
                    return size
    return found


@kernel
def _exp(theta: V) -> Q:
    """Quaternion of a rotation vector to round-off at every size (the series of `quat_turn` stops at 5e-12)."""
    angle = sqrt(dot(theta, theta))
    k = 0.5 if angle == 0.0 else sin(0.5 * angle) / angle
    return (cos(0.5 * angle), k * theta[0], k * theta[1], k * theta[2])


@kernel
def move(x: Array, q: Array, s: Array, step: Array, factor: float, x_new: Array, q_new: Array) -> None:
    """Add factor * step to the increment `s`, rotations as exp(s) exp(factor * step); x_new, q_new: (x, q) moved by s.

    `s` is kept to its own round-off: read off the frames it would have that of 1, and accelerations 4 s/h^2 with it.
    """
    n = q.shape[0]
    for i in range(n + 1):
        for a in range(3):
            k = 6 * i + a
            s[k] += factor * step[k]
            x_new[i, a] = x[i, a] + s[k]
    for j in range(n):
        k = 6 * j + 3
        so_far = _exp((s[k], s[k + 1], s[k + 2]))
        theta = (factor * step[k], factor * step[k + 1], factor * step[k + 2])
        whole = quat_log(quat_mul(so_far, _exp(theta)))
        turned = quat_turn((q[j, 0], q[j, 1], q[j, 2], q[j, 3]), whole)
        for a in range(3):
            s[k + a] = whole[a]
        for a in range(4):
            q_new[j, a] = turned[a]


def first_level(problem: Problem, work: Work, time: float, x: Array, q: Array, v: Array) -> Level:
    """Level at the start: accelerations from the balance of forces; `v` are the velocities (6 N + 3,)."""
    now = _acting(problem, time)
    v = np.where(problem.fixed, 0.0, v)
    none = np.zeros_like(v)
    held = _balance(problem, work, now, x, q, (none, v, none), (0.0, 0.0))
    w = np.where(problem.fixed, 0.0, -held.rest / work.mass)
    return _level(work, time, now, x, q, held, (v, w, w, none))


def try_step(problem: Problem, scheme: Scheme, work: Work, old: Level, h: float, accept: float | None) -> Attempt:
    """One step of h (s) from `old`, by Newton's method with the symmetric part of the tangent. theory (42)-(44).

    `accept` is the largest residual force accepted, N (None: RESIDUAL of the smaller of EI/L^2 and the largest
    momentum of an unknown over h, not below round-off).
    """
    fixed = problem.fixed
    now = _acting(problem, old.time + h)
    rates = scheme.rates(h)
    a_start, v_start, w_start = _rates_at_rest(scheme, old, h)
    s, x, q = np.zeros_like(old.v), old.x.copy(), old.q.copy()
    move(old.x, old.q, s, h * (old.v + old.drift), 1.0, x, q)
    delta = np.zeros_like(s)
    if now.target is not None:
        for a in range(3):
            delta[a::6] = now.target[:, a] - x[:, a]
        delta[~fixed] = 0.0
    prescribed = now.target is not None  # and not reached yet
    most, floor = _accepted(problem.rod, old.x, accept)
    norm = np.inf
    for iteration in range(MAX_ITERATIONS):
        v = np.where(fixed, 0.0, rates[1] * s + v_start)
        w = np.where(fixed, 0.0, rates[0] * s + w_start)
        held = _balance(problem, work, now, x, q, (s, v, w), rates)
        norm = largest(held.rest, work.scale, fixed)
        if not np.isfinite(norm):
            return Attempt(None, iteration, why="the residual is not finite")
        impulse = RESIDUAL / h * largest(v, work.mass * work.scale, fixed)
        if iteration > 0 and not prescribed and norm <= max(min(most, impulse), floor):
            a_new = np.where(fixed, 0.0, s / (h * h * scheme.beta) + a_start)
            level = _level(work, old.time + h, now, x, q, held, (v, w, a_new, np.where(fixed, s / h, 0.0)))
            return Attempt(level, iteration, _local_error(scheme, work, fixed, rates[0], h, w - old.w))
        b = -held.rest[None, :]
        impose(work.band, b, fixed, delta[None, :])
        if factor(work.band, work.fac, 0.0) < 0:
            return Attempt(None, iteration, why="the tangent has a zero pivot")
        solve(work.fac, b)
        t = MAX_TURN / max(MAX_TURN, largest(b[0], work.turns, fixed))
        move(old.x, old.q, s, b[0], t, x, q)
        delta *= 1.0 - t
        prescribed = prescribed and t < 1.0
    return Attempt(None, MAX_ITERATIONS, why=f"residual {norm:.3g} N after {MAX_ITERATIONS} iterations")


class _Acting(NamedTuple):
    """What acts at one time: the rod with its clamps, prescribed positions (or None) and dead forces."""

    rod: RodArrays
    target: Array | None
    load: Array


class _Balance(NamedTuple):
    """Residual and static gradient (6 N + 3,); elastic energy and that of the potential."""

    rest: Array
    grad: Array
    strain: float
    potential: float


def _acting(problem: Problem, time: float) -> _Acting:
    """Supports and loads at a time."""
    load = np.zeros((len(problem.rod.length) + 1, 3)) if problem.loads is None else problem.loads(time)
    if problem.supports is None:
        return _Acting(problem.rod, None, load)
    target, clamps = problem.supports(time)
    return _Acting(problem.rod._replace(clamps=np.ascontiguousarray(clamps)), target, load)


def _rates_at_rest(scheme: Scheme, old: Level, h: float) -> tuple[Array, Array, Array]:
    """Auxiliary accelerations, velocities and accelerations that an increment of zero would mean. theory (42)."""
    a = -old.v / (h * scheme.beta) - (0.5 - scheme.beta) / scheme.beta * old.a
    v = old.v + h * (1.0 - scheme.gamma) * old.a + h * scheme.gamma * a
    w = (1.0 - scheme.alpha_m) * a + scheme.alpha_m * old.a - scheme.alpha_f * old.w
    return a, v, w / (1.0 - scheme.alpha_f)


def _balance(
    problem: Problem,
    work: Work,
    now: _Acting,
    x: Array,
    q: Array,
    motion: tuple[Array, Array, Array],
    rates: tuple[float, float],
) -> _Balance:
    """Balance of forces at increments, velocities and accelerations `motion`; fills the band."""
    grad = np.empty_like(motion[0])
    strain, other = assemble_static(now.rod, x, q, problem.potential, now.load, grad, work.band)
    rest = grad.copy()
    add_inertia(problem.inertia, work.damping, problem.fixed, *rates, *motion, rest, work.band)
    return _Balance(rest, grad, strain, other)


def _level(
    work: Work, time: float, now: _Acting, x: Array, q: Array, held: _Balance, rates: tuple[Array, Array, Array, Array]
) -> Level:
    """The level of a state in balance; `rates` are its v, w, a and drift."""
    rod = now.rod
    moments = np.zeros((2, 3))
    for end in (0, 1):
        if rod.bend[-end, 0] > 0.0:
            moments[end] = clamp_moment(rod, q, end)
    kinetic = 0.5 * float(np.sum(work.mass * rates[0] ** 2))
    return Level(time, x, q, *rates, held.grad, now.load, rod.clamps, moments, held.strain, held.potential, kinetic)


def _accepted(rod: RodArrays, x: Array, accept: float | None) -> tuple[float, float]:
    """Residual force to be reached and the one below which round-off rules, N; theory (44)."""
    if accept is not None:
        return accept, accept
    places = max(len(rod.length), float(np.max(np.abs(x))) / float(np.min(rod.length)))
    bending = float(np.max(rod.bend)) / (float(np.min(rod.span)) * float(np.mean(rod.length)))
    floor = ROUND_OFF * (float(np.max(rod.stretch)) * places + bending)
    return RESIDUAL * float(np.max(rod.bend)) / float(np.sum(rod.length)) ** 2, floor


def _local_error(
    scheme: Scheme, work: Work, fixed: BoolArray, by_acceleration: float, h: float, change: Array
) -> float:
    """Largest local error of a step, m (rotations times the mean element length). theory (45).

    The step's own tangent filters it: a mode too fast for the step is damped or kept, not followed, and its
    acceleration says nothing about an error of positions.
    """
    raw = scheme.error_constant * h * h * change
    b = np.where(fixed, 0.0, by_acceleration * work.mass * raw)[None, :]
    solve(work.fac, b)
    return float(np.max(np.abs(b[0] / work.scale)))
