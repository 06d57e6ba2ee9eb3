"""Closed forms that the simulation is checked against, each with its source. Pure formulas, SI units. Floor 1.

The rod never imports this file: else a formula would be checked against itself. "From memory" means that the
formula was written down without opening the book again; "re-derived" that it was derived anew here.
Symbols: EI bending rigidity (N m2), P axial force (N), L length (m), k and K(k), E(k) modulus and complete elliptic
integrals of the first and second kind.
"""

from math import acos, asin, atan, cos, exp, inf, pi, sin, sqrt, tan
from typing import NamedTuple

from scipy.optimize import brentq
from scipy.special import ellipe, ellipeinc, ellipj, ellipk, ellipkinc

PINNED_ROOT = 4.493409457909064  # smallest positive root of tan z = z
EULER = {
    "clamped-free": pi**2 / 4.0,
    "clamped-guided": pi**2,
    "clamped-pinned": PINNED_ROOT**2,
    "clamped-clamped": 4.0 * pi**2,
}
"""c in P = c EI/L^2. Timoshenko & Gere, Theory of Elastic Stability, 2nd ed. 1961, ch. 2; from memory, re-derived."""


class TipState(NamedTuple):
    """Tip of a clamped elastica of unit length: x along the undeformed axis from the clamp, y sideways, angle, rad."""

    x: float
    y: float
    angle: float


class PinnedState(NamedTuple):
    """Clamped-pinned elastica: axial and lateral force (N), shortening (m), tip rotation (rad)."""

    axial: float
    lateral: float
    shortening: float
    angle: float


def euler_load(EI: float, length: float, ends: str) -> float:
    """Critical axial load c EI/L^2 of a uniform column, N; `ends` is a key of EULER."""
    return EULER[ends] * EI / length**2


def shearable_column_load(euler: float, GA: float, EA: float) -> float:
    """Critical load of a shearable, compressible clamped-free rod (Simo-Reissner), N: P (1 + P/GA - P/EA) = P_Euler.

    Re-derived: the rod shortens before it buckles (raises P), shear lowers it. EA -> inf is Haringx' value
    (Haringx 1948; Timoshenko & Gere 1961, art. 2.18, from memory).
    """
    c = 1.0 / GA - 1.0 / EA
    return 2.0 * euler / (1.0 + sqrt(1.0 + 4.0 * c * euler))


def conical_column_load(EI_base: float, length: float, ratio: float) -> float:
    """Critical load of a clamped-free cone, thin end free (tip over base diameter `ratio` < 1), N.

    y = x sin(b (1/a - 1/x)) solves EI_base (x/b)^4 y'' + P y = 0, so tan(z (1/ratio - 1)) = -z with
    P = z^2 (1 - ratio)^2 EI_base/L^2. Timoshenko & Gere 1961, art. 2.14 (taper with I ~ x^4); re-derived.
    """
    if not 0.0 < ratio < 1.0:
        raise ValueError(f"ratio is {ratio}; it must lie between 0 and 1")
    span = 1.0 / ratio - 1.0
    edge = 1e-12 / span
    z = brentq(lambda s: tan(s * span) + s, 0.5 * pi / span + edge, pi / span, xtol=1e-14)
    return float(z**2 * (1.0 - ratio) ** 2 * EI_base / length**2)


def greenhill_clamped_torque(EI: float, length: float) -> float:
    """Torque at which a twisted straight rod between two coaxial clamps (one free to slide along) buckles, N m.

    M L/EI = 2 z, tan z = z (8.987). Greenhill 1883; Timoshenko & Gere 1961, art. 2.21; re-derived.
    """
    return 2.0 * PINNED_ROOT * EI / length


def free_elastica(angle: float) -> tuple[float, TipState]:
    """Clamped-free elastica under a dead axial load, at tip rotation `angle` (rad, 0 to pi).

    P L^2/EI = K(k)^2, k = sin(angle/2); x/L = 2 E/K - 1; y/L = 2 k/K. Timoshenko & Gere 1961, art. 2.7; from
    memory, re-derived.

    Returns
    -------
    load : float
        P L^2/EI
    tip : TipState
        for unit length
    """
    k = sin(0.5 * angle)
    big_k = float(ellipk(k * k))
    return big_k**2, TipState(2.0 * float(ellipe(k * k)) / big_k - 1.0, 2.0 * k / big_k, angle)


def free_elastica_angle(shortening: float) -> float:
    """Tip rotation (rad) of the clamped-free elastica whose tip has come down by `shortening` (over L, 0 to 1)."""
    return float(brentq(lambda a: 1.0 - free_elastica(a)[1].x - shortening, 1e-9, pi - 1e-6, xtol=1e-14))


def tip_force_cantilever(load: float, direction: float) -> TipState:
    """Clamped elastica of unit length under a dead tip force, the branch grown from zero load.

    theta'' = -load sin(direction - theta), theta(0) = 0, theta'(1) = 0, by elliptic integrals: with
    psi = theta - direction + pi and k = sin(psi_tip/2), sqrt(load) = K(k) - F(p, k), sin p = sin(psi_0/2)/k.
    Bisshopp & Drucker 1945 for the transverse force (from memory); re-derived for any direction.

    Parameters
    ----------
    load : float
        F L^2/EI
    direction : float
        angle of the force from the outward undeformed axis, rad (0 = pull, pi/2 = transverse), between 0 and pi
    """
    if not 0.0 < direction < pi:
        raise ValueError(f"direction is {direction}; it must lie between 0 and pi")
    root = sqrt(load)
    low = sin(0.5 * (pi - direction))

    def excess(k: float) -> float:
        return float(ellipk(k * k) - ellipkinc(asin(min(1.0, low / k)), k * k)) - root

    k = float(brentq(excess, low, 1.0 - 1e-15, xtol=1e-16))
    p = asin(min(1.0, low / k))
    along = 2.0 / root * float(ellipe(k * k) - ellipeinc(p, k * k)) - 1.0
    across = 2.0 * k * cos(p) / root
    c, s = cos(direction - pi), sin(direction - pi)
    return TipState(c * along - s * across, s * along + c * across, 2.0 * asin(k) - pi + direction)


def pinned_elastica(EI: float, length: float, shortening: float) -> PinnedState:
    """Clamped-pinned inextensible elastica, first branch, at a given end shortening (m, up to 0.4 L).

    The pin is free of moment, so the elastica about the line of thrust is sin(phi/2) = k sn(w s + K), s from the
    pin; with the clamp's tangent at angle -g to that line: sin(g/2) = -k sn(U), U = w L + K,
    X = 2 (E(am U) - E)/w - L, Y = -2 k cn(U)/w; the pin stays on the clamp's axis. Love, Mathematical Theory of
    Elasticity, 4th ed., art. 262-263 (method, from memory); re-derived.
    """
    if not 0.0 < shortening <= 0.4 * length:
        raise ValueError(f"shortening is {shortening} m; it must be greater than 0 and at most {0.4 * length} m")

    def place(w: float, k: float) -> tuple[float, float, float, float]:
        m = k * k
        sn, cn, _, am = (float(v) for v in ellipj(w + float(ellipk(m)), m))
        g = -2.0 * asin(k * sn)
        along = 2.0 / w * float(ellipeinc(am, m) - ellipe(m)) - 1.0
        across = -2.0 * k * cn / w
        x = cos(g) * along - sin(g) * across
        return x, sin(g) * along + cos(g) * across, g, w

    def on_axis(k: float) -> tuple[float, float, float, float]:
        return place(float(brentq(lambda w: place(w, k)[1], 4.0, 6.5, xtol=1e-14)), k)

    goal = 1.0 - shortening / length
    k = float(brentq(lambda v: on_axis(v)[0] - goal, 1e-5, 0.85, xtol=1e-15))
    x, _, g, w = on_axis(k)
    force = w * w * EI / length**2
    return PinnedState(force * cos(g), abs(force * sin(g)), (1.0 - x) * length, 2.0 * asin(k) + abs(g))


def fed_elastica(EI: float, gap: float, fed: float) -> tuple[float, float]:
    """Axial force and push (N) of an inextensible wire of length gap + fed (m) between two coaxial clamps a gap apart.

    P = 16 K^2 EI/l^2, gap/l = 2 E/K - 1 (Love, Mathematical Theory of Elasticity, 4th ed., art. 263, from memory);
    the moment at the clamps is 2 k sqrt(P EI), and the push that feeds the wire through a clamp that it slides in
    is P - M^2/2EI = P (1 - 2 k^2), the derivative of the bending energy by `fed`. Re-derived; the term M^2/2EI:
    Bigoni et al., Mech. Mater. 80 (2015) 368, from memory.
    """
    length = gap + fed
    k = float(brentq(lambda v: 2.0 * float(ellipe(v * v) / ellipk(v * v)) - 1.0 - gap / length, 1e-8, 0.99, xtol=1e-15))
    force = 16.0 * float(ellipk(k * k)) ** 2 * EI / length**2
    return force, force * (1.0 - 2.0 * k * k)


def rectangle_springback(yield_strain: float, thickness: float, radius: float) -> float:
    """Curvature (1/m) that an elastic-perfectly plastic strip keeps when let go after a bend of `radius` (m).

    1/R - 3 e/t + 4 R^2 (e/t)^3 with e the yield strain, where R < t/(2 e): M = 3/2 M_y (1 - (R 2e/t)^2/3) is taken off
    elastically. Standard (sheet forming, from memory); re-derived.
    """
    if radius >= thickness / (2.0 * yield_strain):
        return 0.0
    slope = yield_strain / thickness
    return 1.0 / radius - 3.0 * slope + 4.0 * radius**2 * slope**3


def tip_identity(EI: float, angle: float, natural: float = 0.0, y: float = 0.0) -> float:
    """Right side of P y^2 = 4 EI sin^2(angle/2) - 2 EI natural y for a clamped wire under an axial tip force, N m2.

    First integral of EI theta'' = -P sin theta; with a constant natural curvature `natural` (1/m) the wire's
    tip carries that curvature. Re-derived; the straight case: Timoshenko & Gere 1961, art. 2.7.
    """
    return 4.0 * EI * sin(0.5 * angle) ** 2 - 2.0 * EI * natural * y


def fold_scale(EI: float, room: float) -> float:
    """Scale of the force that folds a tip in a pocket of lateral room W: 2 EI/W^2, N (`tip_identity` at 90 degrees).

    Only a scale: simulated pockets folded at 1.1 to 4 times this value.
    """
    return 2.0 * EI / room**2


def lateral_deflection(EI: float, length: float, force: float) -> float:
    """Small deflection P L^3/3EI of a cantilever under a lateral tip force, m. Standard."""
    return force * length**3 / (3.0 * EI)


def stick_limit(friction: float) -> float:
    """Largest angle (rad) between a straight wire's axis and a plate's normal at which its tip sticks: atan(mu).

    The first force is axial, since a wire is far stiffer along itself than sideways. Statics; re-derived.
    """
    return atan(friction)


def sliding_stiffness(EI: float, length: float, tilt: float, friction: float) -> float:
    """Normal force per approach of a wire whose tip slides on a plate tilted by `tilt` > atan(mu) (rad), N/m.

    dN/d(approach along the wire) = 3 EI cot(tilt)/(L^3 (sin(tilt) - mu cos(tilt))), small deflection. Re-derived.
    """
    if tilt <= stick_limit(friction):
        return inf
    return 3.0 * EI / tan(tilt) / (length**3 * (sin(tilt) - friction * cos(tilt)))


def capstan_ratio(friction: float, angle: float) -> float:
    """Ratio exp(mu angle) of the forces at the two ends of a flexible line in a bend. Euler-Eytelwein; standard."""
    return exp(friction * angle)


def stiff_capstan(EI: float, radius: float, friction: float, turn: float, hold: float) -> float:
    """Pull (N) at which a long rod, held with `hold` (N), slips round a post; the two forces turn by `turn` (rad).

    Where rod and post part, at an angle a to the force outside, the free elastica has the post's curvature:
    1 - cos a = EI/(2 P R^2). There a point force P sin a presses on the post, between those points T/R per length, and
    no shear force (constant curvature). So P2 (cos a2 - mu sin a2) = P1 (cos a1 + mu sin a1) exp(mu (turn - a1 - a2)).
    Derived here; the problem with a rod of finite thickness and length: Singh, J. Elasticity 151 (2022) 321, doi
    10.1007/s10659-022-09939-8. Without stiffness Euler-Eytelwein. ValueError where the rod does not lie on the post.
    """

    def foot(force: float) -> float:
        return acos(1.0 - EI / (2.0 * force * radius**2))

    least = EI / (2.0 * radius**2)
    if hold < least:
        raise ValueError(f"hold is {hold} N; allowed: at least EI/(2 R^2) = {least} N, where a = 90 deg")
    first = foot(hold)

    def lacking(pull: float) -> float:
        last = foot(pull)
        there = hold * (cos(first) + friction * sin(first)) * exp(friction * (turn - first - last))
        return pull * (cos(last) - friction * sin(last)) - there

    high = 1.5 * hold * exp(friction * turn)
    pull = float(brentq(lacking, hold, high, xtol=1e-14 * hold, rtol=1e-13)) if friction > 0.0 else hold
    if turn < first + foot(pull):
        raise ValueError(f"turn is {turn} rad; allowed: at least {first + foot(pull)}, else the rod touches at a point")
    return pull


def bend_wall_force(EI: float, radius: float, clearance: float) -> float:
    """Sum of the wall's forces (N) on a straight wire of uniform EI laid in a long tube bend of `radius` (m).

    EI/(sqrt(3) R sqrt(c R)), c the radial clearance (m). At each end of the bend the wire touches the inner wall
    sqrt(12 c R) before it and the outer wall as far behind; between them its moment rises from 0 to EI/R. Small slopes,
    c much less than R, a bend longer than 2 sqrt(12 c R). Derived here from the beam between walls |w| <= c.
    """
    return EI / (sqrt(3.0) * radius * sqrt(clearance * radius))


def friction_lag(torque: float, length: float, GJ: float) -> float:
    """Lag (rad) of the tip of a turned straight rod under a uniform friction torque m (N m/m): m L^2/2GJ. Derived."""
    return torque * length**2 / (2.0 * GJ)


def friction_front(torque: float, GJ: float, base: float) -> float:
    """Torque (N m) at a base turned by `base` (rad) before the far end moves: sqrt(2 GJ m base). Derived.

    m (N m/m): uniform friction torque. The rod turns over a length sqrt(2 GJ base/m). Turned back by an angle b, the
    torque falls by 2 sqrt(GJ m b): friction reverses from the base on.
    """
    return sqrt(2.0 * GJ * torque * base)


def hertz_force(modulus: float, radius: float, indentation: float) -> float:
    """Force of a rigid sphere on an incompressible half-space, N: (16/9) E sqrt(R) D^1.5.

    Hertz 1882 with Poisson's ratio 1/2, as in Shojaeifard & Bacca, Soft Matter 2025, doi 10.1039/d5sm00502g.
    """
    return float(16.0 / 9.0 * modulus * sqrt(radius) * indentation**1.5)


class CoilRigidities(NamedTuple):
    """Bending and torsional rigidity (N m2), axial and shear rigidity (N) of a coil per axial length."""

    EI: float
    GJ: float
    EA: float
    GA: float


def coil_rigidities(wire: float, mean: float, pitch: float, modulus: float, poisson: float) -> CoilRigidities:
    """Open coil of round wire (diameter `wire`) on the mean diameter `mean`, helix angle a, tan a = pitch/(pi mean).

    EI = 2 EI_w sin a/(2 + nu cos^2 a) (Costello, Theory of Wire Rope; equals Timoshenko & Gere's spring column);
    GJ = sin a/(cos^2 a/EI_w + sin^2 a/GJ_w), EA = sin a/(r^2 (cos^2 a/GJ_w + sin^2 a/EI_w)) with ends free to turn
    (Wahl, Mechanical Springs; Love); GA = EI_w pitch/(pi r^3) (Haringx 1948). From memory, re-derived.
    """
    own = modulus * pi * wire**4 / 64.0
    twist = own / (1.0 + poisson)
    r = 0.5 * mean
    a = atan(pitch / (pi * mean))
    s, c2 = sin(a), cos(a) ** 2
    return CoilRigidities(
        EI=2.0 * own * s / (2.0 + poisson * c2),
        GJ=s / (c2 / own + s * s / twist),
        EA=s / (r * r * (c2 / twist + s * s / own)),
        GA=own * pitch / (pi * r**3),
    )


def winkler_end_deflection(EI: float, foundation: float, force: float) -> float:
    """Deflection 2 P lambda/k under a lateral end force on a semi-infinite beam on springs k (N/m2), m.

    lambda = (k/4EI)^(1/4). Hetenyi, Beams on Elastic Foundation, 1946; from memory, re-derived.
    """
    return float(2.0 * force * (foundation / (4.0 * EI)) ** 0.25 / foundation)


def winkler_end_moment(EI: float, foundation: float, force: float) -> float:
    """Largest bending moment exp(-pi/4) sin(pi/4) P/lambda (0.3224 P/lambda) of the same beam, N m. Hetenyi 1946."""
    return float(exp(-0.25 * pi) * sin(0.25 * pi) * force / (foundation / (4.0 * EI)) ** 0.25)


def winkler_buckling_load(EI: float, foundation: float, *, free_ends: bool = False) -> float:
    """Critical axial load of a long column on springs k, N: 2 sqrt(k EI), with free ends sqrt(k EI).

    Hetenyi 1946; from memory, the free ends re-derived.
    """
    return (1.0 if free_ends else 2.0) * sqrt(foundation * EI)


def wedge_crack_length(
    modulus: float, thickness: float, opening: float, energy: float, *, two_arms: bool = False
) -> float:
    """Crack length l ahead of a wedge of full opening delta, m: G = 3 E h^3 delta^2/(8 l^4), one flap off a stiff wall.

    Two equal arms opened by delta: 3/16 (Obreimoff 1930). Beam theory; from memory, re-derived.
    """
    factor = 3.0 / 16.0 if two_arms else 3.0 / 8.0
    return float((factor * modulus * thickness**3 * max(opening, 0.0) ** 2 / energy) ** 0.25)


def front_force(energy: float, diameter: float, crack: float) -> float:
    """Force G_c (d + 2 l_crack) that drives a delamination front on, N. Energy balance."""
    return energy * (diameter + 2.0 * crack)
