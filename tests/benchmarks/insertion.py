"""Times of an insertion: one core, two workers, one Newton iteration with contact against LAPACK.

Run: python tests/benchmarks/insertion.py [--count 27] [--rounds 5] [--repeats 10]

1. Median time of a 20-mm insertion through the tear, 120 elements, one core, compiled code warm. The wires, angles and
   offsets vary; insertions that the rules end earlier (first curl, force cap) are counted apart.
2. Two workers, against two copies of a pure-CPU loop in the same run: how much of the machine's second core is used.
   Single and double runs alternate, medians.
3. One Newton iteration with contact (assembly with exact Hessian and friction, factorisation with inertia and solves,
   step) from the state in the tear, in a compiled loop, against scipy.linalg.solveh_banded alone on the same matrix
   size and half-bandwidth 8.
"""

import argparse
import multiprocessing as mp
import platform
import time
from collections.abc import Callable
from dataclasses import replace
from math import radians
from multiprocessing.queues import Queue
from multiprocessing.synchronize import Barrier
from pathlib import Path

import numpy as np
from numba import njit
from scipy.linalg import solveh_banded

from tipmech.insertion import feed as loop
from tipmech.insertion import run as running
from tipmech.insertion.case import Case, Drive, Move, Numerics, StopRules, TipShape
from tipmech.insertion.run import advance
from tipmech.insertion.solve import S_FEED, S_LIP, Model, Work, _step, assemble, inertia
from tipmech.outcome import Stop
from tipmech.profile import uniform
from tipmech.rod.band import HALF, WIDTH
from tipmech.vessel.scene import Centreline, FalseChannel, Lumen, Scene, Support, Tear, Wall

FEED = 20e-3  # m
FULL = (Stop.PROTOCOL_DONE, Stop.ADVANCE_PAST_TEAR_DONE)
NUMERICS = Numerics(elements=120)
BATCH = 200  # compiled iterations of one timing
WANTED = {"insertion": 0.5, "workers": 0.95, "iteration": 2.0}


def tear_case(k: int) -> Case:
    """Insertion k of the benchmark: 20 mm of feed from 8 mm before a mouth as high as the wire; softness, angle and
    offset vary with k."""
    scene = Scene(
        Centreline.arc(40e-3, 25e-3, 1.0, 20e-3),
        Lumen(1.5e-3, -0.005),
        Wall(0.6e6, 0.348e-3, 600.0),
        Tear(45e-3, 2e-3, 0.4e-3, 0.1e-3, 1e-3, 0.0, "downstream", 1e-3),
        FalseChannel(4e-3, 2.5e-3, 0.3e-3, 35.0, "notch"),
        Support(8e-3, 0.0, 0.0, ((-0.3e-3, 0.0, 0.4e-3)[k % 3], 0.0), 0.225e-3),
    )
    stiffness = (1.5e-8, 5e-8, 1.5e-7)[(k // 3) % 3]
    return Case(
        uniform(stiffness, 0.1),
        scene,
        TipShape(radians((15.0, 35.0, 55.0)[(k // 9) % 3]), 2.5e-3, 0.0),
        0.08,
        moves=(Move("advance", FEED),),
        drive=Drive(force_cap=1.5),
        stop=StopRules(15e-3, advance_past_curl=0.0),
        numerics=NUMERICS,
        seed=k,
    )


def processor() -> str:
    """Model of the processor, as the system names it."""
    info = Path("/proc/cpuinfo")
    names = (
        [x.split(":")[1].strip() for x in info.read_text().splitlines() if x.startswith("model name")]
        if info.exists()
        else []
    )
    return names[0] if names else platform.processor() or platform.machine()


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


@njit
def _assemblies(m: Model, w: Work, drag: float, count: int) -> float:
    total = 0.0
    for _ in range(count):
        total += assemble(m, w, w.x, w.q, w.state[S_LIP], drag, 0)
    return total


@njit
def _iterations(m: Model, w: Work, drag: float, count: int) -> float:
    total = 0.0
    for _ in range(count):
        total += assemble(m, w, w.x, w.q, w.state[S_LIP], drag, 0)
        total += inertia(w)
        total += _step(w)[1]
    return total


def state_in_tear() -> tuple[Model, Work, float, int]:
    """A wire 12 mm into the tear scene: model, work arrays, drag of an increment, and points in contact."""
    case = replace(tear_case(4), moves=(Move("advance", 12e-3),))
    kept: list[tuple[Model, Work]] = []
    original = running.build

    def keep(c: Case) -> tuple[Model, Work, object]:
        model, work, ledger = original(c)
        kept.append((model, work))
        return model, work, ledger

    running.build = keep
    try:
        advance(case)
    finally:
        running.build = original
    model, work = kept[0]
    loop.begin(model, work, running.build(case)[2], False)
    work.state[S_FEED] += case.numerics.increment
    assemble(model, work, work.x, work.q, work.state[S_LIP], 100.0, 0)
    if inertia(work) != 0:
        raise ArithmeticError("the benchmark's tangent must be positive definite")
    touching = int(np.sum(np.max(model.mem.force, axis=1) > 0.0))
    return model, work, case.numerics.viscosity * case.drive.rate / case.numerics.increment, touching


def median_us(call: Callable[[], object], batch: int, repeats: int) -> float:
    """Median time of one of the `batch` repetitions that a call makes, microseconds."""
    call()
    times = []
    for _ in range(repeats):
        begin = time.perf_counter()
        call()
        times.append((time.perf_counter() - begin) / batch)
    return 1e6 * float(np.median(times))


def time_iteration(repeats: int) -> dict[str, float]:
    """Median times, microseconds, and the number of points in contact."""
    model, work, drag, touching = state_in_tear()
    size = len(work.grad)
    rng = np.random.default_rng(0)
    lower = rng.uniform(-1.0, 1.0, (WIDTH, size))  # any positive definite band: LAPACK's time does not depend on it
    lower[0] = 2.0 * WIDTH
    b = rng.normal(size=size)

    def lapack() -> None:
        for _ in range(BATCH):
            solveh_banded(lower, b, lower=True, check_finite=False)

    # alternating, so that a change of the machine's clock meets both
    ours, theirs, parts = [], [], []
    for _ in range(5):
        ours.append(median_us(lambda: _iterations(model, work, drag, BATCH), BATCH, repeats))
        theirs.append(median_us(lapack, BATCH, repeats))
        parts.append(median_us(lambda: _assemblies(model, work, drag, BATCH), BATCH, repeats))
    return {
        "iteration": float(np.median(ours)),
        "assembly": float(np.median(parts)),
        "lapack": float(np.median(theirs)),
        "touching": touching,
        "points": len(model.pts.element),
        "size": size,
    }


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=27, help="insertions of the first table")
    parser.add_argument("--rounds", type=int, default=5, help="rounds of the comparison with two workers")
    parser.add_argument("--repeats", type=int, default=10)
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
    t = time_iteration(args.repeats)
    print(f"Newton iteration with contact                  {t['iteration']:8.1f} us   ({t['touching']:.0f} of "
          f"{t['points']:.0f} points touch; assembly {t['assembly']:.1f} us)")  # fmt: skip
    print(f"LAPACK banded Cholesky and solve               {t['lapack']:8.1f} us   ({t['size']:.0f} unknowns, "
          f"half-bandwidth {HALF})")  # fmt: skip
    print(f"ratio                                          {t['iteration'] / t['lapack']:8.2f}      "
          f"wanted <= {WANTED['iteration']:g}")  # fmt: skip


if __name__ == "__main__":
    main()
