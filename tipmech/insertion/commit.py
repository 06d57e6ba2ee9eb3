"""What is kept after a converged increment: friction anchors, margins, front, channels, and the works done."""

from math import sqrt
from typing import NamedTuple

import numpy as np

from ..kernel import bundle, inlined, kernel
from ..kernel.team import anyone, dealt, greatest, once, together, total
from ..rod.elastic import clamp_moment, copy_rows
from ..rod.self_contact import FORCE, GRIP, LIMBS, NORMAL, SLID, STAYED, anchor_slip
from ..vessel.holes import nearest_rim
from ..vessel.laws import penetration
from ..vessel.margins import STATION
from ..vessel.walls import BACK, FALSE, HOLE, TRUE, WINDOW, Walls, flap_surface, in_false_channel, mirror
from .crossing import (
    PULL,
    SHARE,
    above_wall,
    forget,
    in_openings,
    leads,
    may_pass,
    nearest_to_opening,
    next_crossing,
    slide_drag,
)
from .points import E_CONTACT, F_END, F_FRONT, G_LIP, SLOTS, Array, IntArray, Memory, crosses, point_position
from .solve import (
    S_CENTRE,
    S_END,
    S_END_NEW,
    S_FEED,
    S_FRONT,
    S_FRONT_NEW,
    S_HELD,
    S_LIP,
    S_LIP_START,
    STOP_STIFFNESS,
    Model,
    Work,
    assemble,
    lip_drag,
    node_drag,
    spin_drag,
    turned,
)

# cumulative works, J: by the hand; friction; front; margins; viscosity; of that at held feed; imbalance; sum of |dW|;
# area opened at the margins, m2; work on the second end, J
W_HAND, W_FRICTION, W_FRONT, W_MARGIN, W_VISCOUS, W_SNAP, W_ERROR, W_TOTAL, W_AREA, W_END, WORKS = range(11)

# shares of the energy of contact: what it must fall by for the last point to be drawn out of a channel, what it may
# rise by where a point enters or leaves the window
LOWERED, RAISED = 1e-3, 1e-5
FLANK = 1e-3  # by so much where the notch is seated


@bundle
class Ledger(NamedTuple):
    """Forces and energies at the end of the last increment, for works by the trapezoid rule.

    friction, stretch (n, SLOTS + LIMBS): friction limits, N, and elastic parts, J, on walls and other limbs;
    passage (n,): channel of a point and whether the wire crossed there, as one code; wanted (n,): the channel it would
    take; viscous (N + 1, 3), N; spin (N, 3): drag on turning, N m; edges: the margins before the step; scalars: push,
    torque, front position, feed, turn, stored energy, drag on the lip, energy of contact; step, works: of the last
    step and summed, see the W_ indices.
    """

    friction: Array
    stretch: Array
    passage: IntArray
    wanted: IntArray
    viscous: Array
    spin: Array
    edges: Array
    scalars: Array
    step: Array
    works: Array


L_PUSH, L_TORQUE, L_POSITION, L_FEED, L_TURN, L_ENERGY, L_LIP, L_CONTACT, SCALARS = range(9)


@inlined
def friction_limit(m: Model, i: int, slot: int) -> float:
    """Friction limit of a point for the normal force of the last assembly, N."""
    mu = m.surf.front_friction if slot == 3 else m.surf.friction
    if slot == 0 and m.mem.tube[i] == 1:
        mu = m.tube.friction
    if m.mem.stuck[i, slot] == 1:
        mu *= m.surf.static_ratio
    return mu * m.mem.force[i, slot]


@kernel
def lag_friction(m: Model, w: Work, share: float) -> float:
    """Set friction limits and normals from the last assembly; returns their relative change.

    share : of the way to the new ones that limits and normals go (1: all of it)
    """
    change, sum_ = 0.0, 0.0
    for i in dealt(m.pts.element.shape[0]):
        for slot in range(SLOTS):
            limit = friction_limit(m, i, slot)
            change += abs(limit - m.mem.grip[i, slot])
            sum_ += limit
            if limit > 0.0:
                _turn_normal(
                    m.mem.normal[i, slot], m.mem.direction[i, slot], share if m.mem.grip[i, slot] > 0.0 else 1.0
                )
            m.mem.grip[i, slot] = limit if share == 1.0 else m.mem.grip[i, slot] + share * (limit - m.mem.grip[i, slot])
        for limb in range(LIMBS):
            mu = m.surf.friction * (m.surf.static_ratio if w.fold.limb[i, limb, STAYED] == 1 else 1.0)
            limit = mu * w.fold.limb[i, limb, FORCE]
            change += abs(limit - w.fold.limb[i, limb, GRIP])
            sum_ += limit
            old = w.fold.limb[i, limb, GRIP]
            w.fold.limb[i, limb, GRIP] = limit if share == 1.0 else old + share * (limit - old)
    together()
    change, sum_ = total(change), total(sum_)
    return change / sum_ if sum_ > 0.0 else 0.0


@inlined
def _turn_normal(normal: Array, direction: Array, share: float) -> None:
    """Turn a normal by `share` of the way to `direction`, in place."""
    if share == 1.0:
        for a in range(3):
            normal[a] = direction[a]
        return
    square = 0.0
    for a in range(3):
        normal[a] += share * (direction[a] - normal[a])
        square += normal[a] * normal[a]
    for a in range(3):
        normal[a] /= sqrt(square)


@kernel
def push_and_torque(m: Model, w: Work) -> tuple[float, float]:
    """Reactions at the hand: force along the grip's axis (N) and moment about it (N m)."""
    along = 0.0
    for a in range(3):
        along += (w.x[0, a] - m.grip.origin[a]) * m.grip.axis[a]
    return m.grip.drive * (w.state[S_FEED] - along), -clamp_moment(m.rod, w.q, 0)[2]


@kernel
def stored_energy(m: Model, w: Work, elastic: float) -> float:
    """Elastic energy of wire, contact, lip and drive, J (contact as found by the last assembly)."""
    lip, along, across = w.state[S_LIP], 0.0, 0.0
    for a in range(3):
        along += (w.x[0, a] - m.grip.origin[a]) * m.grip.axis[a]
        across += (w.x[0, a] - m.grip.origin[a]) ** 2
    pull = w.state[S_FEED] - along
    sunk = max(0.0, -m.walls.gap - lip)
    return (
        elastic
        + w.out[E_CONTACT]
        + (0.5 * m.walls.lip_stiffness * lip - m.walls.lip_load) * lip
        + 0.5 * m.walls.line * STOP_STIFFNESS * sunk * sunk
        + 0.5 * m.grip.drive * pull * pull
        + 0.5 * m.grip.lateral * (across - along * along)
    )


@kernel
def weigh(m: Model, w: Work, led: Ledger, drag: float, turn: float, gain: float, stored: float) -> tuple[float, float]:
    """Works of the step just made into led.step, nothing else changed; returns its imbalance without `gain` (J)
    and the summed viscous force (N).

    Everything is a reaction or a traction times a displacement by the trapezoid rule; the work of the margins is in
    led.step already. stored : energy stored now, J; gain : factor on the measured push (1; another
    value is a deliberate error for the audit's test).
    """
    push, torque = push_and_torque(m, w)
    s, step = led.scalars, led.step
    pushed = 0.5 * (push + s[L_PUSH]) * (w.state[S_FEED] - s[L_FEED])
    turned_by = 0.5 * (torque + s[L_TORQUE]) * (turn - s[L_TURN])
    hand = gain * pushed + turned_by
    rub = 0.0
    for i in dealt(m.pts.element.shape[0]):
        p = point_position(m.pts, w.x, i)
        for slot in range(SLOTS):
            rub += _rubbing(m, led, i, slot, p)[0]
        for limb in range(LIMBS):
            rub += _rubbing_itself(m, w, led, i, limb)[0]
    rub, damp, whole = total(rub), 0.0, 0.0
    for i in dealt(w.x.shape[0]):
        f, square = node_drag(w, w.x, i, drag), 0.0
        for a in range(3):
            damp += 0.5 * (f[a] + led.viscous[i, a]) * (w.x[i, a] - w.xs[i, a])
            square += f[a] * f[a]
        whole += sqrt(square)
    for j in dealt(w.q.shape[0]):
        phi = turned(w, w.q, j)
        k = spin_drag(m.rod, j, drag)
        for a in range(3):
            damp += 0.5 * (k * phi[a] + led.spin[j, a]) * phi[a]
    for i in dealt(m.pts.element.shape[0]):
        if crosses(m.mem, i):
            slid, pull = slide_drag(m.pts, m.mem, i, drag)
            damp += 0.5 * (pull + m.mem.crossing[i, PULL]) * slid
            whole += abs(pull)
    damp, whole = total(damp), total(whole)
    lip = lip_drag(m.walls, w, w.state[S_LIP], drag)
    damp += 0.5 * (lip + s[L_LIP]) * (w.state[S_LIP] - w.state[S_LIP_START])
    whole += abs(lip)
    advance = w.state[S_FRONT_NEW] - s[L_POSITION]
    drive = w.out[F_FRONT] * advance if advance > 0.0 else 0.0  # it moves only at its full force
    yielded = w.state[S_END_NEW] - w.state[S_END]
    second = w.out[F_END] * yielded if yielded > 0.0 else 0.0
    step[W_HAND], step[W_FRICTION], step[W_FRONT], step[W_VISCOUS], step[W_END] = hand, rub, drive, damp, second
    step[W_SNAP] = damp if w.state[S_FEED] == s[L_FEED] and turn == s[L_TURN] else 0.0
    change = stored - s[L_ENERGY]
    step[W_ERROR] = hand - rub - damp - drive - step[W_MARGIN] - change - second
    step[W_TOTAL] = (
        abs(pushed + turned_by) + abs(rub) + abs(damp) + abs(drive) + abs(step[W_MARGIN]) + abs(change) + second
    )
    return step[W_ERROR] - (gain - 1.0) * pushed, whole


@kernel
def book(m: Model, w: Work, led: Ledger, drag: float, turn: float, stored: float) -> None:
    """Add the works of the step to the sums and keep its end as the start of the next."""
    for k in dealt(WORKS):
        led.works[k] += led.step[k]
    s = led.scalars
    s[L_PUSH], s[L_TORQUE] = push_and_torque(m, w)
    s[L_FEED], s[L_TURN], s[L_ENERGY] = w.state[S_FEED], turn, stored
    s[L_POSITION] = w.state[S_FRONT_NEW]
    for i in dealt(m.pts.element.shape[0]):
        p = point_position(m.pts, w.x, i)
        for slot in range(SLOTS):
            led.friction[i, slot], led.stretch[i, slot] = m.mem.grip[i, slot], _rubbing(m, led, i, slot, p)[1]
            _anchor(m, i, slot, p)
        for limb in range(LIMBS):
            k = SLOTS + limb
            led.friction[i, k], led.stretch[i, k] = w.fold.limb[i, limb, GRIP], _rubbing_itself(m, w, led, i, limb)[1]
            w.fold.limb[i, limb, STAYED] = anchor_slip(w.fold, i, limb, p, w.x)
    for i in dealt(w.x.shape[0]):
        f = node_drag(w, w.x, i, drag)
        for a in range(3):
            led.viscous[i, a] = f[a]
    for j in dealt(w.q.shape[0]):
        phi = turned(w, w.q, j)
        for a in range(3):
            led.spin[j, a] = spin_drag(m.rod, j, drag) * phi[a]
    for i in dealt(m.pts.element.shape[0]):
        if crosses(m.mem, i):
            m.mem.crossing[i, PULL] = slide_drag(m.pts, m.mem, i, drag)[1]
    together()
    s[L_LIP] = lip_drag(m.walls, w, w.state[S_LIP], drag)
    w.state[S_FRONT] = w.state[S_FRONT_NEW]
    if m.walls.end_side == BACK:
        w.state[S_END] = w.state[S_END_NEW]
    elif m.walls.end_side == TRUE:
        w.state[S_END] = _closed_again(m, w.state[S_END_NEW])


@kernel
def _closed_again(m: Model, plug: float) -> float:
    """Position of the plug: it closes before a wire that is withdrawn, as far as its start."""
    lead = -np.inf
    for i in dealt(m.pts.element.shape[0]):
        if m.mem.side[i] == TRUE:
            lead = max(lead, m.mem.lead[i] + m.walls.eps)
    return max(m.walls.end_start, min(plug, greatest(lead)))


@inlined
def _rubbing(m: Model, led: Ledger, i: int, slot: int, p: tuple[float, float, float]) -> tuple[float, float]:
    """Work of a step on the friction of a point, mean traction times slip and the change of its elastic part; and the
    elastic part at its end, J."""
    mem = m.mem
    limit, before = mem.grip[i, slot], led.friction[i, slot]
    if limit <= 0.0 and before <= 0.0:
        return 0.0, 0.0
    n = mem.normal[i, slot]
    d0, d1, d2 = p[0] - mem.anchor[i, slot, 0], p[1] - mem.anchor[i, slot, 1], p[2] - mem.anchor[i, slot, 2]
    across = d0 * n[0] + d1 * n[1] + d2 * n[2]
    u = sqrt(max(0.0, d0 * d0 + d1 * d1 + d2 * d2 - across * across))
    return _slid(limit, before, u, m.surf.slip, led.stretch[i, slot])


@inlined
def _rubbing_itself(m: Model, w: Work, led: Ledger, i: int, limb: int) -> tuple[float, float]:
    """The same for the friction of a point on another limb of the wire."""
    limit, before = w.fold.limb[i, limb, GRIP], led.friction[i, SLOTS + limb]
    if limit <= 0.0 and before <= 0.0:
        return 0.0, 0.0
    return _slid(limit, before, abs(w.fold.limb[i, limb, SLID]), m.surf.slip, led.stretch[i, SLOTS + limb])


@inlined
def _slid(limit: float, before: float, u: float, slip: float, stored: float) -> tuple[float, float]:
    """Work of a step on friction whose limit went from `before` to `limit` while its slip came to u; and the elastic
    part at its end, J; `stored`: that at its start."""
    if limit <= 0.0:  # contact lost: it slid to the end, and its elastic part is gone
        return 0.5 * before * u - stored, 0.0
    held = min(u, slip)
    now = 0.5 * limit * held * held / slip
    return 0.5 * (limit + before) * (u - held) + now - stored, now


@inlined
def _anchor(m: Model, i: int, slot: int, p: tuple[float, float, float]) -> None:
    """Return mapping: the anchor follows a sliding point at one slip length."""
    mem = m.mem
    if mem.grip[i, slot] <= 0.0:
        for a in range(3):
            mem.anchor[i, slot, a] = p[a]
        mem.stuck[i, slot] = 0
        return
    un = 0.0
    for a in range(3):
        un += (p[a] - mem.anchor[i, slot, a]) * mem.normal[i, slot, a]
    u = 0.0
    for a in range(3):
        u += (p[a] - mem.anchor[i, slot, a] - un * mem.normal[i, slot, a]) ** 2
    u = sqrt(u)
    mem.stuck[i, slot] = 1 if u <= m.surf.slip else 0
    keep = 1.0 if u <= m.surf.slip else m.surf.slip / u
    for a in range(3):
        d = p[a] - mem.anchor[i, slot, a] - un * mem.normal[i, slot, a]
        mem.anchor[i, slot, a] = p[a] - keep * d


@kernel
def book_change(led: Ledger, before: float, after: float) -> None:
    """Book what the stored energy (J) changes by at once where points change channel or contact is divided otherwise: a
    loss is released as at a snap, a gain comes from nowhere and is out of balance."""
    lost = before - after
    if lost > 0.0:
        led.works[W_VISCOUS] += lost
        led.works[W_SNAP] += lost
    else:
        led.works[W_ERROR] += lost
    led.works[W_TOTAL] += abs(lost)
    led.scalars[L_ENERGY] = after


@kernel
def rebook_friction(m: Model, led: Ledger) -> None:
    """Where a point has changed channel its friction changes at once, not over the next step: the ledger takes the
    limits of the last assembly as those at that step's start."""
    for i in dealt(m.pts.element.shape[0]):
        now = _passage(m, i)
        if now == led.passage[i]:
            continue
        led.passage[i] = now
        for slot in range(SLOTS):
            led.friction[i, slot] = friction_limit(m, i, slot)
            if led.friction[i, slot] == 0.0:
                led.stretch[i, slot] = 0.0
    together()


@kernel
def carry_residual(w: Work, led: Ledger) -> float:
    """Where forces have changed at once with the channel of a point: what drag must carry at the start of a step.

    Returns its sum over the nodes and the lip, N.
    """
    sum_ = once(abs(w.out[G_LIP]))
    for i in dealt(w.x.shape[0]):
        square = 0.0
        for a in range(3):
            led.viscous[i, a] = -w.grad[6 * i + a]
            square += w.grad[6 * i + a] ** 2
        sum_ += sqrt(square)
    for j in dealt(w.q.shape[0]):
        for a in range(3):
            led.spin[j, a] = -w.grad[6 * j + 3 + a]
    led.scalars[L_LIP] = -w.out[G_LIP]
    together()
    return total(sum_)


@kernel
def drop_axial(w: Work, led: Ledger) -> None:
    """Take out of the drag carried over what acts in the directions without drag: it does no work in this step."""
    for i in dealt(w.x.shape[0]):
        t, along = w.tangent[i], 0.0
        for a in range(3):
            along += led.viscous[i, a] * t[a]
        for a in range(3):
            led.viscous[i, a] -= along * t[a]
    together()


@kernel
def open_margins(m: Model, led: Ledger) -> bool:
    """Move the margins out as far as the wire is past their strength, True where they have moved; led.edges keeps them
    as they were. The area is that of the field: each station's rise over a station's length.
    """
    mem, walls = m.mem, m.walls
    onset = penetration(walls.margin / walls.line, walls.eps) + walls.eps
    copy_rows(led.edges, mem.edges)
    area = 0.0
    for row in range(mem.edges.shape[0]):
        for k in dealt(mem.edges.shape[1]):
            rise = mem.pushed[row, k] - onset - mem.edges[row, k]
            if rise > 0.0:
                area += rise * STATION
                mem.edges[row, k] += rise
    together()
    led.step[W_AREA] = total(area)
    led.step[W_MARGIN] = walls.margin * led.step[W_AREA]  # they move only at their full force
    return bool(led.step[W_AREA] > 0.0)


@kernel
def change_channels(m: Model, w: Work, led: Ledger) -> bool:
    """Let points pass between true lumen and false channel, only through the window and holes and round their edges,
    and seat the notch where the front is touched first; True where either happened. What is then is assembled, with
    the front where it stands: what it gives way by is the next step's.

    Nothing passes that would gain energy by it: what is pressed into the flap stays on its side until pressed out.
    """
    for i in dealt(m.pts.element.shape[0]):
        led.passage[i] = _passage(m, i)
    together()
    free, w.state[S_HELD] = w.state[S_HELD], 1.0
    seated = _seat_notch(m, w)
    if _want(m, w, led):
        energy = w.out[E_CONTACT]
        _exchange(m, led)
        assemble(m, w, w.x, w.q, w.state[S_LIP], 0.0, NORMAL)
        if w.out[E_CONTACT] > (1.0 + RAISED) * energy:
            _exchange(m, led)
            _pass_singly(m, w, led, energy)
    _leave_openings(m, w, led)
    _draw_out(m, w)
    w.state[S_HELD] = free
    return _passed(m, led) or seated


@inlined
def _passage(m: Model, i: int) -> int:
    """Channel of a point and whether the wire crosses there, as one code."""
    return 2 * m.mem.side[i] + (1 if crosses(m.mem, i) else 0)


@kernel
def _passed(m: Model, led: Ledger) -> bool:
    """Whether any point is in another channel than the ledger knows; a crossing that is no longer one is forgotten."""
    passed = False
    for i in dealt(m.pts.element.shape[0]):
        if not crosses(m.mem, i):
            forget(m.mem, i)
        passed = passed or _passage(m, i) != led.passage[i]
    together()
    return anyone(passed)


@inlined
def _exchange(m: Model, led: Ledger) -> None:
    """Exchange the channels that points are in and those noted as wanted."""
    for i in dealt(m.pts.element.shape[0]):
        m.mem.side[i], led.wanted[i] = led.wanted[i], m.mem.side[i]
    together()


@kernel
def _seat_notch(m: Model, w: Work) -> bool:
    """Seat the notch where the front is touched first; True where that has just happened. While another part of the
    wire lies where its flank would come to stand, the front stays flat."""
    mem = m.mem
    if w.state[S_CENTRE] == w.state[S_CENTRE]:
        return False
    largest, at, energy = 0.0, np.nan, w.out[E_CONTACT]
    for i in range(m.pts.element.shape[0]):
        if mem.side[i] == FALSE and mem.force[i, 3] > largest:
            largest, at = mem.force[i, 3], mem.place[i, 2]
    if largest == 0.0:
        return False
    w.state[S_CENTRE] = at
    assemble(m, w, w.x, w.q, w.state[S_LIP], 0.0, NORMAL)
    seated = w.out[E_CONTACT] <= (1.0 + FLANK) * energy
    if not seated:
        w.state[S_CENTRE] = np.nan
        assemble(m, w, w.x, w.q, w.state[S_LIP], 0.0, NORMAL)
    return seated


@kernel
def _pass_singly(m: Model, w: Work, led: Ledger, energy: float) -> None:
    """Let points go to the channels they want, one after the other from the tip, each only where nothing is gained;
    energy: of contact as they are, J."""
    mem = m.mem
    n = m.pts.element.shape[0]
    for k in range(n):
        i = n - 1 - k
        old = mem.side[i]
        if led.wanted[i] == old:
            continue
        mem.side[i] = led.wanted[i]
        assemble(m, w, w.x, w.q, w.state[S_LIP], 0.0, NORMAL)
        if w.out[E_CONTACT] > (1.0 + RAISED) * energy:
            mem.side[i] = old
        else:
            energy = w.out[E_CONTACT]
    assemble(m, w, w.x, w.q, w.state[S_LIP], 0.0, NORMAL)


@kernel
def _want(m: Model, w: Work, led: Ledger) -> bool:
    """Note the channel that each point would take by where it lies; True where that is another one."""
    walls, mem = m.walls, m.mem
    n = m.pts.element.shape[0]
    other, ahead = False, n
    for i in dealt(n):
        led.wanted[i] = mem.side[i]
        if mem.place[i, 0] >= 0.0:
            ahead = min(ahead, i)
    together()
    for i in range(n - 1, -greatest(-ahead) - 1, -1):  # from the tip: what leaves the window follows its neighbours
        s, old, apart = mem.place[i, 0], mem.side[i], abs(mem.place[i, 2])
        if s < 0.0:
            continue
        new = old
        if s >= walls.stop:
            if old == WINDOW:
                new = _side_behind_lip(m, w, led, i, n, False)
            elif old == BACK:
                new = FALSE
            elif walls.holes[0, 4] > 0.0:
                rim = nearest_rim(walls.holes, s, mem.place[i, 2])
                if old == HOLE or rim[0] < rim[6]:
                    new = _side_of_hole(m, w, i)
        elif s <= walls.start:
            if old == WINDOW:
                new = _side_behind_lip(m, w, led, i, n, True) if walls.middle > 0.0 else TRUE
            elif old == HOLE or (old == FALSE and walls.middle < 0.0):
                new = WINDOW
            elif old == FALSE:
                new = BACK
        elif old == WINDOW:  # beside the window the wall is closed, and what lies on it is in the lumen
            new = TRUE if apart > walls.half + m.pts.radius[i] else WINDOW
        elif in_false_channel(old) and above_wall(m.pts, mem, walls, i):
            new = TRUE
        elif apart < walls.half or (old != TRUE and apart <= walls.half + m.pts.radius[i]):
            new = WINDOW
        led.wanted[i] = new
        other = other or new != old
    return other


@kernel
def _leave_openings(m: Model, w: Work, led: Ledger) -> None:
    """Where all of the wire between the true lumen and a false channel has come to lie beyond the openings, it has left
    them: it crosses at the point that is nearest to one, on the side of that on which the energy of contact is less,
    unless it would gain energy by it."""
    mem, first, energy, tried = m.mem, 0, w.out[E_CONTACT], False
    while True:
        first, last = in_openings(mem, first)
        if first < 0:
            break
        k = nearest_to_opening(m.pts, mem, m.walls, first, last)
        if k >= 0:
            least, at = (1.0 + RAISED) * energy, -1
            for i in range(first, last):
                led.wanted[i] = mem.side[i]
            for split in (k, k + 1):
                _split(mem, first, last, split)
                assemble(m, w, w.x, w.q, w.state[S_LIP], 0.0, NORMAL)
                if w.out[E_CONTACT] <= least:
                    least, at = w.out[E_CONTACT], split
            if at >= 0:
                _split(mem, first, last, at)
                energy = least
            else:
                for i in range(first, last):
                    mem.side[i] = led.wanted[i]
            tried = True
        first = last
    if tried:
        assemble(m, w, w.x, w.q, w.state[S_LIP], 0.0, NORMAL)


@inlined
def _split(mem: Memory, first: int, last: int, at: int) -> None:
    """Give points from `first` up to `last` the side of the point before them, from `at` on that of the one behind."""
    for i in range(first, last):
        mem.side[i] = mem.side[first - 1] if i < at else mem.side[last]


@kernel
def _draw_out(m: Model, w: Work) -> None:
    """Let points that do not slide round an edge by themselves (see crossing.py) follow a neighbour across it where it
    lowers the energy of contact: by LOWERED what is left alone in a channel, the dome too; at all what leads to an end
    of it, once the wire crosses at that point's end."""
    side, n, tried = m.mem.side, m.pts.element.shape[0], False
    energy, i = w.out[E_CONTACT], next_crossing(m.mem, 1)
    while i < n:
        for point, new, end in ((i, side[i - 1], 1.0), (i - 1, side[i], 0.0)):
            if not crosses(m.mem, i) or not may_pass(m.pts, m.walls, m.mem, point, new):
                continue
            old = side[point]
            alone = (point == 0 or side[point - 1] != old) and (point == n - 1 or side[point + 1] != old)
            leading = m.mem.crossing[i, SHARE] == end and (
                leads(m.pts, m.mem, m.walls, point, old, w.state[S_FRONT], w.state[S_END])
                or leads(m.pts, m.mem, m.walls, point, new, w.state[S_FRONT], w.state[S_END])
            )
            if not (alone or leading):
                continue
            side[point], tried = new, True
            assemble(m, w, w.x, w.q, w.state[S_LIP], 0.0, NORMAL)
            if w.out[E_CONTACT] < (1.0 if leading else 1.0 - LOWERED) * energy:
                energy = w.out[E_CONTACT]
            else:
                side[point] = old
        i = next_crossing(m.mem, i + 1)
    if tried:
        assemble(m, w, w.x, w.q, w.state[S_LIP], 0.0, NORMAL)


@inlined
def _side_of_hole(m: Model, w: Work, i: int) -> int:
    """Channel of a point at a hole in the flap: it is in the hole while its centre is within the flap's thickness."""
    s, r = m.mem.place[i, 0], m.mem.place[i, 1]
    face = flap_surface(m.walls, s, w.state[S_LIP], w.state[S_FRONT], True)[0]
    if r > face:
        return FALSE
    return TRUE if r < face - m.walls.flap else HOLE


@inlined
def _side_behind_lip(m: Model, w: Work, led: Ledger, i: int, n: int, mirrored: bool) -> int:
    """Channel of a point that has passed the plane of the downstream lip, or (mirrored) of the upstream one.

    It goes beside the window, or to the side on which its centre is clear of the flap's edge; until then it stays in
    the window. Deeper than the edge can be indented, the wire is one piece: it follows its neighbours.
    """
    walls, mem = m.walls, m.mem
    s, r, g = mem.place[i, 0], mem.place[i, 1], abs(mem.place[i, 2])
    lip, front, false = w.state[S_LIP], w.state[S_FRONT], FALSE
    if mirrored:
        s, more, _, _ = mirror(walls, s)
        r, lip, front, false = r + more, 0.0, w.state[S_END], BACK
    lower = flap_surface(walls, s, lip, front, True)[0]
    if s > walls.stop + walls.rho + m.pts.radius[i]:
        if r > lower and g < walls.half:
            return false
        if i + 1 < n and led.wanted[i + 1] != WINDOW:
            return led.wanted[i + 1]
        if i > 0 and _is_behind(walls, mem.place[i - 1, 0], mirrored) and mem.side[i - 1] != WINDOW:
            return mem.side[i - 1]
    if g >= walls.half or r < flap_surface(walls, s, lip, front, False)[0]:
        return TRUE
    clear = g <= walls.half - m.pts.radius[i]  # of the window's sides, where laws blend
    if clear and r > lower:
        return false
    return WINDOW


@inlined
def _is_behind(walls: Walls, s: float, mirrored: bool) -> bool:
    """Whether s lies behind the downstream lip, or (mirrored) before the upstream one."""
    return s <= walls.start if mirrored else s >= walls.stop
