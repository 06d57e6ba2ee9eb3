from dataclasses import replace

import numpy as np
import pytest

from tipmech import closed_forms as cf
from tipmech.bench import column as bench
from tipmech.bench.column import BRACKET, FAR_END, column, compressed, critical_load
from tipmech.bench.piece import piece, planes
from tipmech.bench.prolapse import FED, _Gap, prolapse
from tipmech.checks import FieldError
from tipmech.profile import Profile, uniform
from tipmech.rod.continuation import critical_point
from tipmech.rod.errors import NotConvergedError
from tipmech.rod.solve import solve
from tipmech.rod.structure import Structure
from tipmech.rod.supports import Support, clamp

EI = 5e-8


def tapered(ratio: float = 8.0) -> Profile:
    """Rigidity that grows linearly by `ratio` over 60 mm; three times as large about the other axis."""
    one = np.ones(2)
    bend = EI * np.array([1.0, ratio])
    return Profile(
        np.array([0.0, 60e-3]), 3.0 * bend, bend, bend, 300.0 * one, 300.0 * one, 1e-4 * one, one, 1e-4, 0.1, "taper"
    )


def test_a_uniform_wire_has_eulers_loads() -> None:
    test = column(uniform(EI, 50e-3))
    assert tuple(test.loads) == tuple(FAR_END)
    for ends, load in test.loads.items():
        assert load == pytest.approx(cf.euler_load(EI, 10e-3, ends), rel=1e-3)
    np.testing.assert_allclose(test.pinned * test.unsupported**2 / EI, cf.EULER["clamped-pinned"], rtol=2e-3)
    assert "10 mm" in test.definition and "3 to 40 mm" in test.definition and "tip itself" in test.definition


def test_the_count_and_the_path_find_the_same_load() -> None:
    """Bisection on the inertia of straight states against the special point of a followed path."""
    rod = piece(tapered(), 0.0, 25e-3, 40)
    for ends in FAR_END:
        load = critical_load(rod, ends)
        point = critical_point(compressed(rod, ends, planes(rod)[0]), 1.1 * load)
        assert point is not None and point.kind == "bifurcation"
        assert load == pytest.approx(point.factor, rel=2.0 * BRACKET)


def test_where_the_distal_support_stands_matters() -> None:
    tip, shaft = column(tapered()), column(tapered(), distal=20e-3)
    assert np.all(shaft.clamped > tip.clamped) and "20 mm from the tip" in shaft.definition
    assert np.all(np.diff(tip.clamped) < 0.0)
    np.testing.assert_array_equal(shaft.unsupported, tip.unsupported)
    assert len(column(tapered(), distal=40e-3).unsupported) == 9  # those up to 20 mm


def test_a_coil_soft_along_its_axis_buckles_above_eulers_load() -> None:
    """P (1 + P/GA - P/EA) = P_Euler: the search must not stop at Euler's load."""
    bend, shear, axial, length = 6.353e-9, 0.8296, 0.3006, 3e-3
    one = np.ones(2)
    coil = Profile(
        np.array([0.0, length]), bend * one, bend * one, bend * one, axial * one, shear * one, 1e-4 * one, one, 1e-4,
        0.1, "coil",
    )  # fmt: skip
    load = critical_load(piece(coil, 0.0, length, 80), "clamped-free")
    euler = cf.euler_load(bend, length, "clamped-free")
    assert load == pytest.approx(cf.shearable_column_load(euler, shear, axial), rel=5e-4) and load > euler


def test_a_bound_that_is_too_low_is_said() -> None:
    rod = piece(uniform(EI, 50e-3), 0.0, 10e-3, 20)
    with pytest.raises(NotConvergedError, match="stable up to"):
        critical_load(rod, "clamped-free", bound=1e-4)
    with pytest.raises(FieldError, match="clamped-guided"):
        critical_load(rod, "free-free")  # type: ignore[arg-type]


def test_a_straight_state_that_is_not_found_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bench, "STRAIGHT", -1.0)  # no state is straight
    with pytest.raises(NotConvergedError, match="went aside"):
        column(uniform(EI, 50e-3))


def test_the_push_of_a_prolapsing_wire_falls() -> None:
    test = prolapse(uniform(EI, 50e-3), fed=0.5)
    exact = np.array([cf.fed_elastica(EI, test.unsupported, float(u)) for u in test.fed[1:]])
    np.testing.assert_allclose(test.axial[1:], exact[:, 0], rtol=1e-3)
    np.testing.assert_allclose(test.push[1:], exact[:, 1], rtol=1e-3)
    assert test.fed[0] == pytest.approx(20e-3 * test.critical / uniform(EI, 50e-3).EA[0], rel=1e-3)
    assert test.push[0] == test.critical and np.all(np.diff(test.push) < 0.0) and np.all(np.diff(test.bow) > 0.0)
    assert test.shapes.shape == (25, 81, 2)
    np.testing.assert_allclose(test.shapes[:, -1], [[20e-3, 0.0]] * 25, atol=1e-9)  # the gap stays
    np.testing.assert_allclose(np.max(np.abs(test.shapes[:, :, 1]), axis=1), test.bow)


def test_the_push_is_the_work_of_feeding() -> None:
    """Of a wire that is not alike at both mouths: trapezoids of the push give the energy stored since the first bow."""
    test = prolapse(tapered(), 20e-3, states=40)
    work = np.sum(0.5 * (test.push[2:] + test.push[1:-1]) * np.diff(test.fed[1:]))
    assert test.energy[-1] - test.energy[1] == pytest.approx(work, rel=1e-3)
    # with the axial force in its place it is not
    other = np.sum(0.5 * (test.axial[2:] + test.axial[1:-1]) * np.diff(test.fed[1:]))
    assert other > 1.05 * work


def test_a_soft_section_fed_into_the_gap_draws_itself_in() -> None:
    """A wire a seventh as stiff from 15 mm on: there the push falls below 0, and the energy with it."""
    distance = np.array([0.0, 15e-3 - 1e-6, 15e-3 + 1e-6, 60e-3])
    one = np.ones(4)
    bend = EI * np.array([7.0, 7.0, 1.0, 1.0])
    wire = Profile(distance, bend, bend, bend, 300.0 * one, 300.0 * one, 1e-4 * one, one, 1e-4, 0.1, "soft")
    test = prolapse(wire, 10e-3, fed=0.6)
    soft = test.fed > 5e-3
    assert np.all(test.push[~soft] > 0.0) and np.all(test.push[soft][:2] < 0.0)
    gained = np.diff(test.energy)
    pulled = (test.push[:-1] < 0.0) & (test.push[1:] < 0.0)
    assert np.any(pulled) and np.all(gained[pulled] < 0.0) and np.all(gained[~soft[1:]] > 0.0)


@pytest.mark.parametrize("torsion", [0.5, 1.0 / 1.3])
def test_the_bow_does_not_escape_into_space(torsion: float) -> None:
    """The planar states, solved again with all motion free, are stable up to the end of the test.

    A section 2 % stiffer the other way: in a round one the bow turns about the axis freely, a zero eigenvalue.
    """
    round_wire = uniform(EI, 50e-3)
    wire = replace(round_wire, EI2=1.02 * round_wire.EI1, GJ=torsion * round_wire.EI1)
    gap = _Gap.of(wire, 20e-3, 0.0, 40)
    now, _, state = gap.bowing()
    for goal in (0.5e-3, 4e-3, FED * 20e-3):
        state, now = gap.feed(state, now, goal), goal
        moved = Support(-1, displacement=(0.0, 0.0, -goal))
        free = solve(Structure(state.structure.rod, [clamp(0), moved]), 1.0, start=replace(state, factor=1.0))
        assert free.converged and free.stable
        np.testing.assert_allclose(free.x, state.x, atol=1e-9)


def test_a_stocky_wire_is_refused() -> None:
    with pytest.raises(FieldError, match=r"unsupported is 1 mm.*shortened by 1%"):
        prolapse(uniform(1e-4, 50e-3), 1e-3)


@pytest.mark.parametrize(
    ("argument", "value"),
    [("free_length", 0.0), ("free_length", 60e-3), ("elements", 8), ("distal", -1e-3), ("unsupported", ()),
     ("unsupported", (2e-2, 1e-2)), ("unsupported", (6e-2,))],
)  # fmt: skip
def test_wrong_arguments_are_named(argument: str, value: object) -> None:
    with pytest.raises(FieldError, match=argument):
        column(uniform(EI, 50e-3), **{argument: value})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("argument", "value"),
    [("unsupported", 0.0), ("unsupported", 60e-3), ("distal", -1e-3), ("fed", 0.0), ("fed", 2.0), ("states", 1),
     ("elements", 8), ("unsupported", 40e-3)],
)  # fmt: skip
def test_wrong_arguments_of_the_prolapse_are_named(argument: str, value: float) -> None:
    field = "fed" if value == 40e-3 else argument  # the wire is too short to be fed in
    with pytest.raises(FieldError, match=field):
        prolapse(uniform(EI, 50e-3), **{argument: value})  # type: ignore[arg-type]
