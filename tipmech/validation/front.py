"""The delamination front: wedge balance, the bound on its force, and a tip seated in it or sliding on it."""

from math import pi

import numpy as np

from .. import closed_forms as cf
from ..rod.continuation import critical_point
from ..rod.elastic import Array
from ..rod.loads import Potential
from ..rod.structure import Structure
from ..rod.supports import Support
from ..smooth import ramp
from ..vessel.build import NOTCH, crack_length
from ..vessel.front import front_force, front_position, notch
from .model import EI, LENGTH, uniform_rod
from .row import Case, Row, at_most, relative

ELEMENTS = 160
RADIUS, STIFFNESS, SMOOTHING = 0.178e-3, 600.0, 5e-6  # m, N/m, m
# one flap (h = 0.2 mm, E = 2 MPa) off a stiff wall, wedge 0.35 mm, G = 10 J/m2: crack length, m
WEDGE, CRACK = (2e6, 2e-4, 3.5e-4, 10.0), 0.0005206811252912086
TRIALS, STRENGTH = 500, 8e-3  # random sets of leading points; N


def wedge() -> list[Row]:
    """Crack length ahead of a wedge, and the energy released by a small growth of it."""
    modulus, thickness, opening, energy = WEDGE
    length = crack_length(modulus, thickness, opening, energy)

    def stored(a: float) -> float:  # cantilever of unit width held open at its end: U = 3 EI delta^2/(2 a^3)
        return 3.0 * modulus * thickness**3 / 12.0 * opening**2 / (2.0 * a**3)

    step = 1e-4 * length
    released = (stored(length - step) - stored(length + step)) / (2.0 * step)
    source = "Obreimoff 1930, one arm: G = 3 E h3 delta2/(8 l4); -dU/dl of the bent flap, re-derived"
    return [
        relative("wedge-length", "crack length ahead of a wedge, m", length, CRACK, 1e-6, source),
        relative("wedge-balance", "energy released per new area, J/m2", released, energy, 1e-6, source),
    ]


def bound() -> list[Row]:
    """Total force on the front never above its strength, whatever leads and however finely it is divided."""
    rng = np.random.default_rng(20)
    worst = 0.0
    for _ in range(TRIALS):
        count = int(rng.integers(1, 60))
        lead = 10e-3 + rng.uniform(-0.2e-3, 0.5e-3, count)
        stiff = STIFFNESS * rng.uniform(0.1, 3.0, count)
        a = front_position(lead, stiff, count, 10e-3, STRENGTH, SMOOTHING)
        worst = max(worst, front_force(lead, stiff, count, a, SMOOTHING)[0])
    name = f"largest total front force in {TRIALS} random sets of leading points, N"
    return [at_most("front-bound", name, worst, STRENGTH, 1e-9, "definition of the yielding front, theory (24)")]


def _front(depth: float) -> Potential:
    """Front just before the tip of a straight wire, its notch of `depth` (m) on the wire's axis."""

    def energy(x: Array) -> tuple[float, Array, Array]:
        g, h = np.zeros_like(x), np.zeros((x.shape[0], 3, 3))
        nearer, slope, curve = notch(float(x[-1, 0]), depth, RADIUS)
        e, f, k = (STIFFNESS * v for v in ramp(float(x[-1, 2]) + nearer - LENGTH, SMOOTHING))
        way = np.array([slope, 0.0, 1.0])
        g[-1] = f * way
        h[-1] = k * np.outer(way, way)
        h[-1, 0, 0] += f * curve
        return e, g, h

    return energy


def tip_at_front() -> list[Row]:
    """Folding force of a straight wire pushed against the front: seated in a notch, or sliding on a flat front."""
    found = []
    for name, depth, ends in (("seated", NOTCH * RADIUS, "clamped-pinned"), ("sliding", 0.0, "clamped-free")):
        guess = cf.euler_load(EI, LENGTH, ends)
        push = Support(0, displacement=(0.0, 0.0, guess / STIFFNESS))
        wire = Structure(uniform_rod(ELEMENTS), [push], potential=_front(depth), plane="y")
        point = critical_point(wire, 1.3)
        load = np.nan if point is None else point.state.reactions[0][0, 2]
        source = f"Euler, {ends} column: {cf.EULER[ends] / pi**2:.4g} pi2 EI/L2 (Timoshenko & Gere 1961)"
        quantity = f"force that folds a tip {name} at the front, N"
        found.append(relative(f"front-{name}", quantity, load, guess, 5e-3, source))
    return found


CASES: tuple[Case, ...] = (wedge, bound, tip_at_front)
