"""Bench tests in a tube: torque response (lag, whip, friction) and trackability (capstan, drag of a stiff wire)."""

from dataclasses import replace
from functools import cache
from math import degrees, pi, radians, sqrt

import numpy as np
from scipy.optimize import bisect

from .. import closed_forms as cf
from ..bench.threaded import Threaded
from ..bench.tip_shape import one_bend
from ..bench.torque import STEP, in_tube, rolled, torque_response, tortuous_path, turned
from ..bench.track import Track, trackability
from ..bench.tube import Piece, Route, bend
from ..bench.twist import Turned, Twist
from ..bending import GRID, PartLaw
from ..profile import Profile, uniform
from ..rod.solve import solve_path
from ..rod.structure import Structure
from ..rod.supports import Support
from ..wire.curvature import moment_ratio, round_losses
from .row import Case, Row, absolute, relative
from .tubes import WHIP_LAG, WHIP_SNAP

NODES = 400  # of the twisted wire: an error of 1e-5 of an angle
PENDULUM = "pendulum equation GJ theta'' = EI k k0 sin(theta), elliptic functions; cf. Dupont et al. 2010"

# ---- torque -----------------------------------------------------------------------------------------------------


def _pendulum(lam: float) -> Twist:
    """A wire of length and GJ 1 with a constant natural curvature in a tube of constant curvature."""
    share = np.full(NODES + 1, 1.0 / NODES)
    share[[0, -1]] *= 0.5
    waves = np.zeros((NODES + 1, 1, 2))
    waves[:, 0, 0] = -(lam**2) * share
    return Twist(np.full(NODES, float(NODES)), waves, 0.0 * share)


def whip_lag() -> list[Row]:
    """The bench's twisted wire against the pendulum: the tip before and at its jump."""
    found = []
    for lam, table in WHIP_LAG.items():
        base, states, _ = turned(_pendulum(lam), radians(151.0))
        for angle, exact in table.items():
            tip = degrees(states[int(np.argmin(np.abs(base - radians(angle))))].tip)
            quantity = f"bench: tip angle, deg, lambda L = {lam:g}, base turned by {angle} deg"
            found.append(absolute(f"torque-lag-{lam:g}-{angle}", quantity, tip, exact, 0.02, PENDULUM))
    for lam, snap in WHIP_SNAP.items():
        _, _, jumps = turned(_pendulum(lam), radians(snap[0]) + 2.0 * STEP)
        seen = [degrees(v) for v in jumps[0]] if len(jumps) == 1 else [float("nan")] * 3
        # the jump is located within 1/64 deg of the base; before it the tip runs as the root of what is left
        for k, tolerance in ((0, 0.02), (2, 0.1)):
            quantity = f"bench: {'base angle at' if k == 0 else 'tip angle after'} the whip, deg, lambda L = {lam:g}"
            found.append(absolute(f"torque-whip-{lam:g}-{k}", quantity, seen[k], snap[k], tolerance, PENDULUM))
    return found


def whip_threshold() -> list[Row]:
    """Shortest bent wire in a bent tube whose tip jumps in one and a half turns of its base."""

    def jumps(lam: float) -> float:
        return len(turned(_pendulum(lam), 3.0 * pi)[2]) - 0.5

    exact = 0.5 * pi
    lam = float(bisect(jumps, 0.95 * exact, 1.05 * exact, xtol=1e-4))
    return [relative("torque-threshold", "bench: lambda L at which the tip begins to whip", lam, exact, 1e-2, PENDULUM)]


def friction_lag() -> list[Row]:
    """A straight wire of length and GJ 1 under a uniform friction torque 1: turned on, and back."""
    wire = replace(_pendulum(0.0), limit=np.full(NODES + 1, 1.0 / NODES) * np.array([0.5, *[1.0] * (NODES - 1), 0.5]))
    state, seen = wire.start(), {}
    for base in (0.1, 0.2, 0.3, 0.5, 1.0, 2.0, 1.9, 1.6, 1.0, 0.0):
        state = wire.turn(state, base)
        seen[base] = state
    before = wire.turn(wire.start(), 0.3)
    back = wire.turn(seen[2.0], 1.6)
    source = "derived: GJ theta'' = m over the part that turns; uniform friction torque m"
    lag = cf.friction_lag(1.0, 1.0, 1.0)
    fall = cf.friction_front(1.0, 1.0, lag) - 2.0 * sqrt(2.0 - 1.6)
    return [
        relative("torque-front", "bench: base torque over sqrt(GJ m) before the tip turns, base at 0.3",
                 wire.torque(before), cf.friction_front(1.0, 1.0, 0.3), 5e-3, source),
        relative("torque-lag", "bench: lag over m L2/GJ of a straight wire in a rough tube", 2.0 - seen[2.0].tip, lag,
                 3e-3, source),
        absolute("torque-back", "bench: base torque over m L after turning back from 2 to 1.6", wire.torque(back),
                 fall, 5e-3, source),
        relative("torque-hysteresis", "bench: lag over m L2/GJ after turning back by 2", seen[0.0].tip, lag, 3e-3,
                 source),
    ]  # fmt: skip


SHAPED = one_bend(radians(45.0), 2e-3)
LIMIT = 80.0  # 1/m, of the bilinear wire: the bend alone stays below it, the shape goes to nearly six times
ROUTE = Route((Piece(20e-3), bend(15e-3, radians(60.0))))
BORE = 0.5e-3  # m


@cache
def _wire() -> Profile:
    return uniform(5e-8, 0.3)


@cache
def _bilinear() -> Profile:
    """The same wire of a metal that keeps a tenth of its modulus beyond its limit, which the tip's shape passes."""
    moment, slope = moment_ratio(GRID, ((0.01, 0.9),), round_losses)
    moment[0], slope[0] = 1.0, 1.0
    return replace(_wire(), laws=(PartLaw(np.ones(2), np.full(2, LIMIT), moment, slope),))


def whole_rod() -> list[Row]:
    """The bench's two steps (energy of a roll, then twist) against the rod turned as a whole in the same tube."""
    found = []
    for key, word, wire in (("rod", "", _wire()), ("law", " of a bilinear metal", _bilinear())):
        threaded = Threaded.along(wire, ROUTE, BORE, ROUTE.total, shape=SHAPED)
        twist, _, _ = in_tube(threaded, wire, 0.0, SHAPED)
        base, states, _ = turned(twist, radians(120.0))
        natural = np.zeros((len(threaded.distance), 3))
        natural[:, 1] = SHAPED.at_nodes(threaded.distance)[:, 0]  # toward the bend's centre
        rod = threaded.structure(natural).rod
        start = threaded.lay(natural)
        held = Structure(rod, [Support(0, turn=(0.0, 0.0, 1.0))], potential=threaded.wall)
        path = solve_path(
            held, [radians(a) for a in range(0, 121, 10)], start=replace(start, structure=held, factor=0.0)
        )
        for turn in (60, 120):
            state = path[turn // 10] if len(path) > turn // 10 else path[-1]
            torque = float(state.reactions[1][0, 2]) if state.converged else float("nan")
            mine = twist.torque(states[int(np.argmin(np.abs(base - radians(turn))))])
            quantity = (
                f"torque bench in two steps: base torque, N m, 45 deg tip{word} in a bend, base turned by {turn} deg"
            )
            source = "the rod turned in the tube as a whole"
            found.append(relative(f"torque-{key}-{turn}", quantity, mine, torque, 1e-2, source))
    return found


def ribbon() -> list[Row]:
    """The same for a straight wire with two bending rigidities: past its jump it stands against the tube's wish."""
    flat = replace(_wire(), EI2=1.5 * _wire().EI2)
    threaded = Threaded.along(flat, ROUTE, BORE, ROUTE.total)
    twist, _, _ = in_tube(threaded, flat, 0.0)
    base, states, _ = turned(twist, radians(90.0))
    half = threaded.rod.half.copy()  # the rod in the tube has the mean of both
    half[:, :, 0] *= 1.25
    half[:, :, 1] *= 1.25 / 1.5
    whole = replace(threaded, rod=replace(threaded.rod, half=half))
    straight = np.zeros((len(threaded.distance), 3))
    start = whole.lay(straight)
    held = Structure(whole.structure(straight).rod, [Support(0, turn=(0.0, 0.0, 1.0))], potential=whole.wall)
    # the bend is about the carried axis 2, at first the wire's stiff one: what the tube wants is a quarter turn on
    path = solve_path(
        held, [radians(a) for a in (5, 30, 60, 90, 120, 150)], start=replace(start, structure=held, factor=0.0)
    )
    found = []
    for k, turn in ((4, 30), (5, 60)):
        torque = float(path[k].reactions[1][0, 2]) if len(path) > k and path[k].converged else float("nan")
        mine = twist.torque(states[int(np.argmin(np.abs(base - radians(turn))))])
        quantity = f"torque bench in two steps: base torque, N m, wire with EI2 = 1.5 EI1, base turned by {turn} deg"
        found.append(
            relative(f"torque-ribbon-{turn}", quantity, mine, torque, 2e-2, "the rod turned in the tube as a whole")
        )
    return found


def tight_tube() -> list[Row]:
    """Energy of a shaped tip's roll as the clearance goes to 0: that of a wire held on the tube's axis."""
    angle, length = SHAPED.arcs[0].angle, SHAPED.arcs[0].length
    bent, natural = 1.0 / 15e-3, angle / length
    between = np.linspace(natural - bent, natural + bent, 2001)  # from the best roll of the shape to the worst
    strain = between / LIMIT
    lost = round_losses(1.0 / np.maximum(strain, 1.0))[0]
    yielded = 5e-8 * LIMIT * (strain - np.where(strain > 1.0, 0.9 * strain * lost, 0.0))
    found = []
    for key, word, wire, exact in (
        ("tight", "EI k times the tip's angle: a wire held on the axis", _wire(), 5e-8 * angle * bent),
        ("law-tight", "half the integral of the moment from one roll's curvature to the other's; bilinear metal",
         _bilinear(), 0.5 * length * float(np.trapezoid(yielded, between))),
    ):  # fmt: skip
        sizes = []
        for clearance in TIGHT:
            bore = 2.0 * (float(wire.radius[0]) + clearance)
            energies, _ = rolled(Threaded.along(wire, ROUTE, bore, ROUTE.total, shape=SHAPED), SHAPED)
            sizes.append(0.5 * float(np.ptp(energies)))
        (a, b), (p, q) = sizes, (sqrt(c) for c in TIGHT)
        limit = a + (a - b) * p / (q - p)
        quantity = (
            "shaped tip in a bend, half the energy of a roll, J, clearance extrapolated to 0 (linear in its root)"
        )
        found.append(relative(f"torque-{key}", quantity, limit, exact, 2e-2, word))
    return found


TIGHT = (5e-6, 20e-6)  # m, radial clearances


def balance() -> list[Row]:
    """Torque at the base against what friction and the bent tube take, in the standard test with a shaped tip."""
    route = tortuous_path()
    threaded = Threaded.along(_wire(), route, BORE, route.total, shape=SHAPED)
    wire, pressed, _ = in_tube(threaded, _wire(), 0.12, SHAPED)
    state: Turned = turned(wire, 1.5 * pi)[1][-1]
    taken = -float(np.sum((wire.friction(state) + wire.bending(state))[1:]))
    most = 0.12 * float(_wire().radius[0]) * pressed[1:]
    slipping = float(np.sum(np.abs(np.abs(wire.friction(state)[1:]) - most) < 1e-9 * np.max(most)) / len(most))
    source = "equilibrium; Coulomb's law"
    return [
        relative("torque-balance", "base torque, N m, after 270 deg", wire.torque(state), taken, 1e-6, source),
        absolute("torque-slip", "share of nodes at the limit of friction then", slipping, 1.0, 0.0, source),
        relative("torque-reported", "base torque, N m, after 270 deg, as the bench reports it",
                 float(torque_response(_wire(), shape=SHAPED, friction=0.12, turns=0.75).torque[-1]), taken,
                 1e-6, "the same wire step by step"),
    ]  # fmt: skip


# ---- track ------------------------------------------------------------------------------------------------------

ROPE = (0.1, 0.3)  # friction
SLENDER = 1e-9  # N m2: F R2/EI = 1100
STIFF = 1e-6  # N m2
SMALL = 0.01  # friction whose own share of the wall's force is below 1 %
# c/R, angle of the bend in rad, straights beside it over R -> wall forces over EI/(R sqrt(c R)): beam between walls,
# experiments/references/tube.py
WALL = {(0.02 / 15.0, 0.5 * pi, 2.0, 40.0 / 15.0): 0.5545028357}


def rope() -> list[Row]:
    """Slender wire pushed along a bend against a resistance: Euler-Eytelwein."""
    short = 2e-3  # m: longer straights would add what a buckled wire rubs there
    wire = uniform(SLENDER, 0.3)
    test = trackability(
        wire, straight_in=short, beyond=short, bore=0.366e-3, frictions=ROPE, scales=(1.0,), ways=(short,)
    )
    gains = (test.over_friction[:, 1] - test.over_friction[:, 0]) / test.resistance
    return [
        relative(f"track-rope-{f:g}", f"gain of the push along a bend of 90 deg, slender wire, friction {f:g}", gain,
                 cf.capstan_ratio(f, 0.5 * pi), 1e-2, "Euler-Eytelwein; standard")
        for f, gain in zip(ROPE, gains, strict=True)
    ]  # fmt: skip


def _stiff(radius: float, clearance: float, angle: float, before: float, behind: float) -> Track:
    wire = uniform(STIFF, 0.4)
    return trackability(
        wire, radius=radius, angle=angle, bore=2.0 * (float(wire.radius[0]) + clearance), straight_in=before,
        beyond=behind, friction=SMALL, frictions=(0.0, SMALL), scales=(1.0,), ways=(behind,),
    )  # fmt: skip


def _per_friction(test: Track) -> float:
    return float(np.diff(test.over_friction[:, 0])[0] / SMALL)


def stiff_drag() -> list[Row]:
    """Push without resistance over friction: the wall's forces on a stiff wire in a bend."""
    found = []
    for (slim, angle, before, behind), exact in WALL.items():
        radius, c = 15e-3, slim * 15e-3
        test = _stiff(radius, c, angle, before * radius, behind * radius)
        unit = STIFF / (radius * sqrt(c * radius))
        quantity = f"drag over friction of a stiff wire in a bend of 90 deg, over EI/(R sqrt(c R)), c/R = {slim:.4f}"
        source = "beam of small slope between two walls: experiments/references/tube.py"
        found.append(relative("track-stiff", quantity, _per_friction(test) / unit, exact, 1.5e-2, source))
    radius, c = 60e-3, 20e-6
    test = _stiff(radius, c, radians(30.0), 60e-3, 60e-3)
    exact = cf.bend_wall_force(STIFF, radius, c)
    quantity = "drag over friction of a stiff wire in a long bend of 30 deg, c/R = 0.0003, N"
    source = "EI/(sqrt(3) R sqrt(c R)): derived, small slope, c << R"
    found.append(relative("track-stiff-long", quantity, _per_friction(test), exact, 2e-2, source))
    return found


CASES: tuple[Case, ...] = (
    whip_lag,
    whip_threshold,
    friction_lag,
    whole_rod,
    ribbon,
    tight_tube,
    balance,
    rope,
    stiff_drag,
)
