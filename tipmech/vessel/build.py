"""From a scene to the arrays of the kernels: plate stiffness of flap and lip, front force, breach force, support."""

from math import cos, pi, sin

import numpy as np

from .bore import Tube
from .holes import HOLES, VALUES
from .laws import HERTZ, LINE
from .scene import Array, FalseChannel, Scene, Tear
from .walls import BACK, HUGE, TRUE, Walls

LINE_PLATE = 192.0  # k = 192 D/b^3: strip clamped on both sides under a central line load (beam theory)
CANTILEVER = 0.375  # of the load p b l: a force at the free end that lifts it as the pressure does, p l^4/(8 D)
STRIP = 384.0  # w = p b^4/(384 D): strip clamped on both sides under pressure (beam theory)
POINT_PLATE = 138.0  # k = 138 D/b^2: the same under a central point load (w = 0.00725 P b^2/D, Timoshenko &
# Woinowsky-Krieger, Theory of Plates and Shells, table of clamped plates, long limit; from memory)
BLEND = 2e-3  # m, length over which the flap's stand-off passes from the mouth's gap to the plane's thickness (J)
END = 1e-3  # m, least length before the front over which flap and outer wall come together (J),
END_SLOPE = 3.0  # and the least of it in thicknesses of the plane: a haematoma ends at about 30 degrees (J)
SUPPORT = 25.0  # line stiffness of the support's wall over EI/r^4: the wire sinks in by a few % of its radius at most
LINING = 4.0  # smoothing of the bore's wall over that of tissue: a lining gives way before the wall does (J)
FAR = 0.25  # of the lumen's radius, from its axis: as far as a flap is followed into the lumen (J),
FREE = 3.0  # but always leaving this many wire diameters above the floor
CLEAR = 2.0  # smoothings by which a hole is wider than the wire that made it: it just passes
NOTCH = 2.0  # depth of the seating notch in wire radii: one diameter (J)


def plate_rigidity(modulus: float, thickness: float, poisson: float) -> float:
    """Bending rigidity D = E h^3/(12 (1 - nu^2)) of the flap, N m."""
    return modulus * thickness**3 / (12.0 * (1.0 - poisson**2))


def crack_length(modulus: float, thickness: float, opening: float, toughness: float) -> float:
    """Length l by which the crack runs ahead of a wedge, m: G = 3 E h^3 opening^2/(8 l^4). theory (23)."""
    if opening <= 0.0 or toughness <= 0.0:
        return 0.0
    return float((3.0 * modulus * thickness**3 * opening**2 / (8.0 * toughness)) ** 0.25)


def front_width(scene: Scene, diameter: float) -> float:
    """Width opened by the advancing wire, w = d + 2 l_crack, m. theory (23)."""
    opening = max(0.0, diameter - resting_thickness(scene))
    wall = scene.wall
    return diameter + 2.0 * crack_length(
        wall.youngs_modulus, wall.flap_thickness, opening, scene.channel.fracture_energy
    )


def front_strength(scene: Scene, diameter: float) -> float:
    """Force that drives the front on, N: given directly, or G_c w."""
    if scene.channel.front_force is not None:
        return scene.channel.front_force
    return scene.channel.fracture_energy * front_width(scene, diameter)


def breach_force(toughness: float, diameter: float) -> float:
    """Force that pierces a layer of breach energy `toughness` (J/m2) by a ring crack, J_c pi d, N. theory (26)."""
    return toughness * pi * diameter


def resting_thickness(scene: Scene) -> float:
    """Thickness of the plane with the pressure acting, m.

    A distended plane keeps its stated thickness; a closed one is lifted by a positive pressure as a clamped
    strip, p b^4/(384 D).
    """
    channel, wall = scene.channel, scene.wall
    if channel.thickness > 0.0 or channel.pressure <= 0.0:
        return channel.thickness
    rigidity = plate_rigidity(wall.youngs_modulus, wall.flap_thickness, wall.poisson)
    lifted = channel.pressure * channel.room**4 / (STRIP * rigidity)
    return float(min(lifted, 0.5 * scene.lumen.radius))


def closing_length(scene: Scene) -> float:
    """Length before the front over which flap and outer wall come together, m. theory (16)."""
    return min(max(END, END_SLOPE * resting_thickness(scene)), scene.channel.length)


def window_half(tear: Tear, channel: FalseChannel) -> float:
    """Half-width of the window, m: the pocket is at least as wide as its mouth."""
    return min(tear.half_width, 0.5 * channel.room)


def mouth_gap(scene: Scene) -> float:
    """Clear height of the mouth, m; a support that stands in the pocket holds it open by its own bore."""
    if scene.start == "pocket":
        return max(scene.tear.gap, 2.0 * scene.support.inner_radius)
    return scene.tear.gap


def floor_radius(scene: Scene) -> float:
    """Radius at which sigma is measured: the floor's at the downstream lip, m."""
    return float(scene.lumen.at(scene.tear.end)) + scene.wall.flap_thickness


def lip_rounding(scene: Scene) -> float:
    """Radius to which the lips are rounded, m: no more than half the flap's thickness."""
    return min(scene.tear.lip_radius, 0.5 * scene.wall.flap_thickness)


def free_lip(scene: Scene) -> float:
    """Stiffness of a free lip's edge, a cantilever plate, N/m. theory (21)."""
    wall, tear = scene.wall, scene.tear
    rigidity = plate_rigidity(wall.youngs_modulus, wall.flap_thickness, wall.poisson)
    return 3.0 * rigidity / tear.lip_length**3 * min(2.0 * tear.half_width, 2.0 * tear.lip_length)


def lip_spring(scene: Scene) -> tuple[float, float]:
    """Stiffness of the downstream lip's lift, N/m, and the pressure's force on it, N. theory (21)."""
    wall, tear, channel = scene.wall, scene.tear, scene.channel
    if tear.free_lip == "downstream":
        width = min(2.0 * tear.half_width, 2.0 * tear.lip_length)
        return free_lip(scene), channel.pressure * (CANTILEVER * width * tear.lip_length)
    rigidity = plate_rigidity(wall.youngs_modulus, wall.flap_thickness, wall.poisson)
    return POINT_PLATE * rigidity / channel.room**2, channel.pressure * (POINT_PLATE / STRIP * channel.room**2)


def build_walls(scene: Scene, diameter: float, eps: float) -> Walls:
    """Kernel arrays of the scene for a wire of `diameter` (m) and an onset smoothing `eps` (m)."""
    wall, tear, channel = scene.wall, scene.tear, scene.channel
    rigidity = plate_rigidity(wall.youngs_modulus, wall.flap_thickness, wall.poisson)
    stiffness, load = lip_spring(scene)
    edge, cantilever = POINT_PLATE / STRIP, free_lip(scene)
    floor, thickness = floor_radius(scene), resting_thickness(scene)
    end_side, end_force, end_start, end_stop = -1, 0.0, np.inf, np.inf
    if channel.retrograde is not None:
        end_side, end_force, end_start = BACK, front_strength(scene, diameter), tear.end + channel.retrograde
    elif scene.plug is not None:
        end_side, end_force, end_start, end_stop = TRUE, scene.plug.force, scene.plug.start, scene.plug.end
    suction = max(0.0, -channel.pressure) if channel.thickness == 0.0 else 0.0
    return Walls(
        pieces=scene.centreline.pieces(),
        radius=scene.lumen.radius,
        taper=scene.lumen.taper,
        narrow=(n.depth, n.first, n.last, n.flank) if (n := scene.lumen.narrowing) else (0.0, 0.0, 0.0, 1.0),
        flap=wall.flap_thickness,
        line=LINE * wall.youngs_modulus,
        hertz=HERTZ * wall.youngs_modulus,
        comp=channel.room**3 / (LINE_PLATE * rigidity),
        comp_point=channel.room**2 / (POINT_PLATE * rigidity),
        rest=0.5 * suction * channel.room,
        rest_point=edge * suction * channel.room**2,
        gap=mouth_gap(scene),
        thickness=thickness,
        blend=BLEND,
        end=closing_length(scene),
        start=tear.start,
        stop=tear.end,
        rho=lip_rounding(scene),
        half=-1.0 if tear.intact else window_half(tear, channel),
        azimuth=tear.azimuth,
        spiral=tear.spiral,
        lip_length=tear.lip_length,
        lip_stiffness=stiffness,
        lip_load=load,
        tongue=tear.lip_length / cantilever if tear.free_lip == "upstream" else 0.0,
        tongue_point=1.0 / cantilever if tear.free_lip == "upstream" else 0.0,
        far=min(FAR * (floor - wall.flap_thickness), floor - FREE * diameter),
        room=channel.room,
        margin=channel.fracture_energy,
        floor=floor,
        front_stiffness=channel.front_stiffness,
        front_force=front_strength(scene, diameter),
        notch=NOTCH * 0.5 * diameter if channel.front_shape == "notch" else 0.0,
        eps=eps,
        end_side=end_side,
        end_force=end_force,
        end_start=end_start,
        end_stop=end_stop,
        middle=-HUGE if channel.retrograde is None else 0.5 * (tear.start + tear.end),
        outer_line=LINE * wall.behind.youngs_modulus,
        outer_hertz=HERTZ * wall.behind.youngs_modulus,
        holes=np.zeros((HOLES, VALUES)),
        clear=CLEAR * eps,
    )


def support_mouth(scene: Scene, diameter: float) -> tuple[Array, Array]:
    """The support's mouth (3,), m, and its frame (3, 3): rows d1 (toward azimuth 0), d2, axis. diameter: the wire's.

    A tilted support's frame is the vessel's, turned as little as can be: a roll then means the same at every azimuth.
    """
    support, tear = scene.support, scene.tear
    if scene.start != "pocket":
        point, t, e1, e2 = (v[0] for v in scene.centreline.frame(np.array([tear.start - support.distance])))
        mouth = point + support.offset[0] * e1 + support.offset[1] * e2
        side = cos(support.tilt_azimuth) * e1 + sin(support.tilt_azimuth) * e2
        axis = cos(support.tilt) * t + sin(support.tilt) * side
    else:
        s = tear.end + diameter
        point, t, e1, e2 = (v[0] for v in scene.centreline.frame(np.array([s])))
        axis = t
        floor = float(scene.lumen.at(s)) + scene.wall.flap_thickness
        depth = floor - support.inner_radius
        mouth = point + depth * (cos(tear.azimuth) * e1 + sin(tear.azimuth) * e2)
    d1 = e1 - np.dot(e1, axis) / (1.0 + np.dot(t, axis)) * (t + axis)
    d1 -= np.dot(d1, axis) * axis
    d1 /= np.linalg.norm(d1)
    return mouth, np.array([d1, np.cross(axis, d1), axis])


def build_tube(scene: Scene, diameter: float, rigidity: float, smoothing: float) -> Tube:
    """Support for kernels.

    rigidity : EI of the wire, N m2; the wall's line stiffness is SUPPORT times EI/r^4, rigid to this wire.
    smoothing : of the onset of contact with tissue, m; the bore's is LINING times it, but leaves half the play free.
    """
    support = scene.support
    mouth, frame = support_mouth(scene, diameter)
    length = scene.tear.start - support.distance
    pieces = scene.centreline.pieces()
    pieces = pieces[pieces[:, 0] < max(length, 1e-12)] if support.follows else pieces[:0]
    pieces[-1:, 18] = np.inf
    line = SUPPORT * rigidity / (0.5 * diameter) ** 4
    eps = max(smoothing, min(LINING * smoothing, 0.5 * support.inner_radius - 0.25 * diameter))
    return Tube(
        mouth, frame[2], pieces, length, support.inner_radius, support.mouth_radius, line, support.friction, eps
    )
