"""Which force decided, in words: the fold by the fall of the push, the lip by its contest, the last advance alone."""

from dataclasses import replace

import numpy as np
import pytest
from synthetic import make_outcome, make_record

from tipmech.outcome import Label, Shape, Where
from tipmech.show.contest import outcome_words
from tipmech.show.decided import at_the_lip, decided
from tipmech.show.given_way import FELL, Form, fall, form, largest_share, last_advance
from tipmech.vessel.build import lip_spring

OUTCOME = replace(make_outcome(), shape=int(Shape.STRAIGHT), label=int(Label.FALSE_LUMEN_NEITHER), curled=float("nan"))
OUT = replace(OUTCOME, where=int(Where.TRUE_LUMEN), entered=float("nan"))


def pushed(last: float, tip: float, front: float = 0.0):
    """A push that rises to 20 mN and falls to `last` (mN), while of each mm of the hand the tip goes `tip`."""
    record = make_record()
    n, feed = len(record.feed), record.feed
    half = n // 2
    push = np.concatenate([np.linspace(0.0, 20e-3, half), np.linspace(20e-3, 1e-3 * last, n - half + 1)[1:]])
    tip_s = record.tip_s[0] + np.concatenate([feed[:half], feed[half - 1] + tip * (feed[half:] - feed[half - 1])])
    return replace(record, push=push, tip_s=tip_s, force_front=np.full(n, 1e-3 * front))


def test_a_wire_folds_where_the_push_falls_and_the_tip_does_not_follow() -> None:
    said = decided(pushed(5.0, 0.1, 12.0), OUTCOME)
    assert said.startswith("the wire folded: 12.0 of the")
    assert "push fell from 20.0 to 5.0 mN over 9.1 mm of the hand, 0.9 mm of the tip" in said
    for record in (pushed(5.0, 0.9, 12.0), pushed(1e3 * 20e-3 * FELL + 0.1, 0.1, 12.0)):
        assert fall(record) is None
        assert decided(record, OUTCOME).startswith("the advance ended: 12.0 of the")


def test_a_front_that_was_not_touched_leaves_the_force_that_took_the_push() -> None:
    record = pushed(5.0, 0.1)
    at = int(np.argmax(record.push))
    folding = replace(record, energy_elastic=15e-3 * record.feed, diss_friction=3e-3 * record.feed)
    assert "the wire folded, the front was not touched: fold took 15.0 of the largest push, 20.0 mN" in decided(
        folding, OUTCOME
    )
    slid = replace(record, energy_elastic=2e-3 * record.feed, diss_friction=17e-3 * record.feed)
    assert largest_share(slid, at).startswith("friction took 17.0 of")
    assert largest_share(record, at).startswith("nothing held it")
    pressed = replace(slid, energy_contact=18e-3 * record.feed)
    assert largest_share(pressed, at).startswith("walls took 18.0 of the largest push, 20.0 mN")
    lip = np.where(np.arange(len(record.feed)) == at, 30e-3, 0.0)
    said = largest_share(replace(slid, force_lip_along=lip), at)
    assert said == "the lips bore 30.0 mN along the vessel at the largest push, 20.0 mN"
    said = largest_share(replace(slid, force_lip_along=0.1 * lip), at)
    assert said.endswith("; the lips bore 3.0 mN along the vessel")


def test_out_of_the_tear_the_contest_at_the_lip_is_told_and_that_it_disagrees_where_it_does() -> None:
    record = replace(make_record(), force_lip=np.full(len(make_record().feed), 20e-3))
    scene = record.case.scene
    narrow = replace(record, case=replace(record.case, scene=replace(scene, tear=replace(scene.tear, gap=0.1e-3))))
    lift, deflect = at_the_lip(narrow)
    numbers = f"{1e3 * deflect:.3g} mN across it, the lip lifts at {1e3 * lift:.3g} mN (reduced model)"
    said = decided(narrow, OUT)
    assert numbers in said and "20.0" not in said
    assert ("though" in said) == (lift <= deflect)
    soft = replace(narrow, case=replace(narrow.case, profile=record.case.profile.softened(1e-4)))
    stiff = replace(narrow, case=replace(narrow.case, profile=record.case.profile.softened(1e4)))
    assert "though" not in decided(soft, OUT) and "though" in decided(stiff, OUT)
    wide = replace(record, case=replace(record.case, scene=replace(scene, tear=replace(scene.tear, gap=0.5e-3))))
    assert "though the mouth, 0.50 mm, takes the wire, 0.36 mm" in decided(wide, OUT)
    assert decided(replace(narrow, force_lip=np.zeros(len(record.feed))), OUT).endswith(
        "nothing was touched in the tear's window"
    )
    assert decided(narrow, replace(OUT, where=int(Where.BEFORE_TEAR))).startswith("the tear was not reached")


def test_pressure_that_lifts_the_lip_is_taken_off_the_force_that_lifts_it() -> None:
    record = replace(make_record(), force_lip=np.full(len(make_record().feed), 20e-3))
    scene = record.case.scene
    tear = replace(scene.tear, gap=0.1e-3)

    def under(pressure: float):
        channel = replace(scene.channel, pressure=pressure)
        return replace(record, case=replace(record.case, scene=replace(scene, tear=tear, channel=channel)))

    stiffness, load = lip_spring(under(100.0).case.scene)
    lift, aside = at_the_lip(under(0.0))
    assert load > 0.0 and lift == pytest.approx(stiffness * (0.356e-3 - 0.1e-3))
    assert at_the_lip(under(100.0)) == (pytest.approx(lift - load), aside)
    assert at_the_lip(under(-100.0)) == (pytest.approx(lift + load), aside)
    open_at = 100.0 * lift / load
    assert at_the_lip(under(1.1 * open_at))[0] == 0.0
    mouth = 0.1 + 1.1 * 0.256
    assert f"though the mouth, {mouth:.2f} mm under its pressure, takes the wire, 0.36 mm" in decided(
        under(1.1 * open_at), OUT
    )


def test_of_a_hook_drawn_back_what_the_lips_bore_is_named_beside_the_front_behind_them() -> None:
    record = make_record()
    n = len(record.feed)
    values = {"push": -24e-3, "force_front_back": 8e-3, "force_lip_along": -18e-3, "front_back": 19e-3}
    hook = replace(record, **{name: np.full(n, value) for name, value in values.items()})
    said = decided(hook, OUT)
    assert said.startswith("8.00 of the") and said.endswith("; pull 24.0 mN, of which the lips bore 18.0 mN")
    assert decided(replace(hook, force_lip_along=np.zeros(n)), OUT).endswith("; pull 24.0 mN")


def test_of_several_advances_the_last_one_decides() -> None:
    record = make_record()
    n = len(record.feed)
    feed = np.concatenate([np.linspace(0.0, 10e-3, n // 2), np.linspace(3e-3, 12e-3, n - n // 2)])
    lip = np.where(np.arange(n) < n // 2, 24e-3, 0.0)
    twice = replace(record, feed=feed, force_lip=lip, lead_false_s=np.full(n, np.nan))
    assert last_advance(twice) == n // 2 and last_advance(record) == 0
    assert last_advance(replace(twice, feed=feed[::-1].copy())) == 0, "it ends drawn back"
    said = decided(twice, replace(OUT, entered=3e-3))
    assert said == "in the last advance it stayed out: nothing was touched in the tear's window"


@pytest.mark.parametrize("shape", [Shape.STRAIGHT, Shape.BUCKLED])
def test_neither_says_of_what(shape: Shape) -> None:
    assert outcome_words(replace(OUTCOME, shape=int(shape))) == "false lumen, neither extended nor curled"


def test_the_shape_is_named_before_the_fold_and_the_fold_before_a_bifurcation() -> None:
    for shape, held, fell in (
        (Shape.CURLED, Form.CURLED, Form.CURLED),
        (Shape.BIGHT_LEADING, Form.BIGHT, Form.BIGHT),
        (Shape.BUCKLED, Form.BUCKLED, Form.FOLDED),
        (Shape.STRAIGHT, Form.NONE, Form.FOLDED),
    ):
        assert (form(shape, fell=False), form(shape, fell=True)) == (held, fell)
