"""Stack-up against closed forms: sd of ln P = 4 sd of ln d of a uniform core, shares of independent tolerances."""

import numpy as np
import pytest
from unit.lab.bare import D, bare

from tipmech.checks import FieldError
from tipmech.files.wire import read_wire
from tipmech.lab.figure import Figure
from tipmech.lab.figures import FIGURES
from tipmech.lab.stackup import Distribution, StackUp, Tolerance, stack_up
from tipmech.wire.design import profile
from tipmech.wire.dimensions import find_dimension

LOAD = FIGURES["tip_load_10mm"]
SAMPLED = 0.01  # relative, of a standard deviation of 512 Sobol' points: their tails are cut at 1/1024
CURVED = 1e-3  # relative: fourth powers over a tolerance of 1 % are not quite lines


def core(share: float, distribution: Distribution = "normal") -> Tolerance:
    return Tolerance(find_dimension(bare(), "core 1 diameter"), share * D, distribution)


@pytest.mark.parametrize(("distribution", "sd"), [("normal", 0.01 / 3.0), ("uniform", 0.01 / np.sqrt(3.0))])
def test_a_uniform_core_spreads_four_times_its_diameter(distribution: Distribution, sd: float) -> None:
    found = stack_up(bare(), [core(0.01, distribution)], LOAD)
    assert found.log_sd == pytest.approx(4.0 * sd, rel=SAMPLED)
    assert found.log_sd_interval[0] < 4.0 * sd < found.log_sd_interval[1]
    assert found.shares == pytest.approx([1.0], rel=CURVED) and found.explained == pytest.approx(1.0, rel=CURVED)
    assert found.quantiles[0.5] == pytest.approx(found.nominal, rel=CURVED)
    assert len(found.simulated) == 16 and found.worst_check < 2e-3
    assert found.values[found.checked] == pytest.approx(found.simulated, rel=2e-3)


def test_shares_are_those_of_squared_slopes_times_tolerances() -> None:
    design = read_wire("workhorse")
    names = ("core 1 diameter at 0 mm", "core 1 diameter at 12 mm", "coil 1 wire_diameter")
    slopes = np.array([1.842, 1.365, 0.793])  # of the tip load at 10 mm, central differences on the bench
    sizes = np.array([0.01, 0.02, 0.03])
    rows = [find_dimension(design, name) for name in names]
    found = stack_up(design, [Tolerance(d, d.value * s) for d, s in zip(rows, sizes, strict=True)], LOAD)
    variances = (slopes * sizes / 3.0) ** 2
    assert found.shares == pytest.approx(variances / variances.sum(), abs=0.01)
    assert found.log_sd == pytest.approx(np.sqrt(variances.sum()), rel=0.02)
    assert np.all((found.share_intervals[:, 0] < found.shares) & (found.shares < found.share_intervals[:, 1]))


def test_the_yield_is_that_of_the_band() -> None:
    nominal = LOAD.simulate(profile(bare()))
    sd = 4.0 * 0.01 / 3.0
    band = (nominal * np.exp(-sd), nominal * np.exp(sd))
    found = stack_up(bare(), [core(0.01)], LOAD, band=band, checks=0)
    assert found.yield_share == pytest.approx(0.6827, abs=0.01)  # one standard deviation
    assert found.yield_interval[0] < 0.6827 < found.yield_interval[1]
    assert len(found.simulated) == 0


def test_wires_that_cannot_be_built_count_against_the_yield() -> None:
    design = read_wire("workhorse")
    pitch = Tolerance(find_dimension(design, "coil 1 pitch"), 0.02e-3, "uniform")  # touching at -0.0119 mm, less 1 %
    found = stack_up(design, [pitch], LOAD, band=(1e-6, 1.0))
    assert found.unbuildable == pytest.approx(512 * (20.0 - 12.47) / 40.0, abs=2.0)
    assert found.yield_share == pytest.approx(1.0 - found.unbuildable / 512)


def test_the_same_seed_gives_the_same_points() -> None:
    def run(seed: int) -> StackUp:
        return stack_up(bare(), [core(0.01)], LOAD, points=64, checks=0, seed=seed)

    assert np.array_equal(run(0).values, run(0).values) and not np.array_equal(run(0).values, run(1).values)


def test_bad_arguments_are_named() -> None:
    for changes, words in (
        ({"points": 300}, "points is 300; allowed: a power of 2"),
        ({"band": (2.0, 1.0)}, "band is"),
        ({"checks": -1}, "checks is -1"),
        ({"tolerances": []}, "tolerance is 'missing'"),
        ({"tolerances": [core(0.01), core(0.02)]}, "tolerance.dimension is 'core 1 diameter'; allowed: each dimension"),
    ):
        arguments = {"tolerances": [core(0.01)], "figure": LOAD, **changes}
        with pytest.raises(FieldError) as caught:
            stack_up(bare(), **arguments)
        assert words in str(caught.value)
    with pytest.raises(FieldError, match="tolerance of core 1 diameter is -"):
        core(-0.01)


def test_a_figure_whose_bench_fails_at_the_nominal_wire_is_refused() -> None:
    figure = Figure("made_up", "gf", "made up", 1e-3, lambda p: 1.0, lambda p: float("nan"))
    with pytest.raises(FieldError, match="figure is 'made_up_gf'; allowed: a figure for which the bench finds"):
        stack_up(bare(), [core(0.01)], figure)


def test_a_rough_reduced_figure_is_stacked_up_with_the_bench_s_slopes() -> None:
    """The clearance, of which the reduced lag knows nothing, makes nearly all of this one's variance."""
    design = read_wire("workhorse")
    rows = [Tolerance(find_dimension(design, name), share) for name, share in
            (("coil 1 mean_diameter", 6e-6), ("core 1 diameter at 40 mm", 1e-6))]  # fmt: skip
    found = stack_up(design, rows, FIGURES["torque_lag"], points=64, checks=4)
    assert found.worst_check < 5e-3 and found.shares[0] > 0.9
    assert found.log_sd == pytest.approx(1.49 * 2e-6 / 0.3e-3, rel=0.1)  # slope of the bench, as by a wider difference
