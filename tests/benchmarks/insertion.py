"""Times of an insertion: one core, two workers.

Run: python tests/benchmarks/insertion.py [--count 27] [--rounds 5]

1. Median time of a 20-mm insertion through the tear, 120 elements, one core, compiled code warm. The wires, angles and
   offsets vary; insertions that the rules end earlier (first curl, force cap) are counted apart.
2. Two workers, against two copies of a pure-CPU loop in the same run: how much of the machine's second core is used.
   Single and double runs alternate, medians.
The time of one Newton iteration: newton_iteration.py.
"""

import argparse
import multiprocessing as mp
import platform
import time
from collections.abc import Callable
from multiprocessing.queues import Queue
from multiprocessing.synchronize import Barrier

import numpy as np
from newton_iteration import NUMERICS, processor, tear_case

from tipmech.insertion.run import advance
from tipmech.outcome import Stop

FULL = (Stop.PROTOCOL_DONE, Stop.ADVANCE_PAST_TEAR_DONE)
WANTED = {"insertion": 0.5, "workers": 0.95}


def time_insertions(count: int) -> tuple[list[float], list[float]]:
    """Times (s) of the insertions that made the whole feed, and of those that the rules ended earlier."""
    advance(tear_case(0))
    full, short = [], []
    for k in range(count):
        begin = time.perf_counter()
        record = advance(tear_case(k))
        seconds = time.perf_counter() - begin
        (full if record.stop in FULL else short).append(seconds)
    return full, short


def pure_loop(turns: int) -> float:
    """Additions of a plain Python loop."""
    total = 0.0
    for i in range(turns):
        total += i * 1e-9
    return total


def work_loop(share: int) -> None:
    """One unit of the pure-CPU loop."""
    pure_loop(400_000 * share)


def work_insertions(share: int) -> None:
    """One unit of insertions."""
    for k in range(share):
        advance(tear_case(k))


def _copy(
    work: Callable[[int], None], share: int, rounds: int, barrier: Barrier, results: "Queue[list[float]]"
) -> None:
    work(1)
    times = []
    for _ in range(rounds):
        barrier.wait()
        begin = time.perf_counter()
        work(share)
        times.append(time.perf_counter() - begin)
    results.put(times)


def side_by_side(work: Callable[[int], None], share: int, copies: int, rounds: int) -> float:
    """Median time of one copy with `copies` of them at once, s."""
    context = mp.get_context("spawn")
    barrier, results = context.Barrier(copies), context.Queue()
    processes = [context.Process(target=_copy, args=(work, share, rounds, barrier, results)) for _ in range(copies)]
    for p in processes:
        p.start()
    times = [results.get() for _ in processes]
    for p in processes:
        p.join()
    return float(np.median(np.max(times, axis=0)))


def speed_up(work: Callable[[int], None], share: int, rounds: int) -> float:
    """Work done by two copies at once over that of one, in the same time (2: two whole cores)."""
    return 2.0 * side_by_side(work, share, 1, rounds) / side_by_side(work, share, 2, rounds)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=27, help="insertions of the first table")
    parser.add_argument("--rounds", type=int, default=5, help="rounds of the comparison with two workers")
    args = parser.parse_args()
    print(f"{processor()}; Python {platform.python_version()}; {NUMERICS.elements} elements")
    full, short = time_insertions(args.count)
    every = np.array(full + short)
    print(f"insertion of 20 mm, median of {len(full):3d} full   {np.median(full) if full else np.nan:8.3f} s    "
          f"wanted <= {WANTED['insertion']:g} s")  # fmt: skip
    print(
        f"ended earlier by the rules: {len(short)}; median of all {np.median(every):.3f} s, largest {every.max():.3f} s"
    )
    loops = speed_up(work_loop, 10, args.rounds)
    insertions = speed_up(work_insertions, 6, args.rounds)
    again = speed_up(work_loop, 10, args.rounds)
    reference = 0.5 * (loops + again)
    print(f"two at once over one: insertions {insertions:.3f}, pure loop {loops:.3f} before and {again:.3f} after")
    ratio = insertions / reference
    print(f"two workers against two pure loops             {ratio:8.3f}      wanted >= {WANTED['workers']:g}")


if __name__ == "__main__":
    main()
