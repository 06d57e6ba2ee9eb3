"""An elastica in a groove, fed out of a bore against a front: a chain of links solved for its angles. theory (91).

What is still in the bore beyond `HELD` is straight. Every contact is an energy of a link's outer end; friction is
Coulomb's. Each step of feed is brought to the nearest minimum of the energy.
"""

from math import cos, pi, sin, sqrt
from typing import NamedTuple

from ..kernel import kernel
from ..smooth import ramp
from ..vessel.front import front_position
from .groove import ONSET, SLIP, STATION, Array, Chain, Groove, contact, leading

HELD = 3e-3  # m, length in the bore that may bend: some ten diameters, beyond which the bore leaves no play
MOST = 400  # Newton iterations of a step: a fold that lets go takes some hundred
CAP = 0.3  # rad, largest turn of a link in an iteration
SHIFT = 1e-3  # of EI/ds: first shift of a Hessian that is not positive definite
GROWTH = 4.0  # of the shift, until it is
LARGEST_SHIFT = 1e9  # of EI/ds: a Hessian with numbers in it is positive definite long before
ARMIJO = 1e-4  # least part of the promised decrease
DECREASES = 30  # halvings of a step along the descent direction
TOLERANCE = 1e-6  # of EI/ds: moment left over at a solution
ROUNDING = 1e3  # of the tolerance: accepted where the energy can tell no more
PASSES = 2  # of a step, so that friction knows the normal forces of the step itself
EXTENDED = 0.5e-3  # m of the front's way and
TURNED = 0.5 * pi  # rad of the tip's turn and
HOLD = 0.3e-3  # m of feed that they last: what counts as driven on and as curled (insertion/classify)
SOLVED, CURLED, DRIVEN, STUCK = 0, 1, 2, 3  # how a push ended; STUCK: no equilibrium found


class Fixed(NamedTuple):
    """What stands still within a step, m: inner end of the last link; bottom of the notch across; the front before."""

    start: float
    base: float
    front: float


@kernel
def place(c: Chain, theta: Array, m: int, start: float) -> None:
    """Positions of the links' outer ends from their angles; `start`: x of the inner end of link m - 1."""
    x, y = start, 0.0
    for i in range(m):
        j = m - 1 - i
        x += c.step * cos(theta[j])
        y += c.step * sin(theta[j])
        c.x[j] = x
        c.y[j] = y


@kernel
def energy(c: Chain, g: Groove, theta: Array, m: int, at: Fixed) -> float:
    """Energy at the angles `theta`; the front is where it then stands."""
    place(c, theta, m, at.start)
    u = 0.0
    for j in range(m):
        behind = theta[j + 1] if j + 1 < m else 0.0
        u += 0.5 * c.stiff[j] * (theta[j] - behind - c.bend[j]) ** 2
        u += contact(c, g, j, c.x[j], c.y[j])[0] + 0.5 * c.stiff[j] * (g.curved * c.step * sin(theta[j]) ** 2) ** 2
    leading(c, g, at.base, m)
    a = front_position(c.lead, c.share, m, at.front, g.front_force, ONSET)
    u += g.front_force * (a - at.front) if a > at.front else 0.0
    for j in range(m):
        u += c.share[j] * ramp(c.lead[j] - a, ONSET)[0]
    return u


@kernel
def derivatives(c: Chain, g: Groove, m: int, at: Fixed) -> None:
    """Gradient and Hessian (lower triangle) at the angles of `c`."""
    place(c, c.theta, m, at.start)
    leading(c, g, at.base, m)
    a = front_position(c.lead, c.share, m, at.front, g.front_force, ONSET)
    ds = c.step
    fx, fy, kxx, kxy, kyy, rx, ry = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    for j in range(m):
        _, s1, s2, t1, t12, t2, _ = contact(c, g, j, c.x[j], c.y[j])
        _, f, k = ramp(c.lead[j] - a, ONSET)
        f, k, n1 = c.share[j] * f, c.share[j] * k, c.lead1[j]
        fx, fy = fx + s1 + f, fy + s2 + f * n1
        kxx, kxy, kyy = kxx + t1 + k, kxy + t12 + k * n1, kyy + t2 + k * n1 * n1 + f * c.lead2[j]
        rx, ry = rx + k, ry + k * n1
        c.sums[j, 0], c.sums[j, 1], c.sums[j, 2], c.sums[j, 3], c.sums[j, 4] = fx, fy, kxx, kxy, kyy
        c.sums[j, 5], c.sums[j, 6] = rx, ry
    soften = ds * ds / rx if a > at.front and rx > 0.0 else 0.0  # the front that yields: rank one
    for j in range(m):
        s, o = sin(c.theta[j]), cos(c.theta[j])
        sums = c.sums[j]
        c.grad[j] = ds * (sums[1] * o - sums[0] * s)
        v = sums[6] * o - sums[5] * s
        for i in range(j + 1):
            si, oi = sin(c.theta[i]), cos(c.theta[i])
            t = c.sums[i]
            w = t[6] * oi - t[5] * si
            c.hess[j, i] = ds * ds * (s * si * t[2] + o * oi * t[4] - (s * oi + o * si) * t[3]) - soften * v * w
        c.hess[j, j] -= ds * (o * sums[0] + s * sums[1])
        across = c.stiff[j] * (g.curved * ds) ** 2  # normal curvature of the floor
        c.grad[j] += 2.0 * across * s**3 * o
        c.hess[j, j] += across * (6.0 * s * s * o * o - 2.0 * s**4)
    for j in range(m):
        last = j + 1 == m
        moment = c.stiff[j] * (c.theta[j] - (0.0 if last else c.theta[j + 1]) - c.bend[j])
        c.grad[j] += moment
        c.hess[j, j] += c.stiff[j]
        if not last:
            c.grad[j + 1] -= moment
            c.hess[j + 1, j + 1] += c.stiff[j]
            c.hess[j + 1, j] -= c.stiff[j]


@kernel
def descent(c: Chain, m: int, shift: float) -> bool:
    """Solve (H + shift) move = -grad by Cholesky's factors; False where that matrix is not positive definite."""
    for j in range(m):
        for i in range(j + 1):
            v = c.hess[j, i] + (shift if i == j else 0.0)
            for k in range(i):
                v -= c.factor[j, k] * c.factor[i, k]
            if i < j:
                c.factor[j, i] = v / c.factor[i, i]
            elif v > 0.0:
                c.factor[j, j] = sqrt(v)
            else:
                return False
    for j in range(m):
        v = -c.grad[j]
        for k in range(j):
            v -= c.factor[j, k] * c.move[k]
        c.move[j] = v / c.factor[j, j]
    for i in range(m):
        j = m - 1 - i
        v = c.move[j]
        for k in range(j + 1, m):
            v -= c.factor[k, j] * c.move[k]
        c.move[j] = v / c.factor[j, j]
    return True


@kernel
def relax(c: Chain, g: Groove, m: int, at: Fixed) -> bool:
    """Newton's method with a shift on a Hessian that is not positive definite, and a line search."""
    scale = c.stiff[0]
    for j in range(m):
        scale = max(scale, c.stiff[j])
    here = energy(c, g, c.theta, m, at)
    for _ in range(MOST):
        derivatives(c, g, m, at)
        worst = 0.0
        for j in range(m):
            worst = max(worst, abs(c.grad[j]))
        if worst < TOLERANCE * scale:
            return True
        shift = 0.0
        while not descent(c, m, shift):
            shift = max(SHIFT * scale, GROWTH * shift)
            if shift > LARGEST_SHIFT * scale:
                return False
        largest, slope = 0.0, 0.0
        for j in range(m):
            largest = max(largest, abs(c.move[j]))
            slope += c.move[j] * c.grad[j]
        part = min(1.0, CAP / largest)
        found = False
        for _ in range(DECREASES):
            for j in range(m):
                c.trial[j] = c.theta[j] + part * c.move[j]
            there = energy(c, g, c.trial, m, at)
            if there <= here + ARMIJO * part * slope:
                found = True
                break
            part *= 0.5
        if not found:  # the energy cannot tell any more: rounding
            return bool(worst < ROUNDING * TOLERANCE * scale)
        for j in range(m):
            c.theta[j] = c.trial[j]
        here = there
    return False


@kernel
def settle(c: Chain, g: Groove, m: int, at: Fixed) -> tuple[float, float]:
    """After a step: normal forces for friction; returns the front's place (m) and the force on it (N)."""
    place(c, c.theta, m, at.start)
    leading(c, g, at.base, m)
    a = front_position(c.lead, c.share, m, at.front, g.front_force, ONSET)
    total = 0.0
    for j in range(m):
        force = c.share[j] * ramp(c.lead[j] - a, ONSET)[1]
        total += force
        c.normal[j, 0], c.normal[j, 1] = contact(c, g, j, c.x[j], c.y[j])[6], force
    return a, total


@kernel
def opened(c: Chain, g: Groove, m: int) -> None:
    """Walls that have yielded stay where they were pushed to, as far as the nearest stations."""
    top = len(c.edge) - 1
    for j in range(m):
        if c.inside[j] > 0.0:
            continue
        at = int(c.x[j] / STATION + 0.5)
        for k in range(2):
            past = (c.y[j] if k == 1 else -c.y[j]) - g.half - g.limit / g.wall
            for i in range(max(0, at - 1), min(top, at + 1) + 1):
                c.edge[i, k] = max(c.edge[i, k], past)


@kernel
def drag(c: Chain, m: int) -> None:
    """Anchors follow where friction slid, and lie at the link's end where nothing touches."""
    for j in range(m):
        for k in range(2):
            at = c.x[j] if k == 0 else c.y[j]
            u = at - c.anchor[j, k]
            if c.normal[j, k] <= 0.0:
                c.anchor[j, k] = at
            elif abs(u) > SLIP:
                c.anchor[j, k] = at - (SLIP if u > 0.0 else -SLIP)
        p, q = c.x[j] - c.anchor[j, 2], c.y[j] - c.anchor[j, 3]
        a = (p * p + q * q) ** 0.5
        part = 1.0 if c.normal[j, 2] <= 0.0 else max(0.0, 1.0 - SLIP / a) if a > 0.0 else 0.0
        c.anchor[j, 2] += part * p
        c.anchor[j, 3] += part * q


@kernel
def push(c: Chain, g: Groove, feed: Array, out: Array) -> tuple[int, int]:
    """Feed the chain against the front until the tip has curled, the front has been driven on, or the feed is done.

    Parameters
    ----------
    feed : ndarray, shape (k,)
        feed at each step, m; at 0 the tip's end stands at the mouth
    out : ndarray, shape (k, 5)
        force on the front (N), the tip's angle (rad), how far the leading point is ahead of the tip's end (m), the
        tip's place across the groove (m), how far the front has moved (m)

    Returns
    -------
    steps, ended : int
        steps solved; SOLVED (neither within the feed), CURLED (first), DRIVEN or STUCK
    """
    n = len(c.theta)
    base, touched, front, since = 0.0, False, g.front, -1.0
    for k in range(len(feed)):
        m = int(min(n, (feed[k] - g.tip_radius + HELD) / c.step))
        start = feed[k] - g.tip_radius - m * c.step
        place(c, c.theta, m, start)
        for j in range(m):
            c.inside[j] = min(1.0, max(0.0, 1.0 - c.x[j] / c.step))
            i = min(len(c.edge) - 1, max(0, int(c.x[j] / STATION + 0.5)))
            c.out[j, 0], c.out[j, 1] = c.edge[i, 0], c.edge[i, 1]
            c.normal[j, 2] = (1.0 - c.inside[j]) * c.pinch[i] * c.step
            if not touched:
                c.anchor[j, 1] = c.y[j]
        if not touched:
            base = c.y[0]
        at = Fixed(start, base, front)
        force, moved = 0.0, front
        for _ in range(PASSES):
            if not relax(c, g, m, at):
                return k, STUCK
            moved, force = settle(c, g, m, at)
        front = moved
        drag(c, m)
        opened(c, g, m)
        touched = touched or force > 0.0
        tip, lead = c.x[0] + g.tip_radius, c.x[0] + g.tip_radius
        for j in range(m):
            lead = max(lead, c.x[j] + g.radius)
        out[k, 0], out[k, 1], out[k, 2], out[k, 3], out[k, 4] = force, c.theta[0], lead - tip, c.y[0], front - g.front
        if abs(c.theta[0]) > TURNED and lead - tip >= 2.0 * g.radius:
            since = feed[k] if since < 0.0 else since
            if feed[k] - since >= HOLD - SLIP:
                return k + 1, CURLED
        else:
            since = -1.0
        # a curl that began before the front had gone that far came first, once it has lasted
        if front - g.front > EXTENDED and since < 0.0:
            return k + 1, DRIVEN
    return len(feed), SOLVED
