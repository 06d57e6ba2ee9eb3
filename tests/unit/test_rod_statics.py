"""Count of negative eigenvalues, critical mode, mirror symmetry and scaling on whole rods."""

import os
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

from tipmech.rod.build import Section, straight
from tipmech.rod.continuation import critical_point
from tipmech.rod.loads import Force
from tipmech.rod.newton import Loop
from tipmech.rod.solve import solve
from tipmech.rod.special import critical_mode
from tipmech.rod.structure import Structure
from tipmech.rod.supports import Support, clamp
from tipmech.validation.model import EI, LENGTH, uniform_rod

SCALE = EI / LENGTH**2
ENDS = {"first": [clamp(0)], "last": [clamp(-1)], "both": [clamp(0), Support(-1, "")]}


@pytest.mark.parametrize("ends", ENDS)
def test_a_straight_unloaded_wire_counts_zero(ends: str) -> None:
    state = solve(Structure(uniform_rod(30), ENDS[ends]))
    assert state.count == 0 and state.stable and state.converged


def test_mirrored_load_gives_the_mirrored_shape() -> None:
    n = 30
    rng = np.random.default_rng(5)
    natural = np.repeat(rng.normal(size=(n + 1, 1, 3)) * 40.0, 2, axis=1)
    rod = replace(uniform_rod(n), natural=natural)
    mirrored = replace(rod, natural=natural * np.array([-1.0, 1.0, -1.0]))  # pseudovectors, plane y = 0
    load = rng.normal(size=(n + 1, 3)) * 0.2 * SCALE

    def shape(built, side: float):  # type: ignore[no-untyped-def]
        loads = [Force(i, (f[0], side * f[1], f[2])) for i, f in enumerate(load)]
        state = solve(Structure(built, [clamp(0)], loads=loads))
        assert state.converged
        return state.x

    a, b = shape(rod, 1.0), shape(mirrored, -1.0)
    np.testing.assert_allclose(b, a * np.array([1.0, -1.0, 1.0]), atol=1e-9 * LENGTH)
    assert np.max(np.abs(a[:, 1])) > 1e-2 * LENGTH


def test_scaling_all_stiffness_and_load_changes_no_shape() -> None:
    one, big = (Section(*(s * v for v in (EI, EI, EI / 1.3, 1e4, 1e4, 1e4))) for s in (1.0, 7.0))
    a, b = (
        solve(Structure(straight(LENGTH, 30, section), [clamp(0)], loads=[Force(-1, (force, 0.0, 0.0))]))
        for section, force in ((one, 2.0 * SCALE), (big, 14.0 * SCALE))
    )
    assert a.converged and b.converged
    np.testing.assert_allclose(a.x, b.x, atol=1e-9 * LENGTH)


def column(elements: int, stiff: float = 1e4, plane: str | None = None) -> Structure:
    """Clamped-free column; the load factor is its axial load over EI/L2."""
    rod = uniform_rod(elements, stiff=stiff)
    return Structure(rod, [clamp(0)], loads=[Force(-1, (0.0, 0.0, -SCALE))], plane=plane)


def test_an_overloaded_straight_column_is_reported_unstable() -> None:
    state = solve(column(40), 3.0)
    assert state.converged and state.count == 2 and not state.stable  # one mode in each plane


def test_the_mode_of_a_column_is_a_quarter_wave() -> None:
    s = column(60, plane="y")
    found = critical_point(s, 3.0)
    assert found is not None and found.counts == (0, 1)
    assert found.factor == pytest.approx(np.pi**2 / 4.0, rel=1e-3)
    shape = found.mode[[s.place(i, "x") for i in range(61)]]
    quarter = 1.0 - np.cos(0.5 * np.pi * s.rod.points[:, 2] / LENGTH)
    np.testing.assert_allclose(shape / shape[-1], quarter, atol=1e-3)


def test_critical_mode_belongs_to_the_smallest_eigenvalue() -> None:
    s = column(12, stiff=50.0, plane="y")
    state = solve(s, 2.0)
    loop = Loop.at(s, state.pose, state.factor)
    loop.evaluate()
    half = loop.out.band.shape[1] - 1
    full = np.zeros((s.size, s.size))
    for i in range(s.size):
        for k in range(max(0, half - i), half + 1):
            full[i, i + k - half] = full[i + k - half, i] = loop.out.band[i, k]
    free = ~s.model.fixed
    values, vectors = np.linalg.eigh(full[np.ix_(free, free)])
    lowest = vectors[:, np.argmin(np.abs(values))]
    loop.tangent()
    mode = critical_mode(loop)[0][free]
    assert abs(mode @ lowest) / np.linalg.norm(mode) == pytest.approx(1.0, abs=1e-9)


SMALL_CASE = """
from tipmech.rod.loads import Force
from tipmech.rod.solve import solve
from tipmech.rod.structure import Structure
from tipmech.rod.supports import clamp
from tipmech.validation.model import EI, LENGTH, uniform_rod
load = Force(-1, (1.5 * EI / LENGTH**2, 0.4 * EI / LENGTH**2, 0.0))
state = solve(Structure(uniform_rod(8, stiff=300.0), [clamp(0)], loads=[load]))
print(state.count, *(float(v).hex() for v in state.x[-1]))
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
