import numpy as np
import pytest
from study.made_up import CURLED, by_force, coin, coin_with_failures, make_spec

from tipmech import CAUTION
from tipmech.show.maps import NO_UNCERTAINTY, grid, incidence_figure, map_figure
from tipmech.show.style import save
from tipmech.show.thresholds import threshold_figure
from tipmech.study.run_map import run_map
from tipmech.study.run_threshold import ThresholdSpec, run_threshold


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


def test_incidence_curves_are_drawn_for_every_cell_that_was_run(result):
    figure = incidence_figure(result)
    assert CAUTION in texts(figure) and NO_UNCERTAINTY in texts(figure)
    assert len(figure.axes) == 4 and all(len(ax.lines) == 2 * 3 for ax in figure.axes)


def test_threshold_figure_shows_scale_and_censored_medians(tmp_path):
    spec = ThresholdSpec(make_spec(scrambles=2, points=2))
    figure = threshold_figure(run_threshold(spec, tmp_path / "a", workers=1, evaluate=by_force))
    assert CAUTION in texts(figure) and "16 with one crossing" in texts(figure)
    assert any("Wc²" in t.get_text() for t in figure.axes[0].get_legend().get_texts())
    always = run_threshold(spec, tmp_path / "b", workers=1, evaluate=lambda case: CURLED)
    markers = [line.get_marker() for line in threshold_figure(always).axes[0].lines]
    assert markers.count("v") == 4


def test_one_cell_can_be_drawn(tmp_path):
    spec = make_spec(loads=(1e-2,), angles=(0.5,), scrambles=2, points=1)
    result = run_map(spec, tmp_path / "m", workers=1, evaluate=coin)
    assert save(map_figure(result), tmp_path / "map.png").exists()
    assert save(incidence_figure(result), tmp_path / "inc.png").exists()
