"""Cost of one Newton iteration with contact: its parts against LAPACK, its growth with the mesh, memory, compilation.

Run: python tests/benchmarks/newton_iteration.py [--elements 120] [--rounds 25] [--largest 3200] [--no-compile] [--json]

1. The parts of an iteration (assembly with exact Hessian and friction, factorisation with inertia, solves of the
   bordered system, step) from a state 12 mm into a tear, in compiled loops, against LAPACK's banded Cholesky
   factorisation and solve (dpbtrf, dpbtrs by themselves) of a matrix of the same size and half-bandwidth. All are timed
   in turns, so that a change of the machine's clock meets all; medians of processor time.
2. The same iteration at 50, 100, 200, ... elements: the state of 1. put on finer meshes; the exponent is the slope of
   log time over log N by least squares.
3. Bytes of all arrays of an insertion, its history apart.
4. Start of a 0.1-mm insertion in fresh processes: nothing in the cache, then everything.
"""

import argparse
import json
import os
import platform
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from math import radians
from pathlib import Path
from typing import Any

import numpy as np
from numba import njit
from scipy.linalg.lapack import dpbtrf, dpbtrs

from tipmech.insertion import feed as loop
from tipmech.insertion import run as running
from tipmech.insertion.case import Case, Drive, Move, Numerics, StopRules, TipShape
from tipmech.insertion.run import advance
from tipmech.insertion.solve import S_FEED, S_LIP, Model, Work, _step, assemble, inertia
from tipmech.profile import uniform
from tipmech.rod.band import WIDTH, factor, solve
from tipmech.rod.elastic import assemble_elastic
from tipmech.vessel.scene import Centreline, FalseChannel, Lumen, Scene, Support, Tear, Wall

FEED = 20e-3  # m
NUMERICS = Numerics(elements=120)
WANTED = {"ratio": 1.5, "exponent": 1.05, "cold": 30.0, "cached": 2.0}
FINE = 400  # elements: from here on there are about as many contact points as elements
MOMENT = 5e-3  # s, about the time of one timing
ROOT = Path(__file__).resolve().parents[2]
START = """
import sys, time
begin = time.perf_counter()
sys.path.insert(0, "tests/benchmarks")
from dataclasses import replace
from newton_iteration import tear_case
from tipmech.insertion.case import Move
from tipmech.insertion.run import advance
case = replace(tear_case(4), moves=(Move("advance", 1e-4),))
loaded, busy = time.perf_counter(), time.process_time()
advance(case)
print(loaded - begin, time.perf_counter() - loaded, time.process_time() - busy)
"""


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


@njit
def _assemblies(m: Model, w: Work, drag: float, count: int) -> float:
    total = 0.0
    for _ in range(count):
        total += assemble(m, w, w.x, w.q, w.state[S_LIP], drag, 0)
    return total


@njit
def _elastics(m: Model, w: Work, drag: float, count: int) -> float:
    total = 0.0
    for _ in range(count):
        w.grad[:] = 0.0
        w.band[:] = 0.0
        total += assemble_elastic(m.rod, w.x, w.q, w.grad, w.band)
    return total


@njit
def _factors(m: Model, w: Work, drag: float, count: int) -> int:
    total = 0
    for _ in range(count):
        total += factor(w.band, w.fac, 0.0)
    return total


@njit
def _solves(m: Model, w: Work, drag: float, count: int) -> float:
    for _ in range(count):
        for i in range(w.grad.shape[0]):
            w.rhs[0, i] = w.grad[i]
        solve(w.fac, w.rhs[:1])
    return w.rhs[0, 0]


@njit
def _inertias(m: Model, w: Work, drag: float, count: int) -> int:
    total = 0
    for _ in range(count):
        total += inertia(w)
    return total


@njit
def _iterations(m: Model, w: Work, drag: float, count: int) -> float:
    total = 0.0
    for _ in range(count):
        total += assemble(m, w, w.x, w.q, w.state[S_LIP], drag, 0)
        total += inertia(w)
        total += _step(w)[1]
    return total


PARTS: dict[str, Callable[[Model, Work, float, int], float]] = {
    "iteration": _iterations,
    "assembly": _assemblies,
    "elastic": _elastics,
    "factorisation": _factors,
    "solve": _solves,
    "factorisation and solves": _inertias,
}
Insertion = tuple[Model, Work, float, int]


def state_in_tear(elements: int = NUMERICS.elements) -> Insertion:
    """A wire 12 mm into the tear scene: model, work arrays, drag of an increment, and points in contact."""
    case = replace(tear_case(4), moves=(Move("advance", 12e-3),), numerics=replace(NUMERICS, elements=elements))
    kept: list[tuple[Model, Work, Any]] = []
    original = running.build

    def keep(c: Case) -> tuple[Model, Work, Any]:
        kept.append(original(c))
        return kept[-1]

    running.build = keep
    try:
        advance(case)
    finally:
        running.build = original
    return _begun(case, *kept[0][:2], definite=True)


def _begun(case: Case, model: Model, work: Work, *, definite: bool) -> Insertion:
    """An increment begun from the state in `work`."""
    loop.begin(model, work, running.build(case)[2], False)
    work.state[S_FEED] += case.numerics.increment
    assemble(model, work, work.x, work.q, work.state[S_LIP], 100.0, 0)
    count = inertia(work)
    if count != 0 if definite else count < 0:
        raise ArithmeticError(f"the benchmark's tangent has {count} negative eigenvalues")
    touching = int(np.sum(np.max(model.mem.force, axis=1) > 0.0))
    return model, work, case.numerics.viscosity * case.drive.rate / case.numerics.increment, touching


def on_mesh(state: Insertion, elements: int) -> Insertion:
    """That state on a mesh of `elements`: positions interpolated over the arc length, frames and channels taken from
    the nearest. No equilibrium, but as many points touch a length."""
    coarse, old = state[:2]
    case = replace(tear_case(4), numerics=replace(NUMERICS, elements=elements))
    model, work, _ = running.build(case)
    s_old, s_new = (np.append(0.0, np.cumsum(m.rod.length)) for m in (coarse, model))
    for a in range(3):
        work.x[:, a] = np.interp(s_new, s_old, old.x[:, a])
    middle = 0.5 * (s_new[1:] + s_new[:-1])
    work.q[:] = old.q[np.clip(np.searchsorted(s_old, middle) - 1, 0, len(old.q) - 1)]
    work.state[:] = old.state
    place_old, place_new = (
        s[m.pts.element] + m.pts.xi * m.rod.length[m.pts.element] for s, m in ((s_old, coarse), (s_new, model))
    )
    model.mem.side[:] = coarse.mem.side[np.clip(np.searchsorted(place_old, place_new), 0, len(place_old) - 1)]
    model.mem.edges[:] = coarse.mem.edges
    return _begun(case, model, work, definite=False)


def lapack_of(size: int) -> Callable[[int], None]:
    """LAPACK's banded Cholesky factorisation and solve at this size, as often as asked."""
    rng = np.random.default_rng(0)
    lower = rng.uniform(-1.0, 1.0, (WIDTH, size))  # any positive definite band: LAPACK's time does not depend on it
    lower[0] = 2.0 * WIDTH
    band, room, b = np.asfortranarray(lower), np.empty_like(lower, order="F"), rng.normal(size=size)

    def lapack(count: int) -> None:
        for _ in range(count):
            room[...] = band  # the factors overwrite it
            factors, _ = dpbtrf(room, lower=1, overwrite_ab=1)
            dpbtrs(factors, b, lower=1)

    return lapack


def time_iteration(state: Insertion, rounds: int, parts: tuple[str, ...] = tuple(PARTS)) -> dict[str, float]:
    """Median times of the parts of an iteration and of LAPACK, microseconds of processor time, and what they were of.

    Taken in turns; `ratio`: median over the rounds of an iteration's time over LAPACK's.
    """
    model, work, drag, touching = state
    size = len(work.grad)
    calls: dict[str, Callable[[int], object]] = {"LAPACK": lapack_of(size)}
    for name in parts:
        calls[name] = lambda count, call=PARTS[name]: call(model, work, drag, count)  # type: ignore[misc]
    counts = {name: max(1, round(MOMENT / seconds(call, 1, warm=True))) for name, call in calls.items()}
    times = np.array([[seconds(call, counts[name]) for name, call in calls.items()] for _ in range(rounds)])
    result = {name: 1e6 * float(np.median(times[:, k])) for k, name in enumerate(calls)}
    ratio = float(np.median(times[:, list(calls).index("iteration")] / times[:, 0]))
    return {**result, "ratio": ratio, "size": size, "points": len(model.pts.element), "touching": touching}


def seconds(call: Callable[[int], object], count: int, *, warm: bool = False) -> float:
    """Processor time of one of `count` repetitions, s; warm: after a first call."""
    if warm:
        call(1)
    begin = time.process_time()
    call(count)
    return (time.process_time() - begin) / count


def exponent(counts: list[int], times: list[float]) -> float:
    """Slope of log time over log count by least squares."""
    return float(np.polyfit(np.log(counts), np.log(times), 1)[0])


def bytes_of(data: Any) -> int:
    """Bytes of all arrays in nested tuples."""
    if isinstance(data, np.ndarray):
        return data.nbytes
    return sum(bytes_of(d) for d in data) if isinstance(data, tuple) else 0


def time_start(cache: str) -> dict[str, float]:
    """Wall time of imports and of the insertion (s) and its processor time, in a fresh process with this cache."""
    environment = {**os.environ, "NUMBA_CACHE_DIR": cache, "PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        [sys.executable, "-c", START], cwd=ROOT, env=environment, check=True, capture_output=True, text=True
    )
    imports, wall, processor = map(float, done.stdout.split())
    return {"imports": imports, "insertion": wall, "processor": processor, "total": imports + wall}


def measure(elements: int, rounds: int, largest: int, *, compile_too: bool) -> dict[str, Any]:
    """All figures."""
    state = state_in_tear(elements)
    result: dict[str, Any] = {
        "processor": processor(),
        "python": platform.python_version(),
        "elements": elements,
        "parts": time_iteration(state, rounds),
        "growth": {},
        "memory": bytes_of(running.build(replace(tear_case(4), numerics=replace(NUMERICS, elements=elements)))),
    }
    n, few = 50, ("iteration",)
    while n <= largest:
        result["growth"][n] = time_iteration(on_mesh(state, n), max(5, rounds // 3), few)
        n *= 2
    counts = list(result["growth"])
    if len(counts) > 1:
        for name in ("iteration", "LAPACK"):
            result[f"exponent {name}"] = exponent(counts, [result["growth"][k][name] for k in counts])
        fine = [k for k in counts if k >= FINE] or counts
        result["exponent fine"] = exponent(fine, [result["growth"][k]["iteration"] for k in fine])
    if compile_too:
        with tempfile.TemporaryDirectory() as cache:
            result["cold"], result["cached"] = time_start(cache), time_start(cache)
    return result


def show(r: dict[str, Any]) -> None:
    """The figures as a table."""
    p = r["parts"]
    print(f"{r['processor']}; Python {r['python']}; {r['elements']} elements, {p['size']:.0f} unknowns, half-bandwidth "
          f"{WIDTH - 1}; {p['touching']:.0f} of {p['points']:.0f} points touch")  # fmt: skip
    rest = p["iteration"] - p["assembly"] - p["factorisation and solves"]
    rows = {
        "assembly, exact gradient and Hessian": p["assembly"],
        "  elastic": p["elastic"],
        "  contact, friction, front, drag": p["assembly"] - p["elastic"],
        "factorisation and solves": p["factorisation and solves"],
        "  factorisation with inertia": p["factorisation"],
        "  one solve": p["solve"],
        "step and the rest": rest,
        "iteration": p["iteration"],
        "LAPACK banded Cholesky and solve": p["LAPACK"],
    }
    for name, value in rows.items():
        print(f"{name:42s}{value:9.1f} us{value / p['LAPACK']:8.2f} x LAPACK")
    print(f"{'iteration over LAPACK':42s}{p['ratio']:9.2f}      wanted <= {WANTED['ratio']:g}")
    for n, g in r["growth"].items():
        label = f"N = {n}, {g['points']:.0f} points"
        print(f"{label:42s}{g['iteration']:9.1f} us{g['ratio']:8.2f} x LAPACK")
    if "exponent iteration" in r:
        print(f"{'exponent of the iteration over N':42s}{r['exponent iteration']:9.3f}      wanted <= "
              f"{WANTED['exponent']:g}")  # fmt: skip
        print(f"{f'  from N = {FINE} on; LAPACK':42s}{r['exponent fine']:9.3f};{r['exponent LAPACK']:7.3f}")
    print(f"{'arrays of an insertion':42s}{r['memory'] / 1e6:9.3f} MB")
    for name in ("cold", "cached"):
        if name in r:
            t, label = r[name], f"start, {name}"
            print(f"{label:42s}{t['total']:9.2f} s       wanted <= {WANTED[name]:g} (imports {t['imports']:.2f}, "
                  f"0.1 mm {t['insertion']:.2f}, of this processor time {t['processor']:.2f})")  # fmt: skip


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--elements", type=int, default=NUMERICS.elements)
    parser.add_argument("--rounds", type=int, default=25)
    parser.add_argument("--largest", type=int, default=3200, help="elements of the largest mesh")
    parser.add_argument("--no-compile", action="store_true", help="leave out the time of compilation")
    parser.add_argument("--json", action="store_true")
    args = parser.parse_args()
    result = measure(args.elements, args.rounds, args.largest, compile_too=not args.no_compile)
    if args.json:
        print(json.dumps(result, indent=2))
    else:
        show(result)


if __name__ == "__main__":
    main()
