"""Published benchmarks in space: lateral buckling of frames and beams, bending with twist, twisted rings and rods."""

from dataclasses import replace
from functools import cache
from math import cos, degrees, pi, radians, sin, sqrt

import numpy as np

from ..rod.build import Rod, Section, rod_along, straight
from ..rod.continuation import Special, critical_point, trace
from ..rod.elastic import Array
from ..rod.loads import Force, Load, Moment
from ..rod.solve import Equilibrium, solve, solve_path
from ..rod.structure import Structure
from ..rod.supports import Support, clamp
from .model import observed_order
from .row import Case, Row, absolute, at_least, relative

SHOOTING = "reference: Cosserat rod equations, shooting"
TOLERANCE = 2e-3  # critical loads: the errors at these meshes are at most half of it, second order

# ---- right-angle frame, N and mm --------------------------------------------------------------------------------

LEG, FRAME_ELEMENTS = 240.0, 60  # each leg
DEEP, THIN, MODULUS, FRAME_POISSON = 30.0, 0.6, 71240.0, 0.31
FRAME_SHEAR = MODULUS / (2.0 * (1.0 + FRAME_POISSON))
LATERAL = MODULUS * DEEP * THIN**3 / 12.0
TORSION = FRAME_SHEAR * DEEP * THIN**3 / 3.0
FRAME_SECTION = Section(
    MODULUS * THIN * DEEP**3 / 12.0, LATERAL, TORSION, FRAME_SHEAR * DEEP * THIN, FRAME_SHEAR * DEEP * THIN, MODULUS * DEEP * THIN
)  # axis 1 across the frame's plane
FRAME_LOADS = {
    "out": ("along the free leg, away from the corner", (0.0, 1.0, 0.0), 3.9794843781242797),
    "in": ("along the free leg, toward the corner", (0.0, -1.0, 0.0), 0.6507653471705906),
    "away": ("along the clamped leg, away from the clamp", (1.0, 0.0, 0.0), 1.0875180850527593),
    "back": ("along the clamped leg, toward the clamp", (-1.0, 0.0, 0.0), 0.6804275224365682),
}
FRAME_MOMENT = (622.221663711252, -622.2218585041951)  # N mm, opening and closing the corner


def _frame(first: tuple[float, float], second: tuple[float, float]) -> Rod:
    part = np.linspace(0.0, LEG, FRAME_ELEMENTS + 1)[:, None]
    start = part * np.array([*first, 0.0])
    points = np.concatenate([start, start[-1] + part[1:] * np.array([*second, 0.0])])
    return rod_along(points, FRAME_SECTION, directors=(0.0, 0.0, 1.0), corners=[FRAME_ELEMENTS])


def frame_end_load() -> list[Row]:
    """Narrow right-angle frame, one end clamped, a force in its plane at the other: it gives way sideways."""
    found = []
    rod = _frame((1.0, 0.0), (0.0, 1.0))
    for key, (name, vector, reference) in FRAME_LOADS.items():
        s = Structure(rod, [clamp(0)], loads=[Force(-1, vector)])
        load = _critical(s, 1.3 * reference)
        source = f"Argyris et al. 1979; {SHOOTING}"
        found.append(relative(f"frame-{key}", f"critical end load, N, {name}", load, reference, TOLERANCE, source))
        if key == "away":
            text = "Argyris et al. 1979, Simo & Vu-Quoc 1986: 1.09, from memory"
            found.append(absolute("frame-published", f"critical end load, N, {name}", load, 1.09, 0.005, text))
    return found


def frame_end_moments() -> list[Row]:
    """The frame on two hinges under opposite end moments in its plane, of either sign."""
    found = []
    c = sqrt(0.5)
    rod = _frame((c, c), (c, -c))
    source = f"Argyris et al. 1979; {SHOOTING}; pi sqrt(EI GJ)/L = 622.21"
    for reference, name in zip(FRAME_MOMENT, ("opening", "closing"), strict=True):
        sign = 1.0 if reference > 0 else -1.0
        loads = [Moment(0, (0.0, 0.0, -sign)), Moment(-1, (0.0, 0.0, sign))]
        s = Structure(rod, [Support(0, "xyz", "23"), Support(-1, "yz", "23")], loads=loads)
        load = _critical(s, 1.3 * abs(reference))
        quantity = f"critical end moments, N mm, {name} the corner"
        found.append(relative(f"frame-{name}", quantity, load, abs(reference), TOLERANCE, source))
    return found


# ---- Princeton beam ---------------------------------------------------------------------------------------------

BEAM_LENGTH, BEAM_ELEMENTS = 0.508, 80
BEAM = Section(2.4288718041122013, 36.28551939540042, 3.10354797748678, 903966.1077022902, 903966.1077022902, 2842069.4426160003)
"""Axis 1 along the long side: force along it bends about the stiff axis 2."""
BEAM_TIP: dict[tuple[float, int], tuple[float, float, float]] = {}


def _princeton(load: float, angle: float, elements: int) -> Array:
    """Tip displacement along the long side, the short side and the axis, m."""
    turned = radians(angle)
    rod = straight(BEAM_LENGTH, elements, BEAM)
    s = Structure(rod, [clamp(0)], loads=[Force(-1, (load * cos(turned), load * sin(turned), 0.0))])
    return solve_path(s, [0.25, 0.5, 0.75, 1.0])[-1].displacement[-1]


# ---- lateral-torsional buckling of narrow beams -----------------------------------------------------------------

NARROW = Section(1e5, 1.0, 1.0, 1e9, 1e9, 1e9)  # axis 1 is x: a force along y bends in the stiff plane y, z
NARROW_ELEMENTS = 80


def narrow_beams() -> list[Row]:
    """Beam much stiffer in its plane: cantilever with an end load, forks with end moments and with a middle load."""
    n = NARROW_ELEMENTS
    rod = straight(1.0, n, NARROW)
    forks = [Support(0, "xyz", "3"), Support(-1, "xy", "3")]
    moments = [Moment(0, (-1.0, 0.0, 0.0)), Moment(-1, (1.0, 0.0, 0.0))]
    cases: tuple[tuple[str, str, list[Support], list[Load], float, float, float], ...] = (
        ("cantilever", "P L2/sqrt(EI GJ), cantilever, end load", [clamp(0)], [Force(-1, (0.0, 1.0, 0.0))], 4.012599343578901, 4.013, 5e-4),
        ("moments", "M L/sqrt(EI GJ), forks, end moments", forks, moments, pi, 3.14, 5e-3),
        ("middle", "P L2/sqrt(EI GJ), forks, load in the middle", forks, [Force(n // 2, (0.0, 1.0, 0.0))], 16.93613215046591, 16.94, 5e-3),
    )
    source = "Timoshenko & Gere 1961, art. 6.1-6.4, from memory ({}), derived again: Bessel functions"
    found = []
    for key, quantity, supports, loads, reference, figure, _ in cases:
        load = _critical(Structure(rod, supports, loads=loads), 1.3 * reference)
        found.append(relative(f"narrow-{key}", quantity, load, reference, TOLERANCE, source.format(figure)))
    return found


# ---- ring -------------------------------------------------------------------------------------------------------

RING_ELEMENTS, RING_RATIO = 120, 1.3  # B/C


def ring_twist() -> list[Row]:
    """A straight isotropic rod closed into a ring, one section clamped, its two faces twisted against each other."""
    n = RING_ELEMENTS
    angle = 2.0 * pi * np.arange(n + 1) / n
    points = np.column_stack([np.cos(angle) - 1.0, np.sin(angle), 0.0 * angle])
    points[-1] = points[0]
    closed = rod_along(points, Section(1.0, 1.0, 1.0 / RING_RATIO, 1e5, 1e5, 1e5), directors=(0.0, 0.0, 1.0))
    rod = replace(closed, natural=np.zeros_like(closed.natural))  # straight when cut open: the ring is bent
    # holding the opposite node in the plane takes away the swing about the clamp's tangent, which costs nothing
    s = Structure(rod, [clamp(0), Support(-1, turn=(0.0, 0.0, 1.0)), Support(n // 2, "z", "")])
    point = critical_point(s, 20.0, step=1.0)
    print(point and (point.kind, point.factor, point.counts, point.bracket))
    return []


def _critical(s: Structure, until: float) -> float:
    """Load factor of the first critical point; nan where none is found, which fails the row."""
    point = critical_point(s, until)
    print(point and (point.kind,point.factor,point.bracket,point.counts))
    return float("nan") if point is None else point.factor


CASES: tuple[Case, ...] = (frame_end_load, frame_end_moments, narrow_beams, ring_twist)
