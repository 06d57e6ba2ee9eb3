"""The outcome of an insertion from its record: where the tip is, the wire's shape, extension, one label.

The only place where "entered", "curled" and "extended" are defined; it can be applied again to stored records.
"""

import numpy as np

from ..outcome import Label, Shape, Stop, Where
from ..vessel.scene import Scene
from ..vessel.walls import BACK, FALSE, TRUE
from .record import Array, Outcome, Record

ENTERED = 0.5e-3  # m beyond the downstream lip, or behind the upstream one, that count as entered
EXTENDED = 0.5e-3  # m of new plane that count as extended
CURL_HOLD = 0.3e-3  # m of travel a curl must last
JAMMED = 4e-3  # m of travel between touching the front and the event: beyond it outcomes hang on the order of snaps


def travel(record: Record) -> Array:
    """Path of the hand up to each row, m: feed and withdrawal both count, so that it never runs back."""
    return np.cumsum(np.abs(np.diff(record.feed, prepend=0.0)))


def _first(path: Array, condition: "np.typing.NDArray[np.bool_]") -> float:
    """Path at the first row where the condition holds, m (nan: never)."""
    hits = np.flatnonzero(condition)
    return float(path[hits[0]]) if len(hits) else float("nan")


def curled_rows(record: Record) -> "np.typing.NDArray[np.bool_]":
    """Whether the wire is curled in each row: the tip's tangent points against the channel's axis and the leading point
    is ahead of the tip by at least one wire diameter."""
    diameter = 2.0 * float(record.case.profile.radius[0])
    ahead = record.lead_s - record.tip_s >= diameter
    return np.asarray(ahead & (record.tip_angle > 0.5 * np.pi))


def entered_rows(record: Record) -> "np.typing.NDArray[np.bool_]":
    """Whether wire lies ENTERED into the false channel in each row, beyond the downstream lip or behind the other."""
    tear = record.case.scene.tear
    return np.asarray((record.lead_false_s >= tear.end + ENTERED) | (record.lead_back_s <= tear.start - ENTERED))


def plane_growth(record: Record) -> Array:
    """Length by which the plane has grown at each row, m."""
    return new_length(record.case.scene, record.front, record.front_back)


def new_length(scene: Scene, front: Array, front_back: Array) -> Array:
    """Length by which the plane has grown, m: at its front, and at that behind the upstream lip where there is one."""
    growth = front - (scene.tear.end + scene.channel.length)
    if scene.channel.retrograde is None:
        return growth
    return growth + (scene.tear.start - scene.channel.retrograde - front_back)


def curl_start(record: Record) -> float:
    """Path (m) at which a curl that lasted CURL_HOLD began (nan: none)."""
    start = float("nan")
    for here, now in zip(travel(record), curled_rows(record), strict=True):
        if not now:
            start = float("nan")
        elif np.isnan(start):
            start = float(here)
        elif here - start >= CURL_HOLD - 1e-9:
            return start
    return float("nan")


def _where(record: Record, entered: float, reached: float) -> Where:
    """Channel at the end."""
    if record.stop == Stop.NOT_CONVERGED:
        return Where.NOT_SOLVED
    if record.stop == Stop.OUTER_WALL_PIERCED:
        return Where.OUTER_WALL
    if record.stop == Stop.FLAP_PIERCED:
        return Where.REENTERED if record.side[-1, -1] in (FALSE, BACK) else Where.FALSE_LUMEN
    if record.stop in (Stop.INTIMA_PIERCED, Stop.WEAK_SPOT_PIERCED):
        return Where.FALSE_LUMEN
    if len(record.holes) and record.side[-1, -1] == TRUE and record.lead_false_s[-1] > record.case.scene.tear.end:
        return Where.REENTERED  # its tip lies in the true lumen, wire behind it in the false channel: through a hole
    tear = record.case.scene.tear
    if not np.isnan(entered) and (record.lead_false_s[-1] > tear.end or record.lead_back_s[-1] < tear.start):
        return Where.FALSE_LUMEN
    return Where.BEFORE_TEAR if np.isnan(reached) else Where.TRUE_LUMEN


def _shape(record: Record, curled: float, since: int) -> Shape:
    """Shape at the end; `since` is the row from which a change of the stability count is buckling."""
    if not np.isnan(curled):
        return Shape.CURLED
    diameter = 2.0 * float(record.case.profile.radius[0])
    if record.lead_s[-1] - record.tip_s[-1] >= diameter:
        return Shape.BIGHT_LEADING
    return Shape.BUCKLED if np.any(record.count_met[since:] > 0) else Shape.STRAIGHT


def _label(where: Where, shape: Shape, reached: float, extended_first: bool, curled_outside: bool) -> Label:
    """The single label, in order of precedence. curled_outside: the first curl came before entry to the false channel;
    what a run that went on did after it does not change the label."""
    if where == Where.NOT_SOLVED:
        return Label.NOT_SOLVED
    if where == Where.OUTER_WALL:
        return Label.THROUGH_OUTER_WALL
    if where == Where.FALSE_LUMEN:
        if curled_outside:
            return Label.TRUE_LUMEN_CURLED_OR_BUCKLED
        if extended_first:
            return Label.FALSE_LUMEN_EXTENDED
        return Label.FALSE_LUMEN_CURLED if shape == Shape.CURLED else Label.FALSE_LUMEN_NEITHER
    if where == Where.REENTERED:
        return Label.REENTERED
    if np.isnan(reached):
        return Label.NEVER_REACHED_THE_TEAR
    curled = shape in (Shape.CURLED, Shape.BUCKLED)
    return Label.TRUE_LUMEN_CURLED_OR_BUCKLED if curled else Label.TRUE_LUMEN


def classify(record: Record) -> Outcome:
    """Outcome of a record: where x shape x extension, events counted in travel since the tear was reached."""
    if len(record.feed) == 0:
        return _nothing(record)
    scene = record.case.scene
    path = travel(record)
    reached = _first(path, record.lead_s >= scene.tear.start)
    entered = _first(path, entered_rows(record))
    if (
        record.stop in (Stop.FLAP_PIERCED, Stop.INTIMA_PIERCED, Stop.WEAK_SPOT_PIERCED)
        and np.isnan(entered)
        and record.side[-1, -1] not in (FALSE, BACK)
    ):
        entered = float(path[-1])
    curled = curl_start(record)
    growth = plane_growth(record)
    extended = _first(path, growth > EXTENDED)
    touched = _first(path, record.force_front > 0.0)
    zero = reached if not np.isnan(reached) else 0.0
    since = int(np.searchsorted(path, entered if not np.isnan(entered) else zero))
    where = _where(record, entered, reached)
    shape = _shape(record, curled, since)
    extended_first = not np.isnan(extended) and not extended > curled
    event = curled if not np.isnan(curled) else float(path[-1])
    stuck = not np.isnan(touched) and event - touched > JAMMED
    return Outcome(
        where=int(where),
        shape=int(shape),
        label=int(_label(where, shape, reached, extended_first, not np.isnan(curled) and entered > curled)),
        stop=int(record.stop),
        reached=reached,
        entered=entered - zero,
        curled=curled - zero,
        extended=extended - zero,
        entered_before_curl=not np.isnan(entered) and not entered > curled,
        extension=float(growth[-1]),
        opened_area=float(record.opened_area[-1]),
        feed_past_tear=float(path[-1]) - zero if not np.isnan(reached) else 0.0,
        max_push=float(np.max(record.push)),
        max_tip_force=float(np.max(record.tip_force)),
        contact_angle=record.contact_angle,
        tip_angle_change=float(record.tip_angle[-1] - record.tip_angle[min(since, len(record.feed) - 1)]),
        jammed=stuck and np.isnan(extended),
        audit_error=float(record.audit_error[-1]),
        increments=len(record.feed),
        iterations=int(np.sum(record.iterations)),
    )


def _nothing(record: Record) -> Outcome:
    """Outcome of a run that found no equilibrium even inside the support."""
    nan = float("nan")
    return Outcome(
        int(Where.NOT_SOLVED), int(Shape.STRAIGHT), int(Label.NOT_SOLVED), int(record.stop), nan, nan, nan, nan, False,
        0.0, 0.0, 0.0, 0.0, 0.0, nan, 0.0, False, nan, 0, 0,
    )  # fmt: skip
