"""Several attempts on one case: an operator's policy carried out on an insertion, look by look.

The hand advances; after each `look_every` the rules are asked in order; the first whose sign is there ends the attempt
and its actions are done. What ends the procedure as a success is the true state (in practice it is confirmed by
contrast in the distal vessel), not what is on the screen.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import inf

import numpy as np
from numpy.typing import NDArray

from ..outcome import End, Stop
from ..vessel.walls import FALSE
from .case import Case, Move, StopRules
from .classify import curl_start, entered_rows, plane_growth
from .glance import Glance, glance
from .imaging import Imaging
from .policy import IMAGE, UNTIL, Action, Policy, Rule
from .record import Record
from .run import Insertion, increments
from .seen import Detector

Array = NDArray[np.float64]

STRAIGHT = np.radians(25.0)  # beyond the natural bend: a vessel bend of 25 mm radius alone makes 17 degrees of it (J)
END_OF: dict[Stop, End] = {
    Stop.OUTER_WALL_PIERCED: End.PERFORATED,
    Stop.FLAP_PIERCED: End.PIERCED,  # a hole there is no room for
    Stop.INTIMA_PIERCED: End.PIERCED,
    Stop.ROUND_THE_VESSEL: End.ROUND_THE_VESSEL,
    Stop.NOT_CONVERGED: End.NOT_SOLVED,
}
NO_FEED = 1e-9  # m: a travel less than this is none


@dataclass(frozen=True)
class Attempt:
    """One attempt: an advance up to a sign, and what was done about it. SI units.

    rule : number of the rule that ended it, from 1 (0: none did); travel : of the hand, m; largest_push, N;
    opened_area, opened_length : newly opened in it, m2 and m; entered, curled : truly, at any time in it; curl_seen :
    at one of its looks (-1: nobody looked); bend_left : apparent bend at the last look of its actions, rad (nan: none).
    """

    rule: int
    travel: float
    largest_push: float
    opened_area: float
    opened_length: float
    entered: bool
    curled: bool
    curl_seen: int
    bend_left: float


@dataclass(frozen=True)
class Course:
    """A whole procedure. end : code of outcome.End; median_push : over the feed advanced since the tear was first
    reached, N (nan: never reached); travel, m; turned : sum of all turns of the hand, rad; looks : at the screen."""

    attempts: tuple[Attempt, ...]
    end: int
    travel: float
    turned: float
    largest_push: float
    median_push: float
    opened_area: float
    opened_length: float
    looks: int
    record: Record


def opened_so_far(record: Record) -> tuple[float, float]:
    """Plane newly opened since the start, at the record's last row: area, m2, and length past the first front, m."""
    return float(record.opened_area[-1]), float(plane_growth(record)[-1])


def median_push(record: Record) -> float:
    """Median of the push over the feed advanced since the wire first reached the tear, N (nan: it never did)."""
    fed = np.diff(record.feed, prepend=0.0)
    reached = np.maximum.accumulate(np.nan_to_num(record.lead_s, nan=-inf)) >= record.case.scene.tear.start
    rows = reached & (fed > 0.0)
    if not np.any(rows):
        return float("nan")
    order = np.argsort(record.push[rows], kind="stable")
    share = np.cumsum(fed[rows][order])
    return float(record.push[rows][order][np.searchsorted(share, 0.5 * share[-1])])


def follow(case: Case, policy: Policy, imaging: Imaging, detector: Detector) -> Course:
    """Carry out a policy on a case.

    Parameters
    ----------
    case : Case
        its moves say how much wire there is to advance (their sum); its stop rules do not count, the policy's do
    policy : Policy
        rules and ends
    imaging, detector
        how the wire is seen

    Returns
    -------
    Course
        a solve that fails ends it as NOT_SOLVED, with all that came before
    """
    return _Procedure(case, policy, imaging, detector).run()


class _Procedure:
    """A procedure under way."""

    def __init__(self, case: Case, policy: Policy, imaging: Imaging, detector: Detector) -> None:
        self.case, self.policy, self.imaging, self.detector = case, policy, imaging, detector
        self.wire = sum(m.amount if m.kind == "advance" else -m.amount for m in case.moves if m.kind != "turn")
        self.insertion = Insertion(replace(case, stop=StopRules(inf, None, at_breach=False)))
        shape = case.tip_shape
        self.natural = abs(shape.angle) + (abs(shape.second.angle) if shape.second is not None else 0.0)
        self.feed = self.travel = 0.0
        self.opened = (0.0, 0.0)  # so far: area, m2, and length, m
        self.looks = 0
        self.end: End | None = None
        self.attempts: list[Attempt] = []
        self.first = 0  # of the insertion's parts, of this attempt
        self.seen = self.bend_left = 0.0

    def run(self) -> Course:
        """Attempts until something ends them."""
        while self.end is None:
            self.first, started = self.insertion.parts, self.travel
            self.seen, self.bend_left = -1.0, float("nan")
            before = self.opened
            rule = self.advance()
            if rule and len(self.attempts) + 1 == self.policy.attempts:
                self.end = End.ATTEMPTS_USED_UP
            for action in self.policy.rules[rule - 1].then if rule else ():
                if self.end is None:
                    self.act(action)
            self.attempts.append(self.attempt(rule, self.travel - started, before))
        record = self.insertion.record()
        return Course(
            attempts=tuple(self.attempts),
            end=int(self.end),
            travel=self.travel,
            turned=float(np.sum(np.abs(np.diff(record.turn, prepend=0.0)))),
            largest_push=float(np.max(record.push, initial=0.0)),
            median_push=median_push(record),
            opened_area=self.opened[0],
            opened_length=self.opened[1],
            looks=self.looks,
            record=record,
        )

    def attempt(self, rule: int, travel: float, before: tuple[float, float]) -> Attempt:
        """What the attempt that just ended came to."""
        record = self.insertion.record(self.first) if self.insertion.parts > self.first else None
        if record is None or not len(record.feed):
            return Attempt(rule, travel, 0.0, 0.0, 0.0, False, False, int(self.seen), self.bend_left)
        return Attempt(
            rule=rule,
            travel=travel,
            largest_push=float(np.max(record.push, initial=0.0)),
            opened_area=self.opened[0] - before[0],
            opened_length=self.opened[1] - before[1],
            entered=bool(np.any(entered_rows(record))),
            curled=not np.isnan(curl_start(record)),
            curl_seen=int(self.seen),
            bend_left=self.bend_left,
        )

    def advance(self) -> int:
        """Advance, looking, until a rule's sign is there (its number, from 1) or something ends it all (0)."""
        left = self.wire - self.feed
        if left <= NO_FEED:
            self.end = End.WIRE_USED_UP
            return 0
        move = Move("advance", left, turn=self.policy.drill * left)
        for rows in cut(increments([move], self.case.numerics.increment), self.policy.look_every):
            part = self.insertion.parts
            stop = self.carry(rows)
            if self.end is not None and self.end is not End.FEED_USED_UP:
                return 0
            if self.insertion.parts == part:  # not even an increment of feed was left
                return 0
            stroke = self.insertion.record(part)
            if leads_in_true(stroke, self.policy.true_lumen):
                self.end = End.TRUE_LUMEN if through(stroke, self.policy.true_lumen) else End.REENTERED
            if self.end is not None:
                return 0
            for number, rule in enumerate(self.policy.rules, start=1):
                if self.shows(rule, self.look(stroke) if rule.when in IMAGE else None, stroke):
                    return number
            if stop is Stop.PUSH_AT_FORCE_CAP:
                self.end = End.PUSH_AT_FORCE_CAP
                return 0
        self.end = End.WIRE_USED_UP
        return 0

    def shows(self, rule: Rule, look: Glance | None, stroke: Record) -> bool:
        """Whether the sign of a rule is there after a stroke."""
        if look is not None:
            return look.curl if rule.when == "curl_seen" else look.bend >= self.natural + rule.level
        if rule.when == "push_above":
            return bool(np.max(stroke.push) >= rule.level)
        if rule.when == "true_lumen_past_tear":
            return through(stroke, rule.level)
        so_far = self.insertion.record(self.first)
        if rule.when == "curl_true":
            return not np.isnan(curl_start(so_far))
        if rule.when == "entered_true":
            return bool(np.any(entered_rows(so_far)))
        at = np.flatnonzero(so_far.lead_s >= self.case.scene.tear.start)
        return bool(len(at)) and float(so_far.feed[-1] - so_far.feed[at[0]]) >= rule.level - NO_FEED

    def look(self, stroke: Record) -> Glance:
        """Look at the screen."""
        self.looks += 1
        seed = int(np.random.SeedSequence([self.imaging.seed, self.case.seed]).generate_state(1)[0])
        shown = glance(stroke, replace(self.imaging, seed=seed), self.detector, self.looks)
        self.seen = max(self.seen, float(shown.curl))
        return shown

    def act(self, action: Action) -> None:
        """Do one of a rule's actions; the push at its cap ends an advance, not the procedure."""
        if action.kind in UNTIL:
            self.withdraw_until(action)
            return
        for move in moves_of(action):
            amount = move.amount
            if move.kind == "advance":
                amount = min(amount, self.wire - self.feed)
            elif move.kind == "withdraw":
                amount = min(amount, self.feed)
            if move.kind != "turn" and amount <= NO_FEED:
                continue
            self.carry(increments([replace(move, amount=amount)], self.case.numerics.increment))
            if self.end is not None:
                return

    def withdraw_until(self, action: Action) -> None:
        """Withdraw in steps until a look shows what was waited for, or as far as it is allowed."""
        most = self.feed if action.kind == "withdraw_before_tear" else min(action.amount, self.feed)
        if most <= NO_FEED:
            return
        for rows in cut(increments([Move("withdraw", most)], self.case.numerics.increment), self.policy.look_every):
            part = self.insertion.parts
            self.carry(rows)
            if (
                self.end is not None
                or self.insertion.parts == part
                or self.waited_for(action, self.insertion.record(part))
            ):
                return

    def waited_for(self, action: Action, step: Record) -> bool:
        """Whether a step of a withdrawal "until" was its last: by a look, or by the tip's place beside the tear's."""
        if action.kind == "withdraw_before_tear":
            return not step.tip_s[-1] > self.case.scene.tear.start - action.amount
        seen = self.seen
        shown = self.look(step)
        self.seen, self.bend_left = seen, shown.bend  # what is seen of the attempt is seen while advancing
        straight = action.kind != "withdraw_until_straight" or shown.bend <= self.natural + STRAIGHT
        return straight and not shown.curl

    def carry(self, rows: Array) -> Stop:
        """Carry out increments as far as the total feed allows, and note what ends the procedure."""
        path = np.cumsum(np.abs(rows[:, 0]))
        room = self.policy.feed - self.travel
        fits = int(np.searchsorted(path, room + NO_FEED, side="right"))
        stop = Stop.PROTOCOL_DONE
        if fits:
            part = self.insertion.parts
            stop = self.insertion.carry_rows(rows[:fits])
            done = self.insertion.record(part)
            if len(done.feed):
                self.travel += abs(float(done.feed[-1]) - self.feed)
                self.feed, self.opened = float(done.feed[-1]), opened_so_far(done)
        if stop in END_OF:
            self.end = END_OF[stop]
        elif fits < len(rows) and stop is Stop.PROTOCOL_DONE:
            self.end = End.FEED_USED_UP
        return stop


def moves_of(action: Action) -> Sequence[Move]:
    """The moves of an action that waits for nothing."""
    if action.kind == "strokes":
        there = Move("advance", action.amount)
        return [there, Move("withdraw", action.back)] * action.count if action.back > 0.0 else [there] * action.count
    if action.kind == "advance" or action.kind == "withdraw" or action.kind == "turn":
        return [Move(action.kind, action.amount, action.turn)]
    raise ValueError(f"an action of kind {action.kind!r} has no moves of its own")


def cut(rows: Array, step: float) -> list[Array]:
    """Increments cut where the path along the wire has grown by `step` (m) since the last cut."""
    path = np.cumsum(np.abs(rows[:, 0]))
    count = max(1, int(np.ceil(path[-1] / step - 1e-6)))
    ends = np.searchsorted(path, step * np.arange(1, count) - NO_FEED) + 1
    return [part for part in np.split(rows, np.unique(ends)) if len(part)]


def leads_in_true(record: Record, beyond: float) -> bool:
    """Whether at the end the tip itself leads in the true lumen, `beyond` (m) past the tear."""
    leads = record.lead_s[-1] - record.tip_s[-1] < 2.0 * float(record.case.profile.radius[0])
    far = record.tip_s[-1] >= record.case.scene.tear.end + beyond
    return bool(leads and far and record.side[-1, -1] != FALSE)


def through(record: Record, beyond: float) -> bool:
    """Whether it does, and no wire lies in the false channel: it did not get there through a hole in the flap."""
    return leads_in_true(record, beyond) and not record.lead_false_s[-1] > record.case.scene.tear.end
