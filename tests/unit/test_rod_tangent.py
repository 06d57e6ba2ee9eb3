"""Tangent of a structure at random states with large rotations: derivative of the residual, symmetry, objectivity."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from tipmech.bending import GRID, section_law
from tipmech.rod.assembly import assemble
from tipmech.rod.build import Rod, Section, rod_along
from tipmech.rod.loads import Force, Foundation, LineLoad, Load, Moment
from tipmech.rod.model import Pose, System
from tipmech.rod.moving import advance, straight
from tipmech.rod.newton import Loop
from tipmech.rod.structure import Structure
from tipmech.rod.supports import Hinge, Support
from tipmech.wire.curvature import moment_ratio, rectangle_losses

SECTIONS = [Section(1.0, 2.0, 1.5, 8.0, 9.0, 12.0), Section(2.5, 1.2, 0.9, 6.0, 5.0, 10.0)]
POTENTIAL_LOADS: list[Load] = [Force(3, (0.4, -0.3, 0.2)), LineLoad((0.1, 0.3, -0.2), constant=True)]
OTHER_LOADS: list[Load] = [
    Force(2, (0.5, 0.2, -0.4), follower=True),
    Force(-1, (0.3, -0.2, 0.6), follower=True, constant=True),
    LineLoad((0.2, -0.1, 0.3), follower=True),
    Moment(0, (0.3, 0.2, -0.5)),
    Moment(4, (0.3, -0.4, 0.2), follower=True),
    Moment(-1, (0.1, 0.4, 0.2)),
]


def crooked(seed: int) -> Rod:
    """A curved rod of unequal elements with a corner and two sections."""
    rng = np.random.default_rng(seed)
    steps = rng.normal(size=(6, 3)) * 0.25 + np.array([0.2, 0.1, 1.0])
    steps[3:] = steps[3:, [2, 0, 1]]
    points = np.concatenate([np.zeros((1, 3)), np.cumsum(steps, axis=0)])
    return rod_along(points, SECTIONS, breaks=[2.2], corners=[3])


def structure(seed: int, loads: list[Load]) -> Structure:
    supports = [
        Support(0, "xz", "3", displacement=(0.1, 0.0, 0.0)),
        Support(2, "", "13", turn=(0.2, 0.0, -0.3)),
        Support(3, "y", "2"),
        Support(6, "xyz", "123", turn=(0.4, 0.3, 0.2)),
    ]
    return Structure(crooked(seed), supports, [Hinge(1, "2"), Hinge(5, "13")], loads, Foundation(0.7, "transverse"))


def random_pose(s: Structure, rng: np.random.Generator) -> Pose:
    pose = s.reference()
    new = pose.copy()
    step = rng.normal(size=s.size) * 0.7
    straight(s.model, pose, step, 1.0, new)
    return new


def assembled(s: Structure, pose: Pose, factor: float = 0.8) -> tuple[float, np.ndarray, np.ndarray, np.ndarray]:
    half = 8 if all(i in (0, s.rod.elements) for i in s.nodes) else 11
    out = System.empty(s.size, s.unsymmetric, half)
    energy = assemble(s.model, pose, factor, out)
    full = np.zeros((s.size, s.size))
    for i in range(s.size):
        for k in range(max(0, half - i), half + 1):
            full[i, i + k - half] = full[i + k - half, i] = out.band[i, k]
    if s.unsymmetric:
        for i in range(s.size):
            for k in range(2 * half + 1):
                if 0 <= i + k - half < s.size:
                    full[i, i + k - half] += out.extra[i, k]
                else:
                    assert out.extra[i, k] == 0.0
    return energy, out.grad.copy(), full, out.load.copy()


def moved(s: Structure, pose: Pose, step: np.ndarray) -> Pose:
    new = pose.copy()
    straight(s.model, pose, step, 1.0, new)
    return new


def extrapolated(f, h: float):  # type: ignore[no-untyped-def]
    """Central difference at 0 extrapolated twice (error of order h^6)."""
    d = [(f(s) - f(-s)) / (2.0 * s) for s in (h, h / 2, h / 4)]
    once = [(4.0 * d[1] - d[0]) / 3.0, (4.0 * d[2] - d[1]) / 3.0]
    return (16.0 * once[1] - once[0]) / 15.0


def commutator(s: Structure, grad: np.ndarray) -> np.ndarray:
    """Half of [g] at frames that turn by exp: the gradient lives in each state's own frame (0 at equilibrium)."""
    out = np.zeros((s.size, s.size))
    charts = {int(f) for f, loose in zip(s.model.tied, s.model.loose, strict=True) if loose}
    for f, k in enumerate(s.model.at_frame):
        if f not in charts:
            g = grad[k : k + 3]
            out[k : k + 3, k : k + 3] = 0.5 * np.array([[0, -g[2], g[1]], [g[2], 0, -g[0]], [-g[1], g[0], 0]])
    return out


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("loads", [POTENTIAL_LOADS, POTENTIAL_LOADS + OTHER_LOADS], ids=["potential", "follower"])
def test_tangent_is_the_residuals_derivative(seed: int, loads: list[Load]) -> None:
    s = structure(seed, loads)
    pose = random_pose(s, np.random.default_rng(seed))
    _, grad, tangent, _ = assembled(s, pose)
    unit = np.eye(s.size)
    clamped = {int(f) for f, loose in zip(s.model.tied, s.model.loose, strict=True) if not loose}
    free = np.ones(s.size, bool)
    for f in clamped:  # its unknown is psi, all prescribed: no equation of its own
        free[s.model.at_frame[f] : s.model.at_frame[f] + 3] = False
    columns = np.flatnonzero(free)
    derivative = np.stack(
        [extrapolated(lambda h, i=i: assembled(s, moved(s, pose, h * unit[i]))[1], 0.02) for i in columns], axis=1
    )
    expected = (tangent + commutator(s, grad))[np.ix_(free, free)]
    np.testing.assert_allclose(derivative[free], expected, atol=1e-6 * np.max(np.abs(tangent)), rtol=0.0)


@pytest.mark.parametrize("seed", range(3))
def test_tangent_of_a_yielding_rod_is_the_residuals_derivative(seed: int) -> None:
    """Every joint far beyond its limit, corner, hinges and partly held rotations included."""
    s = structure(seed, POTENTIAL_LOADS + OTHER_LOADS)
    moment, slope = moment_ratio(GRID, ((0.01, 0.9),), rectangle_losses)
    law = section_law(0.02, moment, slope, 1.7).rows(np.zeros(s.rod.elements, dtype=np.int64))
    s = replace(s, rod=replace(s.rod, law=law))
    pose = random_pose(s, np.random.default_rng(seed))
    _, grad, tangent, _ = assembled(s, pose)
    unit, free = np.eye(s.size), np.ones(s.size, bool)
    for f, loose in zip(s.model.tied, s.model.loose, strict=True):
        if not loose:
            free[s.model.at_frame[f] : s.model.at_frame[f] + 3] = False
    columns = np.flatnonzero(free)
    step = 1e-3  # within one piece of the table
    derivative = np.stack(
        [extrapolated(lambda h, i=i: assembled(s, moved(s, pose, h * unit[i]))[1], step) for i in columns], axis=1
    )
    expected = (tangent + commutator(s, grad))[np.ix_(free, free)]
    np.testing.assert_allclose(derivative[free], expected, atol=1e-6 * np.max(np.abs(tangent)), rtol=0.0)
    line = assembled(replace(s, rod=replace(s.rod, law=None)), pose)[2]
    assert np.max(np.abs(line - tangent)) > 0.05 * np.max(np.abs(tangent))


@pytest.mark.parametrize("seed", range(3))
def test_gradient_is_the_energys(seed: int) -> None:
    s = structure(seed, POTENTIAL_LOADS)
    pose = random_pose(s, np.random.default_rng(seed))
    _, grad, tangent, _ = assembled(s, pose)
    assert np.max(np.abs(tangent - tangent.T)) <= 1e-10 * np.max(np.abs(tangent))
    assert not s.unsymmetric
    unit = np.eye(s.size)
    last = s.model.at_frame[s.rod.elements + s.nodes.index(6)]
    for i in range(s.size):
        if last <= i < last + 3:
            continue
        slope = extrapolated(lambda h, i=i: assembled(s, moved(s, pose, h * unit[i]))[0], 0.02)
        assert grad[i] == pytest.approx(slope, rel=1e-6, abs=1e-6 * np.max(np.abs(grad)))


@pytest.mark.parametrize("seed", range(3))
def test_load_is_the_residuals_derivative_by_the_factor(seed: int) -> None:
    s = structure(seed, POTENTIAL_LOADS + OTHER_LOADS)
    pose = random_pose(s, np.random.default_rng(seed))
    slope = assembled(s, pose, 1.3)[1] - assembled(s, pose, 0.3)[1]
    np.testing.assert_allclose(assembled(s, pose)[3], slope, atol=1e-12 * np.max(np.abs(slope)))


@pytest.mark.parametrize("seed", range(3))
def test_a_rigid_motion_changes_no_strain_energy(seed: int) -> None:
    rod = crooked(seed)
    s = Structure(rod, [Support(3)])
    rng = np.random.default_rng(seed)
    pose = random_pose(s, rng)
    turn = Rotation.from_rotvec(rng.normal(size=3) * 2.0)
    q = np.roll((turn * Rotation.from_quat(np.roll(pose.q, -1, axis=1))).as_quat(), 1, axis=1)
    other = Pose(pose.x @ turn.as_matrix().T + rng.normal(size=3), q, pose.psi)
    assert assembled(s, other)[0] == pytest.approx(assembled(s, pose)[0], rel=1e-12)
    assert assembled(s, s.reference())[0] < 1e-24 * assembled(s, pose)[0]


@pytest.mark.parametrize("seed", range(3))
def test_trial_states_agree_to_first_order(seed: int) -> None:
    """Positions from strains differ from straight ones by the square of the step."""
    s = structure(seed, POTENTIAL_LOADS)
    rng = np.random.default_rng(seed)
    pose = random_pose(s, rng)
    step = np.where(s.model.fixed, 0.0, rng.normal(size=s.size))
    away = []
    for share in (1e-2, 5e-3):
        new = pose.copy()
        advance(s.model, pose, step, share, new)
        plain = moved(s, pose, share * step)
        away.append(np.max(np.abs(new.x - plain.x)))
        np.testing.assert_array_equal(new.x[s.model.anchored], pose.x[s.model.anchored])
    assert 3.5 < away[0] / away[1] < 4.5


@pytest.mark.parametrize("seed", range(8))
def test_the_count_of_an_unsymmetric_system_is_its_determinants_sign(seed: int) -> None:
    s = structure(seed, POTENTIAL_LOADS + OTHER_LOADS)
    loop = Loop.at(s, random_pose(s, np.random.default_rng(seed)), 0.8)
    loop.evaluate()
    _, grad, tangent, load = assembled(s, loop.pose)
    free = ~s.model.fixed
    sign, _ = np.linalg.slogdet(tangent[np.ix_(free, free)])
    assert loop.linear() == (0 if sign > 0 else 1)
    moves = np.where(s.model.fixed, loop.moves, 0.0)
    for side, move, got in zip((grad, load), moves, loop.out.rhs, strict=True):
        wanted = np.linalg.solve(tangent[np.ix_(free, free)], -side[free] - tangent[np.ix_(free, ~free)] @ move[~free])
        np.testing.assert_allclose(got[free], wanted, rtol=1e-7, atol=1e-7 * np.max(np.abs(wanted)))
        np.testing.assert_array_equal(got[~free], move[~free])


@pytest.mark.parametrize("seed", range(8))
def test_the_count_of_a_symmetric_system_is_that_of_negative_eigenvalues(seed: int) -> None:
    s = structure(seed, POTENTIAL_LOADS)
    loop = Loop.at(s, random_pose(s, np.random.default_rng(seed)), 0.8)
    loop.evaluate()
    _, grad, tangent, load = assembled(s, loop.pose)
    free = ~s.model.fixed
    assert loop.linear() == np.sum(np.linalg.eigvalsh(tangent[np.ix_(free, free)]) < 0.0) > 0
    moves = np.where(s.model.fixed, loop.moves, 0.0)
    for side, move, got in zip((grad, load), moves, loop.out.rhs, strict=True):
        wanted = np.linalg.solve(tangent[np.ix_(free, free)], -side[free] - tangent[np.ix_(free, ~free)] @ move[~free])
        np.testing.assert_allclose(got[free], wanted, rtol=1e-6, atol=1e-6 * np.max(np.abs(wanted)))
