"""Figures of a design exploration: what is drawn, from made-up results."""

from dataclasses import replace

import numpy as np
import pytest

from tipmech.show.design import (
    BARS,
    Front,
    Stack,
    Tornado,
    draw_exchange,
    draw_histogram,
    draw_misses,
    draw_ratios,
    draw_shares,
    draw_tornado,
)
from tipmech.show.style import new_figure


def tornado() -> Tornado:
    rows = tuple((f"dimension {k}", -float(k), 1.1 * k) for k in range(12))
    return Tornado("tip load, gf: 1 (made up)", rows)


def front() -> Front:
    changes = np.array([5.0, 3.0, 1.0])
    over = np.array([[1.0, 1.0], [0.97, 1.02], [0.9, 1.1]])
    return Front(
        labels=("tip load, gf: 1", "stiffness, N/m: 2"),
        changes=changes,
        over=over,
        misses=np.abs(np.log(over)) / 0.01,
        names=("1", "2"),
        shown_changes=changes[[0, 2]],
        shown_over=over[[0, 2]],
        shown_misses=np.array([0.1, 10.5]),
    )


def stack() -> Stack:
    values = np.random.default_rng(1).normal(1.0, 0.05, 200)
    checked = np.column_stack([values[:5], values[:5]])
    shares = (("core", 0.8, 0.75, 0.85), ("coil", 0.2, 0.15, 0.25))
    return Stack("tip load, gf", values, 1.0, (0.9, 1.1), checked, shares, "yield 95 %")


def axes():
    return new_figure(5.0, 4.0).add_subplot()


def test_a_tornado_has_its_longest_bars_on_top() -> None:
    ax = draw_tornado(axes(), tornado())
    names = [t.get_text() for t in ax.get_yticklabels()]
    assert len(names) == BARS and names[-1] == "dimension 11" and names[0] == "dimension 3"
    assert max(p.get_width() for p in ax.patches) == pytest.approx(12.1)


def test_bars_too_short_to_see_are_left_out() -> None:
    ax = draw_tornado(axes(), Tornado("x", (("a", 1.0, -1.0), ("b", 0.001, -0.001))))
    assert [t.get_text() for t in ax.get_yticklabels()] == ["a"]


def test_the_front_is_drawn_in_order_of_change() -> None:
    ax = draw_misses(axes(), front())
    line = ax.lines[0]
    assert list(line.get_xdata()) == [1.0, 3.0, 5.0] and line.get_linestyle() == "-"
    assert line.get_ydata()[-1] == 0.0
    ratios = draw_ratios(axes(), front())
    assert list(ratios.lines[0].get_ydata()) == [0.9, 0.97, 1.0]
    ratios.figure.draw_without_rendering()
    assert ratios.get_legend().get_window_extent().y1 < ratios.bbox.y0, "the names hide no line"


def test_figures_that_cannot_all_be_met_are_points_and_lines_of_designs() -> None:
    apart = replace(front(), misses=front().misses + 5.0)
    assert draw_misses(axes(), apart).lines[0].get_linestyle() == "None"
    ax = draw_exchange(axes(), apart)
    assert len(ax.lines) == 3 and float(ax.lines[-1].get_color()) < float(ax.lines[0].get_color())


def test_a_stack_up_shows_band_nominal_and_shares() -> None:
    ax = draw_histogram(axes(), stack())
    assert {t.get_text() for t in ax.get_legend().get_texts()} == {"nominal design", "allowed band", "simulated points"}
    shares = draw_shares(axes(), stack())
    assert [t.get_text() for t in shares.get_yticklabels()] == ["coil", "core"]
    plain = draw_histogram(axes(), replace(stack(), band=None, checked=np.empty((0, 2))))
    assert {t.get_text() for t in plain.get_legend().get_texts()} == {"nominal design"}
