"""The bench without any web: increments, records that can be run again, changes, steps back, ends."""

import re
from dataclasses import replace

import numpy as np
import pytest

from tipmech.checks import FieldError, InputError
from tipmech.insertion.case import Case
from tipmech.insertion.classify import classify
from tipmech.insertion.record import Record
from tipmech.insertion.record_file import UNITS
from tipmech.insertion.run import advance, increments
from tipmech.outcome import Stop
from tipmech.page import bench as room
from tipmech.page.bench import Bench, case_of, goes
from tipmech.page.contest import fold_of, leads, lifting, limits, nearness, place, regime
from tipmech.page.controls import FEED_MM, SHARED, STEP_MM, TIP_LOAD, Setting, Wire, in_words, setting_of
from tipmech.page.frame import numbers
from tipmech.page.lane import FORCES, HISTORY
from tipmech.page.lesson import STEPS as STEPS_OF_LESSON
from tipmech.page.looks import NUMBERS
from tipmech.page.steps import STEPS, Step, moves_of, rows_of
from tipmech.regime.fold import fold_force
from tipmech.show.contest import NO_FORCE, contest
from tipmech.show.decided import decided
from tipmech.show.given_way import fall
from tipmech.show.view import project
from tipmech.units import UNITS as SI
from tipmech.vessel.walls import WINDOW

STEP = STEP_MM * 1e-3
SAME = [name for name in UNITS if name != "holes"]


def carried(setting: Setting, *steps: tuple[Step, int]) -> Bench:
    bench = Bench(setting)
    for step, count in steps:
        for _ in range(count):
            bench.step(step)
    return bench


def same(one: Record, other: Record) -> None:
    for name in SAME:
        assert np.array_equal(getattr(one, name), getattr(other, name), equal_nan=True), name


@pytest.mark.parametrize("step", STEPS)
@pytest.mark.parametrize("size", [1e-4, 3.7e-5])
def test_increments_one_by_one_are_those_of_their_move_to_the_bit(step: Step, size: float) -> None:
    for count in (1, 2, 5, 6, 13, 77, 250):
        whole = increments(moves_of([step] * count, size), size)
        assert np.array_equal(whole, np.concatenate([rows_of(step, k, size) for k in range(count)]))
        fed = np.abs(whole[:, 0]).sum() if "turn" not in step else 0.0
        assert fed == pytest.approx(0.0 if "turn" in step else count * size, rel=1e-9)


def test_a_record_from_the_bench_is_that_of_the_library_to_the_bit() -> None:
    bench = carried(Setting(), ("advance", 45), ("withdraw", 7), ("turn_left", 4), ("advance", 9))
    record = bench.lanes[0].record()
    assert [m.kind for m in record.case.moves] == ["advance", "withdraw", "turn", "advance"]
    same(record, advance(record.case))
    assert record.feed[-1] == pytest.approx(bench.feed, abs=1e-12)
    assert bench.lanes[0].path == pytest.approx(bench.path, abs=1e-12)
    assert np.all(np.abs(np.diff(bench.lanes[0].columns()[:, 1])) <= 0.1e-3 * (1 + 1e-9))


def test_two_wires_move_under_one_hand() -> None:
    bench = carried(Setting(wires=(Wire("very_soft"), Wire("stiff_tapered"))), ("advance", 12))
    soft, stiff = bench.lanes
    assert soft.last.feed[-1] == stiff.last.feed[-1]
    assert not np.array_equal(soft.last.positions, stiff.last.positions)


def test_a_change_carries_the_same_moves_out_again() -> None:
    bench = carried(Setting(), ("advance", 40))
    other = bench.setting.with_number("friction", 0.5)
    bench.change(other, again=True)
    assert bench.feed == 0.0
    while bench.replay():
        pass
    assert bench.feed == pytest.approx(40 * STEP)
    same(bench.lanes[0].record(), carried(other, ("advance", 40)).lanes[0].record())


def test_steps_back_are_exact() -> None:
    bench = carried(Setting(), ("advance", 30))
    bench.back(10)
    while bench.replay():
        pass
    same(bench.lanes[0].record(), carried(Setting(), ("advance", 20)).lanes[0].record())
    bench.reset()
    assert bench.made == []
    assert not bench.replay()


def test_the_hand_stops_at_both_ends() -> None:
    bench = Bench(Setting())
    assert not bench.step("withdraw")
    bench.made = ["advance"] * round(FEED_MM / STEP_MM)
    assert not bench.step("advance")
    assert bench.takes("withdraw")
    with pytest.raises(FieldError, match="step"):
        bench.step("sideways")  # type: ignore[arg-type]


def test_a_wire_that_is_not_solved_is_left_where_it_was(monkeypatch: pytest.MonkeyPatch) -> None:
    bench = carried(Setting(), ("advance", 5))
    lane = bench.lanes[0]
    before = lane.last

    def fails(rows: object) -> Stop:
        lane.insertion._done.append(type(lane.insertion._done[0])._make(c[:0] for c in lane.insertion._done[0]))
        lane.insertion.stop = Stop.NOT_CONVERGED
        return lane.insertion.stop

    monkeypatch.setattr(lane.insertion, "carry_rows", fails)
    assert bench.step("advance")
    assert not lane.open
    assert np.array_equal(lane.last.positions, before.positions)
    assert "no equilibrium was found" in regime(lane)
    assert not bench.takes("advance")
    bench.back(1)
    while bench.replay():
        pass
    assert bench.lanes[0].open
    assert np.array_equal(bench.lanes[0].last.positions[-1], before.positions[-1])


def test_a_tip_load_is_that_of_the_simulated_bench() -> None:
    case = case_of(Setting(), Wire("workhorse", 2.0))
    assert room.tip_load(case.profile, 10e-3).force == pytest.approx(2.0 * SI["gf"], rel=5e-3)
    plain = case_of(Setting(), Wire("workhorse"))
    assert room.own_tip_load("workhorse") == pytest.approx(room.tip_load(plain.profile, 10e-3).force / SI["gf"])


@pytest.mark.parametrize("control", SHARED, ids=lambda c: c.name)
def test_a_number_beyond_its_range_is_refused_by_name(control: object) -> None:
    for value in (control.low - 1.0, control.high + 1.0, float("nan"), "3", None, True):  # type: ignore[attr-defined]
        with pytest.raises(FieldError, match=control.words):  # type: ignore[attr-defined]
            Setting(**{control.name: value})  # type: ignore[attr-defined]
    low = replace(Setting(), **{control.name: control.low})  # type: ignore[attr-defined]
    assert setting_of(low.plain()) == low


def test_every_control_sets_the_field_that_messages_name() -> None:
    plain, other = Setting(), Setting(**{c.name: c.low for c in SHARED})
    one, two = plain.tables(Wire()), other.tables(Wire("workhorse", 2.0))
    for control in (*SHARED, TIP_LOAD):
        table, field = control.field.split(".")
        assert one[table].get(field) != two[table][field]
        assert in_words(f"[{control.field}] is wrong") == f"[{control.words}] is wrong"
    assert two["local"]["standoff_mm"] == pytest.approx(other.support_mm - two["local"]["free_length_mm"])


@pytest.mark.parametrize(
    "data",
    [{}, [], {"wires": 3}, Setting().plain() | {"more": 1}, Setting().plain() | {"wires": [{"preset": "no such"}]}],
)
def test_a_setting_that_is_none_is_refused(data: dict[str, object]) -> None:
    with pytest.raises(InputError, match="the page"):
        setting_of(data)


def test_numbers_that_do_not_go_together_are_refused_with_what_fits() -> None:
    with pytest.raises(InputError, match="allowed: .* to .* \\(what fits this lumen\\)"):
        Bench(Setting(angle_deg=60.0, support_mm=7.0))


@pytest.mark.parametrize(
    ("before", "change", "words"),
    [
        ({}, {"angle_deg": 60.0}, "approach angle is 60; allowed: 5 to 52 °, beside the other numbers"),
        ({"support_mm": 2.2, "angle_deg": 20.0}, {"angle_deg": 5.0}, "approach angle is 5; allowed: 6 to 60 °"),
        ({}, {"support_mm": 7.0}, "support to lip is 7; allowed: 2.2 to 5.5 mm"),
        ({"angle_deg": 50.0}, {"tip_bend_deg": 90.0}, "tip bend is 90; allowed: 0 to 40 °"),
        ({}, {"angle_deg": 50.0, "support_mm": 5.0}, "support to lip is 5; allowed: 2.2 to 3.6 mm"),
    ],
)
def test_a_refused_change_names_the_number_changed_and_what_it_may_be_beside_the_others(
    before: dict[str, float], change: dict[str, float], words: str
) -> None:
    bench = Bench(Setting(**before))  # type: ignore[arg-type]
    with pytest.raises(FieldError) as refused:
        bench.change(replace(bench.setting, **change), again=False)  # type: ignore[arg-type]
    assert str(refused.value).startswith(words)
    assert bench.setting == Setting(**before)  # type: ignore[arg-type]
    low, high = (float(word) for word in re.findall(r"allowed: (\S+) to (\S+)", words)[0])
    (name,) = [c.name for c in SHARED if c.words == refused.value.field]
    step = next(c.step for c in SHARED if c.name == name)
    others = replace(bench.setting, **change)  # type: ignore[arg-type]
    assert goes(replace(others, **{name: low})) and goes(replace(others, **{name: high}))
    beyond = [value for value in (low - step, high + step) if value_allowed(name, value)]
    assert not [value for value in beyond if goes(replace(others, **{name: round(value, 6)}))]


def value_allowed(name: str, value: float) -> bool:
    control = next(c for c in SHARED if c.name == name)
    return control.low <= round(value, 6) <= control.high


def test_the_front_takes_what_was_set_and_the_fold_is_the_reduced_models() -> None:
    case = case_of(Setting(front_force_mN=21.0), Wire())
    known = limits(case, fold_of(case))
    assert known.front == pytest.approx(21e-3)
    assert known.fold == fold_force(room_of(case)).force
    assert "first" in known.words
    assert np.isnan(limits(case).fold)


def room_of(case: Case) -> object:
    from tipmech.page.contest import pocket

    return pocket(case)


def test_who_leads_is_said_with_the_forces_that_the_solver_found() -> None:
    bench = carried(Setting(wires=(Wire("workhorse", 4.0),)), ("advance", 100))
    lane = bench.lanes[0]
    known = limits(lane.case)
    force = float(lane.last.force_front[-1])
    assert force > 0.0
    text = leads(lane, known)
    assert f"Borne now: {force * 1e3:.1f} mN on the front, {force / known.front:.0%} of what opens it" in text
    assert f"push force {lane.last.push[-1] * 1e3:.1f} mN" in regime(lane)
    whole = contest(lane.record())
    assert text.startswith(f"{str(whole.leader(-1)).capitalize()} leads: ")
    for name, found in zip(FORCES, lane.contest(), strict=True):
        assert found[-1] == pytest.approx(whole.forces[name][-1], rel=1e-6, abs=1e-9), name
    nothing = "No force leads yet. Borne now: nothing in the tear's window."
    assert leads(Bench(Setting()).lanes[0], known) == nothing


def test_drawn_back_the_force_that_leads_is_one_that_holds_the_wire() -> None:
    bench = carried(Setting(wires=(Wire("workhorse", 4.0),)), ("advance", 100), ("withdraw", 8))
    lane = bench.lanes[0]
    whole = contest(lane.record())
    assert whole.way[-1] == -1.0 and whole.way[1] == 1.0
    text, leader = leads(lane, limits(lane.case)), whole.leader(-1)
    assert leader is not None
    assert f"{whole.against(leader, -1) * 1e3:.1f} mN" in text and text.lower().startswith(leader)
    at = HISTORY.index("along")
    lane.history[-1] = (*lane.history[-1][:at], -90e-3, *lane.history[-1][at + 1 :])
    assert leads(lane, limits(lane.case)).startswith("Lip leads: 90.0 mN, ")


def test_what_holds_a_wire_beside_the_window_is_no_part_of_the_edges_in_it() -> None:
    names = {name: words for name, words, _ in NUMBERS}
    assert names["lip"] == "edges of the lips, in the window" and names["along"] == "lips along the vessel, in all"
    shown = numbers(carried(STEPS_OF_LESSON[4].setting, ("advance", 110)).lanes[0])
    assert abs(shown["along"]) > shown["lip"] > 0.0


def test_the_first_step_of_the_lesson_gives_the_percentages_that_come_out() -> None:
    bench = carried(STEPS_OF_LESSON[0].setting, ("advance", 56))
    lane, words = bench.lanes[0], STEPS_OF_LESSON[0].watch
    known = limits(lane.case)
    for travel, count in ((5.6, 0), (6.0, 4)):
        for _ in range(count):
            bench.step("advance")
        of_lift, of_aside = (
            f"{lifting(lane.last) / limit:.0%}".replace("%", " %") for limit in (known.lift, known.deflect)
        )
        assert f"At {travel:g} mm" in words and f"{of_lift} and {of_aside}" in words
    assert lane.entered and lane.last.tip_s[-1] > lane.case.scene.tear.end


def test_a_tip_high_over_the_tear_is_not_said_to_lie_in_its_window() -> None:
    bench = Bench(Setting(tip_bend_deg=60.0, angle_deg=5.0))
    for step, count in (("turn_left", 60), ("advance", 40)):
        for _ in range(count):
            bench.step(step)  # type: ignore[arg-type]
    over = 0
    for _ in range(20):
        bench.step("advance")
        last = bench.lanes[0].last
        scene = last.case.scene
        s, depth, lateral = (float(v[0]) for v in project(scene, last.positions[-1, -1:]))
        high = np.hypot(depth, lateral) < float(scene.lumen.at(np.array(s))) - last.case.profile.radius[0]
        if last.side[-1, -1] == WINDOW:
            assert place(last) == ("in the true lumen, over the tear" if high else "in the tear's window")
            over += bool(high)
    assert over > 5 and place(carried(Setting(), ("advance", 45)).lanes[0].last) == "in the tear's window"


def test_no_force_is_written_as_minus_nought() -> None:
    lane = Bench(Setting()).lanes[0]
    lane.last = replace(lane.last, push=np.array([-1e-6]))
    assert "push force 0.0 mN" in regime(lane)
    lane.last = replace(lane.last, push=np.array([-1e-3]))
    assert "push force -1.0 mN" in regime(lane)


def test_what_is_borne_now_is_said_on_the_way_from_lip_to_front() -> None:
    bench = carried(Setting(), ("advance", 40))
    lane, at_the_lip, inside, shares = bench.lanes[0], [], [], {}
    known = limits(lane.case)
    for _ in range(45):
        bench.step("advance")
        said = nearness(lane.last, known)
        lifts, last = lifting(lane.last), lane.last
        if last.force_front[-1] > 0.0:
            continue
        (inside if lane.entered else at_the_lip).append(said)
        assert ("%" in said) == (lifts > NO_FORCE)
        if lifts > NO_FORCE:
            assert lifts < (last.force_lip + last.force_false)[-1], "across is a part of what is pressed with"
            share, aside = lifts / known.lift, lifts / known.deflect
            shares.setdefault(lane.entered, []).append(share)
            parts = f"{share:.0%} of what lets a flat wire pass and {aside:.0%} of what bends the wire aside"
            assert said.endswith(f"the lip is lifted with {lifts * 1e3:.1f} mN, {parts}")
    assert any(said.endswith("mN on the edges of the lips in the window") for said in at_the_lip)
    assert any(said.endswith("mN on the floor of the tear's window") for said in at_the_lip)
    assert shares[False][0] < 1.0 < shares[False][-1], "it came in: more than it takes was reached on the way"
    assert 0.9 < shares[True][-1] < 1.3, "a wire that lies flat under the lip lifts it as far as it needs to pass"
    assert len(inside) > 10 and all(said.startswith("nothing on the front; ") for said in inside)
    assert any("mN on the edges of the lips in the window" in said for said in inside)


def test_a_soft_wire_bent_in_the_pocket_is_said_to_have_folded_by_the_rule_of_pictures_and_films() -> None:
    bench = carried(STEPS_OF_LESSON[2].setting, ("advance", 100))
    soft, stiff = bench.lanes
    assert "ressed against the front" in regime(soft)
    for _ in range(30):
        bench.step("advance")
    assert soft.last.count_met[-1] == 0 and not soft.buckled
    assert regime(soft).startswith("Folded against the front, ") and not stiff.folded
    for lane in bench.lanes:
        record = lane.record()
        assert lane.folded == (fall(record) is not None)
        assert lane.folded == decided(record, classify(record)).startswith("the wire folded")
