"""Time of static solutions: a planar cantilever, a buckled column, a hundred load steps.

Run: python tests/benchmarks/statics.py [--repeats 200]
Each is solved from the stress-free state, checks (done once, when a structure is built) not included. Quartiles tell
how quiet the computer was. The error is that of the tip against elliptic integrals, over the length.
"""

import argparse
import platform
import time
from collections.abc import Callable

import numpy as np

from tipmech.rod.build import Section, straight
from tipmech.rod.elastic import Array
from tipmech.rod.loads import Force
from tipmech.rod.solve import Equilibrium, solve, solve_path
from tipmech.rod.structure import Structure
from tipmech.rod.supports import clamp

ELEMENTS = 40
SECTION = Section(1.0, 1.0, 0.8, 1e5, 1e5, 1e5)
BENT = np.array([0.6699641812776668, 0.0, 1.0 - 0.32894124224684596])  # P L2/EI = 4; Mattiasson 1981
BUCKLED = np.array([0.7915394965369192, 0.0, 0.3489893004148341])  # P/P_Euler = 1.5184; Timoshenko & Gere 1961
BUCKLED_LOAD = 1.5183887932923934 * np.pi**2 / 4.0
PUSH = 1e-4  # sideways, of the axial force: decides to which side the column buckles


def cantilever() -> Structure:
    """Transverse tip force 4 EI/L2."""
    return Structure(straight(1.0, ELEMENTS, SECTION), [clamp(0)], loads=[Force(-1, (4.0, 0.0, 0.0))])


def column() -> Structure:
    """Axial tip force beyond Euler's."""
    force = (PUSH * BUCKLED_LOAD, 0.0, -BUCKLED_LOAD)
    return Structure(straight(1.0, ELEMENTS, SECTION), [clamp(0)], loads=[Force(-1, force)])


def quartiles_ms(call: Callable[[], object], repeats: int) -> Array:
    """Quartiles of the time of a call, ms."""
    call()
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return np.asarray(np.quantile(times, [0.25, 0.5, 0.75]) * 1e3)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--repeats", type=int, default=200)
    repeats = parser.parse_args().repeats
    bent, buckled = cantilever(), column()
    steps = np.linspace(0.0, 1.0, 101)[1:]
    cases: list[tuple[str, Callable[[], Equilibrium], Array, int]] = [
        ("cantilever, P L2/EI = 4", lambda: solve(bent), BENT, repeats),
        ("column, P/P_Euler = 1.518", lambda: solve(buckled), BUCKLED, repeats),
        ("cantilever in 100 load steps", lambda: solve_path(bent, steps)[-1], BENT, max(5, repeats // 10)),
    ]
    print(f"{platform.machine()}, Python {platform.python_version()}; {ELEMENTS} elements")
    for name, call, exact, count in cases:
        found = call()
        low, middle, high = quartiles_ms(call, count)
        error = float(np.max(np.abs(found.x[-1] - exact)))
        done = f"tip error {error:.1e} L, converged {found.converged}"
        print(f"{name:32s} {middle:8.3f} ms ({low:.3f} to {high:.3f}); {done}")


if __name__ == "__main__":
    main()
