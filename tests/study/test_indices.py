"""The estimators, as the command uses them, on functions whose indices are known in closed form."""

from math import pi

import numpy as np
import pytest
from scipy.stats import t
from statsmodels.stats.proportion import proportion_confint

from experiments.coverage.indices import coverage, often, rare, truth
from tipmech.study.designs import level_ends, morris_design, scramble_of, scrambles_of, sobol_design
from tipmech.study.index_intervals import largest_unseen
from tipmech.study.indices import elementary_effects, screening, sobol_indices

TINY = 1e-12
A, B = 7.0, 0.1  # of the Ishigami function
G = np.array([0.0, 1.0, 4.5, 9.0, 99.0, 99.0])  # a_i of the g function


def ishigami(u):
    """Value of sin x1 + a sin^2 x2 + b x3^4 sin x1, x_i uniform in (-pi, pi).

    Ishigami and Homma, An importance quantification technique in uncertainty analysis for computer models, Proc. ISUMA
    1990, 398-403, doi 10.1109/ISUMA.1990.151285.
    """
    x = pi * (2.0 * u - 1.0)
    return np.sin(x[:, 0]) + A * np.sin(x[:, 1]) ** 2 + B * x[:, 2] ** 4 * np.sin(x[:, 0])


def ishigami_indices():
    """First-order and total indices in closed form: Saltelli et al., Global Sensitivity Analysis: The Primer (2008).

    V1 = (1 + b pi^4 / 5)^2 / 2, V2 = a^2 / 8, V3 = 0, V13 = b^2 pi^8 (1/18 - 1/50), V = V1 + V2 + V13.
    """
    one, two = 0.5 * (1.0 + B * pi**4 / 5.0) ** 2, A**2 / 8.0
    both = B**2 * pi**8 * (1.0 / 18.0 - 1.0 / 50.0)
    whole = one + two + both
    return np.array([one, two, 0.0]) / whole, np.array([one + both, two, both]) / whole


def g_function(u):
    """Product of (|4 u_i - 2| + a_i) / (1 + a_i): Sobol' 1998; Saltelli and Sobol' 1995."""
    return np.prod((np.abs(4.0 * u - 2.0) + G) / (1.0 + G), axis=1)


def g_indices():
    """V_i = 1 / (3 (1 + a_i)^2), V = prod(1 + V_i) - 1, V_Ti = V_i prod_{j != i} (1 + V_j): Saltelli et al. 2010."""
    own = 1.0 / (3.0 * (1.0 + G) ** 2)
    whole = np.prod(1.0 + own) - 1.0
    return own / whole, own * np.prod(1.0 + own) / (1.0 + own) / whole


def of(function, count, base_points=1024, seed=1, holes=None, limits=(0.0, 0.0)):
    design = sobol_design(count, base_points, seed)
    solved = np.ones(len(design), dtype=bool)
    if holes is not None:
        solved[holes] = False
    return sobol_indices(count, np.where(solved, function(design), np.nan), solved, limits)


@pytest.mark.parametrize(("function", "exact"), [(ishigami, ishigami_indices), (g_function, g_indices)])
def test_indices_of_functions_with_known_ones(function, exact):
    first, total = exact()
    found = of(function, len(first))
    assert found.first.value == pytest.approx(first, abs=0.06)
    assert found.total.value == pytest.approx(total, abs=0.06)
    assert found.base_points == found.complete == 1024
    for known, about in ((first, found.first), (total, found.total)):
        assert np.all(about.low - 0.02 <= known) and np.all(known <= about.high + 0.02)
        assert np.array_equal(about.at_least, about.value) and np.array_equal(about.at_most, about.value)


def test_the_closed_forms_themselves():
    assert ishigami_indices()[0] == pytest.approx([0.3139, 0.4424, 0.0], abs=1e-4)  # the Primer's table
    assert ishigami_indices()[1] == pytest.approx([0.5576, 0.4424, 0.2437], abs=1e-4)
    u = np.random.default_rng(1).random((200_000, 6))
    own = 1.0 / (3.0 * (1.0 + G) ** 2)
    assert np.var(g_function(u)) == pytest.approx(np.prod(1.0 + own) - 1.0, rel=0.02)


def test_intervals_hold_the_true_index_at_about_their_rate():
    first, total = ishigami_indices()
    hits = []
    for seed in range(40):
        found = of(ishigami, 3, base_points=128, seed=seed)
        hits += [(found.first.low <= first) & (first <= found.first.high)]
        hits += [(found.total.low <= total) & (total <= found.total.high)]
    assert np.mean(hits) >= 0.9


@pytest.mark.parametrize("outcome", [rare, often])
def test_intervals_of_events_cover_every_index(outcome):
    """The rates at more sizes: experiments/coverage/indices.py. Both, least over the inputs: at least 0.9 of 60."""
    known = truth(outcome, 100_000)
    first, total, *_ = coverage(outcome, True, 128, 60, known)
    assert first.min() >= 0.9 and total.min() >= 0.9


def test_an_input_that_never_mattered_has_an_interval_that_says_so_much_only():
    """With none of n pairs changed a total index of 0 has an interval up to about Agresti and Coull's for 0 of n."""
    design = sobol_design(8, 128, 1)
    y = often(design)
    found = sobol_indices(8, y, np.ones(len(y), dtype=bool), (0.0, 1.0), True)
    assert found.total.value[7] == found.first.value[7] == found.total.low[7] == 0.0
    ceiling = float(proportion_confint(0, 128, method="agresti_coull")[1]) / (2.0 * found.sd**2)
    assert found.total.high[7] == pytest.approx(ceiling, rel=0.2)
    beforehand = largest_unseen(128, float(found.sd) ** 2, float(t.ppf(0.975, 15)))  # 16 scrambles
    assert found.total.high[7] == pytest.approx(beforehand, rel=0.03)
    assert found.first.low[7] == 0.0 < found.first.high[7] <= found.total.high[7]
    for about in (found.first, found.total):
        assert np.all(about.low <= about.value + TINY) and np.all(about.value <= about.high + TINY)
        assert np.all(about.high <= np.maximum(1.0, about.value) + TINY)
        assert np.all(about.low >= np.minimum(0.0, about.value) - TINY)


def test_scrambles_of_the_design_are_independent_and_stand_together():
    design = sobol_design(3, 64, 5)
    assert design.shape == (64 * 5, 3) and scrambles_of(64) == 16 and scrambles_of(8) == 2 and scrambles_of(2) == 1
    groups = scramble_of(64)
    assert np.array_equal(groups, np.repeat(np.arange(16), 4))
    a = design[::5]
    for k in range(16):  # four points of one scramble: one in each quarter of every input
        assert np.array_equal(
            np.sort(np.floor(4.0 * a[groups == k]), axis=0), np.repeat(np.arange(4.0), 3).reshape(4, 3)
        )
    assert len(np.unique(a[:, 0])) == 64 and np.array_equal(design, sobol_design(3, 64, 5))
    b = design[4::5]
    for k in range(3):  # each input in its turn from B, all else from A
        for i in range(3):
            np.testing.assert_array_equal(design[1 + k :: 5, i], b[:, i] if i == k else a[:, i])


def test_an_input_of_two_halves_has_its_index_whichever_input_it_is():
    """In a single scramble it came out as 0 or 2 for some; now it scatters little more than with independent pairs."""
    found = []
    for seed in range(30):
        design = sobol_design(22, 64, seed).reshape(64, 24, 22)
        found.append(2.0 * np.mean((design[:, 0] < 0.5) != (design[:, -1] < 0.5), axis=0))
    assert np.mean(found) == pytest.approx(1.0, abs=0.02)
    assert np.max(np.std(found, axis=0)) < 1.7 * 0.125  # independent pairs: 2 (0.25/64)^0.5


def test_holes_cost_their_base_point_and_are_bounded():
    first, _ = ishigami_indices()
    low, high = -10.8, 17.8  # of the function
    found = of(ishigami, 3, holes=[0, 7, 8, 503], limits=(low, high))
    assert found.base_points == 1024 and found.complete == 1021  # 7 and 8 are of one base point
    assert found.first.value == pytest.approx(first, abs=0.06)
    assert not np.array_equal(found.first.at_least, found.first.at_most)
    assert found.first.at_least == pytest.approx(first, abs=0.09)
    none = of(ishigami, 3, base_points=8, holes=range(0, 40, 5), limits=(low, high))
    assert none.complete == 0 and np.all(np.isnan(none.total.value)) and np.all(np.isfinite(none.total.at_most))


def test_an_outcome_that_is_always_the_same_has_no_index():
    found = of(lambda u: np.ones(len(u)), 3, base_points=16)
    assert np.all(np.isnan(found.first.value)) and np.all(np.isnan(found.total.high)) and found.mean == 1.0


def test_every_step_of_a_trajectory_moves_one_input_by_half_its_distribution():
    design = morris_design(5, 12, 4, seed=3)
    assert design.shape == (72, 5) and set(np.round(np.unique(design), 12)) == {0.125, 0.375, 0.625, 0.875}
    steps = np.diff(design.reshape(12, 6, 5), axis=1)
    assert np.all(np.sum(steps != 0.0, axis=2) == 1) and np.all(np.sum(steps != 0.0, axis=1) == 1)
    assert np.abs(steps[steps != 0.0]) == pytest.approx(0.5)
    assert np.array_equal(design, morris_design(5, 12, 4, seed=3))
    assert not np.array_equal(design, morris_design(5, 12, 4, seed=4))


def test_screening_of_a_linear_function_is_exact_and_sees_an_interaction():
    low, high = level_ends(4)
    slopes, wide = np.array([3.0, -1.0, 0.0, 0.5, 0.0]), high - low
    design = morris_design(5, 40, 4, seed=2)
    solved = np.ones(len(design), dtype=bool)
    linear = screening(design, design @ slopes, solved, (0.0, 0.0), 4, seed=1)
    assert linear.mu_star.value == pytest.approx(np.abs(slopes) * wide)
    assert linear.mu.value == pytest.approx(slopes * wide)
    assert linear.sigma.value == pytest.approx(0.0, abs=1e-12)
    product = screening(design, design[:, 0] * design[:, 1], solved, (0.0, 1.0), 4, seed=1)
    assert np.all(product.sigma.low[:2] > 0.0) and np.all(product.sigma.value[2:] == 0.0)
    assert product.sigma.value == pytest.approx(
        elementary_effects(design, design[:, 0] * design[:, 1], 4).std(axis=0, ddof=1)
    )
    assert np.all(product.mu_star.low <= product.mu_star.value) and np.all(product.mu_star.low >= 0.0)


def test_holes_cost_their_trajectory():
    design = morris_design(5, 20, 4, seed=2)
    solved = np.ones(len(design), dtype=bool)
    solved[[0, 3, 30]] = False
    found = screening(design, np.where(solved, design[:, 0], np.nan), solved, (0.0, 1.0), 4, seed=1)
    assert found.trajectories == 20 and found.complete == 18
    assert found.mu_star.value == pytest.approx([0.75, 0.0, 0.0, 0.0, 0.0])
    assert np.any(found.mu_star.at_least > 0.0) and not np.array_equal(found.mu_star.at_least, found.mu_star.at_most)


def test_what_does_not_fit_is_refused():
    with pytest.raises(ValueError, match="blocks of 5"):
        sobol_indices(3, np.zeros(7), np.ones(7, dtype=bool), (0.0, 1.0))
    with pytest.raises(ValueError, match="not a finite number"):
        sobol_indices(3, np.full(10, np.nan), np.ones(10, dtype=bool), (0.0, 1.0))
