"""Bench figures of a profile, reduced to beam theory: what a search evaluates thousands of times.

Every figure has a row in `FIGURES`: its reduced function and, where there is one, the simulated test that decides.
A new bench test is one line there. Reduced figures are integrals of the compliance 1/EI (1/GJ) over the distance
from the tip, small deflections, without shear; theory, section "Design exploration". SI units.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import nan, pi, radians

import numpy as np

from ..bench.flexure import SPAN as FLEXURE_SPAN
from ..bench.flexure import flexure as flexure_test
from ..bench.lateral import FREE_LENGTH as LATERAL_LENGTH
from ..bench.lateral import lateral as lateral_test
from ..bench.tip_load import FREE_LENGTHS, tip_load
from ..bench.tip_shape import STRAIGHT, Shape, one_bend
from ..bench.torque import TIGHT_ANGLE, TIGHT_RADIUS, TURNS, torque_response, tortuous_path
from ..profile import Array, Profile
from ..rod.errors import NotConvergedError
from ..units import UNITS

CELLS = 200  # of an integral: the tip load of a uniform wire is then 5e-5 off, the other figures less
POWER_STEPS = 40  # of the inverse iteration; the second eigenvalue is 3 times the first: error below 1e-9 long before
POWER_TOLERANCE = 1e-10  # relative change of the eigenvalue at which it ends
FLEXURE_STATIONS = (20e-3, 50e-3, 100e-3, 200e-3)  # m from the tip: assumed; the distal 300 mm are usual
TORQUE_LENGTH = 100e-3  # m, distal length twisted
STANDARD_TIP = one_bend(radians(45.0), 2e-3)  # of a wire that has no shape: usual ones are bent by 30 to 60 degrees
PATH = tortuous_path().total  # m, of the standard path

Test = Callable[[Profile], float]


@dataclass(frozen=True)
class Figure:
    """One bench figure.

    Parameters
    ----------
    key : str
        its name without unit
    unit : str
        users' unit, key of `units.UNITS`
    words : str
        definition of the reduced figure
    reach : float
        shortest wire that has it, m
    reduced : callable
        profile -> value, SI, by beam theory
    simulated : callable or None
        profile -> value, SI, by the simulated bench; None: only the reduced figure exists
    fast : bool
        whether the simulated test is quick enough (0.1 s) for sensitivities, which run it some 50 times; else their
        slopes come from the reduced figure
    """

    key: str
    unit: str
    words: str
    reach: float
    reduced: Test
    simulated: Test | None = None
    fast: bool = True

    @property
    def name(self) -> str:
        """Name with its unit, as files and tables write it."""
        return f"{self.key}_{self.unit}"

    @property
    def factor(self) -> float:
        """SI value of one of its unit."""
        return UNITS[self.unit]

    def simulate(self, profile: Profile) -> float:
        """Value by simulation; nan where the bench found no equilibrium or there is no simulated test."""
        if self.simulated is None:
            return nan
        try:
            return self.simulated(profile)
        except NotConvergedError:
            return nan


def _compliance(profile: Profile, key: str, edges: Array) -> Array:
    """Integral of 1/rigidity over each cell between `edges` (m), exact for a rigidity linear between knots."""
    inside = profile.distance[(profile.distance > edges[0]) & (profile.distance < edges[-1])]
    s = np.union1d(edges, inside)
    value = profile.at(key, s)
    a, b = value[:-1], value[1:]
    ratio = b / a - 1.0
    flat = np.abs(ratio) < 1e-6  # there the logarithm cancels, and the mean is exact to 1e-13
    mean = np.where(flat, 1.0 / (1.0 + ratio / 2.0), np.log1p(ratio) / np.where(flat, 1.0, ratio)) / a
    total = np.concatenate([[0.0], np.cumsum(np.diff(s) * mean)])
    return np.asarray(np.diff(np.interp(edges, s, total)))


def _soft_key(profile: Profile, start: float, end: float) -> str:
    """Section axis of the larger bending compliance over a range: wires bend the easy way."""
    edges = np.array([start, end])
    easy, other = (float(_compliance(profile, key, edges)[0]) for key in ("EI1", "EI2"))
    return "EI1" if easy >= other else "EI2"


def column_load(profile: Profile, length: float) -> float:
    """Smallest buckling load of the distal `length` (m), clamped proximally, the tip pinned, N.

    Rotations t(x) of an inextensible column make the energy 1/2 int EI t'^2 - P/2 int t^2 stationary with t = 0 at the
    clamp and int t = 0 (the tip stays on the axis): inverse iteration, whose linear problem is two running sums.
    Timoshenko & Gere, Theory of Elastic Stability, 1961, ch. 2; from memory. Uniform: 20.19 EI/L^2.
    """
    edges = np.linspace(0.0, length, CELLS + 1)  # from the tip
    cells = _compliance(profile, _soft_key(profile, 0.0, length), edges)[::-1]  # from the clamp
    step = length / CELLS

    def answer(load: Array) -> Array:
        """Rotations at the nodes under node loads (clamp first; the clamped one counts for nothing)."""
        beyond = np.cumsum(load[::-1])[::-1]
        return np.concatenate([[0.0], np.cumsum(cells * beyond[1:])])

    weight = np.full(CELLS + 1, step)
    weight[[0, -1]] = step / 2.0
    lever = answer(weight)
    t = np.sin(4.493 * np.linspace(0.0, 1.0, CELLS + 1) / 1.3)
    value = nan
    for _ in range(POWER_STEPS):
        load = weight * t
        new = answer(load)
        new = new - lever * (weight @ new) / (weight @ lever)
        last, value = value, float((load @ new) / (weight @ new**2))
        t = new / np.max(np.abs(new))
        if abs(last - value) <= POWER_TOLERANCE * value:
            break
    return value


def lateral_stiffness(profile: Profile, length: float = LATERAL_LENGTH) -> float:
    """Side force at the tip over its deflection, clamped at `length` (m): 1/int s^2/EI ds, N/m."""
    edges = np.linspace(0.0, length, CELLS + 1)
    middle = (edges[1:] + edges[:-1]) / 2.0
    return float(1.0 / np.sum(middle**2 * _compliance(profile, _soft_key(profile, 0.0, length), edges)))


def flexure(profile: Profile, station: float, span: float = FLEXURE_SPAN) -> float:
    """Apparent bending rigidity F span^3/(48 d) of three-point bending centred at `station` (m from the tip), N m2.

    Deflection under the load by the unit-load integral d = F int m^2/EI, m = x/2 from the nearer support.
    """
    low, high = station - span / 2.0, station + span / 2.0
    edges = np.linspace(low, high, CELLS + 1)
    middle = (edges[1:] + edges[:-1]) / 2.0
    moment = np.minimum(middle - low, high - middle) / 2.0
    return float(span**3 / 48.0 / np.sum(moment**2 * _compliance(profile, _soft_key(profile, low, high), edges)))


def torsional_stiffness(profile: Profile, length: float = TORQUE_LENGTH) -> float:
    """Torque over twist of the distal `length` (m): 1/int ds/GJ, N m/rad."""
    return float(1.0 / _compliance(profile, "GJ", np.array([0.0, length]))[0])


def torque_lag(profile: Profile, shape: Shape = STANDARD_TIP) -> float:
    """Largest lag of a shaped tip in the standard tortuous path without friction, rad: an upper bound.

    A bend by an angle resists turning by at most EI angle/R in the last bend of the path, of radius R (theory, "Torque
    response"); the wire twists by that over its torsional stiffness in the path. Two bends add as vectors where both
    lie in the path's last bend, else by size.
    """
    torques = []
    for arc in shape.arcs:
        easy = float(_compliance(profile, _soft_key(profile, arc.start, arc.end), np.array([arc.start, arc.end]))[0])
        torques.append(arc.length / easy * arc.angle / TIGHT_RADIUS * np.exp(1j * arc.roll))
    together = shape.reach <= TIGHT_ANGLE * TIGHT_RADIUS
    torque = abs(sum(torques)) if together else sum(abs(t) for t in torques)
    return float(torque) / torsional_stiffness(profile, min(PATH, float(profile.distance[-1])))


def torque_ratio(profile: Profile, shape: Shape = STANDARD_TIP) -> float:
    """Rotation of that tip over that of the base after `bench.torque.TURNS` turns, `torque_lag` behind it, -."""
    return 1.0 - torque_lag(profile, shape) / (2.0 * pi * TURNS)


def _tip_load(length: float) -> Figure:
    """Tip load at a free length."""
    where = f"{length * 1e3:g}"
    return Figure(
        f"tip_load_{where}mm",
        "gf",
        f"buckling load at {where} mm free length, clamped, tip pinned",
        length,
        lambda p: column_load(p, length),
        lambda p: tip_load(p, length).force,
    )


def _flexure(station: float) -> Figure:
    """Apparent rigidity at a station."""
    where = f"{station * 1e3:g}"
    words = f"apparent EI of three-point bending over {FLEXURE_SPAN * 1e3:g} mm centred at {where} mm"
    reach = station + FLEXURE_SPAN / 2.0

    def tested(profile: Profile) -> float:
        """Last station of a test that goes just so far, with no station between it and the first."""
        return flexure_test(profile, distal=reach, step=station).apparent_at(station)

    return Figure(f"flexure_EI_{where}mm", "N_mm2", words, reach, lambda p: flexure(p, station), tested)


def _torque(shape: Shape) -> tuple[Figure, Figure]:
    """Lag and ratio in the standard tortuous path of a tip of this shape."""
    path = f"{shape.words()}, in the standard tortuous path"
    return (
        Figure(
            "torque_lag", "deg", f"largest lag, {path}", PATH,
            lambda p: torque_lag(p, shape), lambda p: torque_response(p, shape=shape).lag, fast=False,
        ),
        Figure(
            "torque_ratio", "percent", f"rotation of the tip over the base's, {TURNS:g} turns, {path}", PATH,
            lambda p: torque_ratio(p, shape), lambda p: torque_response(p, shape=shape).ratio, fast=False,
        ),
    )  # fmt: skip


FIGURES: dict[str, Figure] = {
    figure.key: figure
    for figure in (
        *(_tip_load(length) for length in FREE_LENGTHS),
        Figure(
            "tip_pressure_10mm",
            "kPa",
            "tip load at 10 mm over the tip's projected area",
            10e-3,
            lambda p: column_load(p, 10e-3) / (pi * p.tip_radius**2),
            lambda p: tip_load(p, 10e-3).force / (pi * p.tip_radius**2),
        ),
        Figure(
            "lateral_stiffness_10mm",
            "N_per_m",
            "side force over deflection of the tip, clamped at 10 mm",
            LATERAL_LENGTH,
            lateral_stiffness,
            lambda p: lateral_test(p).stiffness,
        ),
        *(_flexure(station) for station in FLEXURE_STATIONS),
        Figure(
            "torsional_stiffness_100mm",
            "mN_mm_per_rad",
            "torque over twist of the distal 100 mm, straight, without friction",
            TORQUE_LENGTH,
            torsional_stiffness,
        ),
        *_torque(STANDARD_TIP),
    )
}
"""Figure -> reduced function -> simulated test. To plug in a test: give `simulated` in its row."""


def figures_of(length: float, shape: Shape = STRAIGHT) -> tuple[Figure, ...]:
    """Figures that a wire of `length` (m) has; those of torque with its own shape, STANDARD_TIP where it is straight.

    A shape that reaches beyond the tortuous path has none of torque.
    """
    own = {figure.key: figure for figure in _torque(shape)} if shape.arcs else {}
    found = (own.get(figure.key, figure) for figure in FIGURES.values())
    return tuple(f for f in found if f.reach <= length and (f.key not in own or shape.reach <= PATH))
