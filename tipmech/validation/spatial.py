"""Deflection and buckling out of the plane: twist and bending together."""

from functools import cache
from math import pi

import numpy as np

from .. import closed_forms as cf
from ..rod.build import Section, rod_along
from ..rod.continuation import critical_point
from ..rod.elastic import Array
from ..rod.loads import Force
from ..rod.solve import solve_path
from ..rod.structure import Structure
from ..rod.supports import Support, clamp
from .model import EI, LENGTH, POISSON, observed_order, uniform_rod
from .row import Case, Row, at_least, relative

ELEMENTS = 120
BEND_RADIUS, BEND_ARC = 100.0, 45.0  # in, deg
# tip (x, y, z) in inches at F = 300 and 600 lbf, J = 1/6: rotation-matrix shooting, confirmed by solve_bvp
BEND_REFERENCE = {
    300: (22.244780945466186, 58.779122489825724, 40.19189167025594),
    600: (15.684800534090757, 47.150438573758706, 53.47485879199027),
}


BEND_FORCES = range(50, 601, 50)  # lbf


@cache
def _bend_tips(n: int) -> dict[int, Array]:
    """Tip position, in, at each of the forces, lbf, on n elements."""
    angle = np.linspace(0.0, BEND_ARC * pi / 180.0, n + 1)
    points = BEND_RADIUS * np.column_stack([1.0 - np.cos(angle), np.sin(angle), 0.0 * angle])
    rod = rod_along(points, Section(1e7 / 12.0, 1e7 / 12.0, 5e6 / 6.0, 5e6, 5e6, 1e7))
    path = solve_path(Structure(rod, [clamp(0)], loads=[Force(-1, (0.0, 0.0, 1.0))]), BEND_FORCES)
    tips = {force: np.full(3, np.nan) for force in BEND_FORCES}  # fails the rows of those not reached
    return tips | {round(state.factor): state.x[-1] for state in path if state.converged}


def bend_45() -> list[Row]:
    """Cantilever bent by 45 degrees under an out-of-plane tip force (consistent inch and pound units)."""
    found = []
    source = "Bathe & Bolourchi 1979 (15.9, 47.2, 53.4 at 600); reference: Reissner shooting, J = 1/6"
    for force, exact in BEND_REFERENCE.items():
        for axis, value, reference in zip("xyz", _bend_tips(ELEMENTS)[force], exact, strict=True):
            quantity = f"tip {axis}, in, at {force} lbf"
            found.append(relative(f"bend45-{force}-{axis}", quantity, float(value), reference, 1e-3, source))
    exact_tip = np.array(BEND_REFERENCE[600])
    errors = [float(np.linalg.norm(_bend_tips(k)[600] - exact_tip)) for k in (30, 60, 120)]
    quantity = "least observed order, tip of the 45 deg bend at 600 lbf, 30 -> 60 -> 120 elements"
    found.append(at_least("order-bend45", quantity, observed_order(errors), 1.9, 0.0, "stated order 2"))
    return found


def greenhill() -> list[Row]:
    """Twist between two coaxial clamps, one of them free to slide."""
    guess = cf.greenhill_clamped_torque(EI, LENGTH) * LENGTH * (1.0 + POISSON) / EI
    turned = Support(-1, "xy", turn=(0.0, 0.0, 1.0))
    point = critical_point(Structure(uniform_rod(ELEMENTS), [clamp(0), turned]), 1.2 * guess, step=0.1 * guess)
    torque = np.nan if point is None else point.state.reactions[1][-1, 2]
    source = "Greenhill 1883; Timoshenko & Gere 1961, art. 2.21: M L/EI = 2 x 4.4934"
    return [relative("greenhill", "critical torque between clamps, N m", torque, 4.493409457909064e-05, 2e-3, source)]


CASES: tuple[Case, ...] = (bend_45, greenhill)
