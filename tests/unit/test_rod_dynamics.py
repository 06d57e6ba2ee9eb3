"""Time steps of the rod: order, invariance, damping, energy, failure. The snap has its own file."""

from collections.abc import Iterator
from dataclasses import replace
from itertools import count, pairwise

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.spatial.transform import Rotation

from tipmech.profile import Profile
from tipmech.rod.band import WIDTH
from tipmech.rod.build import Section, rod_along, straight
from tipmech.rod.dynamics import Motion, State, at_rest, integrate
from tipmech.rod.elastic import RodArrays, assemble_elastic
from tipmech.rod.inertia import Inertia, angular_momentum, inertia_from_profile, line_drag, lumped_inertia
from tipmech.rod.loads import Force
from tipmech.rod.scheme import Scheme
from tipmech.rod.solve import solve
from tipmech.rod.static_terms import fix, rod_arrays
from tipmech.rod.structure import Structure
from tipmech.rod.supports import clamp
from tipmech.rod.time_step import Problem, _acting, _balance, first_level, move, try_step, workspace
from tipmech.validation.model import EI, LENGTH, uniform_rod

N = 3
SIZE = 6 * N + 3
FREE = np.zeros(SIZE, dtype=bool)


def small_rod(seed: int = 1, *, clamped: bool = False) -> tuple[RodArrays, np.ndarray, np.ndarray, Inertia]:
    """A short soft rod of unit size with three different moments of inertia, straight along z at rest."""
    rng = np.random.default_rng(seed)
    length = rng.uniform(0.5, 1.0, N)
    points = np.stack([np.zeros(N + 1), np.zeros(N + 1), np.concatenate([[0.0], np.cumsum(length)])], axis=1)
    rod, x, q = rod_arrays(rod_along(points, Section(1.0, 1.0, 1.0, 1.0, 1.0, 1.0)), (clamped, False))
    bend, stretch = rng.uniform(1.0, 2.0, (N + 1, 3)), rng.uniform(3.0, 5.0, (N, 3))
    rod = rod._replace(bend=rod.bend * bend, stretch=stretch, natural=0.4 * rng.normal(size=(N + 1, 3)))
    return rod, x, q, lumped_inertia(length, rng.uniform(1.0, 2.0, N), rng.uniform(0.3, 1.0, (N, 3)))


def thrown(x: np.ndarray, q: np.ndarray, size: float = 1.0) -> State:
    rng = np.random.default_rng(2)
    return State(0.0, x, q, size * rng.normal(size=x.shape), size * rng.normal(size=(len(q), 3)))


def flow(problem: Problem, start: State, time: float) -> tuple[np.ndarray, np.ndarray]:
    """Positions and rotation matrices at `time`: scipy's DOP853 on the semi-discrete equations, written anew here."""
    rod, mass, spin = problem.rod, problem.inertia.mass, problem.inertia.spin
    damping = np.zeros(SIZE) if problem.damping is None else problem.damping

    def rate(t: float, y: np.ndarray) -> np.ndarray:
        x, q = y[: 3 * N + 3].reshape(-1, 3), y[3 * N + 3 : 7 * N + 3].reshape(-1, 4)
        v, w = y[7 * N + 3 : 10 * N + 6].reshape(-1, 3), y[10 * N + 6 :].reshape(-1, 3)
        unit = q / np.linalg.norm(q, axis=1)[:, None]
        grad, band = np.zeros(SIZE), np.zeros((SIZE, WIDTH))
        assemble_elastic(rod, np.ascontiguousarray(x), np.ascontiguousarray(unit), grad, band)
        if problem.loads is not None:
            for a in range(3):
                grad[a::6] -= problem.loads(t)[:, a]
        for a in range(3):
            grad[a::6] += damping[a::6] * v[:, a]
            grad[a + 3 :: 6] += damping[a + 3 :: 6] * w[:, a]
        force = np.stack([grad[a::6] for a in range(3)], axis=1)
        moment = np.stack([grad[a::6] for a in (3, 4, 5)], axis=1)
        acceleration = np.where(np.stack([problem.fixed[a::6] for a in range(3)], axis=1), 0.0, -force / mass[:, None])
        turn = (-moment - np.cross(w, spin * w)) / spin
        scalar = -0.5 * np.sum(q[:, 1:] * w, axis=1)
        vector = 0.5 * (q[:, :1] * w + np.cross(q[:, 1:], w))
        return np.concatenate(
            [v.ravel(), np.column_stack([scalar, vector]).ravel(), acceleration.ravel(), turn.ravel()]
        )

    y = np.concatenate([start.x.ravel(), start.q.ravel(), start.velocity.ravel(), start.spin.ravel()])
    end = solve_ivp(rate, (0.0, time), y, method="DOP853", rtol=1e-12, atol=1e-12).y[:, -1]
    q = end[3 * N + 3 : 7 * N + 3].reshape(-1, 4)
    return end[: 3 * N + 3].reshape(-1, 3), matrices(q / np.linalg.norm(q, axis=1)[:, None])


def matrices(q: np.ndarray) -> np.ndarray:
    return Rotation.from_quat(q, scalar_first=True).as_matrix()


def distance(run: Motion, x: np.ndarray, frames: np.ndarray) -> float:
    return float(max(np.max(np.abs(run.x[-1] - x)), np.max(np.abs(matrices(run.q[-1]) - frames))))


def least_order(errors: list[float]) -> float:
    return min(np.log2(a / b) for a, b in pairwise(errors))


@pytest.mark.parametrize("rho", [1.0, 0.8, 0.0])
def test_second_order_against_another_integrator(rho: float) -> None:
    """Free rod in large motion, moments of inertia all different, drag, a force that varies in time."""
    rod, x, q, inertia = small_rod()
    pull = np.random.default_rng(4).normal(size=(N + 1, 3))
    damping = line_drag(rod.length, 0.1, 0.05)
    problem = Problem(rod, inertia, FREE, damping=damping, loads=lambda t: np.sin(2.0 * t) * pull)
    start = thrown(x, q)
    reference = flow(problem, start, 2.0)
    errors = [distance(integrate(problem, start, 2.0, 2.0 / n, rho=rho), *reference) for n in (100, 200, 400)]
    assert least_order(errors) > 1.9
    assert errors[-1] < 1e-3


def test_second_order_against_a_fine_run_with_a_clamp() -> None:
    rod, x, q, inertia = small_rod(clamped=True)
    problem = Problem(rod, inertia, fix(N, x=0, y=0, z=0))
    start = thrown(x, q, 0.5)  # no joint turns past 180 degrees, where its energy has a kink
    fine = integrate(problem, start, 2.0, 2.0 / 6400)
    frames = matrices(fine.q[-1])
    assert fine.completed and fine.failed == 0
    errors = [distance(integrate(problem, start, 2.0, 2.0 / n), fine.x[-1], frames) for n in (100, 200, 400)]
    assert least_order(errors) > 1.9
    assert distance(fine, *flow(problem, replace(start, velocity=start.velocity * (x[:, 2:] > 0.0)), 2.0)) < 1e-5


def test_second_order_with_steps_of_changing_length() -> None:
    """Every third step that is tried is refused: the auxiliary acceleration is rescaled with the step."""
    rod, x, q, inertia = small_rod()
    start = thrown(x, q)
    errors = []
    reference = flow(Problem(rod, inertia, FREE), start, 2.0)
    for n in (100, 200, 400):
        tried = count()

        def loads(t: float, tried: Iterator[int] = tried) -> np.ndarray:
            return np.full((N + 1, 3), np.nan if next(tried) % 3 == 2 else 0.0)

        run = integrate(Problem(rod, inertia, FREE, loads=loads), start, 2.0, 2.0 / n, rho=0.5)
        assert run.failed > n / 10 and run.completed
        errors.append(distance(run, *reference))
    assert least_order(errors) > 1.9


def test_rotating_everything_rotates_the_motion() -> None:
    rod, x, q, inertia = small_rod(clamped=True)
    turn = Rotation.from_rotvec([0.4, -1.1, 0.7])
    pull = np.random.default_rng(4).normal(size=(N + 1, 3))

    def turned(frames: np.ndarray) -> np.ndarray:
        return (turn * Rotation.from_quat(frames, scalar_first=True)).as_quat(scalar_first=True)

    start, shift = thrown(x, q), np.array([0.3, -0.2, 5.0])
    fixed = fix(N, x=0, y=0, z=0)
    a = integrate(Problem(rod, inertia, fixed, loads=lambda t: t * pull), start, 1.0, 0.01)
    moved = State(0.0, turn.apply(x) + shift, turned(q), turn.apply(start.velocity), start.spin)
    problem = Problem(rod._replace(clamps=turned(rod.clamps)), inertia, fixed, loads=lambda t: turn.apply(t * pull))
    b = integrate(problem, moved, 1.0, 0.01)
    np.testing.assert_allclose(b.x[-1], turn.apply(a.x[-1]) + shift, atol=1e-8)
    np.testing.assert_allclose(matrices(b.q[-1]), turn.as_matrix() @ matrices(a.q[-1]), atol=1e-8)
    assert np.max(np.abs(a.x[-1] - x)) > 0.3


def test_the_tangent_is_exact_but_for_skew_blocks_of_the_rotations() -> None:
    """Finite differences of the residual against the band: what is left out is what the docs say."""
    rod, x, q, inertia = small_rod(clamped=True)
    rng = np.random.default_rng(7)
    problem = Problem(rod, inertia, FREE, damping=rng.uniform(0.1, 0.3, SIZE))
    work, rates = workspace(problem), Scheme(0.7).rates(0.8)
    s0, v0, w0 = 0.5 * rng.normal(size=SIZE), rng.normal(size=SIZE), rng.normal(size=SIZE)

    def rest(step: np.ndarray) -> np.ndarray:
        s, x_new, q_new = np.zeros(SIZE), x.copy(), q.copy()
        move(x, q, s, s0, 1.0, x_new, q_new)
        move(x, q, s, step, 1.0, x_new, q_new)
        motion = (s, rates[1] * s + v0, rates[0] * s + w0)
        return _balance(problem, work, _acting(problem, 0.0), x_new, q_new, motion, rates).rest

    rest(np.zeros(SIZE))
    tangent = np.zeros((SIZE, SIZE))
    for i in range(SIZE):
        for k in range(max(0, 8 - i), WIDTH):
            tangent[i, i + k - 8] = tangent[i + k - 8, i] = work.band[i, k]
    unit, exact = np.eye(SIZE), np.empty((SIZE, SIZE))
    for j in range(SIZE):
        d = [(rest(h * unit[j]) - rest(-h * unit[j])) / (2.0 * h) for h in (1e-3, 5e-4)]
        exact[:, j] = (4.0 * d[1] - d[0]) / 3.0
    left = exact - tangent
    inside = np.zeros((SIZE, SIZE), dtype=bool)
    for j in range(N):
        inside[6 * j + 3 : 6 * j + 6, 6 * j + 3 : 6 * j + 6] = True
    np.testing.assert_allclose(left[~inside], 0.0, atol=1e-8)
    np.testing.assert_allclose(left, -left.T, atol=1e-8)
    assert np.max(np.abs(left)) > 0.1


def test_newton_gains_digits_at_a_steady_rate() -> None:
    """The skew part left out costs the quadratic end of Newton's method: a few iterations at usual steps."""
    rod, x, q, inertia = small_rod()
    run = integrate(Problem(rod, inertia, FREE), thrown(x, q), 1.0, 0.02)
    assert run.failed == 0 and np.max(run.iterations) <= 8


def oscillator() -> tuple[Problem, np.ndarray, np.ndarray, float]:
    """One element, one free unknown: its far node along the axis. Angular frequency as the last value."""
    rod, x, q = rod_arrays(straight(1.0, 1, Section(1.0, 1.0, 1.0, 8.0, 8.0, 8.0)))
    fixed = np.ones(9, dtype=bool)
    fixed[8] = False
    problem = Problem(rod, lumped_inertia(rod.length, np.ones(1), np.ones((1, 3))), fixed)
    return problem, x, q, 4.0  # sqrt(8/0.5)


@pytest.mark.parametrize("rho", [1.0, 0.7, 0.3, 0.0])
@pytest.mark.parametrize("fast", [0.1, 1.0, 30.0, 1e4])
def test_a_single_mode_is_damped_as_the_scheme_says(rho: float, fast: float) -> None:
    """Against the amplification matrix of Chung & Hulbert 1993 (from memory), assembled here from its equations."""
    problem, x, q, rate = oscillator()
    h = fast / rate
    am, af = (2 * rho - 1) / (rho + 1), rho / (rho + 1)
    gamma, beta = 0.5 - am + af, 0.25 * (1 - am + af) ** 2
    # unknowns d, v h, a h^2 (one acceleration): (1-am) a1 + am a0 + fast^2 ((1-af) d1 + af d0) = 0
    new = np.array([[1.0, 0.0, -beta], [0.0, 1.0, -gamma], [(1 - af) * fast**2, 0.0, 1 - am]])
    old = np.array([[1.0, 1.0, 0.5 - beta], [0.0, 1.0, 1 - gamma], [-af * fast**2, 0.0, -am]])
    step = np.linalg.solve(new, old)
    state = np.array([1e-3, 0.0, -(fast**2) * 1e-3])
    start = x.copy()
    start[1, 2] += 1e-3
    run = integrate(problem, at_rest(start, q), 40 * h, h, rho=rho, residual=1e-14)
    for k in range(41):
        if run.steps == 40:
            assert run.x[k, 1, 2] - 1.0 == pytest.approx(state[0], abs=2e-9 * max(1.0, np.max(np.abs(state))))
        state = step @ state
    assert run.steps == 40 and run.completed
    radius = np.max(np.abs(np.linalg.eigvals(step)))
    if fast == 1e4:
        assert radius == pytest.approx(rho, abs=0.02)
    if fast == 0.1:
        assert radius > 0.999


def test_the_error_estimate_is_the_local_error() -> None:
    rod, x, q, inertia = small_rod()
    problem, start = Problem(rod, inertia, FREE), thrown(x, q)
    work = workspace(problem)
    before = integrate(problem, start, 0.5, 0.001, rho=0.8).last
    v = np.zeros(SIZE)
    for a in range(3):
        v[a::6], v[a + 3 :: 6] = before.velocity[:, a], before.spin[:, a]
    for h in (0.04, 0.02):
        # a step at rho = 1, whose auxiliary acceleration is the acceleration itself: nothing to start
        level = first_level(problem, work, 0.0, before.x, before.q, v)
        attempt = try_step(problem, Scheme(1.0), work, level, h, 1e-11)
        assert attempt.level is not None
        x_true, frames = flow(problem, replace(before, time=0.0), h)
        off = np.swapaxes(frames, 1, 2) @ matrices(attempt.level.q)
        turn = np.abs(Rotation.from_matrix(off).as_rotvec()) * np.mean(rod.length)
        true = max(float(np.max(np.abs(attempt.level.x - x_true))), float(np.max(turn)))
        assert attempt.error == pytest.approx(true, rel=0.35)


def test_adaptive_steps_keep_the_tolerance_and_follow_the_motion() -> None:
    rod, x, q, inertia = small_rod()
    problem, start = Problem(rod, inertia, FREE), thrown(x, q)
    reference = flow(problem, start, 2.0)
    runs = [integrate(problem, start, 2.0, 0.5, tolerance=t) for t in (1e-4, 1e-6)]
    for run, tolerance in zip(runs, (1e-4, 1e-6), strict=True):
        assert run.completed and np.max(run.error) <= tolerance and run.failed > 0
    assert distance(runs[1], *reference) < 0.1 * distance(runs[0], *reference)
    assert 3.0 < runs[1].steps / runs[0].steps < 6.0  # 100^(1/3) = 4.6


def test_a_run_that_cannot_go_on_says_so_with_the_last_good_state() -> None:
    rod, x, q, inertia = small_rod()

    def loads(t: float) -> np.ndarray:
        return np.full((N + 1, 3), np.nan if t > 0.505 else 0.0)

    run = integrate(Problem(rod, inertia, FREE, loads=loads), thrown(x, q), 1.0, 0.02)
    assert not run.completed and "not finite" in run.reason and "0.505" in run.reason
    assert 0.5 < run.last.time <= 0.505 and run.times[-1] == run.last.time
    assert np.all(np.isfinite(run.last.x)) and np.all(np.isfinite(run.numerical_loss))
    good = integrate(Problem(rod, inertia, FREE), thrown(x, q), run.last.time, 0.02)
    np.testing.assert_allclose(run.last.x, good.last.x, atol=1e-3)


def test_a_step_too_long_is_halved_and_the_run_completes() -> None:
    rod, x, q, inertia = small_rod(clamped=True)
    start = thrown(x, q)
    wild = replace(start, spin=30.0 * start.spin, velocity=30.0 * start.velocity)
    run = integrate(Problem(rod, inertia, fix(N, x=0, y=0, z=0)), wild, 1.0, 0.5)
    assert run.completed and run.failed > 0 and run.times[-1] == pytest.approx(1.0)


def test_a_run_that_makes_energy_is_stopped_and_one_with_numerical_damping_is_not() -> None:
    """A bent cantilever let go, its fast modes far beyond the step: the trapezoidal rule is unstable there."""
    n = 20
    built = uniform_rod(n, stiff=200.0)
    rod, _, _ = rod_arrays(built)
    across = 0.25e-4 * (LENGTH / 100) ** 2
    inertia = lumped_inertia(rod.length, np.full(n, 1e-4), np.tile([across, across, 2 * across], (n, 1)))
    fixed = fix(n, x=0, y=0, z=0)
    bent = solve(Structure(built, [clamp(0)], loads=[Force(-1, (3.0 * EI / LENGTH**2, 0.0, 0.0))]))
    assert bent.converged
    period = 2.0 * np.pi / (1.8751**2 * np.sqrt(EI / 1e-4) / LENGTH**2)
    wild, calm = (
        integrate(Problem(rod, inertia, fixed), at_rest(bent.x, bent.q), 3 * period, period / 200, rho=rho)
        for rho in (1.0, 0.9)
    )
    assert not wild.completed and "smaller rho" in wild.reason and wild.numerical_loss[-1] < -3.0 * wild.strain[0]
    assert calm.completed and np.max(np.abs(calm.numerical_loss)) < 2e-3 * calm.strain[0]


def test_works_and_losses_add_up_while_supports_and_loads_move() -> None:
    """A clamp turned and shifted in time, a load that grows: the balance closes to the scheme's order."""
    rod, x, q, inertia = small_rod(clamped=True)
    axis = np.array([1.0, 2.0, -1.0]) / np.sqrt(6.0)
    pull = 0.3 * np.random.default_rng(4).normal(size=(N + 1, 3))

    def supports(t: float) -> tuple[np.ndarray, np.ndarray]:
        target = x.copy()
        target[0] += 0.2 * np.sin(t) ** 2 * np.array([1.0, -1.0, 0.5])
        turn = Rotation.from_rotvec(0.8 * np.sin(t) ** 2 * axis)
        return target, (turn * Rotation.from_quat(rod.clamps, scalar_first=True)).as_quat(scalar_first=True)

    problem = Problem(
        rod, inertia, fix(N, x=0, y=0, z=0), line_drag(rod.length, 0.5, 0.2), supports, lambda t: t * pull
    )
    losses = []
    for n in (100, 200, 400):
        run = integrate(problem, at_rest(x, q), 2.0, 2.0 / n, rho=1.0)
        losses.append(abs(run.numerical_loss[-1]))
    assert least_order(losses) > 1.9
    assert losses[-1] < 1e-3 * run.drag_loss[-1]
    assert abs(run.support_work[-1]) > 100 * losses[-1] and abs(run.load_work[-1]) > 100 * losses[-1]
    np.testing.assert_allclose(run.x[-1, 0], supports(2.0)[0][0], atol=1e-12)


def test_a_support_in_steady_flight_carries_the_rod_along() -> None:
    """Galilean invariance: base and rod at one speed stay a rigid body at rest in itself."""
    rod, x, q, inertia = small_rod(clamped=True)
    rod.natural[:] = 0.0
    speed = np.array([3.0, -1.0, 2.0])
    problem = Problem(rod, inertia, fix(N, x=0, y=0, z=0), supports=lambda t: (x + speed * t, rod.clamps))
    start = State(0.0, x, q, np.tile(speed, (N + 1, 1)), np.zeros((N, 3)))
    run = integrate(problem, start, 1.0, 0.05)
    np.testing.assert_allclose(run.x[-1], x + speed, atol=1e-9)
    np.testing.assert_allclose(run.velocity[-1], start.velocity, atol=1e-8)


def test_drag_lets_free_flight_die_out() -> None:
    """Mass times v' = -c v, the same everywhere: exp(-c t/m)."""
    rod, x, q, _ = small_rod()
    rod.natural[:] = 0.0
    inertia = lumped_inertia(rod.length, np.full(N, 2.0), np.ones((N, 3)))
    start = State(0.0, x, q, np.tile([1.0, 0.5, 0.0], (N + 1, 1)), np.zeros((N, 3)))
    run = integrate(Problem(rod, inertia, FREE, damping=line_drag(rod.length, 3.0)), start, 1.0, 0.01, rho=1.0)
    np.testing.assert_allclose(run.velocity[-1], np.exp(-1.5) * start.velocity, rtol=1e-4, atol=1e-12)
    assert run.drag_loss[-1] == pytest.approx((1.0 - np.exp(-3.0)) * run.kinetic[0], rel=1e-4)


def test_a_nodal_potential_acts_and_keeps_the_energy() -> None:
    """A harmonic trap on a free rod: the centre of mass swings as a point mass, sqrt(k/m)."""
    rod, x, q, _ = small_rod()
    inertia = lumped_inertia(rod.length, np.full(N, 2.0), np.ones((N, 3)))
    stiff = 9.0 * inertia.mass

    def trap(places: np.ndarray) -> tuple[float, np.ndarray, np.ndarray]:
        g = stiff[:, None] * places
        return 0.5 * float(np.sum(g * places)), g, stiff[:, None, None] * np.eye(3)

    run = integrate(Problem(rod, inertia, FREE, potential=trap), thrown(x, q), 1.0, 0.002, rho=1.0)
    share = inertia.mass / np.sum(inertia.mass)
    first, speed = share @ run.x[0], share @ run.velocity[0]
    np.testing.assert_allclose(share @ run.x[-1], np.cos(3.0) * first + np.sin(3.0) / 3.0 * speed, atol=1e-4)
    energy = run.kinetic + run.strain + run.potential
    assert np.max(np.abs(energy / energy[0] - 1.0)) < 1e-4


def test_angular_momentum_is_kept_to_second_order() -> None:
    rod, x, q, inertia = small_rod()
    start = thrown(x, q)
    changes = []
    for n in (50, 100, 200):
        run = integrate(Problem(rod, inertia, FREE), start, 1.0, 1.0 / n, rho=0.9)
        h = [angular_momentum(inertia, run.x[k], run.q[k], run.velocity[k], run.spin[k]) for k in (0, -1)]
        changes.append(float(np.linalg.norm(h[1] - h[0])))
    assert least_order(changes) > 1.8


def test_records_are_thinned_without_changing_the_run() -> None:
    rod, x, q, inertia = small_rod()
    every = integrate(Problem(rod, inertia, FREE), thrown(x, q), 1.0, 0.03)
    some = integrate(Problem(rod, inertia, FREE), thrown(x, q), 1.0, 0.03, every=10)
    assert every.steps == some.steps == 34 and len(every.times) == 35
    np.testing.assert_array_equal(some.times, every.times[[0, 10, 20, 30, 34]])
    np.testing.assert_array_equal(some.x[-1], every.x[-1])
    assert np.sum(some.iterations) == np.sum(every.iterations)


def test_inertia_of_a_profile() -> None:
    distance = np.array([0.0, 2.0])
    one = np.ones(2)
    mass, radius = np.array([1.0, 3.0]), np.array([0.1, 0.1])
    profile = Profile(distance, one, one, one, one, one, radius, mass, 0.1, 0.1, "taper")
    lengths = np.full(40, 0.05)
    inertia = inertia_from_profile(profile, lengths)
    assert np.sum(inertia.mass) == pytest.approx(4.0)  # integral of 1 + s over 2
    assert inertia.mass[-1] < inertia.mass[1]  # the tip is node N
    np.testing.assert_allclose(np.sum(inertia.spin, axis=0), 4.0 * 0.01 * np.array([0.25, 0.25, 0.5]))


def test_wrong_arguments_are_named() -> None:
    rod, x, q, inertia = small_rod()
    with pytest.raises(ValueError, match="mass per length must be positive"):
        lumped_inertia(rod.length, np.zeros(N), np.ones((N, 3)))
    with pytest.raises(ValueError, match="both must be at least 0"):
        line_drag(rod.length, -1.0)
    with pytest.raises(ValueError, match="spectral radius is 1.5"):
        Scheme(1.5)
    with pytest.raises(ValueError, match="must have 21 entries"):
        Problem(rod, inertia, np.zeros(3, dtype=bool))
    with pytest.raises(ValueError, match="inertia has shapes"):
        Problem(rod, Inertia(inertia.mass[1:], inertia.spin), FREE)
    for name, kwargs in (
        ("step", {"step": 0.0}),
        ("duration", {"duration": np.inf}),
        ("tolerance", {"tolerance": -1.0}),
    ):
        with pytest.raises(ValueError, match=f"{name} is"):
            integrate(Problem(rod, inertia, FREE), at_rest(x, q), **{"duration": 1.0, "step": 0.1, **kwargs})  # type: ignore[arg-type]
