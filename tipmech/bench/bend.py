"""Strain of a wire's parts in a bend, and the shape that a bend leaves: kink, least radii, springback.

The parts slide on each other and share the axis curvature. Strain: curvature over the part's limit curvature
(`Design.yield_curvature`). Set: every part that yields is elastic-plastic with its material's hardening, loaded
once and unloaded once; unloading follows Masing's rule, exact for such fibres. Parts that recover (superelastic alloys,
polymers) stay elastic: their plateau and their creep are left out, so they pull back harder here than in truth.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.optimize import brentq

from ..checks import FieldError, check_positive, mm
from ..rod.elastic import Array
from ..wire.design import Design
from ..wire.materials import Hardening
from ..wire.parts import Part, Ribbon

Shape = Literal["rectangle", "round"]

DISTAL = 30e-3  # m from the tip that is looked at
RADII = tuple(r * 1e-3 for r in (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0, 20.0))  # m, of bends
MANDRELS = tuple(r * 1e-3 for r in (0.25, 0.35, 0.5, 0.7, 1.0, 1.4, 2.0, 2.8, 4.0, 5.6, 8.0))  # m, radii for shaping
SHAPED_AT = 2e-3  # m from the tip: where a tip is usually bent (common practice, no source)
WOUND = np.pi / 2.0  # rad, angle by which the wire is wound on the mandrel
STEP = 0.25e-3  # m between stations, beside the knots of the parts
YIELDS = "yield"  # Material.limit of a material that keeps a set beyond its yield strain
SUPERELASTIC = "superelastic plateau"  # Material.limit of one that recovers beyond it
RECOVERED = 0.06  # strain from which a superelastic alloy still comes back over 100 bends (8 % over one): data sheet
ROOT = 1e-12  # of the imposed curvature: accuracy of the kept one


@dataclass(frozen=True)
class BendTest:
    """Result of a bend test of a wire of p parts, at n stations, r bend radii and m mandrels.

    parts : names of the parts as in `Design.named_parts`, those present in the distal length
    station : ndarray, shape (n,), distance from the tip, m
    limit_radius : ndarray, shape (p, n), bend radius of the wire's axis at which each part reaches its limit, m; nan
        where it is absent
    least_radius : ndarray, shape (p,), largest of these over the distal length: the part survives a bend of it, m
    radius : ndarray, shape (r,), bend radii, m
    strain : ndarray, shape (p, r), largest strain over its limit along the distal length
    limits : what begins at each part's limit, in words
    kink_radius : bend radius of the axis below which some part takes a set, m: beyond its limit strain, a superelastic
        one beyond RECOVERED
    shaped_at : station of the shaping figures, m from the tip
    set_radius : bend radius of the axis there below which a part takes a set, m (0: none can)
    mandrel : ndarray, shape (m,), radius of mandrels, m
    kept : ndarray, shape (m,), share of the bend on each that stays after springback, -
    residual_angle : ndarray, shape (m,), angle that stays of a quarter turn around it, rad
    definition : the test in words
    """

    parts: tuple[str, ...]
    station: Array
    limit_radius: Array
    least_radius: Array
    radius: Array
    strain: Array
    limits: tuple[str, ...]
    kink_radius: float
    shaped_at: float
    set_radius: float
    mandrel: Array
    kept: Array
    residual_angle: Array
    definition: str


@dataclass(frozen=True)
class Law:
    """Moment of a part against curvature.

    rigidity : N m2
    limit : curvature at which it yields, 1/m (inf: it stays elastic)
    shape : of the section that yields
    """

    rigidity: float
    limit: float
    shape: Shape

    def moment(self, curvature: float) -> float:
        """Moment of the first loading to a curvature (1/m), N m."""
        if np.isinf(self.limit):
            return self.rigidity * curvature
        return self.rigidity * self.limit * plastic_moment(curvature / self.limit, self.shape)

    def unloaded(self, most: float, curvature: float) -> float:
        """Moment at a curvature (1/m) after loading to `most`, N m: Masing's rule."""
        back = 0.5 * (most - curvature)
        return self.moment(most) - 2.0 * self.moment(back)


def plastic_moment(curvature: float, shape: Shape) -> float:
    """Moment over the yield moment of an elastic-perfectly plastic section at a curvature over its yield curvature.

    Rectangle: 3/2 - 1/(2 k^2), at most 1.5; round: the integral of the stress times the distance from the axis, at most
    16/(3 pi). Standard; derived in docs/theory.md.
    """
    k = abs(curvature)
    if k <= 1.0:
        return curvature
    a = 1.0 / k  # height of the elastic core over the section's
    if shape == "rectangle":
        value = 1.5 - 0.5 * a * a
    else:
        core = k * (np.arcsin(a) / 8.0 - np.sin(4.0 * np.arcsin(a)) / 32.0)
        value = 16.0 / np.pi * (core + (1.0 - a * a) ** 1.5 / 3.0)
    return float(np.copysign(value, curvature))


def springback(laws: Sequence[Law], curvature: float) -> float:
    """Curvature that stays when parts bent together to `curvature` (1/m) are let go: their moments cancel, 1/m."""
    if curvature <= 0.0:
        raise FieldError("curvature", curvature, "greater than 0")
    if all(curvature <= law.limit for law in laws):
        return 0.0

    def left(kept: float) -> float:
        return sum(law.unloaded(curvature, kept) for law in laws)

    return float(brentq(left, 0.0, curvature, xtol=ROOT * curvature))


def bend(
    design: Design,
    *,
    radii: Sequence[float] = RADII,
    mandrels: Sequence[float] = MANDRELS,
    distal: float = DISTAL,
    shaped_at: float = SHAPED_AT,
) -> BendTest:
    """Strains of a wire's parts in bends, their least radii, and what a bend around a mandrel leaves.

    Parameters
    ----------
    design : Design
        the wire
    radii : sequence of float
        bend radii of the wire's axis, m
    mandrels : sequence of float
        radii of round mandrels, m; the axis bends to this plus the wire's own radius
    distal : float
        length from the tip that is looked at, m
    shaped_at : float
        distance from the tip at which the wire is shaped, m

    Raises
    ------
    FieldError
        when an argument is out of range
    """
    for name, values in (("radii", radii), ("mandrels", mandrels)):
        if not len(values):
            raise FieldError(name, list(values), "at least one length")
        for value in values:
            check_positive(value, name=name)
    for name, value in (("distal", distal), ("shaped_at", shaped_at)):
        check_positive(value, name=name)
        if value > design.length:
            raise FieldError(name, mm(value), f"at most the wire's length ({mm(design.length)})")
    station = _stations(design, distal)
    named = dict(design.named_parts())
    limits = {name: k for name, k in design.yield_curvature(station).items() if named[name].start < distal}
    lowest = np.array([np.nanmin(k) for k in limits.values()])
    radius, mandrel = np.array(radii, dtype=float), np.array(mandrels, dtype=float)
    lasting = min(k * _reserve(named[name]) for name, k in zip(limits, lowest, strict=True))
    laws = part_laws(design, shaped_at)
    outer = float(design.radius(np.array([shaped_at]))[0])
    imposed = 1.0 / (mandrel + outer)
    kept = np.array([springback(laws, float(k)) for k in imposed]) / imposed
    first = min(law.limit for law in laws)
    return BendTest(
        parts=tuple(limits),
        station=station,
        limit_radius=1.0 / np.array(list(limits.values())),
        least_radius=1.0 / lowest,
        radius=radius,
        strain=1.0 / np.outer(lowest, radius),
        limits=tuple(named[name].material.limit for name in limits),
        kink_radius=float(1.0 / lasting),
        shaped_at=shaped_at,
        set_radius=1.0 / first,
        mandrel=mandrel,
        kept=kept,
        residual_angle=WOUND * kept,
        definition=_definition(distal, shaped_at, outer),
    )


def part_laws(design: Design, station: float) -> list[Law]:
    """Moment laws of the parts present at a distance from the tip (m).

    A material that hardens by E_t is the sum of one that does not, of 1 - E_t/E of the rigidity, and an elastic one of
    the rest: kinematic hardening, exactly.

    A ribbon yields as a rectangle in easy bending, all others as a round section: a helical wire's moment is shared
    between bending (fully plastic at 1.70 times the yield moment) and torsion (4/3 times), so its last reserve is
    overstated.
    """
    at = np.array([station])
    limits = design.yield_curvature(at)
    out = []
    for name, part in design.named_parts():
        if part.start <= station < part.end or station == part.end == design.length:
            shape: Shape = "rectangle" if isinstance(part, Ribbon) else "round"
            table = part.rigidity(at)
            rigidity, limit = float(min(table[0, 0], table[1, 0])), np.inf
            rest = 0.0
            if part.material.limit == YIELDS:
                limit = float(limits[name][0])
                rest = part.material.law.slope / part.material.E if isinstance(part.material.law, Hardening) else 0.0
            out.append(Law((1.0 - rest) * rigidity, limit, shape))
            if rest > 0.0:
                out.append(Law(rest * rigidity, np.inf, shape))
    return out


def _reserve(part: Part) -> float:
    """Strain from which a part does not come back over the strain of its limit."""
    if part.material.limit != SUPERELASTIC:
        return 1.0
    return max(1.0, RECOVERED / part.material.yield_strain)


def _stations(design: Design, distal: float) -> Array:
    """Knots of the parts and even stations over the distal length, m."""
    even = np.linspace(0.0, distal, int(np.ceil(distal / STEP - 1e-9)) + 1)
    knots = design.knots()
    return np.unique(np.concatenate([even, knots[knots <= distal]]))


def _definition(distal: float, shaped_at: float, outer: float) -> str:
    return (
        "wire bent to a circle, every part to the axis' curvature, parts free to slide; strain of each part's outer "
        f"fibre over its limit, the largest along the distal {distal * 1e3:g} mm; shape: quarter turn around a round "
        f"mandrel, {shaped_at * 1e3:g} mm from the tip (wire radius there {outer * 1e3:.3g} mm), then let go; metals "
        "that yield elastic-plastic with their hardening (kinematic), superelastic alloys and polymers elastic"
    )
