from collections.abc import Callable
from math import inf, isnan

import numpy as np
import pytest
from scipy.optimize import brentq

from tipmech import closed_forms as cf
from tipmech.bench import press
from tipmech.bench.tip_load import FRICTION, LONG_TRAVEL, TRAVEL, TipLoad, tip_load
from tipmech.bench.tip_shape import Arc, Shape, one_bend
from tipmech.profile import Profile, uniform
from tipmech.rod.errors import NotConvergedError

EI = 5e-8


def wire(scale: float = 1.0) -> Profile:
    return uniform(scale * EI, 50e-3)


def ribbon(ratio: float) -> Profile:
    """Flat section: EI2 = ratio EI1."""
    one = np.ones(2)
    bend, stiff = EI * one, 300.0 * one
    return Profile(
        np.array([0.0, 50e-3]), bend, ratio * bend, bend, stiff, 0.4 * stiff, 1e-4 * one, one, 1e-4, 0.1, "ribbon"
    )


def ribbon_tipped() -> Profile:
    """A flat tip of 12 mm before a core that grows, a bare end of 1 mm: near those of a wire of many parts."""
    distance = np.array([0.0, 0.998, 1.002, 11.998, 12.002, 16.0, 20.0, 60.0]) * 1e-3
    low = np.array([3.9, 3.9, 7.6, 7.6, 7.7, 10.1, 13.6, 80.0]) * 1e-8
    high = np.array([35.0, 35.0, 39.0, 39.0, 7.7, 10.1, 13.6, 80.0]) * 1e-8
    stretch = np.array([521.0, 521.0, 523.0, 523.0, 151.0, 197.0, 249.0, 900.0])
    turn, one = 0.9 * low, np.ones(8)
    return Profile(distance, low, high, turn, stretch, 0.35 * stretch, 1e-4 * one, one, 1e-4, 0.1, "ribbon tipped")


@pytest.fixture(scope="module")
def stuck() -> TipLoad:
    return tip_load(wire(), 10e-3, travel=LONG_TRAVEL)


def test_force_is_that_of_a_pinned_column(stuck: TipLoad) -> None:
    assert isnan(stuck.slipped_at)
    for travel in (TRAVEL, LONG_TRAVEL):
        exact = cf.pinned_elastica(EI, 10e-3, travel).axial
        assert stuck.force_within(travel) == pytest.approx(exact, rel=5e-3)
    assert stuck.force == stuck.force_within(LONG_TRAVEL) > stuck.force_within(TRAVEL)


def test_the_lateral_force_is_that_of_a_pinned_column(stuck: TipLoad) -> None:
    exact = cf.pinned_elastica(EI, 10e-3, float(stuck.shortening[-1]))
    assert stuck.lateral[-1] == pytest.approx(exact.lateral, rel=1e-2)
    assert stuck.angle[-1] == pytest.approx(exact.angle, rel=1e-2)


def test_the_record_is_whole(stuck: TipLoad) -> None:
    n = len(stuck.displacement)
    assert stuck.displacement[0] == 0.0 and stuck.displacement[-1] == pytest.approx(LONG_TRAVEL)
    assert np.any(np.isclose(stuck.displacement, TRAVEL, rtol=1e-9))
    assert np.all(np.diff(stuck.displacement) > 0.0)
    assert stuck.shapes.shape == (n, 61, 3) and np.all(np.isfinite(stuck.shapes))
    assert stuck.penetration < 0.05
    np.testing.assert_allclose(stuck.shapes[:, 0], 0.0)
    assert np.hypot(*stuck.shapes[0, -1, :2]) == pytest.approx(1e-3 * 10e-3, rel=1e-2)  # the stated offset
    for words in ("10 mm", "1 mm of travel", "friction 0.2", "offset 0.1 %"):
        assert words in stuck.definition


def test_the_tip_slips_where_friction_ends() -> None:
    """The lateral over the axial force reaches mu; then the tip lets go and the force falls for good."""
    test = tip_load(wire(), 5e-3, travel=LONG_TRAVEL)
    before = test.displacement <= test.slipped_at  # it sticks until there
    shortenings = np.linspace(0.5e-3, 1e-3, 200)
    ratio = [p.lateral / p.axial for p in (cf.pinned_elastica(EI, 5e-3, s) for s in shortenings)]
    expected = float(np.interp(0.2, ratio, shortenings))
    assert test.slipped_at == pytest.approx(expected, rel=0.03)
    assert test.force == pytest.approx(np.max(test.axial[before]))
    assert np.max(test.axial[~before]) < 0.5 * test.force
    np.testing.assert_allclose(test.lateral[~before], 0.2 * test.axial[~before], rtol=0.02)


def test_the_onset_of_slip_does_not_hang_on_the_travel_asked_for() -> None:
    """It was located to a share of the travel: up to a fifth of it too late where friction is weak."""
    short, long = (tip_load(wire(), 10e-3, friction=0.03, travel=t).slipped_at for t in (TRAVEL, LONG_TRAVEL))
    assert short == pytest.approx(long, rel=1e-3)


def test_a_tip_that_never_sticks_slips_from_its_first_touch() -> None:
    aside = tip_load(wire(), 10e-3, friction=0.02, shape=one_bend(0.8, 2e-3))
    assert aside.slipped_at == 0.0 and aside.displacement[-1] == pytest.approx(TRAVEL)


def test_weak_friction_snaps_and_stays_solved() -> None:
    for friction in (0.02, 0.05, 0.1):
        test = tip_load(wire(), 10e-3, friction=friction, travel=LONG_TRAVEL)
        assert 0.0 < test.slipped_at < LONG_TRAVEL
        # the peak comes before the slip, at most the pinned column's force
        assert test.force <= cf.pinned_elastica(EI, 10e-3, test.slipped_at).axial * 1.001


def test_band_spans_the_end_conditions() -> None:
    free, bench, pinned = (tip_load(wire(), 10e-3, friction=friction).force for friction in (0.0, FRICTION, inf))
    assert free == pytest.approx(cf.euler_load(EI, 10e-3, "clamped-free"), rel=0.02)
    assert pinned == pytest.approx(cf.euler_load(EI, 10e-3, "clamped-pinned"), rel=0.02)
    assert free < bench <= pinned * (1.0 + 1e-9)


def test_load_is_proportional_to_stiffness() -> None:
    """A smooth function for a root finder: uniform wires' loads over EI agree."""
    loads = [tip_load(wire(s)).force / s for s in (0.2, 1.0, 1.7, 20.0)]
    np.testing.assert_allclose(loads, loads[1], rtol=2e-3)


def test_a_ribbon_folds_over_its_flat_side() -> None:
    """Turning the section by 90 degrees changes the plane of the fold and nothing else."""
    flat, upright = tip_load(ribbon(4.0)), tip_load(ribbon(0.25))
    assert flat.force == pytest.approx(4.0 * upright.force, rel=5e-3)
    assert np.max(np.abs(flat.shapes[:, :, 0])) < 1e-6 * np.max(np.abs(flat.shapes[:, :, 1]))
    assert np.max(np.abs(upright.shapes[:, :, 1])) < 1e-6 * np.max(np.abs(upright.shapes[:, :, 0]))


def test_elements_do_not_decide() -> None:
    coarse, fine = tip_load(wire(), elements=30).force, tip_load(wire(), elements=120).force
    assert coarse == pytest.approx(fine, rel=3e-3)


@pytest.mark.parametrize(("degrees", "length"), [(45.0, 2e-3), (90.0, 1e-3), (45.0, 1.5e-3), (60.0, 0.5e-3)])
def test_a_shape_s_whole_angle_enters_at_any_mesh(degrees: float, length: float) -> None:
    """At rest the tip's tangent is turned by the bend's angle and the offset's; the load hardly knows the mesh."""
    shape = one_bend(np.radians(degrees), length)
    found = [tip_load(wire(), shape=shape, elements=n) for n in (60, 61, 480)]
    for test in found:
        assert test.angle[0] == pytest.approx(np.radians(degrees) + test.natural * 10e-3, abs=1e-6)
    assert [t.force for t in found] == pytest.approx([found[2].force] * 3, rel=5e-3)


def test_two_bends_turn_the_tip_about_their_own_axes() -> None:
    """The far end of a second bend in the same plane adds its angle, in the opposite one takes it off."""
    one = Arc(0.5, 2e-3)
    for roll, angle in ((0.0, 0.8), (np.pi, 0.2)):
        test = tip_load(wire(), shape=Shape((one, Arc(0.3, 1.55e-3, 4.02e-3, roll))))
        assert test.angle[0] == pytest.approx(angle + test.natural * 10e-3, abs=1e-6)


def stepped(at: float) -> Profile:
    """A wire sixteen times as stiff from `at` (m from the tip) on, as a design's profile steps."""
    s = np.array([0.0, at - 2e-6, at + 2e-6, 50e-3])
    bend, one = EI * np.array([1.0, 1.0, 16.0, 16.0]), np.ones(4)
    return Profile(s, bend, bend, bend, 300.0 * one, 120.0 * one, 1e-4 * one, one, 1e-4, 0.1, "stepped")


def euler_stepped(at: float, length: float = 10e-3) -> float:
    """Buckling load of the two pieces, pinned at the tip, clamped at `length`: their conditions' determinant is 0.

    Deflection A sin(k s) + B s in the distal piece, C sin(q s) + D cos(q s) + B s in the other (Timoshenko & Gere,
    ch. 2, from memory).
    """

    def determinant(load: float) -> float:
        k, q = np.sqrt(load / EI), np.sqrt(load / (16.0 * EI))
        rows = [
            [np.sin(k * at), 0.0, -np.sin(q * at), -np.cos(q * at)],
            [k * np.cos(k * at), 0.0, -q * np.cos(q * at), q * np.sin(q * at)],
            [0.0, length, np.sin(q * length), np.cos(q * length)],
            [0.0, 1.0, q * np.cos(q * length), -q * np.sin(q * length)],
        ]
        return float(np.linalg.det(np.array(rows)))

    loads = np.linspace(1.01, 15.9, 800) * cf.euler_load(EI, length, "clamped-pinned")
    signs = np.sign([determinant(p) for p in loads])
    first = int(np.flatnonzero(signs[1:] != signs[:-1])[0])
    return float(brentq(determinant, loads[first], loads[first + 1]))


@pytest.mark.parametrize("at", [6e-3, 7.1e-3, 8e-3])
def test_a_step_moves_the_load_as_it_moves_a_column(at: float) -> None:
    """Slope in the step's position by +- 1 %, less than half an element: it was 0 with a section for each element."""
    low, high = at * np.exp(-0.01), at * np.exp(0.01)

    def slope(load: Callable[[float], float]) -> float:
        return float(np.log(load(high) / load(low)) / 0.02)

    bench = slope(lambda s: tip_load(stepped(s)).force)
    assert bench == pytest.approx(slope(euler_stepped), rel=0.05)  # the bench's force lies 1 % above, where it rises
    assert bench == pytest.approx(slope(lambda s: tip_load(stepped(s), elements=480).force), rel=0.02)
    assert tip_load(stepped(at)).force == pytest.approx(tip_load(stepped(at), elements=480).force, rel=2e-3)


def test_the_wire_bends_the_way_its_offset_leads(monkeypatch: pytest.MonkeyPatch) -> None:
    """A pinned wire whose tip lies aside bows to the other side; increments 64 times smaller find the same. Some
    lengths and meshes ended on the other state, 3 to 7 % higher: an increment across the buckling load reaches both."""
    test = tip_load(ribbon_tipped(), 15e-3)
    assert np.all(test.shapes[2:, 10:-10, :2] @ test.shapes[0, -1, :2] < 0.0)
    assert np.all(np.diff(test.axial) > 0.0)
    monkeypatch.setattr(press, "FIRST_STEP", press.FIRST_STEP / 64.0)
    assert tip_load(ribbon_tipped(), 15e-3).force == pytest.approx(test.force, rel=1e-6)


def test_the_load_is_smooth_in_length_and_mesh() -> None:
    """Each length against a cubic through four others (smooth: 1e-5 off); meshes against the finest."""
    loads = np.log([tip_load(ribbon_tipped(), float(x)).force for x in np.arange(14.5, 16.01, 0.1) * 1e-3])
    between = (-loads[:-4] + 4.0 * loads[1:-3] + 4.0 * loads[3:-1] - loads[4:]) / 6.0
    np.testing.assert_allclose(loads[2:-2], between, atol=1e-4)
    meshes = [tip_load(ribbon_tipped(), 15e-3, elements=n).force for n in (30, 60, 90, 120, 240)]
    np.testing.assert_allclose(meshes, meshes[-1], rtol=5e-3)


def test_a_smaller_offset_comes_nearer_to_the_perfect_column() -> None:
    exact = cf.pinned_elastica(EI, 10e-3, TRAVEL).axial
    errors = [abs(tip_load(wire(), offset=o, elements=120).force / exact - 1.0) for o in (4e-3, 1e-3, 2e-4)]
    assert errors[0] > errors[1] > errors[2]


@pytest.mark.parametrize(
    ("argument", "value"),
    [("free_length", 0.0), ("free_length", 60e-3), ("free_length", float("nan")), ("friction", -0.1),
     ("friction", float("nan")), ("travel", 0.0), ("travel", 5e-3), ("offset", 0.0), ("offset", 0.2),
     ("elements", 4)],
)  # fmt: skip
def test_wrong_arguments_are_named(argument: str, value: float) -> None:
    with pytest.raises(ValueError, match=argument):
        tip_load(wire(), **{argument: value})  # type: ignore[arg-type]


def test_force_within_refuses_what_was_not_run(stuck: TipLoad) -> None:
    with pytest.raises(ValueError, match="travel"):
        stuck.force_within(2e-3)


def test_pinned_never_slips() -> None:
    assert isnan(tip_load(wire(), 5e-3, friction=inf, travel=LONG_TRAVEL).slipped_at)


def test_a_wire_that_finds_no_equilibrium_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(press, "HARD", 1)  # no Newton iteration besides the first look
    with pytest.raises(NotConvergedError, match="no stable equilibrium at 0 mm") as error:
        tip_load(wire())
    assert error.value.last.shape == (61, 3)


def test_a_preshaped_tip_gives_way_sooner() -> None:
    """The test is made without the preshape; with it the tip meets the plate aside and bends from the start."""
    straight = tip_load(wire(), 10e-3)
    bent = tip_load(wire(), 10e-3, shape=one_bend(0.8, 2e-3))
    assert bent.force < 0.6 * straight.force
    assert "without its preshape" in straight.definition and "with its preshape" in bent.definition
