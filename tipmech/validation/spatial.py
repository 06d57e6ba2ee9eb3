"""Deflection and buckling out of the plane: twist and bending together."""

from functools import cache
from math import cos, pi, sin

import numpy as np

from .. import closed_forms as cf
from ..rod.elastic import Array
from ..rod.stability import State, critical_load
from ..rod.statics import equilibrium, fix, straight_rod
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
    arc = BEND_RADIUS * BEND_ARC * pi / 180.0
    natural = np.zeros((n + 1, 3))
    natural[:, 1] = 1.0 / BEND_RADIUS  # about -z, the second axis of a frame along +y: the tangent turns toward +x
    bending = 1e7 / 12.0
    rod, x, q = straight_rod(
        np.full(n, arc / n),
        bend=np.tile([bending, bending, 5e6 / 6.0], (n + 1, 1)),
        stretch=np.tile([5e6, 5e6, 1e7], (n, 1)),
        natural=natural,
        axis=(0.0, 1.0, 0.0),
    )
    fixed = fix(n, x=0, y=0, z=0)
    state = equilibrium(rod, x, q, fixed=fixed)
    tips = {}
    for force in BEND_FORCES:
        load = np.zeros((n + 1, 3))
        load[-1, 2] = force
        state = equilibrium(rod, state.x, state.q, fixed=fixed, forces=load)
        tips[force] = state.x[-1]
    return tips


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
    n = ELEMENTS
    rod, x, q = uniform_rod(n, clamped=(True, True))
    fixed = fix(n, x=(0, n), y=(0, n), z=0)
    twist = EI / (1.0 + POISSON)

    def state(torque: float) -> State:
        angle = torque * LENGTH / twist
        middle = (np.arange(n) + 0.5) / n * angle
        turned = np.stack([np.cos(middle / 2), 0 * middle, 0 * middle, np.sin(middle / 2)], axis=1)
        clamps = np.array([[1.0, 0.0, 0.0, 0.0], [cos(angle / 2), 0.0, 0.0, sin(angle / 2)]])
        return rod._replace(clamps=clamps), x, turned, None

    guess = cf.greenhill_clamped_torque(EI, LENGTH)
    torque = critical_load(state, fixed, 0.8 * guess, 1.2 * guess).load
    source = "Greenhill 1883; Timoshenko & Gere 1961, art. 2.21: M L/EI = 2 x 4.4934"
    return [relative("greenhill", "critical torque between clamps, N m", torque, 4.493409457909064e-05, 2e-3, source)]


CASES: tuple[Case, ...] = (bend_45, greenhill)
