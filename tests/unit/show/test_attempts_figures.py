"""Figures of attempts: what they draw and say."""

from dataclasses import replace

import numpy as np
import pytest
from curl_record import curl_record
from study.test_run_attempts import SPEC, coins_with_failures, course_on

from tipmech.outcome import END_WORDS, End
from tipmech.show.attempts import END_COLOURS, SHORT, attempts_figure, rule_words
from tipmech.show.course import course_figure, telling
from tipmech.show.style import FALSE_OUTLINE
from tipmech.study.run_attempts import run_attempts


@pytest.fixture(scope="module")
def result(tmp_path_factory):
    return run_attempts(SPEC, tmp_path_factory.mktemp("f") / "a", 1, evaluate=coins_with_failures)


def test_the_curves_are_the_tables_and_no_procedure_is_left_out(result):
    figure = attempts_figure(result)
    shares, area, _, ends = figure.axes
    table = result.incidence
    for k, line in enumerate(shares.lines):
        np.testing.assert_allclose(line.get_ydata(), table["p"][table["tip_load_index"] == k])
    assert len(area.lines) == 2
    assert (
        len({line.get_linestyle() for line in shares.lines}) == len({line.get_marker() for line in shares.lines}) == 2
    )
    bars = sum(patch.get_width() for patch in ends.patches)
    assert bars == 2 * SPEC.study.count
    text = " ".join(" ".join(t.get_text() for t in figure.texts).split())
    assert "curl seen: withdraw to 2 mm before the tear, turn by 85.94°; at most 4 attempts" in text
    assert "not solved" in [t.get_text() for t in ends.get_legend().get_texts()]


def test_a_course_shows_each_attempt_and_the_path_of_the_hand():
    record = curl_record()
    feed = record.feed.copy()
    feed[200:] = feed[199] - (feed[200:] - feed[199])  # drawn back in the end
    told = course_on(replace(record, feed=feed, turn=np.zeros(len(feed))), 2)
    figure = course_figure(told, SPEC.policy, "made up")
    *shapes, feeds, pushes = figure.axes
    titles = [ax.get_title(loc="left").split("\n") for ax in shapes]
    assert [title[0] for title in titles] == ["attempt 1, rule 1: curl seen", "attempt 2, through"]
    assert [title[1] for title in titles] == [
        "tip in the true lumen, beside the tear", "tip in the false lumen, under the flap",
    ]  # fmt: skip
    assert [title[2] for title in titles] == ["no force leads"] * 2
    drawn = np.concatenate([line.get_ydata() for line in feeds.lines])
    assert drawn.max() == pytest.approx(feed.max() * 1e3)
    assert len(pushes.lines) == 2
    assert [line.get_linestyle() for line in feeds.lines] == ["-", "--"]
    colours = {line.get_color() for line in [*feeds.lines, *pushes.lines]}
    assert FALSE_OUTLINE not in colours, "magenta means in the false lumen"
    assert all(ax.yaxis_inverted() and ax.get_aspect() == 1.0 for ax in shapes), "the tear below, as in the strip"


def test_the_story_told_is_one_that_came_through(result):
    load, angle, index = telling(result)
    rows = result.rows
    own = (rows["tip_load_index"] == load) & (rows["angle_index"] == angle) & (rows["index"] == index)
    assert rows["through"][own] == [1]
    none = replace(result, rows={**rows, "through": np.zeros_like(rows["through"])})
    assert telling(none) is None


def test_every_end_has_its_words_and_colour():
    assert set(END_COLOURS) == set(SHORT) == set(END_WORDS) == set(End)
    assert len(set(END_COLOURS.values())) == len(End)
    assert rule_words(SPEC.policy.rules[0]) == "curl seen: withdraw to 2 mm before the tear, turn by 85.94°"
