"""Large planar deflections of a clamped wire, and the order of convergence."""

from functools import cache
from math import cos, log2, pi, sin

import numpy as np

from .. import closed_forms as cf
from ..rod.elastic import Array
from ..rod.loads import Force
from ..rod.solve import solve, solve_path
from ..rod.structure import Structure
from ..rod.supports import Support, clamp
from .model import EI, LENGTH, tip_angle, uniform_rod
from .row import Case, Row, absolute, at_least, relative

ELEMENTS = 160
SCALE = EI / LENGTH**2
# transverse force P L^2/EI -> (w/L, u/L): elliptic integrals; Bisshopp & Drucker 1945, Mattiasson 1981 to 5 digits
TRANSVERSE = {
    1: (0.30172077379981355, 0.05643323628337688),
    4: (0.6699641812776668, 0.32894124224684596),
    10: (0.8106090248802964, 0.5549955977537513),
}
# (angle from the outward axis, deg; F L^2/EI) -> (x/L, y/L, tip angle, rad): boundary-value solution and shooting
INCLINED = {
    (30, 8): (0.9353195734801855, 0.33020649318322776, 0.4615270878108029),
    (60, 3): (0.8751924988647655, 0.4430198170327902, 0.6752853340914654),
    (120, 3): (0.6113955963057658, 0.7048249909094357, 1.25325370249972),
    (150, 8): (-0.052733687745775304, 0.8047078191307467, 2.248249018676609),
}
# tip angle, deg -> P/P_Euler: complete elliptic integrals
BUCKLED = {
    20: 1.0153968655396814,
    60: 1.1517196204691387,
    90: 1.3932,
    120: 1.8848008689780913,
    160: 4.030085966049933,
}


@cache
def _cantilever(load: float, direction: float, elements: int) -> tuple[Array, float]:
    """Tip position over L (z outward first, then x) and tip angle under a dead force grown in steps."""
    force = (load * SCALE * sin(direction), 0.0, load * SCALE * cos(direction))
    s = Structure(uniform_rod(elements), [clamp(0)], loads=[Force(-1, force)])
    state = solve_path(s, np.linspace(0.0, 1.0, max(3, int(np.ceil(load)) + 1))[1:].tolist())[-1]
    x = state.x if state.converged else np.nan * state.x
    return np.array([x[-1, 2], x[-1, 0]]) / LENGTH, tip_angle(state.q)


def transverse() -> list[Row]:
    """Cantilever under a dead transverse tip force."""
    found = []
    for load, (w, u) in TRANSVERSE.items():
        (along, across), _ = _cantilever(float(load), pi / 2, ELEMENTS)
        source = "Bisshopp & Drucker 1945; Mattiasson 1981; elliptic integrals re-derived"
        name = f"at P L2/EI = {load}"
        found.append(relative(f"transverse-{load}-w", f"w/L {name}", across, w, 1e-3, source))
        found.append(relative(f"transverse-{load}-u", f"shortening u/L {name}", 1.0 - along, u, 1e-3, source))
    return found


def inclined() -> list[Row]:
    """Cantilever under an inclined dead tip force, pulling and pushing."""
    found = []
    source = "elastica equation: boundary-value solution and shooting; elliptic integrals re-derived"
    for (degrees, load), (along, across, angle) in INCLINED.items():
        (z, x), turned = _cantilever(float(load), degrees * pi / 180.0, ELEMENTS)
        name = f"force {degrees} deg off the outward axis, F L2/EI = {load}"
        found.append(absolute(f"inclined-{degrees}-x", f"x/L, {name}", z, along, 1e-3, source))
        found.append(absolute(f"inclined-{degrees}-y", f"y/L, {name}", x, across, 1e-3, source))
        found.append(relative(f"inclined-{degrees}-angle", f"tip angle, rad, {name}", turned, angle, 1e-3, source))
    return found


def buckled() -> list[Row]:
    """Post-buckling elastica: the axial force that holds the tip where the elastica says it is."""
    rod = uniform_rod(ELEMENTS)
    state, found = None, []
    source = "Timoshenko & Gere, Theory of Elastic Stability, 2nd ed. 1961, art. 2.7; elliptic integrals re-derived"
    path = np.concatenate([np.arange(5.0, 160.0, 5.0), [160.0]])
    for degrees in path:
        _, tip = cf.free_elastica(degrees * pi / 180.0)
        held = Support(-1, rotation="", displacement=(LENGTH * tip.y, 0.0, LENGTH * (tip.x - 1.0)))
        state = solve(Structure(rod, [clamp(0), held]), start=state)
        if degrees in BUCKLED:
            key, name = int(degrees), f"tip angle {degrees:g} deg"
            good = state.converged and state.stable
            force = -state.reactions[0][-1, 2] if good else np.nan
            load = force / cf.euler_load(EI, LENGTH, "clamped-free")
            found.append(relative(f"buckled-{key}-load", f"P/P_Euler, {name}", load, BUCKLED[key], 1e-3, source))
            turned = tip_angle(state.q) * 180.0 / pi
            name = f"tip angle, deg, tip held where the elastica has {degrees:g}"
            found.append(relative(f"buckled-{key}-angle", name, turned, degrees, 1e-3, source))
    return found


def order() -> list[Row]:
    """Observed order of convergence in element size: transverse tip deflection at P L2/EI = 4."""
    exact = cf.tip_force_cantilever(4.0, pi / 2).y
    errors = [abs(_cantilever(4.0, pi / 2, n)[0][1] - exact) for n in (20, 40, 80)]
    seen = min(log2(errors[0] / errors[1]), log2(errors[1] / errors[2]))
    quantity = "least observed order in element size, 20 -> 40 -> 80 elements"
    return [at_least("order", quantity, seen, 1.9, 0.0, "stated order 2: staggered grid, clamp as a ghost frame")]


CASES: tuple[Case, ...] = (transverse, inclined, buckled, order)
