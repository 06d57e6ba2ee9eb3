"""Natural modes of the rod against dense eigenvalues, drag and motion in time."""

import numpy as np
import pytest
from scipy.linalg import eigh

from tipmech.rod.band import WIDTH
from tipmech.rod.dynamics import State, integrate
from tipmech.rod.errors import ShapeError
from tipmech.rod.inertia import diagonal, line_drag, lumped_inertia
from tipmech.rod.loads import Force
from tipmech.rod.modes import natural_modes
from tipmech.rod.solve import solve
from tipmech.rod.static_terms import fix, rod_arrays, tangent
from tipmech.rod.structure import Structure
from tipmech.rod.supports import clamp
from tipmech.rod.time_step import Problem
from tipmech.validation.model import EI, LENGTH, compressed, uniform_rod

MASS = 1e-4


def rod_of(elements: int, slender: float, clamped: tuple[bool, bool] = (True, False)):  # type: ignore[no-untyped-def]
    radius = LENGTH / slender
    rod, x, q = rod_arrays(uniform_rod(elements, stiff=4.0 * EI / radius**2), clamped)
    spin = 0.25 * MASS * radius**2 * np.array([1.0, 1.0, 2.0])
    return rod, x, q, lumped_inertia(rod.length, np.full(elements, MASS), np.tile(spin, (elements, 1)))


def dense(band: np.ndarray) -> np.ndarray:
    n = band.shape[0]
    full = np.zeros((n, n))
    for i in range(n):
        for k in range(max(0, 8 - i), WIDTH):
            full[i, i + k - 8] = full[i + k - 8, i] = band[i, k]
    return full


def test_modes_of_a_bent_rod_against_dense_eigenvalues() -> None:
    n = 10
    rod, _, _, inertia = rod_of(n, 20.0)
    fixed = fix(n, x=0, y=0, z=0)
    load = Force(-1, (2.0 * EI / LENGTH**2, 1.0 * EI / LENGTH**2, 0.0))
    state = solve(Structure(uniform_rod(n, stiff=4.0 * EI / (LENGTH / 20.0) ** 2), [clamp(0)], loads=[load]))
    assert state.converged
    modes = natural_modes(rod, inertia, state.x, state.q, fixed=fixed, count=15)
    keep = ~fixed
    full = dense(tangent(rod, state.x, state.q, fixed))[np.ix_(keep, keep)]
    values = eigh(full, np.diag(diagonal(inertia)[keep]), eigvals_only=True)
    np.testing.assert_allclose(modes.squares, values[:15], rtol=1e-7)
    gram = modes.shapes @ (diagonal(inertia)[:, None] * modes.shapes.T)
    np.testing.assert_allclose(gram, np.eye(15), atol=1e-8)
    np.testing.assert_array_equal(modes.shapes[:, fixed], 0.0)
    assert np.all(modes.noise < 1e-6 * modes.squares)


def test_all_modes_of_a_very_short_rod() -> None:
    n = 2
    rod, x, q, inertia = rod_of(n, 5.0)
    fixed = fix(n, x=0, y=0, z=0)
    modes = natural_modes(rod, inertia, x, q, fixed=fixed, count=12)
    keep = ~fixed
    full = dense(tangent(rod, x, q, fixed))[np.ix_(keep, keep)]
    values = eigh(full, np.diag(diagonal(inertia)[keep]), eigvals_only=True)
    np.testing.assert_allclose(modes.squares, values, rtol=1e-9)


def test_inverse_iteration_restores_what_the_scaled_matrix_loses() -> None:
    """A wire 10 000 times longer than its radius: eigenvalues of the scaled matrix are off, the modes' are right."""
    n = 120
    rod, x, q, inertia = rod_of(n, 10000.0)
    fixed = fix(n, x=0, y=0, z=0)
    exact = 1.8751040687**4 * EI / MASS / LENGTH**4
    modes = natural_modes(rod, inertia, x, q, fixed=fixed, count=2)
    np.testing.assert_allclose(modes.squares, exact, rtol=2e-4)
    keep, root = ~fixed, 1.0 / np.sqrt(diagonal(inertia))
    scaled = (root[:, None] * dense(tangent(rod, x, q, fixed)) * root)[np.ix_(keep, keep)]
    assert np.max(np.abs(eigh(scaled, eigvals_only=True)[:2] / exact - 1.0)) > 1e-2


def test_an_overloaded_column_grows() -> None:
    """Clamped-free at twice its critical load: one unstable mode in each plane, and the growth seen in time."""
    n = 40
    rod, x, q, inertia = rod_of(n, 100.0)
    fixed = fix(n, x=0, y=0, z=0)
    load = 0.5 * np.pi**2 * EI / LENGTH**2
    x = compressed(x, rod.stretch, load)
    modes = natural_modes(rod, inertia, x, q, fixed=fixed, count=4)
    assert np.sum(modes.squares < 0.0) == 2 and modes.rigid == 0
    assert modes.growth[0] == pytest.approx(modes.growth[1], rel=1e-6)
    growth, shape = modes.growth[0], modes.shapes[0]
    v = shape * (1e-7 * LENGTH * growth / np.max(np.abs(shape[0::6] + 1j * shape[1::6])))
    start = State(0.0, x, q, np.stack([v[a::6] for a in range(3)], 1), np.stack([v[a::6] for a in (3, 4, 5)], 1))
    push = np.zeros((n + 1, 3))
    push[-1, 2] = -load
    run = integrate(Problem(rod, inertia, fixed, loads=lambda t: push), start, 3.0 / growth, 0.01 / growth, rho=0.9)
    side = np.linalg.norm(run.x[:, -1, :2], axis=1)
    assert side[-1] == pytest.approx(1e-7 * LENGTH * np.sinh(3.0), rel=1e-3)


def test_a_mode_swings_at_its_frequency_and_dies_by_drag() -> None:
    """First mode of a cantilever with drag c a length: exp(-c t/2m) cos(w t), w^2 = w0^2 - (c/2m)^2."""
    n = 20
    rod, x, q, inertia = rod_of(n, 50.0)
    fixed = fix(n, x=0, y=tuple(range(n + 1)), z=0, rx=tuple(range(n)), rz=tuple(range(n)))
    modes = natural_modes(rod, inertia, x, q, fixed=fixed, count=1)
    rate, shape = float(modes.rates[0]), modes.shapes[0]
    decay = 0.05 * rate
    damping = 2.0 * decay * diagonal(inertia)
    assert np.allclose(damping[0::6], line_drag(rod.length, 2.0 * decay * MASS)[0::6])
    v = shape * (1e-5 * LENGTH * rate / abs(shape[6 * n]))
    start = State(0.0, x, q, np.stack([v[a::6] for a in range(3)], 1), np.stack([v[a::6] for a in (3, 4, 5)], 1))
    period = 2.0 * np.pi / rate
    run = integrate(Problem(rod, inertia, fixed, damping), start, 3.0 * period, period / 400.0, rho=0.9)
    damped = np.sqrt(rate**2 - decay**2)
    speed = run.velocity[0, -1, 0]
    expected = speed / damped * np.exp(-decay * run.times) * np.sin(damped * run.times)
    np.testing.assert_allclose(run.x[:, -1, 0], expected, atol=2e-3 * np.max(np.abs(expected)))


def test_a_potential_stiffens_and_frequencies_add() -> None:
    """A rod on springs k a length along y: omega^2 = omega0^2 + k/m for bending, and k/m for the rigid motion."""
    n = 30
    rod, x, q, inertia = rod_of(n, 400.0, (False, False))
    plane = fix(n, x=tuple(range(n + 1)), z=tuple(range(n + 1)), ry=tuple(range(n)), rz=tuple(range(n)))
    bare = natural_modes(rod, inertia, x, q, fixed=plane, count=4)
    extra = 0.3 * bare.squares[2]
    stiff = np.zeros((n + 1, 3, 3))
    stiff[:, 1, 1] = extra * inertia.mass

    def springs(places: np.ndarray) -> tuple[float, np.ndarray, np.ndarray]:
        g = np.einsum("iab,ib->ia", stiff, places)
        return 0.5 * float(np.sum(g * places)), g, stiff

    held = natural_modes(rod, inertia, x, q, fixed=plane, count=4, potential=springs)
    assert bare.rigid == 2 and held.rigid == 0
    # the springs act on the nodes only, the share of the elements' turning in the kinetic energy is 1e-6
    np.testing.assert_allclose(held.squares, bare.squares + extra, rtol=1e-4)


def test_wrong_counts_and_states_are_named() -> None:
    rod, x, q, inertia = rod_of(4, 50.0)
    with pytest.raises(ValueError, match="count is 28; the rod has 27 free unknowns"):
        natural_modes(rod, inertia, x, q, fixed=np.zeros(27, dtype=bool), count=28)
    with pytest.raises(ArithmeticError, match="not finite"):
        natural_modes(rod, inertia, x * np.nan, q, fixed=np.zeros(27, dtype=bool), count=1)


@pytest.mark.parametrize("part", ["x", "q", "fixed", "inertia"])
def test_arrays_of_another_rod_are_refused(part: str) -> None:
    n = 10
    rod, x, q, inertia = rod_of(n, 20.0)
    given = {"x": x, "q": q, "fixed": fix(n, x=0, y=0, z=0), "inertia": inertia}
    other = {"x": x[:-1], "q": q[:-1], "fixed": np.zeros(5, dtype=bool), "inertia": rod_of(n - 1, 20.0)[3]}
    given[part] = other[part]
    with pytest.raises(ShapeError, match=part):
        natural_modes(rod, given["inertia"], given["x"], given["q"], fixed=given["fixed"], count=3)
