"""Steps of paths that must not jump, and special points that must be located or say that they are not."""

from dataclasses import replace
from math import pi, radians, sqrt

import numpy as np
import pytest

from tipmech.rod.build import Rod, Section, rod_along, straight
from tipmech.rod.continuation import LostPathError, critical_point, switch, trace
from tipmech.rod.loads import Force, LineLoad, Moment
from tipmech.rod.solve import Control, displace
from tipmech.rod.structure import Structure
from tipmech.rod.supports import Support, clamp, pin
from tipmech.validation.planar import _arch


def planar(points: np.ndarray, section: Section, corners: tuple[int, ...] = ()) -> Rod:
    space = np.column_stack([points, np.zeros(len(points))])
    return rod_along(space, section, directors=(0.0, 0.0, 1.0), corners=corners)


@pytest.mark.parametrize("turn", [0.3, 0.2, 0.1])
def test_limit_point_of_a_fine_deep_arch_is_bracketed_whatever_the_step(turn: float) -> None:
    """8.97289 EI/R2: planar Reissner equations, shooting (`validation/planar.py`); mesh error 3e-4."""
    angle = radians(107.5) * np.linspace(-1.0, 1.0, 161)
    rod = planar(np.column_stack([np.sin(angle), np.cos(angle)]), Section(1.0, 1e3, 1e3, 1e6, 1e6, 1e6))
    s = Structure(rod, [clamp(0), Support(-1, rotation="23")], loads=[Force(80, (0.0, -1.0, 0.0))])
    (point,) = trace(s, step=1.0, until=10.0, turn=turn, stop_at=1).specials
    assert point.kind == "limit" and point.narrow
    assert abs(point.bracket[1] - point.bracket[0]) <= 1e-9
    assert point.factor == pytest.approx(8.97289, rel=1e-3)


@pytest.mark.parametrize(("step", "turn"), [(5.0, 0.2), (2.0, 0.08), (20.0, 0.5)])
def test_a_shallow_toggle_does_not_jump(step: float, turn: float) -> None:
    """Limit loads 33.861 and 31.263 lbf: the same equations, shooting (`validation/planar.py`)."""
    part = np.linspace(-1.0, 1.0, 121)
    points = np.column_stack([12.943 * part, 0.386 * (1.0 - np.abs(part))])
    rod = planar(points, Section(9270.0, 9.27e6, 9.27e6, 1e9, 1e9, 1.885e6), (60,))
    s = Structure(rod, [clamp(0), clamp(-1)], loads=[Force(60, (0.0, -1.0, 0.0))])
    path = trace(s, step=step, until=(-1.0, 60.0), turn=turn)
    assert path.complete
    assert [p.kind for p in path.specials] == ["limit", "limit"] and all(p.narrow for p in path.specials)
    np.testing.assert_allclose([p.factor for p in path.specials], [33.86123, 31.26258], rtol=1e-3)
    down = np.array([-p.displacement[60, 1] for p in path.points])
    assert np.all(np.diff(down) > 0.0)
    assert np.any((down > 0.2321) & (down < 0.3917))  # no step past both limit points


@pytest.mark.parametrize("parts", [10, 20, 60])
def test_two_points_in_one_step_without_a_potential(parts: int) -> None:
    """Right-angle frame under opening end moments, 622.22 N mm (pi sqrt(EI GJ)/L = 622.21); the next point, 1.5 %
    above, turns the determinant's sign back."""
    part = np.linspace(0.0, 240.0, 61)[:, None]
    c = sqrt(0.5)
    first = part * np.array([c, c, 0.0])
    points = np.concatenate([first, first[-1] + part[1:] * np.array([c, -c, 0.0])])
    modulus, shear = 71240.0, 71240.0 / 2.62
    section = Section(modulus * 1350.0, modulus * 0.54, shear * 2.16, shear * 18.0, shear * 18.0, modulus * 18.0)
    rod = rod_along(points, section, directors=(0.0, 0.0, 1.0), corners=[60])
    loads = [Moment(0, (0.0, 0.0, -1.0)), Moment(-1, (0.0, 0.0, 1.0))]
    s = Structure(rod, [Support(0, "xyz", "23"), Support(-1, "yz", "23")], loads=loads)
    until = 700.0
    found = trace(s, step=until / parts, until=until).specials
    assert [p.counts for p in found] == [(0, 1), (1, 0)] and all(p.narrow for p in found)
    assert found[0].factor == pytest.approx(622.22, rel=1e-3)
    assert found[1].factor == pytest.approx(1.015 * found[0].factor, rel=2e-3)


def test_a_following_load_far_from_critical_shows_no_point() -> None:
    """Pairs of eigenvalues that only change places next to zero are no special points: a beam bent by a follower."""
    s = Structure(
        straight(1.0, 40, Section(1.0, 1.3, 0.8, 1e5, 1e5, 1e5)),
        [clamp(0)],
        loads=[Force(-1, (1.0, 0.0, 0.0), follower=True), Moment(-1, (0.0, 0.0, 0.1), follower=True)],
    )
    path = trace(s, step=3.0, until=30.0)
    assert path.complete and path.specials == ()


def twisted_ring(n: int) -> Structure:
    angle = 2.0 * pi * np.arange(n + 1) / n
    points = np.column_stack([np.cos(angle) - 1.0, np.sin(angle), 0.0 * angle])
    points[-1] = points[0]
    closed = rod_along(points, Section(1.0, 1.0, 1.0 / 1.3, 1e5, 1e5, 1e5), directors=(0.0, 0.0, 1.0))
    cut = replace(closed, natural=np.zeros_like(closed.natural))
    return Structure(cut, [clamp(0), Support(-1, turn=(0.0, 0.0, 1.0)), Support(n // 2, "z", "")])


def test_a_bracket_that_stays_wide_says_so() -> None:
    """Twisted ring, 2 pi sqrt(3) B/C (Michell 1890): a polygon is not quite symmetric, its path bends away; the width
    left falls with the mesh."""
    exact = 2.0 * pi * sqrt(3.0) * 1.3
    width = []
    for n in (60, 240):
        point = critical_point(twisted_ring(n), 16.0, step=1.0)
        assert point is not None and not point.narrow and point.counts == (0, 2)
        width.append(abs(point.bracket[1] - point.bracket[0]))
        assert point.factor == pytest.approx(exact, abs=width[-1] + 1e-3 * exact)
    assert width[1] < 0.2 * width[0] < 0.01
    path = trace(twisted_ring(60), step=1.0, until=16.0, stop_at=1)
    assert not path.complete and "bends away" in path.reason
    # the polygon's own path turns round within the bracket
    path = trace(twisted_ring(60), step=1.0, until=16.0, max_points=100)
    assert [(p.kind, p.counts, p.narrow) for p in path.specials] == [("limit", (0, 1), True)]
    assert path.specials[0].factor == pytest.approx(exact, rel=1e-3)


def shallow_arch(rise: float, aside: float) -> Structure:
    """Pinned parabola of half span 1 in its plane, EI = 1, EA = 4e4, a load down and a little aside on its crown."""
    part = np.linspace(-1.0, 1.0, 41)
    rod = planar(np.column_stack([part, rise * (1.0 - part**2)]), Section(1.0, 1e3, 1e3, 1e9, 1e9, 4e4))
    ends = [Support(0, rotation="23"), Support(-1, rotation="23")]
    return Structure(rod, ends, loads=[Force(20, (aside, -1.0, 0.0))], plane="z")


@pytest.mark.parametrize("step", [0.05, 0.15, 0.3, 0.5, 0.9, 3.0])
def test_the_coupling_tells_a_bifurcation_from_a_limit_point(step: float) -> None:
    """A symmetric arch leaves its symmetry just before its limit point, whatever round-off makes of the direction."""
    path = trace(shallow_arch(0.03, 0.0), step=step, until=(-1.0, 5.0))
    assert path.complete
    assert [p.kind for p in path.specials] == ["bifurcation", "limit", "limit", "bifurcation"]
    coupling = [p.coupling for p in path.specials]
    assert max(coupling[0], coupling[3]) < 1e-5 and min(coupling[1], coupling[2]) > 1e-2
    assert path.specials[0].factor == pytest.approx(0.56018, abs=1e-5)


@pytest.mark.parametrize(
    ("aside", "limits"),
    [
        (0.002, (1.322963, -0.687496)),
        (0.005, (1.320381, -0.686070)),
        (0.02, (1.311876, -0.681388)),
        (0.05, (1.300212, -0.675003)),
    ],
)
def test_an_avoided_bifurcation_is_not_stepped_over(aside: float, limits: tuple[float, float]) -> None:
    """The path has two limit points, others are near; factors with steps of 0.01 and turns of 0.003 (620 points)."""
    s = shallow_arch(0.06, aside)
    for step in (0.1, 0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 7.0, 10.0, 20.0):
        path = trace(s, step=step, until=(-10.0, 10.0))
        assert path.complete, step
        assert [(p.kind, p.counts, p.narrow) for p in path.specials] == [
            ("limit", (0, 1), True),
            ("limit", (1, 0), True),
        ], step
        np.testing.assert_allclose([p.factor for p in path.specials], limits, atol=2e-6)


@pytest.mark.parametrize(("aside", "limits"), [(1e-4, (1.3256, -0.6890)), (1e-6, (1.3260, -0.6892))])
def test_a_path_too_sharp_to_follow_is_flagged(aside: float, limits: tuple[float, float]) -> None:
    """The closer the other path, the sharper the bend: followed round it, or given up with a reason."""
    s = shallow_arch(0.06, aside)
    lost = 0
    for step, turn in ((0.2, 0.2), (2.0, 0.05), (10.0, 0.5)):
        path = trace(s, step=step, until=(-10.0, 10.0), turn=turn)
        assert all(p.narrow and p.kind == "limit" for p in path.specials)
        np.testing.assert_allclose([p.factor for p in path.specials], limits[: len(path.specials)], atol=2e-4)
        assert len(path.specials) == 2 if path.complete else path.reason.startswith("lost at load factor")
        lost += not path.complete
    assert lost >= 1


def test_a_coupling_has_no_unit() -> None:
    """The same arch a thousand times smaller in length and a million times softer."""
    found = []
    for length, bend in ((1.0, 1.0), (1e-3, 1e-6)):
        part = np.linspace(-1.0, 1.0, 41)
        line = bend / length**2
        section = Section(bend, 1e3 * bend, 1e3 * bend, 1e9 * line, 1e9 * line, 4e4 * line)
        rod = planar(length * np.column_stack([part, 0.03 * (1.0 - part**2)]), section)
        ends = [Support(0, rotation="23"), Support(-1, rotation="23")]
        s = Structure(rod, ends, loads=[Force(20, (0.0, -line, 0.0))], plane="z")
        found.append([p.coupling for p in trace(s, step=0.5, until=5.0, stop_at=2).specials if p.kind == "limit"])
    assert len(found[0]) == 1
    np.testing.assert_allclose(found[0], found[1], rtol=1e-4)


def test_a_measure_that_does_not_respond_is_flagged() -> None:
    column = Structure(straight(1.0, 20, Section.of_round(1e9, 1e-3)), [clamp(0)], loads=[Force(-1, (0.0, 0.0, -1.0))])
    (found,) = displace(column, Control.of_node(column, -1, "x"), [0.1, 0.2])
    assert not found.converged and "does not respond" in found.reason
    assert found.factor == 0.0
    np.testing.assert_array_equal(found.x, column.rod.points)
    down = displace(column, Control.of_node(column, -1, "z"), [-1e-6, -2e-6])
    assert [p.converged for p in down] == [True, True]
    assert down[1].factor == pytest.approx(2e-6 * 1e9 * pi * 1e-6 / 4, rel=1e-4)


def test_a_critical_point_that_was_not_reached_is_not_said_to_be_absent() -> None:
    """400 points of steps of 0.01 end before the deep arch's limit load of 8.97 EI/R2."""
    with pytest.raises(LostPathError, match="400 points") as lost:
        critical_point(_arch(40), 10.0, step=0.01)
    assert 0.0 < lost.value.path.last.factor < 8.9 and not lost.value.path.complete


@pytest.mark.parametrize("stiff", [1e3, 1e4, 1e5, 1e6])
def test_a_symmetric_arch_is_followed_past_its_bifurcation_point(stiff: float) -> None:
    """Half ring on pins under a vertical load along it: it sways at 2.495 EI/R3, however well round-off hides that."""
    t = np.linspace(-np.pi / 2.0, np.pi / 2.0, 41)
    rod = rod_along(
        np.stack([np.sin(t), 0.0 * t, np.cos(t)], axis=1),
        Section(1.0, 1.0, 1.0, stiff, stiff, 10.0 * stiff),
        directors=(0.0, 1.0, 0.0),
    )
    s = Structure(rod, [pin(0), pin(-1)], loads=[LineLoad((0.0, 0.0, -1.0))], plane="y")
    path = trace(s, step=0.15, until=3.5)
    assert path.complete
    (point,) = path.specials
    assert (point.kind, point.counts, point.narrow) == ("bifurcation", (0, 1), True)
    assert point.factor == pytest.approx(2.495, rel=1e-3 + 4.0 / stiff) and point.coupling < 1e-6


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("step", [0.5, 1.5])
def test_a_branch_is_followed_through_the_points_where_it_meets_the_path(step: float, sign: int) -> None:
    """A shallow arch sways from one bifurcation point to the next; beyond, the branch goes back as its mirror image."""
    s = shallow_arch(0.2, 0.0)
    first = trace(s, step=step, until=20.0, stop_at=1).specials[0]
    branch = trace(s, step=step, until=(-20.0, 20.0), start=switch(first, sign), away_from=first.state, max_points=1500)
    assert branch.reason == "1500 points"  # it is closed: round and round
    there, back, again = branch.specials[:3]
    for point in (there, back, again):
        assert (point.kind, point.counts, point.narrow) == ("bifurcation", (1, 1), True)
        x = point.state.x
        np.testing.assert_allclose(x, x[::-1] * np.array([-1.0, 1.0, 1.0]), atol=2e-3)  # it has its symmetry there
    assert back.factor == pytest.approx(first.factor, rel=1e-5)
    assert again.factor == pytest.approx(there.factor, rel=1e-5) and there.factor < 0.0


@pytest.mark.parametrize(("step", "turn"), [(0.005, 0.3), (0.02, 0.1), (0.05, 0.3)])
def test_a_column_goes_from_one_side_of_its_branch_to_the_other(step: float, turn: float) -> None:
    """The load of a branch turns round where it meets the straight column; its count stays."""
    s = Structure(
        straight(20e-3, 20, Section.of_round(200e9, 0.2e-3)), [clamp(0)], loads=[Force(-1, (0, 0, -1.0))], plane="y"
    )
    first = trace(s, step=0.02, until=0.2, stop_at=1).specials[0]
    path = trace(s, step=step, until=(0.0, 0.2), start=switch(first, turn=turn), away_from=first.state, backward=True)
    assert path.complete
    (point,) = path.specials
    assert (point.kind, point.counts) == ("bifurcation", (0, 0))
    assert point.factor == pytest.approx(first.factor, rel=1e-6)
    assert path.points[0].x[-1, 0] * path.last.x[-1, 0] < 0.0
