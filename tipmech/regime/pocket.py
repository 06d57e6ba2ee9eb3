"""A pocket and a wire in it as the numbers of the reduced model: from a scene, by formulas, without any insertion."""

from dataclasses import dataclass
from math import cos, pi, sin

import numpy as np
from numpy.typing import NDArray

from ..checks import FieldError, mm
from ..profile import Profile
from ..vessel.build import (
    BLEND,
    LINE_PLATE,
    NOTCH,
    floor_radius,
    front_strength,
    lip_rounding,
    lip_spring,
    mouth_gap,
    plate_rigidity,
    resting_thickness,
)
from ..vessel.laws import LINE
from ..vessel.scene import Scene, quintic_step

Array = NDArray[np.float64]

PARABOLA = 20.0  # chi = k b^4/(k b^4 + 20 EI): a parabola of height y stores 2 EI y^2/b^3 in a wire and k y^2 b/10 in a
# foundation, two springs in series
TORSION = 50e-3  # m, wire whose twist gives way: from the tip to where it is held, the modelled length of an insertion
SAMPLES = 401  # of the wire's profile, and of the roll in a turn


@dataclass(frozen=True)
class Pocket:
    """A wire that stands in a pocket. SI units.

    distance, EI : ndarray, shape (n,)
        distance from the tip (m) and the smaller bending rigidity there (N m2)
    diameter, tip_radius : float
        of the wire, m
    room, reach : float
        lateral room W and distance from the mouth to the front, m
    bend, bend_length : float
        natural bend of the tip within the surface (rad) over this length (m): see `lying`
    clear : float
        play of the wire in the bore at the mouth, to either side, m
    wall, limit : float
        line stiffness of the pocket's sides (N/m2) and force per length at which they yield (N/m)
    curved : float
        curvature of the floor that a wire across the pocket takes on, 1/m
    pinch : ndarray, shape (m,)
        friction of the wire held between floor and flap (N/m) at stations from the mouth
    front_force, front_stiffness, notch : float
        what drives the front on (N), its stiffness (N/m), depth of its notch (m; 0: flat)
    friction, front_friction : float
        Coulomb's coefficients
    gap, lip_force, free, flap : float
        the mouth's clear gap (m), force that lifts the lip until the wire passes (N), length of wire free before the
        tear (m; `free_length`), the flap's thickness (m)
    """

    distance: Array
    EI: Array
    diameter: float
    tip_radius: float
    room: float
    reach: float
    bend: float
    bend_length: float
    clear: float
    wall: float
    limit: float
    curved: float
    pinch: Array
    front_force: float
    front_stiffness: float
    notch: float
    friction: float
    front_friction: float
    gap: float
    lip_force: float
    free: float
    flap: float

    def __post_init__(self) -> None:
        if not self.room > self.diameter:
            raise FieldError("room", mm(self.room), f"more than the wire's diameter, {mm(self.diameter)}")
        if not self.reach > 0.0:
            raise FieldError("reach", mm(self.reach), "greater than 0: a pocket longer than the wire is thick")

    @property
    def width(self) -> float:
        """Room of the wire's centreline W_c, m."""
        return self.room - self.diameter

    @property
    def rigidity(self) -> float:
        """Mean bending rigidity over the distal W_c, N m2."""
        return self.mean(self.width)

    @property
    def scale(self) -> float:
        """2 EI/W_c^2, N. theory (2)."""
        return 2.0 * self.rigidity / self.width**2

    def mean(self, length: float) -> float:
        """Mean of the smaller bending rigidity over the distal `length` (m), N m2."""
        return float(np.mean(np.interp(np.linspace(0.0, length, SAMPLES), self.distance, self.EI)))


def pocket_of(
    profile: Profile, scene: Scene, friction: float, bend: float, bend_length: float, roll: float, spacing: float
) -> Pocket:
    """Numbers of the reduced model for a wire of this tip bend (rad, over a length in m, at this roll, rad) in a scene.

    spacing: of the stations of `pinch`, m. The mouth is taken one wire diameter behind the downstream lip, where a
    support that starts in the pocket has it; a wire that comes through the lumen is held by the lip instead (declared).
    """
    wall, channel, tear = scene.wall, scene.channel, scene.tear
    radius, diameter = float(profile.radius[0]), 2.0 * float(profile.radius[0])
    away = np.linspace(0.0, TORSION, SAMPLES)
    rigidity = np.minimum(profile.at("EI1", away), profile.at("EI2", away))
    tissue = LINE * wall.youngs_modulus
    plate = plate_rigidity(wall.youngs_modulus, wall.flap_thickness, wall.poisson)
    flap = LINE_PLATE * plate / channel.room**3
    thickness, reach = resting_thickness(scene), channel.length - diameter
    rolled = lying(profile, bend, min(bend_length, max(reach, diameter)), roll - tear.azimuth, tissue, flap,
                   max(0.0, thickness - diameter))  # fmt: skip
    floor = floor_radius(scene) - radius
    width = channel.room - diameter
    lip, lifted = lip_spring(scene)
    return Pocket(
        distance=away,
        EI=rigidity,
        diameter=diameter,
        tip_radius=profile.tip_radius,
        room=channel.room,
        reach=reach,
        bend=bend * abs(sin(rolled)),
        bend_length=bend_length,
        clear=max(scene.support.inner_radius - radius, 0.0),
        wall=tissue,
        limit=channel.fracture_energy,
        curved=hugging(float(np.mean(rigidity[away <= max(width, away[1])])), width, floor, flap, thickness - diameter)
        / floor,
        pinch=2.0 * friction * pinched(scene, diameter, tissue, flap, thickness, spacing),
        front_force=front_strength(scene, diameter),
        front_stiffness=channel.front_stiffness,
        notch=NOTCH * radius if channel.front_shape == "notch" else 0.0,
        friction=friction,
        front_friction=channel.front_friction,
        gap=tear.gap,
        lip_force=max(0.0, lip * (diameter - tear.gap) - lifted),
        free=tear.length if scene.start == "pocket" else max(free_length(scene), diameter),
        flap=wall.flap_thickness,
    )


def free_length(scene: Scene) -> float:
    """Length of wire from the support's mouth to the upstream lip, m. theory (95).

    From a support along the vessel its distance; a tilted one is taken as aimed at the lip's edge: the straight line
    there, which is the distance over cos(tilt) in a straight vessel.
    """
    support, tear = scene.support, scene.tear
    if support.tilt == 0.0:
        return support.distance
    points, _, e1, e2 = scene.centreline.frame(np.array([tear.start - support.distance, tear.start]))
    mouth = points[0] + support.offset[0] * e1[0] + support.offset[1] * e2[0]
    outward = cos(tear.azimuth) * e1[1] + sin(tear.azimuth) * e2[1]
    return float(np.linalg.norm(points[1] + float(scene.lumen.at(tear.start)) * outward - mouth))


def lying(profile: Profile, bend: float, length: float, roll: float, tissue: float, flap: float, clear: float) -> float:
    """Roll (rad, from the tear's azimuth) to which a bent tip turns in the pocket: twist against being flattened.

    The part of the bend out of the surface is pressed flat by the floor (`tissue`, N/m2, outward) or by the flap in
    series with it (inward, beyond the clearance `clear`, m): 2 EI chi y^2/b^3, y = alpha b/2 cos(roll); chi:
    `PARABOLA`.
    Against that stands the twist of the wire, (turn)^2/(2 C), C the integral of 1/GJ. The nearest minimum. theory (92).
    """
    if bend == 0.0:
        return roll
    away = np.linspace(0.0, TORSION, SAMPLES)
    soft = float(np.trapezoid(1.0 / profile.at("GJ", away), away))
    near = away[away <= max(length, away[1])]
    rigidity = float(np.mean(np.minimum(profile.at("EI1", near), profile.at("EI2", near))))
    series = 1.0 / (1.0 / tissue + 1.0 / flap)

    def energy(turned: float) -> float:
        out = cos(turned)
        k, play = (tissue, 0.0) if out > 0.0 else (series, clear)
        share = 1.0 / (1.0 + PARABOLA * rigidity / (k * length**4))
        rise = max(0.0, abs(0.5 * bend * length * out) - play)
        return 2.0 * rigidity * share * rise**2 / length**3 + 0.5 * (turned - roll) ** 2 / soft

    step = 2.0 * pi / (SAMPLES - 1)
    here, best = roll, energy(roll)
    for direction in (step, -step):
        at, value = roll, energy(roll)
        while (following := energy(at + direction)) < value:
            at, value = at + direction, following
        if value < best:
            here, best = at, value
    return here


def hugging(rigidity: float, width: float, floor: float, flap: float, clear: float) -> float:
    """Share (0 to 1) of the floor's curvature across that a wire lying across the pocket takes on. theory (93).

    Bending energy of a half wave of length `width` against a flap of line stiffness `flap` (N/m2): k/(k + EI (pi/w)^4)
    of the energy, the root of it of the curvature. A flap that stands off by `clear` (m) counts for the part of the
    sagitta w^2/(8 floor) that is beyond it.
    """
    sagitta = width**2 / (8.0 * floor)
    k = flap * max(0.0, 1.0 - max(0.0, clear) / sagitta)
    return float((k / (k + rigidity * (pi / width) ** 4)) ** 0.5)


def pinched(scene: Scene, diameter: float, tissue: float, flap: float, thickness: float, spacing: float) -> Array:
    """Normal force per length (N/m) of the wire between floor and flap at stations `spacing` (m) apart from the mouth.

    The flap's stand-off goes from the mouth's gap to the plane's thickness, its compliance from none to the strip's,
    as in theory (16), (19); a negative pressure on a closed plane is a preload.
    """
    tear, channel = scene.tear, scene.channel
    away = diameter + spacing * np.arange(int(channel.length / spacing) + 2, dtype=np.float64)  # behind the lip
    gap = mouth_gap(scene)
    off = gap + (thickness - gap) * quintic_step(away / BLEND)
    share = quintic_step((away - lip_rounding(scene)) / tear.lip_length)
    squeeze = np.maximum(0.0, diameter - off)
    held = max(0.0, -channel.pressure) * 0.5 * channel.room if channel.thickness == 0.0 else 0.0
    return np.asarray(squeeze / (2.0 / tissue + share / flap) + held * share * (squeeze > 0.0))
