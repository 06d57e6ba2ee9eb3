"""One increment: minimum of the incremental potential by Newton's method. theory (27), (29).

Elastic energy + contact + friction + front + drive + transverse viscosity; unknowns are the rod's, the lift of the
free lip (bordered) and the front (minimised out, its rank-one tangent bordered too).
"""

from math import sqrt
from typing import NamedTuple

import numpy as np

from ..kernel import bundle, inlined, kernel
from ..kernel.team import dealt, greatest, once, together, total
from ..rod.band import HALF, factor_and_solve, solve
from ..rod.elastic import RodArrays, apply_step, assemble_elastic, copy_rows
from ..rod.self_contact import NORMAL, Fold, assemble_self, factor_folded, is_folded
from ..rod.skyline import solve_skyline
from ..rod.small import V, quat_log, quat_relative
from ..smooth import ramp
from ..vessel.bore import Tube
from ..vessel.walls import Walls
from .crossing import cross_edges, slide_on
from .margins import push_margins
from .points import (
    BORDERS,
    E_CONTACT,
    E_FRICTION,
    E_FRONT,
    E_SLIDE,
    END,
    FRONT,
    G_LIP,
    H_LIP,
    K_END,
    K_FRONT,
    LIP,
    LIP_TOUCHED,
    Array,
    Memory,
    Points,
    Surface,
    add_node,
    assemble_contact,
)

SPIN = 0.5e-3  # m, lever of the drag on rotations: order of a wire's diameter
LEVER = 1e-3  # m, turns a residual moment into a force for the convergence test
STOP_STIFFNESS = 1e-3  # m, times the wall's line stiffness: stop of the lip on the floor, N/m
MAX_TURN, MAX_MOVE = 0.3, 0.25e-3  # rad, m: largest step of one iteration
SHIFT_START, SHIFT_GROWTH, SHIFT_MAX = 2e8, 4.0, 1e17  # foundation added on a negative pivot, over the tolerance, 1/m2
MAX_ITERATIONS = 40  # beyond it a smaller time step gets there sooner
PASSES = 16  # points that an edge may pass in one iteration at most
LONGEST_LEAP = 2.5  # of the last step: further ahead its motion is not continued
ARMIJO, NORM_DROP, HALVINGS = 1e-4, 0.9, 12
ENERGY_ROUND = 1e-13  # relative round-off of the potential: below it only the residual can tell progress


@bundle
class Grip(NamedTuple):
    """The hand on the wire's base: origin (3) and axis (3); stiffness along (drive spring) and across, N/m."""

    origin: Array
    axis: Array
    drive: float
    lateral: float


@bundle
class Work(NamedTuple):
    """Arrays of one insertion. x, q: state; xs, qs: at the start of the increment; xt, qt: trial; tangent (N + 1, 3)
    lagged unit tangents; weight (N + 1,): tributary lengths; last (6 N + 3,): motion of the last quiet step of feed;
    grad, band, fac, border, rhs, out: linear algebra;
    fold: contact with itself; state: see the S_ indices."""

    x: Array
    q: Array
    xs: Array
    qs: Array
    xt: Array
    qt: Array
    tangent: Array
    weight: Array
    last: Array
    grad: Array
    band: Array
    fac: Array
    border: Array
    rhs: Array
    out: Array
    fold: Fold
    state: Array


@bundle
class Model(NamedTuple):
    """Everything that does not change during an increment."""

    rod: RodArrays
    pts: Points
    mem: Memory
    walls: Walls
    tube: Tube
    surf: Surface
    grip: Grip


# state: lift of the lip, front position, notch centre, feed, front force held (0/1), front found by the last assembly,
# lift of the lip and front position at the start of the step, feed of the last quiet step (0: none), nearest approach
# of two limbs of the wire since the last record, over the distance at which they touch; whether the wire lies ready in
# the support (0/1), turn, path of the hand, feed at which the tear was reached, path at which the present curl and the
# first one began (inf: not yet), part of an increment now taken, position of the second end: now, found by the last
# assembly, at the start of the step; whether the wall has been opened since (0/1)
(
    S_LIP,
    S_FRONT,
    S_CENTRE,
    S_FEED,
    S_HELD,
    S_FRONT_NEW,
    S_LIP_START,
    S_FRONT_START,
    S_LAST,
    S_NEAREST,
    S_READY,
    S_TURN,
    S_PATH,
    S_REACHED,
    S_CURLED_SINCE,
    S_FIRST_CURL,
    S_PART,
    S_END,
    S_END_NEW,
    S_END_START,
    S_OPENED,
    STATE,
) = range(22)


@kernel
def assemble(m: Model, w: Work, x: Array, q: Array, lip: float, drag: float, mode: int) -> float:
    """Gradient, Hessian and borders at (x, q, lip) into the work arrays; returns the incremental potential, J.

    drag : viscosity over time step, N/m2 (0: none).
    """
    energy = assemble_elastic(m.rod, x, q, w.grad, w.band)
    strength = np.inf if w.state[S_HELD] > 0.0 else m.walls.front_force
    end_strength = np.inf if w.state[S_HELD] > 0.0 else m.walls.end_force if w.state[S_END] < m.walls.end_stop else 0.0
    w.state[S_FRONT_NEW], w.state[S_END_NEW] = assemble_contact(
        m.pts,
        m.mem,
        m.walls,
        m.tube,
        m.surf,
        x,
        lip,
        w.state[S_FRONT],
        strength,
        w.state[S_CENTRE],
        w.state[S_END],
        np.inf if w.state[S_HELD] > 0.0 else end_strength,
        mode,
        w.grad,
        w.band,
        w.border,
        w.out,
    )
    cross_edges(
        m.pts,
        m.mem,
        m.walls,
        m.tube,
        x,
        lip,
        w.state[S_FRONT],
        w.state[S_END],
        drag,
        w.grad,
        w.band,
        w.border,
        w.out,
    )
    push_margins(m.pts, m.mem, m.walls, m.tube, w.fold, x, w.grad, w.band, w.out)
    touch, rub = assemble_self(w.fold, m.pts.element, m.pts.xi, m.pts.size, mode, x, w.grad)
    w.out[E_CONTACT] += touch
    w.out[E_FRICTION] += rub
    energy += w.out[E_CONTACT] + w.out[E_FRICTION] + w.out[E_FRONT] + w.out[E_SLIDE]
    energy += _lip(m.walls, lip, w.out) + _drive(m.grip, w, x)
    together()
    if drag > 0.0:
        energy += _viscous(w, x, drag) + _spin(m.rod, w, q, drag) + _lip_drag(m.walls, w, lip, drag)
    return energy


@kernel
def _lip(walls: Walls, lip: float, out: Array) -> float:
    """Bending energy of the free lip with its pressure load and its stop on the floor."""
    stop = walls.line * STOP_STIFFNESS
    e, f, k = ramp(-walls.gap - lip, walls.eps)
    out[G_LIP] += walls.lip_stiffness * lip - walls.lip_load - stop * f
    out[H_LIP] += walls.lip_stiffness + stop * k
    return (0.5 * walls.lip_stiffness * lip - walls.lip_load) * lip + stop * e


@kernel
def _lip_drag(walls: Walls, w: Work, lip: float, drag: float) -> float:
    """Energy of the drag on the lift of the free lip."""
    f = lip_drag(walls, w, lip, drag)
    w.out[G_LIP] += f
    w.out[H_LIP] += drag * walls.lip_length
    return 0.5 * f * (lip - w.state[S_LIP_START])


@inlined
def lip_drag(walls: Walls, w: Work, lip: float, drag: float) -> float:
    """Drag on the lift of the free lip, as on a wire of its length: it, too, snaps. N."""
    return drag * walls.lip_length * (lip - w.state[S_LIP_START])


@kernel
def _drive(grip: Grip, w: Work, x: Array) -> float:
    """Energy of the series spring along the grip's axis and of the stiff grip across it."""
    a = grip.axis
    dx, dy, dz = x[0, 0] - grip.origin[0], x[0, 1] - grip.origin[1], x[0, 2] - grip.origin[2]
    along = dx * a[0] + dy * a[1] + dz * a[2]
    pull = w.state[S_FEED] - along
    d = (dx - along * a[0], dy - along * a[1], dz - along * a[2])
    for i in range(3):
        w.grad[i] += grip.lateral * d[i] - grip.drive * pull * a[i]
        for j in range(i + 1):
            h = (grip.drive - grip.lateral) * a[i] * a[j]
            w.band[i, HALF + j - i] += h + (grip.lateral if i == j else 0.0)
    return 0.5 * grip.drive * pull * pull + 0.5 * grip.lateral * (d[0] ** 2 + d[1] ** 2 + d[2] ** 2)


@kernel
def _viscous(w: Work, x: Array, drag: float) -> float:
    """Drag on the motion across the wire since the start of the increment."""
    energy = 0.0
    for i in dealt(x.shape[0]):
        t, k = w.tangent[i], drag * w.weight[i]
        f = node_drag(w, x, i, drag)
        for a in range(3):
            energy += 0.5 * f[a] * (x[i, a] - w.xs[i, a])
        t0, t1, t2 = t[0], t[1], t[2]
        add_node(
            w.grad,
            w.band,
            6 * i,
            f,
            (
                k * (1.0 - t0 * t0),
                k * (0.0 - t1 * t0),
                k * (0.0 - t2 * t0),
                k * (1.0 - t1 * t1),
                k * (0.0 - t2 * t1),
                k * (1.0 - t2 * t2),
            ),
        )
    together()
    return total(energy)


@inlined
def node_drag(w: Work, x: Array, i: int, drag: float) -> V:
    """Drag on the motion of node i across the wire since the start of the step, N."""
    t, k = w.tangent[i], drag * w.weight[i]
    dx, dy, dz = x[i, 0] - w.xs[i, 0], x[i, 1] - w.xs[i, 1], x[i, 2] - w.xs[i, 2]
    along = dx * t[0] + dy * t[1] + dz * t[2]
    return k * (dx - along * t[0]), k * (dy - along * t[1]), k * (dz - along * t[2])


@inlined
def turned(w: Work, q: Array, j: int) -> V:
    """Rotation vector of element j since the start of the step, rad."""
    old = (w.qs[j, 0], w.qs[j, 1], w.qs[j, 2], w.qs[j, 3])
    return quat_log(quat_relative(old, (q[j, 0], q[j, 1], q[j, 2], q[j, 3])))


@inlined
def spin_drag(rod: RodArrays, j: int, drag: float) -> float:
    """Drag on the turning of element j over its angle, N m."""
    return drag * rod.length[j] * SPIN * SPIN


@kernel
def _spin(rod: RodArrays, w: Work, q: Array, drag: float) -> float:
    """Drag on the turning of the elements, with the lever SPIN: a twisting snap moves no node.

    Its Hessian leaves out terms of second order in the rotation of one step (at most MAX_TURN an iteration).
    """
    energy = 0.0
    for j in dealt(q.shape[0]):
        k = spin_drag(rod, j, drag)
        phi = turned(w, q, j)
        for a in range(3):
            energy += 0.5 * k * phi[a] * phi[a]
        i, grad, band = 6 * j + 3, w.grad, w.band
        grad[i], grad[i + 1], grad[i + 2], band[i, HALF], band[i + 1, HALF], band[i + 2, HALF] = (
            grad[i] + k * phi[0],
            grad[i + 1] + k * phi[1],
            grad[i + 2] + k * phi[2],
            band[i, HALF] + k,
            band[i + 1, HALF] + k,
            band[i + 2, HALF] + k,
        )
    together()
    return total(energy)


@kernel
def residual(w: Work) -> float:
    """Largest residual force (moments over LEVER), N."""
    worst = abs(w.out[G_LIP])
    n = w.grad.shape[0]
    for i in dealt(n):
        g = abs(w.grad[i])
        if i % 6 >= 3:
            g /= LEVER
        if not g <= worst:
            worst = g
    return greatest(worst)


@kernel
def inertia(w: Work) -> int:
    """Negative eigenvalues of the assembled tangent with its borders; factorises; -1 on a zero pivot.

    By Haynsworth's additivity: those of the band plus those of the Schur complement of lip, front and second end;
    the ends are minimised out, so their positive pivots take none away.
    """
    n = w.grad.shape[0]
    for i in dealt(n):
        w.rhs[0, i] = -w.grad[i]
        for k in range(BORDERS):
            w.rhs[1 + k, i] = w.border[k, i]
    together()
    moving, second = front_moves(w), end_moves(w)
    # the borders that are not zero: the solution of one that is, is zero
    rhs = w.rhs[: 4 if second else 3 if moving else 2 if w.out[LIP_TOUCHED] > 0.0 else 1]
    if is_folded(w.fold):
        negative = factor_folded(w.fold, w.band)
        if negative >= 0:
            solve_skyline(w.fold.sky, rhs)
    else:
        negative = factor_and_solve(w.band, w.fac, rhs)
    if negative < 0:
        return -1
    a, b, d = schur(w)
    if second:
        c, e, f = end_schur(w)
        if f == 0.0:
            return -1
        negative += 1 if f < 0.0 else 0
        a, b, d = a - c * c / f, b - c * e / f, d - e * e / f
    if not moving:
        return negative + (1 if a < 0.0 else 0)
    if a == 0.0:
        return -1
    return negative + (1 if a < 0.0 else 0) + (1 if d - b * b / a < 0.0 else 0)


@kernel
def back_substitute(w: Work, b: Array) -> None:
    """Solve with the factors of the last `inertia`, in place; b (rows, 6 N + 3)."""
    if is_folded(w.fold):
        solve_skyline(w.fold.sky, b)
    else:
        solve(w.fac, b)


@kernel
def front_moves(w: Work) -> bool:
    """True where the front yields in the last assembly, so that its rank-one tangent is part of the system."""
    return w.out[K_FRONT] > 0.0 and w.state[S_HELD] == 0.0 and w.state[S_FRONT_NEW] > w.state[S_FRONT]


@kernel
def end_moves(w: Work) -> bool:
    """The same of the second end."""
    return w.out[K_END] > 0.0 and w.state[S_HELD] == 0.0 and w.state[S_END_NEW] > w.state[S_END]


@kernel
def schur(w: Work) -> tuple[float, float, float]:
    """Schur complement (ww, wa, aa) of lip and front after the band."""
    a, b, d = once(w.out[H_LIP]), 0.0, once(w.out[K_FRONT])
    for i in dealt(w.grad.shape[0]):
        a -= w.border[LIP, i] * w.rhs[1, i]
        b -= w.border[LIP, i] * w.rhs[2, i]
        d -= w.border[FRONT, i] * w.rhs[2, i]
    return total(a), total(b), total(d)


@kernel
def end_schur(w: Work) -> tuple[float, float, float]:
    """Row of the second end in the same: with lip, front and itself."""
    c, e, f = 0.0, 0.0, once(w.out[K_END])
    for i in dealt(w.grad.shape[0]):
        c -= w.border[LIP, i] * w.rhs[3, i]
        e -= w.border[FRONT, i] * w.rhs[3, i]
        f -= w.border[END, i] * w.rhs[3, i]
    return total(c), total(e), total(f)


@kernel
def _step(w: Work) -> tuple[float, float, float]:
    """Newton step into rhs[0] from the factorised system; returns the lip's step, the slope and its length limit."""
    n = w.grad.shape[0]
    a, b, d = schur(w)
    moving, second = front_moves(w), end_moves(w)
    rw, ra, rp = once(-w.out[G_LIP]), 0.0, 0.0
    for i in dealt(n):
        rw -= w.border[LIP, i] * w.rhs[0, i]
        ra -= w.border[FRONT, i] * w.rhs[0, i]
    rw, ra = total(rw), total(ra)
    c, e, f = 0.0, 0.0, 1.0
    if second:
        c, e, f = end_schur(w)
        for i in dealt(n):
            rp -= w.border[END, i] * w.rhs[0, i]
        rp = total(rp)
        rw, ra = rw - c * rp / f, ra - e * rp / f
        a, b, d = a - c * c / f, b - c * e / f, d - e * e / f
    if moving:
        det = a * d - b * b
        sw, sa = (d * rw - b * ra) / det, (a * ra - b * rw) / det
    else:
        sw, sa = rw / a, 0.0
    if second:
        sp = (rp - c * sw - e * sa) / f
        for i in dealt(n):
            w.rhs[0, i] -= sp * w.rhs[3, i]
    slope, turn, move = once(sw * w.out[G_LIP]), 0.0, abs(sw)
    for i in dealt(n):
        s = w.rhs[0, i] - sw * w.rhs[1, i] - sa * w.rhs[2, i]
        w.rhs[0, i] = s
        slope += w.grad[i] * s
        if i % 6 >= 3:
            turn = max(turn, abs(s))
        else:
            move = max(move, abs(s))
    together()
    slope, turn, move = total(slope), greatest(turn), greatest(move)
    return sw, slope, min(1.0, MAX_TURN / max(turn, 1e-12), MAX_MOVE / max(move, 1e-12))


@kernel
def _passes(m: Model, w: Work, lip: float, drag: float) -> bool:
    """Let the wire slide on at the edges round which it passes into a false channel; True where it did."""
    return slide_on(m.pts, m.mem, m.walls, m.tube, w.x, lip, w.state[S_FRONT], w.state[S_END], drag)


@kernel
def settle_crossings(m: Model, w: Work, lip: float, drag: float) -> float:
    """Assemble at (w.x, w.q, lip) with the wire slid on at its edges as far as it will; returns the potential, J."""
    for _ in range(PASSES):
        energy = assemble(m, w, w.x, w.q, lip, drag, NORMAL)
        if not _passes(m, w, lip, drag):
            return energy
    return assemble(m, w, w.x, w.q, lip, drag, NORMAL)


@kernel
def newton(m: Model, w: Work, drag: float, tolerance: float, travel: float) -> int:
    """Minimise the incremental potential from the state in `w`; returns iterations, negative if not converged.

    travel : largest displacement of a node since the start of the step that is followed, m: beyond it the wire is
    snapping and wants a smaller time step.
    On success w.x, w.q, w.state[S_LIP] hold the minimum, and gradient, borders and point forces belong to it.
    """
    lip = w.state[S_LIP]
    energy = settle_crossings(m, w, lip, drag)
    norm = residual(w)
    floor = 0.0
    for iteration in range(MAX_ITERATIONS):
        if norm <= tolerance:
            w.state[S_LIP] = lip
            return iteration
        if not norm < 1e12:
            return -1 - iteration
        shift = floor
        if shift > 0.0:
            _add_shift(w, shift)
        while inertia(w) != 0:
            more = SHIFT_START * tolerance if shift == 0.0 else (SHIFT_GROWTH - 1.0) * shift
            _add_shift(w, more)
            shift += more
            if shift > SHIFT_MAX * tolerance:
                return -1 - iteration
        sw, slope, limit = _step(w)
        accepted = False
        t = limit
        for _ in range(HALVINGS):
            apply_step(w.x, w.q, w.rhs[0], t, w.xt, w.qt)
            new = assemble(m, w, w.xt, w.qt, lip + t * sw, drag, NORMAL)
            new_norm = residual(w)
            level = new <= energy + ENERGY_ROUND * abs(energy)
            if new <= energy + ARMIJO * t * slope or (level and new_norm <= NORM_DROP * norm) or new_norm <= tolerance:
                accepted = True
                break
            t *= 0.5
            # the step lives in rhs[0], which no assembly touches
        floor = 0.25 * shift if accepted else max(4.0 * shift, SHIFT_START * tolerance)
        if floor < SHIFT_START * tolerance:
            floor = 0.0
        if accepted:
            lip += t * sw
            copy_rows(w.x, w.xt)
            copy_rows(w.q, w.qt)
            energy, norm = new, new_norm
            if _passes(m, w, lip, drag):
                energy = settle_crossings(m, w, lip, drag)
                norm = residual(w)
            if moved(w) > travel:
                return -1 - iteration
        else:
            if floor > SHIFT_MAX * tolerance:
                return -1 - iteration
            energy = assemble(m, w, w.x, w.q, lip, drag, NORMAL)
    return -1 - MAX_ITERATIONS


@kernel
def keep_motion(w: Work, feed: float) -> None:
    """Note the motion of the step just made by `feed` (m), to start the next one from."""
    for i in dealt(w.x.shape[0]):
        for a in range(3):
            w.last[6 * i + a] = w.x[i, a] - w.xs[i, a]
    for j in dealt(w.q.shape[0]):
        phi = turned(w, w.q, j)
        for a in range(3):
            w.last[6 * j + 3 + a] = phi[a]
    together()
    w.state[S_LAST] = feed


@kernel
def predict(w: Work, feed: float) -> None:
    """Start a step of `feed` (m) where the last motion, continued, would end; only where it is of the same kind."""
    if w.state[S_LAST] == 0.0:
        return
    ratio = feed / w.state[S_LAST]
    if 0.0 < ratio <= LONGEST_LEAP:
        apply_step(w.x, w.q, w.last, ratio, w.xt, w.qt)
        copy_rows(w.x, w.xt)
        copy_rows(w.q, w.qt)


@kernel
def moved(w: Work) -> float:
    """Largest displacement component of a node since the start of the step, m."""
    far = 0.0
    for i in dealt(w.x.shape[0]):
        for a in range(3):
            far = max(far, abs(w.x[i, a] - w.xs[i, a]))
    return greatest(far)


@kernel
def _add_shift(w: Work, shift: float) -> None:
    """Foundation of `shift` N/m2 under every node, element and the lip, on the diagonal."""
    w.out[H_LIP] += shift * LEVER
    n = w.weight.shape[0]
    for i in dealt(n):
        for a in range(3):
            w.band[6 * i + a, HALF] += shift * w.weight[i]
            if i < n - 1:
                w.band[6 * i + 3 + a, HALF] += shift * w.weight[i] * SPIN * SPIN
    together()


@kernel
def update_tangents(w: Work, held: bool) -> None:
    """Directions at the nodes in which no drag acts: the unit tangents, none where the feed is held."""
    n = w.x.shape[0] - 1
    if held:
        w.tangent[:] = 0.0
        return
    for i in dealt(n + 1):
        a, b = max(0, i - 1), min(n, i + 1)
        tx, ty, tz = w.x[b, 0] - w.x[a, 0], w.x[b, 1] - w.x[a, 1], w.x[b, 2] - w.x[a, 2]
        norm = sqrt(tx * tx + ty * ty + tz * tz)
        w.tangent[i, 0], w.tangent[i, 1], w.tangent[i, 2] = tx / norm, ty / norm, tz / norm
    together()
