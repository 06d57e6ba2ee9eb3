"""Out-of-balance force and exact tangent of a structure (kernels). theory, "The rod by itself".

Strain energy, springs and dead forces have a potential: their tangent is symmetric. Following forces and all moments
have none: what they add is kept apart in `extra`.
"""

from math import cos, sin, sqrt

from ..kernel import inlined, kernel
from .elastic import Array, _joint, _joint_tangent, element_strain
from .linear import add_block, add_diagonal
from .model import Model, Pose, System
from .moving import advance, lacking, row3, row4
from .small import (
    M,
    V,
    add,
    cross,
    dot,
    inverse_right_jacobian,
    log_coefficients,
    matmul,
    mul,
    outer,
    quat_mul,
    rotation,
    scale_columns,
    skew,
    symmetric,
    tmul,
    transpose,
)


@kernel
def minus(m: M) -> M:
    """Negative of a matrix."""
    return (-m[0], -m[1], -m[2], -m[3], -m[4], -m[5], -m[6], -m[7], -m[8])


@kernel
def assemble(model: Model, pose: Pose, factor: float, out: System) -> float:
    """Fill grad, load, band and extra of a state at a load factor; returns the potential energy, J.

    Following forces and moments are not in the energy. Elements and joints are inlined (24 elements: 6.6 us as calls,
    3.6 us so).
    """
    out.grad[:] = 0.0
    out.load[:] = 0.0
    out.band[:] = 0.0
    out.extra[:] = 0.0
    energy = 0.0
    for j in range(model.rod.length.shape[0]):
        energy += _element(model, pose, j, out)
    for k in range(model.sides.shape[0]):
        energy += _add_joint(model, pose, k, out)
    energy += _dead(model, pose, factor, out)
    for k in range(model.force_at.shape[0]):
        _following(model, pose, factor, k, out)
    for k in range(model.moment_at.shape[0]):
        _moment(model, pose, factor, k, out)
    for k in range(model.tied.shape[0]):
        if model.loose[k] == 1:
            _chart(model, pose, k, out)
    return energy


@inlined
def _element(model: Model, pose: Pose, j: int, out: System) -> float:
    """Stretch and shear of element j. theory (7)-(7c).

    `elastic.py` holds the same block for insertions, whose unknowns have a fixed order and a band of fixed width:
    numbers known when it is compiled, on which its speed rests. What changes here changes there.
    """
    rod, x = model.rod, pose.x
    frame = rotation(row4(pose.q, j))
    length = rod.length[j]
    d = (x[j + 1, 0] - x[j, 0], x[j + 1, 1] - x[j, 1], x[j + 1, 2] - x[j, 2])
    g = element_strain(d, frame, length)
    c = row3(rod.stretch, j)
    f = (c[0] * g[0], c[1] * g[1], c[2] * g[2])
    v = (g[0], g[1], g[2] + 1.0)
    force = mul(frame, f)
    turn = cross(f, v)
    a, t, b = model.at_node[j], model.at_frame[j], model.at_node[j + 1]
    for i in range(3):
        out.grad[a + i] -= force[i]
        out.grad[b + i] += force[i]
        out.grad[t + i] += length * turn[i]
    vx = skew(v)
    cv = transpose(scale_columns(transpose(vx), c))
    inverse = 1.0 / length
    xx = matmul(scale_columns(frame, (c[0] * inverse, c[1] * inverse, c[2] * inverse)), transpose(frame))
    tt = add(matmul(transpose(vx), cv), symmetric(outer(v, f)), 1.0)
    fv = dot(f, v)
    tt = (tt[0] - fv, tt[1], tt[2], tt[3], tt[4] - fv, tt[5], tt[6], tt[7], tt[8] - fv)
    tx = matmul(add(transpose(cv), skew(f), 1.0), transpose(frame))
    add_diagonal(out.band, a, xx)
    add_diagonal(out.band, b, xx)
    add_block(out.band, b, a, minus(xx))
    add_diagonal(out.band, t, scale_columns(tt, (length, length, length)))
    add_block(out.band, t, a, minus(tx))
    add_block(out.band, b, t, transpose(tx))
    return 0.5 * length * dot(f, g)


@inlined
def _add_joint(model: Model, pose: Pose, k: int, out: System) -> float:
    """Bending and twist of joint k. theory (8)-(12); at a corner its first side is turned."""
    fa, fb = model.sides[k, 0], model.sides[k, 1]
    qa, qb = row4(pose.q, fa), row4(pose.q, fb)
    corner = model.turned[k] == 1
    if corner:
        qa = quat_mul(qa, row4(model.offset, k))
    phi, m, energy, bow = _joint(model.rod, k, qa, qb)
    jac, aa, bb, ab = _joint_tangent(model.rod, k, phi, m, bow)
    ga, gb = mul(jac, m), tmul(jac, m)
    if corner:
        c = rotation(row4(model.offset, k))
        ga = mul(c, ga)
        aa = matmul(matmul(c, aa), transpose(c))
        ab = matmul(c, ab)
    a, b = model.at_frame[fa], model.at_frame[fb]
    for i in range(3):
        out.grad[a + i] -= ga[i]
        out.grad[b + i] += gb[i]
    add_diagonal(out.band, a, aa)
    add_diagonal(out.band, b, bb)
    add_block(out.band, b, a, minus(transpose(ab)))
    return energy


@kernel
def _dead(model: Model, pose: Pose, factor: float, out: System) -> float:
    """Springs and dead forces."""
    energy = 0.0
    x = pose.x
    springs = model.springs.shape[0]
    half = out.band.shape[1] - 1
    for i in range(x.shape[0]):
        k = model.at_node[i]
        for a in range(3):
            force = model.dead[0, i, a] + factor * model.dead[1, i, a]
            out.grad[k + a] -= force
            out.load[k + a] -= model.dead[1, i, a]
            energy -= force * x[i, a]
        if i < springs:
            for a in range(3):
                pull = 0.0
                for b in range(3):
                    pull += model.springs[i, a, b] * (x[i, b] - model.rest[i, b])
                    if b <= a:
                        out.band[k + a, half + b - a] += model.springs[i, a, b]
                out.grad[k + a] += pull
                energy += 0.5 * pull * (x[i, a] - model.rest[i, a])
    return energy


@kernel
def _following(model: Model, pose: Pose, factor: float, k: int, out: System) -> None:
    """Force fixed in a frame: R f, whose derivative is -R [f]."""
    frame = rotation(row4(pose.q, model.force_at[k, 1]))
    f0, f1 = row3(model.force[0], k), row3(model.force[1], k)
    f = (f0[0] + factor * f1[0], f0[1] + factor * f1[1], f0[2] + factor * f1[2])
    force, more = mul(frame, f), mul(frame, f1)
    turned = matmul(frame, skew(f))
    half = out.band.shape[1] - 1
    row, col = model.at_node[model.force_at[k, 0]], model.at_frame[model.force_at[k, 1]]
    for a in range(3):
        out.grad[row + a] -= force[a]
        out.load[row + a] -= more[a]
        for b in range(3):
            out.extra[row + a, half + col + b - row - a] += turned[3 * a + b]


@kernel
def _moment(model: Model, pose: Pose, factor: float, k: int, out: System) -> None:
    """Moment mu in a frame's axes, fixed in space (mu = R^T M) or following.

    The derivative of its own share is -[mu] or 0, and half of [mu] comes from the derivative of the internal moments
    it balances: -[mu]/2 and +[mu]/2 in all.
    """
    where = model.moment_at[k, 0]
    m0, m1 = row3(model.moment[0], k), row3(model.moment[1], k)
    sign = 0.5
    if model.moment_at[k, 1] == 1:
        frame = rotation(row4(pose.q, where))
        m0, m1 = tmul(frame, m0), tmul(frame, m1)
        sign = -0.5
    mu = (m0[0] + factor * m1[0], m0[1] + factor * m1[1], m0[2] + factor * m1[2])
    turn = skew(mu)
    half = out.band.shape[1] - 1
    row = model.at_frame[where]
    for a in range(3):
        out.grad[row + a] -= mu[a]
        out.load[row + a] -= m1[a]
        for b in range(3):
            out.extra[row + a, half + b - a] += sign * turn[3 * a + b]


@kernel
def right_jacobian(phi: V) -> M:
    """Right Jacobian of SO(3): exp(phi + d) = exp(phi) exp(J d) to first order."""
    s = dot(phi, phi)
    if s < 1e-2:
        one = 0.5 - s * (1.0 / 24.0 - s * (1.0 / 720.0 - s / 40320.0))
        two = 1.0 / 6.0 - s * (1.0 / 120.0 - s * (1.0 / 5040.0 - s / 362880.0))
    else:
        angle = sqrt(s)
        one = (1.0 - cos(angle)) / s
        two = (angle - sin(angle)) / (s * angle)
    k = skew(phi)
    out = add(scale_columns(k, (-one, -one, -one)), matmul(k, k), two)
    return (out[0] + 1.0, out[1], out[2], out[3], out[4] + 1.0, out[5], out[6], out[7], out[8] + 1.0)


@kernel
def _chart(model: Model, pose: Pose, k: int, out: System) -> None:
    """Change the unknown of tied frame k from a material turn to its rotation vector psi.

    Gradient J^T g; Hessian J^T (H + sym(A^T T)) J, A = 1/J, with T of theory (10)-(12) at the moment -J^T g.
    """
    psi = row3(pose.psi, k)
    jac = right_jacobian(psi)
    row = model.at_frame[model.tied[k]]
    g = tmul(jac, (out.grad[row], out.grad[row + 1], out.grad[row + 2]))
    p = tmul(jac, (out.load[row], out.load[row + 1], out.load[row + 2]))
    m = (-g[0], -g[1], -g[2])
    c, slope = log_coefficients(psi)
    even = outer(psi, cross(psi, cross(psi, m)))
    tb = add(matmul(skew(m), skew(psi)), skew(cross(m, psi)), 1.0)
    tb = add(scale_columns(tb, (-c, -c, -c)), even, 2.0 * slope)
    tb = add(tb, skew(m), -0.5)
    curve = symmetric(matmul(transpose(inverse_right_jacobian(psi, c)), tb))
    add_diagonal(out.band, row, curve)
    for a in range(3):
        out.grad[row + a] = g[a]
        out.load[row + a] = p[a]
    _congruence(out.band, row, jac)
    if out.extra.shape[0] > 0:
        _congruence_extra(out.extra, row, jac)


@kernel
def _congruence(band: Array, row: int, j: M) -> None:
    """Replace the unknowns row .. row + 2 of a symmetric band: H -> J^T H J."""
    n = band.shape[0]
    half = band.shape[1] - 1
    for col in range(max(0, row + 2 - half), row):
        k = half + col - row
        v = (band[row, k] if k >= 0 else 0.0, band[row + 1, k - 1] if k >= 1 else 0.0, band[row + 2, k - 2])
        w = tmul(j, v)
        if k >= 0:
            band[row, k] = w[0]
        if k >= 1:
            band[row + 1, k - 1] = w[1]
        band[row + 2, k - 2] = w[2]
    a, b, c = band[row, half], band[row + 1, half], band[row + 2, half]
    d, e, f = band[row + 1, half - 1], band[row + 2, half - 2], band[row + 2, half - 1]
    h = matmul(transpose(j), matmul((a, d, e, d, b, f, e, f, c), j))
    band[row, half], band[row + 1, half], band[row + 2, half] = h[0], h[4], h[8]
    band[row + 1, half - 1], band[row + 2, half - 2], band[row + 2, half - 1] = h[3], h[6], h[7]
    for i in range(row + 3, min(n, row + half + 1)):
        k = half + row - i
        v = (band[i, k], band[i, k + 1], band[i, k + 2])
        w = tmul(j, v)
        band[i, k], band[i, k + 1], band[i, k + 2] = w[0], w[1], w[2]


@kernel
def _congruence_extra(extra: Array, row: int, j: M) -> None:
    """The same for the unsymmetric part."""
    n = extra.shape[0]
    half = (extra.shape[1] - 1) // 2
    for i in range(max(0, row - half), min(n, row + half + 1)):
        k = half + row - i
        if k >= 0 and k + 2 <= 2 * half:
            w = tmul(j, (extra[i, k], extra[i, k + 1], extra[i, k + 2]))
            extra[i, k], extra[i, k + 1], extra[i, k + 2] = w[0], w[1], w[2]
    for col in range(max(0, row + 2 - half), min(n, row + half + 1)):
        k = half + col - row
        w = tmul(j, (extra[row, k], extra[row + 1, k - 1], extra[row + 2, k - 2]))
        extra[row, k], extra[row + 1, k - 1], extra[row + 2, k - 2] = w[0], w[1], w[2]


@kernel
def residual_norm(model: Model, out: System) -> float:
    """Largest out-of-balance force at a free unknown; moments divided by the mean element length, N."""
    worst = 0.0
    for i in range(out.grad.shape[0]):
        if not model.fixed[i]:
            value = abs(out.grad[i]) * model.scale[i]
            if not value <= worst:  # nan, too
                worst = value
    return worst


@kernel
def evaluate(model: Model, pose: Pose, factor: float, out: System, moves: Array) -> tuple[float, float, bool]:
    """Assemble a state; its energy (J), residual (N), and whether prescribed unknowns are not there yet."""
    energy = assemble(model, pose, factor, out)
    return energy, residual_norm(model, out), lacking(model, pose, factor, moves)


@kernel
def attempt(
    model: Model, pose: Pose, step: Array, t: float, factor: float, new: Pose, out: System, moves: Array
) -> tuple[float, float, bool]:
    """Go along a step to `new` and evaluate there."""
    advance(model, pose, step, t, new)
    return evaluate(model, new, factor, out, moves)
