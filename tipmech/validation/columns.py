"""Buckling of straight columns, found by the inertia of the tangent."""

import numpy as np

from .. import closed_forms as cf
from ..profile import Profile
from ..rod.from_profile import rod_from_profile
from ..rod.stability import critical_load
from ..rod.statics import BoolArray, fix, straight_rod
from .model import EI, LENGTH, STIFF, straight_path, uniform_rod
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


def _ends(elements: int, ends: str) -> tuple[tuple[bool, bool], BoolArray]:
    """Clamps and prescribed unknowns of a column along z; its far end may always move along z."""
    if ends == "clamped-free":
        return (True, False), fix(elements, x=0, y=0, z=0)
    if ends == "clamped-guided":
        return (True, True), fix(elements, x=0, y=0, z=0)
    both = (0, elements)
    return (True, ends == "clamped-clamped"), fix(elements, x=both, y=both, z=0)


def euler() -> list[Row]:
    """The four Euler cases."""
    found = []
    for ends, reference in EULER_REFERENCE.items():
        clamped, fixed = _ends(ELEMENTS, ends)
        rod, x, q = uniform_rod(ELEMENTS, clamped=clamped)
        guess = cf.euler_load(EI, LENGTH, ends)
        load = critical_load(straight_path(rod, x, q), fixed, 0.8 * guess, 1.2 * guess).load
        source = f"{TIMOSHENKO}, ch. 2 (c = {cf.EULER[ends]:.4f})"
        found.append(relative(f"euler-{ends}", f"critical load, {ends} column, N", load, reference, 1e-3, source))
    return found


def spring_column() -> list[Row]:
    """Clamped-free column of a close-wound coil: shear and axial compliance both matter."""
    bend, shear, axial, length, n = 6.352941176470589e-09, 0.8296296296296298, 0.30059044551798186, 3e-3, ELEMENTS
    rod, x, q = straight_rod(
        np.full(n, length / n), bend=np.full((n + 1, 3), bend), stretch=np.tile([shear, shear, axial], (n, 1))
    )
    fixed = fix(n, x=0, y=0, z=0)
    euler_load = cf.euler_load(bend, length, "clamped-free")
    load = critical_load(straight_path(rod, x, q), fixed, 0.9 * euler_load, 1.1 * euler_load).load
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
        n = ELEMENTS
        rod, x, q = rod_from_profile(profile, np.full(n, LENGTH / n))
        guess = cf.conical_column_load(EI, LENGTH, ratio)
        load = critical_load(straight_path(rod, x, q), fix(n, x=0, y=0, z=0), 0.8 * guess, 1.2 * guess).load
        c = load * LENGTH**2 / EI
        source = f"{TIMOSHENKO}, art. 2.14, re-derived: tan(z (1/r - 1)) = -z gives {guess * LENGTH**2 / EI:.4f}"
        quantity = f"c at the base, tip/base diameter {ratio:g}"
        found.append(relative(f"cone-{ratio:g}", quantity, c, reference, 1e-3, source))
    return found


CASES: tuple[Case, ...] = (euler, spring_column, cone)
