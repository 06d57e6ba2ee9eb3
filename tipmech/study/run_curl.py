"""What a seen curl tells: insertions of every wire whose screen is read as they advance, beside where the wire is."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from ..checks import check_positive, check_range
from ..insertion.case import Case
from ..insertion.imaging import Imaging
from ..insertion.seen import Detector
from . import events
from .build import build_case, feasible
from .execute import OnProgress, Task, run_tasks, tasks_of
from .inputs import point_seed, points_between
from .intervals import Array
from .looks import Look, Reading, look_columns, read
from .run_map import point_columns
from .spec import OfStudy, StudySpec
from .store import open_store
from .table import Table, from_rows

ROOTS = ("study/run_curl.py", "study/looks.py")  # files that decide the rows of this kind of study
CHUNK = 8  # insertions of one chunk: what a killed run loses at most, for each worker
PREFIX = "look_"  # of a look's own columns in a chunk
PLACE = ("tip_load_index", "angle_index", "tip_load", "angle", "scramble", "index", "seed", "label")


@dataclass(frozen=True)
class CurlSpec(OfStudy):
    """A study's grid and points, how the screen is seen, and when it is read.

    every : advance past the tear between two looks, m
    foreshortened : the tip counts as foreshortened where its distal 10 mm show less than this share of their length in
    every view
    """

    study: StudySpec
    imaging: Imaging
    detector: Detector
    every: float = 1e-3
    foreshortened: float = 0.5

    def __post_init__(self) -> None:
        check_positive(self.every, name="curl.look_mm")
        check_range(self.foreshortened, name="curl.foreshortened", low=0.0, high=1.0)


Evaluate = Callable[[CurlSpec, Case], Reading]


@dataclass(frozen=True)
class CurlResult:
    """A finished study of what a seen curl tells: rows, one insertion each; looks, one look each; manifest; folder."""

    spec: CurlSpec
    rows: Table
    looks: Table
    manifest: dict[str, Any]
    folder: Path


def evaluate(spec: CurlSpec, case: Case) -> Reading:
    """Carry out an insertion and read its screen."""
    return read(case, spec.imaging, spec.detector, spec.every)


def run_curl(
    spec: CurlSpec,
    out: Path | str,
    workers: int | None = None,
    overwrite: bool = False,
    on_progress: OnProgress | None = None,
    evaluate: Evaluate = evaluate,
) -> CurlResult:
    """Run (or go on with) a study into the folder `out`; arguments as for `run_map.run_map`.

    evaluate : callable
        what one case comes to and what is read of it; must be importable by worker processes
    """
    study = spec.study
    store = open_store(out, "curl", spec, overwrite, ROOTS)
    cells = [(i, j) for i in range(len(study.tip_loads)) for j in range(len(study.angles)) if feasible(study, j)]
    tasks = tasks_of(cells, study.count, CHUNK)
    wall = run_tasks(store, tasks, partial(run_chunk, spec, evaluate), workers or study.workers, on_progress)
    rows, looks = split(store.gather([t.key for t in tasks]))
    store.put_table("rows", rows)
    store.put_table("looks", looks)
    manifest = store.finish(wall_time_of_last_run_s=round(wall, 2), workers=workers or study.workers)
    return CurlResult(spec, rows, looks, manifest, Path(out))


def run_chunk(spec: CurlSpec, evaluate: Evaluate, task: Task) -> Table:
    """Looks of the insertions of one task, in order, each with the columns of its insertion."""
    points = points_between(spec.seed, spec.study.points, task.first, task.last)
    made = zip(range(task.first, task.last), points, strict=True)
    return from_rows([row for k, u in made for row in _rows(spec, evaluate, task, k, u)])


def _rows(spec: CurlSpec, evaluate: Evaluate, task: Task, index: int, u: Array) -> list[dict[str, Any]]:
    """One insertion as a row for each of its looks; one row where it has none (not solved before the first)."""
    study = spec.study
    seed = point_seed(study.seed, index)
    try:
        reading = evaluate(spec, build_case(study, task.tip_load, task.angle, u, seed))
    except Exception as error:
        error.add_note(f"at point {index} of tip load {task.tip_load}, angle {task.angle} of study '{spec.name}'")
        raise
    whole = point_columns(study, task, index, seed, u) | events.outcome_row(reading.outcome)
    whole |= {"looks": len(reading.looks)}
    own: list[tuple[int, Look | None]] = [*enumerate(reading.looks, start=1)] or [(0, None)]
    return [
        whole | {"look": number} | {PREFIX + name: value for name, value in look_columns(look).items()}
        for number, look in own
    ]


def split(chunks: Table) -> tuple[Table, Table]:
    """Insertions (one row each) and looks (one row each) of gathered chunks."""
    if not chunks:
        return {}, {}
    first = chunks["look"] <= 1
    rows = {k: v[first] for k, v in chunks.items() if not k.startswith(PREFIX) and k != "look"}
    real = chunks["look"] > 0
    own = {name.removeprefix(PREFIX): v[real] for name, v in chunks.items() if name.startswith(PREFIX)}
    return rows, {name: np.asarray(chunks[name][real]) for name in (*PLACE, "look")} | own
