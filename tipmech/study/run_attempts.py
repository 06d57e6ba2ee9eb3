"""Attempts: how many it takes to the true lumen under a policy, what they open and which forces they use, per wire."""

from collections.abc import Callable
from dataclasses import dataclass, fields
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..insertion.attempts import Attempt, Course, follow
from ..insertion.case import Case
from ..insertion.imaging import Imaging
from ..insertion.policy import Policy
from ..insertion.seen import Detector
from ..outcome import End
from .build import build_case, feasible
from .estimates import proportion, scramble_mean, wider_interval
from .execute import OnProgress, Task, run_tasks, tasks_of
from .inputs import point_seed, points_between
from .run_map import point_columns, rows_of_cell
from .spec import OfStudy, StudySpec
from .store import open_store
from .table import Table, from_rows, length

Array = NDArray[np.float64]

CHUNK = 4  # procedures of one chunk: each is up to a dozen insertions
PREFIX = "attempt_"  # of an attempt's own columns in a chunk
COURSE = ("end", "travel", "turned", "largest_push", "median_push", "opened_area", "opened_length", "looks")
ATTEMPT = tuple(f.name for f in fields(Attempt))
PLACE = ("tip_load_index", "angle_index", "tip_load", "angle", "scramble", "index", "seed")
PAIRED = {"through": "-", "travel": "m", "largest_push": "N", "opened_area": "m2", "opened_length": "m"}
"""What is compared wire by wire, and its unit, in CSV too: the quantities share a column."""
HIGH = 0.9  # quantile given beside a median


@dataclass(frozen=True)
class AttemptsSpec(OfStudy):
    """A study's grid and points, the operator's policy, and how the operator sees."""

    study: StudySpec
    policy: Policy
    imaging: Imaging
    detector: Detector


Evaluate = Callable[[AttemptsSpec, Case], Course]


@dataclass(frozen=True)
class AttemptsResult:
    """A finished study of attempts.

    rows: one procedure each; attempts: one attempt each; cells: estimates by wire and angle; incidence: share through
    within k attempts, long form; pairs: each wire less the first, point by point; manifest; folder.
    """

    spec: AttemptsSpec
    rows: Table
    attempts: Table
    cells: Table
    incidence: Table
    pairs: Table
    manifest: dict[str, Any]
    folder: Path


def evaluate(spec: AttemptsSpec, case: Case) -> Course:
    """Carry out the study's policy on a case."""
    return follow(case, spec.policy, spec.imaging, spec.detector)


def run_attempts(
    spec: AttemptsSpec,
    out: Path | str,
    workers: int | None = None,
    overwrite: bool = False,
    on_progress: OnProgress | None = None,
    evaluate: Evaluate = evaluate,
) -> AttemptsResult:
    """Run (or go on with) a study of attempts into the folder `out`; arguments as for `run_map.run_map`.

    evaluate : callable
        what becomes of one case; must be importable by worker processes
    """
    study = spec.study
    store = open_store(out, "attempts", spec, overwrite)
    cells = [(i, j) for i in range(len(study.tip_loads)) for j in range(len(study.angles)) if feasible(study, j)]
    tasks = tasks_of(cells, study.count, CHUNK)
    wall = run_tasks(store, tasks, partial(run_chunk, spec, evaluate), workers or study.workers, on_progress)
    rows, attempts = split(store.gather([t.key for t in tasks]))
    tables = {
        "rows": rows,
        "attempts": attempts,
        "cells": cell_table(spec, rows, attempts),
        "incidence": incidence_table(spec, rows),
        "pairs": pair_table(spec, rows),
    }
    for name, table in tables.items():
        store.put_table(name, table)
    manifest = store.finish(wall_time_of_last_run_s=round(wall, 2), workers=workers or study.workers)
    return AttemptsResult(spec=spec, **tables, manifest=manifest, folder=Path(out))


def case_of(spec: AttemptsSpec, tip_load: int, angle: int, index: int) -> Case:
    """Case of one procedure: a wire, an angle, a point."""
    u = points_between(spec.seed, spec.study.points, index, index + 1)[0]
    return build_case(spec.study, tip_load, angle, u, point_seed(spec.seed, index))


def run_chunk(spec: AttemptsSpec, evaluate: Evaluate, task: Task) -> Table:
    """Attempts of the procedures of one task, in order, each with the columns of its procedure."""
    points = points_between(spec.seed, spec.study.points, task.first, task.last)
    made = zip(range(task.first, task.last), points, strict=True)
    return from_rows([row for k, u in made for row in rows_of_procedure(spec, evaluate, task, k, u)])


def rows_of_procedure(spec: AttemptsSpec, evaluate: Evaluate, task: Task, index: int, u: Array) -> list[dict[str, Any]]:
    """One procedure as a row for each of its attempts."""
    study = spec.study
    seed = point_seed(study.seed, index)
    try:
        course = evaluate(spec, build_case(study, task.tip_load, task.angle, u, seed))
    except Exception as error:
        error.add_note(f"at point {index} of tip load {task.tip_load}, angle {task.angle} of study '{spec.name}'")
        raise
    whole = point_columns(study, task, index, seed, u) | {name: getattr(course, name) for name in COURSE}
    whole |= {"attempts": len(course.attempts), "through": int(course.end == End.TRUE_LUMEN)}
    whole["audit_error"] = float(course.record.audit_error[-1]) if len(course.record.feed) else float("nan")
    rows = []
    for number, attempt in enumerate(course.attempts, start=1):
        own = {name: getattr(attempt, name) for name in ATTEMPT}
        own = {name: int(value) if isinstance(value, bool) else value for name, value in own.items()}
        rows.append(whole | {"attempt": number} | {PREFIX + name: value for name, value in own.items()})
    return rows


def split(chunks: Table) -> tuple[Table, Table]:
    """Procedures (one row each) and attempts (one row each) of gathered chunks."""
    last = chunks["attempt"] == chunks["attempts"]
    rows = {k: v[last] for k, v in chunks.items() if not k.startswith(PREFIX) and k != "attempt"}
    own = {name: chunks[PREFIX + name] for name in ATTEMPT}
    return rows, {name: chunks[name] for name in (*PLACE, "attempt")} | own


def solved(rows: Table) -> NDArray[np.bool_]:
    """Which procedures were solved to their end."""
    return np.asarray(rows["end"] != int(End.NOT_SOLVED))


def cells_of(spec: AttemptsSpec, rows: Table) -> list[tuple[dict[str, Any], Table]]:
    """Place and rows of every cell that was run."""
    study, out = spec.study, []
    for i, load in enumerate(study.tip_loads):
        for j, angle in enumerate(study.angles):
            cell = rows_of_cell(rows, i, j)
            if length(cell):
                out.append(({"tip_load_index": i, "angle_index": j, "tip_load": load, "angle": angle}, cell))
    return out


def within(cell: Table, attempts: int) -> dict[str, float]:
    """Share of procedures through within so many attempts: over the solved ones, with the wider of the scrambles' and
    Wilson's interval, and bounds that count all unsolved ones as not through, or as through."""
    p = proportion((cell["through"] == 1) & (cell["attempts"] <= attempts), solved(cell), cell["scramble"])
    low, high = wider_interval(*(np.array([v]) for v in (p.low, p.high, p.wilson_low, p.wilson_high)))
    return {
        "p": p.p,
        "low": float(low[0]),
        "high": float(high[0]),
        "bound_low": p.bound_low,
        "bound_high": p.bound_high,
    }


def most_attempts(spec: AttemptsSpec, rows: Table) -> int:
    """Largest number of attempts: the policy's, else the most that were made."""
    return spec.policy.attempts or int(np.max(rows["attempts"], initial=1))


def incidence_table(spec: AttemptsSpec, rows: Table) -> Table:
    """Share through within 1, 2, 3 ... attempts, by cell."""
    counts = range(1, most_attempts(spec, rows) + 1)
    return from_rows([place | {"attempts": k} | within(c, k) for place, c in cells_of(spec, rows) for k in counts])


def cell_table(spec: AttemptsSpec, rows: Table, attempts: Table) -> Table:
    """One row for each cell: share through, how procedures ended, what was opened, forces, what was seen in attempts.

    Means and quantiles are over all solved procedures, through or not; intervals of means from the scrambles.
    """
    most, out = most_attempts(spec, rows), []
    for place, cell in cells_of(spec, rows):
        ok, through = solved(cell), cell["through"] == 1
        row = place | {"factor": spec.study.factors[place["tip_load_index"]], "n": length(cell)}
        row |= {"n_solved": int(ok.sum()), "n_not_solved": int((~ok).sum()), "n_through": int(through.sum())}
        row |= {f"n_end_{end.name.lower()}": int(np.sum(cell["end"] == int(end))) for end in End}
        row |= {f"p_through{'' if k == 'p' else '_' + k}": v for k, v in within(cell, most).items()}
        row |= {"attempts_made": int(cell["attempts"].sum())}
        row |= _seen(rows_of_cell(attempts, place["tip_load_index"], place["angle_index"]))
        row |= _mean("attempts_mean", cell["attempts"].astype(float), ok, cell)
        row["attempts_median_if_through"] = _quantile(cell["attempts"], through, 0.5)
        row |= _mean("opened_area", cell["opened_area"], ok, cell)
        for name in ("opened_area", "opened_length", "largest_push"):
            row |= {f"{name}_median": _quantile(cell[name], ok, 0.5), f"{name}_p90": _quantile(cell[name], ok, HIGH)}
        row["median_push"] = _quantile(cell["median_push"], ok & ~np.isnan(cell["median_push"]), 0.5)
        row |= _mean("travel", cell["travel"], ok, cell)
        out.append(row)
    return from_rows(out)


def _seen(own: Table) -> dict[str, int]:
    """Counts of attempts of a cell: in the false lumen, with a curl on the screen, in truth, in both."""
    seen, curled = own["curl_seen"] == 1, own["curled"] == 1
    return {
        "attempts_entered": int(np.sum(own["entered"])),
        "attempts_curl_seen": int(np.sum(seen)),
        "attempts_seen_and_curled": int(np.sum(seen & curled)),
        "attempts_curled_not_seen": int(np.sum(curled & ~seen)),
    }


def _mean(name: str, value: Array, ok: NDArray[np.bool_], cell: Table) -> dict[str, float]:
    mean = scramble_mean(value, ok, cell["scramble"])
    return {name: mean.mean, f"{name}_low": max(mean.low, 0.0), f"{name}_high": mean.high}


def _quantile(value: NDArray[Any], ok: NDArray[np.bool_], share: float) -> float:
    return float(np.quantile(value[ok].astype(float), share)) if np.any(ok) else float("nan")


def pair_table(spec: AttemptsSpec, rows: Table) -> Table:
    """Each wire less the first, on the points that both solved: mean difference with the scrambles' interval (SI)."""
    out = []
    for place, cell in cells_of(spec, rows):
        first = rows_of_cell(rows, 0, place["angle_index"])
        if place["tip_load_index"] == 0 or not length(first):
            continue
        both = solved(cell) & solved(first)  # common points in the same order
        for name, unit in PAIRED.items():
            difference = cell[name].astype(float) - first[name].astype(float)
            mean = scramble_mean(difference, both, cell["scramble"])
            out.append(
                place
                | {
                    "quantity": name,
                    "unit": unit,
                    "difference": mean.mean,
                    "low": mean.low,
                    "high": mean.high,
                    "n": mean.n,
                }
                | {"n_left_out": int((~both).sum())}
            )
    names = ("tip_load_index", "angle_index", "tip_load", "angle", "quantity", "unit", "difference", "low", "high")
    return from_rows(out) or {name: np.array([]) for name in (*names, "n", "n_left_out")}
