"""The scene for kernels: lumen, flap and window as surfaces over (s, sigma). theory, "The vessel".

s: axial position along the centreline; r: distance from it; sigma: arc length along the circumference from the tear's
azimuth (at the floor's radius). All derivatives are exact.
"""

from math import pi
from typing import NamedTuple

import numpy as np

from ..kernel import bundle, inlined
from .joints import along_chain
from .laws import step5
from .place import Array, Place, V, foot

V4 = tuple[float, float, float, float]

HUGE = 1e9  # m, a front that is nowhere near
# side of a point: true lumen, window, false channel, hole in the flap, false channel behind the upstream lip
TRUE, WINDOW, FALSE, HOLE, BACK = 0, 1, 2, 3, 4


@inlined
def in_false_channel(side: int) -> bool:
    """Whether a point on this side is in the false channel, before or behind the tear."""
    return side == FALSE or side == BACK


@bundle
class Walls(NamedTuple):
    """The scene for kernels; lengths m, stiffness per length N/m2, compliance per length m2/N.

    pieces : centreline arcs (n, 19), see Centreline.pieces; radius, taper : of the lumen; narrow : its narrowing:
        depth, first and last s at full depth, length of its flanks (depth 0: none); flap : thickness h
    line : wall line stiffness; hertz : point coefficient E * 16/9 (times sqrt of the radius), Pa
    comp, comp_point : compliance of the flap strip under a line and a point load
    rest, rest_point : preload that holds the flap on the floor, N/m and N
    gap, thickness : mouth height and plane thickness; blend, end : lengths over which the flap's stand-off passes from
        gap to thickness and to zero before the front
    start, stop : window; rho : lip radius; half : half-width of the window (negative: intact); azimuth of the tear at
        `stop`, and its turn along the vessel (spiral), rad/m
    lip_length; lip_stiffness of the downstream lip, N/m; lip_load : pressure on it, N (positive lifts)
    tongue, tongue_point : compliance of a free upstream lip under a line and a point load (0: firm)
    far : distance from the axis up to which a flap is followed into the lumen
    room : lateral room W; margin : fracture energy of the margins, J/m2; floor : radius of the floor at the tear
    front_stiffness, N/m; front_force, N; notch : depth (0 = flat); eps : onset smoothing
    end_side, end_force, N, end_start, end_stop : of the second yielding end, the plug in the true lumen (TRUE) or the
        front of the plane behind the upstream lip (BACK, positions mirrored); end_side -1: there is none
    middle : where the vessel is mirrored, m (-HUGE: no plane behind the upstream lip)
    outer_line, outer_hertz : line and hertz of the outer wall behind the false channel
    holes : pierced in the flap; clear : by how much a hole is wider than the wire that has made it
    """

    pieces: Array
    radius: float
    taper: float
    narrow: V4
    flap: float
    line: float
    hertz: float
    comp: float
    comp_point: float
    rest: float
    rest_point: float
    gap: float
    thickness: float
    blend: float
    end: float
    start: float
    stop: float
    rho: float
    half: float
    azimuth: float
    spiral: float
    lip_length: float
    lip_stiffness: float
    lip_load: float
    tongue: float
    tongue_point: float
    far: float
    room: float
    margin: float
    floor: float
    front_stiffness: float
    front_force: float
    notch: float
    eps: float
    end_side: int
    end_force: float
    end_start: float
    end_stop: float
    middle: float
    outer_line: float
    outer_hertz: float
    holes: Array
    clear: float


@inlined
def locate(w: Walls, x: float, y: float, z: float) -> Place:
    """Curvilinear coordinates of a point; phi from the tear's azimuth, which turns along the vessel, in [-pi, pi)."""
    p = foot(w.pieces, x, y, z)
    s, slopes = along_chain(w.pieces, p.piece, p.foot, p.r, p.phi)
    phi = p.phi - w.azimuth - w.spiral * (s - w.stop)
    if phi < -pi or phi >= pi:
        phi -= 2.0 * pi * np.floor((phi + pi) / (2.0 * pi))
    return Place(s, p.r, phi, p.t, p.er, p.ep, p.stretch, p.kappa, p.cr, p.cp, p.foot, p.piece, slopes)


@inlined
def narrowed(w: Walls, s: float) -> V:
    """What a narrowing with quintic flanks takes off the lumen's radius at s, with two derivatives."""
    depth, first, last, flank = w.narrow
    if depth == 0.0 or s <= first - flank or s >= last + flank:
        return 0.0, 0.0, 0.0
    f, f1, f2 = step5((s - first) / flank + 1.0)
    g, g1, g2 = step5((last - s) / flank + 1.0)
    c, c2 = depth / flank, depth / (flank * flank)
    return depth * f * g, c * (f1 * g - f * g1), c2 * (f2 * g - 2.0 * f1 * g1 + f * g2)


@inlined
def lumen_radius(w: Walls, s: float) -> V:
    """Radius of the lumen at s with two derivatives: linear taper, less the narrowing."""
    n, n1, n2 = narrowed(w, s)
    return w.radius + w.taper * s - n, w.taper - n1, -n2


@inlined
def stand_off(w: Walls, s: float, front: float) -> tuple[float, float, float]:
    """Flap's stand-off from the floor at rest and its first two derivatives in s. theory (16)."""
    a, a1, a2 = step5((s - w.stop) / w.blend)
    b, b1, b2 = step5((front - s) / w.end)
    a1, a2 = a1 / w.blend, a2 / w.blend**2
    b1, b2 = -b1 / w.end, b2 / w.end**2
    d = w.thickness - w.gap
    f, f1, f2 = w.gap + d * a, d * a1, d * a2
    return f * b, f1 * b + f * b1, f2 * b + 2.0 * f1 * b1 + f * b2


@inlined
def compliance_share(w: Walls, s: float, front: float) -> tuple[float, float, float]:
    """Share (0..1) of the flap strip's compliance available at s: none at the lip and at the front."""
    a, a1, a2 = step5((s - w.stop - w.rho) / w.lip_length)
    b, b1, b2 = step5((front - s) / w.end)
    a1, a2 = a1 / w.lip_length, a2 / w.lip_length**2
    b1, b2 = -b1 / w.end, b2 / w.end**2
    return a * b, a1 * b + a * b1, a2 * b + 2.0 * a1 * b1 + a * b2


@inlined
def lip_mode(w: Walls, s: float) -> tuple[float, float, float]:
    """Shape of the downstream lip's lift: 1 at its edge, 0 at its root, with two derivatives in s."""
    f, f1, f2 = step5((s - w.stop - w.rho) / w.lip_length)
    return 1.0 - f, -f1 / w.lip_length, -f2 / w.lip_length**2


@inlined
def flap_surface(w: Walls, s: float, lip: float, front: float, below: bool) -> tuple[float, float, float]:
    """Radius of the flap's upper (true lumen) or lower face at rest, with two derivatives in s. theory (16)."""
    f0, f1, f2 = stand_off(w, s, HUGE if below else front)
    m, m1, m2 = lip_mode(w, s)
    face = w.flap if below else 0.0
    a, a1, a2 = lumen_radius(w, s)
    return a - f0 - lip * m + face, a1 - f1 - lip * m1, a2 - f2 - lip * m2


@inlined
def mirror(w: Walls, s: float) -> tuple[float, float, float, float]:
    """Position mirrored in the window's middle; what to add to r there so that it stands as far from the lumen's wall,
    with two derivatives by s.

    The plane behind the upstream lip is that of the downstream lip, mirrored.
    """
    t = w.start + w.stop - s
    a, a1, a2 = lumen_radius(w, s)
    b, b1, b2 = lumen_radius(w, t)
    return t, b - a, -b1 - a1, b2 - a2


@inlined
def window_share(w: Walls, s: float, g: float, radius: float) -> tuple[float, float, float, float, float, float]:
    """Share of "open wall" at (s, sigma): 1 within the window's width, 0 on the intact wall beside it.

    Behind the downstream lip the width passes over to the pocket's; an intact wall has none.
    Returns S, S_s, S_g, S_ss, S_sg, S_gg.
    """
    if w.half < 0.0:
        return 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    a, a1, a2 = step5((s - w.stop) / w.blend)
    d = 0.5 * w.room - w.half
    half, h1, h2 = w.half + d * a, d * a1 / w.blend, d * a2 / w.blend**2
    sign = 1.0 if g >= 0.0 else -1.0
    f, f1, f2 = step5((half - sign * g) / radius)
    f1, f2 = f1 / radius, f2 / radius**2
    return f, f1 * h1, -f1 * sign, f2 * h1 * h1 + f1 * h2, -f2 * h1 * sign, f2
