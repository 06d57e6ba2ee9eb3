"""The scene as data: centreline, lumen, wall, tear, false channel, support. SI units throughout.

Axial positions s are arc lengths along the centreline from its start (m). The tear's azimuth phi0 is
measured in the rotation-minimising frame of the centreline; "depth" is the radial direction there.
Model: docs/theory.md, section "The vessel". Every default without data is marked (J) in docs/parameters.md.
"""

from dataclasses import dataclass
from math import cos, isfinite, pi, sin
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
NEAR = 2.5e-3  # m, reach of a piece of the centreline about its axis


@dataclass(frozen=True)
class Centreline:
    """Chain of circular arcs (curvature 0 = straight), tangent-continuous, starting at the origin along +z.

    Parameters
    ----------
    lengths : tuple of float
        arc length of each piece, m
    curvatures : tuple of float
        curvature of each piece, 1/m, >= 0
    planes : tuple of float
        direction of the centre of curvature of each piece in the rotation-minimising frame, rad
        (0 = first frame axis, +x at the start; pi = the other way)
    """

    lengths: tuple[float, ...]
    curvatures: tuple[float, ...]
    planes: tuple[float, ...]

    @property
    def length(self) -> float:
        """Total arc length, m."""
        return float(sum(self.lengths))

    @classmethod
    def straight(cls, length: float) -> "Centreline":
        """Straight centreline."""
        return cls((length,), (0.0,), (0.0,))

    @classmethod
    def arc(cls, lead: float, radius: float, angle: float, tail: float, plane: float = pi) -> "Centreline":
        """Straight lead, one bend of `radius` (m) through `angle` (rad), straight tail.

        The default plane bends the vessel away from azimuth 0, so azimuth 0 is the outer side of the bend.
        """
        return cls((lead, radius * angle, tail), (0.0, 1.0 / radius, 0.0), (plane, plane, plane))

    @classmethod
    def s_curve(cls, lead: float, radius: float, angle: float, tail: float, plane: float = pi) -> "Centreline":
        """Straight lead, two opposite bends, straight tail."""
        other = plane + pi
        arc = radius * angle
        return cls((lead, arc, arc, tail), (0.0, 1.0 / radius, 1.0 / radius, 0.0), (plane, plane, other, other))

    def pieces(self) -> Array:
        """Start data of each arc, for kernels; an end that is bent has a straight piece of no length beyond it.

        Returns
        -------
        ndarray, shape (arcs and added ends, 19)
            s at start, curvature, start point (3), tangent (3), normal towards the centre of curvature (3),
            binormal (3), angle of that normal in the rotation-minimising frame (rad); middle of a ball (3) outside of
            which nothing within NEAR of the piece lies, and the square of its radius (first and last piece, which go on
            straight: no bound)
        """
        parts = list(zip(self.lengths, self.curvatures, self.planes, strict=True))
        if self.curvatures[0] > 0.0:
            parts.insert(0, (0.0, 0.0, self.planes[0]))
        if self.curvatures[-1] > 0.0:
            parts.append((0.0, 0.0, self.planes[-1]))
        rows = []
        point = np.zeros(3)
        e1, e2, t = np.eye(3)[0], np.eye(3)[1], np.eye(3)[2]
        s = 0.0
        for length, kappa, plane in parts:
            n = cos(plane) * e1 + sin(plane) * e2
            b = np.cross(t, n)
            half = 0.5 * length
            turn = kappa * half
            middle = point + (half * t if kappa == 0.0 else (sin(turn) * t + (1.0 - cos(turn)) * n) / kappa)
            rows.append(np.concatenate([[s, kappa], point, t, n, b, [plane], middle, [(half + NEAR) ** 2]]))
            if kappa > 0.0:
                angle = kappa * length
                point = point + (sin(angle) * t + (1.0 - cos(angle)) * n) / kappa
                t_new = cos(angle) * t + sin(angle) * n
                n_new = -sin(angle) * t + cos(angle) * n
                # the frame turns with the arc: components along n follow n, along b stay
                e1 = cos(plane) * n_new - sin(plane) * b
                e2 = sin(plane) * n_new + cos(plane) * b
                t = t_new
            else:
                point = point + length * t
            s += length
        rows[0][18] = rows[-1][18] = np.inf
        return np.array(rows)

    def frame(self, s: Array) -> tuple[Array, Array, Array, Array]:
        """Points, tangents and the two rotation-minimising axes at arc lengths s, each of shape (n, 3).

        Positions before 0 and beyond the end continue straight.
        """
        table = self.pieces()
        s = np.atleast_1d(np.asarray(s, dtype=float))
        out = [np.empty((len(s), 3)) for _ in range(4)]
        for i, si in enumerate(s):
            row = table[max(0, int(np.searchsorted(table[:, 0], si, side="right")) - 1)]
            ds, kappa, plane = si - row[0], row[1], row[14]
            p, t, n, b = row[2:5], row[5:8], row[8:11], row[11:14]
            if si > self.length:
                ds_in = self.length - row[0]
            elif si < 0.0:
                ds_in = 0.0
            else:
                ds_in = ds
            if kappa > 0.0:
                a = kappa * ds_in
                p = p + (sin(a) * t + (1.0 - cos(a)) * n) / kappa
                t, n = cos(a) * t + sin(a) * n, cos(a) * n - sin(a) * t
            else:
                p = p + ds_in * t
            p = p + (ds - ds_in) * t
            out[0][i], out[1][i] = p, t
            out[2][i] = cos(plane) * n - sin(plane) * b
            out[3][i] = sin(plane) * n + cos(plane) * b
        return out[0], out[1], out[2], out[3]


@dataclass(frozen=True)
class Narrowing:
    """A narrowing of the lumen: `depth` (m) is taken off its radius from `first` to `last`, with quintic flanks of
    length `flank` before and behind; m."""

    first: float
    last: float
    flank: float
    depth: float


@dataclass(frozen=True)
class Lumen:
    """Lumen radius at s = 0 (m), its change along s (m/m, negative = narrowing distally) and a narrowing, if any."""

    radius: float
    taper: float = 0.0
    narrowing: Narrowing | None = None

    def at(self, s: Array | float) -> Array:
        """Radius at s, m; the same shape as s."""
        s = np.asarray(s, dtype=float)
        radius = self.radius + self.taper * s
        if (n := self.narrowing) is not None:
            inlet, outlet = quintic_step((s - n.first) / n.flank + 1.0), quintic_step((n.last - s) / n.flank + 1.0)
            radius = radius - n.depth * inlet * outlet
        return np.asarray(radius)

    def narrowest(self, first: float, last: float) -> float:
        """Smallest radius between two positions (m), m."""
        inside = (self.narrowing.first, self.narrowing.last) if self.narrowing else ()
        return float(np.min(self.at(np.array([first, last, *(s for s in inside if first < s < last)]))))


def quintic_step(t: Array) -> Array:
    """Quintic step from 0 at t <= 0 to 1 at t >= 1, as `laws.step5` has it for kernels."""
    t = np.clip(t, 0.0, 1.0)
    return np.asarray(t**3 * (10.0 - 15.0 * t + 6.0 * t**2))


@dataclass(frozen=True)
class OuterWall:
    """What lies behind the false channel, where it is not as the flap: Young's modulus (Pa), breach energy (J/m2)."""

    youngs_modulus: float
    breach_toughness: float


@dataclass(frozen=True)
class Wall:
    """Tissue: Young's modulus (Pa), flap thickness (m), breach energy J_c (J/m2), Poisson ratio (-); the outer wall
    (None: of the same tissue)."""

    youngs_modulus: float
    flap_thickness: float
    breach_toughness: float
    poisson: float = 0.49
    outer: OuterWall | None = None

    @property
    def behind(self) -> OuterWall:
        """The outer wall."""
        return self.outer or OuterWall(self.youngs_modulus, self.breach_toughness)


@dataclass(frozen=True)
class Tear:
    """The window in the intima and its lips.

    start: upstream lip, m; length: window, m; gap: clear height of the mouth above the floor, m;
    lip_radius, m; half_width: half of the window's width along the circumference, m; azimuth of its middle at the
    downstream lip, rad; free_lip: which lip is the compliant cantilever; lip_length: its free length, m; spiral: turn
    of azimuth along the vessel, window and plane together, rad/m; intact: there is no opening, the wall is whole, and
    the position is a mark only; weak_toughness: breach energy (J/m2) with which an intact wall opens at this place
    (None: it is as strong there as elsewhere).
    """

    start: float
    length: float
    gap: float
    lip_radius: float
    half_width: float
    azimuth: float
    free_lip: Literal["downstream", "upstream"]
    lip_length: float
    spiral: float = 0.0
    intact: bool = False
    weak_toughness: float | None = None

    @property
    def end(self) -> float:
        """Axial position of the downstream lip, m."""
        return self.start + self.length


@dataclass(frozen=True)
class FalseChannel:
    """The subintimal pocket behind the flap and its front.

    length: downstream lip to the front at the start, m; room: lateral room W, m; thickness t (0 = closed
    plane), m; fracture_energy G_c, J/m2; front_shape; front_force: given directly (N) or None = G_c w;
    front_stiffness k_point, N/m; pressure: false minus true lumen, Pa; front_friction, -; retrograde: how far the
    plane reaches back from the upstream lip at the start, m, with a flat front of its own there (None: it cannot be
    opened that way).
    """

    length: float
    room: float
    thickness: float
    fracture_energy: float
    front_shape: Literal["notch", "flat"]
    front_force: float | None = None
    front_stiffness: float = 600.0
    pressure: float = 0.0
    front_friction: float = 0.2
    retrograde: float | None = None


@dataclass(frozen=True)
class Plug:
    """What occludes the true lumen from `start` to `end` (m): it yields to an axial force (N) and closes again behind a
    wire that is withdrawn."""

    start: float
    end: float
    force: float


@dataclass(frozen=True)
class Support:
    """Support catheter: a stiff low-friction tube that ends before the tear.

    distance: mouth to the upstream lip along the centreline, m; tilt: its axis against the vessel axis
    toward `tilt_azimuth`, rad; offset: lateral position of the mouth in the lumen (two components in the
    rotation-minimising frame), m; inner_radius, m; friction, -; mouth_radius: rounding of its edge, m; follows: behind
    its mouth it is bent as the vessel is, on its axis (tilt and offset then are 0).
    """

    distance: float
    tilt: float
    tilt_azimuth: float
    offset: tuple[float, float]
    inner_radius: float
    friction: float = 0.04
    mouth_radius: float = 0.1e-3
    follows: bool = False


@dataclass(frozen=True)
class Scene:
    """Everything the wire meets.

    start: "lumen" = the tip starts at the support's mouth in the lumen; "pocket" = the support stands on the floor of
    the false channel, its mouth one wire diameter behind the lip; "approach" = the wire lies along the vessel, its
    tip's end `tip_distance` (m) before the upstream lip, in a support that follows the vessel up to its mouth.
    plug: what occludes the true lumen (None: nothing).
    """

    centreline: Centreline
    lumen: Lumen
    wall: Wall
    tear: Tear
    channel: FalseChannel
    support: Support
    start: Literal["lumen", "pocket", "approach"] = "lumen"
    tip_distance: float = 0.0
    plug: Plug | None = None

    def __post_init__(self) -> None:
        for name, value in (
            ("lumen.radius", self.lumen.radius),
            ("wall.youngs_modulus", self.wall.youngs_modulus),
            ("wall.flap_thickness", self.wall.flap_thickness),
            ("tear.length", self.tear.length),
            ("channel.length", self.channel.length),
            ("channel.room", self.channel.room),
        ):
            if not (isfinite(value) and value > 0.0):
                raise ValueError(f"{name} is {value}; it must be positive and finite")
        if self.tear.start - self.support.distance < 0.0 and self.start != "pocket":
            raise ValueError("support.distance reaches back beyond the start of the centreline")
        follows = self.support.follows and self.support.tilt == 0.0 and self.support.offset == (0.0, 0.0)
        if self.start == "approach" and not (follows and 0.0 < self.tip_distance <= self.support.distance):
            raise ValueError(
                "a wire in the approach needs a support that follows the vessel, and a tip not behind its mouth"
            )
        if self.channel.retrograde is not None and self.plug is not None:
            raise ValueError("a plane that opens retrograde and a plug in the true lumen are not modelled together")
        if self.tear.end + self.channel.length > self.centreline.length:
            raise ValueError("the false channel reaches beyond the end of the centreline")
