"""Trackability: what it takes to push a wire along a bend, over friction, stiffness and the way it has gone.

The rod lies in a tube and slides forward everywhere, so each node's friction is the wall's force on it times the
coefficient, backward along the axis. That force depends on the friction: passes are repeated until it stands. The tube
is our own; no standard fixes it. theory, section "Torque and track in a tube".
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import degrees, nan, radians

import numpy as np

from ..checks import FieldError, check_positive, check_range, mm
from ..profile import Profile
from ..rod.elastic import Array
from ..rod.errors import NotConvergedError
from ..rod.solve import Equilibrium, solve
from ..rod.structure import Structure
from .threaded import CUTS, Threaded
from .torque import BORE, path_words
from .tube import Piece, Route, bend

RADIUS, ANGLE = 15e-3, radians(90.0)  # m, rad, of the bend; assumed, as all of the tube
STRAIGHT_IN = 30e-3  # m, tube before the bend
BEYOND = 40e-3  # m, how far the tip has gone past the bend's end
RESISTANCE = 5e-3  # N on the tip: about half a gram-force, of the order of a soft tip's load
FRICTIONS = (0.0, 0.05, 0.1, 0.2, 0.3)
SCALES = (0.25, 0.5, 1.0, 2.0, 4.0)  # times EI and GJ of the whole wire
WAYS = (2e-3, 5e-3, 10e-3, 20e-3, 30e-3, 40e-3, 60e-3, 80e-3)  # m of the tip past the bend's end
BOW = 1.0  # 1/m, bow of the free wire across the bend's plane: out of the symmetry in which it could not buckle
PUSH_ITERATIONS = 200  # of Newton's method: a soft wire that buckles along the wall takes many
SETTLED = 1e-4  # of the push: its change from pass to pass
PASSES = 60  # of friction; each gains the share of the wall's force that friction itself makes


@dataclass(frozen=True)
class Track:
    """Result of a push along a bend; of each pair of forces the first is without, the second with the resistance.

    drag : push without resistance at the wire's own friction and stiffness, N
    gain : (push with resistance - drag)/resistance there, -
    frictions : ndarray, shape (n,); over_friction : ndarray, shape (n, 2), push, N
    scales : ndarray, shape (m,), times EI and GJ; over_stiffness : ndarray, shape (m, 2), push, N
    ways : ndarray, shape (k,), m of the tip past the bend; over_way : ndarray, shape (k,), push without resistance, N
    resistance : N
    friction, radius, angle, bore : of the wire in the tube, m, rad, m
    missing : where the push was not found (nan in the curves) and why; empty as a rule
    rope : exp(friction x angle): the gain of a wire without stiffness, -
    shape : ndarray, shape (N + 1, 3), node positions without resistance, m; pressed : ndarray, shape (N + 1,), wall, N
    definition : the test in words
    """

    drag: float
    gain: float
    frictions: Array
    over_friction: Array
    scales: Array
    over_stiffness: Array
    ways: Array
    over_way: Array
    resistance: float
    friction: float
    radius: float
    angle: float
    bore: float
    missing: tuple[str, ...]
    rope: float
    shape: Array
    pressed: Array
    definition: str


@dataclass
class Sliding:
    """What acts on the nodes: the wall, and dead forces (N + 1, 3), N, that are set anew for each solution."""

    threaded: Threaded
    dead: Array

    def __call__(self, x: Array) -> tuple[float, Array, Array]:
        """Energy, gradient, Hessian blocks."""
        energy, grad, hess = self.threaded.wall(x)
        return energy - float(np.sum(self.dead * x)), grad - self.dead, hess


class Pushed:
    """A wire in a tube that is pushed on by its base; solutions start from the one before.

    threaded : Threaded
    rest : equilibrium without friction and load
    state : last equilibrium
    """

    def __init__(self, threaded: Threaded, rest: Equilibrium | None = None) -> None:
        self.threaded = threaded
        count = len(threaded.distance)
        bowed = np.broadcast_to([BOW, 0.0, 0.0], (count, 3))
        self.rest = threaded.lay(bowed) if rest is None else rest
        self.state = self.rest
        self.acting = Sliding(threaded, np.zeros((count, 3)))
        plain = threaded.structure(bowed)
        self.structure = Structure(plain.rod, plain.supports, potential=self.acting)

    def push(self, friction: float, resistance: float) -> float:
        """Force at the base along the tube, N, that slides the wire on against a force on its tip (N).

        Raises
        ------
        NotConvergedError
            where no equilibrium is found: the wire locks, or the wall gives way
        """
        wall, before = self.threaded.wall, np.inf
        for _ in range(PASSES):
            push, along = wall.pressed(self.state.x)
            dead = -friction * push[:, None] * along
            dead[-1] -= resistance * along[-1]
            self._load(dead)
            force = float(self.state.reactions[0][0, 2])
            if abs(force - before) <= SETTLED * max(abs(force), resistance):
                self.threaded.checked(self.state)
                return force
            before = force
        message = f"friction {friction:g} does not settle in {PASSES} passes: the wire locks in the tube"
        raise NotConvergedError(message, self.state.x)

    def _load(self, dead: Array, cuts: int = CUTS) -> None:
        """Let the wire come to rest under other dead forces; their change is cut where need be."""
        before = self.acting.dead.copy()
        self.acting.dead[:] = dead
        state = solve(self.structure, 0.0, start=self.state, max_iterations=PUSH_ITERATIONS)
        if state.converged:
            self.state = state
            return
        self.acting.dead[:] = before
        if cuts == 0:
            raise NotConvergedError(f"the pushed wire finds no rest: {state.reason}", state.x)
        self._load(0.5 * (before + dead), cuts - 1)
        self._load(dead, cuts - 1)

    def release(self) -> None:
        """Back to rest without friction and load."""
        self.state = self.rest
        self.acting.dead[:] = 0.0


@dataclass(frozen=True)
class Advance:
    """Drag and gain of `Track` alone, N and -, and the test in words."""

    drag: float
    gain: float
    definition: str


def advance(profile: Profile, *, friction: float | None = None, bore: float = BORE) -> Advance:
    """Drag and gain of `trackability` alone, in the standard bend; arguments and errors as there."""
    friction = profile.friction if friction is None else friction
    check_range(friction, name="friction", low=0.0)
    _check_length(profile, STRAIGHT_IN + RADIUS * ANGLE + BEYOND)
    route = Route((Piece(STRAIGHT_IN), bend(RADIUS, ANGLE), Piece(BEYOND)))
    end = STRAIGHT_IN + RADIUS * ANGLE + BEYOND
    wire = Pushed(Threaded.along(profile, route, bore, end, load=RESISTANCE))
    drag = wire.push(friction, 0.0)
    gain = (wire.push(friction, RESISTANCE) - drag) / RESISTANCE
    return Advance(drag, gain, _definition(RADIUS, ANGLE, STRAIGHT_IN, BEYOND, friction, RESISTANCE, bore))


def trackability(
    profile: Profile,
    *,
    radius: float = RADIUS,
    angle: float = ANGLE,
    straight_in: float = STRAIGHT_IN,
    beyond: float = BEYOND,
    friction: float | None = None,
    resistance: float = RESISTANCE,
    bore: float = BORE,
    frictions: Sequence[float] = FRICTIONS,
    scales: Sequence[float] = SCALES,
    ways: Sequence[float] = WAYS,
) -> Track:
    """Force that pushes a wire on along a bend: with and without resistance at its tip.

    Parameters
    ----------
    profile : Profile
        the wire, straight when free; both bending rigidities are their mean
    radius, angle : float
        of the bend's axis, m, rad
    straight_in, beyond : float
        straight tube before the bend, and of the wire's tip past it, m
    friction : float, optional
        Coulomb coefficient of the wire in the tube; default: the profile's
    resistance : float
        force on the tip, against the way, N
    bore : float
        inner diameter of the tube, m
    frictions, scales, ways : sequences of float
        where the push is drawn: coefficients; factors of EI and GJ of the whole wire; tip past the bend, m

    Raises
    ------
    FieldError
        when an argument is out of range
    NotConvergedError
        when no equilibrium is found at the wire's own friction, as where it locks; elsewhere see `Track.missing`
    """
    friction = profile.friction if friction is None else friction
    _check(profile, radius, angle, straight_in, beyond, friction, resistance, frictions, scales, ways)
    route = Route((Piece(straight_in), bend(radius, angle), Piece(max(beyond, *ways))))

    def threaded(wire: Profile, way: float) -> Threaded:
        end = straight_in + radius * angle + way
        return Threaded.along(wire, route, bore, end, load=resistance)

    wire = Pushed(threaded(profile, beyond))
    drag = wire.push(friction, 0.0)
    shape, pressed = wire.state.x, wire.threaded.wall.pressed(wire.state.x)[0]
    loaded = wire.push(friction, resistance)
    wire.release()
    missing: list[str] = []

    def found(pushed: Pushed, mu: float, load: float, where: str) -> float:
        """The push; nan where there is none: the wire goes on from its rest."""
        try:
            return pushed.push(mu, load)
        except NotConvergedError as error:
            missing.append(f"{where}, {load:g} N on the tip: {error}")
            pushed.release()
            return nan

    def pair(pushed: Pushed, mu: float, where: str) -> tuple[float, float]:
        """Both pushes; the wire is left in the state without resistance, from which the next is not far."""
        free = found(pushed, mu, 0.0, where)
        kept = pushed.state, pushed.acting.dead.copy()
        loaded = found(pushed, mu, resistance, where)
        pushed.state, pushed.acting.dead[:] = kept
        return free, loaded

    over_friction = np.array([pair(wire, f, f"friction {f:g}") for f in frictions])
    scaled = [Pushed(threaded(stiffened(profile, c), beyond), wire.rest) for c in scales]
    over_stiffness = np.array([pair(w, friction, f"stiffness x {c:g}") for w, c in zip(scaled, scales, strict=True)])
    over_way = np.array(
        [found(Pushed(threaded(profile, way)), friction, 0.0, f"tip {mm(way)} past the bend") for way in ways]
    )
    return Track(
        drag=drag,
        gain=(loaded - drag) / resistance,
        frictions=np.array(frictions, dtype=float),
        over_friction=over_friction,
        scales=np.array(scales, dtype=float),
        over_stiffness=over_stiffness,
        ways=np.array(ways, dtype=float),
        over_way=over_way,
        resistance=resistance,
        friction=friction,
        radius=radius,
        angle=angle,
        bore=bore,
        missing=tuple(missing),
        rope=float(np.exp(friction * angle)),
        shape=shape,
        pressed=pressed,
        definition=_definition(radius, angle, straight_in, beyond, friction, resistance, bore),
    )


def stiffened(profile: Profile, scale: float) -> Profile:
    """The profile with EI and GJ times `scale` all along; EA, GA, mass, diameter and surface unchanged."""
    check_positive(scale, name="scale")
    return replace(profile, EI1=scale * profile.EI1, EI2=scale * profile.EI2, GJ=scale * profile.GJ)


def _check(
    profile: Profile, radius: float, angle: float, straight_in: float, beyond: float, friction: float,
    resistance: float, frictions: Sequence[float], scales: Sequence[float], ways: Sequence[float],
) -> None:  # fmt: skip
    check_positive(radius, name="radius")
    check_range(angle, name="angle", low=0.0, high=2.0 * np.pi, above=True)
    check_positive(straight_in, name="straight_in")
    check_range(friction, name="friction", low=0.0)
    check_positive(resistance, name="resistance")
    for name, values in (("frictions", frictions), ("scales", scales), ("ways", ways)):
        if len(values) == 0:
            raise FieldError(name, list(values), "at least one number")
        for value in values:
            check_range(value, name=name, low=0.0, above=name != "frictions")
    check_positive(beyond, name="beyond")
    _check_length(profile, straight_in + radius * angle + max(beyond, *ways))


def _check_length(profile: Profile, need: float) -> None:
    longest = float(profile.distance[-1])
    if need > longest:
        raise FieldError("wire in the tube", mm(need), f"at most the wire's length ({mm(longest)})")


def _definition(
    radius: float, angle: float, straight_in: float, beyond: float, friction: float, resistance: float, bore: float
) -> str:
    path = path_words(Route((Piece(straight_in), bend(radius, angle))))
    return (
        f"wire in a tube of {bore * 1e3:.3g} mm bore along {path}, its tip {beyond * 1e3:.3g} mm past the bend; push = "
        f"force along the tube at its beginning while the wire slides forward, friction {friction:.3g} where nothing "
        f"else is said, without resistance (drag) and against {resistance * 1e3:.3g} mN on the tip; gain = what the "
        f"push grows by over the resistance (a rope: exp(friction x {degrees(angle):.3g} deg)); stiffness scaled all "
        "along the wire"
    )
