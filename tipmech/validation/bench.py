"""The tip-load bench against the elastica, and the tip's first touch on a plate."""

from functools import cache
from math import degrees, inf, pi, radians

import numpy as np
from scipy.optimize import brentq

from .. import closed_forms as cf
from ..bench.plate import Plate
from ..bench.tip_load import FREE_LENGTHS, TipLoad, tip_load
from ..profile import uniform
from ..rod.elastic import Array
from ..rod.solve import solve
from ..rod.structure import Structure
from ..rod.supports import clamp
from .model import EI, LENGTH, uniform_rod
from .row import Case, Row, absolute, at_most, relative

RADIUS = 0.178e-3  # m, tip radius of the bench checks
SMALL_ANGLE = radians(5.0)  # below it the identity compares two small numbers
SLIDING = {(45.0, 0.2): 5.303300858899108, (60.0, 0.2): 2.261087946968768}  # (tilt, deg; mu) -> dN/dd L^3/EI
STICK = {0.05: 2.862405226111748, 0.2: 11.309932474020215, 0.5: 26.56505117707799}  # mu -> limit, deg
# friction -> P L2/EI and shortening by bending over L as the tip slips, offset 0.1 %: experiments/references/slip.py
SLIP = {
    0.03: (20.11336561623274, 0.00418285470472346),
    0.05: (20.214678727401118, 0.011837033964735899),
    0.1: (20.50465561648689, 0.045855180034213405),
    0.2: (21.341658264518752, 0.15326224011238765),
}
SLIP_OFFSET, SLIP_LENGTH = 1e-3, 5e-3  # -, m: the short length, since friction 0.2 holds a longer one throughout
PLATE_STIFFNESS = 1e6  # N/m, tip's first touch


@cache
def _test(length: float, friction: float, offset: float = 1e-3, travel: float = 0.25e-3) -> TipLoad:
    return tip_load(uniform(EI, 50e-3, RADIUS), length, friction=friction, offset=offset, travel=travel)


def stuck() -> list[Row]:
    """Bench's tip load against the clamped-pinned elastica at the same end shortening."""
    found = []
    source = "clamped-pinned elastica by elliptic integrals, re-derived (no offset)"
    for length in FREE_LENGTHS:
        test = _test(length, 0.2)
        exact = cf.pinned_elastica(EI, length, float(test.shortening[-1])).axial
        name = f"tip load, {length * 1e3:g} mm free length, N"
        found.append(relative(f"tip-load-{length * 1e3:g}mm", name, test.force, exact, 5e-3, source))
    deepest = max(_test(length, 0.2).penetration for length in FREE_LENGTHS)
    name = "plate indentation over tip radius, at most"
    found.append(at_most("plate-penetration", name, deepest, 0.05, 0.0, "stated: at most 5 % of the radius"))
    return found


def free() -> list[Row]:
    """Bench with a frictionless plate against the clamped-free elastica at the same end shortening."""
    found = []
    source = "Timoshenko & Gere 1961, art. 2.7, at the same end shortening (offset 0.01 %)"
    for length in FREE_LENGTHS:
        test = _test(length, 0.0, offset=1e-4)
        load, _ = cf.free_elastica(cf.free_elastica_angle(float(test.shortening[-1]) / length))
        exact = load * EI / length**2
        name = f"tip load, free tip, {length * 1e3:g} mm free length, N"
        found.append(relative(f"tip-load-free-{length * 1e3:g}mm", name, test.force, exact, 5e-3, source))
    return found


def slip() -> list[Row]:
    """Where a stuck tip lets go: load and shortening by bending, without what the wire gives along its axis."""
    found = []
    source = "clamped-pinned elastica with the offset's natural curvature, shooting"
    for friction, (load, short) in SLIP.items():
        test = _test(SLIP_LENGTH, friction, SLIP_OFFSET, 1e-3)
        at = int(np.searchsorted(test.displacement, test.slipped_at))
        axial = float(test.axial[at])
        bent = float(test.shortening[at]) - axial * SLIP_LENGTH / float(uniform(EI, 50e-3, RADIUS).EA[0])
        name = f"as the tip slips, plate friction {friction:g}"
        exact = load * EI / SLIP_LENGTH**2
        found += [
            relative(f"slip-load-{friction:g}", f"axial load {name}, N", axial, exact, 5e-3, source),
            relative(f"slip-{friction:g}", f"shortening by bending {name}, m", bent, short * SLIP_LENGTH, 5e-3, source),
        ]
    return found


def identity() -> list[Row]:
    """P y^2 = 4 EI sin^2(a/2) - 2 EI kappa0 y along the path of a tip that slides on a frictionless plate."""
    test = _test(LENGTH, 0.0, travel=4e-3)
    y = np.hypot(test.shapes[:, -1, 0], test.shapes[:, -1, 1])
    left = test.axial * y**2
    right = np.array([cf.tip_identity(EI, a, test.natural, b) for a, b in zip(test.angle, y, strict=True)])
    seen = test.angle > SMALL_ANGLE
    worst = int(np.argmax(np.where(seen, np.abs(left / np.where(seen, right, 1.0) - 1.0), 0.0)))
    name = f"P y2 on a sliding tip's path to {degrees(test.angle[-1]):.0f} deg (worst of {seen.sum()} states), N m2"
    source = "first integral of the elastica, with the offset's natural curvature; re-derived"
    return [relative("identity", name, left[worst], right[worst], 2e-3, source)]


def _touch(tilt: float, friction: float, approach: float, stick: float) -> tuple[float, bool]:
    """Normal force and slip of a straight wire whose tip meets a plate tilted by `tilt` (rad)."""
    rod = uniform_rod(20)
    normal = np.array([np.sin(tilt), 0.0, -np.cos(tilt)])
    tip = rod.points[-1]
    plate = Plate(tip - np.array([0.0, 0.0, approach]), normal, PLATE_STIFFNESS, stick, friction, np.zeros(3), tip)

    def reaction(pressed: float) -> Array:
        state = solve(Structure(rod, [clamp(0)], potential=plate.potential(pressed)), 0.0)
        return np.asarray(state.x[-1] if state.converged else np.nan * state.x[-1])

    # the normal force that limits friction must be the plate's own; stuck (1 N allows any friction) it is largest
    most = plate.normal_force(reaction(1.0))
    pressed = float(brentq(lambda p: plate.normal_force(reaction(p)) - p, 0.0, 1.01 * most, xtol=1e-9 * most))
    return pressed, plate.friction_force(reaction(pressed), pressed)[1]


def first_touch() -> list[Row]:
    """Tilt at which a tip's first touch passes from sticking to sliding, by bisection."""
    found = []
    for friction, reference in STICK.items():
        low, high = 0.5 * radians(reference), 1.5 * radians(reference)
        while high - low > radians(1e-3):
            middle = 0.5 * (low + high)
            if _touch(middle, friction, 1e-9, 1e5)[1]:
                high = middle
            else:
                low = middle
        name = f"stick limit of a tip's first touch, friction {friction:g}, deg"
        limit = degrees(0.5 * (low + high))
        found.append(absolute(f"stick-{friction:g}", name, limit, reference, 0.02, "statics: atan(mu), re-derived"))
    return found


def sliding() -> list[Row]:
    """Contact stiffness of a tip that slides on a tilted plate."""
    found = []
    for (tilt, friction), reference in SLIDING.items():
        approach = 1e-5 * LENGTH
        force, _ = _touch(radians(tilt), friction, approach, 1e5)
        stiffness = force / approach * LENGTH**3 / EI
        name = f"dN/d(approach) L3/EI, tip sliding on a plate tilted by {tilt:g} deg, friction {friction:g}"
        source = "statics: 3 cot b/(sin b - mu cos b), re-derived"
        found.append(relative(f"sliding-{tilt:g}", name, stiffness, reference, 2e-3, source))
    return found


def pinned_limit() -> list[Row]:
    """A pinned tip and the bench's friction give the same load while the tip sticks; a free tip is 8.2 times lower."""
    test, pin, slide = _test(LENGTH, 0.2), _test(LENGTH, inf), _test(LENGTH, 0.0)
    name = "tip load with friction 0.2, N, against pinned"
    same = relative("stuck-is-pinned", name, test.force, pin.force, 1e-6, "a stuck tip is a pinned tip")
    ratio = cf.EULER["clamped-pinned"] / (pi**2 / 4.0)
    name = "ratio of tip loads, pinned over free tip, -"
    return [same, relative("end-condition", name, pin.force / slide.force, ratio, 5e-3, "20.19/2.467 = 8.18 (Euler)")]


CASES: tuple[Case, ...] = (stuck, free, slip, identity, first_touch, sliding, pinned_limit)
