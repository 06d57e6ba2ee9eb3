"""Elastic energy of the rod with exact gradient and Hessian. theory (3)-(12).

Unknowns in order x_0, th_0, x_1, th_1, ..., x_N: increments of the node positions (m) and material rotation
vectors of the element frames, R <- R exp(th). Their number is 6 N + 3.
"""

from math import exp, log, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..bending import PER_LOG, PIECES
from ..kernel import bundle, inlined, kernel
from ..kernel.team import dealt, stretch, together, total
from .band import HALF, write_far, write_near
from .small import (
    M,
    Q,
    V,
    add,
    cross,
    dot,
    inverse_right_jacobian,
    log_coefficients,
    matmul,
    mul,
    outer,
    quat_log,
    quat_relative,
    quat_turn,
    rotation,
    scale_columns,
    scale_rows,
    skew,
    skew_product,
    skew_square,
    symmetric,
    tmul,
    transpose,
)

Array = NDArray[np.float64]
NO_FORCE = (0.0, 0.0, 0.0)
NO_BLOCK = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
Bow = tuple[V, V]  # of a joint: moments over curvatures, N m2; and p (N m), t (1/N), whose t p p^T its tangent adds


@bundle
class RodArrays(NamedTuple):
    """The rod as arrays, N elements; any stride.

    length : shape (N,), rest lengths, m
    span : shape (N + 1,), rest length belonging to each joint, m; joint 0 and joint N tie the end frames to the
        clamps' frames and own half an element
    stretch : shape (N, 3), GA1, GA2, EA, N
    bend : shape (N + 1, 3), EI1, EI2, GJ, N m2 (all 0: no such joint, a free end)
    natural : shape (N + 1, 3), natural curvature and twist, 1/m
    clamps : shape (2, 4), quaternions of the clamps' frames before the first and behind the last element
    limit : shape (N + 1,) or (0,), EI1 kappa^2 at which the bending of a joint leaves the line, N (inf: never); no
        joint of the rod has a law: shape (0,)
    side : shape (N + 1,) or (0,), what takes EI1's place about axis 2 there: EI1 times the law's aspect, N m2
    law : shape (N + 1, 3, PIECES + 1) or (0, 3, PIECES + 1), energy, moment and slope beyond it (`bending.MomentLaw`)
    """

    length: Array
    span: Array
    stretch: Array
    bend: Array
    natural: Array
    clamps: Array
    limit: Array = np.zeros(0)
    side: Array = np.zeros(0)
    law: Array = np.zeros((0, 3, PIECES + 1))


@kernel
def element_strain(d: V, frame: M, length: float) -> V:
    """Shear and stretch strain R^T d / l - e3. theory (3)."""
    v = tmul(frame, d)
    return (v[0] / length, v[1] / length, v[2] / length - 1.0)


@kernel
def bent(law: Array, i: int, limit: float, u: float) -> tuple[float, float, float]:
    """Bending of joint i beyond its limit, at u = EI1 (k1^2 + aspect k2^2) > limit. theory, "Moment over curvature".

    Energy per length (J/m), secant of the moment over the line (-), and derivative of the secant by u/2 (1/N).
    """
    x = sqrt(u / limit)
    j = min(int(log(x) * PER_LOG), PIECES - 1)
    start, end = exp(j / PER_LOG), exp((j + 1) / PER_LOG)
    h = end - start
    t = min((x - start) / h, 1.0)
    past = max(x - end, 0.0)  # beyond the table: straight on with its last slope
    a, b = law[i, 1, j], law[i, 1, j + 1]
    ra, rb = law[i, 2, j], law[i, 2, j + 1]
    secant = (b - a) / h
    bow, twist = 3.0 * secant - 2.0 * ra - rb, ra + rb - 2.0 * secant
    moment = a + h * t * (ra + t * (bow + t * twist))
    slope = ra + t * (2.0 * bow + t * 3.0 * twist)
    stored = law[i, 0, j] + h * t * (a + h * t * (0.5 * ra + t * (bow / 3.0 + t * 0.25 * twist)))
    stored += past * (moment + 0.5 * past * slope)
    soft = (moment + past * slope) / x
    return limit * (0.5 + stored), soft, (slope - soft) / u


@inlined
def _joint(rod: RodArrays, i: int, qa: Q, qb: Q) -> tuple[V, V, float, Bow]:
    """Rotation vector across joint i, its moment vector (N m), its energy (J) and its stiffness. theory (4), (6)."""
    phi = quat_log(quat_relative(qa, qb))
    span = rod.span[i]
    k0 = phi[0] / span - rod.natural[i, 0]
    k1 = phi[1] / span - rod.natural[i, 1]
    k2 = phi[2] / span - rod.natural[i, 2]
    c = (rod.bend[i, 0], rod.bend[i, 1], rod.bend[i, 2])
    m = (c[0] * k0, c[1] * k1, c[2] * k2)
    energy = 0.5 * span * (m[0] * k0 + m[1] * k1 + m[2] * k2)
    if rod.limit.shape[0] > 0:
        p = (m[0], rod.side[i] * k1, 0.0)
        u = p[0] * k0 + p[1] * k1
        if u > rod.limit[i]:
            stored, soft, change = bent(rod.law, i, rod.limit[i], u)
            energy += span * (stored - 0.5 * u)
            c = (soft * c[0], c[1] - (1.0 - soft) * rod.side[i], c[2])
            return phi, (c[0] * k0, c[1] * k1, m[2]), energy, (c, (p[0], p[1], change))
    return phi, m, energy, (c, (0.0, 0.0, 0.0))


@inlined
def _joint_tangent(rod: RodArrays, i: int, phi: V, m: V, bow: Bow) -> tuple[M, M, M, M]:
    """A = inverse right Jacobian, and the Hessian blocks (a,a), (b,b), (a,b) of a joint. theory (10)-(12)."""
    c, slope = log_coefficients(phi)
    jac = inverse_right_jacobian(phi, c)
    span = rod.span[i]
    stiff = (bow[0][0] / span, bow[0][1] / span, bow[0][2] / span)
    moment = skew(m)
    mxp = cross(m, phi)
    p = cross(phi, cross(phi, m))
    even = outer(phi, p)
    turn = skew_product(m, phi)
    side = skew(mxp)
    # T with m . D A[u] th = u^T T th, and T' the same for A^T (only the odd part changes sign)
    even = add(add(turn, side, 1.0), even, -2.0 * slope / c)
    tb = add(scale_columns(even, (-c, -c, -c)), moment, -0.5)
    ta = add(tb, moment, 1.0)
    jt = transpose(jac)
    jac_d = scale_columns(jac, stiff)
    jt_d = scale_columns(jt, stiff)
    aa = add(matmul(jac_d, jt), symmetric(matmul(jac, ta)), 1.0)
    bb = add(matmul(jt_d, jac), symmetric(matmul(jt, tb)), 1.0)
    ab = matmul(jac, add(scale_rows(stiff, jac), tb, 1.0))
    change = bow[1][2] / span
    if change != 0.0:  # the tangent is softer than the secant in one direction
        along = (bow[1][0], bow[1][1], 0.0)
        ga, gb = mul(jac, along), tmul(jac, along)
        aa = add(aa, outer(ga, ga), change)
        bb = add(bb, outer(gb, gb), change)
        ab = add(ab, outer(ga, gb), change)
    return jac, aa, bb, ab


@kernel
def elastic_energy(rod: RodArrays, x: Array, q: Array) -> float:
    """Elastic energy of positions x (N + 1, 3) and frames q (N, 4), J. theory (5)."""
    n = q.shape[0]
    energy = 0.0
    for j in dealt(n):
        frame = rotation((q[j, 0], q[j, 1], q[j, 2], q[j, 3]))
        d = (x[j + 1, 0] - x[j, 0], x[j + 1, 1] - x[j, 1], x[j + 1, 2] - x[j, 2])
        g = element_strain(d, frame, rod.length[j])
        s = rod.stretch[j]
        energy += 0.5 * rod.length[j] * (s[0] * g[0] * g[0] + s[1] * g[1] * g[1] + s[2] * g[2] * g[2])
    for i in dealt(n + 1):
        if rod.bend[i, 0] > 0.0:
            qa, qb = joint_frames(rod, q, i)
            energy += _joint(rod, i, qa, qb)[2]
    return total(energy)


@inlined
def joint_frames(rod: RodArrays, q: Array, i: int) -> tuple[Q, Q]:
    """Quaternions on the two sides of joint i, the clamps' frames at the ends."""
    n = q.shape[0]
    a = rod.clamps[0] if i == 0 else q[i - 1]
    b = rod.clamps[1] if i == n else q[i]
    return (a[0], a[1], a[2], a[3]), (b[0], b[1], b[2], b[3])


@kernel
def clamp_moment(rod: RodArrays, q: Array, end: int) -> V:
    """Moment of the rod on the clamp before the first (end 0) or behind the last element (end 1), N m.

    Components in the clamp's frame; minus the energy's derivative by a turn of the clamp.
    """
    i = 0 if end == 0 else q.shape[0]
    qa, qb = joint_frames(rod, q, i)
    phi, m, _, _ = _joint(rod, i, qa, qb)
    jac = inverse_right_jacobian(phi, log_coefficients(phi)[0])
    if end == 0:
        return mul(jac, m)
    t = tmul(jac, m)
    return (-t[0], -t[1], -t[2])


@kernel
def assemble_elastic(rod: RodArrays, x: Array, q: Array, grad: Array, band: Array) -> float:
    """Write the elastic gradient (6 N + 3,) and Hessian band (6 N + 3, 9), whatever was in them; return the energy, J.

    What two elements or joints add to the same rows is carried from one to the next and written once: an entry that
    is added to has to be waited for, on a GPU longer than its numbers take to compute. A thread's stretch begins with
    what the element before it adds.
    """
    n = q.shape[0]
    energy = 0.0
    xx, tx, force = NO_BLOCK, NO_BLOCK, NO_FORCE  # of the element before
    first, behind = stretch(n)
    for j in range(max(first - 1, 0), behind):
        frame = rotation((q[j, 0], q[j, 1], q[j, 2], q[j, 3]))
        length = rod.length[j]
        d = (x[j + 1, 0] - x[j, 0], x[j + 1, 1] - x[j, 1], x[j + 1, 2] - x[j, 2])
        g = element_strain(d, frame, length)
        c = (rod.stretch[j, 0], rod.stretch[j, 1], rod.stretch[j, 2])
        f = (c[0] * g[0], c[1] * g[1], c[2] * g[2])
        v = (g[0], g[1], g[2] + 1.0)
        before, force = force, mul(frame, f)
        far, near = xx, transpose(tx)
        cv = scale_rows(c, skew(v))
        xx = matmul(scale_columns(frame, c), transpose(frame))
        xx = scale_columns(xx, (1.0 / length, 1.0 / length, 1.0 / length))
        # theta-theta: l ([v]^T C [v] + (v f^T + f v^T)/2 - (f.v) I)
        tt = add(skew_square(v, c), symmetric(outer(v, f)), 1.0)
        fv = dot(f, v)
        tt = (tt[0] - fv, tt[1], tt[2], tt[3], tt[4] - fv, tt[5], tt[6], tt[7], tt[8] - fv)
        tt = scale_columns(tt, (length, length, length))
        # theta-x_{j+1}: ([v]^T C + [f]) R^T
        tx = matmul(add(transpose(cv), skew(f), 1.0), transpose(frame))
        if j < first:
            continue
        energy += 0.5 * length * dot(f, g)
        turn = cross(f, v)
        k = 6 * j
        for a in range(3):
            grad[k + a] = before[a] - force[a]
            grad[k + 3 + a] = length * turn[a]
        write_far(band, k, far)
        write_near(band, k, near, add(far, xx, 1.0))
        write_near(band, k + 3, (-tx[0], -tx[1], -tx[2], -tx[3], -tx[4], -tx[5], -tx[6], -tx[7], -tx[8]), tt)
    if first < n == behind:
        for a in range(3):
            grad[6 * n + a] = force[a]
        write_far(band, 6 * n, xx)
        write_near(band, 6 * n, transpose(tx), xx)
    together()
    return _assemble_joints(rod, q, energy, grad, band)


@inlined
def _assemble_joints(rod: RodArrays, q: Array, energy: float, grad: Array, band: Array) -> float:
    """Add gradient and Hessian of all joints to those of the elements; return `energy` with theirs added, J."""
    n = q.shape[0]
    bb, gb = NO_BLOCK, NO_FORCE  # of the joint before, on the element behind it
    first, behind = stretch(n + 1)
    for i in range(max(first - 1, 0), behind):
        aa, ab, ga, last, push = NO_BLOCK, NO_BLOCK, NO_FORCE, bb, gb
        bb, gb = NO_BLOCK, NO_FORCE
        if rod.bend[i, 0] > 0.0:
            qa, qb = joint_frames(rod, q, i)
            phi, m, stored, bow = _joint(rod, i, qa, qb)
            jac, aa, bb, ab = _joint_tangent(rod, i, phi, m, bow)
            ga, gb = mul(jac, m), tmul(jac, m)
            if i >= first:
                energy += stored
        if i < first:
            continue
        if i > 0:
            k = 6 * i - 3
            grad[k], grad[k + 1], grad[k + 2] = (
                grad[k] + push[0] - ga[0],
                grad[k + 1] + push[1] - ga[1],
                grad[k + 2] + push[2] - ga[2],
            )
            (
                band[k, HALF],
                band[k + 1, HALF - 1],
                band[k + 1, HALF],
                band[k + 2, HALF - 2],
                band[k + 2, HALF - 1],
                band[k + 2, HALF],
            ) = (
                band[k, HALF] + last[0] + aa[0],
                band[k + 1, HALF - 1] + last[3] + aa[3],
                band[k + 1, HALF] + last[4] + aa[4],
                band[k + 2, HALF - 2] + last[6] + aa[6],
                band[k + 2, HALF - 1] + last[7] + aa[7],
                band[k + 2, HALF] + last[8] + aa[8],
            )
        else:
            ab = NO_BLOCK  # before the first element there is none
        if i < n:
            write_far(band, 6 * i + 3, transpose(ab))
    together()
    return total(energy)


@kernel
def apply_step(x: Array, q: Array, step: Array, factor: float, x_new: Array, q_new: Array) -> None:
    """Move positions by factor * step and turn frames by exp(factor * step): x_new, q_new are filled."""
    n = q.shape[0]
    for i in dealt(n + 1):
        for a in range(3):
            x_new[i, a] = x[i, a] + factor * step[6 * i + a]
    for j in dealt(n):
        k = 6 * j + 3
        theta = (factor * step[k], factor * step[k + 1], factor * step[k + 2])
        turned = quat_turn((q[j, 0], q[j, 1], q[j, 2], q[j, 3]), theta)
        for a in range(4):
            q_new[j, a] = turned[a]
    together()


@kernel
def copy_rows(target: Array, source: Array) -> None:
    """Copy a matrix entry by entry (slice assignment would need the reference counter that kernels do without)."""
    if source.shape[0] >= source.shape[1]:
        for i in dealt(source.shape[0]):
            for a in range(source.shape[1]):
                target[i, a] = source[i, a]
    else:
        for i in range(source.shape[0]):
            for a in dealt(source.shape[1]):
                target[i, a] = source[i, a]
    together()


@kernel
def fill(target: Array, value: float) -> None:
    """Give every entry of a matrix the same value."""
    if target.shape[0] >= target.shape[1]:
        for i in dealt(target.shape[0]):
            for k in range(target.shape[1]):
                target[i, k] = value
    else:
        for i in range(target.shape[0]):
            for k in dealt(target.shape[1]):
                target[i, k] = value
    together()
