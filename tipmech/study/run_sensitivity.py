"""The sensitivity study: which uncertain inputs decide an outcome. Morris' screening first, then Sobol' indices."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..insertion.case import Case
from .evaluate import evaluate
from .execute import OnProgress, run_tasks
from .independent import Evaluate, Independent, Row
from .sensitivity import MORRIS, SOBOL, SensitivitySpec, insertion_at
from .sensitivity_tables import indices_table, morris_table
from .store import open_store
from .table import Table

CHUNK = 16  # insertions of one chunk: what a killed run loses at most, for each worker
NAMES = {MORRIS: "morris", SOBOL: "sobol"}
ROOTS = tuple(f"study/{name}.py" for name in ("designs", "sensitivity", "run_sensitivity"))
"""Further sources that decide the rows of this kind of study: they count for its digest only."""


@dataclass(frozen=True)
class Piece:
    """Insertions first..last-1 of a design; `key` names its chunk."""

    design: int
    first: int
    last: int

    @property
    def key(self) -> str:
        """Name of the chunk."""
        return f"{NAMES[self.design]}_{self.first:06d}_{self.last:06d}"

    @property
    def count(self) -> int:
        """Number of insertions."""
        return self.last - self.first


@dataclass(frozen=True)
class SensitivityResult:
    """A finished sensitivity study.

    rows: one insertion each; morris, indices: one input of one outcome each; manifest: hash, code, seeds, wall time.
    """

    spec: SensitivitySpec
    outcomes: tuple[str, ...]
    rows: Table
    morris: Table
    indices: Table
    manifest: dict[str, Any]
    folder: Path


def run_sensitivity(
    spec: SensitivitySpec,
    outcomes: Sequence[str],
    out: Path | str,
    workers: int | None = None,
    overwrite: bool = False,
    on_progress: OnProgress | None = None,
    evaluate: Evaluate = evaluate,
) -> SensitivityResult:
    """Run (or go on with) a sensitivity study into the folder `out`; other arguments as for `run_map.run_map`.

    outcomes : sequence of str
        names of `sensitivity.OUTCOMES` that are looked at; others may be asked of the same folder later
    """
    store = open_store(out, "sensitivity", spec, overwrite, ROOTS)
    tasks = pieces(spec)
    wall = run_tasks(store, tasks, DesignWork(spec, evaluate), workers or spec.study.workers, on_progress)
    rows = store.gather([t.key for t in tasks])
    morris, indices = morris_table(spec, rows, outcomes), indices_table(spec, rows, outcomes)
    for name, table in (("rows", rows), ("morris", morris), ("indices", indices)):
        store.put_table(name, table)
    manifest = store.finish(wall_time_of_last_run_s=round(wall, 2), workers=workers or spec.study.workers)
    return SensitivityResult(spec, tuple(outcomes), rows, morris, indices, manifest, Path(out))


def pieces(spec: SensitivitySpec) -> list[Piece]:
    """Both designs in chunks, Morris' first."""
    sizes = {which: len(spec.design(which)) for which in (MORRIS, SOBOL)}
    return [Piece(w, k, min(k + CHUNK, n)) for w, n in sizes.items() for k in range(0, n, CHUNK)]


class DesignWork(Independent):
    """Work on pieces of designs: place in the design, what was drawn (prefix x_), active caps (cap_), outcome."""

    def insertions(self, task: Piece) -> Iterator[tuple[Row, Case]]:
        """The insertions of a piece."""
        spec, which = self.spec, task.design
        for index in range(task.first, task.last):
            made = insertion_at(spec, spec.design(which)[index])
            row = {
                "design": which,
                "block": index // spec.block(which),
                "place": index % spec.block(which),
                "index": index,
                "seed": made.case.seed,
                "tip_load": made.tip_load,
                "angle": made.angle,
                **{f"x_{name}": value for name, value in made.values.items()},
                **{f"cap_{name}": value for name, value in made.capped.items()},
            }
            yield row, made.case

    def place(self, task: Piece, number: int) -> str:
        """Number and design."""
        return f"insertion {task.first + number} of the design '{NAMES[task.design]}' of study '{self.spec.name}'"
