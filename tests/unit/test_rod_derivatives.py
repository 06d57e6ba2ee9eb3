"""Energy, gradient and Hessian of the rod at random large states."""

import numpy as np
import pytest
from random_states import SIZE, N, assembled, dense, moved, random_rod, random_state, skew, turned

from tipmech.rod.band import factor, solve
from tipmech.rod.elastic import _joint, _joint_tangent, clamp_moment, elastic_energy
from tipmech.rod.static_terms import fix, tangent


def extrapolated(f, h: float):  # type: ignore[no-untyped-def]
    """Central difference at 0 extrapolated twice (error of order h^6)."""
    d = [(f(s) - f(-s)) / (2.0 * s) for s in (h, h / 2, h / 4)]
    once = [(4.0 * d[1] - d[0]) / 3.0, (4.0 * d[2] - d[1]) / 3.0]
    return (16.0 * once[1] - once[0]) / 15.0


@pytest.mark.parametrize("seed", range(4))
def test_gradient_is_the_energys(seed: int) -> None:
    rng = np.random.default_rng(seed)
    rod = random_rod(rng)
    x, q = random_state(rng)
    energy, grad, _ = assembled(rod, x, q)
    assert energy == pytest.approx(elastic_energy(rod, x, q), rel=1e-14)
    unit = np.eye(SIZE)
    for i in range(SIZE):
        slope = extrapolated(lambda s, i=i: elastic_energy(rod, *moved(x, q, s * unit[i])), 0.02)
        assert grad[i] == pytest.approx(slope, rel=1e-6, abs=1e-6 * np.max(np.abs(grad)))


@pytest.mark.parametrize("seed", range(4))
def test_hessian_is_the_symmetric_part_of_the_gradients_derivative(seed: int) -> None:
    """The assembled gradient lives in each state's own frames: its derivative is H plus half a commutator."""
    rng = np.random.default_rng(seed)
    rod = random_rod(rng)
    x, q = random_state(rng)
    _, grad, hessian = assembled(rod, x, q)
    unit = np.eye(SIZE)
    derivative = np.stack(
        [extrapolated(lambda s, i=i: assembled(rod, *moved(x, q, s * unit[i]))[1], 0.02) for i in range(SIZE)], axis=1
    )
    scale = np.max(np.abs(hessian))
    np.testing.assert_allclose(hessian, 0.5 * (derivative + derivative.T), atol=1e-6 * scale, rtol=0.0)
    half = np.zeros((SIZE, SIZE))
    for j in range(N):
        k = 6 * j + 3
        g = grad[k : k + 3]
        half[k : k + 3, k : k + 3] = 0.5 * np.array([[0.0, -g[2], g[1]], [g[2], 0.0, -g[0]], [-g[1], g[0], 0.0]])
    away = 0.5 * (derivative - derivative.T)
    np.testing.assert_allclose(np.abs(away), np.abs(half), atol=1e-6 * scale, rtol=0.0)


def test_hessian_is_the_energys_second_difference() -> None:
    rng = np.random.default_rng(11)
    rod = random_rod(rng)
    x, q = random_state(rng)
    _, _, hessian = assembled(rod, x, q)
    scale = np.max(np.abs(hessian))
    for _ in range(40):
        a = rng.normal(size=SIZE)
        a /= np.linalg.norm(a)
        values = []
        for h in (0.04, 0.02, 0.01):
            f = [elastic_energy(rod, *moved(x, q, s * a)) for s in (-h, 0.0, h)]
            values.append((f[0] - 2.0 * f[1] + f[2]) / h**2)
        once = [(4.0 * values[1] - values[0]) / 3.0, (4.0 * values[2] - values[1]) / 3.0]
        assert a @ hessian @ a == pytest.approx((16.0 * once[1] - once[0]) / 15.0, rel=1e-6, abs=1e-6 * scale)


@pytest.mark.parametrize("seed", range(20))
def test_blocks_on_the_diagonal_are_symmetric(seed: int) -> None:
    """Only their lower triangles are stored, so a part left out above the diagonal would go unseen."""
    rng = np.random.default_rng(seed)
    rod = random_rod(rng)
    _, q = random_state(rng)
    phi, m, _, bow = _joint(rod, 1, tuple(q[0]), tuple(q[1]))
    assert np.linalg.norm(phi) > 0.1
    for block in _joint_tangent(rod, 1, phi, m, bow)[1:3]:
        square = np.reshape(block, (3, 3))
        np.testing.assert_allclose(square, square.T, atol=1e-10 * np.max(np.abs(square)), rtol=0.0)


@pytest.mark.parametrize("seed", range(5))
def test_objective(seed: int) -> None:
    """A rigid motion of rod and clamps changes no energy and turns the forces with it."""
    rng = np.random.default_rng(seed)
    rod = random_rod(rng)
    x, q = random_state(rng)
    energy, grad, hessian = assembled(rod, x, q)
    p = rng.normal(size=4)
    p /= np.linalg.norm(p)
    w, v = p[0], p[1:]
    turn = np.eye(3) + 2.0 * w * skew(v) + 2.0 * skew(v) @ skew(v)
    other = rod._replace(clamps=turned(p, rod.clamps))
    e2, g2, h2 = assembled(other, x @ turn.T + rng.normal(size=3), turned(p, q))
    assert e2 == pytest.approx(energy, rel=1e-12)
    big = np.eye(SIZE)
    for i in range(N + 1):
        big[6 * i : 6 * i + 3, 6 * i : 6 * i + 3] = turn
    np.testing.assert_allclose(g2, big @ grad, atol=1e-12 * np.max(np.abs(grad)), rtol=0.0)
    np.testing.assert_allclose(h2, big @ hessian @ big.T, atol=1e-12 * np.max(np.abs(hessian)), rtol=0.0)


@pytest.mark.parametrize("seed", range(20))
def test_inertia_counts_negative_eigenvalues(seed: int) -> None:
    rng = np.random.default_rng(seed)
    rod = random_rod(rng, clamped=seed % 2 == 0)
    x, q = random_state(rng)
    band = tangent(rod, x, q, fix(N, x=0, y=0, z=0))
    expected = int(np.sum(np.linalg.eigvalsh(dense(band)) < 0.0))
    fac = np.empty_like(band)
    assert factor(band, fac, 0.0) == expected
    b = rng.normal(size=(2, SIZE))
    y = b.copy()
    solve(fac, y)
    np.testing.assert_allclose(dense(band) @ y.T, b.T, atol=1e-8)


def test_inertia_sees_both_kinds() -> None:
    """The random states above are of use only if some of them are indefinite."""
    counts = set()
    for seed in range(20):
        rng = np.random.default_rng(seed)
        rod = random_rod(rng, clamped=seed % 2 == 0)
        x, q = random_state(rng)
        band = tangent(rod, x, q, fix(N, x=0, y=0, z=0))
        counts.add(int(np.sum(np.linalg.eigvalsh(dense(band)) < 0.0)))
    assert len(counts) > 2


@pytest.mark.parametrize("end", [0, 1])
def test_clamp_moment_is_minus_the_energys_slope(end: int) -> None:
    rng = np.random.default_rng(3)
    rod = random_rod(rng)
    x, q = random_state(rng)
    moment = np.array(clamp_moment(rod, q, end))
    for a in range(3):

        def energy(s: float, a: int = a) -> float:
            clamps = rod.clamps.copy()
            turn = np.array([np.cos(s / 2), 0.0, 0.0, 0.0])
            turn[1 + a] = np.sin(s / 2)
            clamps[end] = turned(clamps[end], turn[None, :])[0]
            return elastic_energy(rod._replace(clamps=clamps), x, q)

        assert moment[a] == pytest.approx(-extrapolated(energy, 0.02), rel=1e-6, abs=1e-7)
