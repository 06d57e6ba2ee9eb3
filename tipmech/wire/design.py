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
from . import sections, strand
from .curvature import has_law, part_law
from .parts import THINNING, Coil, Jacket, Part, Ribbon, Strand, Taper
from .tip import Bend, SecondBend, Surface, Tip

Array = NDArray[np.float64]
Coupling = Literal["sliding", "bonded"]

SHORTEST = 80e-3  # m, a profile must reach at least so far: the softness family blends to 60 mm, runs model 50 mm
STEP = 2e-6  # m, half the distance of the two knots at a jump of the section: 1/50 of the smallest element
SEAM = 1e-9  # m, parts may miss each other by so much: rounding of a file's numbers
BEND_STATIONS = 21  # along a bend, where the wire's radius is looked up: radii vary slowly
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
    second_bend : SecondBend, optional
        a second bend behind the first
    note : str
        shown with the wire ("invented example", where a measured one comes from)
    may_gap : bool
        stretches without a core or ribbon are meant: coils or jackets alone carry there
    """

    name: str
    parts: tuple[Part, ...]
    tip: Tip
    surface: Surface
    coupling: Coupling = "sliding"
    bend: Bend = field(default_factory=Bend)
    note: str = ""
    second_bend: SecondBend | None = None
    may_gap: bool = False

    def __post_init__(self) -> None:
        if not self.parts:
            raise FieldError("core", Said("missing, as are all other parts"), "at least one core or ribbon")
        if self.length < SHORTEST:
            last = max(self.named_parts(), key=lambda named: named[1].end)[0]
            raise FieldError(f"{last}.end", mm(self.length), f"parts that reach at least {mm(SHORTEST)} from the tip")
        if self.bend.length > self.length:
            raise FieldError("bend.length", mm(self.bend.length), f"at most the wire's length ({mm(self.length)})")
        self._check_second_bend()
        self._check_cover()
        self._check_room()
        self._check_thinning()
        self._check_tip()
        self._check_bends()

    def _check_second_bend(self) -> None:
        """Check that the second bend lies behind the first, on the wire."""
        second = self.second_bend
        if second is None:
            return
        first = self.bend.length if self.bend.angle > 0.0 else 0.0
        if second.distance < first - SEAM:
            allowed = f"at least the length of the first bend ({mm(first)}): bends must not overlap"
            raise FieldError("second_bend.distance", mm(second.distance), allowed)
        if second.distance + second.length > self.length:
            end = second.distance + second.length
            said = Said(f"{mm(second.distance)}, which ends the bend at {mm(end)}")
            raise FieldError("second_bend.distance", said, f"a bend that ends on the wire, {mm(self.length)} long")

    def _check_bends(self) -> None:
        """Check that no bend is so sharp that the inner side of the wire would fold into itself."""
        second = self.second_bend
        bends = [("bend", self.bend, 0.0)] + ([] if second is None else [("second_bend", second, second.distance)])
        for name, bend, start in bends:
            s = np.linspace(start, start + bend.length, BEND_STATIONS)
            least = bend.angle * float(np.max(self.radius(s)))
            if bend.length < least:
                allowed = (
                    f"at least {mm(least)} for {np.degrees(bend.angle):.4g} deg: on a shorter arc the inner side of "
                    "the wire would fold into itself"
                )
                raise FieldError(f"{name}.length", mm(bend.length), allowed)

    def _check_tip(self) -> None:
        """Check that the end is no wider than the wire behind it, and that the parts in a tapered end fit into it."""
        cone = 0.0 if self.tip.length is None else self.tip.length
        if cone > 0.0:
            for name, part in self.named_parts():
                s = np.unique(np.clip(np.append(part.knots(), cone - STEP), part.start, None))
                s = s[(s < cone) & (s <= part.end)]
                out = part.room(s)[1] - self.tip.room(s)
                if len(s) and np.max(out) > FIT:
                    i = int(np.argmax(out))
                    raise FieldError(
                        f"{name}.{_width(part)}",
                        Said(f"so that the part is {mm(2.0 * part.room(s)[1][i])} wide at {mm(s[i])} from the tip"),
                        f"parts inside the tapered tip ({mm(2.0 * self.tip.room(s)[i])} there)",
                    )
        largest = float(np.max(self._part_radius(np.array([cone, cone + 1e-3]))))
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
        ends = [s for part in self.parts for s in (part.start, part.end)] + [self.tip.length or 0.0]
        jumps = np.array([s for s in ends if 0.0 < s < self.length])
        near = np.min(np.abs(stations[:, None] - jumps), axis=1, initial=np.inf)
        pairs = np.clip(np.concatenate([jumps - STEP, jumps + STEP]), 0.0, self.length)
        joined = np.unique(np.concatenate([[0.0, self.length], stations[near > STEP], pairs]))
        return np.asarray(joined[np.concatenate([[True], np.diff(joined) > STEP / 2.0])])

    def radius(self, s: Array) -> Array:
        """Outer radius at s, m: that of a tapered tip within it, else of the outermost part."""
        cone = self.tip.room(s)
        return np.where(np.isfinite(cone), cone, self._part_radius(s))

    def _part_radius(self, s: Array) -> Array:
        """Outer radius of the outermost part at s, m."""
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
        """Check that a core or ribbon reaches all along the wire, and some part where gaps are meant."""
        along: tuple[Part, ...] = self.parts
        allowed = "parts that cover every distance from the tip on"
        if not self.may_gap:
            along = tuple(part for part in self.parts if isinstance(part, Taper | Ribbon))
            allowed = (
                "a core or ribbon at every distance from the tip to the end of the last part, or may_gap = true where "
                "coils or jackets alone are meant to carry"
            )
        reached = 0.0
        for start, end in sorted([(part.start, part.end) for part in along] + [(self.length, self.length)]):
            if start > reached + SEAM:
                what = "missing, as is any other part, from" if self.may_gap else "missing, as is a ribbon, from"
                raise FieldError("core", Said(f"{what} {mm(reached)} to {mm(start)}"), allowed)
            reached = max(reached, end)

    def _check_thinning(self) -> None:
        """Check that no core thins behind the widest of those in front of it, up to a gap or a core that may thin."""
        cores = sorted((p for p in self.parts if isinstance(p, Taper)), key=lambda p: p.start)
        most = 0.0
        for one, two in zip(cores, cores[1:], strict=False):
            most = max(most, *one.diameters)
            if one.may_thin or two.may_thin or two.start > one.end + SEAM:
                most = 0.0
            for s, here in zip(two.distances, two.diameters, strict=True):
                if here < (1.0 - THINNING) * most:
                    thin = Said(f"{mm(here)} at {mm(s)}, behind a core of {mm(most)}")
                    raise FieldError("core", thin, "cores that get thicker toward the hand, or may_thin = true")

    def _check_room(self) -> None:
        """Check that no two parts fill the same room."""
        for (one, a), (two, b) in combinations(self.named_parts(), 2):
            low, high = max(a.start, b.start), min(a.end, b.end)
            if high <= low + 2.0 * STEP:
                continue
            s = np.unique(np.clip(np.concatenate([a.knots(), b.knots()]), low + STEP, high - STEP))
            (a_in, a_out), (b_in, b_out) = a.room(s), b.room(s)
            clash = np.minimum(a_out - b_in, b_out - a_in)
            _check_jacket(one, a, two, b, s)
            if np.max(clash) > FIT:
                i = int(np.argmax(clash))
                field, value, other = _clashing((one, a, a_out[i]), (two, b, b_out[i]))
                raise FieldError(
                    field,
                    Said(f"{mm(value)}, an overlap of {mm(clash[i])} with {other} at {mm(s[i])} from the tip"),
                    f"parts one inside the other ({_rooms(one, a_in[i], a_out[i])}, {_rooms(two, b_in[i], b_out[i])})",
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
        with sliding parts: rigidities with touching turns shut (sections.closing_gain)
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
        tip_radius=design.tip.contact_radius,
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
            own = own + sections.closing_gain(part.material, part.helix(s[here]), part.filars)
        table[:, here] += own
    return table


def _bonded(design: Design, s: Array, floor: Array) -> Array:
    """Rigidities with every part bonded to one section, never below the sliding ones (`floor`, strands held)."""
    base = np.zeros((len(sections.KEYS), len(s)))
    present = design._present(s)
    for part, here in present:
        if not isinstance(part, Coil):
            base[:, here] += part.rigidity(s[here])
    gain = np.zeros_like(base)
    for part, here in present:
        if isinstance(part, Strand):
            tied = strand.bonded_strand(base[:, here], part.material, part.helix(s[here]))
            gain[:, here] += tied
            floor[2:, here] += tied[2:]
    base[2:] += gain[2:]
    along = base.copy()  # bent in the plane of the strand's offset
    along[:2] += gain[:2]
    for part, here in present:
        if isinstance(part, Coil):
            covered = np.where(part.touching, 1.0, np.minimum(part.closeness(s[here]), 1.0))
            for table in (base, along):
                table[:, here] = sections.bonded_coil(table[:, here], part.solid(s[here]), covered)
    turned = np.any(gain[:2] > 0.0, axis=0)
    base[:2, turned] = strand.mean_direction(base[:2, turned], along[:2, turned])
    table = np.maximum(base, floor)
    table[5] = floor[5]
    return table


def _check_jacket(one: str, a: Part, two: str, b: Part, s: Array) -> None:
    """Check that a jacket lies around the coils it shares a stretch with."""
    if isinstance(a, Coil) and isinstance(b, Jacket):
        one, a, two, b = two, b, one, a
    if not (isinstance(a, Jacket) and isinstance(b, Coil)):
        return
    jacket, coil = a.room(s)[1], b.room(s)[1]
    if np.any(jacket < coil - FIT):
        i = int(np.argmax(coil - jacket))
        said = Said(f"{mm(2.0 * jacket[i])} at {mm(s[i])} from the tip")
        allowed = f"a jacket around {two}, which is {mm(2.0 * coil[i])} wide there"
        raise FieldError(f"{one}.outer_diameter", said, allowed)


def _clashing(one: tuple[str, Part, float], two: tuple[str, Part, float]) -> tuple[str, float, str]:
    """Field that decides whether two parts (name, part, outer radius) have room, its value, and the other part.

    That is the diameter of the hollow one's room; of two solid ones the place where the proximal one begins.
    """
    for (name, part, _), (other, _, _) in ((two, one), (one, two)) if two[2] >= one[2] else ((one, two), (two, one)):
        if isinstance(part, Coil):
            return f"{name}.mean_diameter", part.mean_diameter, other
        if isinstance(part, Jacket):
            return f"{name}.inner_diameter", part.inner_diameter, other
        if isinstance(part, Strand):
            return f"{name}.offset", part.offset, other
    (name, part, _), (other, _, _) = sorted((one, two), key=lambda named: named[1].start, reverse=True)
    return f"{name}.start", part.start, other


def _width(part: Part) -> str:
    """Field that decides how wide a part is."""
    fields = {Taper: "diameter", Ribbon: "width", Strand: "offset", Coil: "mean_diameter"}
    return fields.get(type(part), "outer_diameter")


def _rooms(name: str, inner: float, outer: float) -> str:
    """Words for the room a part fills."""
    return f"{name} fills the diameters {mm(2.0 * inner)} to {mm(2.0 * outer)}"


def _inside(part: Part, s: Array) -> NDArray[np.bool_]:
    """Stations at which a part is present; its very ends belong to it only at the tip and at the proximal end."""
    return (s >= part.start) & (s <= part.end)


def least_bend_radii(design: Design, within: float = 10e-3) -> dict[str, float]:
    """Smallest bend radius of the wire's axis that each part survives without yield over the distal `within` (m), m.

    A part absent there is left out. Keys as in `Design.named_parts`.
    """
    s = design.knots()
    s = np.append(s[s < within], within)  # the end itself need not be a knot
    curvatures = design.yield_curvature(s)
    return {name: 1.0 / float(np.nanmin(k)) for name, k in curvatures.items() if np.any(np.isfinite(k))}
