"""Every picture of an insertion says on which side of the flap the wire lies and names the force behind it."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.figure import Figure
from study.test_run_attempts import SPEC, course_on
from synthetic import make_case, make_outcome, make_record

from tipmech.cli.advance import ended_words
from tipmech.insertion.imaging import Imaging
from tipmech.insertion.opened import areas, opened
from tipmech.insertion.record import Outcome, Record
from tipmech.insertion.seen import Detector, look_from_all
from tipmech.outcome import Label, Shape, Stop, Where
from tipmech.show.contest import contest, force_words, outcome_words, side_words, told
from tipmech.show.course import course_figure
from tipmech.show.cross import cross_figure
from tipmech.show.decided import decided
from tipmech.show.opened import opened_figure
from tipmech.show.pair import Run, pair_strip
from tipmech.show.section import section_figure
from tipmech.show.seen import seen_figure
from tipmech.show.solid.picture import state_words
from tipmech.show.strip import choose_instants, film_strip
from tipmech.show.view import wires
from tipmech.vessel.walls import FALSE, WINDOW

OUTCOME = make_outcome()


def _pair(record: Record, outcome: Outcome = OUTCOME) -> Figure:
    return pair_strip((Run("one", record, outcome), Run("two", make_record(), OUTCOME)))


AT_THE_END: dict[str, Callable[..., Figure]] = {
    "strip": lambda r, o=OUTCOME: film_strip(r, o),
    "pair": _pair,
    "cross": lambda r, o=OUTCOME: cross_figure(r, o),
    "opened": lambda r, o=OUTCOME: opened_figure(r, o, opened(r), areas(r)),
    "seen": lambda r, o=OUTCOME: seen_figure(r, o, look_from_all(r, Imaging(), Detector()), Imaging()),
    "section": lambda r, o=OUTCOME: section_figure(r.case, ended_words(r, o)),
}


def words_on(figure) -> str:
    texts = [*figure.texts, *(t for ax in figure.axes for t in [*ax.texts, ax.title, ax._left_title])]
    return " ".join(" ".join(t.get_text() for t in texts).split())


def pressed() -> Record:
    """A record whose front was pressed, though it held; its wire lies under the flap."""
    return replace(make_record(), force_front=np.linspace(0.0, 12.3e-3, len(make_record().feed)))


@pytest.mark.parametrize("name", AT_THE_END)
def test_it_says_where_the_wire_ended_and_which_force_decided(name: str) -> None:
    record = pressed()
    said = words_on(AT_THE_END[name](record))
    assert "tip in the false lumen, under the flap; curled" in said
    assert f"decided by: {decided(record, OUTCOME)}" in said and "12.3 of the" in said


@pytest.mark.parametrize("name", AT_THE_END)
def test_it_says_something_else_of_another_insertion(name: str) -> None:
    record = replace(pressed(), side=np.zeros_like(make_record().side), stop=int(Stop.NOT_CONVERGED))
    said = words_on(AT_THE_END[name](record))
    assert "not solved: nothing was decided" in said and "tip in the true lumen" in said


def test_instants_name_the_side_and_the_force_that_leads_there() -> None:
    record = pressed()
    said = words_on(film_strip(record, OUTCOME))
    for row, _ in choose_instants(record, OUTCOME):
        assert f"{side_words(record, row)}; {contest(record).words(row)}" in said
    assert contest(record).words(10) in words_on(cross_figure(record, OUTCOME, 10))
    assert side_words(record, 10) in words_on(cross_figure(record, OUTCOME, 10))


def test_each_attempt_of_a_procedure_names_them_at_its_farthest_advance() -> None:
    record = pressed()
    course = course_on(record, 1)
    said = words_on(course_figure(course, SPEC.policy, "made up"))
    row = int(np.argmax(record.feed))
    assert side_words(record, row) in said and contest(record).words(row) in said


def test_the_words_of_a_scene_in_three_dimensions_name_the_same_force() -> None:
    record = pressed()
    where, force = state_words(record, OUTCOME, -1)
    assert f"{side_words(record, -1)}; push" in where
    assert force == force_words(record, OUTCOME) == f"decided by: {decided(record, OUTCOME)}"
    assert state_words(record, OUTCOME, 3)[1] == contest(record).words(3)


def test_before_the_end_the_force_that_leads_is_named_and_not_what_decided() -> None:
    record = pressed()
    last = len(record.feed) - 1
    assert force_words(record, OUTCOME, last) == force_words(record, OUTCOME, -1)
    assert "decided" not in told(record, OUTCOME, last - 1)
    assert side_words(record, 0) != side_words(record, last)


def test_a_label_given_by_a_curl_in_the_true_lumen_says_that_the_wire_went_in_later() -> None:
    stayed = replace(OUTCOME, label=int(Label.TRUE_LUMEN_CURLED_OR_BUCKLED), where=int(Where.TRUE_LUMEN))
    went_in = replace(stayed, where=int(Where.FALSE_LUMEN))
    assert outcome_words(OUTCOME) == "false lumen, curled"
    assert outcome_words(stayed) == "true lumen, curled or buckled"
    assert outcome_words(went_in) == "true lumen, curled or buckled, then into the false lumen"
    assert f"Outcome: {outcome_words(went_in)}" in words_on(film_strip(pressed(), went_in))


def test_a_wire_drawn_back_between_the_lips_lies_in_the_window_whatever_side_is_recorded() -> None:
    record = pressed()
    tear, last = record.case.scene.tear, len(record.feed) - 1
    drawn_back = replace(record, side=np.full_like(record.side, FALSE), tip_s=np.full_like(record.tip_s, 21e-3))
    assert tear.start < 21e-3 < tear.end
    assert side_words(drawn_back, last) == "tip in the tear's window, wire behind it under the flap; curled"
    free = replace(drawn_back, lead_false_s=np.full_like(record.tip_s, 21.5e-3))
    assert side_words(free, last) == "tip in the tear's window; curled"
    drawn = wires(free, [last])[0]
    assert set(drawn.side[drawn.s < tear.end]) == {WINDOW} and set(drawn.side[drawn.s > tear.end]) == {FALSE}


def test_a_tip_that_pierced_the_outer_wall_is_through_it() -> None:
    record = replace(pressed(), stop=int(Stop.OUTER_WALL_PIERCED))
    assert side_words(record, -1) == "tip through the outer wall"
    assert side_words(record, 3) == side_words(pressed(), 3)


def test_a_section_of_a_case_alone_says_nothing_of_an_end() -> None:
    assert "decided" not in words_on(section_figure(make_case()))


@pytest.mark.parametrize("name", AT_THE_END)
def test_the_longest_of_sentences_stays_on_the_picture(name: str) -> None:
    n = len(make_record().feed)
    tail = np.concatenate([np.linspace(0.0, 42.5e-3, n // 3), np.linspace(42.5e-3, 12.4e-3, n - n // 3)])
    tip = np.minimum(make_record().tip_s, make_record().tip_s[n // 3])
    record = replace(pressed(), push=tail, tip_s=tip, force_front=np.full(n, 1.0))
    outcome = replace(OUTCOME, shape=int(Shape.STRAIGHT), label=int(Label.FALSE_LUMEN_NEITHER), extension=0.246e-3)
    assert "the push fell from" in decided(record, outcome)
    figure = AT_THE_END[name](record, outcome)
    figure.canvas.draw()
    wide = figure.bbox.width
    for text in (*figure.texts, *(t for ax in figure.axes for t in (ax.title, ax._left_title))):
        box = text.get_window_extent()
        assert box.x0 >= -1.0 and box.x1 <= wide + 1.0, text.get_text()
