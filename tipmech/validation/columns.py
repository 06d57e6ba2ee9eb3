"""Buckling of straight columns, found by the inertia of the tangent."""

import numpy as np

from .. import closed_forms as cf
from ..profile import Profile
from ..rod.build import Rod, Section, profile_rod, straight
from ..rod.loads import Force
from ..rod.structure import Structure
from ..rod.supports import Support, clamp
from .model import EI, LENGTH, STIFF, critical_factor, uniform_rod
from .row import Case, Row, relative

TIMOSHENKO = "Timoshenko & Gere, Theory of Elastic Stability, 2nd ed. 1961"
ELEMENTS = 160  # error of the clamped-clamped load about (2 pi/160)^2/12 = 1.3e-4
# P (N) at EI = 5e-8 N m2, L = 10 mm: mpmath roots, confirmed by cubic-Hermite finite elements
EULER_REFERENCE = {
    "clamped-free": 0.0012337005501361696,
    "clamped-pinned": 0.010095364278213316,
    "clamped-guided": 0.004934802200544678,
    "clamped-clamped": 0.019739208802178713,
}
CONE_REFERENCE = {0.5: 1.029, 0.3: 0.498}  # c at the base, three digits
SPRING_COLUMN = 0.0017481782498556047  # N, zero of the linearised Reissner initial-value map
FAR_END: dict[str, list[Support]] = {  # it may always move along z
    "clamped-free": [],
    "clamped-pinned": [Support(-1, "xy", "")],
    "clamped-guided": [Support(-1, "")],
    "clamped-clamped": [Support(-1, "xy")],
}


def _critical(rod: Rod, guess: float, ends: str = "clamped-free") -> float:
    """Axial load (N) at which the straight column leaves its axis; `guess` is of its size."""
    column = Structure(rod, [clamp(0), *FAR_END[ends]], loads=[Force(-1, (0.0, 0.0, -guess))])
    return guess * critical_factor(column, 1.2)


def euler() -> list[Row]:
    """The four Euler cases."""
    found = []
    for ends, reference in EULER_REFERENCE.items():
        load = _critical(uniform_rod(ELEMENTS), cf.euler_load(EI, LENGTH, ends), ends)
        source = f"{TIMOSHENKO}, ch. 2 (c = {cf.EULER[ends]:.4f})"
        found.append(relative(f"euler-{ends}", f"critical load, {ends} column, N", load, reference, 1e-3, source))
    return found


def spring_column() -> list[Row]:
    """Clamped-free column of a close-wound coil: shear and axial compliance both matter."""
    bend, shear, axial, length = 6.352941176470589e-09, 0.8296296296296298, 0.30059044551798186, 3e-3
    rod = straight(length, ELEMENTS, Section(bend, bend, bend, shear, shear, axial))
    load = _critical(rod, cf.euler_load(bend, length, "clamped-free"))
    source = "P (1 + P/GA - P/EA) = P_Euler, re-derived; Haringx 1948 for EA -> inf (Engesser would give -0.6 %)"
    return [relative("spring-column", "critical load of a coil column, N", load, SPRING_COLUMN, 5e-4, source)]


def cone() -> list[Row]:
    """Conical cantilever, thin end free, as a wire's profile."""
    found = []
    for ratio, reference in CONE_REFERENCE.items():
        distance = np.linspace(0.0, LENGTH, 401)
        scale = (ratio + (1.0 - ratio) * distance / LENGTH) ** 4
        one = np.ones_like(distance)
        bend, stiff, thin = EI * scale, STIFF * one, 1e-4 * one
        profile = Profile(distance, bend, bend, bend, stiff, stiff, thin, thin, 1e-4, 0.1, "cone")
        guess = cf.conical_column_load(EI, LENGTH, ratio)
        c = _critical(profile_rod(profile, np.full(ELEMENTS, LENGTH / ELEMENTS)), guess) * LENGTH**2 / EI
        source = f"{TIMOSHENKO}, art. 2.14, re-derived: tan(z (1/r - 1)) = -z gives {guess * LENGTH**2 / EI:.4f}"
        quantity = f"c at the base, tip/base diameter {ratio:g}"
        found.append(relative(f"cone-{ratio:g}", quantity, c, reference, 1e-3, source))
    return found


CASES: tuple[Case, ...] = (euler, spring_column, cone)
