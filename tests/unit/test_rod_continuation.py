"""Limit points, bifurcation points and branches."""

from math import pi

import numpy as np
import pytest

from tipmech.rod.build import Section, rod_along, straight
from tipmech.rod.continuation import Path, critical_point, switch, trace
from tipmech.rod.loads import Force, LineLoad, Moment
from tipmech.rod.solve import Control, displace, solve
from tipmech.rod.structure import Structure
from tipmech.rod.supports import Support, clamp

STIFF = 1e5
TWO_AXES = Section(1.0, 1.3, 0.8, STIFF, STIFF, STIFF)


def column(n: int = 40) -> Structure:
    return Structure(straight(1.0, n, TWO_AXES), [clamp(0)], loads=[Force(-1, (0.0, 0.0, -1.0))])


def test_euler_columns() -> None:
    """Critical loads of a clamped column: pi2/4 (free), 4.4934^2 (pinned), 4 pi2 (clamped); Timoshenko & Gere 1961."""
    n = 80
    rod = straight(1.0, n, TWO_AXES)
    load = [Force(-1, (0.0, 0.0, -1.0))]
    for far, expected in (
        ([], pi**2 / 4),
        ([Support(n, "xy", "3")], 4.493409457909064**2),
        ([Support(n, "xy")], 4 * pi**2),
    ):
        found = critical_point(Structure(rod, [clamp(0), *far], loads=load), 1.3 * expected)
        assert found is not None and found.kind == "bifurcation" and found.coupling < 1e-6
        assert found.factor == pytest.approx(expected, rel=1.5e-3)
        assert found.bracket[1] - found.bracket[0] < 1e-6 * expected
    assert critical_point(Structure(rod, [clamp(0)], loads=load), 2.0) is None


@pytest.mark.parametrize(("until", "step"), [(2.3, 1.0), (2.4, None), (2.45, 0.3)])
def test_a_critical_point_beyond_the_range_is_not_returned(until: float, step: float | None) -> None:
    """pi2/4 = 2.467 lies within the last step, not within the range."""
    assert critical_point(column(), until, step=step) is None
    found = critical_point(column(), 2.5, step=step)
    assert found is not None and found.factor == pytest.approx(pi**2 / 4, rel=1.5e-3)


@pytest.mark.parametrize("sign", [1, -1])
def test_pitchfork_is_found_and_both_branches_followed(sign: int) -> None:
    """P/P_Euler = 1.5184 at a tip angle of 100 deg: x/L 0.34899, y/L 0.79154 (elastica, Timoshenko & Gere 2.7)."""
    s = column(80)
    path = trace(s, step=0.5, until=4.0)
    assert path.complete and [p.kind for p in path.specials] == ["bifurcation", "bifurcation"]  # both axes
    assert [p.counts for p in path.specials] == [(0, 1), (1, 2)]
    first = path.specials[0]
    branch = switch(first, sign)
    assert branch.converged and branch.stable
    assert np.sign(branch.x[-1, 1]) == np.sign(sign * first.mode[s.place(-1, "y")])
    load = 1.5183887932923934 * pi**2 / 4
    followed = trace(s, step=0.5, until=(2.0, load), start=branch, away_from=first.state)
    assert followed.complete and followed.specials == ()
    assert all(p.stable for p in followed.points)
    end = solve(s, load, start=followed.last)
    assert end.converged and end.stable
    np.testing.assert_allclose(np.abs(end.x[-1]), [0.0, 0.7915394965369192, 0.3489893004148341], atol=1e-3)


def test_branches_mirror_each_other() -> None:
    first = critical_point(column(), 3.0)
    assert first is not None
    a, b = switch(first, 1), switch(first, -1)
    np.testing.assert_allclose(a.x[:, 1], -b.x[:, 1], atol=1e-7)


def lee(n: int) -> tuple[Structure, int]:
    """Lee's frame in its plane: two hinged legs of 120, force on the beam a fifth from the corner; E 720, A 6, I 2."""
    leg = np.linspace(0.0, 120.0, n + 1)
    points = [(0.0, 0.0, s) for s in leg] + [(s, 0.0, 120.0) for s in leg[1:]]
    section = Section(1440.0, 1440.0, 1440.0, 1e5, 1e5, 4320.0)
    rod = rod_along(np.array(points), section, corners=[n], directors=(0.0, 1.0, 0.0))
    ends = [Support(0, rotation=""), Support(2 * n, rotation="")]
    at = n + n // 5
    return Structure(rod, ends, loads=[Force(at, (0.0, 0.0, -1.0))], plane="y"), at


def path_of_lee(n: int) -> tuple[Path, int]:
    s, at = lee(n)
    return trace(s, step=1.0, until=(-1.5, 3.0), turn=0.1), at


def test_lees_frame_past_both_limit_points() -> None:
    """Limit loads 1.8517 and -0.9316 (EI/L2 18.5): values of beam-element solutions, Lee, Manuel & Rossow 1968, and
    others since; from memory, to 1 %."""
    path, at = path_of_lee(20)
    assert path.complete
    limits = [p for p in path.specials if p.kind == "limit"]
    assert [p.counts for p in limits] == [(0, 1), (1, 0)]
    assert limits[0].factor == pytest.approx(1.852, rel=0.01)
    assert limits[1].factor == pytest.approx(-0.932, rel=0.02)
    assert all(p.coupling > 1e-3 for p in limits)
    factors = np.array([p.factor for p in path.points])
    assert np.sum(np.diff(np.sign(np.diff(factors))) != 0) == 2  # up, down, up
    # the same path with the displacement prescribed
    s, _ = lee(20)
    down = Control.of_node(s, at, "z")
    point = path.points[len(path.points) // 4]
    goal = down.value(s, point.pose)
    same = displace(s, down, np.linspace(0.0, goal, 12)[1:])[-1]
    assert same.converged and same.factor == pytest.approx(point.factor, rel=1e-4)


def test_limit_points_converge_at_second_order() -> None:
    first = [path_of_lee(n)[0].specials[0].factor for n in (10, 20, 40)]
    assert np.log2((first[0] - first[1]) / (first[1] - first[2])) >= 1.9


def test_follower_loads_keep_the_determinants_sign() -> None:
    """A clamped-free column under a follower force (Beck) has no static bifurcation, whatever the force: it loses
    stability by flutter, at 20.05 EI/L2 (Beck 1952), which the determinant does not show."""
    s = Structure(straight(1.0, 40, TWO_AXES), [clamp(0)], loads=[Force(-1, (0.0, 0.0, -1.0), follower=True)])
    path = trace(s, step=2.0, until=30.0)
    assert path.complete and path.specials == ()
    assert path.last.stable is None and path.last.count == 0


def test_greenhill_torque_keeping_its_direction() -> None:
    """Clamped-clamped shaft, axial torque M: M L/EI = 2 x 4.4934 (Greenhill 1883)."""
    n = 80
    even = Section(1.0, 1.0, 5.0, STIFF, STIFF, STIFF)
    s = Structure(straight(1.0, n, even), [clamp(0), Support(n, "xy", "12")], loads=[Moment(n, (0.0, 0.0, 1.0))])
    # both planes buckle at once: the determinant keeps its sign at a double point, its two eigenvalues do not
    found = trace(s, step=0.37, until=20.0).specials
    assert [point.kind for point in found] == ["bifurcation", "bifurcation"]
    assert [point.counts for point in found] == [(0, 0), (0, 0)] and all(point.narrow for point in found)
    roots = np.array([4.493409457909064, 7.725251836937707])  # tan x = x
    np.testing.assert_allclose([point.factor for point in found], 2 * roots, rtol=3e-3)
    twisted = Structure(straight(1.0, n, even), [clamp(0), Support(n, "xy", "123", turn=(0.0, 0.0, 1.0))])
    first = critical_point(twisted, 2.2, step=0.05)
    assert first is not None and first.counts[0] == 0
    assert 5.0 * first.factor == pytest.approx(2 * 4.493409457909064, rel=5e-3)


def test_ring_under_pressure_can_be_followed() -> None:
    """A following pressure on a clamped arch: a path with follower line loads closes the same with arc length."""
    t = np.linspace(-0.6, 0.6, 41)
    rod = rod_along(np.stack([np.sin(t), 0 * t, np.cos(t)], axis=1), TWO_AXES, directors=(0.0, 1.0, 0.0))
    s = Structure(rod, [clamp(0), clamp(40)], loads=[LineLoad((0.0, 1.0, 0.0), follower=True)])
    path = trace(s, step=2.0, until=10.0)
    assert path.complete
    direct = solve(s, path.last.factor)
    assert direct.converged
    np.testing.assert_allclose(direct.x, path.last.x, atol=1e-6)


def test_an_incomplete_path_says_so() -> None:
    path = trace(column(), step=0.1, until=100.0, max_points=5)
    assert not path.complete and path.reason == "5 points" and len(path.points) == 5


@pytest.mark.parametrize("push", [1e-2, 1e-4, 1e-6])
def test_a_column_beyond_its_critical_load_is_solved_at_once(push: float) -> None:
    """From the straight state to a tip angle of 100 deg (elastica, Timoshenko & Gere 2.7); round section, so that every
    plane is alike and the sideways force alone decides."""
    even = Section(1.0, 1.0, 0.8, STIFF, STIFF, STIFF)
    load = 1.5183887932923934 * pi**2 / 4
    force = (0.6 * push * load, 0.8 * push * load, -load)
    found = solve(Structure(straight(1.0, 80, even), [clamp(0)], loads=[Force(-1, force)]))
    assert found.converged and found.stable and found.iterations < 30
    wanted = np.array([0.6 * 0.7915394965369192, 0.8 * 0.7915394965369192, 0.3489893004148341])
    np.testing.assert_allclose(found.x[-1], wanted, atol=1e-3 + push)


def test_a_perfect_column_stays_straight_and_says_that_it_is_unstable() -> None:
    found = solve(column(), 3.0)
    assert found.converged and found.count == 1 and not found.stable
    np.testing.assert_allclose(found.x[:, :2], 0.0, atol=1e-12)


def test_deep_arch_clamped_and_hinged() -> None:
    """Arch of 215 deg under a crown force: 8.97 EI/R2 (DaDeppo & Schmidt 1975, from memory)."""
    n = 80
    angle = np.linspace(-107.5, 107.5, n + 1) * pi / 180
    section = Section(1e6, 1e6, 1e6, 5e7, 5e7, 1e8)
    rod = rod_along(100 * np.stack([np.sin(angle), 0 * angle, np.cos(angle)], axis=1), section, directors=(0, 1, 0))
    s = Structure(rod, [Support(0, rotation=""), clamp(n)], loads=[Force(n // 2, (0.0, 0.0, -100.0))], plane="y")
    path = trace(s, step=1.0, until=12.0, stop_at=1)
    assert path.specials[0].kind == "limit"
    assert path.specials[0].factor == pytest.approx(8.97, rel=3e-3)


def planar_arch(half_angle: float, ends: tuple[Support, Support], load: Force | LineLoad, n: int = 60) -> Structure:
    angle = np.linspace(-half_angle, half_angle, n + 1)
    section = Section(1.0, 1.0, 0.8, 1e4, 1e4, 1e4)
    rod = rod_along(np.stack([np.sin(angle), 0 * angle, np.cos(angle)], axis=1), section, directors=(0, 1, 0))
    return Structure(rod, ends, loads=[load], plane="y")


def test_arch_under_following_pressure() -> None:
    """Two-hinged arch of opening 2a under uniform pressure: (pi2/a2 - 1) EI/R3 (Timoshenko & Gere 1961, art. 7.6, from
    memory); pressure follows the rod."""
    hinged = (Support(0, rotation=""), Support(60, rotation=""))
    s = planar_arch(pi / 3, hinged, LineLoad((0.0, -1.0, 0.0), follower=True))
    found = critical_point(s, 12.0)
    assert found is not None and found.kind == "bifurcation" and found.coupling < 1e-5
    assert found.factor == pytest.approx(8.0, rel=5e-3)
    assert found.state.stable is None


@pytest.mark.parametrize(("half", "fixed"), [(40, True), (30, False)])
def test_the_path_does_not_depend_on_the_step(half: int, fixed: bool) -> None:
    """Shallow arches that snap: large steps must not jump to another part of the path."""
    ends = (clamp(0), clamp(60)) if fixed else (Support(0, rotation=""), Support(60, rotation=""))
    s = planar_arch(half * pi / 180, ends, Force(30, (0.0, 0.0, -1.0)))
    coarse, fine = (trace(s, step=2.0, until=(-200, 200), turn=turn, max_points=900) for turn in (0.3, 0.1))
    assert coarse.complete and fine.complete
    assert [p.kind for p in coarse.specials] == [p.kind for p in fine.specials]
    np.testing.assert_allclose([p.factor for p in coarse.specials], [p.factor for p in fine.specials], rtol=1e-4)
    assert sum(p.kind == "limit" for p in fine.specials) >= 2
