"""A folded wire pushed on: 200 random insertions that curl, each 10 mm past its first curl, in contact with itself.

    python -m experiments.folding.run --out results/folding [--count 200] [--workers 2]
    python -m experiments.folding.run --case 17        run one of them again and print its course

Run from the repository's root; it may be stopped and started again. Half start in the pocket with a front that holds
(some curl in the false lumen), half come through the lumen toward the tear. Printed, and written to OUT/summary.txt:
share solved, why runs ended, nearest approach of two limbs in sums of their radii, measured between the segments of
the centreline, passages of one segment through another between two records, the audit, and time.
"""

import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from math import pi
from pathlib import Path
from typing import Any

import numpy as np

from experiments.command import command_line, print_progress
from experiments.population import Array, Population, insertion, pocket
from tipmech.insertion.case import Case, Move
from tipmech.insertion.classify import classify, curl_start, travel
from tipmech.insertion.record import Record
from tipmech.insertion.run import advance
from tipmech.outcome import LABEL_WORDS, STOP_WORDS, Label, Stop
from tipmech.rod.self_contact import APART
from tipmech.study.execute import Task, run_tasks, tasks_of
from tipmech.study.store import open_store
from tipmech.study.table import Table, from_rows

SEED = 20
CHUNK = 5
CANDIDATES = 6  # insertions drawn for each one that is wanted: enough of them curl
PAST_CURL = 10e-3  # m
FRONT = 6.0  # front force in the pocket over 2 EI / Wc^2: it mostly holds
NEARLY = 3.0  # sums of the radii
MORE_FEED = 16e-3  # m of feed beyond the study's own
SOLVED_WANTED, LEAST_GAP = 0.99, 0.9  # of the sum of the radii: limbs nearer than this have sunk into each other


def case_of(index: int) -> Case:
    """Insertion `index`: even ones in the pocket, odd ones through the lumen."""
    if index % 2 == 0:
        at, scale = pocket(Population("pocket", SEED, 0), index)
        case = at(FRONT * scale)
    else:
        case = insertion(Population("entering", SEED, 0), index)
    feed = sum(m.amount for m in case.moves) + MORE_FEED
    past = case.stop.advance_past_tear + MORE_FEED
    return replace(
        case,
        moves=(Move("advance", feed),),
        stop=replace(case.stop, advance_past_tear=past, advance_past_curl=PAST_CURL),
        numerics=replace(case.numerics, length=max(case.numerics.length, feed + 2e-3)),
    )


def segment_gap(p: Array, q: Array) -> tuple[Array, Array]:
    """Shortest vectors between segments p and q, each (n, 2, 3), from p to q, and their lengths (n,).

    Ericson, Real-Time Collision Detection, 2005, sect. 5.1.9 (from memory).
    """
    d, e, r = p[:, 1] - p[:, 0], q[:, 1] - q[:, 0], p[:, 0] - q[:, 0]
    a, b, c = np.sum(d * d, 1), np.sum(d * e, 1), np.sum(e * e, 1)
    f, g = np.sum(d * r, 1), np.sum(e * r, 1)
    det = a * c - b * b
    s = np.clip(np.where(det > 1e-12 * a * c, (b * g - c * f) / np.where(det > 0, det, 1.0), 0.5), 0.0, 1.0)
    t = np.clip((b * s + g) / c, 0.0, 1.0)
    s = np.clip((b * t - f) / a, 0.0, 1.0)
    v = q[:, 0] + t[:, None] * e - p[:, 0] - s[:, None] * d
    return v, np.linalg.norm(v, axis=1)


def passages(record: Record) -> tuple[float, int]:
    """Nearest approach of two limbs at the records, in sums of their radii, and passages of segments through others.

    Segments are far enough apart along the wire to touch only where it is folded. A passage: the vector between two
    segments not farther off than `NEARLY` in both records turns by more than 90 degrees. Without a snap between them a
    node moves by some 0.1 mm; in a snap it may go farther, and a tip round another limb's side: there it counts only
    where some step of the solver came nearer than `LEAST_GAP` (no limb can pass another, whose reach is 0.36 mm, in a
    step of a tenth of a millimetre without that).
    """
    x = record.positions
    length = np.linalg.norm(np.diff(x[0], axis=0), axis=1)
    arc = np.concatenate([[0.0], np.cumsum(length)])
    radius = record.case.profile.at("radius", arc[-1] - 0.5 * (arc[1:] + arc[:-1]))
    i, j = np.triu_indices(len(length), 1)
    apart = arc[j] - arc[i + 1] > APART * radius[j]
    i, j = i[apart], j[apart]
    reach = radius[i] + radius[j]
    nearest, through = np.inf, 0
    before = np.empty((0, 3))
    for k in range(len(x)):
        middle = 0.5 * (x[k, 1:] + x[k, :-1])
        close = np.linalg.norm(middle[j] - middle[i], axis=1) < NEARLY * reach + length[i] + length[j]
        vector = np.full((len(i), 3), np.nan)
        if close.any():
            pick = np.flatnonzero(close)
            a = np.stack([x[k, i[pick]], x[k, i[pick] + 1]], axis=1)
            b = np.stack([x[k, j[pick]], x[k, j[pick] + 1]], axis=1)
            v, gap = segment_gap(a, b)
            nearest = min(nearest, float(np.min(gap / reach[pick])))
            vector[pick[gap < NEARLY * reach[pick]]] = v[gap < NEARLY * reach[pick]]
        snapped = record.held[k] > 0
        if len(before) and (not snapped or record.limb_approach[k] < LEAST_GAP):
            through += int(np.sum(np.sum(vector * before, axis=1) < 0.0))
        before = vector
    return nearest, through


def rows_of(task: Task) -> Table:
    """Rows of one task's insertions that curl; the others leave a row that says so."""
    return from_rows([_row(k) for k in range(task.first, task.last)])


def _row(index: int) -> dict[str, Any]:
    case = case_of(index)
    begin = time.perf_counter()
    record = advance(case)
    seconds = time.perf_counter() - begin
    outcome = classify(record)
    start = curl_start(record) if len(record.feed) else float("nan")
    curled = not np.isnan(start)
    nearest, through = passages(record) if curled else (float("nan"), 0)
    past = float(travel(record)[-1] - start) if curled else float("nan")
    return {
        "index": index,
        "curled": int(curled),
        "solved": int(record.stop != Stop.NOT_CONVERGED),
        "stop": int(record.stop),
        "label": outcome.label,
        "past_curl": past,
        "nearest": nearest,
        "nearest_step": float(np.min(record.limb_approach)) if curled else float("nan"),
        "through": through,
        "turn": _turn(record) if curled else float("nan"),
        "audit_error": outcome.audit_error,
        "iterations": outcome.iterations,
        "seconds": seconds,
    }


def _turn(record: Record) -> float:
    """Angle through which the wire turns in all at the end, rad: pi is a fold."""
    d = np.diff(record.positions[-1], axis=0)
    d /= np.linalg.norm(d, axis=1)[:, None]
    return float(np.sum(np.arccos(np.clip(np.sum(d[1:] * d[:-1], axis=1), -1.0, 1.0))))


def summary_text(rows: Table, wanted: int, code: str) -> str:
    """The table, over the first `wanted` insertions that curled; those not solved before any curl are told apart."""
    counted = np.flatnonzero(rows["curled"] == 1)[:wanted]
    drawn = int(rows["index"][counted[-1]]) + 1 if len(counted) else 0
    lost = np.flatnonzero((rows["curled"] == 0) & (rows["solved"] == 0) & (rows["index"] < drawn))
    r = {k: v[counted] for k, v in rows.items()}
    solved, curled = r["solved"] == 1, r["curled"] == 1
    lowest = np.minimum(r["nearest"], r["nearest_step"])
    touched = curled & (r["nearest"] < 1.02)
    stops = Counter(STOP_WORDS[Stop(int(s))] for s in r["stop"])
    labels = Counter(LABEL_WORDS[Label(int(s))] for s in r["label"])
    a50, a90 = np.nanquantile(r["audit_error"], [0.5, 0.9])
    t50, t90 = np.quantile(r["seconds"], [0.5, 0.9])
    lines = [
        f"code {code}; {len(counted)} random insertions that curl, of {drawn} drawn, {1e3 * PAST_CURL:g} mm past it",
        f"solved                                    {np.mean(solved):7.1%}   wanted >= {SOLVED_WANTED:.0%}",
        f"limbs of the wire touched                 {int(touched.sum()):7d}",
        f"turned by more than 360 degrees at the end{int(np.sum(r['turn'] > 2 * pi)):7d}",
        f"passages of a segment through another     {int(r['through'].sum()):7d}   wanted 0",
        f"nearest approach, records, over radii     {np.nanmin(r['nearest']):7.3f}   (segments, at the records)",
        f"nearest approach, any step                {np.nanmin(r['nearest_step']):7.3f}   (points and centreline)",
        f"insertions in which it is below {LEAST_GAP}       {int(np.sum(lowest < LEAST_GAP)):7d}   wanted 0",
        f"audit error, 50 / 90 %                    {a50:7.2%} {a90:.2%}",
        f"travel past the curl, median              {1e3 * np.nanmedian(r['past_curl']):7.2f} mm",
        f"time of an insertion, 50 / 90 %           {t50:7.2f} s {t90:.2f} s",
        "ends: " + "; ".join(f"{words} {count}" for words, count in stops.most_common()),
        "outcomes: " + "; ".join(f"{words} {count}" for words, count in labels.most_common()),
        f"not solved before any curl, not among these: {len(lost)}; --case: "
        + " ".join(str(int(i)) for i in rows["index"][lost]),
        "not solved, --case: " + " ".join(str(int(i)) for i in r["index"][~solved]),
        "passed through or sunk in, --case: "
        + " ".join(str(int(i)) for i in r["index"][(r["through"] > 0) | (lowest < LEAST_GAP)]),
    ]
    return "\n".join(lines)


def run_again(index: int) -> None:
    """Run one insertion again and print its course."""
    record = advance(case_of(index))
    print(record.case)
    print("feed mm   push mN  tip deg  its held stuck  audit")
    for k in range(0, len(record.feed), max(1, len(record.feed) // 50)):
        print(
            f"{1e3 * record.feed[k]:7.2f} {1e3 * record.push[k]:9.3f} {np.degrees(record.tip_angle[k]):8.1f} "
            f"{record.iterations[k]:5d} {record.held[k]:4d} {record.count_stuck[k]:5d} {record.audit_error[k]:8.4f}"
        )
    print(f"{STOP_WORDS[Stop(record.stop)]}; curl at {1e3 * curl_start(record):.2f} mm of travel")
    print("nearest approach over the sum of radii, passages:", passages(record))


def run(out: Path, count: int, workers: int, overwrite: bool = False) -> str:
    """Run, or go on with, the experiment into `out`; return the summary."""
    drawn = CANDIDATES * count
    store = open_store(out, "folding", Population("any", SEED, drawn), overwrite)
    wall, first = 0.0, 0
    keys: list[str] = []
    while first < drawn:  # only as many as are needed for `count` that curl
        last = min(drawn, first + max(CHUNK, count // 2))
        tasks = [t for t in tasks_of([(0, 0)], drawn, CHUNK) if first <= t.first < last]
        wall += run_tasks(store, tasks, rows_of, workers, print_progress)
        keys += [t.key for t in tasks]
        rows = store.gather(keys)
        if np.sum(rows["curled"] == 1) >= count:
            break
        first = last
    store.put_table("rows", rows)
    store.finish(wall_time_of_last_run_s=round(wall, 1), workers=workers)
    text = summary_text(rows, count, store.manifest["code"])
    (out / "summary.txt").write_text(text + "\n", encoding="utf-8")
    return text


def main(arguments: Sequence[str] | None = None) -> None:
    """Command line."""
    command_line(__doc__, 200, run, run_again, arguments)


if __name__ == "__main__":
    main()
