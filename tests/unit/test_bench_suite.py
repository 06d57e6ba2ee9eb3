"""All bench tests of a wire: a test that it does not allow is named, the others stand."""

from dataclasses import replace

import pytest

from tipmech.bench.suite import Suite, run_suite
from tipmech.bench.tip_shape import STANDARD_TIP, Shape
from tipmech.cli.design_pictures import said
from tipmech.cli.wire import bench_figures, definitions, told
from tipmech.files.wire import read_wire
from tipmech.lab.evaluate import find_figure
from tipmech.wire.design import Design
from tipmech.wire.parts import Taper


@pytest.fixture(scope="module")
def suites() -> dict[str, tuple[Design, Suite]]:
    shaped = read_wire("stranded_shaped")
    straight = read_wire("workhorse")
    core = next(p for p in straight.parts if isinstance(p, Taper))
    short = replace(core, distances=(*core.distances[:3], 0.1), diameters=(*core.diameters[:3], 0.2e-3))
    coils = tuple(replace(p, end=min(p.end, 0.1)) for p in straight.parts if not isinstance(p, Taper))
    stub = replace(straight, name="stub", parts=(short, *coils))
    return {d.name: (d, run_suite(d)) for d in (shaped, stub, straight)}


def test_what_cannot_be_made_is_named(suites: dict[str, tuple[Design, Suite]]) -> None:
    _, short = suites["stub"]
    assert set(short.not_made) == {"torque response", "tracking"}
    assert short.torque is short.torque_shaped is short.track is None
    assert "140 mm" in short.not_made["torque response"]
    figures = bench_figures(short)
    assert figures["tip_load_10mm_gf"] > 0.0 and "torque_ratio" not in figures
    assert "Not made with stub: torque response" in told(["stub"], [short])


def test_a_shape_has_figures_of_its_own(suites: dict[str, tuple[Design, Suite]]) -> None:
    design, suite = next(iter(suites.values()))
    assert not suite.not_made
    assert suite.torque_shaped is not None and suite.shaped_load is not None
    figures = bench_figures(suite)
    assert figures["torque_lag_shaped_tip_deg"] > 5.0 * figures["torque_lag_deg"]
    assert figures["tip_load_10mm_with_its_shape_gf"] < 0.2 * figures["tip_load_10mm_gf"]
    assert suite.torque_shaped.shape == Shape.of(design) and len(suite.torque_shaped.shape.arcs) == 2
    assert "shaped by 35 deg" in definitions(suite)["Torque"] and " and " in suite.torque_shaped.shape.words()


def test_a_straight_wire_is_turned_with_the_standard_tip_too(suites: dict[str, tuple[Design, Suite]]) -> None:
    """What `tipmech design` calls its torque figures is on the bench's page."""
    design, suite = list(suites.values())[2]
    assert suite.torque is not None and suite.torque_shaped is not None and suite.shaped_load is None
    assert suite.torque_shaped.shape == STANDARD_TIP and not suite.torque.shape.arcs
    assert "shaped by 45 deg over 2 mm" in definitions(suite)["Torque"]
    figure = find_figure(design, "torque_ratio_percent")
    assert figure.tip == "tip bent by 45 deg" and said(figure) == "torque ratio (tip bent by 45 deg), %"
    assert bench_figures(suite)["torque_ratio_shaped_tip"] == figure.simulate(suite.stock)
    own = find_figure(next(iter(suites.values()))[0], "torque_ratio_percent")
    assert own.tip == "tip as shaped"


def test_definitions_that_differ_name_their_wires(suites: dict[str, tuple[Design, Suite]]) -> None:
    two = list(suites)[:2]
    text = told(two, [suites[name][1] for name in two])
    assert text.count("Tip load:") == 1 and "Torque:" in text and "Flexure (stub):" in text
