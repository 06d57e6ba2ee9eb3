"""Newton's method, stability count and mirror symmetry on whole rods."""

import os
import subprocess
import sys

import numpy as np
import pytest

from tipmech.rod.stability import critical_load, critical_mode, negative_count, tangent
from tipmech.rod.statics import NotConvergedError, equilibrium, fix
from tipmech.validation.model import EI, LENGTH, compressed, forces, straight_path, uniform_rod

SCALE = EI / LENGTH**2


@pytest.mark.parametrize("clamped", [(True, False), (False, True), (True, True)])
def test_a_straight_unloaded_wire_counts_zero(clamped: tuple[bool, bool]) -> None:
    rod, x, q = uniform_rod(30, clamped=clamped)
    state = equilibrium(rod, x, q, fixed=fix(30, x=0, y=0, z=0))
    assert state.negative == 0 and state.stable and state.converged
    assert negative_count(tangent(rod, x, q, fix(30, x=0, y=0, z=0))) == 0


def test_newton_converges_quadratically() -> None:
    """Residuals near the solution fall at least like the 1.8th power of the one before."""
    n = 40
    rod, x, q = uniform_rod(n, stiff=10.0)
    fixed = fix(n, x=0, y=0, z=0)
    near = equilibrium(rod, x, q, fixed=fixed, forces=forces(n, x=1.0 * SCALE, y=0.7 * SCALE))
    state = equilibrium(rod, near.x, near.q, fixed=fixed, forces=forces(n, x=1.02 * SCALE, y=0.72 * SCALE))
    r = np.array(state.residuals)
    r = r[r > 1e-11 * SCALE]  # above round-off
    tail = r[-3:]
    order = np.log(tail[2] / tail[1]) / np.log(tail[1] / tail[0])
    assert order > 1.8
    assert len(state.residuals) <= 8


def test_mirrored_load_gives_the_mirrored_shape() -> None:
    n = 30
    rod, x, q = uniform_rod(n)
    rng = np.random.default_rng(5)
    rod.natural[:] = rng.normal(size=(n + 1, 3)) * 40.0
    mirrored = rod._replace(natural=rod.natural * np.array([-1.0, 1.0, -1.0]))  # pseudovectors, plane y = 0
    load = rng.normal(size=(n + 1, 3)) * 0.2 * SCALE
    fixed = fix(n, x=0, y=0, z=0)
    a = equilibrium(rod, x, q, fixed=fixed, forces=load)
    b = equilibrium(mirrored, x, q, fixed=fixed, forces=load * np.array([1.0, -1.0, 1.0]))
    np.testing.assert_allclose(b.x, a.x * np.array([1.0, -1.0, 1.0]), atol=1e-9 * LENGTH)
    assert np.max(np.abs(a.x[:, 1])) > 1e-2 * LENGTH


def test_scaling_all_stiffness_and_load_changes_no_shape() -> None:
    n = 30
    rod, x, q = uniform_rod(n)
    big = rod._replace(bend=7.0 * rod.bend, stretch=7.0 * rod.stretch)
    fixed = fix(n, x=0, y=0, z=0)
    a = equilibrium(rod, x, q, fixed=fixed, forces=forces(n, x=2.0 * SCALE))
    b = equilibrium(big, x, q, fixed=fixed, forces=forces(n, x=14.0 * SCALE))
    np.testing.assert_allclose(a.x, b.x, atol=1e-9 * LENGTH)


def test_reactions_balance_the_load() -> None:
    n = 30
    rod, x, q = uniform_rod(n, stiff=300.0)
    load = forces(n, x=2.0 * SCALE, z=-0.5 * SCALE)
    state = equilibrium(rod, x, q, fixed=fix(n, x=0, y=0, z=0), forces=load)
    np.testing.assert_allclose(state.reactions[:3], -load[-1], atol=1e-8 * SCALE)


def test_an_overloaded_straight_column_is_reported_unstable() -> None:
    n = 40
    rod, x, q = uniform_rod(n)
    state = equilibrium(rod, x, q, fixed=fix(n, x=0, y=0, z=0), forces=forces(n, z=-3.0 * SCALE))
    assert state.negative == 2 and not state.stable  # one mode in each plane


def test_the_count_changes_at_the_critical_load_and_the_mode_is_a_quarter_wave() -> None:
    n = 60
    rod, x, q = uniform_rod(n)
    fixed = fix(n, x=0, y=tuple(range(n + 1)), z=0, rx=tuple(range(n)), rz=tuple(range(n)))
    found = critical_load(straight_path(rod, x, q), fixed, 2.0 * SCALE, 3.0 * SCALE)
    low, high = found.bracket
    assert low < found.load < high and high - low < 1e-8 * high
    assert found.load == pytest.approx(np.pi**2 / 4.0 * SCALE, rel=1e-3)
    shape = found.mode[0::6]
    np.testing.assert_allclose(shape, 1.0 - np.cos(0.5 * np.pi * x[:, 2] / LENGTH), atol=1e-3)


def test_critical_load_needs_a_bracket() -> None:
    n = 20
    rod, x, q = uniform_rod(n)
    with pytest.raises(ValueError, match="no critical load bracketed"):
        critical_load(straight_path(rod, x, q), fix(n, x=0, y=0, z=0), 1.0 * SCALE, 2.0 * SCALE)


def test_critical_mode_belongs_to_the_smallest_eigenvalue() -> None:
    n = 12
    rod, x, q = uniform_rod(n, stiff=50.0)
    fixed = fix(n, x=0, y=tuple(range(n + 1)), z=0, rx=tuple(range(n)), rz=tuple(range(n)))
    band = tangent(rod, compressed(x, rod.stretch, 2.0 * SCALE), q, fixed)
    full = np.zeros((band.shape[0],) * 2)
    for i in range(band.shape[0]):
        for k in range(max(0, 8 - i), 9):
            full[i, i + k - 8] = full[i + k - 8, i] = band[i, k]
    keep = ~fixed
    values, vectors = np.linalg.eigh(full[np.ix_(keep, keep)])
    lowest = vectors[:, np.argmin(np.abs(values))]
    mode = critical_mode(band, fixed)[keep]
    assert abs(mode @ lowest) / np.linalg.norm(mode) == pytest.approx(1.0, abs=1e-9)


def test_no_equilibrium_raises_with_the_last_state() -> None:
    n = 20
    rod, x, q = uniform_rod(n)
    with pytest.raises(NotConvergedError) as error:
        equilibrium(rod, x, q, fixed=fix(n, x=0, y=0, z=0), forces=forces(n, x=5.0 * SCALE), max_iterations=2)
    assert error.value.last.x.shape == (n + 1, 3) and not error.value.last.converged


SMALL_CASE = """
from tipmech.rod.statics import equilibrium, fix
from tipmech.validation.model import EI, LENGTH, forces, uniform_rod
rod, x, q = uniform_rod(8, stiff=300.0)
load = forces(8, x=1.5 * EI / LENGTH**2, y=0.4 * EI / LENGTH**2)
state = equilibrium(rod, x, q, fixed=fix(8, x=0, y=0, z=0), forces=load)
print(state.negative, *(float(v).hex() for v in state.x[-1]))
"""


def test_kernels_run_as_plain_python() -> None:
    """The same source without compilation gives the same equilibrium."""
    found = []
    for disable in ("0", "1"):
        run = subprocess.run(
            [sys.executable, "-c", SMALL_CASE],
            env={**os.environ, "NUMBA_DISABLE_JIT": disable},
            capture_output=True,
            text=True,
            check=True,
            timeout=120,
        )
        count, *place = run.stdout.split()
        assert count == "0"
        found.append([float.fromhex(v) for v in place])
    np.testing.assert_allclose(found[0], found[1], rtol=1e-9, atol=1e-9 * LENGTH)
