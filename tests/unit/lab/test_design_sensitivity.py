"""Slopes against closed forms: a uniform core's figures are powers of its diameter."""

import numpy as np
import pytest
from unit.lab.bare import bare

from tipmech.checks import FieldError
from tipmech.files.wire import read_wire
from tipmech.lab.reduced import FIGURES, Figure
from tipmech.lab.sensitivity import sensitivities
from tipmech.rod.errors import NotConvergedError
from tipmech.wire.dimensions import dimensions, find_dimension

SIMULATED = 5e-3  # absolute, of a slope of 4: the bench's largest force depends a little on its increments


def test_a_uniform_core_s_figures_go_with_the_fourth_power() -> None:
    design = bare()
    keys = ("tip_load_5mm", "tip_load_10mm", "lateral_stiffness_10mm", "flexure_EI_50mm", "torsional_stiffness_100mm")
    figures = [FIGURES[k] for k in keys]
    whole = find_dimension(design, "core 1 diameter")
    reduced = sensitivities(design, [whole], figures, simulate=False)
    assert reduced.slopes[:, 0] == pytest.approx(4.0, abs=1e-9) and set(reduced.by) == {"reduced"}
    bench = sensitivities(design, [whole], figures)
    assert bench.slopes[:, 0] == pytest.approx(4.0, abs=SIMULATED)
    assert bench.by[:2] == ("simulated", "simulated") and bench.by[4] == "reduced"
    assert bench.remarks == {}


def test_the_effect_of_a_change_is_a_power_law() -> None:
    design = bare()
    found = sensitivities(
        design, [find_dimension(design, "core 1 diameter")], [FIGURES["tip_load_10mm"]], simulate=False
    )
    less, more = found.effect([0.1])
    assert less[0, 0] == pytest.approx(0.9**4 - 1.0) and more[0, 0] == pytest.approx(1.1**4 - 1.0)


def test_reduced_slopes_are_those_of_the_bench() -> None:
    design = read_wire("workhorse")
    names = ("core 1 diameter at 0 mm", "core 1 diameter at 12 mm", "coil 1 wire_diameter", "coil 1 pitch")
    rows = [find_dimension(design, name) for name in names]
    figures = [FIGURES["tip_load_10mm"], FIGURES["tip_load_15mm"]]
    bench = sensitivities(design, rows, figures).slopes
    assert sensitivities(design, rows, figures, simulate=False).slopes == pytest.approx(bench, abs=SIMULATED)


def test_a_slope_that_has_one_side_says_so() -> None:
    design = read_wire("workhorse")
    found = sensitivities(
        design, [find_dimension(design, "tip diameter")], [FIGURES["tip_pressure_10mm"]], simulate=False
    )
    assert found.slopes[0, 0] == pytest.approx(-2.0, abs=0.03)  # one-sided at 1 %
    assert found.remarks["tip diameter"].startswith("one-sided (more: tip.diameter is 0.3596 mm; allowed: at most")


def test_what_is_not_solved_is_said() -> None:
    def lost(profile: object) -> float:
        raise NotConvergedError("made up", np.zeros((2, 3)))

    figure = Figure("made_up", "gf", "made up", 1e-3, lambda p: 1.0, lost)
    design = bare()
    found = sensitivities(design, [find_dimension(design, "core 1 diameter")], [figure])
    assert np.isnan(found.slopes[0, 0]) and "no equilibrium for made_up" in found.remarks["core 1 diameter"]


def test_a_dimension_of_nothing_has_no_slope() -> None:
    design = bare()
    with pytest.raises(FieldError, match="core 1 start is 0; allowed: a dimension greater than 0"):
        sensitivities(design, [dimensions(design)["core 1 start"]], [FIGURES["tip_load_10mm"]])


def test_a_slow_bench_is_left_to_its_reduced_figure() -> None:
    figure = Figure("made_up", "gf", "made up", 1e-3, lambda p: float(p.EI1[0]), lambda p: 1.0, fast=False)
    design = bare()
    found = sensitivities(design, [find_dimension(design, "core 1 diameter")], [figure])
    assert found.by == ("reduced",) and found.slopes[0, 0] == pytest.approx(4.0)
