"""One case of a study from its cell and its point: the scene, the tip's shape, the protocol, and what was capped."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import cos, exp, pi, sin

import numpy as np

from ..checks import FieldError
from ..insertion.case import Case, Drive, Move, StopRules, TipShape
from ..profile import Profile
from ..vessel.aim import aimed_support, bore_fits
from ..vessel.scene import FalseChannel, Scene, Support, Tear, Wall
from .inputs import Array, draw, friction_log_sd
from .spec import StudySpec

PASSAGE = 1.5  # wire diameters that a distended flap must leave open in the true lumen at its narrowest
TEAR_MARGIN = 1e-3  # m, of vessel left behind the support's mouth at its farthest
RIGID_TIP = 2e-3  # m, stretch of the support behind its mouth that is straight and tilted (J)


@dataclass(frozen=True)
class Point:
    """Values of one point after the caps (SI), and which caps were active.

    capped: 1 where the drawn value was cut: `room` at half the circumference, `thickness` so that the true lumen lets
    the wire by, `tip_radius` at the wire's own outer radius, `unsupported_length` at the vessel's start.
    """

    values: Mapping[str, float]
    capped: Mapping[str, int]


def place_point(spec: StudySpec, u: Array) -> Point:
    """Draw the unknowns at `u` and cut those that the vessel or the wire limits; the same in every cell."""
    x = draw(u)
    scene = spec.scene
    thickest = 2.0 * float(spec.base.radius.max())
    end = scene.tear_start + x["window_length"] + scene.pocket_length
    narrowest = min(scene.radius_at(scene.tear_start), scene.radius_at(end + spec.advance_past_tear))
    caps = {
        "room": pi * (scene.radius_at(scene.tear_start) + x["flap_thickness"]),
        "thickness": max(0.0, 2.0 * narrowest - PASSAGE * thickest),
        "tip_radius": float(spec.base.radius[0]),
        "unsupported_length": scene.tear_start - TEAR_MARGIN,
    }
    x["tip_radius"] = spec.base.tip_radius * x.pop("tip_radius_factor")
    x["friction"] = spec.friction * exp(friction_log_sd(spec.friction) * x.pop("friction_z"))
    x["fracture_energy"] = spec.shared.fracture_energy * x.pop("fracture_energy_factor")
    x["roll"] = spec.roll_half_range * x.pop("roll_share")
    capped = {name: int(x[name] > cap) for name, cap in caps.items()}
    for name, cap in caps.items():
        x[name] = min(x[name], cap)
    return Point(x, capped)


def lateral_extent(spec: StudySpec, angle: float) -> float:
    """Sideways room (m) that the undeflected tip takes at a commanded angle (rad), wire diameter included.

    An arc of `bend_length` turning from the support's tilt to the angle, b (cos tilt - cos angle) / (angle - tilt),
    b sin(tilt) for a straight one.
    """
    diameter = 2.0 * float(spec.base.radius[0])
    tilt = spec.scene.support_tilt
    turn = angle - tilt
    arc = spec.bend_length * (sin(tilt) if turn < 1e-9 else (cos(tilt) - cos(angle)) / turn)
    return arc + diameter


def feasible(spec: StudySpec, angle_index: int) -> bool:
    """Whether tip and support fit into the lumen at this commanded angle.

    Approach: the undeflected tip at the tear, and the tilted support. Local: the mouth of the aimed support, which a
    small angle puts against the wall on the tear's side and a large one against the wall opposite.
    """
    angle = spec.angles[angle_index]
    scene = spec.scene
    if spec.presentation == "local":
        return bore_fits(local_support(spec, angle), scene.lumen, scene.tear_start)
    radius = scene.radius_at(scene.tear_start)
    tilted = RIGID_TIP * sin(scene.support_tilt) / 2.0 + scene.support_outer_radius
    return tilted <= radius and lateral_extent(spec, angle) <= 2.0 * radius


def build_case(spec: StudySpec, tip_load_index: int, angle_index: int, u: Array, seed: int = 0) -> Case:
    """Case of one cell at one point: from the support's mouth through the lumen to the tear.

    Parameters
    ----------
    u : ndarray, shape (number of unknowns,)
        one row of `inputs.sobol_points`
    seed : int
        seed of the imperfection, from `inputs.point_seed`
    """
    point = place_point(spec, u)
    angle = spec.angles[angle_index]
    x = point.values
    if spec.presentation == "local":
        support, bend = local_support(spec, angle), 0.0
    else:
        support, bend = _lumen_support(spec, x), angle - spec.scene.support_tilt
    travel = spec.local_free_length + spec.local_standoff if spec.presentation == "local" else x["unsupported_length"]
    return _case(spec, tip_load_index, x, support, bend, travel, seed)


def build_pocket_case(
    spec: StudySpec, tip_load_index: int, angle_index: int, u: Array, seed: int = 0, front_force: float | None = None
) -> Case:
    """Case that starts in the pocket: the support's mouth stands in the window; all of the angle is bend of the tip.

    front_force: force that drives the front on (N), given directly; None: G_c times the opened width.
    """
    x = place_point(spec, u).values
    support = Support(
        distance=0.0,
        tilt=0.0,
        tilt_azimuth=spec.scene.tear_azimuth,
        offset=(0.0, 0.0),
        inner_radius=spec.scene.support_inner_radius,
        friction=spec.scene.support_friction,
    )
    travel = x["window_length"] + spec.scene.pocket_length
    case = _case(spec, tip_load_index, x, support, spec.angles[angle_index], travel, seed)
    scene = replace(case.scene, start="pocket", channel=replace(case.scene.channel, front_force=front_force))
    stop = StopRules(travel + spec.advance_past_tear, advance_past_curl=0.0)
    return replace(case, scene=scene, stop=stop)


def scale_force(profile: Profile, room: float) -> float:
    """Scale of the folding force, 2 EI / Wc^2 (N): theory, "Facts to keep in mind".

    Wc = room - wire diameter is the room of the wire's centreline; EI the mean of the smaller bending rigidity over
    the distal length Wc. A clamped-free elastica turned by 90 degrees within y needs 2 EI / y^2.
    """
    width = room - 2.0 * float(profile.radius[0])
    if width <= 0.0:
        raise FieldError("room", room, "more than the wire's diameter")
    along = np.linspace(0.0, width, 33)
    rigidity = float(np.mean(np.minimum(profile.at("EI1", along), profile.at("EI2", along))))
    return 2.0 * rigidity / width**2


def _case(
    spec: StudySpec, load: int, x: Mapping[str, float], support: Support, bend: float, travel: float, seed: int
) -> Case:
    """Case from values and support; `travel`: from the start of the tip to the tear or the front, m."""
    scene, shared = spec.scene, spec.shared
    tear = Tear(
        start=scene.tear_start,
        length=x["window_length"],
        gap=x["mouth_gap"],
        lip_radius=x["lip_radius"],
        half_width=scene.half_width,
        azimuth=scene.tear_azimuth,
        free_lip="downstream" if x["free_lip"] else "upstream",
        lip_length=scene.lip_length,
    )
    channel = FalseChannel(
        length=scene.pocket_length,
        room=x["room"],
        thickness=x["thickness"],
        fracture_energy=x["fracture_energy"],
        front_shape=shared.front_shape,
        front_stiffness=x["front_stiffness"],
        pressure=x["pressure"],
        front_friction=shared.front_friction,
    )
    return Case(
        profile=replace(spec.wires[load], tip_radius=x["tip_radius"]),
        scene=Scene(
            centreline=scene.centreline,
            lumen=scene.lumen,
            wall=Wall(x["youngs_modulus"], x["flap_thickness"], shared.breach_toughness),
            tear=tear,
            channel=channel,
            support=support,
        ),
        tip_shape=TipShape(angle=bend, length=spec.bend_length, roll=scene.tear_azimuth + x["roll"]),
        friction=x["friction"],
        moves=(Move("advance", travel + spec.feed_extra),),
        static_ratio=shared.static_ratio,
        drive=Drive(stiffness=shared.drive_stiffness, force_cap=shared.force_cap),
        stop=StopRules(spec.advance_past_tear, spec.advance_past_curl),
        numerics=spec.numerics,
        seed=seed,
    )


def _lumen_support(spec: StudySpec, x: Mapping[str, float]) -> Support:
    """Support whose mouth lies the unsupported length before the tear, anywhere in the disc its outside leaves free.

    A tilted support is straight over `RIGID_TIP`: its disc is smaller by half its sideways run and moved by as much
    toward the tear, so that both ends of the straight stretch lie in the lumen.
    """
    scene = spec.scene
    shift = RIGID_TIP * sin(scene.support_tilt) / 2.0
    free = scene.radius_at(scene.tear_start - x["unsupported_length"]) - scene.support_outer_radius - shift
    radius, direction = free * x["offset_share"], x["offset_direction"]
    centre = shift * cos(scene.tear_azimuth), shift * sin(scene.tear_azimuth)
    return Support(
        distance=x["unsupported_length"],
        tilt=scene.support_tilt,
        tilt_azimuth=scene.tear_azimuth,
        offset=(centre[0] + radius * cos(direction), centre[1] + radius * sin(direction)),
        inner_radius=scene.support_inner_radius,
        friction=scene.support_friction,
    )


def local_support(spec: StudySpec, angle: float) -> Support:
    """Support of the local presentation, aimed at the upstream lip at `angle` (rad)."""
    scene = spec.scene
    return aimed_support(
        scene.centreline,
        scene.lumen,
        scene.tear_start,
        scene.tear_azimuth,
        angle,
        spec.local_free_length + spec.local_standoff,
        scene.support_inner_radius,
        scene.support_friction,
    )
