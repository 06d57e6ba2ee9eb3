"""Structures against closed forms of beam theory, and laws that hold for every structure."""

from dataclasses import replace
from math import cos, log2, pi, sin

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from tipmech.profile import Profile
from tipmech.rod.build import Rod, Section, profile_rod, rod_along, straight
from tipmech.rod.continuation import trace
from tipmech.rod.loads import Force, Foundation, LineLoad, Load, Moment, weight
from tipmech.rod.solve import Control, Equilibrium, displace, solve, solve_path
from tipmech.rod.structure import Structure
from tipmech.rod.supports import Hinge, Support, clamp, pin
from tipmech.validation.planar import _arch

STIFF = 1e6
UNIT = Section(1.0, 1.0, 0.8, STIFF, STIFF, STIFF)
TWO_AXES = Section(1.0, 2.0, 0.6, STIFF, STIFF, STIFF)
SMALL = 1e-4  # load so small that linear beam theory holds to its square


def orders(value, elements=(10, 20, 40)) -> float:  # type: ignore[no-untyped-def]
    """Observed order of convergence of `value(elements)` from three meshes, the largest component's."""
    a, b, c = (np.asarray(value(n), dtype=float) for n in elements)
    return log2(float(np.max(np.abs(a - b)) / np.max(np.abs(b - c))))


def reached(s: Structure, factor: float = 1.0) -> Equilibrium:
    found = solve(s, factor)
    assert found.converged, found.reason
    return found


def graded(n: int) -> np.ndarray:
    """Nodes of unequal elements on (0, 1), a smooth map of equal ones."""
    u = np.linspace(0.0, 1.0, n + 1)
    return np.stack([0 * u, 0 * u, u + 0.12 * np.sin(2 * pi * u)], axis=1)


def arc(n: int, radius: float = 1.0, angle: float = pi / 4) -> np.ndarray:
    t = np.linspace(0.0, angle, n + 1)
    return radius * np.stack([1.0 - np.cos(t), 0 * t, np.sin(t)], axis=1)


def frame(n: int) -> Rod:
    up = [(0.0, 0.0, i / n) for i in range(n + 1)]
    return rod_along(np.array(up + [(i / n, 0.0, 1.0) for i in range(1, n + 1)]), TWO_AXES, corners=[n])


def cantilever(n: int, *loads: Load, rod: Rod | None = None) -> np.ndarray:
    return reached(Structure(rod or straight(1.0, n, TWO_AXES), [clamp(0)], loads=loads)).x[-1]


SMOOTH = {
    "cantilever": lambda n: cantilever(n, Force(-1, (2.0, 3.0, 0.5))),
    "unequal elements": lambda n: cantilever(n, Force(-1, (3.0, 1.0, 0)), rod=rod_along(graded(n), TWO_AXES)),
    "curved": lambda n: cantilever(n, Force(-1, (0.5, 2.0, 0.0)), rod=rod_along(arc(n), TWO_AXES)),
    "dead line load": lambda n: cantilever(n, LineLoad((3.0, 4.0, 0.0)), rod=rod_along(graded(n), TWO_AXES)),
    "follower line load": lambda n: cantilever(
        n, LineLoad((3.0, 4.0, -1.0), follower=True), rod=rod_along(graded(n), TWO_AXES)
    ),
    "follower": lambda n: cantilever(n, Force(-1, (2.0, 1.0, -1.0), follower=True)),
    "inner follower": lambda n: cantilever(n, Force(n // 2, (2.0, 1.0, -1.0), follower=True)),
    "dead moment": lambda n: cantilever(n, Moment(-1, (0.3, 1.0, 0.4))),
    "inner moment": lambda n: cantilever(n, Moment(n // 2, (0.5, 1.0, 0.8)), Force(-1, (0.0, 1.0, 0.0))),
    "frame": lambda n: reached(Structure(frame(n), [clamp(0)], loads=[Force(-1, (0.2, 0.5, -0.8))])).x[-1],
    "section jump": lambda n: cantilever(
        n, Force(-1, (3.0, 2.0, 0.0)), rod=straight(1.0, n, [TWO_AXES, UNIT], breaks=[0.5])
    ),
    "inner support": lambda n: reached(
        Structure(
            straight(1.0, n, TWO_AXES),
            [clamp(0), Support(n // 2, "y", "13", turn=(0.1, 0.0, 0.2))],
            loads=[Force(-1, (1.5, 1.0, 0.0))],
        )
    ).x[-1],
    "inner support, moment": lambda n: reached(
        Structure(
            straight(1.0, n, TWO_AXES),
            [clamp(0), Support(n // 2, "y", "13", turn=(0.1, 0.0, 0.2))],
            loads=[Force(-1, (1.5, 1.0, 0.0))],
        )
    ).reactions[1][n // 2],
    "end twist held": lambda n: reached(
        Structure(
            straight(1.0, n, TWO_AXES),
            [clamp(0), Support(n, "", "3", turn=(0.0, 0.0, 0.8))],
            loads=[Force(-1, (2.0, 1.0, 0.0))],
        )
    ).x[-1],
}


@pytest.mark.parametrize("name", SMOOTH)
def test_second_order(name: str) -> None:
    assert orders(SMOOTH[name]) >= 1.9


def test_section_jump_inside_an_element_stays_second_order_on_average() -> None:
    """A jump at 0.47 of the length: the compliance integral is exact, the remaining error small (no order: it depends
    on where in its element the jump lies)."""

    def tip(n: int) -> np.ndarray:
        rod = straight(1.0, n, [TWO_AXES, UNIT], breaks=[0.47])
        return cantilever(n, Force(-1, (3.0, 2.0, 0.0)), rod=rod)

    exact = tip(640)
    assert np.max(np.abs(tip(40) - exact)) < 4e-4


# ---- closed forms -------------------------------------------------------------------------------------------


def test_tip_force_elastica() -> None:
    """w/L and u/L at P L2/EI = 4: Bisshopp & Drucker 1945, Mattiasson 1981 (elliptic integrals)."""
    x = cantilever(80, Force(-1, (4.0, 0.0, 0.0)), rod=straight(1.0, 80, UNIT))
    assert x[0] == pytest.approx(0.6699641812776668, rel=2e-4)
    assert 1.0 - x[2] == pytest.approx(0.32894124224684596, rel=2e-4)


@pytest.mark.parametrize("follower", [False, True])
def test_end_moment_rolls_a_rod_into_a_circle(follower: bool) -> None:
    """M = 2 pi EI/L: the exact bend for every mesh, since curvature is constant."""
    s = Structure(straight(1.0, 20, UNIT), [clamp(0)], loads=[Moment(-1, (0.0, 2 * pi, 0.0), follower=follower)])
    found = reached(s)
    radius = (1.0 / 20) / (2 * sin(pi / 20))  # through the middles of chords of length L/20
    np.testing.assert_allclose(found.x[-1], 0.0, atol=1e-6)
    np.testing.assert_allclose(np.linalg.norm(found.x - [radius * cos(pi / 20), 0, 0], axis=1).max(), radius, rtol=0.02)
    np.testing.assert_allclose(found.moments[:, :, 1].max(), 2 * pi, rtol=1e-9)
    np.testing.assert_allclose(found.moments[1:-1, 0, 1], 2 * pi, rtol=1e-9)
    assert found.strain_energy == pytest.approx(2 * pi**2, rel=1e-6)  # M2 L/(2 EI)
    assert found.stable is None


def test_two_spans_under_a_uniform_load() -> None:
    """Middle support carries 5/4 w l of a beam with two equal spans l (linear beam theory)."""
    n, w = 80, SMALL
    s = Structure(straight(2.0, n, UNIT), [Support(0, "xyz", "3"), Support(n // 2, "x", ""), Support(n, "xy", "")],
                  loads=[LineLoad((w, 0.0, 0.0))])  # fmt: skip
    force, _ = reached(s).reactions
    np.testing.assert_allclose(-force[[0, n // 2, n], 0] / w, [3 / 8, 5 / 4, 3 / 8], rtol=1e-3)


def test_settlement_and_turn_of_a_clamp() -> None:
    """Clamped-clamped: end moments 6 EI d/L2 for a settlement d; 4 EI a/L and 2 EI a/L for a turn a."""
    n = 80
    s = Structure(straight(1.0, n, UNIT), [clamp(0), Support(n, displacement=(SMALL, 0.0, 0.0), position="xy")])
    force, moment = reached(s).reactions
    np.testing.assert_allclose(moment[[0, n], 1] / SMALL, [-6.0, -6.0], rtol=1e-3)
    np.testing.assert_allclose(force[[0, n], 0] / SMALL, [-12.0, 12.0], rtol=1e-3)
    s = Structure(straight(1.0, n, UNIT), [clamp(0), Support(n, turn=(0.0, SMALL, 0.0), position="xy")])
    _, moment = reached(s).reactions
    np.testing.assert_allclose(moment[[0, n], 1] / SMALL, [2.0, 4.0], rtol=1e-3)


def test_hinge_in_a_beam() -> None:
    """Clamped-clamped with a hinge in the middle under a force P there: two cantilevers, w = P (L/2)3/(6 EI)."""
    n = 80
    s = Structure(straight(1.0, n, UNIT), [clamp(0), Support(n, "xy")], [Hinge(n // 2, "12")],
                  [Force(n // 2, (SMALL, 0.0, 0.0))])  # fmt: skip
    found = reached(s)
    assert found.displacement[n // 2, 0] / SMALL == pytest.approx(1.0 / 48.0, rel=1e-3)
    np.testing.assert_allclose(found.moments[n // 2, :, 1], 0.0, atol=1e-9)


def test_moment_at_an_inner_node_jumps() -> None:
    """Simply supported beam with a moment M in the middle: M/2 on each side, end forces M/L."""
    n, m = 40, SMALL
    s = Structure(straight(1.0, n, UNIT), [Support(0, "xyz", "3"), Support(n, "xy", "")],
                  loads=[Moment(n // 2, (0.0, m, 0.0))])  # fmt: skip
    found = reached(s)
    np.testing.assert_allclose(np.abs(found.moments[n // 2, :, 1]) / m, 0.5, rtol=0.03)
    assert np.diff(found.moments[n // 2, :, 1])[0] == pytest.approx(-m, rel=0.06)
    np.testing.assert_allclose(np.abs(found.reactions[0][[0, n], 0]) / m, 1.0, rtol=1e-6)


def test_right_angle_frame() -> None:
    """Cantilever frame of arms a, end force P across both: the tip moves by 2 a3/3EI (bending) and a3/GJ."""
    n, p = 40, SMALL
    rod = rod_along(frame(n).points, UNIT, corners=[n])
    tip = reached(Structure(rod, [clamp(0)], loads=[Force(-1, (0.0, p, 0.0))])).displacement[-1, 1]
    assert tip / p == pytest.approx(1 / 3 + 1 / 3 + 1 / UNIT.GJ, rel=1e-3)
    assert solve(Structure(rod, [clamp(0)])).strain_energy < 1e-24


def test_beam_on_springs() -> None:
    """Semi-infinite beam with an end force: deflection 2 P lambda/k (Hetenyi 1946)."""
    decay, n = 10.0, 240
    k = 4.0 * decay**4
    s = Structure(straight(1.0, n, UNIT), [Support(0, "z", "3")], loads=[Force(-1, (SMALL, 0, 0))],
                  foundation=Foundation(k, "xy"))  # fmt: skip
    assert reached(s).displacement[-1, 0] == pytest.approx(2 * SMALL * decay / k, rel=1e-3)


def test_weight() -> None:
    n = 40
    s = Structure(straight(1.0, n, UNIT, axis=(1.0, 0.0, 0.0)), [clamp(0)], loads=[weight(1e-5)])
    found = reached(s, factor=0.0)
    assert found.displacement[-1, 2] == pytest.approx(-9.80665e-5 / 8.0, rel=1e-3)  # w L4/(8 EI)


# ---- laws ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("stiff", [1e3, 1e5, 1e7, 1e9])
@pytest.mark.parametrize("size", [1e-3, 3.0])
def test_reactions_balance_as_round_off_allows(stiff: float, size: float) -> None:
    """To 1e-9 of the load, or to the round-off of the strains, 4 eps N EA, where that is more."""
    n = 100
    load = size * np.array([1.0, 0.5, 0.3])
    s = Structure(straight(1.0, n, Section(1.0, 1.0, 0.8, stiff, stiff, stiff)), [clamp(0)], loads=[Force(-1, load)])
    found = reached(s)
    force, moment = (r.sum(axis=0) for r in found.reactions)
    moment = moment + np.cross(found.x, found.reactions[0]).sum(axis=0) + np.cross(found.x[-1], load)
    allowed = max(1e-9 * size, 4 * np.finfo(float).eps * n * stiff)
    assert np.max(np.abs(force + load)) < allowed
    assert np.max(np.abs(moment)) < allowed


@pytest.mark.parametrize("name", ["clamp", "three supports", "follower"])
def test_reactions_balance_loads(name: str) -> None:
    """Sum of forces and of moments about the origin, dead forces and moments, and what follows, in the final state."""
    n = 20
    loads: list[Load] = [Force(7, (0.6, -0.4, 0.3)), Force(-1, (1.0, 0.5, 0.2))]
    supports = [clamp(0)]
    if name == "three supports":
        supports = [Support(0, "xyz", "13"), Support(8, "y", "2", turn=(0.0, 0.3, 0.0)), Support(n, "x", "3")]
    if name == "follower":
        loads += [Force(12, (0.5, 0.3, 0.1), follower=True), Moment(5, (0.2, 0.1, 0.3)),
                  Moment(15, (0.1, -0.2, 0.3), follower=True)]  # fmt: skip
    s = Structure(rod_along(arc(n), TWO_AXES), supports, loads=loads)
    found = reached(s)
    force, moment = (r.sum(axis=0) for r in found.reactions)
    moment = moment + np.cross(found.x, found.reactions[0]).sum(axis=0)
    for load in loads:
        frames = found.pose.q[n + s.nodes.index(load.node)] if load.node in s.nodes else None
        vector = np.array(load.vector)
        if load.follower:
            vector = Rotation.from_quat(np.roll(frames, -1)).apply(vector)
        if isinstance(load, Force):
            force += vector
            moment += np.cross(found.x[load.node], vector)
        else:
            moment += vector
    np.testing.assert_allclose(force, 0.0, atol=1e-8)
    np.testing.assert_allclose(moment, 0.0, atol=1e-8)


def test_reciprocity() -> None:
    """Maxwell-Betti: the displacement at A along a by a small force at B along b, and the other way round."""
    n = 30
    rod = frame(n)
    supports = [clamp(0), Support(2 * n, "y", "")]
    found = []
    for where, along, at, axis in ((40, (0.0, 0.0, 1.0), 17, 0), (17, (1.0, 0.0, 0.0), 40, 2)):
        s = Structure(rod, supports, loads=[Force(where, tuple(1e-6 * c for c in along))])
        found.append(reached(s).displacement[at, axis])
    assert found[0] == pytest.approx(found[1], rel=1e-5)


QUADRATIC = {
    "dead": [Force(-1, (1.0, 0.7, 0.2))],
    "follower": [Force(-1, (1.0, 0.7, 0.2), follower=True)],
    "dead moment": [Moment(-1, (0.5, 0.7, 0.6))],
    "follower moment": [Moment(10, (0.5, 0.7, 0.6), follower=True), LineLoad((1.0, 0.2, 0.0), follower=True)],
}


def quadratic(residuals: tuple[float, ...]) -> bool:
    """Each residual (N; loads are of 1 N) at most twice the square of the one before, down to round-off."""
    r = np.array(residuals)
    seen = r[1:][r[1:] > 1e-10]  # after the first step, above round-off
    return len(seen) >= 2 and bool(np.all(r[2:] <= np.maximum(2.0 * r[1:-1] ** 2, 1e-10)))


@pytest.mark.parametrize("name", QUADRATIC)
def test_newton_is_quadratic(name: str) -> None:
    soft = Section(1.0, 2.0, 0.6, 10.0, 10.0, 10.0)  # strains large enough to be seen above round-off
    s = Structure(straight(1.0, 20, soft), [clamp(0)], loads=QUADRATIC[name])
    near = reached(s, 1.0)
    found = solve(s, 1.2, start=near)
    assert found.converged and len(found.residuals) <= 6
    assert quadratic(found.residuals), found.residuals


def test_newton_is_quadratic_under_displacement_control() -> None:
    soft = Section(1.0, 2.0, 0.6, 10.0, 10.0, 10.0)
    s = Structure(straight(1.0, 20, soft), [clamp(0)], loads=[Force(-1, (1.0, 0.0, -0.3))])
    control = Control.of_node(s, -1, "x")
    first, second = displace(s, control, [0.3, 0.36])
    assert first.converged and second.converged
    assert second.displacement[-1, 0] == pytest.approx(0.36, abs=1e-12)
    assert quadratic(second.residuals), second.residuals
    assert solve(s, second.factor).x[-1] == pytest.approx(second.x[-1], abs=1e-6)


def test_path_and_single_step_agree() -> None:
    s = Structure(straight(1.0, 40, UNIT), [clamp(0)], loads=[Force(-1, (4.0, 0.0, 0.0))])
    path = solve_path(s, np.linspace(0.0, 1.0, 21)[1:])
    assert all(p.converged for p in path)
    np.testing.assert_allclose(path[-1].x, solve(s).x, atol=1e-8)


def test_several_turns_of_a_clamp() -> None:
    """A clamp turned by 3 pi about the axis of a thick rod: torque GJ 3 pi/L."""
    n = 40
    s = Structure(straight(1.0, n, Section(9.0, 9.0, 1.0, STIFF, STIFF, STIFF)),
                  [clamp(0), Support(n, "xy", "123", turn=(0.0, 0.0, 3 * pi))])  # fmt: skip
    found = solve_path(s, [0.25, 0.5, 0.75, 1.0])[-1]
    assert found.converged
    assert found.reactions[1][-1, 2] == pytest.approx(3 * pi, rel=1e-6)


def test_pinned_ends_and_pull() -> None:
    """pin() leaves every turn free: no moment there."""
    s = Structure(straight(1.0, 20, UNIT), [Support(0, "xyz", "3"), pin(20)], loads=[Force(10, (1.0, 0.0, 0.0))])
    found = reached(s)
    np.testing.assert_allclose(found.moments[[0, 20]][:, :, :2], 0.0, atol=1e-8)


def test_a_potential_acts_like_the_springs_it_describes() -> None:
    rod = straight(1.0, 20, UNIT)
    k = 30.0 * rod.tributary

    def springs(x: np.ndarray) -> tuple[float, np.ndarray, np.ndarray]:
        away = x - rod.points
        return 0.5 * float(np.sum(k[:, None] * away**2)), k[:, None] * away, k[:, None, None] * np.eye(3)

    load = [Force(-1, (2.0, 1.0, 0.0))]
    a = reached(Structure(rod, [Support(0, "z", "3")], loads=load, potential=springs))
    b = reached(Structure(rod, [Support(0, "z", "3")], loads=load, foundation=Foundation(30.0)))
    np.testing.assert_allclose(a.x, b.x, atol=1e-8)
    assert a.strain_energy == pytest.approx(b.strain_energy, rel=1e-6)
    assert a.iterations <= 12


def test_bend_of_45_degrees() -> None:
    """Tip (y, z, x) at 600 lbf, J = 1/6: rotation-matrix shooting of the Reissner rod (Bathe & Bolourchi 1979)."""
    rod = rod_along(arc(80, 100.0), Section(1e7 / 12, 1e7 / 12, 5e6 / 6, 5e6, 5e6, 1e7))
    found = reached(Structure(rod, [clamp(0)], loads=[Force(-1, (0.0, 600.0, 0.0))]))
    wanted = [15.684800534090757, 53.47485879199027, 47.150438573758706]
    np.testing.assert_allclose(found.x[-1], wanted, rtol=2e-4)
    assert found.iterations <= 10


def test_moment_and_turn_of_a_hinged_end() -> None:
    """The end of a clamped-pinned beam is turned by a: moment 4 EI a/L (small a); the turn is reached exactly."""
    n = 80
    end = Support(n, "xy", "13")  # in the plane of y: free about axis 2
    s = Structure(straight(1.0, n, UNIT), [clamp(0), end], loads=[Moment(n, (0.0, 1.0, 0.0))])
    turn = Control.of_node(s, n, "2")
    for goal, found in zip((1e-3, 0.5), displace(s, turn, [1e-3, 0.5]), strict=True):
        assert found.converged and turn.value(s, found.pose) == pytest.approx(goal, abs=1e-12)
        if goal < 0.01:
            assert found.factor / goal == pytest.approx(4.0, rel=1e-3)
    held = Structure(straight(1.0, n, UNIT), [clamp(0), Support(n, "xy", turn=(0.0, 0.5, 0.0))])
    assert reached(held).reactions[1][n, 1] == pytest.approx(found.factor, rel=1e-6)


def test_one_element() -> None:
    """The coarsest rod: half an element of bending at the clamp, w = P L3/(2 EI)."""
    found = reached(Structure(straight(1.0, 1, UNIT), [clamp(0)], loads=[Force(1, (SMALL, 0.0, 0.0))]))
    assert found.displacement[1, 0] / SMALL == pytest.approx(0.5, rel=1e-3)


def test_rod_of_a_wires_profile() -> None:
    """A cone under a small force across its tip."""
    distance = np.linspace(0.0, 1.0, 401)
    bend = (0.5 + 0.5 * distance) ** 4
    one = np.ones_like(distance)
    profile = Profile(distance, bend, bend, 0.8 * bend, STIFF * one, STIFF * one, one, one, 1.0, 0.1, "cone")
    n = 80
    tip = reached(Structure(profile_rod(profile, np.full(n, 1 / n)), [clamp(0)], loads=[Force(-1, (SMALL, 0, 0))])).x[
        -1
    ]
    # w = P times the integral of s2/EI over the distance s from the tip = P L3/(3 EI r) with r = 0.5, EI at the base
    assert tip[0] / SMALL == pytest.approx(1 / (3 * 0.5), rel=1e-3)


def test_a_failed_solution_carries_the_count_of_the_state_it_returns() -> None:
    """Beyond the limit load of the deep arch (8.97 EI/R2) nothing near is found: the last good state is stable."""
    found = solve(_arch(80), 12.0)
    assert not found.converged and found.reason
    again = solve(found.structure, found.factor, start=found)
    np.testing.assert_allclose(again.x, found.x, atol=1e-6)
    assert found.count == again.count == 0


@pytest.mark.parametrize("size", [0.2, 1.0, 5.0, 20.0])
def test_a_constant_following_force_is_grown_where_it_is_too_much_at_once(size: float) -> None:
    """The same state as with the force in proportion to the load factor, and a start for a path."""
    rod = straight(20e-3, 20, Section.of_round(200e9, 0.2e-3))
    force = Force(-1, (size, 0.0, 0.0), follower=True, constant=True)
    held = Structure(rod, [clamp(0)], loads=[force])
    found = solve(held, 0.0)
    other = solve(replace(held, loads=[replace(force, constant=False)]))
    assert found.converged and other.converged and found.factor == 0.0
    np.testing.assert_allclose(found.x, other.x, atol=1e-9)
    assert trace(replace(held, loads=[force, Force(-1, (0.0, 0.0, 1.0))]), step=0.1, until=0.2).complete


@pytest.mark.parametrize("diameter", [0.1e-3, 0.2e-3, 0.36e-3])
@pytest.mark.parametrize("ratio", [1, 50, 1000])
def test_elements_of_very_different_length(diameter: float, ratio: float) -> None:
    """Cantilever under 1 EI/L2 across: 0.301721 L (Bisshopp & Drucker 1945), the elements from 1 down to 1/ratio."""
    length, n = 20e-3, 160
    parts = np.geomspace(1.0, 1.0 / ratio, n)
    z = np.concatenate([[0.0], np.cumsum(parts)]) / np.sum(parts) * length
    section = Section.of_round(200e9, diameter)
    rod = rod_along(np.column_stack([0.0 * z, 0.0 * z, z]), section)
    found = solve(Structure(rod, [clamp(0)], loads=[Force(-1, (section.EI1 / length**2, 0.0, 0.0))]))
    assert found.converged
    assert found.x[-1, 0] / length == pytest.approx(
        0.301721, rel=1e-3
    )  # the longest element has up to 4 % of the length


@pytest.mark.parametrize("short", [3e-6, 1e-6, 1e-7])
def test_one_very_short_element(short: float) -> None:
    length = 20e-3
    z = np.insert(np.linspace(0.0, length, 121), 60, 59 / 120 * length + short)
    section = Section.of_round(200e9, 0.2e-3)
    rod = rod_along(np.column_stack([0.0 * z, 0.0 * z, z]), section)
    found = solve(Structure(rod, [clamp(0)], loads=[Force(-1, (section.EI1 / length**2, 0.0, 0.0))]))
    assert found.converged and found.x[-1, 0] / length == pytest.approx(0.301721, rel=3e-4)
