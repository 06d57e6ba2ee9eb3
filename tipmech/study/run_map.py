"""The map: entry, curl and extension over tip load x commanded approach angle."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from ..insertion.case import Case
from ..outcome import Label
from . import events
from .build import build_case, feasible, place_point
from .estimates import cumulative_incidence, proportion, scramble_mean, wilson_band
from .evaluate import evaluate
from .execute import OnProgress, Task, run_tasks, tasks_of
from .independent import Evaluate, Independent, Row
from .inputs import point_seed, points_between
from .spec import StudySpec
from .store import open_store
from .table import Table, from_rows, length, select

CHUNK = 16  # points of one chunk: what a killed run loses at most, for each worker
INCIDENCE_POINTS = 41  # advances at which the incidence is tabulated


@dataclass(frozen=True)
class MapResult:
    """A finished map.

    rows: one insertion each; cells: one cell each (`feasible` 0: not run); incidence: cumulative incidence of curl and
    of extension against advance since the tear, long form; manifest: hash, code, seeds, wall time; folder.
    """

    spec: StudySpec
    rows: Table
    cells: Table
    incidence: Table
    manifest: dict[str, Any]
    folder: Path


def run_map(
    spec: StudySpec,
    out: Path | str,
    workers: int | None = None,
    overwrite: bool = False,
    on_progress: OnProgress | None = None,
    evaluate: Evaluate = evaluate,
) -> MapResult:
    """Run (or go on with) a map into the folder `out` and return it with its estimates.

    Parameters
    ----------
    evaluate : callable
        what one case comes to; must be importable by worker processes (tests hand in a made-up one)

    Raises
    ------
    InputError
        if `out` holds another study and `overwrite` is false
    """
    store = open_store(out, "map", spec, overwrite)
    cells = [(i, j) for i in range(len(spec.tip_loads)) for j in range(len(spec.angles)) if feasible(spec, j)]
    tasks = tasks_of(cells, spec.count, CHUNK)
    wall = run_tasks(store, tasks, MapWork(spec, evaluate), workers or spec.workers, on_progress)
    rows = store.gather([t.key for t in tasks])
    table, incidence = cell_table(spec, rows), incidence_table(spec, rows)
    store.put_table("rows", rows)
    store.put_table("cells", table)
    store.put_table("incidence", incidence)
    manifest = store.finish(wall_time_of_last_run_s=round(wall, 2), workers=workers or spec.workers)
    return MapResult(spec, rows, table, incidence, manifest, Path(out))


class MapWork(Independent):
    """Work on the tasks of a map: cell, seeds, every sampled input (prefix x_), active caps (cap_), outcome."""

    def insertions(self, task: Task) -> Iterator[tuple[Row, Case]]:
        """The points of a task."""
        spec: StudySpec = self.spec
        points = points_between(spec.seed, spec.points, task.first, task.last)
        for index, u in zip(range(task.first, task.last), points, strict=True):
            seed = point_seed(spec.seed, index)
            yield point_columns(spec, task, index, seed, u), build_case(spec, task.tip_load, task.angle, u, seed)

    def place(self, task: Task, number: int) -> str:
        """Point and cell."""
        cell = f"tip load {task.tip_load}, angle {task.angle}"
        return f"point {task.first + number} of {cell} of study '{self.spec.name}'"


def point_columns(
    spec: StudySpec, task: Task, index: int, seed: int, u: np.ndarray[Any, Any]
) -> dict[str, int | float]:
    """Columns that say which cell and point a row is, and what was drawn."""
    point = place_point(spec, u)
    return {
        "tip_load_index": task.tip_load,
        "angle_index": task.angle,
        "tip_load": spec.tip_loads[task.tip_load],
        "angle": spec.angles[task.angle],
        "scramble": index // spec.points,
        "index": index,
        "seed": seed,
        **{f"x_{name}": float(value) for name, value in point.values.items()},
        **{f"cap_{name}": value for name, value in point.capped.items()},
    }


def rows_of_cell(rows: Table, i: int, j: int) -> Table:
    """Rows of tip load i and angle j."""
    if not length(rows):
        return {}
    return select(rows, (rows["tip_load_index"] == i) & (rows["angle_index"] == j))


def cell_table(spec: StudySpec, rows: Table) -> Table:
    """One row for each cell: probabilities with intervals and bounds, counts of labels, mean opened area."""
    out = []
    for i, load in enumerate(spec.tip_loads):
        for j, angle in enumerate(spec.angles):
            place = {"tip_load_index": i, "angle_index": j, "tip_load": load, "angle": angle, "factor": spec.factors[i]}
            out.append({**place, "feasible": int(feasible(spec, j)), **_estimates(rows_of_cell(rows, i, j))})
    return from_rows(out)


def _estimates(rows: Table) -> dict[str, Any]:
    """Estimates of one cell; an infeasible cell has n = 0 and nan everywhere."""
    if not length(rows):
        template = _estimates(_nothing())
        return {key: (0 if isinstance(value, int) else np.nan) for key, value in template.items()}
    ok, scramble = events.solved(rows), rows["scramble"]
    row: dict[str, Any] = {"n": length(rows), "n_solved": int(ok.sum()), "n_not_solved": int((~ok).sum())}
    row["n_jammed"] = int(np.sum(rows["jammed"][ok]))
    for name, flag in events.flags(rows).items():
        p = proportion(flag, ok, scramble)
        row |= {f"p_{name}": p.p, f"p_{name}_low": p.low, f"p_{name}_high": p.high}
        row |= {f"p_{name}_wilson_low": p.wilson_low, f"p_{name}_wilson_high": p.wilson_high}
        row |= {f"p_{name}_bound_low": p.bound_low, f"p_{name}_bound_high": p.bound_high, f"n_{name}": p.count}
    for label in Label:
        row[f"n_label_{label.name.lower()}"] = int(np.sum(rows["label"] == int(label)))
        if label is not Label.NOT_SOLVED:
            p = proportion(np.asarray(rows["label"] == int(label)), ok, scramble)
            row |= {f"p_label_{label.name.lower()}": p.p, f"p_label_{label.name.lower()}_low": p.low}
            row[f"p_label_{label.name.lower()}_high"] = p.high
    area = scramble_mean(rows["opened_area"], ok, scramble)
    return {**row, "opened_area": area.mean, "opened_area_low": max(area.low, 0.0), "opened_area_high": area.high}


def _nothing() -> Table:
    """One made-up unsolved row, to get the names of the columns of a cell that was not run."""
    names = [*events.OUTCOME_FIELDS, "scramble"]
    table: Table = {name: np.full(1, np.nan) for name in names}
    return table | {
        "label": np.zeros(1, dtype=np.int64),
        "jammed": np.zeros(1),
        "scramble": np.zeros(1, dtype=np.int64),
    }


def incidence_table(spec: StudySpec, rows: Table) -> Table:
    """Cumulative incidence of curl and of extension against advance since the tear, with Wilson bands, by cell."""
    grid = np.linspace(0.0, spec.advance_past_tear, INCIDENCE_POINTS)
    tables = []
    for i in range(len(spec.tip_loads)):
        for j in range(len(spec.angles)):
            cell = rows_of_cell(rows, i, j)
            cell = select(cell, events.solved(cell)) if length(cell) else cell
            if not length(cell):
                continue
            for event in ("curled", "extended"):
                p = cumulative_incidence(*events.competing(cell, event), grid)
                low, high = wilson_band(p, length(cell))
                for row in zip(grid, p, low, high, strict=True):
                    tables.append((i, j, event, *row))
    names = ("tip_load_index", "angle_index", "event", "advance", "p", "low", "high")
    columns = zip(*tables, strict=True) if tables else [()] * len(names)
    return {name: np.array(column) for name, column in zip(names, columns, strict=True)}
