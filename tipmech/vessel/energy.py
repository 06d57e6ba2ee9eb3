"""Energy of one point of the wire against lumen, lips, flap, outer wall, margins and rims. theory, "The vessel".

A point's channel (`side`) is part of the state: it changes only in the window and in holes. All derivatives are exact.
"""

from math import sqrt
from typing import NamedTuple

from ..kernel import inlined
from .holes import Distance, along_slit, flap_left, nearest_rim
from .joints import Slopes
from .laws import corner, line, line_series, point, point_series, step5
from .place import by_foot
from .walls import (
    FALSE,
    HUGE,
    TRUE,
    WINDOW,
    Walls,
    compliance_share,
    flap_surface,
    lip_mode,
    lumen_radius,
    narrowed,
    window_share,
)


class Local(NamedTuple):
    """Energy of a point in (s, r, sigma) with derivatives, split by surface: outer walls (a), flap (b), margins (c).

    w: the lip's lift. Units J, N, N/m.
    """

    u: float
    a_s: float
    a_r: float
    a_g: float
    b_s: float
    b_r: float
    b_g: float
    c_s: float
    c_r: float
    c_g: float
    ss: float
    sr: float
    sg: float
    rr: float
    rg: float
    gg: float
    w: float
    ww: float
    sw: float
    rw: float
    gw: float
    flap_force: float


@inlined
def _law(
    pen: float, stiff: float, hertz: float, size: float, radius: float, tip: bool, eps: float
) -> tuple[float, float, float, float]:
    """Wall of line stiffness `stiff` and point coefficient `hertz` under the shaft (length `size`) or the tip dome."""
    if tip:
        return point(pen, hertz * sqrt(radius))
    return line(pen, stiff * size, eps)


@inlined
def _flap(
    w: Walls,
    s: float,
    r: float,
    lip: float,
    front: float,
    below: bool,
    locked: bool,
    radius: float,
    size: float,
    tip: bool,
) -> tuple[float, float, float, float, float, float, float, float, float, float, float]:
    """Energy against the flap's upper (true lumen) or lower face, with its rounded lip. theory (17)-(19).

    From below the plane stays open up to the front: what closes it there is the front's own resistance (its crack
    length comes from the same flap), and must not be counted twice. From above the flap ends where the plane does.
    Returns U, U_s, U_r, U_ss, U_sr, U_rr, U_w, U_ww, U_sw, U_rw, force.
    """
    surface, slope, bend = flap_surface(w, s, lip, front, below)
    m, m1, _ = lip_mode(w, s)
    sign = -1.0 if below else 1.0
    pen, px, py, pxx, pxy, pyy = corner(s - w.stop, sign * (r - surface), w.rho, radius, locked)
    # y = sign (r - surface): y_s = -sign slope, y_r = sign, y_w = sign m, y_ss = -sign bend, y_sw = sign m1
    ys, yr, yw = -sign * slope, sign, sign * m
    share, c1, c2 = compliance_share(w, s, HUGE if below else front)
    if tip:
        hertz = w.hertz * sqrt(radius)
        comp, rest = w.comp_point, w.rest_point
        u, f, k, past = point_series(pen, hertz, comp * share, rest if below else 0.0)
    else:
        comp, rest = w.comp / size, w.rest * size
        u, f, k, past = line_series(pen, w.line * size, comp * share, rest if below else 0.0, w.eps)
    # by the compliance: U_c = -past^2/2, U_pc = -past k, U_cc = past^2 k
    c1, c2 = comp * c1, comp * c2
    uc, upc, ucc = -0.5 * past * past, -past * k, past * past * k
    ps = px + py * ys
    pr = py * yr
    pw = py * yw
    pss = pxx + 2.0 * pxy * ys + pyy * ys * ys - py * sign * bend
    psr = (pxy + pyy * ys) * yr
    prr = pyy
    psw = (pxy + pyy * ys) * yw + py * sign * m1
    prw = pyy * yr * yw
    pww = pyy * yw * yw
    return (
        u,
        f * ps + uc * c1,
        f * pr,
        k * ps * ps + f * pss + 2.0 * upc * ps * c1 + ucc * c1 * c1 + uc * c2,
        k * ps * pr + f * psr + upc * pr * c1,
        k * pr * pr + f * prr,
        f * pw,
        k * pw * pw + f * pww,
        k * ps * pw + f * psw + upc * pw * c1,
        k * pr * pw + f * prw,
        f,
    )


@inlined
def _beside_hole(
    left: Distance,
    u: float,
    u_s: float,
    u_r: float,
    u_ss: float,
    u_sr: float,
    u_rr: float,
    u_w: float,
    u_ww: float,
    u_sw: float,
    u_rw: float,
) -> tuple[float, float, float, float, float, float, float, float, float, float, float, float, float, float, float]:
    """Energy against the flap times what holes have left of it (`flap_left`), by the product rule.

    Returns the ten that came in, then U_g, U_sg, U_rg, U_gg, U_gw.
    """
    c, c_s, c_g, c_ss, c_sg, c_gg = left
    return (
        c * u,
        c * u_s + c_s * u,
        c * u_r,
        c * u_ss + 2.0 * c_s * u_s + c_ss * u,
        c * u_sr + c_s * u_r,
        c * u_rr,
        c * u_w,
        c * u_ww,
        c * u_sw + c_s * u_w,
        c * u_rw,
        c_g * u,
        c_g * u_s + c_sg * u,
        c_g * u_r,
        c_gg * u,
        c_g * u_w,
    )


@inlined
def _upstream(
    w: Walls, s: float, r: float, radius: float, size: float, tip: bool
) -> tuple[float, float, float, float, float, float]:
    """Energy against the wall before the window with its rounded lip, a compliant tongue where that lip is free.

    Returns U, U_s, U_r, U_ss, U_sr, U_rr.
    """
    surface, slope, bend = lumen_radius(w, s)
    pen, px, py, pxx, pxy, pyy = corner(w.start - s, r - surface, w.rho, radius, False)
    f, f1, f2 = step5((w.start - w.rho - s) / w.lip_length)
    share, c1, c2 = 1.0 - f, f1 / w.lip_length, -f2 / w.lip_length**2
    if tip:
        comp = w.tongue_point
        u, f, k, past = point_series(pen, w.hertz * sqrt(radius), comp * share, 0.0)
    else:
        comp = w.tongue / size
        u, f, k, past = line_series(pen, w.line * size, comp * share, 0.0, w.eps)
    c1, c2 = comp * c1, comp * c2
    uc, upc, ucc = -0.5 * past * past, -past * k, past * past * k
    ps, pr = -px - py * slope, py
    pss = pxx + 2.0 * pxy * slope + pyy * slope**2 - py * bend
    psr = -pxy - pyy * slope
    return (
        u,
        f * ps + uc * c1,
        f * pr,
        k * ps * ps + f * pss + 2.0 * upc * ps * c1 + ucc * c1 * c1 + uc * c2,
        k * ps * pr + f * psr + upc * pr * c1,
        k * pr * pr + f * pyy,
    )


@inlined
def _smooth_wall(
    w: Walls, s: float, r: float, outer: bool, radius: float, size: float, tip: bool
) -> tuple[float, float, float, float, float, float]:
    """Energy against the lumen's surface or, one flap behind it, the outer wall's: U, U_s, U_r, U_ss, U_sr, U_rr."""
    n, n1, n2 = narrowed(w, s)
    depth = w.flap if outer else 0.0
    stiff, hertz = (w.outer_line, w.outer_hertz) if outer else (w.line, w.hertz)
    u, f, k, _ = _law(r + radius - w.radius - w.taper * s - depth + n, stiff, hertz, size, radius, tip, w.eps)
    slope = w.taper - n1
    return u, -f * slope, f, k * slope**2 + f * n2, -k * slope, k


@inlined
def true_side(
    w: Walls,
    s: float,
    r: float,
    g: float,
    lip: float,
    front: float,
    side: int,
    radius: float,
    size: float,
    tip: bool,
    mirrored: bool,
) -> Local:
    """Energy of a point in the true lumen or in the window. theory (20). mirrored: see `false_side`."""
    cu, c_s, cf, c_ss, c_sr, ck = _smooth_wall(w, s, r, False, radius, size, tip)
    share, hs, hg, hss, hsg, hgg = window_share(w, s, g, radius)
    if s < w.start - w.rho - w.lip_length or share == 0.0:
        return Local(
            cu, c_s, cf, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, c_ss, c_sr, 0.0, ck, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
        )
    up = _upstream(w, s, r, radius, size, tip)
    below = False
    if side == WINDOW:  # in the window the nearer face counts; at equal depth both give the same
        upper = flap_surface(w, s, lip, front, False)[0]
        lower = flap_surface(w, s, lip, front, True)[0]
        below = r - upper > lower - r
    fl = _flap(w, s, r, lip, front, below, side == TRUE, radius, size, tip)
    bu, bs, bf, bss, bsr, bk = _smooth_wall(w, s, r, True, radius, size, tip)
    # the flap pressed flat on the floor: the wall behind it takes over
    tu, t_s, t_r, t_ss, t_sr, t_rr = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    if side == TRUE:
        p, p1, p2 = compliance_share(w, s, front)
        tu, t_s, t_r = p * cu, p1 * cu + p * c_s, p * cf
        t_ss, t_sr, t_rr = p2 * cu + 2.0 * p1 * c_s + p * c_ss, p1 * cf + p * c_sr, p * ck
    a_u, a_s, a_r = up[0] + bu, up[1] + bs, up[2] + bf
    b_u, b_s, b_r = fl[0] + tu, fl[1] + t_s, fl[2] + t_r
    b_ss, b_sr, b_rr = fl[3] + t_ss, fl[4] + t_sr, fl[5] + t_rr
    ow, oww, osw, orw = fl[6], fl[7], fl[8], fl[9]
    b_g, b_sg, b_rg, b_gg, ogw = 0.0, 0.0, 0.0, 0.0, 0.0
    if w.holes[0, 4] > 0.0 and not mirrored:
        left = flap_left(w.holes, s, g, radius)
        b_u, b_s, b_r, b_ss, b_sr, b_rr, ow, oww, osw, orw, b_g, b_sg, b_rg, b_gg, ogw = _beside_hole(
            left, b_u, b_s, b_r, b_ss, b_sr, b_rr, ow, oww, osw, orw
        )
    o_ss = up[3] + b_ss + bss
    o_sr = up[4] + b_sr + bsr
    o_rr = up[5] + b_rr + bk
    o_s, o_r = a_s + b_s, a_r + b_r
    rest = 1.0 - share
    du = a_u + b_u - cu
    return Local(
        share * (a_u + b_u) + rest * cu,
        share * a_s + rest * c_s + hs * (a_u - cu),
        share * a_r + rest * cf,
        hg * (a_u - cu),
        share * b_s + hs * b_u,
        share * b_r,
        share * b_g + hg * b_u,
        0.0,
        0.0,
        0.0,
        share * o_ss + rest * c_ss + 2.0 * hs * (o_s - c_s) + hss * du,
        share * o_sr + rest * c_sr + hs * (o_r - cf),
        share * b_sg + hs * b_g + hg * (o_s - c_s) + hsg * du,
        share * o_rr + rest * ck,
        share * b_rg + hg * (o_r - cf),
        share * b_gg + 2.0 * hg * b_g + hgg * du,
        share * ow,
        share * oww,
        share * osw + hs * ow,
        share * orw,
        share * ogw + hg * ow,
        share * fl[10],
    )


@inlined
def upstream_edge(w: Walls, s: float, r: float, g: float, radius: float, size: float, tip: bool) -> Local:
    """The upstream lip's part of `true_side`, its energy and gradient alone (in a)."""
    u, u_s, u_r, _, _, _ = _upstream(w, s, r, radius, size, tip)
    share, hs, hg, _, _, _ = window_share(w, s, g, radius)
    n = 0.0
    u_s, u_r, u_g = share * u_s + hs * u, share * u_r, hg * u
    return Local(share * u, u_s, u_r, u_g, n, n, n, n, n, n, n, n, n, n, n, n, n, n, n, n, n, n)


@inlined
def false_side(
    w: Walls,
    s: float,
    r: float,
    g: float,
    lip: float,
    front: float,
    radius: float,
    size: float,
    tip: bool,
    mirrored: bool,
) -> Local:
    """Energy of a point in the false channel: outer wall and flap from below (the margins: vessel/margins.py).

    mirrored: s, r are those of `mirror`, where there are no holes.
    """
    bu, bs, bf, bss, bsr, bk = _smooth_wall(w, s, r, True, radius, size, tip)
    fl = _flap(w, s, r, lip, front, True, True, radius, size, tip)
    f_u, f_s, f_r, f_ss, f_sr, f_rr, f_w, f_ww, f_sw, f_rw = fl[:10]
    f_g, f_sg, f_rg, f_gg, f_gw = 0.0, 0.0, 0.0, 0.0, 0.0
    if w.holes[0, 4] > 0.0 and not mirrored:
        left = flap_left(w.holes, s, g, radius)
        f_u, f_s, f_r, f_ss, f_sr, f_rr, f_w, f_ww, f_sw, f_rw, f_g, f_sg, f_rg, f_gg, f_gw = _beside_hole(
            left, f_u, f_s, f_r, f_ss, f_sr, f_rr, f_w, f_ww, f_sw, f_rw
        )
    # a flap pushed deep into the lumen meets the far wall: it is followed no nearer to the axis than w.far
    fu, ff, fk, _ = _law(radius + w.far - r, w.line, w.hertz, size, radius, tip, w.eps)
    return Local(
        bu + f_u + fu,
        bs,
        bf,
        0.0,
        f_s,
        f_r - ff,
        f_g,
        0.0,
        0.0,
        0.0,
        bss + f_ss,
        bsr + f_sr,
        f_sg,
        bk + f_rr + fk,
        f_rg,
        f_gg,
        f_w,
        f_ww,
        f_sw,
        f_rw,
        f_gw,
        fl[10],
    )


@inlined
def hole_side(
    w: Walls, s: float, r: float, g: float, lip: float, front: float, radius: float, size: float, tip: bool
) -> Local:
    """Energy of a point within the flap's thickness in a hole: the rim, which fades towards the flap's faces.

    A shaft thicker than the tip that has made the hole stretches it without resistance.
    """
    d, d_s, d_g, d_ss, d_sg, d_gg, wide = nearest_rim(w.holes, s, g)
    face, slope, bend = flap_surface(w, s, lip, front, True)
    m, m1, _ = lip_mode(w, s)
    half = 0.5 * w.flap
    y, y_s, y_ss = r - face + half, -slope, -bend  # from the middle of the flap
    # b(y): 1 in the middle half of the thickness
    over = 0.5 * half
    above, a1, a2 = step5((half + y) / over)
    below, b1, b2 = step5((half - y) / over)
    b, b1, b2 = (
        above * below,
        (a1 * below - above * b1) / over,
        (a2 * below - 2.0 * a1 * b1 + above * b2) / (over * over),
    )
    u, f, k, _ = _law(min(radius, wide - w.clear) + d - wide, w.line, w.hertz, size, radius, tip, w.eps)
    bu = b1 * u
    fb = b1 * f
    return Local(
        b * u,
        0.0,
        0.0,
        0.0,
        bu * y_s + b * f * d_s,
        bu,
        b * f * d_g,
        0.0,
        0.0,
        0.0,
        b2 * u * y_s * y_s + bu * y_ss + 2.0 * fb * y_s * d_s + b * (k * d_s * d_s + f * d_ss),
        b2 * u * y_s + fb * d_s,
        fb * y_s * d_g + b * (k * d_s * d_g + f * d_sg),
        b2 * u,
        fb * d_g,
        b * (k * d_g * d_g + f * d_gg),
        bu * m,
        b2 * u * m * m,
        b2 * u * m * y_s + bu * m1 + fb * m * d_s,
        b2 * u * m,
        fb * m * d_g,
        0.0,
    )


@inlined
def held_at_edge(w: Walls, c: Local, s: float, r: float, g: float, radius: float, stiff: float, out_of: int) -> Local:
    """Energy of a piece of wire (c: its energy by itself) with the edge of the nearest opening, beyond which it lies:
    a spring of `stiff` (N/m). theory (18b). It counts among the margins.

    out_of : FALSE or BACK where the piece is drawn out of that channel beside the window: it is the more held the
    farther it is out, theory (18d); else WINDOW
    """
    d, d_s, d_r, d_g, d_ss, d_sr, d_sg, d_rr, d_rg, d_gg = beyond_opening(w, s, r, g, radius)
    if out_of != WINDOW:
        over = w.rho + radius
        way = -1.0 if out_of == FALSE else 1.0
        v, v1, v2 = step5((w.stop - s if out_of == FALSE else s - w.start) / over)
        v1, v2 = way * v1 / over, v2 / (over * over)
        a, a1, a2 = lumen_radius(w, s)
        f, f1, f2 = step5((r + radius - a) / radius)  # above the wall nothing holds it
        f1, f2 = f1 / radius, f2 / (radius * radius)
        m, m_s, m_r = v * f, v1 * f - v * f1 * a1, v * f1
        m_ss = v2 * f - 2.0 * v1 * f1 * a1 + v * (f2 * a1 * a1 - f1 * a2)
        m_sr, m_rr = v1 * f1 - v * f2 * a1, v * f2
        d_ss, d_sr = m_ss * d + 2.0 * m_s * d_s + m * d_ss, m_sr * d + m_s * d_r + m_r * d_s + m * d_sr
        d_sg, d_rr = m_s * d_g + m * d_sg, m_rr * d + 2.0 * m_r * d_r + m * d_rr
        d_rg, d_gg = m_r * d_g + m * d_rg, m * d_gg
        d, d_s, d_r, d_g = m * d, m_s * d + m * d_s, m_r * d + m * d_r, m * d_g
    u, f, k, _ = line(d - w.eps, stiff, w.eps)
    return Local(
        c.u + u,
        c.a_s,
        c.a_r,
        c.a_g,
        c.b_s,
        c.b_r,
        c.b_g,
        c.c_s + f * d_s,
        c.c_r + f * d_r,
        c.c_g + f * d_g,
        c.ss + k * d_s * d_s + f * d_ss,
        c.sr + k * d_s * d_r + f * d_sr,
        c.sg + k * d_s * d_g + f * d_sg,
        c.rr + k * d_r * d_r + f * d_rr,
        c.rg + k * d_r * d_g + f * d_rg,
        c.gg + k * d_g * d_g + f * d_gg,
        c.w,
        c.ww,
        c.sw,
        c.rw,
        c.gw,
        c.flap_force,
    )


@inlined
def beyond_opening(
    w: Walls, s: float, r: float, g: float, radius: float
) -> tuple[float, float, float, float, float, float, float, float, float, float]:
    """How far (s, r, sigma = g) lies farther from the nearest opening, the window or a hole, than a wire of `radius`
    goes over its edge (0: not farther), with its derivatives by s, r, g, ss, sr, sg, rr, rg, gg.

    About the axis the circumference has no sides: what lies beside an opening comes to lie before or behind it.
    """
    over = w.rho + radius
    v, v1, v2 = step5(r / w.far - 1.0)
    v1, v2 = v1 / w.far, v2 / (w.far * w.far)
    ahead, behind = s - w.stop - over, w.start - over - s
    x, way = (ahead, 1.0) if ahead > 0.0 else (behind, -1.0) if behind > 0.0 else (0.0, 0.0)
    side, apart = (1.0, g) if g >= 0.0 else (-1.0, -g)
    rim = nearest_rim(w.holes, s, g)
    free = rim[0] - rim[6] - over
    y = max(0.0, apart - w.half - radius)
    if free < sqrt(x * x + y * y):  # as the wall lies unrolled, a hole is nearer than the window
        if free <= 0.0:
            return 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
        before, way = along_slit(w.holes, s)
        before = max(0.0, before - over)
        way = way if before > 0.0 else 0.0
        return (
            v * free + (1.0 - v) * before,
            v * rim[1] + (1.0 - v) * way,
            v1 * (free - before),
            v * rim[2],
            v * rim[3],
            v1 * (rim[1] - way),
            v * rim[4],
            v2 * (free - before),
            v1 * rim[2],
            v * rim[5],
        )
    y = v * apart - w.half - radius
    y_r, y_g, y_rr, y_rg = v1 * apart, side * v, v2 * apart, side * v1
    if y <= 0.0:
        y, y_r, y_g, y_rr, y_rg = 0.0, 0.0, 0.0, 0.0, 0.0
    d = sqrt(x * x + y * y)
    if d == 0.0:
        return 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    x, y = way * x / d, y / d
    xx, xy, yy = way * way * y * y / d, -x * y / d, x * x / d
    return (
        d,
        x,
        y * y_r,
        y * y_g,
        xx,
        xy * y_r,
        xy * y_g,
        yy * y_r * y_r + y * y_rr,
        yy * y_r * y_g + y * y_rg,
        yy * y_g * y_g,
    )


@inlined
def from_mirror(c: Local, shift: float, bend: float) -> Local:
    """Derivatives by s and r from those by the mirrored position and r shifted there, see `mirror` (shift, bend: the
    derivatives of what is added to r); the upstream lip is firm, the downstream one's lift knows nothing of it."""
    rise = c.a_r + c.b_r + c.c_r
    return Local(
        c.u,
        -c.a_s + shift * c.a_r,
        c.a_r,
        c.a_g,
        -c.b_s + shift * c.b_r,
        c.b_r,
        c.b_g,
        -c.c_s + shift * c.c_r,
        c.c_r,
        c.c_g,
        c.ss - 2.0 * shift * c.sr + shift * shift * c.rr + bend * rise,
        -c.sr + shift * c.rr,
        -c.sg + shift * c.rg,
        c.rr,
        c.rg,
        c.gg,
        0.0,
        0.0,
        0.0,
        0.0,
        0.0,
        c.flap_force,
    )


@inlined
def along_spiral(w: Walls, c: Local) -> Local:
    """Derivatives at fixed azimuth from those at fixed sigma, which follows the tear round the vessel."""
    k = w.spiral * w.floor
    return Local(
        c.u,
        c.a_s - k * c.a_g,
        c.a_r,
        c.a_g,
        c.b_s - k * c.b_g,
        c.b_r,
        c.b_g,
        c.c_s - k * c.c_g,
        c.c_r,
        c.c_g,
        c.ss - 2.0 * k * c.sg + k * k * c.gg,
        c.sr - k * c.rg,
        c.sg - k * c.gg,
        c.rr,
        c.rg,
        c.gg,
        c.w,
        c.ww,
        c.sw - k * c.gw,
        c.rw,
        c.gw,
        c.flap_force,
    )


@inlined
def local_by_foot(floor: float, slopes: Slopes, c: Local) -> Local:
    """The same for a point's energy."""
    total, h = by_foot(
        floor,
        slopes,
        (c.a_s + c.b_s + c.c_s, c.a_r + c.b_r + c.c_r, c.a_g + c.b_g + c.c_g),
        (c.ss, c.sr, c.sg, c.rr, c.rg, c.gg),
    )
    j, jr, jg = slopes[0], slopes[1], slopes[2] / floor
    return Local(
        c.u,
        j * c.a_s,
        c.a_r + jr * c.a_s,
        c.a_g + jg * c.a_s,
        j * c.b_s,
        c.b_r + jr * c.b_s,
        c.b_g + jg * c.b_s,
        j * c.c_s,
        c.c_r + jr * c.c_s,
        c.c_g + jg * c.c_s,
        h[0],
        h[1],
        h[2],
        h[3],
        h[4],
        h[5],
        c.w,
        c.ww,
        j * c.sw,
        c.rw + jr * c.sw,
        c.gw + jg * c.sw,
        c.flap_force,
    )
