"""The contest of forces at one instant: what each way out asks, what it bears now, who leads by how much, in words.

What the front, the lip and the wire's fold take comes from the scene and the reduced model (regime); what they bear
comes from the solver alone. The two are shown side by side, so that the solver can disagree with the reduced model.
"""

from dataclasses import dataclass
from math import isfinite, nan

from ..insertion.case import Case
from ..insertion.classify import curled_rows, entered_rows, plane_growth
from ..insertion.record import Record
from ..outcome import STOP_WORDS, Shape, Stop
from ..regime.contest import Forces, forces_of
from ..regime.fold import Fold, fold_force
from ..regime.pocket import Pocket, pocket_of
from ..show.contest import LEAD, NO_FORCE, against
from ..show.given_way import form
from ..show.rates import hand_way
from ..show.view import over_tear
from ..vessel.build import lip_spring
from ..vessel.walls import BACK, FALSE, HOLE, TRUE, WINDOW
from .lane import FORCES, HISTORY, Lane

SPACING = 0.05e-3  # m, of the reduced model's stations
TOUCHES = 1e-5  # N: below it a contact is rounding
MOVES = 1e-6  # m in an increment: the front gives way

SIDES = {
    TRUE: "in the true lumen",
    WINDOW: "in the tear's window",
    FALSE: "in the false lumen, under the flap",
    HOLE: "in a hole it made in the flap",
    BACK: "in the false lumen, behind the upstream lip",
}


@dataclass(frozen=True)
class Limits:
    """What the ways out take, N. theory (94), (95).

    front : axial force that drives the delamination front on; fold : that folds the wire in the pocket (nan: not known
    yet, or not solved by the reduced model); lift : force across the wire that lifts the lip until the wire passes;
    deflect : force across that bends the free wire aside; asked : whether the fold has been asked for
    """

    front: float
    fold: float
    lift: float
    deflect: float
    asked: bool

    @property
    def words(self) -> str:
        """Who gives way first, by how much."""
        lip = _weaker(("the lip lifts", self.lift), ("the free wire bends aside", self.deflect))
        if not isfinite(self.fold):
            return f"At the lip: {lip}."
        inside = _weaker(("the front opens", self.front), ("the wire folds", self.fold))
        return f"At the lip: {lip}. In the pocket: {inside}."


def pocket(case: Case) -> Pocket:
    """The pocket of a case for the reduced model."""
    shape = case.tip_shape
    return pocket_of(case.profile, case.scene, case.friction, shape.angle, shape.length, shape.roll, SPACING)


def limits(case: Case, fold: Fold | None = None) -> Limits:
    """Limits of a case; `fold` from `fold_of`, which takes the longest."""
    forces: Forces = forces_of(pocket(case))
    force = nan if fold is None else float(fold.force)
    return Limits(forces.drive, force, forces.lift, forces.deflect, fold is not None)


def fold_of(case: Case) -> Fold:
    """Force that folds the wire in the pocket, by the reduced model's own pushes."""
    return fold_force(pocket(case))


def _weaker(one: tuple[str, float], other: tuple[str, float]) -> str:
    """Which of two comes first, and the ratio of their forces."""
    (words, low), (then, high) = sorted((one, other), key=lambda pair: pair[1])
    ratio = f", {high / low:.3g} times as much" if low > 0.0 else ""
    return f"{words} first, at {low * 1e3:.3g} mN; {then} at {high * 1e3:.3g} mN{ratio}"


def place(record: Record) -> str:
    """Where the wire's tip lies in the last row: on which side of the flap."""
    if record.lead_s[-1] < record.case.scene.tear.start:
        return "before the tear"
    side = int(record.side[-1, -1])
    return "in the true lumen, over the tear" if side == WINDOW and over_tear(record, -1) else SIDES[side]


def shape(record: Record, *, buckled: bool, folded: bool) -> str:
    """Shape of the wire in the last row, where it has one; buckled, folded : as its lane has them (`Lane`)."""
    diameter = 2.0 * float(record.case.profile.radius[0])
    if curled_rows(record)[-1]:
        now = Shape.CURLED
    elif record.lead_s[-1] - record.tip_s[-1] >= diameter:
        now = Shape.BIGHT_LEADING
    else:
        now = Shape.BUCKLED if buckled else Shape.STRAIGHT
    return form(now, fell=folded).value


def front_words(record: Record, before: float) -> str:
    """What the front does; before : its growth before the increment, m."""
    growth = float(plane_growth(record)[-1])
    opened = f" ({growth * 1e3:.2f} mm opened)" if growth > MOVES else ""
    if growth - before > MOVES:
        return f"the front gives way{opened}"
    return f"the front holds{opened}" if record.force_front[-1] > TOUCHES else f"nothing on the front{opened}"


def regime(lane: Lane) -> str:
    """The state in one sentence: shape, where, push, front."""
    record = lane.last
    touching = record.force_front[-1] > TOUCHES
    looks = shape(record, buckled=lane.buckled, folded=lane.folded) or ("pressed" if touching else "")
    first = ", ".join(filter(None, (f"{looks} against the front" if touching else looks, place(record))))
    front = front_words(record, lane.grown)
    text = f"{first[0].upper()}{first[1:]}; push force {record.push[-1] * 1e3:z.1f} mN; {front}."
    stop = Stop(record.stop)
    return text if stop is Stop.PROTOCOL_DONE else f"{text} Ended: {STOP_WORDS[stop]}."


def leads(lane: Lane, now: Limits) -> str:
    """Which force leads (the largest against the hand's motion of those that contest, show/contest.py), by how much,
    and what is borne now."""
    way = float(hand_way(lane.columns()[:, HISTORY.index("feed")])[-1])
    found = zip(lane.contest()[:, -1], FORCES, strict=True)
    forces = sorted(((against(name, float(force), way), name) for force, name in found), reverse=True)
    (most, first), (more, second) = forces[0], forces[1]
    borne = f"Borne now: {nearness(lane.last, now)}."
    if most <= NO_FORCE:
        return f"No force leads yet. {borne}"
    beside = f"{most / more:.3g} times {second} ({more * 1e3:.1f} mN)" if more > NO_FORCE else "no other beside it"
    return f"{LEAD.get(first, f'{first} leads').capitalize()}: {most * 1e3:.1f} mN, {beside}. {borne}"


def nearness(record: Record, now: Limits) -> str:
    """What is borne where the wire lies: by the front, with how much that is of what opens it and of what folds the
    wire; before that in the tear's window, and with which force the lip is lifted, with how much that is of what lets a
    wire pass that lies flat on the floor and of what bends the wire aside."""
    front = float(record.force_front[-1])
    if front > TOUCHES:
        shares = _shares(front, ("opens it", now.front), ("folds the wire", now.fold))
        return f"{front * 1e3:.1f} mN on the front, {shares}"
    pressed = (
        (record.force_lip, "edges of the lips in the window"),
        (record.force_floor, "floor of the tear's window"),
    )
    window = ", ".join(f"{force[-1] * 1e3:.1f} mN on the {what}" for force, what in pressed if force[-1] > NO_FORCE)
    untouched = "nothing on the front" if entered_rows(record)[-1] else ""
    lifts = lifting(record)
    if lifts > NO_FORCE:
        shares = _shares(lifts, ("lets a flat wire pass", now.lift), ("bends the wire aside", now.deflect))
        lip = f"the lip is lifted with {lifts * 1e3:.1f} mN, {shares}"
        return "; ".join(filter(None, (untouched, window, lip)))
    return "; ".join(filter(None, (untouched, window or "nothing in the tear's window")))


def lifting(record: Record) -> float:
    """Force across the wire with which it lifts the downstream lip in the last row, N, below 0 where it presses it
    down: the lip's stiffness times its lift, less what the pressure lifts. theory (21)."""
    stiffness, load = lip_spring(record.case.scene)
    return stiffness * float(record.lip[-1]) - load


def _shares(load: float, *ways: tuple[str, float]) -> str:
    """How much of each limit a load is."""
    return " and ".join(
        f"{load / limit:.0%} of what {words}" for words, limit in ways if isfinite(limit) and limit > 0.0
    )
