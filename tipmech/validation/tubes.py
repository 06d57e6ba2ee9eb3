"""A rod in a tube without friction: snaking under compression, helices, and the whip of a bent rod that is turned.

The tube is a smooth potential of the node positions, or holds the centre line altogether; friction has its rows in the
theme insertion.
"""

from dataclasses import dataclass, replace
from math import atan2, cos, degrees, pi, radians, sin, sqrt

import numpy as np
from scipy.optimize import bisect

from ..rod.build import Rod, Section, rod_along, straight
from ..rod.continuation import critical_point, trace
from ..rod.elastic import Array
from ..rod.loads import Force, LineLoad, Load
from ..rod.solve import Equilibrium, solve, solve_path
from ..rod.structure import Structure
from ..rod.supports import Support
from .row import Case, Row, absolute, relative, reported


@dataclass(frozen=True)
class Tube:
    """Elastic wall of a straight tube about the z axis, as the energy of nodes.

    radius : m, at which a node touches; stiffness : N/m of each node, shape (N + 1,)
    """

    radius: float
    stiffness: Array

    def __call__(self, x: Array) -> tuple[float, Array, Array]:
        """Energy, gradient (N + 1, 3), Hessian blocks (N + 1, 3, 3)."""
        off = np.hypot(x[:, 0], x[:, 1])
        deep = np.maximum(off - self.radius, 0.0)
        out = np.divide(x[:, :2], off[:, None], out=np.zeros((len(x), 2)), where=off[:, None] > 0.0)
        push = self.stiffness * deep
        grad, hess = np.zeros((len(x), 3)), np.zeros((len(x), 3, 3))
        grad[:, :2] = push[:, None] * out
        along = out[:, :, None] * out[:, None, :]
        around = np.divide(push, off, out=np.zeros(len(x)), where=off > 0.0)[:, None, None] * (np.eye(2) - along)
        hess[:, :2, :2] = np.where(deep > 0.0, self.stiffness, 0.0)[:, None, None] * along + around
        return float(0.5 * np.sum(self.stiffness * deep**2)), grad, hess


# ---- snaking ----------------------------------------------------------------------------------------------------

SNAKE_BEND, SNAKE_WEIGHT, SNAKE_RADIUS = 5e-8, 0.01, 5e-4  # N m2, N/m, m
SNAKE_LENGTHS = {20: 1, 50: 2, 100: 5}  # mm -> number of half-waves
SNAKE_INDENT = 1e-4  # indentation of the wall under the weight, over the radius
SNAKE_STIFF = 1e3  # N, EA and GA: a strain of 2e-6
SNAKE_SECTION = Section(SNAKE_BEND, SNAKE_BEND, SNAKE_BEND, SNAKE_STIFF, SNAKE_STIFF, SNAKE_STIFF)


def _heavy(rod: Rod) -> Structure:
    """A straight rod on the floor of a level tube under its weight, its ends pinned there; 1 N of push at factor 1."""
    rod = replace(rod, points=rod.points + np.array([0.0, -SNAKE_RADIUS * (1.0 + SNAKE_INDENT), 0.0]))
    wall = Tube(SNAKE_RADIUS, SNAKE_WEIGHT / (SNAKE_RADIUS * SNAKE_INDENT) * rod.tributary)
    ends = [Support(0, "xyz", "3"), Support(-1, "xy", "")]
    loads: list[Load] = [LineLoad((0.0, -SNAKE_WEIGHT, 0.0), constant=True), Force(-1, (0.0, 0.0, -1.0))]
    return Structure(rod, ends, loads=loads, potential=wall)


def snaking() -> list[Row]:
    """Heavy rod on the floor of a level tube, its ends pinned there: compression at which it leaves the floor line."""
    found = []
    for length, waves in SNAKE_LENGTHS.items():
        n, long = 40 * waves, 1e-3 * length
        s = _heavy(straight(long, n, SNAKE_SECTION))
        exact = SNAKE_BEND * (waves * pi / long) ** 2 + SNAKE_WEIGHT / SNAKE_RADIUS * (long / (waves * pi)) ** 2
        point = critical_point(s, 1.2 * exact, step=0.02 * exact)
        load = float("nan") if point is None else point.factor
        source = "Dawson & Paslay 1984; finite length: min over n of EI (n pi/L)2 + (w/r) (L/(n pi))2, derived"
        quantity = f"compression at which a heavy rod of {length} mm snakes in a level tube, N"
        found.append(relative(f"snake-{length}", quantity, load, exact, 2e-3, source))
        if length == 100:
            count = int(np.sum(np.diff(np.sign(point.mode[s.model.at_node[1:-1]])) != 0)) + 1 if point else 0
            found.append(absolute("snake-waves", "half-waves of the 100 mm rod", count, waves, 0.0, source))
    return found


ONSET_LENGTH, ONSET_NODES = 0.2, 24  # m; elements per half-wave of the snaking
ONSET_BENT = 1e-3  # stress-free snake of the rod over the tube's radius, to leave the floor line
ONSET_STEP = 0.02  # of the snaking compression
ONSET_TURNED = 1.5 * pi  # rad round the tube's axis: beyond any snake, which turns back at its top


def helical_onset() -> list[Row]:
    """Compression at which a snaking rod, pushed on, jumps to a helix. Published factors disagree: reported only."""
    unit = sqrt(SNAKE_BEND * SNAKE_WEIGHT / SNAKE_RADIUS)
    wave = pi * (SNAKE_BEND * SNAKE_RADIUS / SNAKE_WEIGHT) ** 0.25
    rod = straight(ONSET_LENGTH, round(ONSET_NODES * ONSET_LENGTH / wave), SNAKE_SECTION)
    bent = ONSET_BENT * SNAKE_RADIUS * (pi / wave) ** 2 * np.sin(pi * np.arange(rod.elements + 1) / ONSET_NODES + 0.3)
    natural = rod.natural.copy()
    natural[..., 1] = bent[:, None]
    s = _heavy(replace(rod, natural=natural))
    state, factor = None, 1.0
    while True:
        state = solve(s, 2.0 * factor * unit, start=state)
        turned = np.ptp(np.unwrap(np.arctan2(state.x[:, 0], -state.x[:, 1])))
        if not state.converged or turned > ONSET_TURNED:
            break
        factor += ONSET_STEP
    load = 2.0 * factor if state.converged else float("nan")
    quantity = f"compression over sqrt(EI w/r) at which a snake of {ONSET_LENGTH * 1e3:.0f} mm jumps to a helix"
    source = "reported only: 2 sqrt(2) of Chen, Lin & Cheatham 1990 stands against 3.66 of Wu & Juvkam-Wold 1993"
    return [reported("helical-onset", quantity, load, 2.0 * sqrt(2.0), source)]


# ---- helices ----------------------------------------------------------------------------------------------------

HELIX_STIFF = 1e6  # EA, GA over EI/r2
HELIX_INDENT = 1e-3  # indentation of the wall under the helix, over its radius
HELIX_AROUND = (0.98, 1.02)  # of the force, between which the end torque changes its sign


def _helix_end(rod_points: Array, force: float, wall: Tube) -> tuple[float, float]:
    """Torque about the tube's axis at the end and wall pressure in the middle of a rod held as a helix."""
    stiff = HELIX_STIFF
    wound = rod_along(rod_points, Section(1.0, 1.0, 1.0, stiff, stiff, stiff))
    rod = replace(wound, natural=np.zeros_like(wound.natural))  # straight and untwisted when free
    load = Force(-1, (0.0, 0.0, -force))
    s = Structure(rod, [Support(0, "xyz", "12"), Support(-1, "xy", "123")], loads=[load], potential=wall)
    state = solve(s, 1.0)
    if not state.converged or state.count != 0:
        return float("nan"), float("nan")
    forces, moments = state.reactions
    torque = moments[-1, 2] + state.x[-1, 0] * forces[-1, 1] - state.x[-1, 1] * forces[-1, 0]
    m = rod.elements // 2
    deep = float(np.hypot(state.x[m, 0], state.x[m, 1])) - wall.radius
    return torque, float(wall.stiffness[m] * deep / rod.tributary[m])


def _wound(elements: int, slope: float, turns: float) -> tuple[float, float]:
    """Compression and wall pressure at which a helix of radius and EI 1, r/pitch = slope, needs no end torque."""
    angle = atan2(2.0 * pi * slope, 1.0)
    s = np.linspace(0.0, 2.0 * pi * turns / sin(angle), elements + 1)
    points = np.column_stack([np.cos(sin(angle) * s), np.sin(sin(angle) * s), cos(angle) * s])
    share = np.full(elements + 1, s[1])
    share[[0, -1]] *= 0.5
    wall = Tube(1.0 - HELIX_INDENT, sin(angle) ** 4 / HELIX_INDENT * share)
    low, high = (part * 2.0 * sin(angle) ** 2 * cos(angle) for part in HELIX_AROUND)
    (t0, p0), (t1, p1) = (_helix_end(points, force, wall) for force in (low, high))
    part = t0 / (t0 - t1)
    return low + part * (high - low), p0 + part * (p1 - p0)


def helices() -> list[Row]:
    """Weightless rod wound along a tube's wall: the compression that holds it there, and what the wall bears."""
    steep, flat = 0.05, 0.002  # r/pitch
    angle = atan2(2.0 * pi * steep, 1.0)
    force, pressure = _wound(240, steep, 3.0)
    source = "Lubinski, Althouse & Logan 1962; Cheatham & Patillo 1984; finite angle: 2 EI sin2(a) cos(a)/r2, derived"
    name = f"helix of r/pitch = {steep}"
    found = [
        relative("helix-force", f"F r2/EI, {name}", force, 2.0 * sin(angle) ** 2 * cos(angle), 2e-3, source),
        relative("helix-wall", f"wall force per length r3/EI, {name}", pressure, sin(angle) ** 4, 4e-3,
                 "EI sin4(a)/r3, derived; r F2/(4 EI) for a small angle (Mitchell 1988, from memory)"),
    ]  # fmt: skip
    force, _ = _wound(160, flat, 2.0)
    quantity = f"F pitch2/EI, helix of r/pitch = {flat}"
    text = "Lubinski, Althouse & Logan 1962: 8 pi2, from memory"
    found.append(relative("helix-small", quantity, force / flat**2, 8.0 * pi**2, 3e-3, text))
    return found


# ---- whip -------------------------------------------------------------------------------------------------------

WHIP_ELEMENTS, WHIP_STIFF = 80, 1e6  # EA, GA over EI/L2: the tangents keep to the tube as shear is stiff
# lambda L -> base angle, deg -> tip angle, deg: pendulum, elliptic functions
WHIP_LAG = {1.2: {90: 54.46638151467732, 150: 114.89669614763785}, 2.0: {90: 25.757717564959556, 150: 50.8695084712994}}
# lambda L -> base angle at which the tip snaps, tip angle before and after, deg
WHIP_SNAP = {2.0: (197.78561425228978, 116.7210085805619, 301.61178284025965),
             3.0: (258.8719594575663, 74.70777841901793, 349.18310074354525)}  # fmt: skip

WHIP_LENGTH = {0.0: pi / 2.0, 2.0: 0.653271187094403}  # straight feed l0/L -> critical lambda L


def _whip(lam: float, feed: float = 0.0, opposed: bool = False) -> Structure:
    """A bent rod in a tube of length and curvature 1 behind a straight feed, all nodes on its centre line.

    The rod's natural curvature is lam^2 (EI = GJ = 1), in the tube's plane to its side or, `opposed`, to the other. Its
    base is turned by the load factor, rad; tangents are held at both ends, the tip is free of torque.
    """
    n = WHIP_ELEMENTS
    arc = np.linspace(0.0, 1.0, n + 1)
    points = np.column_stack([1.0 - np.cos(arc), 0.0 * arc, np.sin(arc)])
    if feed > 0.0:
        before = np.linspace(-feed, 0.0, round(n * feed) + 1)[:-1]
        points = np.concatenate([np.column_stack([0.0 * before, 0.0 * before, before]), points])
    stiff = WHIP_STIFF
    rod = rod_along(points, Section(1.0, 1.0, 1.0, stiff, stiff, stiff), directors=(0.0, 1.0, 0.0))
    bent = (-1.0 if opposed else 1.0) * lam**2 * rod.natural[-1, 0]  # all along, in the feed too
    rod = replace(rod, natural=np.broadcast_to(bent, rod.natural.shape).copy())
    held = [Support(i, "xyz", "") for i in range(1, rod.elements)]
    return Structure(rod, [Support(0, turn=(0.0, 0.0, 1.0)), *held, Support(-1, "xyz", "12")])


def _tip(state: Equilibrium) -> float:
    """Turn of the rod's tip about its tangent from the stress-free state, deg; up to 360."""
    return degrees(float(np.linalg.norm(state.pose.psi[-1])))


def whip_lag() -> list[Row]:
    """Base turned slowly: the tip of a bent rod in a bent tube lags behind."""
    source = "pendulum equation GJ theta'' = EI k k0 sin(theta), elliptic functions; cf. Dupont et al. 2010"
    found = []
    for lam, table in WHIP_LAG.items():
        s = _whip(lam)
        path = solve_path(s, [radians(a) for a in range(10, 151, 10)])
        for base, exact in table.items():
            tip = _tip(path[base // 10 - 1])
            quantity = f"tip angle, deg, lambda L = {lam:g}, base turned by {base} deg"
            found.append(absolute(f"whip-{lam:g}-{base}", quantity, tip, exact, 0.01, source))
    return found


def whip_snap() -> list[Row]:
    """The base angle at which the lag has its limit, and where the tip is before and after its jump."""
    source = "pendulum equation GJ theta'' = EI k k0 sin(theta), elliptic functions; cf. Dupont et al. 2010"
    found = []
    for lam, exact in WHIP_SNAP.items():
        path = trace(_whip(lam), step=0.1, until=6.0, stop_at=1)
        seen = (float("nan"),) * 3
        if path.specials and path.specials[0].kind == "limit":
            limit = path.specials[0]
            after = solve(limit.state.structure, limit.factor + 1e-6, start=limit.state)
            seen = (degrees(limit.factor), _tip(limit.state), _tip(after) if after.converged else float("nan"))
        parts = (("base", "base angle of the snap"), ("before", "tip angle before it"), ("after", "tip angle after it"))
        for (key, what), value, angle in zip(parts, seen, exact, strict=True):
            quantity = f"{what}, deg, lambda L = {lam:g}"
            found.append(absolute(f"whip-{lam:g}-snap-{key}", quantity, value, angle, 0.02, source))
    return found


def whip_length() -> list[Row]:
    """Shortest tube in which the rod can whip: with the bend opposed to the tube's, the count leaves 0."""
    found = []
    source = "pendulum equation: lambda l0 tan(lambda L) = 1, lambda L = pi/2 without feed; cf. Dupont et al. 2010"
    for feed, exact in WHIP_LENGTH.items():

        def excess(lam: float, feed: float = feed) -> float:
            return solve(_whip(lam, feed, opposed=True), 0.0).count - 0.5

        critical = float(bisect(excess, 0.95 * exact, 1.05 * exact, xtol=1e-5))
        quantity = f"critical lambda L of the whip, straight feed {feed:g} L"
        found.append(relative(f"whip-length-{feed:g}", quantity, critical, exact, 1e-3, source))
    return found


CASES: tuple[Case, ...] = (snaking, helical_onset, helices, whip_lag, whip_snap, whip_length)
