"""The compiled Newton loop: the same with and without callbacks, row by row, and after a step that failed."""

import numpy as np
import pytest
from numpy.typing import NDArray

from tipmech.rod.build import Section, straight
from tipmech.rod.loads import Force, Potential
from tipmech.rod.solve import begin, solve, solve_path
from tipmech.rod.structure import Structure
from tipmech.rod.supports import Support, clamp

Array = NDArray[np.float64]
FACTORS = np.linspace(0.0, 1.0, 9)[1:]


def cantilever(potential: Potential | None = None) -> Structure:
    rod = straight(1.0, 16, Section(1.0, 1.0, 0.8, 1e5, 1e5, 1e5))
    return Structure(rod, [clamp(0)], loads=[Force(-1, (6.0, 1.0, 0.0))], potential=potential)


def nothing(x: Array) -> tuple[float, Array, Array]:
    return 0.0, np.zeros_like(x), np.zeros((len(x), 3, 3))


def test_a_potential_of_zero_changes_no_bit() -> None:
    compiled, called = solve_path(cantilever(), FACTORS), solve_path(cantilever(nothing), FACTORS)
    for one, two in zip(compiled, called, strict=True):
        assert one.converged and one.residuals == two.residuals and one.count == two.count
        np.testing.assert_array_equal(one.x, two.x)
        np.testing.assert_array_equal(one.q, two.q)


def test_a_row_of_load_factors_is_the_same_as_one_after_another() -> None:
    loop = begin(cantilever(), None)
    for found in solve_path(cantilever(), FACTORS):
        loop.reach(np.array([found.factor]), 60)
        assert tuple(loop.history) == found.residuals and found.iterations == len(found.residuals)
        np.testing.assert_array_equal(loop.pose.x, found.x)


def test_the_predictor_after_a_failed_step_knows_the_direction_at_the_good_state() -> None:
    straight_on, after_failure = begin(cantilever(), None), begin(cantilever(), None)
    for loop in (straight_on, after_failure):
        loop.reach(np.array([0.5]), 60)
    pose = after_failure.pose.copy()
    after_failure.reach(np.array([5.0]), 2)
    assert after_failure.reason.startswith("no equilibrium after 2 iterations")
    after_failure.pose, after_failure.factor = pose, 0.5
    for loop in (straight_on, after_failure):
        loop.reach(np.array([0.6]), 60)
        assert not loop.reason
    assert after_failure.history == straight_on.history


def test_steps_that_fail_are_halved_and_the_row_goes_on() -> None:
    few, plenty = solve_path(cantilever(), [0.1, 3.0, 3.1], max_iterations=5), solve_path(cantilever(), [0.1, 3.0, 3.1])
    assert len(few) == 3 and all(e.converged for e in few)
    assert few[1].iterations > 5 >= len(few[1].residuals)
    for one, two in zip(few, plenty, strict=True):
        np.testing.assert_allclose(one.x, two.x, atol=1e-8)


@pytest.mark.parametrize("guided", [False, True])
def test_a_stiff_plate_is_neither_left_nor_run_into(guided: bool) -> None:
    """A plate goes down on a column with a faint sideways force: it folds to that side, not to the unstable other."""
    rod = straight(1.0, 60, Section(1.0, 1.0, 0.8, 6e5, 6e5, 6e5))
    k, height = 2e5, 1.0

    def plate(x: Array) -> tuple[float, Array, Array]:
        gradient, hessian = np.zeros_like(x), np.zeros((len(x), 3, 3))
        depth = max(0.0, x[-1, 2] - height)
        gradient[-1, 2], hessian[-1, 2, 2] = k * depth, k * (depth > 0.0)
        return 0.5 * k * depth**2, gradient, hessian

    supports = [clamp(0), Support(-1, "xy", "3")] if guided else [clamp(0)]
    faint = Force(30, (1e-2, 0.0, 0.0), constant=True)
    state = solve(Structure(rod, supports, loads=[faint], potential=plate), 0.0)
    for travel in 6e-5 * 2.0 ** np.arange(12):
        height = 1.0 - travel
        state = solve(state.structure, 0.0, start=state)
        assert state.converged and state.stable and state.x[30, 0] > 0.0 and state.iterations <= 12
        assert state.reactions[0][0, 2] == pytest.approx(k * (state.x[-1, 2] - height), rel=1e-5)
