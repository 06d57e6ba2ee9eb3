"""Twist of a wire in a tube: its base is turned, friction holds it back, a shape makes it lag and whip.

One unknown for each node, the rotation about the axis. The energy is that of twist, of bending as a function of the
rotation, and an incremental potential of Coulomb friction. theory, section "Torque and track in a tube".
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from ..checks import FieldError
from ..kernel import bundle, kernel
from ..rod.elastic import Array
from ..rod.errors import NotConvergedError

STICK = 1e-3  # rad a node turns elastically before it slips: below what a protractor shows
REST = 1e-8  # rad, a Newton step smaller than this is at rest: round-off of stiff springs over a soft tip makes 1e-10
LARGEST = 0.2  # rad of one node in one iteration: in a jump the wire goes downhill, it does not leap over a valley
ITERATIONS = 4000  # cap of one increment: a jump by several turns needs some hundred
ARMIJO = 1e-4  # of the energy that the slope promises
ROUND_OFF = 1e-13  # of the energies added up: a fall smaller than that is not seen
HALVINGS = 40  # of a step
SHIFT = 1e-10  # of the largest diagonal, that of the stiff shaft: first shift of an indefinite system, then times 4


@dataclass(frozen=True)
class Twist:
    """A wire that may turn in its tube, n nodes from the base to the tip.

    spring : ndarray, shape (n - 1,), torque per twist of each element, GJ over its length, N m
    waves : ndarray, shape (n, H, 2), bending energy of a node's share at rotation t: the sum over h = 1 .. H of
        waves[h, 0] cos(h t) + waves[h, 1] sin(h t), J
    limit : ndarray, shape (n,), largest friction torque on each node, N m
    """

    spring: Array
    waves: Array
    limit: Array

    def __post_init__(self) -> None:
        n = len(self.limit)
        if np.shape(self.spring) != (n - 1,) or np.ndim(self.waves) != 3 or np.shape(self.waves)[::2] != (n, 2):
            shapes = [np.shape(self.spring), np.shape(self.waves), np.shape(self.limit)]
            raise FieldError("twist", shapes, "shapes (n - 1,), (n, H, 2), (n,)")
        if not (np.all(self.spring > 0.0) and np.all(self.limit >= 0.0)):
            raise FieldError("twist", "a spring of 0 or a friction below 0", "springs above 0, friction of at least 0")

    def start(self, angle: float = 0.0) -> "Turned":
        """The wire untwisted at a rotation (rad), no friction acting."""
        return Turned(np.full(len(self.limit), angle), np.full(len(self.limit), angle))

    def turn(self, state: "Turned", base: float) -> "Turned":
        """The wire at rest after its base has been turned to `base` (rad), downhill from a state.

        Raises
        ------
        NotConvergedError
            where it finds no rest
        """
        rotation = state.rotation.copy()
        rotation[0] = base
        work = np.empty((5, len(rotation)))
        stick = self.limit / STICK
        if settle(rotation, Held(self.spring, self.waves, self.limit, stick, state.anchor), work) != 0:
            raise NotConvergedError(f"the twisted wire finds no rest at {base:g} rad", rotation[:, None])
        reach = np.divide(self.limit, stick, out=np.zeros_like(stick), where=stick > 0.0)
        return Turned(rotation, np.clip(state.anchor, rotation - reach, rotation + reach))

    def torque(self, state: "Turned") -> float:
        """Torque that the base needs, N m."""
        return float(self.spring[0] * (state.rotation[0] - state.rotation[1]))

    def friction(self, state: "Turned") -> Array:
        """Torque of the tube on each node, shape (n,), N m."""
        return -self.limit / STICK * (state.rotation - state.anchor)

    def bending(self, state: "Turned") -> Array:
        """Torque of the bent tube on each node through its bending, shape (n,), N m."""
        h = np.arange(1, self.waves.shape[1] + 1)
        at = state.rotation[:, None] * h
        return np.asarray(np.sum(h * (self.waves[:, :, 0] * np.sin(at) - self.waves[:, :, 1] * np.cos(at)), axis=1))


@dataclass(frozen=True)
class Turned:
    """State of a twisted wire.

    rotation : ndarray, shape (n,), rad
    anchor : ndarray, shape (n,), rotation at which a node's friction would be 0, rad
    """

    rotation: Array
    anchor: Array

    @property
    def tip(self) -> float:
        """Rotation of the tip, rad."""
        return float(self.rotation[-1])


@bundle
class Held(NamedTuple):
    """A wire and its friction, for the kernels: see `Twist`, `Turned`; stick: shape (n,), N m, friction as a spring."""

    spring: Array
    waves: Array
    limit: Array
    stick: Array
    anchor: Array


@kernel
def _energy(t: Array, held: Held) -> tuple[float, float]:
    """Energy of rotations t, J, and the sum of its parts' sizes."""
    anchor, spring, waves, limit, stick = held.anchor, held.spring, held.waves, held.limit, held.stick
    total = size = 0.0
    for i in range(t.shape[0]):
        e = 0.0
        if i > 0:
            e += 0.5 * spring[i - 1] * (t[i] - t[i - 1]) ** 2
        for h in range(waves.shape[1]):
            a, b = waves[i, h, 0], waves[i, h, 1]
            if a != 0.0 or b != 0.0:
                e += a * np.cos((h + 1) * t[i]) + b * np.sin((h + 1) * t[i])
                size += abs(a) + abs(b)
        if stick[i] > 0.0:
            d = abs(t[i] - anchor[i])
            reach = limit[i] / stick[i]
            e += 0.5 * stick[i] * d * d if d <= reach else limit[i] * (d - 0.5 * reach)
        total += e
        size += abs(e)
    return total, size


@kernel
def _system(t: Array, held: Held, grad: Array, diag: Array) -> None:
    """Gradient and diagonal of the Hessian, whose off-diagonal is minus `spring`; node 0 is held."""
    anchor, spring, waves, limit, stick = held.anchor, held.spring, held.waves, held.limit, held.stick
    n = t.shape[0]
    for i in range(n):
        g = k = 0.0
        if i > 0:
            g += spring[i - 1] * (t[i] - t[i - 1])
            k += spring[i - 1]
        if i < n - 1:
            g -= spring[i] * (t[i + 1] - t[i])
            k += spring[i]
        for h in range(waves.shape[1]):
            a, b, m = waves[i, h, 0], waves[i, h, 1], h + 1.0
            if a != 0.0 or b != 0.0:
                c, s = np.cos(m * t[i]), np.sin(m * t[i])
                g += m * (b * c - a * s)
                k -= m * m * (a * c + b * s)
        if stick[i] > 0.0:
            d = t[i] - anchor[i]
            if abs(d) * stick[i] <= limit[i]:
                g += stick[i] * d
                k += stick[i]
            else:
                g += limit[i] if d > 0.0 else -limit[i]
        grad[i], diag[i] = g, k
    grad[0] = 0.0


@kernel
def _downhill(spring: Array, grad: Array, diag: Array, pivot: Array, step: Array) -> None:
    """Newton step of nodes 1 .. n - 1; an indefinite system is shifted until it is positive."""
    n = diag.shape[0]
    most = 0.0
    for i in range(1, n):
        most = max(most, abs(diag[i]))
    shift, ok = 0.0, False
    while not ok:
        ok = True
        for i in range(1, n):
            pivot[i] = diag[i] + shift
            if i > 1:
                pivot[i] -= spring[i - 1] ** 2 / pivot[i - 1]
            if not pivot[i] > 1e-14 * most:
                ok = False
                shift = max(4.0 * shift, SHIFT * most)
                break
    for i in range(1, n):
        step[i] = -grad[i]
        if i > 1:
            step[i] += spring[i - 1] / pivot[i - 1] * step[i - 1]
    for i in range(n - 1, 0, -1):
        if i < n - 1:
            step[i] += spring[i] * step[i + 1]
        step[i] /= pivot[i]
    step[0] = 0.0


@kernel
def settle(t: Array, held: Held, work: Array) -> int:
    """Go downhill from rotations t (node 0 held) to rest, in place; 0, or 1 where there is none after ITERATIONS."""
    n = t.shape[0]
    grad, diag, pivot, step, trial = work[0], work[1], work[2], work[3], work[4]
    for _ in range(ITERATIONS):
        _system(t, held, grad, diag)
        _downhill(held.spring, grad, diag, pivot, step)
        longest = slope = 0.0
        for i in range(n):
            longest = max(longest, abs(step[i]))
            slope += grad[i] * step[i]
        if longest < REST:
            return 0
        share = min(1.0, LARGEST / longest)
        before, size = _energy(t, held)
        for _ in range(HALVINGS):
            for i in range(n):
                trial[i] = t[i] + share * step[i]
            after, _ = _energy(trial, held)
            if after <= before + ARMIJO * share * slope + ROUND_OFF * size:
                break
            share *= 0.5
        for i in range(n):
            t[i] = trial[i]
    return 1
