"""Time of the static bench tests of each example wire, kernels cached.

Run: OPENBLAS_NUM_THREADS=1 python tests/benchmarks/bench_statics.py [--repeats 5]
Median and largest time of each test as a wire's page runs it: lateral at three free lengths; three-point flexure;
column and prolapse; bends.
"""

import argparse
import platform
import time
from collections.abc import Callable

import numpy as np

from tipmech.bench.bend import bend
from tipmech.bench.column import column
from tipmech.bench.flexure import flexure
from tipmech.bench.lateral import FREE_LENGTHS, lateral
from tipmech.bench.prolapse import prolapse
from tipmech.files.wire import read_wire
from tipmech.wire.design import profile
from tipmech.wire.presets import PRESETS, preset_path


def seconds(call: Callable[[], object], repeats: int) -> tuple[float, float]:
    """Median and largest time of a call, s."""
    call()
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return float(np.median(times)), max(times)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--repeats", type=int, default=5)
    repeats = parser.parse_args().repeats
    print(f"{platform.machine()}, Python {platform.python_version()}; median (largest) of {repeats}, s")
    for name in PRESETS:
        design = read_wire(preset_path(name))
        wire = profile(design)
        tests: dict[str, Callable[[], object]] = {
            "lateral x 3": lambda wire=wire: [lateral(wire, length) for length in FREE_LENGTHS],  # type: ignore[misc]
            "flexure": lambda wire=wire: flexure(wire),  # type: ignore[misc]
            "column": lambda wire=wire: column(wire),  # type: ignore[misc]
            "prolapse": lambda wire=wire: prolapse(wire),  # type: ignore[misc]
            "bend": lambda design=design: bend(design),  # type: ignore[misc]
        }
        found = {test: seconds(call, repeats) for test, call in tests.items()}
        cells = ", ".join(f"{test} {middle:.3f} ({most:.3f})" for test, (middle, most) in found.items())
        print(f"{name:18s} {cells}; all {sum(middle for middle, _ in found.values()):.2f}")


if __name__ == "__main__":
    main()
