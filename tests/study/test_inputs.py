import numpy as np
import pytest
from scipy import stats
from study.made_up import make_spec

from tipmech.study.inputs import NAMES, UNKNOWNS, draw, friction_log_sd, point_seed, sobol_points


@pytest.mark.parametrize("unknown", UNKNOWNS, ids=NAMES)
def test_the_inverse_of_the_cdf_gives_back_the_distribution(unknown):
    u = (np.arange(4000) + 0.5) / 4000
    values = np.array([unknown.value(v) for v in u])
    positive = values[values != 0.0] if unknown.zero_below else values
    assert np.all(np.diff(positive) >= 0.0)
    assert positive.min() >= unknown.low and positive.max() <= unknown.high
    if unknown.name == "free_lip":
        assert np.mean(values) == pytest.approx(0.5, abs=1e-3)
        return

    def cut_cdf(x):
        first, last = unknown.distribution.cdf(unknown.low), unknown.distribution.cdf(unknown.high)
        return (unknown.distribution.cdf(x) - first) / (last - first)

    assert stats.kstest(positive, cut_cdf).statistic < 2e-3


def test_half_of_the_pockets_are_closed():
    thickness = UNKNOWNS[NAMES.index("thickness")]
    assert thickness.value(0.499) == 0.0 and thickness.value(0.75) == pytest.approx(0.8e-3)


def test_every_unknown_names_its_source():
    assert all(x.source and x.unit for x in UNKNOWNS) and len(set(NAMES)) == len(NAMES)


def test_points_are_balanced_within_a_scramble_and_independent_of_their_number():
    few, many = make_spec(scrambles=4, points=8), make_spec(scrambles=16, points=8)
    points = sobol_points(many)
    assert points.shape == (128, len(UNKNOWNS)) and np.all((points > 0.0) & (points < 1.0))
    assert np.array_equal(sobol_points(few), points[:32])
    for k in range(16):  # one value in each eighth, in every dimension: what makes it a (0, m, 1) net
        assert np.array_equal(np.sort(np.floor(8 * points[8 * k : 8 * k + 8]), axis=0)[:, 0], np.arange(8))
    assert not np.array_equal(points[:8], points[8:16])
    assert not np.array_equal(points, sobol_points(make_spec(scrambles=16, points=8, seed=0)))


def test_seeds_follow_from_study_seed_and_index():
    seeds = {point_seed(s, i) for s in range(3) for i in range(500)}
    assert len(seeds) == 1500 and point_seed(1, 7) == point_seed(1, 7)


def test_friction_scatter_is_that_of_the_named_surfaces():
    assert [friction_log_sd(m) for m in (0.04, 0.12, 0.25)] == pytest.approx([0.5, 0.4, 0.35])
    assert 0.4 < friction_log_sd(0.08) < 0.5 and friction_log_sd(0.6) == 0.35


def test_a_point_of_the_wrong_length_is_refused():
    with pytest.raises(ValueError, match="coordinates"):
        draw(np.full(3, 0.5))
