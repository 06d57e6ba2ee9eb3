"""What a construction report says beside the rigidities: bounds, coils, the sense of turning. SI units.

None of it enters the simulation, which takes the design's stated coupling.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..profile import Profile
from . import sections
from .design import FIT, Design, profile
from .parts import Coil, Strand
from .strand import laid_strand

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Bounds:
    """The same wire with its parts free and tied.

    sliding : parts slide on each other, coils open, strands lifted off their core: the lower bound
    touching : as before, but touching turns are shut (`sliding` where none touch): they do not close on the inner side
        of a bend (EI), are wound up (GJ), pressed solid (EA), do not close where shear leans on them (GA)
    bonded : all parts one section: the upper bound
    used : the design's stated coupling, "sliding" or "bonded"
    """

    sliding: Profile
    touching: Profile
    bonded: Profile
    used: str


@dataclass(frozen=True)
class CoilFacts:
    """One coil of a design.

    name : its table in a file, "coil 1"
    index : mean diameter over wire diameter at the narrower end, -
    helix_angle : rad, from the transverse plane, the largest
    gap : open share of the axis, 0 where turns touch, -
    closing_radius : bend radius of the axis below which neighbouring turns meet on the inner side, m; inf where they
        touch straight: there the bound `touching` holds from the start
    opening_tension : axial force at which preloaded touching turns part, N
    opening_moments : moments at which they begin to part and have parted, N m (sections.preload_moments)
    winding_stress : shear stress of the wire at the initial tension, Pa
    """

    name: str
    index: float
    helix_angle: float
    gap: float
    closing_radius: float
    opening_tension: float
    opening_moments: tuple[float, float]
    winding_stress: float


@dataclass(frozen=True)
class Turning:
    """Torsional rigidity in either sense of turning the proximal end, as seen by the operator looking toward the tip.

    distance : ndarray, shape (n,), from the tip, m
    clockwise, counterclockwise : ndarray, shape (n,), N m2, parts sliding
    pulled : ndarray, shape (n,), axial rigidity under a pull, parts sliding, N
    """

    distance: Array
    clockwise: Array
    counterclockwise: Array
    pulled: Array


def bounds(design: Design) -> Bounds:
    """Profiles of a design under each coupling."""
    return Bounds(
        profile(design, "sliding"),
        profile(design, "sliding", touching=True),
        profile(design, "bonded"),
        design.coupling,
    )


def coil_facts(design: Design) -> tuple[CoilFacts, ...]:
    """Facts of every coil, in the order of the parts."""
    return tuple(_facts(name, part) for name, part in design.named_parts() if isinstance(part, Coil))


def turning(design: Design, s: Array) -> Turning:
    """GJ at distances s from the tip (m) in both senses, with what resists only while it is wound up; EA under a pull.

    That is a coil with touching turns (sections.wound_coil) and a strand joined at its ends, which slackens the other
    way (strand.laid_strand; each strand as if it were the only one). Turning the proximal end clockwise, the tip held,
    unwinds a right-hand helix and winds up a left-hand one.
    """
    plain, axial = np.zeros_like(s), np.zeros_like(s)
    gain = {"right": np.zeros_like(s), "left": np.zeros_like(s)}
    for part in design.parts:
        here = (s >= part.start) & (s <= part.end)
        at = s[here]
        own = part.rigidity(at)
        plain[here] += own[2]
        axial[here] += own[3]
        if isinstance(part, Coil):
            gain[part.hand][here] += part.winding(at) - own[2]
        elif isinstance(part, Strand):
            torsion, pull = laid_strand(_inside(design, part, at), part.material, part.helix(at))
            gain[part.hand][here] += torsion - own[2]
            axial[here] += pull - own[3]
    return Turning(s, plain + gain["left"], plain + gain["right"], axial)


def _inside(design: Design, strand: Strand, s: Array) -> Array:
    """Rows of `sections.KEYS` at s of all that lies inside a strand: what it bows. A coil around it has play."""
    table = np.zeros((len(sections.KEYS), len(s)))
    for part in design.parts:
        here = (s >= part.start) & (s <= part.end)
        if isinstance(part, Strand) or not np.any(here):
            continue
        here[here] = part.room(s[here])[1] <= strand.room(s[here])[0] + FIT
        table[:, here] += part.rigidity(s[here])
    return table


def _facts(name: str, coil: Coil) -> CoilFacts:
    """Facts of one coil; where its diameter varies, at the end that decides."""
    s = np.array([coil.start, coil.end])
    radius = coil.radius(s)
    closing = float(np.min(coil.closing_curvature(s)))
    start, full = sections.preload_moments(coil.initial_tension, float(np.min(radius)))
    return CoilFacts(
        name=name,
        index=float(2.0 * np.min(radius) / coil.wire_diameter),
        helix_angle=float(np.max(coil.helix(s).angle)),
        gap=0.0 if coil.touching else float(np.min(1.0 - coil.closeness(s))),
        closing_radius=np.inf if closing == 0.0 else 1.0 / closing,
        opening_tension=coil.initial_tension,
        opening_moments=(start, full),
        winding_stress=float(
            np.max(sections.winding_stress(coil.initial_tension / coil.filars, coil.wire_diameter, radius))
        ),
    )
