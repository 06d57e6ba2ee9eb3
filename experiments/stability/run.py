"""How far do outcomes hang on the numerics? Thresholds and outcome classes under each setting changed alone.

    python -m experiments.stability.run --out results/stability [--cases 200] [--outcomes 800] [--workers 2]

Run from the repository's root; it may be stopped and started again. Results go into OUT/thresholds and OUT/outcomes
(Parquet chunks, written atomically); `python -m experiments.stability.summary OUT` makes the figures printed on maps.

(a) The tip starts in the pocket. F* is the front force at which "curls before the front has moved 0.5 mm" flips: a
ladder and a bisection to 0.3 % with the standard settings; with one setting changed, the same flip is bracketed from
that F* outwards (0.5 % to 80 %) and bisected to 0.3 %. (b) The tip starts in the lumen and is aimed at the tear; of the
insertions that touch a lip or the front, the class is compared: not in the false channel; in it; in it and curled.
"""

import argparse
import sys
import time
from collections.abc import Callable, Sequence
from functools import partial
from math import exp, inf, nan
from pathlib import Path
from typing import Any

import numpy as np

from experiments.population import Population, insertion, pocket
from experiments.stability.settings import SETTINGS
from tipmech.insertion.case import Case
from tipmech.insertion.classify import classify
from tipmech.insertion.record import Outcome, Record
from tipmech.insertion.run import advance
from tipmech.outcome import Where
from tipmech.study.evaluate import evaluate
from tipmech.study.execute import Progress, Task, run_tasks, tasks_of
from tipmech.study.store import open_store
from tipmech.study.table import Table, concat, from_rows
from tipmech.study.threshold import Event, event_of, ladder_about, threshold_of

RESOLUTION = 0.003  # relative width of a bracket of F*
LADDER = (
    0.15,
    16.0,
    11,
)  # forces over the scale 2 EI / Wc^2, and how many: wider than a study's, so that few cases are censored
STEPS = (0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.4, 0.8)  # of ln F*: how far a changed F* is looked for
CHECK = 0.05  # of ln F*: the other side is looked at once there, so that a case that is no longer monotone is seen
FOUND, BEYOND, UNSOLVED = 0, 1, 2  # how the search for a changed F* ended
NOT_IN, IN, IN_CURLED, NO_CLASS = 0, 1, 2, -1  # classes of an insertion; the last: not solved
BASE = -1  # setting index of a row with the standard settings
SEEDS = {"pocket": 11, "entering": 12}
Curls = Callable[[float], bool | None]


def shift_of(curls: Curls, base: float, steps: Sequence[float] = STEPS) -> tuple[float, int, int, bool]:
    """Shift ln(F*'/F*) of the force at which `curls` flips, looked for from `base` outwards.

    Parameters
    ----------
    curls : callable
        whether the tip curls first at a front force (N); None: not solved

    Returns
    -------
    tuple
        shift (at `BEYOND` the farthest step, with its sign; nan if unsolved), how it ended, evaluations, and whether
        the far side contradicts a single crossing
    """
    count = 0

    def ask(x: float) -> bool | None:
        nonlocal count
        count += 1
        return curls(base * exp(x))

    here = ask(0.0)
    if here is None:
        return nan, UNSOLVED, count, False
    sign = -1.0 if here else 1.0  # it curls at F*: the changed F* is lower
    opposite = ask(-sign * CHECK)
    odd = opposite is not None and opposite != here
    near, far = 0.0, nan
    for step in steps:
        now = ask(sign * step)
        if now is None:
            return nan, UNSOLVED, count, odd
        if now != here:
            far = step
            break
        near = step
    if not far > 0.0:
        return sign * steps[-1], BEYOND, count, odd
    while far - near > RESOLUTION:
        middle = 0.5 * (near + far)
        now = ask(sign * middle)
        if now is None:
            return nan, UNSOLVED, count, odd
        near, far = (near, middle) if now != here else (middle, far)
    return sign * 0.5 * (near + far), FOUND, count, odd


def threshold_rows(population: Population, task: Task) -> Table:
    """Rows of the pocket cases of one task: one with the standard settings, one for each setting where F* is known."""
    return concat([from_rows(_threshold_case(population, k)) for k in range(task.first, task.last)])


def _threshold_case(population: Population, index: int) -> list[dict[str, Any]]:
    case_for, scale = pocket(population, index)
    begin = time.perf_counter()
    base = threshold_of(case_for, ladder_about(scale, *LADDER), RESOLUTION, evaluate)
    # a bisection that met an unsolved insertion keeps a wide bracket: no F* to compare with
    sharp = base.low > 0.0 and base.high / base.low <= 1.0 + RESOLUTION
    known = base.force if sharp else nan
    wide = base.low > 0.0 and base.high < inf and not sharp
    jammed = bool(known == known) and evaluate(case_for(base.high)).jammed
    common = {"index": index, "scale": scale, "force": known, "status": base.status, "jammed": int(jammed)}
    first = {"setting": BASE, "shift": 0.0, "ended": UNSOLVED if wide else FOUND, "odd": 0}
    rows = [common | first | {"runs": base.runs, "seconds": time.perf_counter() - begin}]
    if not known == known:
        return rows
    for number, setting in enumerate(SETTINGS):
        begin = time.perf_counter()

        def curls(force: float, change: Callable[[Case], Case] = setting.change) -> bool | None:
            event = event_of(evaluate(change(case_for(force))))
            return None if event == Event.NOT_SOLVED else event == Event.CURLED

        shift, ended, runs, odd = shift_of(curls, known)
        changed = {"setting": number, "shift": shift, "ended": ended, "odd": int(odd), "runs": runs}
        rows.append(common | changed | {"seconds": time.perf_counter() - begin})
    return rows


def class_of(outcome: Outcome) -> int:
    """Class of an insertion: not in the false channel, in it and not curled, in it and curled."""
    if outcome.where == Where.NOT_SOLVED:
        return NO_CLASS
    entered = outcome.entered == outcome.entered and outcome.entered_before_curl
    if not entered:
        return NOT_IN
    return IN_CURLED if outcome.curled == outcome.curled else IN


def touched(record: Record) -> bool:
    """Whether the wire touched a lip, the floor in the tear's window, or the front."""
    return bool(np.any(record.force_window > 0.0) or np.any(record.force_front > 0.0))


def outcome_rows(population: Population, task: Task) -> Table:
    """Rows of the insertions of one task; those that `touched` nothing have the standard row only."""
    return concat([from_rows(outcome_case(k, insertion(population, k))) for k in range(task.first, task.last)])


def outcome_case(
    index: int, case: Case, numbers: Sequence[int] = tuple(range(len(SETTINGS))), standard: bool = True
) -> list[dict[str, Any]]:
    """Rows of one insertion: with the standard settings, and with each of the numbered ones if it `touched` anything at
    the tear. Not standard: without that row and whatever it touched."""
    rows = [_outcome_row(index, BASE, case)] if standard else []
    if rows and not rows[0]["touched"]:
        return rows
    return rows + [_outcome_row(index, number, SETTINGS[number].change(case)) for number in numbers]


def _outcome_row(index: int, number: int, case: Case) -> dict[str, Any]:
    begin = time.perf_counter()
    record = advance(case)
    outcome = classify(record)
    return {
        "index": index,
        "setting": number,
        "class": class_of(outcome),
        "label": outcome.label,
        "touched": int(touched(record)),
        "jammed": int(outcome.jammed),
        "extension": outcome.extension,
        "audit_error": outcome.audit_error,
        "seconds": time.perf_counter() - begin,
    }


def run(out: Path, cases: int, outcomes: int, workers: int, overwrite: bool = False) -> None:
    """Run, or go on with, both halves of the experiment into the folder `out`."""
    for name, kind, count, rows, chunk in (
        ("thresholds", "pocket", cases, threshold_rows, 1),
        ("outcomes", "entering", outcomes, outcome_rows, 4),
    ):
        if count == 0:
            continue
        population = Population(kind, SEEDS[kind], count)
        store = open_store(out / name, f"stability {name}", population, overwrite)
        tasks = tasks_of([(0, 0)], count, chunk)
        wall = run_tasks(store, tasks, partial(rows, population), workers, _printer(name))
        store.put_table("rows", store.gather([t.key for t in tasks]))
        store.finish(wall_time_of_last_run_s=round(wall, 1), workers=workers)


def _printer(name: str) -> Callable[[Progress], None]:
    def report(state: Progress) -> None:
        left = f", {state.left:.0f} s left" if state.left is not None else ""
        print(f"\r{name}: {state.done}/{state.total}{left}   ", end="", file=sys.stderr, flush=True)

    return report


def main(arguments: Sequence[str] | None = None) -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--cases", type=int, default=200, help="pocket cases, each with every setting")
    parser.add_argument("--outcomes", type=int, default=800, help="insertions drawn; those that touch are compared")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--overwrite", action="store_true")
    args = parser.parse_args(arguments)
    run(args.out, args.cases, args.outcomes, args.workers, args.overwrite)


if __name__ == "__main__":
    main()
