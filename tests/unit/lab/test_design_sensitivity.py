"""Slopes against closed forms: a uniform core's figures are powers of its diameter."""

from dataclasses import replace

import numpy as np
import pytest
from unit.lab.bare import bare

from tipmech.bench.suite import run_suite
from tipmech.bench.tip_load import tip_load
from tipmech.bench.tip_shape import STANDARD_TIP
from tipmech.bench.torque import torque_response
from tipmech.checks import FieldError
from tipmech.cli.design_facts import slope_facts
from tipmech.cli.design_pictures import doubt_of, value_of
from tipmech.cli.wire import bench_figures
from tipmech.files.wire import read_wire
from tipmech.lab.evaluate import find_figure
from tipmech.lab.figure import Figure, simulate
from tipmech.lab.figures import FIGURES, figures_of
from tipmech.lab.sensitivity import sensitivities
from tipmech.profile import Profile
from tipmech.rod.errors import NotConvergedError
from tipmech.wire.design import profile
from tipmech.wire.dimensions import changed, dimensions, find_dimension
from tipmech.wire.parts import Taper
from tipmech.wire.tip import Tip

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
    assert np.isnan(found.slopes[0, 0]) and found.missing == {"made_up": "made up"} and found.remarks == {}


def test_what_is_lost_on_one_side_is_one_sided() -> None:
    here = profile(bare()).EI1[0]

    def lost(stock: Profile) -> float:
        if stock.EI1[0] > here:
            raise NotConvergedError("made up", np.zeros((2, 3)))
        return float(stock.EI1[0])

    figure = Figure("made_up", "gf", "made up", 1e-3, lambda p: 1.0, lost)
    design = bare()
    found = sensitivities(design, [find_dimension(design, "core 1 diameter")], [figure])
    assert found.slopes[0, 0] == pytest.approx(4.0)
    assert "no equilibrium on one side, so one-sided, for made_up" in found.remarks["core 1 diameter"]


def test_what_is_nothing_has_no_slope() -> None:
    design = bare()
    zero = Figure("made_up", "gf", "made up", 1e-3, lambda p: 1.0, lambda p: 0.0)
    simulated_only = replace(zero, key="simulated_only", reduced=None)
    whole = [find_dimension(design, "core 1 diameter")]
    found = sensitivities(design, whole, [zero, FIGURES["tip_load_10mm"]])
    assert found.missing == {"made_up": "it is 0, which has no logarithm"} and found.slopes[1, 0] == pytest.approx(
        4, abs=SIMULATED
    )
    found = sensitivities(design, whole, [simulated_only], simulate=False)
    assert found.missing == {"simulated_only": "no reduced figure: it is simulated only"}


def test_a_dimension_of_nothing_has_no_slope() -> None:
    design = bare()
    with pytest.raises(FieldError, match="core 1 start is 0; allowed: a dimension greater than 0"):
        sensitivities(design, [dimensions(design)["core 1 start"]], [FIGURES["tip_load_10mm"]])


def test_figures_of_one_test_share_its_run() -> None:
    runs = []

    def run(stock: Profile) -> float:
        runs.append(1)
        return float(stock.EI1[0])

    one = Figure("one", "gf", "made up", 1e-3, None, run)
    two = replace(one, key="two", read=lambda result, stock: result**2)
    design = bare()
    found = sensitivities(design, [find_dimension(design, "core 1 diameter")], [one, two])
    assert found.slopes[:, 0] == pytest.approx([4.0, 8.0]) and len(runs) == 3


@pytest.mark.parametrize("wire", ["stranded_shaped", "very_soft"])
def test_every_figure_that_the_bench_prints_has_slopes(wire: str) -> None:
    """By the names in wire.json; lag and ratio of a straight tip have that in their name here."""
    design = read_wire(wire)
    printed = set(bench_figures(run_suite(design)))
    known = {f.name for f in figures_of(design)}
    others = {
        "tip_pressure_kPa": "tip_pressure_10mm_kPa", "torque_ratio": "torque_ratio_straight_tip_percent",
        "torque_lag_deg": "torque_lag_straight_tip_deg", "torque_whip_deg": "torque_whip_straight_tip_deg",
        "torque_ratio_shaped_tip": "torque_ratio_percent", "torque_lag_shaped_tip_deg": "torque_lag_deg",
        "torque_whip_shaped_tip_deg": "torque_whip_deg", "whip_number": "whip_number_percent",
        "track_gain": "track_gain_percent", "shape_kept_best": "shape_kept_percent",
    }  # fmt: skip
    given = {"tip_load_10mm_travel_mm", "tip_diameter_mm", "diameter_mm", "friction"}  # of the wire or the test itself
    assert any("hard_axis" in name for name in printed) == (wire == "very_soft")
    for name in printed - given:
        if not name.startswith("EI_"):
            assert others.get(name, name.removesuffix("_N_m") + "_N_per_m" * name.endswith("_N_m")) in known, name


def test_the_lag_s_slope_knows_the_clearance() -> None:
    """A wider coil leaves less room: more lag, of which the reduced figure knows nothing."""
    design = read_wire("workhorse")
    wide = find_dimension(design, "coil 1 mean_diameter")
    figures = [FIGURES["torque_lag"], FIGURES["torque_ratio"]]
    found = sensitivities(design, [wide], figures)
    assert found.by == ("simulated", "simulated")
    step = 0.03  # another difference, of the test itself
    ends = [torque_response(profile(changed(design, {wide.name: wide.value * np.exp(h)})), shape=STANDARD_TIP)
            for h in (-step, step)]  # fmt: skip
    assert found.slopes[0, 0] == pytest.approx(np.log(ends[1].lag / ends[0].lag) / (2.0 * step), rel=0.05)
    assert found.slopes[1, 0] == pytest.approx(np.log(ends[1].ratio / ends[0].ratio) / (2.0 * step), rel=0.05)
    assert found.slopes[0, 0] > 1.0


def test_closed_forms_have_the_slopes_of_their_formulas() -> None:
    """A round core yields at R = d/(2 strain): slope 1 in its diameter."""
    design = bare()
    figures = [f for f in figures_of(design) if f.group == "bends" and f.key != "shape_kept"]
    found = sensitivities(design, [find_dimension(design, "core 1 diameter")], figures)
    assert [f.key for f in figures[:2]] == ["kink_radius", "least_bend_radius_core_1_distal_1mm"]
    assert found.slopes[:, 0] == pytest.approx(1.0, abs=1e-9) and set(found.by) == {"closed form"}


def test_a_joint_s_slope_is_the_same_by_either_name_and_that_of_a_column() -> None:
    design = read_wire("workhorse")
    core, *others = design.parts
    assert isinstance(core, Taper)
    one = Taper(core.material, (0.0, 8e-3), (0.04e-3, 0.04e-3))
    two = Taper(core.material, (8e-3, 0.3), (0.08e-3, 0.08e-3))
    split = replace(design, parts=(one, two, *others))
    rows = [find_dimension(split, name) for name in ("core 1 end", "core 2 start")]
    figures = [FIGURES["tip_load_10mm"], FIGURES["column_10mm_pinned"]]
    bench = sensitivities(split, rows, figures).slopes
    assert bench[:, 0] == pytest.approx(bench[:, 1])
    assert bench == pytest.approx(sensitivities(split, rows, figures, simulate=False).slopes, rel=0.05)
    assert bench[0, 0] < -1.5


def test_the_definition_is_that_of_the_value() -> None:
    design = bare()
    rows = [find_dimension(design, "core 1 diameter")]
    figures = [FIGURES["tip_load_10mm"], FIGURES["torsional_stiffness_100mm"]]
    found = sensitivities(design, rows, figures)
    assert found.definitions == (tip_load(profile(design)).definition, figures[1].words)
    assert found.by == ("simulated", "reduced")
    assert sensitivities(design, rows, figures, simulate=False).definitions == tuple(f.words for f in figures)


def test_a_reduced_slope_stands_beside_the_benchs_value() -> None:
    """The title of a tornado plot gives the ratio of the bench's page, and what is doubtful is said."""
    design = read_wire("workhorse")
    figures = [find_figure(design, name) for name in ("torque_ratio_percent", "tip_load_10mm_gf")]
    found = sensitivities(design, [find_dimension(design, "core 1 diameter")], figures, simulate=False)
    (tested,) = simulate(figures[:1], profile(design)).values()
    value, by = value_of(found, 0, {"torque_ratio": tested})
    assert (
        value == f"{100.0 * tested.value:.3g}" and by == f"simulated; slopes of {100.0 * found.values[0]:.3g}, reduced"
    )
    odd = {"torque_ratio": replace(tested, doubt="the tip whips")}
    assert value_of(found, 0, odd)[1].endswith("; in doubt") and doubt_of(found, figures[0], odd) == "the tip whips"
    facts = slope_facts(found, odd)["figures"]
    assert facts["torque_ratio_percent"]["simulated"] == pytest.approx(100.0 * tested.value)
    assert facts["torque_ratio_percent"]["doubt"] == "the tip whips"
    assert facts["torque_ratio_percent"]["tip"] == "tip bent by 45 deg"
    assert not {"simulated", "doubt", "tip"} & set(facts["tip_load_10mm_gf"])
    assert value_of(found, 1, {}) == (f"{found.values[1] / figures[1].factor:.3g}", "reduced")


def test_the_wide_end_of_a_cone_does_not_move_the_tip_pressure() -> None:
    """It moves as the load does; the tip's own diameter not at all, that of its face by -2."""
    base = changed(read_wire("workhorse"), {"coil 1 start": 1e-3})
    design = replace(base, tip=Tip("tapered", base.tip.diameter, 0.06e-3, 1e-3, 0.2e-3))
    names = ("coil 1 mean_diameter", "tip diameter", "tip end_diameter")
    figures = [FIGURES["tip_load_10mm"], FIGURES["tip_pressure_10mm"]]
    found = sensitivities(design, [find_dimension(design, name) for name in names], figures, simulate=False)
    load, pressure = found.slopes
    assert pressure - load == pytest.approx([0.0, 0.0, -2.0], abs=1e-9)
    assert load[1:] == pytest.approx([0.0, 0.0], abs=1e-9)
