"""Reduced figures against closed forms of other kinds of wires, and beside the simulated bench."""

from dataclasses import replace

import numpy as np
import pytest
from unit.lab.bare import D, bare

from tipmech.bench.tip_load import TRAVEL, tip_load
from tipmech.bench.tip_shape import STANDARD_TIP, STRAIGHT, Arc, Shape
from tipmech.closed_forms import EULER
from tipmech.files.wire import read_wire
from tipmech.lab.evaluate import find_figure, reduced_values
from tipmech.lab.figure import simulate
from tipmech.lab.figures import FIGURES, figures_of
from tipmech.lab.reduced import (
    CELLS,
    column_load,
    flexure,
    lateral_force,
    lateral_stiffness,
    torque_lag,
    torsional_stiffness,
)
from tipmech.profile import Profile, uniform
from tipmech.units import UNITS, suffix
from tipmech.wire.design import profile
from tipmech.wire.parts import Taper
from tipmech.wire.presets import PRESETS
from tipmech.wire.tip import Bend, SecondBend

SMALL_DEFLECTION = 2e-3  # relative: slopes of 3 % in the flexure test, its elements, no shear in the reduced figure
EI, L = 5e-8, 10e-3
QUADRATURE = 2.0 / CELLS**2  # relative: midpoint rule and lumped weights err by 0.25 to 1.5 over CELLS^2
RISE = 0.5  # of travel over length: relative rise of the bench's force beyond the buckling load (0.3 to 0.41 found)


def stepped(EI_tip: float, EI_base: float, at: float) -> Profile:
    """Two uniform pieces joined within 2 um, as a design's profile joins them."""
    one = uniform(EI_base, 0.3)
    s = np.array([0.0, at - 1e-6, at + 1e-6, 0.3])
    rows = {key: one.at(key, s) for key in ("EI1", "EI2", "GJ", "EA", "GA", "radius", "mass")}
    scale = np.array([EI_tip, EI_tip, EI_base, EI_base]) / EI_base
    rows |= {key: rows[key] * scale for key in ("EI1", "EI2", "GJ")}
    return Profile(distance=s, tip_radius=1e-4, friction=0.1, name="stepped", **rows)


def test_a_uniform_wire() -> None:
    p = uniform(EI, 0.3)
    for tip in ("free", "pinned", "clamped"):
        assert column_load(p, L, tip) == pytest.approx(EULER[f"clamped-{tip}"] * EI / L**2, rel=2.0 * QUADRATURE)
    assert lateral_force(p, L, 0.3) == pytest.approx(2.0 * EI * 0.3 / L**2, rel=QUADRATURE)
    assert lateral_stiffness(p, L) == pytest.approx(3.0 * EI / L**3, rel=QUADRATURE)
    assert flexure(p, 50e-3) == pytest.approx(EI, rel=QUADRATURE)
    assert torsional_stiffness(p) == pytest.approx(EI / 1.3 / 0.1, rel=1e-12)


def test_a_stepped_wire() -> None:
    """Cantilever of two pieces: int s^2/EI by hand; column: determinant of its two pieces' conditions."""
    soft, stiff, at = EI, 4.0 * EI, 4e-3
    p = stepped(soft, stiff, at)
    by_hand = 3.0 / (at**3 / soft + (L**3 - at**3) / stiff)
    assert lateral_stiffness(p, L) == pytest.approx(by_hand, rel=3e-4)  # the 2 um of the joint

    def determinant(load: float) -> float:
        """Deflection A sin(k s) + B s in the tip's piece (pinned at s = 0), the clamp at s = L in the other."""
        k, q = np.sqrt(load / soft), np.sqrt(load / stiff)
        rows = [
            [np.sin(k * at), 0.0, -np.sin(q * at), -np.cos(q * at)],
            [k * np.cos(k * at), 0.0, -q * np.cos(q * at), q * np.sin(q * at)],
            [0.0, L, np.sin(q * L), np.cos(q * L)],
            [0.0, 1.0, q * np.cos(q * L), -q * np.sin(q * L)],
        ]  # deflection and slope continue at the joint (moment too: M = -P y + R s), both vanish at the clamp
        return float(np.linalg.det(np.array(rows)))

    load = column_load(p, L)
    assert determinant(load * 0.999) * determinant(load * 1.001) < 0.0
    assert EULER["clamped-pinned"] * soft / L**2 < load < EULER["clamped-pinned"] * stiff / L**2


@pytest.mark.parametrize("preset", PRESETS)
def test_the_tip_load_is_close_to_the_bench(preset: str) -> None:
    p = profile(read_wire(preset))
    for length in (5e-3, 10e-3, 15e-3):
        assert column_load(p, length) == pytest.approx(tip_load(p, length).force, rel=RISE * TRAVEL / length)


@pytest.mark.parametrize("preset", PRESETS)
def test_the_other_figures_are_those_of_their_benches(preset: str) -> None:
    design = read_wire(preset)
    p = profile(design)
    alike = ("lateral_stiffness", "flexure", "column", "prolapse")
    figures = [f for f in figures_of(design) if f.key.startswith(alike)]
    assert len(figures) == 3 + 4 + 2 + 1 + (3 if preset == "very_soft" else 0)  # about the hard axis too
    tested = simulate(figures, p)
    for figure in figures:
        assert figure.reduced is not None
        assert figure.reduced(p) == pytest.approx(tested[figure.key].value, rel=SMALL_DEFLECTION), figure.key


@pytest.mark.parametrize(
    ("preset", "own"),
    [("workhorse", False), ("stiff_tapered", False), ("stranded_shaped", False), ("stranded_shaped", True)],
)
def test_the_reduced_torque_figures_start_a_search_near_enough(preset: str, own: bool) -> None:
    """Without friction and clearance, the largest torque all the way: an upper bound of the lag, within twice."""
    design = read_wire(preset)
    p, shape = profile(design), Shape.of(design) if own else STRAIGHT
    figures = {f.key: f for f in (figures_of(design) if own else FIGURES.values())}
    lag, ratio = figures["torque_lag"], figures["torque_ratio"]
    assert lag.simulate(p) < lag.reduced(p) < 2.0 * lag.simulate(p)
    assert ratio.reduced(p) == pytest.approx(1.0 - lag.reduced(p) / (3.0 * np.pi))
    assert ratio.reduced(p) < ratio.simulate(p) <= 1.0
    assert (shape if own else STANDARD_TIP).words() in lag.words and "tortuous path" in lag.words


def test_the_torque_figures_are_of_the_designs_own_tip() -> None:
    design = read_wire("stranded_shaped")
    straight = replace(design, bend=Bend(0.0, 2e-3), second_bend=None)
    twice = replace(design, bend=replace(design.bend, angle=2.0 * design.bend.angle), second_bend=None)
    once = replace(twice, bend=design.bend)
    lag = [reduced_values(d, [find_figure(d, "torque_lag_deg")])["torque_lag"] for d in (straight, twice, once)]
    assert lag[1] == pytest.approx(2.0 * lag[2])
    assert lag[0] == pytest.approx(torque_lag(profile(straight), STANDARD_TIP))
    far = replace(straight, second_bend=SecondBend(1.0, 5e-3, 0.2))
    assert [f.key for f in figures_of(far) if f.key.startswith("torque_l")] == ["torque_lag_straight_tip"]


def test_two_bends_add_as_vectors_in_one_bend_of_the_path() -> None:
    p, a, b = uniform(EI, 0.3), Arc(0.5, 2e-3), Arc(0.5, 2e-3, 4e-3)
    one = torque_lag(p, Shape((a,)))
    assert torque_lag(p, Shape((a, b))) == pytest.approx(2.0 * one)
    assert torque_lag(p, Shape((a, replace(b, roll=np.pi)))) == pytest.approx(0.0, abs=1e-12)
    assert torque_lag(p, Shape((a, replace(b, roll=np.pi, start=40e-3)))) == pytest.approx(2.0 * one)


def test_the_easy_axis_bends() -> None:
    p = uniform(EI, 0.3)
    turned = Profile(**{**vars(p), "EI1": p.EI1 * 9.0})
    for figure in (column_load, lateral_stiffness):
        assert figure(turned, L) == pytest.approx(figure(p, L), rel=1e-12)


def test_figures_have_units_and_need_their_length() -> None:
    for key, figure in FIGURES.items():
        assert key == figure.key and suffix(figure.name) == figure.unit and figure.factor == UNITS[figure.unit]
    short = replace(bare(), parts=(Taper(bare().parts[0].material, (0.0, 0.09), (D, D)),))
    keys = {figure.key for figure in figures_of(short)}
    assert "flexure_EI_50mm" in keys and "flexure_EI_100mm" not in keys and "torsional_stiffness_100mm" not in keys
    assert not any(key.startswith(("torque", "track", "whip")) for key in keys)
