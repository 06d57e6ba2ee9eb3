"""Moving a structure from state to state (kernels): trial states along a step, prescribed motion still to be made."""

from ..kernel import kernel
from .elastic import Array
from .model import Model, Pose
from .small import Q, V, cross, mul, quat_turn, rotation, tmul

ROUND_OFF = 1e-14  # of the rod's length and of 1 rad: prescribed motion counts as reached


@kernel
def row4(a: Array, i: int) -> Q:
    """Row i of an (n, 4) array."""
    return (a[i, 0], a[i, 1], a[i, 2], a[i, 3])


@kernel
def row3(a: Array, i: int) -> V:
    """Row i of an (n, 3) array."""
    return (a[i, 0], a[i, 1], a[i, 2])


@kernel
def advance(model: Model, pose: Pose, step: Array, t: float, new: Pose) -> None:
    """Trial state: the step times t.

    Positions are not moved along straight lines, which would stretch the rod by the square of its rotations, but added
    up from the strains that the linearised step gives; anchored positions are met by a linear correction between
    them. To first order both are the same.
    """
    straight(model, pose, step, t, new)
    _integrate(model, pose, step, t, new)


@kernel
def straight(model: Model, pose: Pose, step: Array, t: float, new: Pose) -> None:
    """Trial state: the step times t, positions along straight lines, frames by exp."""
    x, xn = pose.x, new.x
    n = model.rod.length.shape[0]
    for f in range(pose.q.shape[0]):
        k = model.at_frame[f]
        turned = quat_turn(row4(pose.q, f), (t * step[k], t * step[k + 1], t * step[k + 2]))
        for a in range(4):
            new.q[f, a] = turned[a]
    for k in range(model.tied.shape[0]):
        u = model.at_frame[model.tied[k]]
        for a in range(3):
            new.psi[k, a] = pose.psi[k, a] + t * step[u + a]
        turned = quat_turn(row4(model.origin, k), row3(new.psi, k))
        for a in range(4):
            new.q[model.tied[k], a] = turned[a]
    for i in range(n + 1):
        k = model.at_node[i]
        for a in range(3):
            xn[i, a] = x[i, a] + t * step[k + a]


@kernel
def _integrate(model: Model, pose: Pose, step: Array, t: float, new: Pose) -> None:
    """Replace new.x (moved along straight lines) by positions added up from strains."""
    x, xn = pose.x, new.x
    n = model.rod.length.shape[0]
    place = row3(xn, 0)
    # first the differences to the straight positions, kept in place of them
    for j in range(n):
        u, w, k = model.at_node[j], model.at_node[j + 1], model.at_frame[j]
        frame = rotation(row4(pose.q, j))
        d = (x[j + 1, 0] - x[j, 0], x[j + 1, 1] - x[j, 1], x[j + 1, 2] - x[j, 2])
        more = (t * (step[w] - step[u]), t * (step[w + 1] - step[u + 1]), t * (step[w + 2] - step[u + 2]))
        v, dv = tmul(frame, d), tmul(frame, more)
        turn = cross(v, (t * step[k], t * step[k + 1], t * step[k + 2]))
        v = (v[0] + dv[0] + turn[0], v[1] + dv[1] + turn[1], v[2] + dv[2] + turn[2])
        e = mul(rotation(row4(new.q, j)), v)
        place = (place[0] + e[0], place[1] + e[1], place[2] + e[2])
        for a in range(3):
            xn[j + 1, a] = place[a] - xn[j + 1, a]
    for a in range(3):
        xn[0, a] = 0.0
    for a in range(3):
        _straighten(model, xn, a)
    for i in range(n + 1):
        k = model.at_node[i]
        for a in range(3):
            xn[i, a] += x[i, a] + t * step[k + a]


@kernel
def _straighten(model: Model, gap: Array, a: int) -> None:
    """Take off component a of the gap what interpolates its values at anchored nodes (constant beyond the outermost;
    the mean where there is none)."""
    n = gap.shape[0]
    last, first, length = -1, 0.0, 0.0
    for i in range(n):
        if i > 0:
            length += model.rod.length[i - 1]
        if not model.anchored[i, a]:
            continue
        value = gap[i, a]
        s = 0.0
        for k in range(last + 1, i):
            if last < 0:
                gap[k, a] -= value
            else:
                s += model.rod.length[k - 1]
                gap[k, a] -= first + (value - first) * s / length
        gap[i, a] = 0.0
        last, first, length = i, value, 0.0
    if last < 0:
        for k in range(n):
            first += gap[k, a] / n
    for k in range(last + 1, n):
        gap[k, a] -= first


@kernel
def lacking(model: Model, pose: Pose, factor: float, moves: Array) -> bool:
    """Fill moves[0] with what prescribed unknowns still lack at a load factor; whether there is any."""
    any_left = False
    least = 0.0
    for j in range(model.rod.length.shape[0]):
        least += ROUND_OFF * model.rod.length[j]
    for i in range(model.at_node.shape[0]):
        for a in range(3):
            u = model.at_node[i] + a
            if model.fixed[u]:
                gap = factor * model.rate[u] - (pose.x[i, a] - model.rest[i, a])
                moves[0, u] = gap if abs(gap) > least else 0.0
                any_left = any_left or abs(gap) > least
    for k in range(model.tied.shape[0]):
        for a in range(3):
            u = model.at_frame[model.tied[k]] + a
            if model.fixed[u]:
                gap = factor * model.rate[u] - pose.psi[k, a]
                moves[0, u] = gap if abs(gap) > ROUND_OFF else 0.0
                any_left = any_left or abs(gap) > ROUND_OFF
    return any_left


@kernel
def largest_turn(model: Model, step: Array) -> float:
    """Largest component of a frame's turn in a step, rad."""
    turn = 0.0
    for f in range(model.at_frame.shape[0]):
        for a in range(3):
            turn = max(turn, abs(step[model.at_frame[f] + a]))
    return turn
