"""Contact laws of a wire against tissue: energy, force and stiffness over penetration. theory, "Contact".

The shaft is a line foundation, the tip dome a Hertz point; behind the flap's surface its bending compliance
is in series, minimised out station by station.
"""

from math import sqrt

from ..kernel import inlined, kernel
from ..smooth import ramp

LINE = 2.0 * sqrt(2.0) / 3.0  # k_line / E: a wire across an edge then follows Hertz exactly. theory (22)
HERTZ = 16.0 / 9.0  # F = HERTZ E sqrt(R) d^1.5, incompressible half-space (references: Hertz)
SERIES_STEPS = 40  # safeguarded Newton steps for the tip on the flap; 4 to 6 are needed


@inlined
def step5(t: float) -> tuple[float, float, float]:
    """Quintic step from 0 (t <= 0) to 1 (t >= 1) with its first two derivatives."""
    if t <= 0.0:
        return 0.0, 0.0, 0.0
    if t >= 1.0:
        return 1.0, 0.0, 0.0
    u = 1.0 - t
    return t * t * t * (10.0 - 15.0 * t + 6.0 * t * t), 30.0 * t * t * u * u, 60.0 * t * u * (1.0 - 2.0 * t)


@kernel
def penetration(slope: float, eps: float) -> float:
    """Penetration at which the smoothed half square has the slope `slope` (>= 0), m."""
    return slope if slope >= eps else 2.0 * sqrt(eps * slope) - eps


@inlined
def line(pen: float, stiff: float, eps: float) -> tuple[float, float, float, float]:
    """Line foundation of stiffness `stiff` (N/m): energy, force, stiffness, force on a layer behind it."""
    e, f, k = ramp(pen, eps)
    return stiff * e, stiff * f, stiff * k, 0.0


@inlined
def line_series(pen: float, stiff: float, comp: float, rest: float, eps: float) -> tuple[float, float, float, float]:
    """Line foundation `stiff` (N/m) before a layer of compliance `comp` (m/N) that moves from force `rest` (N).

    The fourth value is the force on the layer beyond `rest`, so that dU/dcomp = - its square / 2.
    """
    e, f, k = ramp(pen, eps)
    if stiff * f <= rest:
        return stiff * e, stiff * f, stiff * k, 0.0
    both = stiff / (1.0 + stiff * comp)
    yield_pen = penetration(rest / stiff, eps)
    yield_e = ramp(yield_pen, eps)[0]
    rise = e - yield_e + comp * rest * (pen - yield_pen)
    slope = both * (rest * (pen - yield_pen) - both * rise)
    return stiff * yield_e + both * rise, both * (f + comp * rest), both * k, sqrt(max(0.0, -2.0 * slope))


@kernel
def point(pen: float, hertz: float) -> tuple[float, float, float, float]:
    """Hertz point of coefficient `hertz` (N/m^1.5): energy, force, stiffness, 0."""
    if pen <= 0.0:
        return 0.0, 0.0, 0.0, 0.0
    root = sqrt(pen)
    force = hertz * pen * root
    return 0.4 * force * pen, force, 1.5 * hertz * root, 0.0


@kernel
def point_series(pen: float, hertz: float, comp: float, rest: float) -> tuple[float, float, float, float]:
    """Hertz point before a layer of compliance `comp` (m/N) that moves from force `rest` (N)."""
    e, force, k, _ = point(pen, hertz)
    if force <= rest or comp <= 0.0:
        return e, force, k, 0.0
    low, high = 0.0, pen
    d = pen / (1.0 + comp * k)
    for _ in range(SERIES_STEPS):
        e, force, k, _z = point(d, hertz)
        miss = d + comp * (force - rest) - pen
        if miss > 0.0:
            high = d
        else:
            low = d
        move = miss / (1.0 + comp * k)
        if abs(move) <= 1e-15 * pen:
            break
        d -= move
        if not (low < d < high):
            d = 0.5 * (low + high)
    e, force, k, _z = point(d, hertz)
    past = force - rest
    return e + 0.5 * comp * past * past + rest * comp * past, force, k / (1.0 + comp * k), past


@kernel
def yielding(pen: float, stiff: float, limit: float, eps: float) -> tuple[float, float, float, float]:
    """Line foundation that yields at the force `limit` (N): energy, force, stiffness, yielded length (m)."""
    e, f, k = ramp(pen, eps)
    if stiff * f <= limit:
        return stiff * e, stiff * f, stiff * k, 0.0
    yield_pen = penetration(limit / stiff, eps)
    past = pen - yield_pen
    return stiff * ramp(yield_pen, eps)[0] + limit * past, limit, 0.0, past


@inlined
def corner(
    x: float, y: float, rho: float, radius: float, locked: bool
) -> tuple[float, float, float, float, float, float]:
    """Penetration of a disc into a solid quadrant x > 0, y > 0 with a corner rounded by rho.

    x, y : depths of the disc's centre behind the two faces (negative: before them), m
    locked : the disc has passed the corner along the face y = 0: behind the rounding only that face acts, and over the
        rounding it comes to act on a disc whose centre is behind it (a wire beside the window's edge). theory (18a)
    Returns penetration, its two first and three second derivatives (xx, xy, yy).
    """
    if x >= rho and (locked or y <= x):
        return radius + y, 0.0, 1.0, 0.0, 0.0, 0.0
    if y >= rho:
        p, px, py, pxx, pxy, pyy = radius + x, 1.0, 0.0, 0.0, 0.0, 0.0
    else:
        u, v = rho - x, rho - y
        d = sqrt(u * u + v * v)
        d3 = d * d * d
        p, px, py, pxx, pxy, pyy = radius + rho - d, u / d, v / d, -v * v / d3, u * v / d3, -u * u / d3
    if not locked or x <= 0.0 or y <= 0.0:
        return p, px, py, pxx, pxy, pyy
    w, w1, w2 = step5(x / rho)
    v, v1, v2 = step5(y / rho)
    w1, w2, v1, v2 = w1 / rho, w2 / (rho * rho), v1 / rho, v2 / (rho * rho)
    more = radius + y - p
    rest = 1.0 - w * v
    return (
        p + w * v * more,
        rest * px + w1 * v * more,
        rest * py + w * v + w * v1 * more,
        rest * pxx + w2 * v * more - 2.0 * w1 * v * px,
        rest * pxy + w1 * v1 * more + w1 * v * (1.0 - py) - w * v1 * px,
        rest * pyy + w * v2 * more + 2.0 * w * v1 * (1.0 - py),
    )
