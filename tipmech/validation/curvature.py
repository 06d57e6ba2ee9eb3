"""Bending beyond the line M = EI kappa: plastic and superelastic sections, and rods made of them."""

from dataclasses import replace

import numpy as np

from ..profile import Profile
from ..rod.build import Rod, profile_rod
from ..rod.loads import Force, Moment
from ..rod.solve import Equilibrium, solve_path
from ..rod.structure import Structure
from ..rod.supports import clamp
from ..wire.design import Design, profile
from ..wire.materials import Hardening, Law, Material, Superelastic
from ..wire.parts import Part, Ribbon, Taper
from ..wire.tip import Surface, Tip
from .row import Case, Row, relative

MODULUS, START = 48e9, 0.010  # Pa, -
PLASTIC = Hardening(0.0, "check")
NITINOL = Superelastic(1e9, 0.05, 34e9, 200e6, "check")
DIAMETER, WIDTH, THICKNESS = 0.10e-3, 0.10e-3, 0.03e-3  # m, of the core; of the ribbon
STRAIN = 0.045  # outer fibre of the superelastic core
CORE_MOMENT = 8.083145417382458e-05  # N m, at that strain; experiments/references/bending.py
LENGTH, FORCE = 3e-3, 8e-3  # m, N: the ribbon as a cantilever
CANTILEVER = (2.4613365707992717e-3, 1.5855554456031676e-3, 1.131555643629911e-05)  # across, along, m; moment, N m
BENT = 2.2  # curvature over the limit, between two knots of the table
ELEMENTS, STEPS = 160, 8
FITTED = 5e-4  # three times what 160 elements leave; what the tables' cubics leave is less here
PLATEAU = 3e-4  # a perfectly plastic moment is almost flat: its curvature is ten times less certain than itself
CORE = 1e-3  # the elastic core at 30 times the limit lacks 0.06 % of the plastic moment
REFERENCE = "quadrature of the stress over the section; shooting (experiments/references/bending.py)"


def material(law: Law) -> Material:
    """The superelastic alloy's line with a law beyond it."""
    return Material("check", MODULUS, MODULUS / 2.66, 6450.0, START, "limit", (45e9, 65e9), "check", law)


def wire(part: Part) -> Profile:
    """A wire of one part."""
    return profile(Design("check", (part,), Tip("dome", THICKNESS, THICKNESS / 2.0), Surface("bare")))


def core(law: Law) -> Profile:
    """A round core."""
    return wire(Taper(material(law), (0.0, 0.1), (DIAMETER, DIAMETER)))


def ribbon(law: Law) -> Profile:
    """A ribbon."""
    return wire(Ribbon(material(law), 0.0, 0.1, WIDTH, THICKNESS))


def moment(profile: Profile, curvature: float) -> float:
    """Bending moment of a wire's section 50 mm from the tip, N m."""
    at = np.array([50e-3])
    law = profile.law_at(at)
    ratio = curvature if law is None else float(law.at(np.array([[curvature]]))[0][0, 0])
    return float(profile.at("EI1", at)[0]) * ratio


def bent(rod: Rod, load: Force | Moment) -> Equilibrium:
    """The rod clamped at its base under a load on its tip."""
    return solve_path(Structure(rod, [clamp(0)], loads=[load]), np.linspace(0.0, 1.0, STEPS + 1).tolist())[-1]


def inextensible(profile: Profile) -> Rod:
    """Rod of a wire's distal LENGTH, so stiff in stretch and shear that the strains do not count."""
    rod = profile_rod(profile, np.full(ELEMENTS, LENGTH / ELEMENTS))
    return replace(rod, stretch=np.full_like(rod.stretch, 1e4))


def plastic() -> list[Row]:
    """Perfectly plastic ribbon and core."""
    stiff = MODULUS * WIDTH * THICKNESS**3 / 12.0
    limit = 2.0 * START / THICKNESS
    end = stiff * limit * 1.5 * (1.0 - 1.0 / (3.0 * BENT**2))
    state = bent(inextensible(ribbon(PLASTIC)), Moment(-1, (end, 0.0, 0.0)))
    half = 2.0 * np.arctan2(state.q[:, 1], state.q[:, 0])
    turned = float(half[-1] - half[0]) * ELEMENTS / (ELEMENTS - 1) / LENGTH
    return [
        relative("ribbon-plastic", "curvature of a perfectly plastic ribbon under an end moment, 1/m", turned,
                 BENT * limit, PLATEAU, "M/My = 3/2 (1 - (ky/k)^2/3): Timoshenko, Strength of Materials II; memory"),
        relative("core-plastic", "moment of a perfectly plastic core at 30 times its limit, N m",
                 moment(core(PLASTIC), 30.0 * 2.0 * START / DIAMETER), DIAMETER**3 * MODULUS * START / 6.0, CORE,
                 "plastic moment d^3 sigma_y/6: Timoshenko, Strength of Materials II; memory"),
    ]  # fmt: skip


def superelastic() -> list[Row]:
    """Superelastic core and ribbon."""
    state = bent(inextensible(ribbon(NITINOL)), Force(-1, (0.0, FORCE, 0.0)))
    across, along, held = CANTILEVER
    return [
        relative("core-superelastic", "moment of a superelastic core at 4.5 % strain, N m",
                 moment(core(NITINOL), 2.0 * STRAIN / DIAMETER), CORE_MOMENT, FITTED, REFERENCE),
        relative("ribbon-cantilever-across", "tip of a superelastic ribbon under a dead force, across, m",
                 float(state.displacement[-1, 1]), across, FITTED, REFERENCE),
        relative("ribbon-cantilever-along", "tip of a superelastic ribbon under a dead force, along, m",
                 -float(state.displacement[-1, 2]), along, FITTED, REFERENCE),
        relative("ribbon-cantilever-moment", "clamp moment of a superelastic ribbon under a dead force, N m",
                 float(np.linalg.norm(state.reactions[1][0])), held, FITTED, REFERENCE),
    ]  # fmt: skip


CASES: tuple[Case, ...] = (plastic, superelastic)
