"""Torque response: a wire lies in a tortuous tube, its proximal end is turned, its tip follows late and by jumps.

In two steps. The rod lies in the tube without friction and tells what the wall presses with and, for a shaped tip, the
energy of every roll of the shape. With these the twist along the wire is found under Coulomb friction. The path is our
own, as is the bore: no standard fixes them. theory, section "Torque and track in a tube".
"""

from dataclasses import dataclass, replace
from math import degrees, inf, nan, pi, radians

import numpy as np
from scipy.optimize import minimize_scalar

from ..checks import FieldError, check_positive, check_range, mm
from ..profile import Profile
from ..rod.elastic import Array
from ..rod.solve import Equilibrium
from .threaded import Threaded, sideless
from .tip_shape import STRAIGHT, Shape
from .tube import Piece, Route, bend
from .twist import Turned, Twist

BORE = 0.5e-3  # m, inner diameter of the tube: that of a small catheter; assumed
STRAIGHT_IN = 20e-3  # m, before the first bend; assumed, as the rest of the path
WIDE_RADIUS, WIDE_ANGLE = 60e-3, radians(60.0)  # m, rad
BETWEEN = 10e-3  # m, straight between the first bend and the S
TIGHT_RADIUS, TIGHT_ANGLE = 15e-3, radians(90.0)  # m, rad, two of them, the second in another plane
PLANE = radians(90.0)  # between the planes of the two
STRAIGHT_OUT = 0.0  # m: the tip lies at the end of the last bend, where a shaped one is steered
TURNS = 1.5

STEP = radians(1.0)  # of the base
FOLLOWED = radians(5.0)  # the tip turns by more in one step: the step is halved
SMALLEST_STEP = radians(1.0) / 64.0  # of the base, within which a jump is located
JUMP = radians(1.0)  # of the tip within the smallest step: faster than 64 to 1 counts as a jump
ROLLS = 16  # of a shape, at which the rod gives its energy
SAMPLES = 32  # of a section's roll, at which its law gives the energy of a ribbon
ANGLES = 720  # of a rotation, at which the energy is looked up: half a degree
WAVES = 6  # harmonics kept of that energy over the roll
UNTWISTED = 1e3  # times GJ: the rod that tells the energy of a roll does not twist out of it


@dataclass(frozen=True)
class Torque:
    """Result of a torque test, n angles of the base, N + 1 nodes.

    base, tip : ndarray, shape (n,), rotation of the proximal end and of the tip, rad, both 0 at the start
    torque : ndarray, shape (n,), torque at the proximal end, N m
    ratio : mean of d tip/d base: rotation of the tip over that of the base at the end, -
    first_turn : rotation of the tip after one turn of the base, over a turn, - (nan with less than a turn)
    lag : largest base - tip, rad
    steepest : largest d tip/d base (inf where the tip jumps), -
    whip : largest jump of the tip, rad (0: it never jumps)
    jumps : base angle, tip angle before and after each jump, rad
    distance : ndarray, shape (N + 1,), of the nodes from the tip, m
    pressed : ndarray, shape (N + 1,), force of the wall on each node, N, mean over the rolls of a shape
    rotation : ndarray, shape (n, N + 1), rotation along the wire at each angle of the base, rad, that of the tip 0 at
        the start
    shape_energy : half the difference of bending energy between the worst and the best roll of the shape, J
    whip_number : steepest torque per roll of the shape over the torque per turn of the wire in the tube: a shape in one
        point at the end of a wire without friction jumps beyond 1, one of some length a little later; nan: straight
    friction, shape, bore : as given, -, Shape, m
    route : the tube's axis
    definition : the test in words
    """

    base: Array
    tip: Array
    torque: Array
    ratio: float
    first_turn: float
    lag: float
    steepest: float
    whip: float
    jumps: tuple[tuple[float, float, float], ...]
    distance: Array
    pressed: Array
    rotation: Array
    shape_energy: float
    whip_number: float
    friction: float
    shape: Shape
    bore: float
    route: Route
    definition: str

    @property
    def twist(self) -> Array:
        """Rotation along the wire at the end, shape (N + 1,), rad."""
        return np.asarray(self.rotation[-1])


def tortuous_path(
    *,
    straight_in: float = STRAIGHT_IN,
    wide_radius: float = WIDE_RADIUS,
    wide_angle: float = WIDE_ANGLE,
    between: float = BETWEEN,
    tight_radius: float = TIGHT_RADIUS,
    tight_angle: float = TIGHT_ANGLE,
    plane: float = PLANE,
    straight_out: float = STRAIGHT_OUT,
) -> Route:
    """The standard path: straight, wide bend, straight, two tight bends in different planes, straight. m, rad.

    Invented for this tool; straights of length 0 are left out. Raises FieldError for what is no length or angle.
    """
    for name, value in (("straight_in", straight_in), ("between", between), ("straight_out", straight_out)):
        check_range(value, name=name, low=0.0)
    pieces = [bend(wide_radius, wide_angle), bend(tight_radius, tight_angle), bend(tight_radius, tight_angle, plane)]
    straights = [[Piece(length)] if length > 0.0 else [] for length in (straight_in, between, straight_out)]
    return Route((*straights[0], pieces[0], *straights[1], *pieces[1:], *straights[2]))


def torque_response(
    profile: Profile,
    route: Route | None = None,
    *,
    shape: Shape = STRAIGHT,
    friction: float | None = None,
    bore: float = BORE,
    turns: float = TURNS,
) -> Torque:
    """Rotation of a wire's tip against that of its proximal end in a tortuous tube.

    The wire lies in the tube with its tip at the tube's end; its base, at the tube's other end, is turned slowly
    about the axis and does not move along it.

    Parameters
    ----------
    profile : Profile
        the wire, with its moment laws; of two bending rigidities the rod in the tube has the mean, in the bends of a
        shaped tip the lower one, about whose axis it is bent; the twisted wire has both
    route : Route, optional
        axis of the tube; default: `tortuous_path()`
    shape : Shape
        bends of the tip; default: straight
    friction : float, optional
        Coulomb coefficient of the wire in the tube; default: the profile's
    bore : float
        inner diameter of the tube, m
    turns : float
        of the base

    Raises
    ------
    FieldError
        when an argument is out of range
    NotConvergedError
        when no equilibrium is found
    """
    route = tortuous_path() if route is None else route
    friction = profile.friction if friction is None else friction
    _check(profile, route, shape, friction, turns)
    threaded = Threaded.along(profile, route, bore, route.total, shape=shape)
    wire, pressed, energy = in_tube(threaded, profile, friction, shape)
    base, states, jumps = turned(wire, 2.0 * pi * turns)
    tip = np.array([s.tip for s in states]) - states[0].tip
    full = np.interp(2.0 * pi, base, tip, right=np.nan) / (2.0 * pi)
    return Torque(
        base=base,
        tip=tip,
        torque=np.array([wire.torque(s) for s in states]),
        ratio=float(tip[-1] / base[-1]),
        first_turn=float(full),
        lag=float(np.max(base - tip)),
        steepest=inf if jumps else float(np.max(np.diff(tip) / np.diff(base))),
        whip=max((after - before for _, before, after in jumps), default=0.0),
        jumps=tuple(jumps),
        distance=threaded.distance,
        pressed=pressed,
        rotation=np.array([s.rotation for s in states]) - states[0].tip,
        shape_energy=energy,
        whip_number=_whip_number(wire) if shape.arcs else nan,
        friction=friction,
        shape=shape,
        bore=bore,
        route=route,
        definition=_definition(route, friction, shape, bore, turns),
    )


def in_tube(
    threaded: Threaded, profile: Profile, friction: float, shape: Shape = STRAIGHT
) -> tuple[Twist, Array, float]:
    """The wire that may turn, the wall's force on each node (N + 1,), N, and the amplitude of the shape's energy, J.

    The energy of a shape's roll belongs to the whole shape; each node has its share by natural curvature and length.
    """
    s = threaded.distance
    share = threaded.rod.tributary
    straight = _untwisted(threaded).lay(np.zeros((len(s), 3)))
    pressed, energy = threaded.wall.pressed(threaded.checked(straight).x)[0], 0.0
    waves = _ribbon(profile, s, share, straight)
    if shape.arcs:
        energies, pressed = rolled(threaded, shape)
        one, two = profile.at("EI1", s[-1:]), profile.at("EI2", s[-1:])
        series = _series(energies, 0.0 if one[0] <= two[0] else 0.5 * pi)
        energy = 0.5 * float(np.ptp(energies))
        size = np.hypot(*shape.at_nodes(threaded.distance).T) * share
        waves += (size / np.sum(size))[:, None, None] * series
    spring = 1.0 / threaded.rod.half[:, :, 2].sum(axis=1)
    return Twist(spring, waves, friction * profile.at("radius", s) * pressed), pressed, energy


def rolled(threaded: Threaded, shape: Shape) -> tuple[Array, Array]:
    """Energy of a wire with a shaped tip at `ROLLS` rolls of its shape (from 0 on, (ROLLS,), J), and the mean force of
    the wall on each node (N + 1,), N.

    The wire does not twist, so that every roll is met; what the energy gains per roll is the torque the shape needs.
    """
    stiff = _untwisted(threaded)
    one, two = shape.at_nodes(threaded.distance).T
    energies, total = np.empty(ROLLS), np.zeros(len(one))
    state: Equilibrium | None = None
    before = np.zeros((len(one), 3))
    for k, roll in enumerate(2.0 * pi * np.arange(ROLLS) / ROLLS):
        c, s = np.cos(roll), np.sin(roll)
        natural = np.column_stack([c * one - s * two, s * one + c * two, np.zeros_like(one)])
        state = stiff.lay(natural) if state is None else stiff.reform(state, before, natural)
        before = natural
        stiff.checked(state)
        energies[k] = state.strain_energy + stiff.wall(state.x)[0]
        total += stiff.wall.pressed(state.x)[0]
    return energies, total / ROLLS


def turned(wire: Twist, last: float) -> tuple[Array, list[Turned], list[tuple[float, float, float]]]:
    """Base angles from 0 to `last` (rad), the states there, and the jumps: base, tip before, tip after, rad.

    At the start the wire is rolled to where the tube wants it, without friction, twisted no more than it wants.
    Angles of base and jumps count from there.
    """
    free = replace(wire, limit=np.zeros_like(wire.limit))
    first = _wanted(wire)
    rest = free.turn(free.start(first), first).rotation
    states = [Turned(rest, rest.copy())]
    base, jumps, step = [0.0], [], STEP
    while base[-1] < last - 1e-12:
        goal = min(base[-1] + step, last)
        state = wire.turn(states[-1], first + goal)
        moved = state.tip - states[-1].tip
        if abs(moved) > FOLLOWED and step > SMALLEST_STEP:
            step *= 0.5
            continue
        if step <= SMALLEST_STEP and abs(moved) > JUMP:
            jumps.append((goal, states[-1].tip - states[0].tip, state.tip - states[0].tip))
        base.append(goal)
        states.append(state)
        step = min(2.0 * step, STEP)
    return np.array(base), states, jumps


def _untwisted(threaded: Threaded) -> Threaded:
    half = threaded.rod.half.copy()
    half[:, :, 2] /= UNTWISTED
    return replace(threaded, rod=replace(threaded.rod, half=half))


def _ribbon(profile: Profile, s: Array, share: Array, straight: Equilibrium) -> Array:
    """Harmonics of the bending energy of each node's share where EI1 and EI2 differ, shape (N + 1, WAVES, 2), J.

    The section turns under the curvature that the straight wire has in the tube.
    """
    waves = np.zeros((len(s), WAVES, 2))
    one, two = profile.at("EI1", s), profile.at("EI2", s)
    flat = one != two
    if not np.any(flat):
        return waves
    s, share, one, two = s[flat], share[flat], one[flat], two[flat]
    bent = np.mean(straight.moments, axis=1)[flat, :2] / (0.5 * (one + two))[:, None]
    law, mean = profile.law_at(s), sideless(profile, s, np.zeros(len(s), bool))
    if law is None or mean is None:
        gap = 0.25 * (one - two) * share
        waves[flat, 1, 0] = gap * (bent[:, 0] ** 2 - bent[:, 1] ** 2)
        waves[flat, 1, 1] = 2.0 * gap * bent[:, 0] * bent[:, 1]
        return waves
    size = np.hypot(*bent.T)
    stretch = mean.curvature(size) / np.where(size > 0.0, size, 1.0)
    roll = 2.0 * pi * np.arange(SAMPLES) / SAMPLES
    c, z = np.cos(roll), np.sin(roll)
    k1 = stretch[:, None] * (bent[:, :1] * c + bent[:, 1:] * z)
    k2 = stretch[:, None] * (bent[:, 1:] * c - bent[:, :1] * z)
    energy = 0.5 * (one[:, None] * k1**2 + two[:, None] * k2**2)
    side = np.minimum(law.aspect, two / one / np.maximum(law.share, np.finfo(float).tiny))[:, None]
    felt = np.sqrt(k1**2 + side * k2**2)
    energy -= one[:, None] * (0.5 * felt**2 - law.energy(felt))
    waves[flat] = [_series(row, 0.0) for row in energy * share[:, None]]
    return waves


def _series(energies: Array, ahead: float) -> Array:
    """Harmonics 1 to WAVES of the energy of a shape over the wire's rotation, shape (WAVES, 2), J.

    ahead : angle from the section's axis 1 to the axis about which the shape is bent, rad
    """
    found = np.fft.rfft(energies)[1 : WAVES + 1] * 2.0 / len(energies)
    found = found * np.exp(1j * np.arange(1, WAVES + 1) * ahead)
    return np.column_stack([found.real, -found.imag])


def _whip_number(wire: Twist) -> float:
    """Largest negative curvature of the bending energy over the wire's rotation, times its twist per torque, -."""
    total = np.sum(wire.waves, axis=0)
    h = np.arange(1, len(total) + 1)
    turn = np.linspace(0.0, 2.0 * pi, ANGLES, endpoint=False)[:, None] * h
    curved = np.cos(turn) @ (h**2 * total[:, 0]) + np.sin(turn) @ (h**2 * total[:, 1])
    return float(np.max(curved) * np.sum(1.0 / wire.spring))


def _wanted(wire: Twist) -> float:
    """Rotation at which an untwisted wire has the least bending energy, rad: 0 where it has no such wish."""
    total = np.sum(wire.waves, axis=0)
    if not np.any(total):
        return 0.0
    h = np.arange(1, len(total) + 1)

    def energy(angle: float) -> float:
        return float(total[:, 0] @ np.cos(h * angle) + total[:, 1] @ np.sin(h * angle))

    coarse = np.linspace(0.0, 2.0 * pi, ANGLES, endpoint=False)
    best = float(coarse[int(np.argmin([energy(a) for a in coarse]))])
    step = float(coarse[1])
    found = minimize_scalar(energy, bounds=(best - step, best + step), method="bounded", options={"xatol": 1e-9})
    return float(found.x)


def _check(profile: Profile, route: Route, shape: Shape, friction: float, turns: float) -> None:
    longest = float(profile.distance[-1])
    if route.total > longest:
        raise FieldError("route", mm(route.total), f"a tube no longer than the wire ({mm(longest)})")
    if shape.reach > route.total:
        raise FieldError("shape", mm(shape.reach), f"a shaped tip no longer than the tube ({mm(route.total)})")
    check_range(friction, name="friction", low=0.0)
    check_positive(turns, name="turns")


def path_words(route: Route) -> str:
    """A path in words: its straights and bends from the proximal end."""
    words, before = [], 0.0
    for piece in route.pieces:
        if piece.curvature == 0.0:
            words.append(f"straight {piece.length * 1e3:.3g} mm")
            continue
        turn = degrees(piece.length * piece.curvature)
        plane = f" in a plane turned by {degrees(piece.plane - before):.3g} deg" if piece.plane != before else ""
        words.append(f"bend of {1e3 / piece.curvature:.3g} mm radius by {turn:.3g} deg{plane}")
        before = piece.plane
    return ", ".join(words)


def _definition(route: Route, friction: float, shape: Shape, bore: float, turns: float) -> str:
    return (
        f"wire in a tube of {bore * 1e3:.3g} mm bore along {path_words(route)}; tip at the tube's end, "
        f"{shape.words()}, at the start rolled to where the tube wants it; "
        f"friction {friction:.3g}; proximal end at the tube's beginning turned slowly by {turns:.3g} turns from an "
        "untwisted wire; ratio = rotation of the tip over that of the base at the end, lag = largest difference, "
        f"whip = largest jump of the tip within {degrees(SMALLEST_STEP):.2g} deg of the base"
    )
