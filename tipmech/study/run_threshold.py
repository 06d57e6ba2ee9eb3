"""Thresholds over tip load x commanded angle: P50 of the curling threshold with its interval, beside 2 EI / Wc^2."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from ..checks import FieldError, check_positive, check_range
from ..insertion.case import Case
from ..insertion.record import Outcome
from .build import build_pocket_case, place_point, scale_force
from .estimates import median_of_intervals
from .evaluate import evaluate
from .execute import OnProgress, Task, run_tasks, tasks_of
from .inputs import point_seed, points_between
from .run_map import point_columns, rows_of_cell
from .spec import OfStudy, StudySpec
from .store import open_store
from .table import Table, from_rows, length
from .threshold import LADDER_COUNT, LADDER_HIGH, LADDER_LOW, TOLERANCE, Event, Status, ladder_about, threshold_of

Evaluate = Callable[[Case], Outcome]

CHUNK = 2  # cases of one chunk: each is a dozen insertions
FEWEST_RUNGS = 8


@dataclass(frozen=True)
class ThresholdSpec(OfStudy):
    """A study's grid and points, and the ladder of front forces over each case's scale 2 EI / Wc^2."""

    study: StudySpec
    ladder_low: float = LADDER_LOW
    ladder_high: float = LADDER_HIGH
    ladder_count: int = LADDER_COUNT
    tolerance: float = TOLERANCE

    def __post_init__(self) -> None:
        check_positive(self.ladder_low, name="ladder_low")
        check_range(self.ladder_high, name="ladder_high", low=self.ladder_low, above=True)
        check_range(self.tolerance, name="tolerance", low=1e-4, high=0.5)
        if self.ladder_count < FEWEST_RUNGS:
            raise FieldError("ladder_count", self.ladder_count, f"at least {FEWEST_RUNGS}")


@dataclass(frozen=True)
class ThresholdStudyResult:
    """A finished threshold study: rows are cases, cells have P50 with interval; manifest and folder as for a map."""

    spec: ThresholdSpec
    rows: Table
    cells: Table
    manifest: dict[str, Any]
    folder: Path


def run_threshold(
    spec: ThresholdSpec,
    out: Path | str,
    workers: int | None = None,
    overwrite: bool = False,
    on_progress: OnProgress | None = None,
    evaluate: Evaluate = evaluate,
) -> ThresholdStudyResult:
    """Run (or go on with) a threshold study into the folder `out`; arguments as for `run_map.run_map`."""
    study = spec.study
    store = open_store(out, "threshold", spec, overwrite)
    cells = [(i, j) for i in range(len(study.tip_loads)) for j in range(len(study.angles))]
    tasks = tasks_of(cells, study.count, CHUNK)
    wall = run_tasks(store, tasks, partial(run_chunk, spec, evaluate), workers or study.workers, on_progress)
    rows = store.gather([t.key for t in tasks])
    table = cell_table(spec, rows)
    store.put_table("rows", rows)
    store.put_table("cells", table)
    manifest = store.finish(wall_time_of_last_run_s=round(wall, 2), workers=workers or study.workers)
    return ThresholdStudyResult(spec, rows, table, manifest, Path(out))


def run_chunk(spec: ThresholdSpec, evaluate: Evaluate, task: Task) -> Table:
    """Rows of the cases of one task, in order."""
    points = points_between(spec.seed, spec.study.points, task.first, task.last)
    made = range(task.first, task.last)
    return from_rows([_row(spec, evaluate, task, k, u) for k, u in zip(made, points, strict=True)])


def _row(
    spec: ThresholdSpec, evaluate: Evaluate, task: Task, index: int, u: np.ndarray[Any, Any]
) -> dict[str, int | float]:
    """Threshold of one case: the bracket, the scale, the event at each rung, every sampled input."""
    study = spec.study
    seed = point_seed(study.seed, index)
    scale = scale_force(study.wires[task.tip_load], place_point(study, u).values["room"])
    ladder = ladder_about(scale, spec.ladder_low, spec.ladder_high, spec.ladder_count)

    def case_for_force(force: float) -> Case:
        return build_pocket_case(study, task.tip_load, task.angle, u, seed, force)

    try:
        result = threshold_of(case_for_force, ladder, spec.tolerance, evaluate)
    except Exception as error:
        error.add_note(f"at case {index} of tip load {task.tip_load}, angle {task.angle} of study '{spec.name}'")
        raise
    return {
        **point_columns(study, task, index, seed, u),
        "status": result.status,
        "scale": scale,
        "force": result.force,
        "force_low": result.low,
        "force_high": result.high,
        "runs": result.runs,
        "unsolved_runs": result.unsolved,
        "rungs": len(result.events),
        "neither_rungs": sum(e == Event.NEITHER for e in result.events),
        **{f"rung_{k}": event for k, event in enumerate(result.events)},
    }


def cell_table(spec: ThresholdSpec, rows: Table) -> Table:
    """One row for each cell: P50 of F* (N) and of F* over its scale, with intervals, and how the searches ended.

    Cases known only by an open bracket keep their place in the order (always curled: below; never: above; not solved,
    or neither at any rung: anywhere): where the P50 depends on them it is not a number. A bracket left wide by forces
    at which neither happened counts with both its ends: the P50 is the geometric middle between the medians of the low
    and of the high ends. Non-monotone cases count with their lowest upward crossing.
    """
    study, out = spec.study, []
    for i, load in enumerate(study.tip_loads):
        for j, angle in enumerate(study.angles):
            cell = rows_of_cell(rows, i, j)
            row: dict[str, int | float] = {"tip_load_index": i, "angle_index": j, "tip_load": load, "angle": angle}
            row["n"] = length(cell)
            for status in Status:
                row[f"n_{status.name.lower()}"] = int(np.sum(cell["status"] == int(status)))
            row |= {"runs": int(np.sum(cell["runs"])), "unsolved_runs": int(np.sum(cell["unsolved_runs"]))}
            row |= {name: int(np.sum(cell[name])) for name in ("rungs", "neither_rungs")}
            row["scale_median"] = float(np.median(cell["scale"]))
            for name, unit in (("p50", 1.0), ("ratio", cell["scale"])):
                m = median_of_intervals(cell["force_low"] / unit, cell["force_high"] / unit)
                row |= {name: m.p50, f"{name}_low": m.low, f"{name}_high": m.high}
                row |= {f"{name}_bracket_low": m.bracket_low, f"{name}_bracket_high": m.bracket_high}
            out.append(row)
    return from_rows(out)
