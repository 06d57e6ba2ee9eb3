"""A calibrated scale in a design exploration, on a uniform core: its tip load is scale times diameter^4."""

from dataclasses import fields
from math import log, log1p
from pathlib import Path

import numpy as np
import pytest
from scipy import stats
from unit.lab.bare import D, bare
from unit.lab.written_posterior import normal_posterior

from tipmech.files.wire import read_wire
from tipmech.lab.evaluate import reduced_values, simulated_values
from tipmech.lab.figures import FIGURES
from tipmech.lab.inverse import inverse
from tipmech.lab.over_scale import over_scale
from tipmech.lab.scale import Scale, read_scale
from tipmech.lab.sensitivity import scale_effect, sensitivities
from tipmech.lab.stackup import SCALE, Tolerance, stack_up
from tipmech.lab.wanted import Bounds, Found, Wanted
from tipmech.wire.design import profile
from tipmech.wire.dimensions import find_dimension

LOAD, BEHIND = FIGURES["tip_load_10mm"], FIGURES["flexure_EI_100mm"]
MEAN, SD = log(0.8), 0.1
SAMPLED = 0.01  # relative, of a standard deviation of 512 points
STEPPED = 1.0 / 128.0  # of probability, of 128 equally likely scales
PROPORTIONAL = 2e-3  # relative: the bench's tip load over EI, for EA stays


def posterior(folder: Path, mean: float, sd: float) -> Scale:
    return read_scale(normal_posterior(folder / "posterior.parquet", bare(), mean, sd), bare())


@pytest.fixture
def scale(tmp_path: Path) -> Scale:
    return posterior(tmp_path, MEAN, SD)


def core(share: float) -> Tolerance:
    return Tolerance(find_dimension(bare(), "core 1 diameter"), share * D)


def wide() -> Bounds:
    return Bounds(find_dimension(bare(), "core 1 diameter"), 0.5 * D, 2.0 * D)


def test_no_width_about_the_drawing_changes_no_bit(tmp_path: Path) -> None:
    sure = posterior(tmp_path, 0.0, 0.0)
    band = (1.0e-3, 1.0)
    alone, over = (stack_up(bare(), [core(0.01)], LOAD, points=64, checks=4, band=band, scale=s) for s in (None, sure))
    assert over.sources[1][0] == SCALE and over.shares[1] == 0.0
    for field in fields(alone):
        if field.name not in ("sources", "shares", "share_intervals", "yield_at"):
            np.testing.assert_equal(getattr(over, field.name), getattr(alone, field.name))
    assert over.shares[0] == alone.shares[0] and np.array_equal(over.share_intervals[:1], alone.share_intervals)
    wanted = [Wanted(LOAD, "target", 2.0 * alone.nominal, 0.01)]
    first, second = (inverse(bare(), wanted, [wide()], scale=s).found[0].values for s in (1.0, sure.median))
    assert first == second


def test_variances_of_tolerance_and_scale_add(scale: Scale) -> None:
    alone = stack_up(bare(), [core(0.05)], LOAD, checks=0)
    found = stack_up(bare(), [core(0.05)], LOAD, scale=scale)
    parts = np.array([(4.0 * 0.05 / 3.0) ** 2, SD**2])
    assert np.array_equal(found.dimensions, alone.dimensions)  # the tolerances' points are not moved
    assert found.nominal == pytest.approx(scale.median * alone.nominal, rel=PROPORTIONAL)
    assert found.log_sd == pytest.approx(np.sqrt(parts.sum()), rel=2.0 * SAMPLED)
    assert found.shares == pytest.approx(parts / parts.sum(), abs=0.02)
    assert len(found.simulated) == 16 and found.worst_check < PROPORTIONAL


def test_the_yield_is_given_for_the_lot_too(scale: Scale) -> None:
    """All wires of a lot share the scale: half the wires good and half the lots good are two things."""
    nominal = scale.median * LOAD.simulate(profile(bare()))
    sd = 4.0 * 0.05 / 3.0
    found = stack_up(bare(), [core(0.05)], LOAD, band=(nominal * np.exp(-sd), nominal * np.exp(sd)), scale=scale)
    both = np.hypot(sd, SD)
    assert found.yield_share == pytest.approx(2.0 * stats.norm.cdf(sd / both) - 1.0, abs=0.02)
    shift = 1.96 * SD
    expected = [stats.norm.cdf((sd - m) / sd) - stats.norm.cdf((-sd - m) / sd) for m in (-shift, 0.0, shift)]
    assert [s for s, _ in found.yield_at] == pytest.approx(scale.at(np.array([0.025, 0.5, 0.975])))
    assert [y for _, y in found.yield_at] == pytest.approx(expected, abs=0.02)


def test_the_found_core_makes_up_for_the_scale(scale: Scale) -> None:
    target = 2.0 * LOAD.simulate(profile(bare()))
    found = inverse(bare(), [Wanted(LOAD, "target", target, 0.01)], [wide()], scale=scale.median)
    diameter = found.found[0].values["core 1 diameter"]
    assert diameter == pytest.approx(D * (2.0 / scale.median) ** 0.25, rel=2e-3)  # AIM of a tolerance of 1 %, over 4
    assert found.found[0].simulated[LOAD.key] == pytest.approx(target, rel=0.01)


def test_a_found_design_says_how_likely_it_is_as_wanted(scale: Scale) -> None:
    target, tolerance = 2.0 * LOAD.simulate(profile(bare())), 0.1
    wanted = (
        Wanted(LOAD, "target", target, tolerance),
        Wanted(BEHIND, "at_least", 0.1 * BEHIND.simulate(profile(bare())), 0.01),
    )
    found = inverse(bare(), wanted, [wide()], scale=scale.median).found[0]
    over = over_scale(found, wanted, scale)
    load, behind = over.bands
    middle = found.simulated[LOAD.key]
    ends = stats.norm.ppf([0.025, 0.975]) * SD
    assert np.log([load.low / middle, load.high / middle]) == pytest.approx(ends, abs=0.05 * SD)
    off = log(middle / target)
    chance = np.diff(stats.norm.cdf(np.array([-1.0, 1.0]) * log1p(tolerance) - off, scale=SD))[0]
    assert load.met == pytest.approx(chance, abs=STEPPED)
    assert behind.met == 1.0 and behind.low == behind.high  # the scale ends before 60 mm
    assert over.all_met == load.met
    for end, factor in ((load.low, 0.025), (load.high, 0.975)):
        wire = profile(found.design).softened(float(scale.at(np.array([factor]))[0]))
        assert end == pytest.approx(LOAD.simulate(wire), rel=0.01)


def test_the_bar_of_the_scale_goes_to_its_ends_where_it_reaches(scale: Scale) -> None:
    figures = (LOAD, BEHIND, FIGURES["torsional_stiffness_100mm"])
    found = scale_effect(bare(), figures, scale)
    less, more = found.effect
    low, median, high = found.scales
    assert (less[0], more[0]) == pytest.approx((low / median - 1.0, high / median - 1.0), abs=PROPORTIONAL)
    assert (less[1], more[1]) == (0.0, 0.0)
    assert low / median - 1.0 < less[2] < 0.0 < more[2] < high / median - 1.0  # scaled over 30 to 60 mm of 100
    assert found.by == ("simulated", "simulated", "reduced")
    at_median = sensitivities(bare(), [find_dimension(bare(), "core 1 diameter")], figures, scale=median)
    assert at_median.values == pytest.approx(found.values[1])
    reduced = scale_effect(bare(), [LOAD], scale, simulate=False)
    assert reduced.by == ("reduced",) and reduced.effect[0][0] == pytest.approx(low / median - 1.0, rel=1e-9)


def test_bands_of_a_found_design_are_those_of_the_simulated_bench(tmp_path: Path) -> None:
    """The torque ratio's correction depends on the scale: one ratio for all would give the wrong band."""
    design = read_wire("workhorse")
    wide_scale = read_scale(normal_posterior(tmp_path / "posterior.parquet", design, -0.1, 0.35), design)
    figures = (LOAD, FIGURES["torque_ratio"])
    values = simulated_values(design, figures, scale=wide_scale.median)
    wanted = tuple(Wanted(f, "target", values[f.key], 0.01) for f in figures)
    found = Found(design, {}, reduced_values(design, figures, scale=wide_scale.median), values, 0.0, True)
    over = over_scale(found, wanted, wide_scale)
    ends = [simulated_values(design, figures, scale=float(s)) for s in wide_scale.at(np.array([0.025, 0.975]))]
    for figure, band in zip(figures, over.bands, strict=True):
        low, high = sorted(end[figure.key] for end in ends)
        assert [band.low, band.high] == pytest.approx([low, high], rel=0.005)
    assert over.bands[1].high - over.bands[1].low > 0.005  # a band that one can tell from its ends swapped
