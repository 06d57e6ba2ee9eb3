"""Explanations of made-up outcomes with known flips, and of a real one."""

from dataclasses import replace
from math import degrees, exp, inf, log, radians

import pytest
from study.made_up import CURLED, EXTENDED, TRUE, UNSOLVED, make_spec

from tipmech.checks import FieldError
from tipmech.outcome import Label
from tipmech.show.explain import explanation_figure, sentence
from tipmech.study.build import build_case, build_pocket_case
from tipmech.study.flip import TOLERANCE, Found, Kind, changed, explain, ladder
from tipmech.study.inputs import sobol_points
from tipmech.vessel.build import front_strength

SPEC = make_spec(scrambles=2, points=4)
CASE = build_case(SPEC, 0, 0, sobol_points(SPEC)[0])
IN_POCKET = build_pocket_case(SPEC, 0, 0, sobol_points(SPEC)[0], front_force=0.02)
STIFF = float(CASE.profile.EI1[0])


def by_stiffness(case):
    return EXTENDED if case.profile.EI1[0] > 1.3 * STIFF else CURLED


def of(result, kind, up):
    return next(s for s in result.searches if s.kind is kind and s.up is up)


def test_a_known_flip_is_found_within_the_tolerance():
    r = explain(CASE, by_stiffness)
    s = of(r, Kind.TIP_LOAD, True)
    assert s.found is Found.FLIPPED and s.near <= 1.3 <= s.far and log(s.far / s.near) <= TOLERANCE
    assert s.label is Label.FALSE_LUMEN_EXTENDED and r.smallest is s
    assert sentence(r) == (
        f"it curled in the false lumen; with {s.far:g} times the stiffness it would have driven the front on"
    )
    others = [x for x in r.searches if x is not s]
    assert all(x.found is Found.NO_FLIP and x.size == inf for x in others)


def test_the_smaller_of_two_changes_is_named():
    def evaluate(case):
        force = front_strength(case.scene, 2 * float(case.profile.radius[0]))
        return EXTENDED if case.profile.EI1[0] > 2 * STIFF or force < 0.9 * 0.02 else CURLED

    r = explain(IN_POCKET, evaluate)
    assert r.smallest is of(r, Kind.FRONT, False) and 0.9 * exp(-TOLERANCE) <= r.smallest.far < 0.9
    assert f"with {r.smallest.far:g} times the force of the front" in sentence(r)
    support = of(r, Kind.SUPPORT, True)
    assert support.found is Found.DOES_NOT_APPLY and "pocket" in support.why and support.runs == ()


def test_roll_is_an_angle():
    start = CASE.tip_shape.roll

    def evaluate(case):
        return TRUE if case.tip_shape.roll - start < -radians(33.0) else CURLED

    s = of(explain(CASE, evaluate), Kind.ROLL, False)
    assert degrees(s.far) <= -33.0 <= degrees(s.near) and abs(s.far - s.near) <= radians(1.001)
    assert explain(CASE, evaluate).smallest is not None


def test_unsolved_runs_are_counted_and_passed():
    def evaluate(case):
        ratio = case.profile.EI1[0] / STIFF
        return UNSOLVED if 1.1 < ratio < 1.4 else EXTENDED if ratio >= 1.4 else CURLED

    r = explain(CASE, evaluate)
    s = of(r, Kind.TIP_LOAD, True)
    assert s.found is Found.FLIPPED and s.near == 1.0 and s.unsolved >= 2 and s.far >= 1.4
    assert len(s.runs) == s.unsolved + 1


@pytest.mark.parametrize("border", [1.0101, 1.1049, 1.3, 2.517, 3.99])
def test_what_the_sentence_says_flips_the_outcome(border):
    def evaluate(case):
        return EXTENDED if case.profile.EI1[0] >= border * STIFF else CURLED

    r = explain(CASE, evaluate)
    said = float(sentence(r).split("with ")[1].split(" times")[0])
    assert said >= border and any(run.change == said for run in r.smallest.runs)


def test_nothing_flips():
    r = explain(CASE, lambda case: CURLED)
    assert r.smallest is None and sentence(r).endswith("no single change tried would have flipped that")
    assert r.runs == 1 + sum(len([x for x in s.runs if x.allowed]) for s in r.searches)


def test_an_insertion_that_is_not_solved_is_refused():
    with pytest.raises(FieldError, match="not solved"):
        explain(CASE, lambda case: UNSOLVED)


def test_ladders_go_out_from_no_change():
    assert list(ladder(Kind.FRONT, up=True)) == pytest.approx([exp(log(4) * k / 6) for k in range(1, 7)], rel=5e-3)
    assert list(ladder(Kind.FRICTION, up=False))[-1] == pytest.approx(0.25)
    assert degrees(list(ladder(Kind.ROLL, up=False))[0]) == pytest.approx(-5.0)
    assert degrees(list(ladder(Kind.ROLL, up=True))[-1]) == pytest.approx(180.0)


def test_a_moved_support_keeps_the_way_past_the_tear():
    far = changed(CASE, Kind.SUPPORT, 1.5)
    more = 0.5 * CASE.scene.support.distance
    assert far.scene.support.distance == pytest.approx(1.5 * CASE.scene.support.distance)
    assert far.moves[0].amount - CASE.moves[0].amount == pytest.approx(more)
    with pytest.raises(FieldError, match="at most"):
        changed(CASE, Kind.SUPPORT, 1e3)


def test_other_changes_touch_one_thing():
    front = changed(CASE, Kind.FRONT, 2.0)
    assert front.scene.channel.front_force == pytest.approx(
        2 * front_strength(CASE.scene, 2 * float(CASE.profile.radius[0]))
    )
    assert changed(CASE, Kind.FRICTION, 2.0) == replace(CASE, friction=2 * CASE.friction)
    assert changed(CASE, Kind.TIP_LOAD, 2.0).profile.EI1[0] == pytest.approx(2 * STIFF)


def test_figure_is_drawn(tmp_path):
    r = explain(CASE, by_stiffness)
    figure = explanation_figure(r, "made up")
    texts = " ".join(t.get_text() for t in figure.axes[0].texts)
    assert f"x {r.smallest.far:g}" in texts and "Research and teaching only" in " ".join(
        t.get_text() for t in figure.texts
    )
