"""Bench figures of a profile by beam theory: what a search evaluates thousands of times.

Integrals of the compliance 1/EI (1/GJ) over the distance from the tip, small deflections, without shear; theory,
section "Design exploration". SI units.
"""

from typing import Literal

import numpy as np

from ..bench.flexure import SPAN as FLEXURE_SPAN
from ..bench.lateral import FREE_LENGTH as LATERAL_LENGTH
from ..bench.tip_shape import STANDARD_TIP, Shape
from ..bench.torque import BORE, TIGHT_ANGLE, TIGHT_RADIUS, TURNS, tortuous_path
from ..bench.track import ANGLE, BEYOND, RADIUS
from ..closed_forms import bend_wall_force
from ..profile import Array, Profile

CELLS = 200  # of an integral: the tip load of a uniform wire is then 5e-5 off, the other figures less
POWER_STEPS = (
    40  # of the inverse iteration; the second eigenvalue is 2 to 9 times the first: error below 1e-9 long before
)
POWER_TOLERANCE = 1e-10  # relative change of the eigenvalue at which it ends
TORQUE_LENGTH = 100e-3  # m, distal length twisted
ROUTE = tortuous_path()
PATH = ROUTE.total  # m, of the standard path

Ends = Literal["free", "pinned", "clamped"]


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


def column_load(profile: Profile, length: float, tip: Ends = "pinned") -> float:
    """Smallest buckling load of the distal `length` (m), clamped proximally, its tip free, pinned or clamped, N.

    Rotations t(x) of an inextensible column make the energy 1/2 int EI t'^2 - P/2 int t^2 stationary with t = 0 at the
    clamp, int t = 0 where the tip stays on the axis and t = 0 there where it is clamped: inverse iteration, whose
    linear problem is two running sums. Timoshenko & Gere, Theory of Elastic Stability, 1961, ch. 2; from memory.
    Uniform: 2.467, 20.19, 39.48 EI/L^2.
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
    held = np.stack([weight, np.eye(CELLS + 1)[-1]])[: {"free": 0, "pinned": 1, "clamped": 2}[tip]]  # what must be 0
    levers = np.array([answer(row) for row in held]).reshape(len(held), CELLS + 1)
    t = np.sin(4.493 * np.linspace(0.0, 1.0, CELLS + 1) / 1.3)
    value = np.nan
    for _ in range(POWER_STEPS):
        load = weight * t
        new = answer(load)
        if len(held):
            new = new - np.linalg.solve(held @ levers.T, held @ new) @ levers
        last, value = value, float((load @ new) / (weight @ new**2))
        t = new / np.max(np.abs(new))
        if abs(last - value) <= POWER_TOLERANCE * value:
            break
    return value


def lateral_stiffness(profile: Profile, length: float = LATERAL_LENGTH, *, hard: bool = False) -> float:
    """Side force at the tip over its deflection, clamped at `length` (m): 1/int s^2/EI ds, N/m; hard: the other way."""
    edges = np.linspace(0.0, length, CELLS + 1)
    middle = (edges[1:] + edges[:-1]) / 2.0
    key = _soft_key(profile, 0.0, length)
    if hard:
        key = "EI2" if key == "EI1" else "EI1"
    return float(1.0 / np.sum(middle**2 * _compliance(profile, key, edges)))


def lateral_force(profile: Profile, length: float, angle: float) -> float:
    """Side force at the tip that turns it by `angle` (rad), clamped at `length` (m): angle/int s/EI ds, N."""
    edges = np.linspace(0.0, length, CELLS + 1)
    middle = (edges[1:] + edges[:-1]) / 2.0
    return float(angle / np.sum(middle * _compliance(profile, _soft_key(profile, 0.0, length), edges)))


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
    return 1.0 - torque_lag(profile, shape) / (2.0 * np.pi * TURNS)


def friction_lag(profile: Profile) -> float:
    """Lag of a straight tip in the standard tortuous path, turned all along, rad: friction alone.

    In each bend the wall presses as on a uniform wire in a long bend (`bend_wall_force`); the torque of its friction
    twists the wire from the base to the bend's middle. The simulated lag is 1.0 to 1.8 of it (example wires; with a
    ribbon, whose flat section makes it lag, a hundred times).
    """
    total = 0.0
    for low, high, curvature in zip(ROUTE.knots[:-1], ROUTE.knots[1:], ROUTE.curvature[1:-1], strict=True):
        if curvature > 0.0:
            middle = PATH - 0.5 * (low + high)
            force = _wall_force(profile, PATH - high, PATH - low, 1.0 / curvature)
            torque = profile.friction * float(profile.at("radius", np.array([middle]))[0]) * force
            total += torque * float(_compliance(profile, "GJ", np.array([middle, PATH]))[0])
    return total


def friction_ratio(profile: Profile) -> float:
    """Rotation of that tip over that of the base after `bench.torque.TURNS` turns, -."""
    return 1.0 - friction_lag(profile) / (2.0 * np.pi * TURNS)


def track_drag(profile: Profile) -> float:
    """Push that slides the wire round the standard bend without resistance, N: friction of `bend_wall_force`.

    The simulated drag is 1.1 to 3.0 of it (example wires).
    """
    return profile.friction * _wall_force(profile, BEYOND, BEYOND + RADIUS * ANGLE, RADIUS)


def _wall_force(profile: Profile, low: float, high: float, radius: float) -> float:
    """Sum of the wall's forces on the wire from `low` to `high` (m from the tip) in a bend of the standard bore, N."""
    edges = np.array([low, high])
    one, two = ((high - low) / float(_compliance(profile, key, edges)[0]) for key in ("EI1", "EI2"))
    clearance = 0.5 * BORE - float(np.max(profile.at("radius", edges)))
    return bend_wall_force(0.5 * (one + two), radius, clearance) if clearance > 0.0 else np.nan
