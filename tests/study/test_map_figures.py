from dataclasses import replace

import numpy as np
import pytest
from study.made_up import CURLED, EXTENDED, NEVER, TRUE, UNSOLVED, by_force, coin, coin_with_failures, make_spec

from tipmech import CAUTION
from tipmech.cli.study import _chance, _interval, _three
from tipmech.outcome import Shape, Stop
from tipmech.show.curls import competes, incidence_figure, with_curls
from tipmech.show.maps import grid, map_figure, probability_top
from tipmech.show.style import save
from tipmech.show.thresholds import threshold_figure
from tipmech.study.estimates import wilson_interval
from tipmech.study.run_map import run_map
from tipmech.study.run_threshold import ThresholdSpec, run_threshold
from tipmech.study.table import to_rows
from tipmech.study.uncertainty import NOT_MEASURED

CURLED_TRUE = replace(TRUE, curled=2e-3, shape=Shape.CURLED, stop=Stop.FIRST_CURL, feed_past_tear=2e-3)


def texts(figure):
    parts = [t.get_text() for ax in figure.axes for t in ax.texts] + [t.get_text() for t in figure.texts]
    return " ".join(" ".join(parts).split())


@pytest.fixture(scope="module")
def result(tmp_path_factory):
    spec = make_spec(angles=(0.3, 0.8, 1.3), bend_length=4.2e-3, scrambles=4, points=2)
    return run_map(spec, tmp_path_factory.mktemp("map") / "m", workers=1, evaluate=coin_with_failures)


def test_the_map_shows_counts_infeasible_cells_shared_unknowns_and_the_caution(result, tmp_path):
    figure = map_figure(result, "numerical uncertainty: as measured")
    text = texts(figure)
    assert CAUTION in text and "numerical uncertainty: as measured" in text
    assert "median fracture energy of the plane 35 J/m²" in text and result.manifest["code"] in text
    c = result.cells
    assert f"{c['n_entered'][0]}/{c['n_solved'][0]} + {c['n_not_solved'][0]}" in text
    assert text.count("does not fit") == 2 * 5  # two infeasible cells in five panels
    assert np.isnan(grid(c, result.spec, "p_entered")[2]).all()
    assert save(figure, tmp_path / "map.png").stat().st_size > 20_000


def test_no_incidence_curve_runs_back(result):
    for ax in incidence_figure(with_curls(result)).axes:
        for line in ax.get_lines():
            assert np.all(np.diff(line.get_xdata()) >= 0.0)


def test_incidence_curves_are_drawn_for_every_cell_that_was_run(result):
    figure = incidence_figure(result)
    assert CAUTION in texts(figure) and NOT_MEASURED in texts(figure)
    assert len(figure.axes) == 6 and all(len(ax.lines) == 2 * 3 for ax in figure.axes)


def split_by_roll(case):
    """Curls in both lumens, by the case's own seed."""
    return (CURLED, CURLED_TRUE, EXTENDED, NEVER, UNSOLVED)[case.seed % 5]


def test_curls_are_split_by_lumen(tmp_path):
    spec = make_spec(loads=(1e-2,), angles=(0.5,), scrambles=4, points=8)
    plain = run_map(spec, tmp_path / "m", workers=1, evaluate=split_by_roll)
    split = with_curls(plain)
    kinds = np.bincount(plain.rows["seed"] % 5, minlength=5)
    assert kinds.min() > 0
    n, c = kinds[:4].sum(), split.cells
    assert (c["n_curled_false"][0], c["n_curled_true"][0]) == (kinds[0], kinds[1])
    assert c["p_curled_true"][0] == pytest.approx(kinds[1] / n)
    assert c["p_curled_false"][0] + c["p_curled_true"][0] == pytest.approx(c["p_curled"][0])
    for event, kind in (("curled_false", 0), ("curled_true", 1)):
        at_the_end = split.incidence["p"][split.incidence["event"] == event][-1]
        assert at_the_end == pytest.approx(kinds[kind] / n)
    said = competes(plain.spec)
    assert "ends at its first curl" in said
    assert said in texts(map_figure(plain)) and said in texts(incidence_figure(plain))
    wanted = wilson_interval(int(kinds[1]), int(n))
    low, high = (float(v) for v in _chance(to_rows(c)[0], "curled_true").split()[1].split("-"))
    assert low <= wanted[0] + 0.005 and high >= wanted[1] - 0.005


def test_a_shared_colour_scale_fits_the_probabilities():
    assert probability_top([np.array([[0.12, np.nan]]), np.array([[0.41]])]) == pytest.approx(0.45)
    assert probability_top([np.array([[1.0]])]) == 1.0
    assert probability_top([np.array([[0.0]])]) > 0.0


@pytest.mark.parametrize("loads", [(1e-2,), (0.5e-2, 1e-2, 2e-2)])
def test_the_notes_of_the_figures_are_clear_of_the_axes(tmp_path, loads):
    spec = make_spec(loads=loads, angles=(0.5,), scrambles=2, points=1)
    result = run_map(spec, tmp_path / "m", workers=1, evaluate=coin)
    long = "numerical uncertainty: " + 40 * "as measured "
    for figure in (incidence_figure(result, long), map_figure(result, long)):
        figure.canvas.draw()
        note = next(t for t in figure.texts if CAUTION[:20] in t.get_text()).get_window_extent()
        assert min(ax.get_tightbbox().y0 for ax in figure.axes) > note.y1


def test_a_median_beyond_the_ladder_is_said_in_words(tmp_path):
    spec = ThresholdSpec(make_spec(scrambles=2, points=2))
    never = run_threshold(spec, tmp_path / "a", workers=1, evaluate=lambda case: EXTENDED)
    cell = to_rows(never.cells)[0]
    assert " ".join(_interval(cell, "p50", 1e3).split()) == (
        f"above {_three(cell['p50_bracket_low'] * 1e3)} mN: 4 of 4 cases never curled on the ladder"
    )
    assert _interval(cell, "ratio", 1.0) == f"above {cell['ratio_bracket_low']:.3g}"
    always = run_threshold(spec, tmp_path / "b", workers=1, evaluate=lambda case: CURLED)
    assert _interval(to_rows(always.cells)[0], "p50", 1e3).startswith("below ")


def test_threshold_figure_shows_scale_and_censored_medians(tmp_path):
    spec = ThresholdSpec(make_spec(scrambles=2, points=2))
    figure = threshold_figure(run_threshold(spec, tmp_path / "a", workers=1, evaluate=by_force))
    assert CAUTION in texts(figure) and "16 with one crossing" in texts(figure)
    assert any("Wc²" in t.get_text() for t in figure.axes[0].get_legend().get_texts())
    curves = figure.axes[0].get_legend().get_lines()[:-1]  # the last one is the scale
    assert len({line.get_marker() for line in curves}) == len({line.get_linestyle() for line in curves}) == 2
    always = run_threshold(spec, tmp_path / "b", workers=1, evaluate=lambda case: CURLED)
    markers = [line.get_marker() for line in threshold_figure(always).axes[0].lines]
    assert markers.count("v") == 4


def test_one_cell_can_be_drawn(tmp_path):
    spec = make_spec(loads=(1e-2,), angles=(0.5,), scrambles=2, points=1)
    result = run_map(spec, tmp_path / "m", workers=1, evaluate=coin)
    assert save(map_figure(result), tmp_path / "map.png").exists()
    assert save(incidence_figure(result), tmp_path / "inc.png").exists()
