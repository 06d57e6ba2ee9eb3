"""A wire design: a stack of parts, and the stiffness profile it comes to. SI units.

Parts that slide on each other add (lower bound); parts bonded to one section give the upper bound; touching turns of a
coil resist closing, which lies between. The simulation uses the design's stated coupling.
"""

from dataclasses import dataclass, field
from itertools import combinations
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..checks import FieldError, Said, mm
from ..profile import Profile
from . import sections
from .curvature import has_law, part_law
from .parts import Coil, Part, Ribbon, Strand, Taper
from .tip import Bend, Surface, Tip

Array = NDArray[np.float64]
Coupling = Literal["sliding", "bonded"]

SHORTEST = 80e-3  # m, a profile must reach at least so far: the softness family blends to 60 mm, runs model 50 mm
STEP = 2e-6  # m, half the distance of the two knots at a jump of the section: 1/50 of the smallest element
SEAM = 1e-9  # m, parts may miss each other by so much: rounding of a file's numbers
FIT = 1e-6  # m, parts may overlap radially by so much on paper: a thousandth of a millimetre is below drawing tolerance


@dataclass(frozen=True)
class Design:
    """A guidewire's distal construction.

    Parameters
    ----------
    name : str
        shown to users
    parts : tuple of Part
        in any order
    tip, surface : Tip, Surface
        end and surface
    coupling : {"sliding", "bonded"}
        which bound the simulation uses
    bend : Bend
        preshape of the tip
    note : str
        shown with the wire ("invented example", where a measured one comes from)
    """

    name: str
    parts: tuple[Part, ...]
    tip: Tip
    surface: Surface
    coupling: Coupling = "sliding"
    bend: Bend = field(default_factory=Bend)
    note: str = ""

    def __post_init__(self) -> None:
        if not self.parts:
            raise FieldError("parts", Said("empty"), "at least one core, ribbon or coil")
        if self.length < SHORTEST:
            raise FieldError("length", mm(self.length), f"parts that reach at least {mm(SHORTEST)} from the tip")
        if self.bend.length > self.length:
            raise FieldError("bend.length", mm(self.bend.length), f"at most the wire's length ({mm(self.length)})")
        self._check_cover()
        self._check_room()
        largest = float(np.max(self.radius(np.array([0.0, 1e-3]))))
        if self.tip.diameter > 2.0 * (largest + FIT):
            allowed = f"at most the wire's diameter there ({mm(2.0 * largest)})"
            raise FieldError("tip.diameter", mm(self.tip.diameter), allowed)

    @property
    def length(self) -> float:
        """Distance from the tip to the proximal end of the last part, m."""
        return max(part.end for part in self.parts)

    def knots(self) -> Array:
        """Stations of the profile: those of the parts, with a close pair wherever a part starts or ends."""
        stations = np.concatenate([part.knots() for part in self.parts])
        jumps = np.array([s for part in self.parts for s in (part.start, part.end) if 0.0 < s < self.length])
        near = np.min(np.abs(stations[:, None] - jumps), axis=1, initial=np.inf)
        pairs = np.clip(np.concatenate([jumps - STEP, jumps + STEP]), 0.0, self.length)
        joined = np.unique(np.concatenate([[0.0, self.length], stations[near > STEP], pairs]))
        return np.asarray(joined[np.concatenate([[True], np.diff(joined) > STEP / 2.0])])

    def radius(self, s: Array) -> Array:
        """Outer radius at s, m."""
        out = np.zeros_like(s)
        for part, here in self._present(s):
            out[here] = np.maximum(out[here], part.room(s[here])[1])
        return out

    def yield_curvature(self, s: Array) -> dict[str, Array]:
        """Curvature at which each part yields at s, 1/m; nan where the part is absent. Keys: 'coil 1', 'core 1', ..."""
        out: dict[str, Array] = {}
        for name, part in self.named_parts():
            value = np.full_like(s, np.nan)
            here = _inside(part, s)
            value[here] = part.yield_curvature(s[here])
            out[name] = value
        return out

    def named_parts(self) -> list[tuple[str, Part]]:
        """Parts with the names of their tables in a file, numbered from 1: 'core 1', 'coil 2', ..."""
        words = {Taper: "core", Ribbon: "ribbon", Strand: "strand", Coil: "coil"}
        counts: dict[str, int] = {}
        out = []
        for part in self.parts:
            word = words.get(type(part), "jacket")
            counts[word] = counts.get(word, 0) + 1
            out.append((f"{word} {counts[word]}", part))
        return out

    def touching(self) -> bool:
        """Whether any coil's turns touch, so that the bound 'touching' differs from 'sliding'."""
        return any(isinstance(part, Coil) and part.touching for part in self.parts)

    def _present(self, s: Array) -> list[tuple[Part, NDArray[np.bool_]]]:
        """Parts with the stations at which each is present."""
        return [(part, here) for part in self.parts if np.any(here := _inside(part, s))]

    def _check_cover(self) -> None:
        """Check that some part carries at every distance."""
        reached = 0.0
        for part in sorted(self.parts, key=lambda p: p.start):
            if part.start > reached + SEAM:
                gap = Said(f"missing from {mm(reached)} to {mm(part.start)}")
                raise FieldError("parts", gap, "parts that cover every distance from the tip on")
            reached = max(reached, part.end)

    def _check_room(self) -> None:
        """Check that no two parts fill the same room."""
        for (one, a), (two, b) in combinations(self.named_parts(), 2):
            low, high = max(a.start, b.start), min(a.end, b.end)
            if high <= low + 2.0 * STEP:
                continue
            s = np.unique(np.clip(np.concatenate([a.knots(), b.knots()]), low + STEP, high - STEP))
            (a_in, a_out), (b_in, b_out) = a.room(s), b.room(s)
            clash = np.minimum(a_out - b_in, b_out - a_in)
            if np.max(clash) > FIT:
                i = int(np.argmax(clash))
                raise FieldError(
                    f"{one} and {two}",
                    Said(f"an overlap of {mm(clash[i])} at {mm(s[i])} from the tip"),
                    "parts one inside the other",
                )


def profile(
    design: Design, coupling: Coupling | None = None, *, touching: bool = False, linear: bool = False
) -> Profile:
    """Stiffness profile of a design.

    Parameters
    ----------
    design : Design
        the construction
    coupling : {"sliding", "bonded"}, optional
        bound; the design's own by default
    touching : bool
        with sliding parts: count that touching turns resist closing (sections.closing_gain)
    linear : bool
        leave out the laws of parts whose bending leaves the line (curvature.has_law): M = EI kappa everywhere

    Returns
    -------
    Profile
        piecewise linear over distance from the tip
    """
    s = design.knots()
    table = _sliding(design, s, touching=touching)
    if (coupling or design.coupling) == "bonded":
        table = _bonded(design, s, _sliding(design, s, touching=True))
    rows = dict(zip(sections.KEYS, table, strict=True))
    bent = [] if linear else [(part, here) for part, here in design._present(s) if has_law(part)]
    return Profile(
        distance=s,
        radius=design.radius(s),
        tip_radius=design.tip.diameter / 2.0,
        friction=design.surface.median,
        name=design.name,
        laws=tuple(part_law(part, s, here, rows["EI1"]) for part, here in bent),
        **rows,
    )


def _sliding(design: Design, s: Array, *, touching: bool) -> Array:
    """Sum of the parts' own rigidities."""
    table = np.zeros((len(sections.KEYS), len(s)))
    for part, here in design._present(s):
        own = part.rigidity(s[here])
        if touching and isinstance(part, Coil) and part.touching:
            own = own + sections.closing_gain(own, part.radius(s[here]))
        table[:, here] += own
    return table


def _bonded(design: Design, s: Array, floor: Array) -> Array:
    """Rigidities with every part bonded to one section, never below the sliding ones (`floor`)."""
    base = np.zeros((len(sections.KEYS), len(s)))
    for part, here in design._present(s):
        if isinstance(part, Coil):
            continue
        base[:, here] += part.rigidity(s[here])
        if isinstance(part, Strand):
            base[:, here] += sections.stuck_strand(part.material, part.helix(s[here]))
    for part, here in design._present(s):
        if isinstance(part, Coil):
            covered = np.where(part.touching, 1.0, np.minimum(part.closeness(s[here]), 1.0))
            base[:, here] = sections.bonded_coil(base[:, here], part.solid(s[here]), covered)
    table = np.maximum(base, floor)
    table[5] = floor[5]
    return table


def _inside(part: Part, s: Array) -> NDArray[np.bool_]:
    """Stations at which a part is present; its very ends belong to it only at the tip and at the proximal end."""
    return (s >= part.start) & (s <= part.end)


def least_bend_radii(design: Design, within: float = 10e-3) -> dict[str, float]:
    """Smallest bend radius of the wire's axis that each part survives without yield over the distal `within` (m), m.

    A part absent there is left out. Keys as in `Design.named_parts`.
    """
    s = design.knots()
    s = s[s <= within]
    curvatures = design.yield_curvature(s)
    return {name: 1.0 / float(np.nanmin(k)) for name, k in curvatures.items() if np.any(np.isfinite(k))}
