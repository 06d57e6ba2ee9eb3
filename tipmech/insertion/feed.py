"""The whole insertion in one compiled loop: feed, solve, hold and relax, keep, record, stop.

theory, section "An increment": viscosity carries the wire through a snap and nothing else.
"""

from typing import NamedTuple

import numpy as np

from ..kernel import bundle, inlined, kernel
from ..kernel.team import anyone, dealt, greatest, together, total
from ..outcome import Stop
from ..rod.band import HALF
from ..rod.elastic import apply_step, copy_rows, elastic_energy
from ..rod.self_contact import NORMAL, RELEASED, STUCK, approach, watch
from ..rod.small import rotation
from ..vessel.bore import ahead_of_mouth
from ..vessel.walls import BACK, FALSE, HOLE, WINDOW, in_false_channel, locate, lumen_radius
from .commit import (
    L_CONTACT,
    L_ENERGY,
    L_PUSH,
    W_TOTAL,
    WORKS,
    Ledger,
    book,
    book_change,
    carry_residual,
    change_channels,
    drop_axial,
    lag_friction,
    open_margins,
    push_and_torque,
    rebook_friction,
    stored_energy,
    weigh,
)
from .crossing import keep_crossings, restore_crossings
from .lips import pressed
from .points import E_CONTACT, F_END, F_FRONT, Array, IntArray, crosses, mark_edges
from .solve import (
    S_CENTRE,
    S_CURLED_SINCE,
    S_END,
    S_END_START,
    S_FEED,
    S_FIRST_CURL,
    S_FRONT,
    S_FRONT_START,
    S_HELD,
    S_LAST,
    S_LIP,
    S_LIP_START,
    S_NEAREST,
    S_OPENED,
    S_PART,
    S_PATH,
    S_REACHED,
    S_READY,
    S_TURN,
    Model,
    Work,
    assemble,
    back_substitute,
    inertia,
    keep_motion,
    moved,
    newton,
    predict,
    update_tangents,
)
from .start import put_into_support, stick

FIRST_PASS = 100.0  # times the tolerance: so far the first pass is solved, whose friction is to change
LAG_PASSES, LAG_CHANGE = 6, 0.01  # friction is iterated inside the increment until it changes by < 1 %
DAMPED_PASSES, DAMPED = 4, 0.5  # where it then goes to and fro: half of the way in so many more passes,
APART = 0.1  # unless it changes by more than this: then it has two states, and the step is cut
VISCOUS_SHARE = 0.01  # of the push: above it the feed is held and the wire relaxes
RELAX_AIM = 0.7  # of its longest travel: the step aimed at
RELAX_STEPS = 400  # time steps of one relaxation
RELAX_START, RELAX_GROWTH, RELAX_CUT = 2.0, 2.0, 0.2  # its first time step over the feed's, and their changes
FEED_TRAVEL, RELAX_TRAVEL = 0.15e-3, 0.1e-3  # m a node may move in a step (beyond the feed): else the step is cut
CALM, CALM_STEPS = (
    0.1,
    60,
)  # of the viscous force allowed: in so many steps below it, of any length, the wire is at rest
HOLDS = 4  # times an increment may be held again after the front was let go
START_NUDGES = 8
EASY = 20  # Newton iterations of a step: after more of them the next is not made longer
AT_EDGE = 0.05e-3  # m fed at once while an edge carries the wire: what it does there is of second order in that
SMALLEST = 1.0 / 8.0  # of an increment: at this step of feed a wire that will not settle is snapping
CURL_HOLD = 0.3e-3  # m of feed or withdrawal a curl must last
TURN_RATE = np.pi  # rad/s
JUMP, JUMP_HELD = 1e-3, 2e-4  # of the works so far or the energy stored: a step out of balance by more has jumped
LEAST_FEED = 1e-3  # m, at the force `quiet`: the least work that counts in this
SHORTEST = 1e-6  # of a relaxation's first time step: shorter ones are kept as they are
SLIDE = 1e-7  # of the same: where not even this helps, a kink holds the wire, and it may slide over it without drag
HALF_ROUND = 0.9 * np.pi  # rad from the tear: a wire in the false channel that lies farther round ends the run
NUDGE = 2e-6  # m along the critical mode when the stability count is not zero

# ends of an insertion, as plain integers for the kernels
DONE, CURL, PAST_TEAR, OUTER = (
    int(Stop.PROTOCOL_DONE),
    int(Stop.FIRST_CURL),
    int(Stop.ADVANCE_PAST_TEAR_DONE),
    int(Stop.OUTER_WALL_PIERCED),
)
FLAP, INTIMA, CAP = int(Stop.FLAP_PIERCED), int(Stop.INTIMA_PIERCED), int(Stop.PUSH_AT_FORCE_CAP)
WEAK, EXTENSION = int(Stop.WEAK_SPOT_PIERCED), int(Stop.PLANE_EXTENDED)
NOT_CONVERGED, ROUND, PAST_CURL = (
    int(Stop.NOT_CONVERGED),
    int(Stop.ROUND_THE_VESSEL),
    int(Stop.ADVANCE_PAST_CURL_DONE),
)

# history columns
(
    H_FEED,
    H_TURN,
    H_PUSH,
    H_TORQUE,
    H_TIP_FORCE,
    H_TIP_ANGLE,
    H_TIP_S,
    H_LEAD_S,
    H_LEAD_FALSE_S,
    H_F_TRUE,
    H_F_FALSE,
    H_F_LIP,
    H_F_FLOOR,
    H_F_HOLE,
    H_LIP_ALONG,
    H_F_FRONT,
    H_FRONT,
    H_AREA,
    H_LIP,
    H_ELASTIC,
    H_CONTACT,
    H_DRIVE,
    H_STUCK,
    H_RELEASED,
    H_MET,
    H_ITERATIONS,
    H_HELD,
    H_NEAREST,
    H_F_END,
    H_END,
    H_CENTRE,
    H_LEAD_BACK_S,
    H_WORKS,
) = range(33)
COLUMNS = H_WORKS + WORKS


@bundle
class Settings(NamedTuple):
    """Numbers of the loop. viscosity, N s/m2; rate, m/s; tolerance, N; quiet : viscous force always allowed, N;
    inside : foundation in the support for stability counts, N/m2; cap : force cap, N; past_tear : feed past the tear,
    m; past_curl : travel past the first curl, m (inf: no end); plane : where the front stood at first, m; longer :
    growth of the plane that ends the run, m (inf: none does); breach, outer_breach, weak_breach : forces that
    pierce flap or intima, outer wall, an intact wall's weak spot, N; weak_half : half-width of this, m; diameter, m;
    gain : factor on the push for the audit's test."""

    viscosity: float
    rate: float
    tolerance: float
    quiet: float
    inside: float
    cap: float
    past_tear: float
    past_curl: float
    plane: float
    longer: float
    breach: float
    outer_breach: float
    weak_breach: float
    weak_half: float
    diameter: float
    gain: float


@bundle
class History(NamedTuple):
    """Recorded increments: scalars (n, COLUMNS), positions (n, N + 1, 3), frames (n, N, 4), side (n, N + 1), margins
    (n, 2 or 4, m): their opening at the stations."""

    scalars: Array
    positions: Array
    frames: Array
    side: IntArray
    margins: Array


@kernel
def turn_base(m: Model, base: Array, angle: float) -> None:
    """Clamp's frame turned by `angle` (rad) about its own axis from the starting frame `base`."""
    c, s = np.cos(0.5 * angle), np.sin(0.5 * angle)
    m.rod.clamps[0, 0] = base[0] * c - base[3] * s
    m.rod.clamps[0, 1] = base[1] * c + base[2] * s
    m.rod.clamps[0, 2] = base[2] * c - base[1] * s
    m.rod.clamps[0, 3] = base[3] * c + base[0] * s


@kernel
def equilibrate(m: Model, w: Work, drag: float, tolerance: float, travel: float) -> int:
    """Newton with the lagged normal forces iterated; returns iterations, negative if not solved."""
    total = 0
    for k in range(LAG_PASSES + DAMPED_PASSES):
        n = newton(m, w, drag, tolerance if k > 0 else FIRST_PASS * tolerance, travel)
        if n < 0:
            return n - total
        total += n
        change = lag_friction(m, w, 1.0 if k < LAG_PASSES - 1 else DAMPED)
        if change < LAG_CHANGE and k > 0:
            return total
        if change > APART and k >= LAG_PASSES - 1:
            break
    return -1 - total


@kernel
def finish(m: Model, w: Work, led: Ledger, drag: float, turn: float, s: Settings, slack: float) -> float:
    """Book and keep a converged step; returns the summed viscous force, N, or -1 where the step jumped.

    A step whose works miss balance by more than `slack` of the works so far has jumped to another equilibrium: it is
    not kept, nor is one in which the wire may have gone through itself. Where points have changed channel, the force
    that changed with it counts as viscous: drag carries it next.
    """
    nearest = approach(w.fold, m.pts.element, m.pts.xi, w.x)
    if nearest < 0.0:
        return -1.0
    if open_margins(m, led):
        assemble(m, w, w.x, w.q, w.state[S_LIP], 0.0, NORMAL)
    elastic = elastic_energy(m.rod, w.x, w.q)
    stored = stored_energy(m, w, elastic)
    error, viscous = weigh(m, w, led, drag, turn, s.gain, stored)
    if abs(error) > slack * max(led.works[W_TOTAL], abs(stored), s.quiet * LEAST_FEED):
        copy_rows(m.mem.edges, led.edges)
        return -1.0
    book(m, w, led, drag, turn, stored)
    w.state[S_NEAREST] = min(w.state[S_NEAREST], nearest)
    if change_channels(m, w, led):
        book_change(led, stored, stored_energy(m, w, elastic))
        rebook_friction(m, led)
        viscous = max(viscous, carry_residual(w, led))
    led.scalars[L_CONTACT] = w.out[E_CONTACT]
    return viscous


@kernel
def begin(m: Model, w: Work, led: Ledger, held: bool) -> None:
    """Note the state at the start of a step; the finer contact near edges and the limbs that could come to touch are
    chosen here, the energy change booked (with the front where it stands: what it gives way by is the step's).

    held : the feed is held, and the drag acts along the wire too: it may spring forward, which only drag can slow.
    """
    copy_rows(w.xs, w.x)
    copy_rows(w.qs, w.q)
    w.state[S_LIP_START], w.state[S_FRONT_START] = w.state[S_LIP], w.state[S_FRONT]
    w.state[S_END_START] = w.state[S_END]
    keep_crossings(m.pts, m.mem)
    update_tangents(w, held)
    if not held:
        drop_axial(w, led)
    finer = mark_edges(m.pts, m.mem, m.walls, m.tube, w.x)
    if watch(w.fold, m.pts.element, m.pts.xi, m.pts.radius, w.x) or finer:
        free, w.state[S_HELD] = w.state[S_HELD], 1.0
        assemble(m, w, w.x, w.q, w.state[S_LIP], 0.0, NORMAL)
        w.state[S_HELD] = free
        energy = led.scalars[L_ENERGY]
        book_change(led, energy, energy + w.out[E_CONTACT] - led.scalars[L_CONTACT])


@kernel
def restore(m: Model, w: Work) -> None:
    """Go back to the start of the step, friction limits and channels included."""
    copy_rows(w.x, w.xs)
    copy_rows(w.q, w.qs)
    w.state[S_LIP] = w.state[S_LIP_START]
    restore_crossings(m.mem)
    assemble(m, w, w.x, w.q, w.state[S_LIP], 0.0, NORMAL)
    lag_friction(m, w, 1.0)


@kernel
def hold(
    m: Model, w: Work, led: Ledger, dt: float, turn: float, s: Settings, counts: IntArray, frozen: bool
) -> tuple[int, float]:
    """Feed held, the wire relaxes in time steps that shrink when it snaps and grow when it is quiet.

    frozen : the front is held too. Returns steps (negative: never quiet, or the wire snaps round the vessel) and the
    last viscous force, N.
    """
    w.state[S_HELD] = 1.0 if frozen else 0.0
    viscous = np.inf
    shortest, slide = SHORTEST * dt, SLIDE * dt
    # quiet counts at a time step this long: a snap, too, begins slowly; and at one so short that the wire stands and
    # drag carries the whole residual: a kink holds it
    slow = 0.4 * dt
    steps, code, calm = 0, -1, 0
    while steps < RELAX_STEPS:
        begin(m, w, led, dt > slide)
        n = equilibrate(m, w, s.viscosity / dt, s.tolerance, RELAX_TRAVEL)
        counts[0] += abs(n)
        steps += 1
        if n < 0:
            restore(m, w)
            dt *= RELAX_CUT
            continue
        viscous = finish(m, w, led, s.viscosity / dt, turn, s, JUMP_HELD if dt > shortest else np.inf)
        if viscous < 0.0:
            restore(m, w)
            viscous = np.inf
            dt *= RELAX_CUT
            continue
        calm = calm + 1 if viscous < CALM * allowed(led, s) else 0
        if (viscous < allowed(led, s) and (dt >= slow or dt <= shortest)) or calm == CALM_STEPS:
            code = 1
            break
        if lies_round(m):
            break
        dt *= min(RELAX_GROWTH, RELAX_AIM * RELAX_TRAVEL / max(moved(w), 0.1 * RELAX_TRAVEL))
    w.state[S_HELD] = 0.0
    return code * steps, viscous


@kernel
def allowed(led: Ledger, s: Settings) -> float:
    """Summed viscous force up to which a state counts as an equilibrium, N."""
    return max(VISCOUS_SHARE * abs(led.scalars[L_PUSH]), s.quiet)


@kernel
def hold_in_support(m: Model, w: Work, s: Settings) -> None:
    """Foundation under the nodes inside the support, for the stability count only: where in its clearance the wire
    lies there is neither here nor there (long soft modes of micronewtons)."""
    for i in dealt(w.weight.shape[0]):
        if ahead_of_mouth(m.tube, w.x[i, 0], w.x[i, 1], w.x[i, 2]) < 0.0:
            for a in range(3):
                w.band[6 * i + a, HALF] += s.inside * w.weight[i]
    together()


@kernel
def stability(m: Model, w: Work, s: Settings) -> tuple[int, int]:
    """Negative eigenvalues of the static tangent, outside the support: with friction stuck and the front standing, and
    with friction released and the front yielding where it moved in the last step."""
    front, second = w.state[S_FRONT], w.state[S_END]
    w.state[S_FRONT], w.state[S_END] = w.state[S_FRONT_START], min(second, w.state[S_END_START])
    assemble(m, w, w.x, w.q, w.state[S_LIP], 0.0, RELEASED)
    hold_in_support(m, w, s)
    released = inertia(w)
    w.state[S_FRONT], w.state[S_END] = front, second
    if released == 0:
        return 0, 0
    assemble(m, w, w.x, w.q, w.state[S_LIP], 0.0, STUCK)
    hold_in_support(m, w, s)
    return inertia(w), released


@kernel
def nudge(m: Model, w: Work, s: Settings) -> None:
    """Move the wire by NUDGE along the critical mode, to the side it was already moving to."""
    assemble(m, w, w.x, w.q, w.state[S_LIP], 0.0, STUCK)
    hold_in_support(m, w, s)
    if inertia(w) < 0:
        return
    n = w.grad.shape[0]
    for i in range(n):
        w.rhs[0, i] = (w.x[i // 6, i % 6] - w.xs[i // 6, i % 6]) if i % 6 < 3 else 0.0
        w.rhs[0, i] += 1e-9 * np.sin(0.7 * i)
    for _ in range(4):
        back_substitute(w, w.rhs[:1])
        largest = 0.0
        for i in range(n):
            if i % 6 < 3:
                largest = max(largest, abs(w.rhs[0, i]))
        for i in range(n):
            w.rhs[0, i] *= NUDGE / largest
    sign = 0.0
    for i in range(n):
        if i % 6 < 3:
            sign += w.rhs[0, i] * (w.x[i // 6, i % 6] - w.xs[i // 6, i % 6])
    apply_step(w.x, w.q, w.rhs[0], 1.0 if sign >= 0.0 else -1.0, w.xt, w.qt)
    copy_rows(w.x, w.xt)
    copy_rows(w.q, w.qt)


@kernel
def advance_step(
    m: Model, w: Work, led: Ledger, feed: float, turn: float, dt: float, s: Settings, counts: IntArray, last: bool
) -> int:
    """One step of feed (m) and turn (rad) to new totals; 0 when solved, -1 when not (nothing done), -2 when not
    after a snap. counts: iterations, held steps, negative eigenvalues stuck and released at its end, largest stuck
    count met. last : no smaller step of feed is to be tried, the wire is snapping: go on in time alone."""
    old_feed = w.state[S_FEED]
    begin(m, w, led, False)
    w.state[S_FEED] = feed
    predict(w, feed - old_feed)
    w.state[S_LAST] = 0.0
    n = equilibrate(m, w, s.viscosity / dt, s.tolerance, FEED_TRAVEL + 1.5 * abs(feed - old_feed))
    counts[0] += abs(n)
    viscous = np.inf
    if n >= 0:
        viscous = finish(m, w, led, s.viscosity / dt, turn, s, JUMP)
    if n >= 0 and viscous >= 0.0:
        counts[2], counts[3] = stability(m, w, s)
        counts[4] = max(counts[4], counts[2])
    else:
        restore(m, w)
        if not last:
            w.state[S_FEED] = old_feed
            return -1
        viscous = np.inf
        counts[2], counts[4] = 0, max(counts[4], 1)
    quiet = True
    for _ in range(HOLDS):
        if viscous < allowed(led, s) and counts[2] == 0:
            if quiet:
                keep_motion(w, feed - old_feed)
            return 0
        quiet = False
        if counts[2] > 0:
            nudge(m, w, s)
        steps, viscous = hold(m, w, led, RELAX_START * dt, turn, s, counts, True)
        counts[1] += abs(steps)
        if steps < 0:
            return -2
        # let the front go again at the held feed
        steps, viscous = hold(m, w, led, RELAX_START * dt, turn, s, counts, False)
        counts[1] += abs(steps)
        if steps < 0:
            return -2
        counts[2], counts[3] = stability(m, w, s)
        counts[4] = max(counts[4], counts[2])
    return 0 if viscous < allowed(led, s) else -2


@kernel
def settle_start(m: Model, w: Work, led: Ledger, dt: float, s: Settings, counts: IntArray) -> int:
    """Bring the shaped wire in the support to a stable equilibrium; returns its count of negative eigenvalues."""
    hold(m, w, led, dt, 0.0, s, counts, True)
    for _ in range(START_NUDGES):
        counts[2], counts[3] = stability(m, w, s)
        if counts[2] == 0:
            break
        begin(m, w, led, True)
        nudge(m, w, s)
        hold(m, w, led, dt, 0.0, s, counts, True)
    return counts[2]


@kernel
def settle_opened(m: Model, w: Work, led: Ledger, dt: float, s: Settings, counts: IntArray) -> bool:
    """Bring the wire to rest where the wall has been pierced since the last step; False where it does not come to rest.

    The energy of contact that is lost with the wall is the work of piercing it: it is not in the ledger's sums.
    """
    assemble(m, w, w.x, w.q, w.state[S_LIP], 0.0, NORMAL)  # with the wall as it is now
    change_channels(m, w, led)
    led.scalars[L_ENERGY] = stored_energy(m, w, elastic_energy(m.rod, w.x, w.q))
    led.scalars[L_CONTACT] = w.out[E_CONTACT]
    rebook_friction(m, led)
    carry_residual(w, led)
    for frozen in (True, False):
        steps, _ = hold(m, w, led, RELAX_START * dt, w.state[S_TURN], s, counts, frozen)
        counts[1] += abs(steps)
        if steps < 0:
            return False
    counts[2], counts[3] = stability(m, w, s)
    return True


@kernel
def tip_tangent(m: Model, w: Work) -> float:
    """Cosine between the tip's tangent and the channel's axis at the tip; 1 inside the support."""
    n = m.pts.element.shape[0]
    s = m.mem.place[n - 1, 0]
    if s < 0.0:
        return 1.0
    j = w.q.shape[0] - 1
    frame = rotation((w.q[j, 0], w.q[j, 1], w.q[j, 2], w.q[j, 3]))
    p = locate(m.walls, w.x[j + 1, 0], w.x[j + 1, 1], w.x[j + 1, 2])
    return frame[2] * p.t[0] + frame[5] * p.t[1] + frame[8] * p.t[2]


@kernel
def record(m: Model, w: Work, led: Ledger, turn: float, counts: IntArray, hist: History, row: int) -> None:
    """Write the present state into row `row` of the history."""
    h = hist.scalars[row]
    n = m.pts.element.shape[0]
    last = n - 1
    h[:] = 0.0
    push, torque = push_and_torque(m, w)
    h[H_FEED], h[H_TURN], h[H_PUSH], h[H_TORQUE] = w.state[S_FEED], turn, push, torque
    lead, lead_false, lead_back = -1.0, -np.inf, np.inf
    lip, floor, hole, along, true, false = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    for i in dealt(n):
        s = m.mem.place[i, 0]
        if s < 0.0:
            continue
        end = s + m.pts.radius[i]
        lead = max(lead, end)
        f = m.mem.force[i, 0] if m.mem.tube[i] == 0 else 0.0
        side, at_tear = m.mem.side[i], pressed(m.pts, m.mem, m.walls, m.tube, w.x, i)
        along += at_tear[2]
        if side == BACK:
            lead_back = min(lead_back, s - m.pts.radius[i])
            false += f + m.mem.force[i, 1] + m.mem.force[i, 2]
        elif side == FALSE:
            lead_false = max(lead_false, end)
            false += f + m.mem.force[i, 1] + m.mem.force[i, 2]
        elif side == HOLE:
            hole += f + m.mem.force[i, 1]
        elif side == WINDOW:
            lip += at_tear[0]
            floor += at_tear[1]
        else:
            true += f + m.mem.force[i, 1]
    h[H_F_LIP], h[H_F_FLOOR], h[H_F_HOLE], h[H_LIP_ALONG] = total(lip), total(floor), total(hole), total(along)
    h[H_F_TRUE], h[H_F_FALSE] = total(true), total(false)
    lead, lead_false, lead_back = greatest(lead), greatest(lead_false), -greatest(-lead_back)
    for j in dealt(hist.side.shape[1]):
        hist.side[row, j] = 0  # the rows of many may lie in one place
    together()
    for i in range(n):
        if m.mem.place[i, 0] >= 0.0:
            hist.side[row, m.pts.element[i] + (1 if m.pts.xi[i] > 0.5 else 0)] = m.mem.side[i]
    h[H_TIP_FORCE] = max(m.mem.force[last, 0], m.mem.force[last, 1], m.mem.force[last, 2], m.mem.force[last, 3])
    h[H_TIP_ANGLE] = np.arccos(min(1.0, max(-1.0, tip_tangent(m, w))))
    h[H_TIP_S] = m.mem.place[last, 0] + m.pts.radius[last] if m.mem.place[last, 0] > 0.0 else np.nan
    h[H_LEAD_S] = lead if lead > 0.0 else np.nan
    h[H_LEAD_FALSE_S] = lead_false if lead_false > -np.inf else np.nan
    h[H_LEAD_BACK_S] = lead_back if lead_back < np.inf else np.nan
    h[H_F_FRONT], h[H_FRONT], h[H_LIP] = w.out[F_FRONT], w.state[S_FRONT], w.state[S_LIP]
    h[H_ELASTIC] = elastic_energy(m.rod, w.x, w.q)
    h[H_CONTACT] = w.out[E_CONTACT]
    h[H_DRIVE] = 0.5 * push * push / m.grip.drive
    h[H_ITERATIONS], h[H_HELD], h[H_STUCK], h[H_RELEASED] = counts[0], counts[1], counts[2], counts[3]
    h[H_MET] = counts[4]
    h[H_NEAREST] = w.state[S_NEAREST]
    h[H_F_END], h[H_END], h[H_CENTRE] = w.out[F_END], w.state[S_END], w.state[S_CENTRE]
    w.state[S_NEAREST] = np.inf
    for k in range(WORKS):
        h[H_WORKS + k] = led.works[k]
    copy_rows(hist.positions[row], w.x)
    copy_rows(hist.frames[row], w.q)
    copy_rows(hist.margins[row], m.mem.edges)


@kernel
def lies_round(m: Model) -> bool:
    """Whether wire in the false channel, behind the lumen or against a margin, has gone round to the far side of the
    vessel, where the margins meet."""
    round_ = False
    for i in dealt(m.pts.element.shape[0]):
        s, r, g = m.mem.place[i, 0], m.mem.place[i, 1], m.mem.place[i, 2]
        if (m.mem.side[i] == FALSE or m.mem.side[i] == BACK) and abs(g) > HALF_ROUND * m.walls.floor:
            if r > lumen_radius(m.walls, s)[0] or m.mem.force[i, 2] > 0.0:
                round_ = True
    return anyone(round_)


@kernel
def carry_out(
    m: Model,
    w: Work,
    led: Ledger,
    laid: Array,
    natural: Array,
    base: Array,
    moves: Array,
    dt: float,
    shaping: float,
    s: Settings,
    hist: History,
    counts: IntArray,
) -> tuple[int, int]:
    """Carry out `moves` from where the insertion stands. The first time, shape the wire where it lies (laid, natural :
    (N + 1, 3), 1/m; shaping : drag, N/m2) and bring it to rest in time steps of dt (s). Returns as `insert`.

    The one kernel that Python calls, so that all kernels below it are optimised and emitted once.
    """
    if w.state[S_READY] == 0.0:
        if not put_into_support(m, w, laid, natural, s.tolerance, shaping):
            return 0, NOT_CONVERGED
        stick(m, w)
        settle_start(m, w, led, dt, s, counts)
        for i in range(led.works.shape[0]):
            led.works[i] = 0.0
        w.state[S_READY] = 1.0
    if w.state[S_OPENED] != 0.0:
        w.state[S_OPENED] = 0.0
        if not settle_opened(m, w, led, dt, s, counts):
            record(m, w, led, w.state[S_TURN], counts, hist, 0)
            return 1, ROUND if lies_round(m) else NOT_CONVERGED
    return insert(m, w, led, base, moves, s, hist, counts)


@kernel
def at_once(m: Model, feed: float) -> float:
    """Share of an increment of feed (m) that is fed at once: all of it, unless an edge carries the wire."""
    carries = False
    for i in dealt(m.pts.element.shape[0]):
        carries = carries or (crosses(m.mem, i) and m.mem.force[i, 2] > 0.0)
    return AT_EDGE / max(AT_EDGE, abs(feed)) if anyone(carries) else 1.0


@kernel
def insert(
    m: Model, w: Work, led: Ledger, base: Array, moves: Array, s: Settings, hist: History, counts: IntArray
) -> tuple[int, int]:
    """Carry out `moves` (n, 2: feed m, turn rad per increment). Returns rows recorded and the reason of the end
    (codes of outcome.Stop)."""
    state, row = w.state, 0
    dome = m.pts.element.shape[0] - 1
    for k in range(moves.shape[0]):
        left = 1.0
        counts[0], counts[1], counts[4] = 0, 0, 0
        while left > 1e-12:
            part = min(state[S_PART], left, at_once(m, moves[k, 0]))
            before = counts[0]
            dt = max(abs(moves[k, 0]) / s.rate, abs(moves[k, 1]) / TURN_RATE) * part
            feed, turn = state[S_FEED] + part * moves[k, 0], state[S_TURN] + part * moves[k, 1]
            turn_base(m, base, turn)
            code = advance_step(m, w, led, feed, turn, dt, s, counts, part <= SMALLEST)
            state[S_PART] = part
            if code == 0:
                state[S_TURN] = turn
                left -= part
                if counts[0] - before <= EASY:
                    state[S_PART] = min(1.0, 2.0 * part)
                continue
            if code == -2:
                record(m, w, led, state[S_TURN], counts, hist, row)
                return row + 1, ROUND if lies_round(m) else NOT_CONVERGED
            turn_base(m, base, state[S_TURN])
            state[S_PART] = 0.5 * part
        state[S_PATH] += abs(moves[k, 0])
        record(m, w, led, state[S_TURN], counts, hist, row)
        row += 1
        end = judge(m, w, s, hist.scalars[row - 1], dome)
        if end >= 0:
            return row, end
    return row, DONE


@kernel
def pierced(m: Model, s: Settings, dome: int) -> int:
    """Wall that the tip has pierced (code of outcome.Stop), -1: none; the flap apart."""
    at, r, g = m.mem.place[dome, 0], m.mem.place[dome, 1], m.mem.place[dome, 2]
    force, side = m.mem.force[dome, 0], m.mem.side[dome]
    if in_false_channel(side) or (side == WINDOW and r > lumen_radius(m.walls, at)[0]):
        return OUTER if force >= s.outer_breach else -1
    if force >= s.weak_breach and m.walls.half < 0.0 and m.walls.start <= at <= m.walls.stop and abs(g) <= s.weak_half:
        return WEAK
    return INTIMA if force >= s.breach else -1


@inlined
def grown(m: Model, h: Array, s: Settings) -> float:
    """Length by which the plane has grown by the row `h`, m."""
    behind = h[H_END] - m.walls.end_start if m.walls.end_side == BACK else 0.0
    return h[H_FRONT] - s.plane + behind


@kernel
def judge(m: Model, w: Work, s: Settings, h: Array, dome: int) -> int:
    """Note events of the row `h` just recorded; returns the reason to end (code of outcome.Stop), -1: none."""
    state = w.state
    if h[H_LEAD_S] >= m.walls.start and state[S_REACHED] == np.inf:
        state[S_REACHED] = state[S_FEED]
    curled = h[H_TIP_ANGLE] > 0.5 * np.pi and h[H_LEAD_S] - h[H_TIP_S] >= s.diameter
    if not curled:
        state[S_CURLED_SINCE] = np.inf
    elif state[S_CURLED_SINCE] == np.inf:
        state[S_CURLED_SINCE] = state[S_PATH]
    if m.mem.force[dome, 1] >= s.breach:
        return FLAP
    end = pierced(m, s, dome)
    if end >= 0:
        return end
    if state[S_FIRST_CURL] == np.inf and state[S_PATH] - state[S_CURLED_SINCE] >= CURL_HOLD:
        state[S_FIRST_CURL] = state[S_CURLED_SINCE]
    if state[S_PATH] - state[S_FIRST_CURL] >= CURL_HOLD + s.past_curl:
        return CURL if s.past_curl == 0.0 else PAST_CURL
    if grown(m, h, s) > s.longer and state[S_CURLED_SINCE] == np.inf:
        return EXTENSION
    if lies_round(m):
        return ROUND
    if state[S_FEED] - state[S_REACHED] >= s.past_tear:
        return PAST_TEAR
    if h[H_PUSH] >= s.cap:
        return CAP
    return -1
