"""The parts a wire is built from, each over a range of distance from the tip. SI units.

A part knows the room it fills (inner and outer radius), its rigidities when it is free to slide on its neighbours, and
the curvature at which it yields. A new kind of part is one class here and one table in files/wire.py.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..checks import FieldError, Said, check_increasing, check_positive, check_range, mm
from . import sections
from .materials import Material
from .strand import lifted_strand

Array = NDArray[np.float64]

GRADE = 0.01  # largest relative change of a diameter between two knots: EI ~ d^4 is then linear within 2e-4
THINNING = 0.10  # share of its diameter by which a core may get thinner toward the hand: more than drawing tolerances,
# less than any taper, so that a list in the wrong order is seen
SHEAR_YIELD = 3.0**-0.5  # shear yield stress over tensile: von Mises
TOUCHING = 0.01  # turns closer than this share of a wire's width count as touching, and may overlap by as much on paper

Hand = Literal["right", "left"]


def _check_span(start: float, end: float) -> None:
    """Check that a part's range lies in front of the hand and is not empty."""
    check_range(start, name="start")
    if start < 0.0:
        raise FieldError("start", mm(start), "a distance from the tip of at least 0")
    if end <= start:
        raise FieldError("end", mm(end), f"more than start ({mm(start)})")


def _graded(start: float, end: float, first: float, last: float) -> Array:
    """Stations between which a linearly varying diameter changes by at most `GRADE`."""
    steps = max(1, int(np.ceil(abs(np.log(last / first)) / GRADE)))
    if steps == 1:  # nearly equal diameters would divide rounding by rounding, and lose the end
        return np.array([start, end])
    widths = first * (last / first) ** np.linspace(0.0, 1.0, steps + 1)
    return start + (end - start) * (widths - first) / (last - first)


@dataclass(frozen=True)
class Taper:
    """Round core whose diameter is piecewise linear: `diameters` (m) at `distances` from the tip (m).

    A step of the diameter is two cores, one behind the other. A core grows toward the hand: one that gets thinner by
    more than `THINNING` is refused unless `may_thin` (a waist, or a bulb at the tip, that is meant).
    """

    material: Material
    distances: tuple[float, ...]
    diameters: tuple[float, ...]
    may_thin: bool = False

    def __post_init__(self) -> None:
        check_increasing(self.distances, name="distance")
        _check_span(self.start, self.end)
        if len(self.diameters) != len(self.distances):
            raise FieldError("diameter", list(self.diameters), f"{len(self.distances)} values, one per distance")
        for value in self.diameters:
            check_positive(value, name="diameter")
        if not self.may_thin:
            self._check_growth()

    def _check_growth(self) -> None:
        """Check that the core does not taper the wrong way."""
        for s, here, most in zip(self.distances, self.diameters, np.maximum.accumulate(self.diameters), strict=True):
            if here < (1.0 - THINNING) * most:
                allowed = (
                    f"a core that grows toward the hand (it tapers the wrong way: {mm(most)} lies nearer the tip), or "
                    "may_thin = true where a waist or a bulb is meant"
                )
                raise FieldError("diameter", Said(f"{mm(here)} at {mm(s)} from the tip"), allowed)

    @property
    def start(self) -> float:
        """Distal end, m from the tip."""
        return self.distances[0]

    @property
    def end(self) -> float:
        """Proximal end, m from the tip."""
        return self.distances[-1]

    def knots(self) -> Array:
        """Stations between which the rigidities are linear to within 2e-4."""
        d, s = self.diameters, self.distances
        return np.unique(np.concatenate([_graded(s[i], s[i + 1], d[i], d[i + 1]) for i in range(len(s) - 1)]))

    def diameter(self, s: Array) -> Array:
        """Diameter at distances s, m."""
        return np.interp(s, self.distances, self.diameters)

    def room(self, s: Array) -> tuple[Array, Array]:
        """Inner and outer radius at s, m."""
        return np.zeros_like(s), self.diameter(s) / 2.0

    def rigidity(self, s: Array) -> Array:
        """Rows of sections.KEYS at s."""
        return sections.round_section(self.material, self.diameter(s))

    def yield_curvature(self, s: Array) -> Array:
        """Curvature at which the outer fibre reaches the yield strain, 1/m."""
        return self.material.yield_strain / (self.diameter(s) / 2.0)


@dataclass(frozen=True)
class Ribbon:
    """Flat core piece or shaping ribbon of `width` x `thickness` (m) on the wire's axis."""

    material: Material
    start: float
    end: float
    width: float
    thickness: float

    def __post_init__(self) -> None:
        _check_span(self.start, self.end)
        check_positive(self.width, name="width")
        check_positive(self.thickness, name="thickness")
        if self.thickness > self.width:
            raise FieldError("thickness", mm(self.thickness), f"at most the width ({mm(self.width)})")

    def knots(self) -> Array:
        """Both ends."""
        return np.array([self.start, self.end])

    def room(self, s: Array) -> tuple[Array, Array]:
        """Inner radius 0 and the radius to a corner, m."""
        return np.zeros_like(s), np.full_like(s, np.hypot(self.width, self.thickness) / 2.0)

    def rigidity(self, s: Array) -> Array:
        """Rows of sections.KEYS at s."""
        return sections.rectangle_section(self.material, np.full_like(s, self.width), np.full_like(s, self.thickness))

    def yield_curvature(self, s: Array) -> Array:
        """Curvature at which the face reaches the yield strain in easy bending, 1/m."""
        return np.full_like(s, 2.0 * self.material.yield_strain / self.thickness)


@dataclass(frozen=True)
class Strand:
    """Second strand of a twin-strand core: one wire laid around the core with `pitch`, its centre at `offset` (m).

    Joined to the core at its ends. Its own rigidities are those of a helix that lies nowhere on the core, as where
    turning or pressing slackens it. Wound up or pulled it carries more (strand.laid_strand); bonded:
    strand.bonded_strand.
    """

    material: Material
    start: float
    end: float
    wire_diameter: float
    pitch: float
    offset: float
    hand: Hand = "right"

    def __post_init__(self) -> None:
        _check_span(self.start, self.end)
        check_positive(self.wire_diameter, name="wire_diameter")
        check_positive(self.pitch, name="pitch")
        if self.pitch < self.wire_diameter:
            raise FieldError("pitch", mm(self.pitch), f"at least the wire diameter ({mm(self.wire_diameter)})")
        if not self.offset >= self.wire_diameter / 2.0:
            raise FieldError(
                "offset", mm(self.offset), f"at least half the wire diameter ({mm(self.wire_diameter / 2)})"
            )

    def helix(self, s: Array) -> sections.Helix:
        """Geometry of the strand at s."""
        return sections.Helix(self.wire_diameter, np.full_like(s, self.offset), self.pitch)

    def knots(self) -> Array:
        """Both ends."""
        return np.array([self.start, self.end])

    def room(self, s: Array) -> tuple[Array, Array]:
        """Inner and outer radius of the helix, m."""
        half = self.wire_diameter / 2.0
        return np.full_like(s, self.offset - half), np.full_like(s, self.offset + half)

    def rigidity(self, s: Array) -> Array:
        """Rows of sections.KEYS at s, lifted off the core."""
        return lifted_strand(self.material, self.helix(s))

    def yield_curvature(self, s: Array) -> Array:
        """Curvature of the axis at which the strand's wire reaches its yield strain, 1/m."""
        return _helical_yield(self.material, self.wire_diameter, self.rigidity(s)[0])


@dataclass(frozen=True)
class Coil:
    """Coil of `filars` parallel wires; `mean_diameter` at its distal end, `mean_diameter_end` at its proximal one (m).

    `pitch` is the axial length of one turn of one filar (m). The hand only matters for the sense in which turning winds
    up. `initial_tension` (N): with which touching turns are wound onto each other; it does not enter the rigidities
    (sections.preload_moments).
    """

    material: Material
    start: float
    end: float
    wire_diameter: float
    mean_diameter: float
    pitch: float
    filars: int = 1
    hand: Hand = "right"
    mean_diameter_end: float | None = None
    initial_tension: float = 0.0

    def __post_init__(self) -> None:
        _check_span(self.start, self.end)
        check_positive(self.wire_diameter, name="wire_diameter")
        for value in self.ends:
            if not value >= 2.0 * self.wire_diameter:
                allowed = f"at least twice the wire diameter ({mm(2.0 * self.wire_diameter)})"
                raise FieldError("mean_diameter", mm(value), allowed)
        if self.filars < 1:
            raise FieldError("filars", self.filars, "a whole number at least 1")
        narrow = np.pi * min(self.ends)
        abreast = self.filars * self.wire_diameter
        if abreast >= 0.99 * narrow:
            raise FieldError("filars", self.filars, f"as many as fit side by side around the coil ({mm(narrow)})")
        least = abreast / float(np.sqrt(1.0 - (abreast / narrow) ** 2))  # p cos a = n d with tan a = p/(pi D)
        if self.pitch < least * (1.0 - TOUCHING):
            raise FieldError("pitch", mm(self.pitch), f"at least {mm(least)}, where the turns touch")
        self._check_tension()

    def _check_tension(self) -> None:
        """Check that only touching turns are preloaded, and no more than their wire bears."""
        check_range(self.initial_tension, name="initial_tension", low=0.0)
        if self.initial_tension == 0.0:
            return
        given = Said(f"{self.initial_tension * 1e3:.4g} mN")
        if not self.touching:
            raise FieldError("initial_tension", given, "0 for a coil whose turns do not touch")
        unit = float(np.max(sections.winding_stress(1.0, self.wire_diameter, 0.5 * np.array(self.ends))))
        most = self.filars * SHEAR_YIELD * self.material.yield_strain * self.material.E / unit
        if self.initial_tension > most:
            allowed = f"at most {most * 1e3:.4g} mN, at which the wire yields in shear"
            raise FieldError("initial_tension", given, allowed)

    @property
    def ends(self) -> tuple[float, float]:
        """Mean diameter at the distal and the proximal end, m."""
        return self.mean_diameter, self.mean_diameter if self.mean_diameter_end is None else self.mean_diameter_end

    def radius(self, s: Array) -> Array:
        """Radius of the wire's centreline at s, m."""
        return np.interp(s, [self.start, self.end], self.ends) / 2.0

    def helix(self, s: Array) -> sections.Helix:
        """Geometry of one filar at s."""
        return sections.Helix(self.wire_diameter, self.radius(s), self.pitch)

    def closeness(self, s: Array) -> Array:
        """Share of the axis covered by wire: 1 = turns touch, -. A wire's axial width is d/cos a."""
        return self.filars * self.wire_diameter / (np.cos(self.helix(s).angle) * self.pitch)

    @property
    def touching(self) -> bool:
        """Whether the turns touch, so that the coil resists closing."""
        return bool(np.min(self.closeness(np.array([self.start, self.end]))) >= 1.0 - TOUCHING)

    def knots(self) -> Array:
        """Stations between which the rigidities are linear to within 2e-4."""
        return _graded(self.start, self.end, *self.ends)

    def room(self, s: Array) -> tuple[Array, Array]:
        """Inner and outer radius of the coil, m."""
        return self.radius(s) - self.wire_diameter / 2.0, self.radius(s) + self.wire_diameter / 2.0

    def rigidity(self, s: Array) -> Array:
        """Rows of sections.KEYS at s, as an open coil."""
        return sections.open_coil(self.material, self.helix(s), self.filars)

    def winding(self, s: Array) -> Array:
        """Torsional rigidity where turning winds the coil up, N m2: more than the open coil's where turns touch."""
        if not self.touching:
            return np.asarray(self.rigidity(s)[2])
        return sections.wound_coil(self.material, self.helix(s), self.filars)

    def closing_curvature(self, s: Array) -> Array:
        """Curvature of the axis at which neighbouring turns meet on the inner side of a bend, 1/m; 0 where they touch.

        A gap g of a pitch p closes at kappa R = g/p, R the mean radius, where neighbouring wires meet.
        """
        gap = np.zeros_like(s) if self.touching else np.maximum(1.0 - self.closeness(s), 0.0)
        return np.asarray(gap / self.radius(s))

    def solid(self, s: Array) -> Array:
        """Rows of sections.KEYS of the coil's envelope as a solid tube times pi/4, the wire's share of its square."""
        inner, outer = self.room(s)
        return np.pi / 4.0 * sections.tube_section(self.material, 2.0 * outer, 2.0 * inner)

    def yield_curvature(self, s: Array) -> Array:
        """Curvature of the axis at which the coil's wire reaches its yield strain, 1/m."""
        return _helical_yield(self.material, self.wire_diameter, self.rigidity(s)[0] / self.filars)


@dataclass(frozen=True)
class Jacket:
    """Polymer tube (m): `outer_diameter` is that of its distal end, `outer_diameter_end` of its proximal one."""

    material: Material
    start: float
    end: float
    outer_diameter: float
    inner_diameter: float
    outer_diameter_end: float | None = None

    def __post_init__(self) -> None:
        _check_span(self.start, self.end)
        check_positive(self.inner_diameter, name="inner_diameter")
        for name, value in zip(("outer_diameter", "outer_diameter_end"), self.ends, strict=True):
            if not value > self.inner_diameter:
                raise FieldError(name, mm(value), f"more than inner_diameter ({mm(self.inner_diameter)})")

    @property
    def ends(self) -> tuple[float, float]:
        """Outer diameter at the distal and the proximal end, m."""
        return self.outer_diameter, self.outer_diameter if self.outer_diameter_end is None else self.outer_diameter_end

    def outer(self, s: Array) -> Array:
        """Outer diameter at s, m."""
        return np.interp(s, [self.start, self.end], self.ends)

    def knots(self) -> Array:
        """Stations between which the wall, and with it the rigidities, change by at most `GRADE` times a few."""
        walls = [outer - self.inner_diameter for outer in self.ends]
        return _graded(self.start, self.end, *walls)

    def room(self, s: Array) -> tuple[Array, Array]:
        """Inner and outer radius, m."""
        return np.full_like(s, self.inner_diameter / 2.0), self.outer(s) / 2.0

    def rigidity(self, s: Array) -> Array:
        """Rows of sections.KEYS at s."""
        return sections.tube_section(self.material, self.outer(s), np.full_like(s, self.inner_diameter))

    def yield_curvature(self, s: Array) -> Array:
        """Curvature at which the outer fibre reaches the limit strain, 1/m."""
        return np.asarray(2.0 * self.material.yield_strain / self.outer(s))


Part = Taper | Ribbon | Strand | Coil | Jacket


def _helical_yield(material: Material, wire: float, bending: Array) -> Array:
    """Axis curvature at which a helical wire yields in bending: (EI_helix/EI_wire) kappa d/2 = yield strain.

    The wire carries the axis moment EI_helix kappa; where the moment acts in bending its fibre strain is M d/(2
    EI_wire); where it acts in torsion the equivalent stress is smaller (sqrt 3 x 16 against 32, von Mises).
    """
    own = sections.round_section(material, np.array(wire))[0]
    return np.asarray(material.yield_strain * own / (bending * wire / 2.0))
