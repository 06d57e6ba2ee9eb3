"""The hypothesis test between designs: insertions of every design in the same vessels, in every arm of further factors.

Rows are those of a map with the arm beside them. Scrambles are added where an interval is still wider than wanted.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import ceil, isnan
from pathlib import Path
from typing import Any

import numpy as np

from ..checks import FieldError
from ..insertion.case import Case
from .build import build_case, feasible
from .compare_spec import CompareSpec, arms, design_words, of_design
from .estimates import Flags
from .evaluate import evaluate
from .execute import OnProgress, Progress, Task, Work, run_tasks
from .factors import Arm, points_of
from .independent import Evaluate, Independent, Row
from .inputs import point_seed, points_between
from .intervals import Array, Interval, clopper_pearson, mean_difference, probability
from .outcomes import OUTCOMES, flags, of_procedures, outcome_of, solved
from .run_map import point_columns
from .store import Store, open_store
from .strata import Layout
from .table import Table, concat, from_rows, length, select

ROOTS = (
    "study/run_compare.py",
    "study/compare_spec.py",
    "study/factors.py",
    "study/outcomes.py",
    "study/streams.py",
)  # files that decide the rows of this kind of study
CHUNK = 16  # insertions of a chunk at most

Place = tuple[int, int, int]
"""A cell: arm, angle, design."""


@dataclass(frozen=True)
class ArmTask(Task):
    """Points of one cell of one arm."""

    arm: int = 0

    @property
    def key(self) -> str:
        """Name of the chunk."""
        return f"arm{self.arm:03d}_{super().key}"


@dataclass(frozen=True)
class CompareResult:
    """A finished comparison: rows, one insertion each; cells by arm, angle and load; the folder and its manifest."""

    spec: CompareSpec
    arms: tuple[Arm, ...]
    rows: Table
    cells: Table
    manifest: dict[str, Any]
    folder: Path


def run_compare(
    spec: CompareSpec,
    out: Path | str,
    workers: Any = None,
    overwrite: bool = False,
    on_progress: OnProgress | None = None,
    evaluate: Evaluate = evaluate,
) -> CompareResult:
    """Run (or go on with) a comparison into the folder `out`; arguments as for `run_map.run_map`."""
    if spec.plan.outcome not in OUTCOMES["insertion"]:
        raise FieldError("comparison.outcome", spec.plan.outcome, f"one of {', '.join(OUTCOMES['insertion'])}")
    store = open_store(out, "compare", spec, overwrite, ROOTS)
    rows, wall = in_rounds(spec, store, ArmsWork(spec, evaluate), workers, on_progress)
    all_arms = arms(spec)
    cells = cell_table(spec, all_arms, rows)
    store.put_table("rows", rows)
    store.put_table("cells", cells)
    manifest = store.finish(wall_time_of_last_run_s=round(wall, 2), insertions=length(rows))
    return CompareResult(spec, all_arms, rows, cells, manifest, Path(out))


def in_rounds(
    spec: CompareSpec, store: Store, work: Work, workers: Any, on_progress: OnProgress | None, chunk: int = CHUNK
) -> tuple[Table, float]:
    """Rows of a comparison in order, and the wall time (s): the scrambles stated, then more where they are wanted.

    workers : those of `execute.run_tasks` (None: the study's); chunk : rows of a chunk at most
    """
    study, all_arms = spec.study, arms(spec)
    done: dict[Place, int] = {}  # scrambles of each cell
    rows: Table = {}
    wall = 0.0
    wanted = {
        (a.index, j, i): study.scrambles
        for a in all_arms
        for j in range(len(study.angles))
        if feasible(a.spec, j)
        for i in range(len(study.tip_loads))
    }
    while wanted:
        tasks = [t for place, more in wanted.items() for t in _tasks(spec, place, done.get(place, 0), more, chunk)]
        wall += run_tasks(store, tasks, work, workers or study.workers, _after(on_progress, length(rows)))
        rows = concat([rows, store.gather([t.key for t in tasks])])
        done |= wanted
        wanted = _more(spec, rows, done)
    return _in_order(rows), wall


def _after(on_progress: OnProgress | None, before: int) -> OnProgress | None:
    """Progress of a later round counts what earlier rounds have made."""
    if on_progress is None:
        return None
    return lambda s: on_progress(Progress(before + s.done, before + s.total, s.elapsed, s.left))


def _tasks(spec: CompareSpec, place: Place, first: int, last: int, chunk: int) -> Iterator[ArmTask]:
    """Tasks of the scrambles first..last-1 of one cell; a chunk never spans a round's end."""
    (arm, angle, load), points = place, spec.study.points
    for k in range(first * points, last * points, chunk):
        yield ArmTask(load, angle, k, min(k + chunk, last * points), arm)


def _more(spec: CompareSpec, rows: Table, done: Mapping[Place, int]) -> dict[Place, int]:
    """Scrambles that each cell needs in all, where its interval is still too wide."""
    wanted: dict[Place, int] = {}
    half = spec.plan.half_width
    if half is None:
        return wanted
    for place, made in done.items():
        width = _estimate(spec, _cell(rows, *place)).half_width
        needed = scrambles_wanted(width, half, made, spec.plan.most_scrambles)
        if needed > made:
            wanted[place] = needed
    return wanted


def scrambles_wanted(half_width: float, wanted: float, made: int, most: int) -> int:
    """Scrambles that a cell gets in all: those made, where its interval is no wider than wanted, or no more may be.

    The half-width falls with the square root of the scrambles, which are at most doubled in one round; doubled too
    where there is no interval (not a number: nothing was solved).
    """
    if half_width <= wanted or made >= most:
        return made
    growth = 2.0 if isnan(half_width) else min(2.0, max((half_width / wanted) ** 2, 1.0 + 1.0 / made))
    return min(ceil(made * growth), most)


def _cell(rows: Table, arm: int, angle: int, load: int) -> Table:
    """Rows of one cell."""
    return select(rows, (rows["arm"] == arm) & (rows["angle_index"] == angle) & (rows["tip_load_index"] == load))


def _estimate(spec: CompareSpec, rows: Table) -> Interval:
    """Probability of the planned event in one cell."""
    return probability(outcome_of(rows, spec.plan.outcome) > 0.0, solved(rows), rows["scramble"])


@dataclass(frozen=True)
class ArmsWork(Independent):
    """Work on insertions of arms: arm, cell, seeds, what was drawn, outcome."""

    def arm(self, task: ArmTask) -> tuple[Arm, Array]:
        """Arm of a task, and the coordinates of its points."""
        spec: CompareSpec = self.spec
        arm = of_design(spec, arms(spec)[task.arm], task.tip_load)
        u = points_between(spec.seed, spec.study.points, task.first, task.last)
        return arm, points_of(arm, u, spec.distributions)

    def insertions(self, task: ArmTask) -> Iterator[tuple[Row, Case]]:
        """The points of a task."""
        arm, points = self.arm(task)
        for index, u in zip(range(task.first, task.last), points, strict=True):
            seed = point_seed(self.spec.study.seed, index)
            row = {"arm": arm.index, "replicate": arm.replicate, **point_columns(arm.spec, task, index, seed, u)}
            yield row, build_case(arm.spec, task.tip_load, task.angle, u, seed)

    def place(self, task: ArmTask, number: int) -> str:
        """Point, arm and cell."""
        cell = f"arm {task.arm}, tip load {task.tip_load}, angle {task.angle}"
        return f"point {task.first + number} of {cell} of study '{self.spec.study.name}'"


def _in_order(rows: Table) -> Table:
    """Rows by arm, angle, load and point, in whatever rounds they were made."""
    order = np.lexsort((rows["index"], rows["tip_load_index"], rows["angle_index"], rows["arm"]))
    return {name: column[order] for name, column in rows.items()}


def cell_table(spec: CompareSpec, all_arms: Sequence[Arm], rows: Table) -> Table:
    """One row for each arm, angle and design: probability of every event with its interval, bounds, mean area."""
    out = []
    for arm in all_arms:
        for j, angle in enumerate(spec.study.angles):
            for i, load in enumerate(spec.study.tip_loads):
                cell = _cell(rows, arm.index, j, i)
                if not length(cell):
                    continue
                place: dict[str, Any] = {"arm": arm.index, "replicate": arm.replicate}
                place |= {"tip_load_index": i, "angle_index": j}
                place |= {"design_words": design_words(spec, i), "tip_load": load, "angle": angle}
                place |= {f"f_{k}": v for k, v in arm.levels.items()}
                out.append(place | _estimates(cell) | _precision(spec, cell))
    return from_rows(out)


def _estimates(cell: Table) -> dict[str, Any]:
    """Estimates of one cell."""
    ok, scramble = solved(cell), cell["scramble"]
    n, unsolved = length(cell), int(np.sum(~ok))
    row: dict[str, Any] = {"n": n, "n_solved": n - unsolved, "n_not_solved": unsolved}
    for name, event in _events(cell).items():
        p = probability(event, ok, scramble)
        count = int(np.sum(event & ok))
        exact = clopper_pearson(count, n - unsolved) if n > unsolved else (np.nan, np.nan)
        row |= {f"p_{name}": p.value, f"p_{name}_low": p.low, f"p_{name}_high": p.high, f"n_{name}": count}
        row |= {f"p_{name}_exact_low": exact[0], f"p_{name}_exact_high": exact[1], f"p_{name}_worth": p.effective}
        row |= {f"p_{name}_bound_low": count / n, f"p_{name}_bound_high": (count + unsolved) / n}
    area = mean_difference(cell["opened_area"], ok, Layout.of(scramble))
    row |= {"opened_area": area.value, "opened_area_low": max(area.low, 0.0), "opened_area_high": area.high}
    if of_procedures(cell):
        row["attempts"] = float(np.mean(cell["attempts"][ok])) if np.any(ok) else np.nan
    return row


def _precision(spec: CompareSpec, cell: Table) -> dict[str, Any]:
    """Half-width of the planned outcome's interval, and whether it is as wanted; nothing where none is wanted."""
    if spec.plan.half_width is None:
        return {}
    width = _estimate(spec, cell).half_width
    return {"half_width": width, "half_width_reached": int(width <= spec.plan.half_width)}


def unreached(cells: Table) -> int:
    """Cells whose interval is wider than wanted although they took all the scrambles they may."""
    return int(np.sum(cells["half_width_reached"] == 0)) if "half_width_reached" in cells else 0


def _events(cell: Table) -> dict[str, Flags]:
    """Events of which a cell has the probability: those of a map but that the tear was reached."""
    return {name: flag for name, flag in flags(cell).items() if name != "reached"}
