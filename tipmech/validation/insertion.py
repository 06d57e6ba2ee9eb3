"""Whole insertions against closed forms: a wire pushed round a bend against the front, a tip pressed into a wall."""

from functools import cache
from math import degrees, pi, radians

import numpy as np

from .. import closed_forms as cf
from ..insertion.case import Case as Insertion
from ..insertion.case import Drive, Move, Numerics, StopRules, TipShape
from ..insertion.record import Record
from ..insertion.run import advance
from ..insertion.shape import element_lengths
from ..profile import uniform
from ..rod.elastic import Array
from ..vessel.scene import Centreline, FalseChannel, Lumen, Scene, Support, Tear, Wall
from .row import Case, Row, at_most, relative

FRICTION, STRENGTH = 0.2, 3e-3  # -, N
BEND_RADIUS, LEAD = 10e-3, 12e-3  # m, centreline of the bend and the straight before it
# soft walls keep the closing plane before the front from squeezing the wire; a thin wire and a narrow tube keep it
# from bending (EI/R2 = 1 % of the force) and from snaking (4 EI/(r R) above the force), so that Euler-Eytelwein holds
THIN, SOFT_WALL = 6e-9, Wall(youngs_modulus=2e4, flap_thickness=0.15e-3, breach_toughness=600.0)
FROM, TO = radians(15.0), radians(75.0)  # stretch of the bend over which the force is compared
WALL = Wall(youngs_modulus=0.6e6, flap_thickness=0.35e-3, breach_toughness=600.0)
SHALLOW = (0.01, 0.1)  # indentation over tip radius within which Hertz is asked for


def _tear() -> Tear:
    return Tear(
        start=4e-3, length=2e-3, gap=0.4e-3, lip_radius=0.1e-3, half_width=0.5e-3, azimuth=0.0,
        free_lip="downstream", lip_length=1e-3,
    )  # fmt: skip


@cache
def _round_the_bend() -> Record:
    """Wire in a narrow false channel pushed round 90 degrees until it drives the front on."""
    tear = _tear()
    channel = FalseChannel(
        length=LEAD - tear.end + BEND_RADIUS * pi / 2 + 4e-3, room=0.46e-3, thickness=0.46e-3, fracture_energy=35.0,
        front_shape="flat", front_force=STRENGTH,
    )  # fmt: skip
    support = Support(distance=1e-3, tilt=0.0, tilt_azimuth=0.0, offset=(0.0, 0.0), inner_radius=0.2e-3)
    scene = Scene(
        Centreline.arc(LEAD, BEND_RADIUS, pi / 2, 15e-3), Lumen(0.2e-3), SOFT_WALL, tear, channel, support, "pocket"
    )
    return advance(
        Insertion(
            uniform(THIN, 60e-3), scene, TipShape(), FRICTION, moves=(Move("advance", 27e-3),),
            drive=Drive(stiffness=1000.0, force_cap=10.0), stop=StopRules(60e-3),
            numerics=Numerics(elements=160, length=44e-3, increment=0.2e-3, imperfection=0.0),
        )
    )  # fmt: skip


def _axial(record: Record) -> tuple[Array, Array]:
    """Axial force of each element from its stretch (N), and its tangent's angle to the base's (rad), at the end."""
    case = record.case
    lengths = element_lengths(case)
    w, a, b, c = record.quaternions[-1].T
    tangent = np.stack([2.0 * (a * c + w * b), 2.0 * (b * c - w * a), 1.0 - 2.0 * (a * a + b * b)], axis=1)
    stretch = np.sum(np.diff(record.positions[-1], axis=0) * tangent, axis=1) / lengths - 1.0
    turned = np.arctan2(np.linalg.norm(np.cross(tangent, tangent[0]), axis=1), tangent @ tangent[0])
    return -case.profile.EA[0] * stretch, turned


def capstan() -> list[Row]:
    """Axial force along a wire that slides round the outer wall of a bend, and the force on the front it drives."""
    record = _round_the_bend()
    force, turned = _axial(record)
    rising = np.argmax(turned > radians(85.0))  # the wire's tail beyond the bend turns back and forth
    i, j = (int(np.argmin(np.abs(turned[:rising] - angle))) for angle in (FROM, TO))
    ratio = cf.capstan_ratio(FRICTION, float(turned[j] - turned[i]))
    name = f"axial force over that {degrees(turned[j] - turned[i]):.0f} deg further round a bend, friction {FRICTION:g}"
    top = float(np.max(record.force_front))
    opened = float(record.front[-1] - record.front[0])
    bound = f"largest total front force while the front moves on by {opened * 1e3:.1f} mm, N"
    return [
        relative("capstan", name, float(force[i] / force[j]), ratio, 1e-2, "Euler-Eytelwein: exp(mu theta)"),
        at_most("front-driven", bound, top, STRENGTH, 1e-6, "definition of the yielding front, theory (24)"),
        relative("front-yields", "front force at the end of that run, N", float(record.force_front[-1]), STRENGTH, 1e-6,
                 "definition of the yielding front, theory (24)"),
    ]  # fmt: skip


def hertz() -> list[Row]:
    """Whole contact force of a tip pressed into the lumen's wall at 60 degrees against Hertz at its indentation."""
    tear = _tear()
    radius = 2e-3
    channel = FalseChannel(10e-3, 2e-3, 0.0, 35.0, "notch")
    support = Support(1.5e-3, tilt=radians(60.0), tilt_azimuth=pi, offset=(0.0, 0.0), inner_radius=0.2e-3)
    scene = Scene(Centreline.straight(40e-3), Lumen(radius), WALL, tear, channel, support)
    record = advance(
        Insertion(
            uniform(5e-8, 60e-3), scene, TipShape(), FRICTION, moves=(Move("advance", 2.6e-3),),
            numerics=Numerics(increment=0.005e-3, length=30e-3, imperfection=0.0),
        )
    )  # fmt: skip
    tip = record.case.profile.tip_radius
    depth = np.hypot(record.positions[:, -1, 0], record.positions[:, -1, 1]) + tip - radius
    seen = (depth > SHALLOW[0] * tip) & (depth < SHALLOW[1] * tip)
    exact = np.array([cf.hertz_force(WALL.youngs_modulus, tip, d) for d in depth[seen]])
    force = record.force_true[seen]
    worst = int(np.argmax(np.abs(force / exact - 1.0)))
    name = f"contact force of a pressed-in tip, N (worst of {seen.sum()} states, depth up to {SHALLOW[1]:g} radius)"
    source = "Hertz, incompressible: (16/9) E sqrt(R) D^1.5; Shojaeifard & Bacca 2025, doi 10.1039/d5sm00502g"
    return [relative("hertz", name, float(force[worst]), float(exact[worst]), 0.15, source)]


CASES: tuple[Case, ...] = (capstan, hertz)
