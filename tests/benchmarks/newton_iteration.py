"""Time of one Newton iteration of the rod against LAPACK's banded Cholesky factorisation and solve alone.

Run: python tests/benchmarks/newton_iteration.py [--elements 120] [--repeats 200]
Same matrix, same size, same half-bandwidth (8), same process; medians. Contact is not in it.
"""

import argparse
import platform
import time
from collections.abc import Callable

import numpy as np
from scipy.linalg import solveh_banded

from tipmech.rod.band import HALF, WIDTH, factor, solve
from tipmech.rod.elastic import assemble_elastic
from tipmech.rod.statics import equilibrium, fix, impose
from tipmech.validation.model import EI, LENGTH, forces, uniform_rod

BATCH = 20  # calls per timing, so that the clock's resolution does not matter


def median_us(call: Callable[[], object], repeats: int) -> float:
    """Median time of a call, microseconds."""
    call()
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        for _ in range(BATCH):
            call()
        times.append((time.perf_counter() - start) / BATCH)
    return float(np.median(times)) * 1e6


def measure(elements: int, repeats: int) -> dict[str, float]:
    """Median times of the parts, microseconds, on the tangent of a bent cantilever."""
    rod, x, q = uniform_rod(elements, stiff=300.0)
    fixed = fix(elements, x=0, y=0, z=0)
    state = equilibrium(rod, x, q, fixed=fixed, forces=forces(elements, x=1.5 * EI / LENGTH**2))
    size = 6 * elements + 3
    grad, band, fac = np.zeros(size), np.zeros((size, WIDTH)), np.empty((size, WIDTH))

    def assemble() -> None:
        grad[:] = 0.0
        band[:] = 0.0
        assemble_elastic(rod, state.x, state.q, grad, band)

    assemble()
    matrix, rhs = band.copy(), grad.copy()
    impose(matrix, rhs, fixed, np.zeros(size))
    lower = np.zeros((WIDTH, size))  # LAPACK's lower banded storage of the same matrix
    for k in range(WIDTH):
        lower[k, : size - k] = matrix[k:, HALF - k]
    b = np.random.default_rng(0).normal(size=size)
    ours = b[None, :].copy()
    if factor(matrix, fac, 0.0) != 0:
        raise ArithmeticError("the benchmark's matrix must be positive definite")
    solve(fac, ours)
    lapack = solveh_banded(lower, b, lower=True)
    if not np.allclose(ours[0], lapack, rtol=1e-6, atol=1e-9 * np.max(np.abs(lapack))):
        raise ArithmeticError("the two solvers disagree")
    work = b[None, :].copy()

    def solve_again() -> None:
        work[0] = b
        solve(fac, work)

    return {
        "LAPACK banded Cholesky and solve": median_us(
            lambda: solveh_banded(lower, b, lower=True, check_finite=False), repeats
        ),
        "assembly, exact gradient and Hessian": median_us(assemble, repeats),
        "factorisation L D L^T with inertia": median_us(lambda: factor(matrix, fac, 0.0), repeats),
        "solve": median_us(solve_again, repeats),
    }


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--elements", type=int, default=120)
    parser.add_argument("--repeats", type=int, default=200)
    args = parser.parse_args()
    times = measure(args.elements, args.repeats)
    print(f"{platform.machine()}, Python {platform.python_version()}; {args.elements} elements, "
          f"{6 * args.elements + 3} unknowns, half-bandwidth {HALF}; medians of {args.repeats}")  # fmt: skip
    for name, value in times.items():
        print(f"{name:40s} {value:8.1f} us")
    reference = times["LAPACK banded Cholesky and solve"]
    total = sum(times.values()) - reference
    print(f"{'iteration without contact':40s} {total:8.1f} us = {total / reference:.2f} x LAPACK")


if __name__ == "__main__":
    main()
