"""An operator's policy on an insertion: it changes nothing by looking, ends as it must, and turns a false way into a
true one."""

from dataclasses import fields, replace
from math import inf, pi, radians

import numpy as np
import pytest
from curl_record import curl_record
from insertion_cases import make_case

from tipmech.checks import FieldError
from tipmech.insertion.attempts import cut, follow, median_push, moves_of, opened_so_far, through
from tipmech.insertion.case import Drive, Move, StopRules
from tipmech.insertion.classify import ENTERED, entered_rows
from tipmech.insertion.glance import apparent_bend, glance
from tipmech.insertion.imaging import Frames, Imaging
from tipmech.insertion.policy import Action, Policy, Rule
from tipmech.insertion.projection import View
from tipmech.insertion.record import Record
from tipmech.insertion.run import Insertion, increments
from tipmech.insertion.seen import Detector
from tipmech.outcome import End, Stop

IMAGING = Imaging(hand_rate=5e-3, linger=0.2)
DETECTOR = Detector()
BACK = Action("withdraw_before_tear", 1e-3)
CASE = replace(make_case(), moves=(Move("advance", 20e-3),))  # its tip points into the tear, and enters
NO_SIGN = Rule("push_above", (BACK,), level=4.9)  # N: never reached


def policy(*rules: Rule, **values) -> Policy:
    return Policy(rules, **{"look_every": 1e-3, "feed": 0.3, "true_lumen": 5e-3, "attempts": 3} | values)


@pytest.mark.parametrize(("rule", "looks"), [(NO_SIGN, 0), (Rule("curl_seen", (BACK,)), 20)], ids=["felt", "looked"])
def test_a_policy_of_one_rule_without_its_sign_is_the_plain_insertion_to_the_last_bit(rule, looks):
    case = replace(CASE, moves=(Move("advance", 14e-3),))
    course = follow(case, policy(rule, look_every=0.7e-3), IMAGING, Detector(threshold=1e9))
    assert course.looks == looks
    plain = Insertion(replace(case, stop=StopRules(inf, None, at_breach=False)))
    plain.carry_out(*case.moves)
    assert course.end == End.WIRE_USED_UP and len(course.attempts) == 1
    for field in fields(Record):
        if field.name != "case":
            one, two = getattr(course.record, field.name), getattr(plain.record(), field.name)
            np.testing.assert_array_equal(one, two, err_msg=field.name)


@pytest.fixture(scope="module")
def redirected():
    rule = Rule("advance_past_tear", (BACK, Action("turn", pi)), level=9e-3)
    return follow(CASE, policy(rule), IMAGING, DETECTOR)


def test_withdrawn_and_turned_away_from_the_tear_the_wire_goes_through(redirected):
    """The same wire rolled by half a turn from the start never enters: the known result of the second attempt."""
    away = follow(replace(make_case(roll=pi), moves=CASE.moves), policy(), IMAGING, DETECTOR)
    assert (away.end, len(away.attempts), away.attempts[0].entered) == (End.TRUE_LUMEN, 1, False)
    assert away.opened_area == 0.0
    assert [a.entered for a in redirected.attempts] == [True, False]
    assert redirected.end == End.TRUE_LUMEN and [a.rule for a in redirected.attempts] == [1, 0]
    assert redirected.turned == pytest.approx(pi)
    np.testing.assert_allclose(redirected.record.tip_s[-1], away.record.tip_s[-1], atol=1e-3)  # one look


def test_withdrawn_and_not_turned_it_enters_again_and_the_attempts_are_used_up():
    rule = Rule("entered_true", (BACK,), true_state=True)
    course = follow(CASE, policy(rule), IMAGING, DETECTOR)
    assert course.end == End.ATTEMPTS_USED_UP
    assert [(a.rule, a.entered) for a in course.attempts] == [(1, True)] * 3
    assert course.turned == 0.0


def test_what_the_attempts_opened_and_travelled_adds_up():
    """A wire stiff enough to open margins on its false way."""
    rule = Rule("advance_past_tear", (BACK, Action("turn", pi)), level=9e-3)
    course = follow(replace(make_case(2e-7), moves=CASE.moves), policy(rule), IMAGING, DETECTOR)
    area, length = opened_so_far(course.record)
    assert area > 0.0
    assert sum(a.opened_area for a in course.attempts) == pytest.approx(area, rel=1e-12)
    assert sum(a.opened_length for a in course.attempts) == pytest.approx(length, abs=1e-15)
    path = np.abs(np.diff(course.record.feed, prepend=0.0)).sum()
    assert sum(a.travel for a in course.attempts) == pytest.approx(path) == pytest.approx(course.travel)


def test_the_median_push_is_over_feed_not_rows():
    record = curl_record()
    feed = np.array([0.0, 1e-3, 1.1e-3, 1.2e-3, 1.3e-3, 0.5e-3, 2.5e-3])
    lead = np.array([21e-3] * 7)  # the tear begins at 20 mm
    few = replace(record, feed=feed, push=np.array([0.0, 1.0, 5.0, 5.0, 5.0, -9.0, 2.0]), lead_s=lead)
    assert median_push(few) == 2.0  # 1 mm at 1 N, 2 mm at 2 N, 0.3 mm at 5 N; the withdrawal does not count
    assert np.isnan(median_push(replace(few, lead_s=lead - 2e-3)))


def test_the_total_feed_is_a_bound():
    course = follow(CASE, policy(feed=6.25e-3), IMAGING, DETECTOR)
    assert course.end == End.FEED_USED_UP
    assert 6.1e-3 < course.travel <= 6.25e-3 + 1e-9


def test_without_a_sign_that_a_rule_answers_the_push_cap_ends_it_and_with_one_it_does_not():
    weak = replace(CASE, drive=Drive(force_cap=8e-3))
    assert follow(weak, policy(), IMAGING, DETECTOR).end == End.PUSH_AT_FORCE_CAP
    rule = Rule("push_above", (BACK, Action("turn", pi)), level=7e-3)
    answered = follow(weak, policy(rule), IMAGING, DETECTOR)
    assert (answered.end, len(answered.attempts)) == (End.TRUE_LUMEN, 2)
    assert answered.attempts[0].largest_push >= 7e-3


def test_a_failed_solve_ends_it_and_is_kept(monkeypatch):
    carried = Insertion.carry_rows

    def fails(self, rows):
        if self.parts < 4:
            return carried(self, rows)
        carried(self, rows[:0])
        self.stop = Stop.NOT_CONVERGED
        return self.stop

    monkeypatch.setattr(Insertion, "carry_rows", fails)
    course = follow(CASE, policy(), IMAGING, DETECTOR)
    assert course.end == End.NOT_SOLVED and len(course.attempts) == 1
    assert course.travel == pytest.approx(4e-3) and len(course.record.feed)


def test_drilling_turns_as_it_feeds():
    course = follow(CASE, policy(feed=5e-3, drill=radians(90) / 1e-3), IMAGING, DETECTOR)
    np.testing.assert_allclose(course.record.turn, course.record.feed * radians(90) / 1e-3, atol=1e-12)
    assert course.turned == pytest.approx(5 * pi / 2)


def test_actions_are_done_in_their_order_and_strokes_go_to_and_fro():
    strokes = Action("strokes", 1e-3, back=0.6e-3, count=3)
    rule = Rule("push_above", (Action("withdraw", 2e-3, turn=0.5), strokes, Action("turn", -0.2)), level=1e-9)
    course = follow(CASE, policy(rule, attempts=2, look_every=4e-3), IMAGING, DETECTOR)
    feed, turn = course.record.feed, course.record.turn
    path = np.cumsum(np.abs(np.diff(feed, prepend=0.0)))
    own = feed[path <= course.attempts[0].travel + 1e-9]
    first = int(np.argmax(own))
    ends = [own[k] - own[first] for k in np.flatnonzero(np.diff(np.sign(np.diff(own[first:])))) + first + 1]
    np.testing.assert_allclose(ends, np.array([-2, -1, -1.6, -0.6, -1.2, -0.2, -0.8]) * 1e-3, atol=1e-9)
    assert turn.max() == pytest.approx(0.5) and turn[-1] == pytest.approx(0.3)
    assert [m.kind for m in moves_of(strokes)] == ["advance", "withdraw"] * 3


def test_a_withdrawal_that_waits_ends_where_the_wire_looks_straight_or_at_its_bound():
    def after(action: Action):
        rule = Rule("entered_true", (action,), true_state=True)
        return follow(CASE, policy(rule, attempts=2), IMAGING, DETECTOR)

    loose, held = after(Action("withdraw_until_straight", 0.4)), after(Action("withdraw_until_straight", 0.6e-3))
    assert loose.attempts[0].bend_left <= CASE.tip_shape.angle + radians(25.0)
    down = [c.attempts[0].travel - c.record.feed.max() for c in (loose, held)]
    assert down[1] <= 0.6e-3 + 1e-9 < down[0] < 20e-3


def test_the_wire_is_never_drawn_back_behind_its_start():
    rule = Rule("entered_true", (Action("withdraw", 0.1),), true_state=True)
    course = follow(CASE, policy(rule, attempts=2), IMAGING, DETECTOR)
    assert course.record.feed.min() == pytest.approx(0.0, abs=1e-12)


def test_a_move_that_turns_meanwhile_is_fed_and_turned_to_its_end():
    rows = increments([Move("advance", 3e-3, turn=1.0)], 0.1e-3)
    np.testing.assert_allclose(rows.sum(axis=0), [3e-3, 1.0], rtol=1e-12)
    turning = increments([Move("withdraw", 0.2e-3, turn=-6.0)], 0.1e-3)  # more turn than feed: the turn sets the step
    np.testing.assert_allclose(turning.sum(axis=0), [-0.2e-3, -6.0], rtol=1e-12)
    assert np.abs(turning[:, 1]).max() <= pi / 60 * (1 + 1e-12)


@pytest.mark.parametrize("step", [0.35e-3, 1e-3, 50e-3])
def test_increments_are_cut_at_looks_and_none_is_lost(step):
    rows = increments([Move("withdraw", 7.3e-3)], 0.1e-3)
    parts = cut(rows, step)
    np.testing.assert_array_equal(np.concatenate(parts), rows)
    lengths = [np.abs(part[:, 0]).sum() for part in parts]
    assert len(parts) == max(1, int(np.ceil(7.3e-3 / step)))
    assert all(abs(length - step) < 0.1e-3 + 1e-12 for length in lengths[:-1])


def test_the_plane_behind_the_upstream_lip_is_entered_too():
    record = curl_record(turn=1e-9)
    nowhere, start = np.full(len(record.feed), np.nan), record.case.scene.tear.start
    for behind, wanted in ((start - 1.01 * ENTERED, True), (start - 0.99 * ENTERED, False)):
        back = nowhere.copy()
        back[-1] = behind
        rows = entered_rows(replace(record, lead_false_s=nowhere, lead_back_s=back))
        assert rows[-1] == wanted and not rows[:-1].any()


def test_through_needs_the_tip_itself_in_the_true_lumen():
    record = curl_record(turn=1e-9)  # straight, its tip 6 mm past where the circle would begin
    end = record.case.scene.tear.end
    beyond = float(record.tip_s[-1] - end)
    free = replace(record, side=np.zeros_like(record.side), lead_false_s=np.full(len(record.feed), np.nan))
    assert through(free, beyond - 1e-4) and not through(free, beyond + 1e-4)
    assert not through(record, beyond - 1e-4) and entered_rows(record).any() and not entered_rows(free).any()
    assert not through(replace(free, tip_s=free.tip_s - 0.5e-3), beyond - 1e-3)  # a bight leads


def line_of(*points: tuple[float, float], step: float = 0.2e-3) -> np.ndarray:
    corner = np.array(points)
    arc = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(corner, axis=0), axis=1))])
    at = np.arange(0.0, arc[-1] + 1e-9, step)
    return np.column_stack([np.interp(at, arc, corner[:, i]) for i in range(2)])


@pytest.mark.parametrize("angle", [0.0, 30.0, 90.0, 150.0])
def test_the_apparent_bend_is_the_angle_of_a_known_line(angle):
    turn = radians(angle)
    line = line_of((0, 0), (15e-3, 0), (15e-3 + 2e-3 * np.cos(turn), 2e-3 * np.sin(turn)))
    seen = Frames(View(), np.zeros(1), np.zeros(1, dtype=int), (line,), 0.2e-3, 0.36e-3, 0.2e-3, np.ones(1))
    assert np.degrees(apparent_bend(line, seen, DETECTOR)) == pytest.approx(angle, abs=1e-6)
    assert apparent_bend(line[-12:], seen, DETECTOR) == 0.0  # too little of the wire is seen


def test_a_look_sees_a_curl_that_is_there_and_none_on_a_straight_wire():
    """The circle lies in the plane of azimuth 0 and is looked at across it; noise as by default."""
    across = replace(IMAGING, views=(View(radians(45.0), radians(60.0)), View(radians(-30.0), radians(25.0))))
    curled = glance(curl_record(), across, DETECTOR, 1)
    straight = glance(curl_record(turn=1e-9), across, DETECTOR, 1)
    assert curled.curl and curled.bend > radians(90)
    assert not straight.curl and straight.bend < radians(25)
    assert glance(curl_record(), across, DETECTOR, 1) == curled


def test_a_policy_without_an_end_is_refused():
    turn = Rule("push_above", (Action("turn", 1.0),), level=0.1)
    with pytest.raises(FieldError, match=r"rules\[2\].then is 'turn'.*never ends"):
        policy(Rule("curl_seen", (Action("withdraw", 1e-3),)), turn, attempts=None)
    with pytest.raises(FieldError, match="so that the policy ends"):
        policy(feed=inf)
    policy(turn, attempts=4)
    policy(Rule("curl_seen", (Action("turn", 1.0), Action("withdraw", 1e-3))), attempts=None)


def test_the_true_state_must_be_declared():
    for sign in ("curl_true", "entered_true"):
        with pytest.raises(FieldError, match="which no operator sees"):
            Rule(sign, (BACK,))
    with pytest.raises(FieldError, match="at least one action"):
        Rule("curl_seen", ())
