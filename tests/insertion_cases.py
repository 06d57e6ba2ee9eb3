"""Small insertions for tests: a straight vessel, 25 mm of wire, a tear 4 mm past the support. All of it is invented."""

from dataclasses import replace
from math import radians
from typing import Any

from tipmech.insertion.case import Case, Drive, Move, Numerics, StopRules, TipShape
from tipmech.profile import Profile, uniform
from tipmech.vessel.scene import Centreline, FalseChannel, Lumen, Scene, Support, Tear, Wall

NUMERICS = Numerics(elements=60, length=25e-3)
TEAR = Tear(
    start=15e-3,
    length=2e-3,
    gap=0.6e-3,
    lip_radius=0.1e-3,
    half_width=1e-3,
    azimuth=0.0,
    free_lip="downstream",
    lip_length=1e-3,
)
CHANNEL = FalseChannel(length=3e-3, room=2.5e-3, thickness=0.6e-3, fracture_energy=35.0, front_shape="notch")
SUPPORT = Support(distance=4e-3, tilt=0.0, tilt_azimuth=0.0, offset=(0.6e-3, 0.0), inner_radius=0.24e-3)


def make_scene(**parts: Any) -> Scene:
    values: dict[str, Any] = {
        "centreline": Centreline.straight(45e-3),
        "lumen": Lumen(1.5e-3),
        "wall": Wall(0.6e6, 0.348e-3, 600.0),
        "tear": TEAR,
        "channel": CHANNEL,
        "support": SUPPORT,
    }
    return Scene(**values | parts)


def make_case(rigidity: float = 5e-8, bend: float = 40.0, roll: float = 0.0, **parts: Any) -> Case:
    """A wire of bending rigidity (N m2) with a tip bent by `bend` degrees over 2.5 mm; 14 mm of feed."""
    values: dict[str, Any] = {
        "profile": uniform(rigidity, 60e-3),
        "scene": make_scene(),
        "tip_shape": TipShape(radians(bend), 2.5e-3, roll),
        "friction": 0.08,
        "moves": (Move("advance", 14e-3),),
        "drive": Drive(force_cap=5.0),
        "stop": StopRules(10e-3, advance_past_curl=0.0),
        "numerics": NUMERICS,
        "seed": 3,
    }
    return Case(**values | parts)


def in_pocket(case: Case, **channel: Any) -> Case:
    """The same wire starting in the false channel."""
    scene = replace(case.scene, start="pocket", channel=replace(case.scene.channel, **channel))
    return replace(case, scene=scene, stop=StopRules(20e-3, advance_past_curl=0.0))


def scaled(case: Case, factor: float) -> Case:
    """The case with every force, stiffness, energy and viscosity times `factor`: shapes must not change."""
    p, s = case.profile, case.scene
    rigid = {name: getattr(p, name) * factor for name in ("EI1", "EI2", "GJ", "EA", "GA")}
    force = s.channel.front_force
    channel = replace(
        s.channel,
        fracture_energy=s.channel.fracture_energy * factor,
        front_force=None if force is None else force * factor,
        front_stiffness=s.channel.front_stiffness * factor,
        pressure=s.channel.pressure * factor,
    )
    wall = replace(
        s.wall,
        youngs_modulus=s.wall.youngs_modulus * factor,
        breach_toughness=s.wall.breach_toughness * factor,
    )
    return replace(
        case,
        profile=scaled_profile(p, rigid),
        scene=replace(s, channel=channel, wall=wall),
        drive=replace(case.drive, stiffness=case.drive.stiffness * factor, force_cap=case.drive.force_cap * factor),
        numerics=replace(case.numerics, viscosity=case.numerics.viscosity * factor),
    )


def scaled_profile(profile: Profile, values: dict[str, Any]) -> Profile:
    return replace(profile, **values)


def mirrored(case: Case) -> Case:
    """The case reflected in the plane y = 0, imperfection included."""
    s, c = case.scene, case.scene.centreline
    return replace(
        case,
        scene=replace(
            s,
            centreline=Centreline(c.lengths, c.curvatures, tuple(-a for a in c.planes)),
            tear=replace(s.tear, azimuth=-s.tear.azimuth, spiral=-s.tear.spiral),
            support=replace(
                s.support,
                offset=(s.support.offset[0], -s.support.offset[1]),
                tilt_azimuth=-s.support.tilt_azimuth,
            ),
        ),
        tip_shape=replace(case.tip_shape, roll=-case.tip_shape.roll),
        mirror=not case.mirror,
    )
