"""Static bench tests against closed forms: lateral stiffness, flexure, columns, prolapse, springback.

Tolerance where not said otherwise: half a percent, what the bench is meant to reach; errors of the meshes are ten times
smaller, a few parts in 10^4.
"""

from dataclasses import replace
from math import pi, radians

import numpy as np
from scipy.optimize import brentq

from .. import closed_forms as cf
from ..bench.bend import bend, part_laws, springback
from ..bench.column import FAR_END, column
from ..bench.flexure import flexure
from ..bench.lateral import FREE_LENGTHS, lateral
from ..bench.prolapse import prolapse
from ..profile import Profile, uniform
from ..rod.elastic import Array
from ..wire.design import Design
from ..wire.materials import MATERIALS
from ..wire.parts import Coil, Ribbon, Taper
from ..wire.tip import Surface, Tip
from .model import EI, LENGTH, STIFF
from .row import Case, Row, absolute, at_most, relative

WITHIN = 5e-3
CONE = 0.5  # diameter at the tip over that at the base of a conical wire, 10 mm long
ENERGY = 2e-3  # central differences of the energy over a step of 1 % of the length fed in
EXACT = 1e-9  # closed form against closed form
POINTS = 20001  # of the trapezoidal rule of Mohr's integral: error 1e-7
PLASTIC_STEEL = replace(MATERIALS["steel_304"], law=None)  # without hardening, as the formulas have it
FIBRES = 4000  # error of a sum over fibres of a round section about 1e-5
UNLOADING_STEPS = 200


def _cone(length: float = LENGTH) -> Profile:
    """Conical wire: EI as the fourth power of the distance from its apex; stiff against shear and stretch."""
    distance = np.linspace(0.0, length, 801)
    bend = EI * (CONE + (1.0 - CONE) * distance / length) ** 4
    one = np.ones_like(distance)
    return Profile(distance, bend, bend, bend, STIFF * one, STIFF * one, 1e-4 * one, one, 1e-4, 0.1, "cone")


def lateral_stiffness() -> list[Row]:
    """Small lateral deflection of uniform wires and a cone."""
    found = []
    for length in FREE_LENGTHS:
        test = lateral(uniform(EI, 50e-3), length)
        exact = 1.0 / cf.lateral_deflection(EI, length, 1.0)
        quantity = f"lateral tip stiffness, {length * 1e3:g} mm free, N/m"
        found.append(
            relative(f"lateral-{length * 1e3:g}mm", quantity, test.stiffness, exact, WITHIN, "3 EI/L^3, standard")
        )
    exact = 3.0 * EI * CONE / LENGTH**3
    source = "integral of s^2/EI over a cone: P L^3/(3 EI_base r), re-derived"
    found.append(relative("lateral-cone", "the same of a cone, N/m", lateral(_cone()).stiffness, exact, WITHIN, source))
    return found


def lateral_elastica() -> list[Row]:
    """Large lateral deflection of a uniform wire under a force of fixed direction and one normal to the tip."""
    test = lateral(uniform(EI, 50e-3))
    unit = EI / LENGTH**2

    def load(angle: float, direction: float) -> float:
        return float(brentq(lambda p: cf.tip_force_cantilever(p, direction).angle - angle, 1e-6, 20.0))

    source = "Bisshopp & Drucker 1945 by elliptic integrals, re-derived"
    exact = unit * load(radians(45.0), 0.5 * pi)
    found = [relative("lateral-across-45", "force across at 45 deg, N", test.force_45, exact, WITHIN, source)]
    curve = test.across
    tips = [cf.tip_force_cantilever(float(p) / unit, 0.5 * pi) for p in curve.force[1:]]
    moved = {"deflection": [t.y for t in tips], "approach": [1.0 - t.x for t in tips]}
    for what, values in moved.items():
        computed = getattr(curve, what)[1:]
        found.append(_worst(f"lateral-across-{what}", f"{what}, m", computed, LENGTH * np.array(values), source))
    source = "the same elastica under a force at 90 deg to its tip; at 90 deg of tip angle T. & Gere 1961, art. 2.7"
    exact = unit * load(radians(45.0), radians(135.0))
    found.append(relative("lateral-normal-45", "force normal to the tip at 45 deg, N", test.force_45_normal, exact, WITHIN, source))  # fmt: skip  # noqa: E501
    exact = unit * cf.free_elastica(0.5 * pi)[0]
    found.append(relative("lateral-normal-90", "force normal to the tip at 90 deg, N", test.force_90_normal, exact, WITHIN, source))  # fmt: skip  # noqa: E501
    return found


def _worst(id: str, what: str, computed: Array, exact: Array, source: str) -> Row:
    """Row of the state of a curve that is furthest from its reference."""
    k = int(np.argmax(np.abs(computed / exact - 1.0)))
    quantity = f"lateral force-deflection curve to 70 deg, {what} (worst of {len(exact)} states)"
    return relative(id, quantity, float(computed[k]), float(exact[k]), WITHIN, source)


def three_point() -> list[Row]:
    """Three-point flexure of a uniform wire, a cone and a step, against Mohr's integral."""
    test = flexure(uniform(EI, 50e-3))
    source = "F L^3/(48 d) of a uniform beam, standard"
    worst = float(test.apparent[np.argmax(np.abs(test.apparent / EI - 1.0))])
    found = [relative("flexure-uniform", "apparent EI of a uniform wire, N m2", worst, EI, WITHIN, source)]
    source = "Mohr's integral of M^2/EI by the trapezoidal rule"
    span = 20e-3
    for name, profile in (("cone", _cone(60e-3)), ("step", _step(30e-3))):
        test = flexure(profile, span)
        exact = np.array([_apparent(profile, float(s), span) for s in test.station])
        k = int(np.argmax(np.abs(test.apparent / exact - 1.0)))
        quantity = f"apparent EI of a {name}, N m2 (worst of {len(exact)} stations)"
        found.append(relative(f"flexure-{name}", quantity, float(test.apparent[k]), float(exact[k]), WITHIN, source))
    return found


def _step(place: float) -> Profile:
    """Wire 60 mm long whose rigidity is four times as large beyond a place."""
    distance = np.array([0.0, place - 1e-6, place + 1e-6, 60e-3])
    one = np.ones(4)
    bend = EI * np.array([1.0, 1.0, 4.0, 4.0])
    return Profile(distance, bend, bend, bend, STIFF * one, STIFF * one, 1e-4 * one, one, 1e-4, 0.1, "step")


def _apparent(profile: Profile, station: float, span: float) -> float:
    """L^3/48 over the deflection per force of a span: the integral of (distance to the nearer roller/2)^2/EI, N m2."""
    low, high = station - 0.5 * span, station + 0.5 * span
    inside = profile.distance[(profile.distance > low) & (profile.distance < high)]
    s = np.unique(np.concatenate([np.linspace(low, high, POINTS), inside]))
    give = (0.5 * np.minimum(s - low, high - s)) ** 2 / profile.at("EI1", s)
    return span**3 / (48.0 * float(np.trapezoid(give, s)))


def critical() -> list[Row]:
    """Critical loads by inertia count: the four Euler cases, the curve over unsupported length, a cone."""
    one = np.ones(2)
    ends_at, bend, stiff, thin = np.array([0.0, 50e-3]), EI * one, STIFF * one, 1e-4 * one
    test = column(Profile(ends_at, bend, bend, bend, stiff, stiff, thin, one, 1e-4, 0.1, "uniform"))
    source = "Timoshenko & Gere 1961, ch. 2"
    found = []
    for ends in FAR_END:
        exact = cf.euler_load(EI, test.free_length, ends)
        found.append(relative(f"column-{ends}", f"critical load, {ends}, N", test.loads[ends], exact, WITHIN, source))
    for ends, loads in (("clamped-clamped", test.clamped), ("clamped-pinned", test.pinned)):
        exact_row = np.array([cf.euler_load(EI, float(x), ends) for x in test.unsupported])
        k = int(np.argmax(np.abs(loads / exact_row - 1.0)))
        quantity = f"critical load between supports 3 to 40 mm apart, {ends}, N (worst of {len(loads)})"
        found.append(relative(f"unsupported-{ends}", quantity, float(loads[k]), float(exact_row[k]), WITHIN, source))
    exact = cf.conical_column_load(EI, LENGTH, CONE)
    source = "Timoshenko & Gere 1961, art. 2.14, re-derived"
    load = column(_cone(), unsupported=(5e-3,)).loads["clamped-free"]
    found.append(relative("column-cone", "critical load of a cone, clamped-free, N", load, exact, WITHIN, source))
    return found


def fed_in() -> list[Row]:
    """A wire that bows out of a gap while it is fed in: force, push, and the push as the work of feeding."""
    test = prolapse(uniform(EI, 50e-3))
    exact = np.array([cf.fed_elastica(EI, test.unsupported, float(u)) for u in test.fed[1:]])
    source = "clamped-clamped elastica by elliptic integrals, re-derived"
    found = []
    for column_, (id, name, values) in enumerate((("axial", "axial force", test.axial), ("push", "push", test.push))):
        k = int(np.argmax(np.abs(values[1:] / exact[:, column_] - 1.0)))
        quantity = f"{name} of a prolapsing wire, N (worst of {len(exact)} states)"
        found.append(relative(f"prolapse-{id}", quantity, float(values[k + 1]), exact[k, column_], WITHIN, source))
    for name, profile in (("uniform", uniform(EI, 50e-3)), ("cone", _cone(50e-3))):
        low, here, high = (prolapse(profile, fed=0.3 * (1.0 + x), states=8) for x in (-0.01, 0.0, 0.01))
        work = (high.energy[-1] - low.energy[-1]) / (high.fed[-1] - low.fed[-1])
        quantity = f"push of a prolapsing wire, {name}, N"
        source = "derivative of the strain energy by the length fed in, central difference"
        found.append(relative(f"prolapse-work-{name}", quantity, float(here.push[-1]), float(work), ENERGY, source))
    return found


def _wire(*parts: Taper | Ribbon | Coil) -> Design:
    return Design("check", parts, Tip("dome", 0.05e-3, 0.02e-3), Surface("bare"))


def strip() -> list[Row]:
    """Springback of a steel strip, and the least bend radii of a strip and a round wire."""
    steel, thickness = PLASTIC_STEEL, 0.05e-3
    test = bend(_wire(Ribbon(steel, 0.0, 0.1, 0.1e-3, thickness)))
    outer = float(np.hypot(0.1e-3, thickness)) / 2.0
    found = []
    for mandrel, share in zip(test.mandrel, test.kept, strict=True):
        radius = float(mandrel) + outer
        exact = cf.rectangle_springback(steel.yield_strain, thickness, radius)
        if exact > 0.0:
            quantity = f"curvature kept by a 0.05 mm steel strip, mandrel {mandrel * 1e3:g} mm, 1/m"
            source = "1/R - 3 e/t + 4 R^2 (e/t)^3, re-derived"
            found.append(
                relative(f"springback-strip-{mandrel * 1e3:g}", quantity, share / radius, exact, EXACT, source)
            )
    source = "thickness/(2 yield strain)"
    exact = thickness / (2.0 * steel.yield_strain)
    found.append(
        relative("least-radius-strip", "least bend radius of the strip, m", test.set_radius, exact, EXACT, source)
    )
    round_wire = bend(_wire(Taper(steel, (0.0, 0.1), (0.05e-3, 0.05e-3))))
    quantity = "least bend radius of a round wire as thick, m"
    found.append(relative("least-radius-round", quantity, round_wire.kink_radius, exact, EXACT, source))
    kept = [share for mandrel, share in zip(test.mandrel, test.kept, strict=True) if mandrel + outer > exact]
    quantity = "share kept of the bends beyond the least radius, at most"
    found.append(at_most("springback-none", quantity, 1.0 + max(kept), 1.0, EXACT, "elastic: nothing stays (1 added)"))
    return found


def cored_coil() -> list[Row]:
    """Springback of a yielding round core within an elastic coil, against a sum over fibres with their history."""
    steel = PLASTIC_STEEL
    core = Taper(steel, (0.0, 0.1), (0.05e-3, 0.05e-3))
    coil = Coil(MATERIALS["platinum_nickel_10"], 0.0, 0.1, 0.06e-3, 0.296e-3, 0.072e-3)
    laws = part_laws(_wire(core, coil), 2e-3)
    found = []
    for radius in (0.5e-3, 1e-3, 2e-3):
        exact = springback_of_fibres(steel.E, steel.yield_strain, 0.05e-3, laws[1].rigidity, 1.0 / radius)
        quantity = f"curvature kept by a 0.05 mm steel core in an elastic coil, bent to {radius * 1e3:g} mm, 1/m"
        source = f"sum over {FIBRES} elastic-perfectly plastic fibres, unloaded in {UNLOADING_STEPS} steps"
        found.append(
            relative(f"springback-core-{radius * 1e3:g}", quantity, springback(laws, 1.0 / radius), exact, 1e-3, source)
        )
    source = "16/(3 pi) and 3/2: fully plastic over yield moment, standard"
    most = [law.moment(1e9) / (law.rigidity * law.limit) for law in laws[:1]][0]
    found.append(
        absolute("plastic-round", "fully plastic over yield moment, round", most, 16.0 / (3.0 * pi), 1e-6, source)
    )
    return found


def springback_of_fibres(E: float, yield_strain: float, diameter: float, around: float, curvature: float) -> float:
    """Curvature at which a round core and an elastic part of rigidity `around` balance on the way back, 1/m."""
    y = (np.arange(FIBRES) + 0.5) / FIBRES * diameter / 2.0
    width = 4.0 * np.sqrt(diameter**2 / 4.0 - y**2) * diameter / (2.0 * FIBRES)  # both sides of the axis
    stress = np.clip(E * curvature * y, -E * yield_strain, E * yield_strain)
    way = np.linspace(curvature, 0.0, UNLOADING_STEPS + 1)
    moments = [float(np.sum(width * stress * y)) + around * curvature]
    for before, after in zip(way[:-1], way[1:], strict=True):
        stress = np.clip(stress + E * (after - before) * y, -E * yield_strain, E * yield_strain)
        moments.append(float(np.sum(width * stress * y)) + around * float(after))
    return float(np.interp(0.0, moments[::-1], way[::-1]))


CASES: tuple[Case, ...] = (
    lateral_stiffness,
    lateral_elastica,
    three_point,
    critical,
    fed_in,
    strip,
    cored_coil,
)
