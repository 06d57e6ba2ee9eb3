"""Rods whose bending moment leaves the line: derivatives, objectivity, equilibria against other means, Newton."""

from dataclasses import fields, replace

import numpy as np
import pytest
from random_states import SIZE, N, assembled, moved, random_rod, random_state, skew, turned
from rod_paths import quadratic
from scipy.integrate import quad, solve_bvp
from scipy.spatial.transform import Rotation

from tipmech.bending import GRID, MomentLaw, PartLaw, composed, in_series, section_law
from tipmech.profile import uniform
from tipmech.rod.build import Section, profile_rod, rod_along, straight
from tipmech.rod.elastic import RodArrays, elastic_energy
from tipmech.rod.errors import GeometryError, ShapeError
from tipmech.rod.loads import Force, Moment
from tipmech.rod.numbering import law_arrays
from tipmech.rod.solve import solve, solve_path
from tipmech.rod.static_terms import rod_arrays
from tipmech.rod.structure import Structure
from tipmech.rod.supports import Hinge, clamp
from tipmech.wire.curvature import moment_ratio, rectangle_losses, round_losses

STEEL = ((0.009, 0.84),)
NITINOL = ((0.010, 0.98), (0.060, -0.69))
PLASTIC = ((0.01, 1.0),)
NEAR = 1e-4  # step of the differences: far inside one piece of the table, where the gradient is smooth
DERIVATIVE = 1e-6  # of the largest entry, as for rods on the line
COLLOCATION = 1e-7  # relative residual of the reference: the curve has kinks, on which more takes ever more nodes
STIFF = 1e5  # EA, GA over EI/L^2: strains of 1e-4 below


def law(limit: float, breaks, losses=round_losses, aspect=1.0) -> MomentLaw:  # type: ignore[no-untyped-def]
    moment, slope = moment_ratio(GRID, breaks, losses)
    return section_law(limit, moment, slope, aspect)


def section(limit: float, breaks, bend=(1.0, 1.0, 0.8), losses=round_losses) -> Section:  # type: ignore[no-untyped-def]
    return Section(*bend, STIFF, STIFF, STIFF, law(limit, breaks, losses))


def bent_rod(rng: np.random.Generator) -> RodArrays:
    """Random rod whose joints are far beyond their limits, except every third, which never leaves the line."""
    rod = random_rod(rng)
    laws = [
        law(rng.uniform(0.1, 0.8), (STEEL, NITINOL, PLASTIC)[i % 3], aspect=rng.uniform(0.3, 3.0)) for i in range(N + 1)
    ]
    whole = MomentLaw(*(np.concatenate([getattr(one, f.name) for one in laws]) for f in fields(MomentLaw)))
    limit, side, table = law_arrays(rod.bend[:, :2], whole)
    limit[::3] = np.inf
    return rod._replace(limit=limit, side=side, law=table)


def exact(f, h: float = NEAR):  # type: ignore[no-untyped-def]
    """Central difference extrapolated once."""
    d = [(f(s) - f(-s)) / (2.0 * s) for s in (h, h / 2)]
    return (4.0 * d[1] - d[0]) / 3.0


@pytest.mark.parametrize("seed", range(4))
def test_gradient_and_hessian_are_exact(seed: int) -> None:
    rng = np.random.default_rng(seed)
    rod = bent_rod(rng)
    x, q = random_state(rng)
    energy, grad, hessian = assembled(rod, x, q)
    assert energy == pytest.approx(elastic_energy(rod, x, q), rel=1e-14)
    on_the_line = assembled(rod._replace(limit=np.zeros(0)), x, q)
    assert on_the_line[0] - energy > 1.0  # the states are far beyond the limits: a joint of stiffness 1 has some 3
    unit = np.eye(SIZE)
    slopes = [exact(lambda s, i=i: elastic_energy(rod, *moved(x, q, s * unit[i])), 100 * NEAR) for i in range(SIZE)]
    np.testing.assert_allclose(grad, slopes, atol=DERIVATIVE * np.max(np.abs(grad)), rtol=0.0)
    derivative = np.stack([exact(lambda s, i=i: assembled(rod, *moved(x, q, s * unit[i]))[1]) for i in range(SIZE)], 1)
    scale = np.max(np.abs(hessian))
    np.testing.assert_allclose(hessian, 0.5 * (derivative + derivative.T), atol=DERIVATIVE * scale, rtol=0.0)


@pytest.mark.parametrize("seed", range(3))
def test_objective(seed: int) -> None:
    rng = np.random.default_rng(seed)
    rod = bent_rod(rng)
    x, q = random_state(rng)
    energy, grad, hessian = assembled(rod, x, q)
    p = rng.normal(size=4)
    p /= np.linalg.norm(p)
    turn = np.eye(3) + 2.0 * p[0] * skew(p[1:]) + 2.0 * skew(p[1:]) @ skew(p[1:])
    e2, g2, h2 = assembled(rod._replace(clamps=turned(p, rod.clamps)), x @ turn.T + rng.normal(size=3), turned(p, q))
    big = np.eye(SIZE)
    for i in range(N + 1):
        big[6 * i : 6 * i + 3, 6 * i : 6 * i + 3] = turn
    assert e2 == pytest.approx(energy, rel=1e-12)
    np.testing.assert_allclose(g2, big @ grad, atol=1e-12 * np.max(np.abs(grad)), rtol=0.0)
    np.testing.assert_allclose(h2, big @ hessian @ big.T, atol=1e-12 * np.max(np.abs(hessian)), rtol=0.0)


def test_a_limit_that_is_not_reached_leaves_every_bit() -> None:
    rng = np.random.default_rng(2)
    rod = random_rod(rng)
    x, q = random_state(rng)
    limit, side, table = law_arrays(rod.bend[:, :2], law(1e6, STEEL).rows(np.zeros(N + 1, dtype=np.int64)))
    for a, b in zip(
        assembled(rod, x, q), assembled(rod._replace(limit=limit, side=side, law=table), x, q), strict=True
    ):
        np.testing.assert_array_equal(a, b)


@pytest.mark.parametrize("breaks", [STEEL, NITINOL, PLASTIC])
@pytest.mark.parametrize("x", [0.9, 1.5, 3.0, 9.0])
def test_pure_bending_takes_the_laws_curvature(breaks, x: float) -> None:  # type: ignore[no-untyped-def]
    """An end moment about an oblique axis gives everywhere the curvature whose moment it is."""
    limit, axis = 0.6, np.array([0.8, 0.6, 0.0])
    wanted = limit * x
    moment = float(law(limit, breaks).at(np.array([[wanted]]))[0][0, 0])
    rod = straight(1.0, 24, section(limit, breaks))
    state = solve_path(Structure(rod, [clamp(0)], loads=[Moment(-1, tuple(moment * axis))]), np.linspace(0, 1, 9))[-1]
    assert state.converged
    frames = Rotation.from_quat(np.roll(state.q, -1, axis=1))
    bends = (frames[:-1].inv() * frames[1:]).as_rotvec() * 24
    np.testing.assert_allclose(bends, np.tile(wanted * axis, (23, 1)), rtol=1e-7, atol=1e-9 * wanted)
    assert state.strain_energy == pytest.approx(
        quad(lambda k: law(limit, breaks).at(np.array([[k]]))[0][0, 0], 0.0, wanted, limit=200)[0], rel=1e-6
    )


def shape_by_collocation(limit: float, breaks, losses, load: float) -> np.ndarray:  # type: ignore[no-untyped-def]
    """Tip of a cantilever of unit length and EI under a dead transverse tip force: strong equations, exact curve.

    theta' = kappa(M), x' = sin theta, z' = cos theta, M' = -load cos theta.
    """
    x = np.concatenate([[0.0], np.geomspace(1.0, GRID[-1], 200001)])
    moment = np.concatenate([[0.0], moment_ratio(x[1:], breaks, losses)[0]])

    def slopes(s: np.ndarray, y: np.ndarray) -> np.ndarray:
        kappa = limit * np.interp(y[3] / limit, moment, x)
        return np.stack([np.sin(y[2]), np.cos(y[2]), kappa, -load * np.cos(y[2])])

    s = np.linspace(0.0, 1.0, 201)
    guess = np.stack([0.3 * s**2, s, 0.6 * s, 0.9 * load * (1.0 - s)])
    found = solve_bvp(
        slopes, lambda a, b: np.array([a[0], a[1], a[2], b[3]]), s, guess, tol=COLLOCATION, max_nodes=50000
    )
    assert found.status == 0, found.message
    return np.asarray(found.y[:2, -1])


@pytest.mark.parametrize(
    ("limit", "breaks", "losses"),
    [(0.6, STEEL, round_losses), (0.5, NITINOL, rectangle_losses), (0.8, NITINOL, round_losses)],
)
def test_a_cantilever_against_its_strong_equations(limit: float, breaks, losses) -> None:  # type: ignore[no-untyped-def]
    """Tip of three meshes, extrapolated; the difference left is the table's (FIT of test_bending) and the strains'."""
    load, tips = 1.5, []
    for n in (20, 40, 80):
        rod = straight(1.0, n, section(limit, breaks, losses=losses))
        state = solve_path(Structure(rod, [clamp(0)], loads=[Force(-1, (load, 0.0, 0.0))]), np.linspace(0, 1, 9))[-1]
        assert state.converged and state.stable
        tips.append(state.x[-1, [0, 2]])
    line = solve(Structure(replace(rod, law=None), [clamp(0)], loads=[Force(-1, (load, 0.0, 0.0))])).x[-1, 0]
    assert tips[-1][0] > 1.05 * line  # the law matters
    reference = shape_by_collocation(limit, breaks, losses, load)
    best = (4.0 * tips[2] - tips[1]) / 3.0
    np.testing.assert_allclose(best, reference, atol=2e-4)
    coarse, fine = (np.linalg.norm(t - reference) for t in (tips[0], tips[1]))
    assert fine < 0.4 * coarse


@pytest.mark.parametrize(
    "loads", [[Force(-1, (1.5, 0.4, 0.0))], [Moment(-1, (0.9, 0.5, 0.3))]], ids=["dead force", "moment"]
)
def test_newton_is_quadratic(loads) -> None:  # type: ignore[no-untyped-def]
    soft = Section(1.0, 1.0, 0.6, 10.0, 10.0, 10.0, law(0.3, STEEL))
    s = Structure(straight(1.0, 20, soft), [clamp(0)], loads=loads)
    near = solve(s, 1.0)
    found = solve(s, 1.01, start=near)
    assert near.converged and found.converged and len(found.residuals) <= 6
    assert quadratic(found.residuals), found.residuals


def test_the_load_does_the_energys_work() -> None:
    s = Structure(straight(1.0, 20, section(0.4, NITINOL)), [clamp(0)], loads=[Force(-1, (2.0, 0.5, -0.3))])
    factors = np.linspace(0.0, 1.0, 201)
    path = solve_path(s, factors)
    assert all(state.converged for state in path)
    force = np.array([2.0, 0.5, -0.3])
    along = np.array([state.displacement[-1] @ force for state in path])
    work = np.trapezoid(factors, along)
    assert path[-1].strain_energy == pytest.approx(work, rel=2e-4)  # of the trapezoidal rule with 200 steps


def test_a_joint_of_two_sections_takes_both_in_series() -> None:
    one, two = section(0.5, NITINOL), section(0.4, STEEL, bend=(3.0, 3.0, 2.0))
    rod = straight(1.0, 2, [one, two])
    arrays, _, _ = rod_arrays(rod)
    assert one.law is not None and two.law is not None
    quarter = np.array([0.25])
    whole = in_series(one.law, two.law, (quarter, quarter), (quarter / 1.0, quarter / 3.0))
    np.testing.assert_allclose(arrays.bend[1, 0], 1.5)
    np.testing.assert_allclose(arrays.limit[1], 1.5 * whole.limit[0] ** 2)
    np.testing.assert_allclose(arrays.law[1, 1:], [whole.moment[0], whole.slope[0]])
    np.testing.assert_allclose(arrays.limit[0], 0.5**2)


def test_profiles_hand_their_laws_on() -> None:
    plain = uniform(1e-8, 0.1)
    assert profile_rod(plain, np.full(4, 0.01)).law is None
    one = law(300.0, STEEL)
    part = PartLaw(np.full(2, 0.6), np.full(2, 300.0), one.moment[0], one.slope[0])
    rod = profile_rod(replace(plain, laws=(part,)), np.full(4, 0.01))
    assert rod.law is not None
    expected = composed((part.resampled(plain.distance, np.full(4, 0.02)),))
    np.testing.assert_allclose(rod.law.moment, expected.moment)
    arrays, _, _ = rod_arrays(rod)
    np.testing.assert_allclose(arrays.limit, 1e-8 * 300.0**2)


def test_wrong_laws_are_refused() -> None:
    two = law(0.5, STEEL).rows(np.zeros(2, dtype=np.int64))
    with pytest.raises(ShapeError, match="2 rows"):
        Section(1.0, 1.0, 1.0, 1.0, 1.0, 1.0, two)
    with pytest.raises(GeometryError, match="inside an element"):
        straight(1.0, 4, [section(0.5, STEEL), section(0.6, STEEL)], breaks=[0.4])
    points = np.zeros((5, 3))
    points[:, 2] = np.linspace(0.0, 1.0, 5)
    rod = rod_along(points, [section(0.5, STEEL), Section(2.0, 2.0, 1.0, 9.0, 9.0, 9.0)], breaks=[0.5])
    assert rod.law is not None
    np.testing.assert_array_equal(np.isfinite(rod.law.limit), [True, True, False, False])


def test_a_hinge_beside_a_law() -> None:
    """A joint without bending stiffness about one axis keeps its law about the other; a free hinge has no energy."""
    rod = straight(1.0, 8, section(0.5, STEEL))
    s = Structure(rod, [clamp(0), clamp(-1)], [Hinge(4, "12")], loads=[Force(4, (30.0, 0.0, 0.0))])
    state = solve_path(s, np.linspace(0, 1, 9))[-1]
    assert state.converged
    np.testing.assert_allclose(state.moments[4, :, :2], 0.0, atol=1e-12)
