"""The hypothesis test between designs over procedures: in place of an insertion a policy with its further attempts.

Points, arms and rounds are those of `run_compare`; what the hand does with a case is that of `run_attempts`.
"""

from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from ..checks import FieldError
from ..insertion.imaging import Imaging
from ..insertion.policy import Policy
from ..insertion.seen import Detector
from . import run_compare
from .compare_spec import CompareSpec, arms, of_design
from .execute import OnProgress, Task
from .factors import points_of
from .inputs import points_between
from .intervals import Array
from .outcomes import OUTCOMES, Estimand
from .run_attempts import CHUNK, PREFIX, AttemptsSpec, Evaluate, evaluate, rows_of_procedure
from .run_compare import ArmTask, CompareResult, cell_table, in_rounds
from .spec import StudySpec
from .store import open_store
from .table import Table, from_rows, length

KIND = "procedures"
ROOTS = (*run_compare.ROOTS, "study/run_procedures.py")  # files that decide the rows of this kind of study
ANY = ("entered", "curled")  # of a procedure: in any of its attempts


@dataclass(frozen=True)
class ProceduresSpec:
    """A comparison, the operator's policy, and how the operator sees."""

    compare: CompareSpec
    policy: Policy
    imaging: Imaging
    detector: Detector

    def __post_init__(self) -> None:
        allowed = [*OUTCOMES["procedure"], *OUTCOMES["damage"]]
        if self.compare.plan.outcome not in allowed:
            raise FieldError("comparison.outcome", self.compare.plan.outcome, f"one of {', '.join(allowed)}")

    @property
    def name(self) -> str:
        """Name shown to users."""
        return self.compare.name

    @property
    def seed(self) -> int:
        """Study seed."""
        return self.compare.seed

    @property
    def estimand(self) -> Estimand:
        """What is estimated of a procedure: whether it shows the planned event, or what it opens in all."""
        return "damage" if self.compare.plan.outcome in OUTCOMES["damage"] else "procedure"

    def of(self, study: StudySpec) -> AttemptsSpec:
        """The same policy and looks on another study: an arm's."""
        return AttemptsSpec(study, self.policy, self.imaging, self.detector)


def run_procedures(
    spec: ProceduresSpec,
    out: Path | str,
    workers: Any = None,
    overwrite: bool = False,
    on_progress: OnProgress | None = None,
    evaluate: Evaluate = evaluate,
) -> CompareResult:
    """Run (or go on with) a comparison of procedures into the folder `out`; arguments as for `run_attempts`.

    The result is a comparison's: a row is a procedure, with the number of its attempts and what they opened in all.
    """
    compare = spec.compare
    store = open_store(out, KIND, spec, overwrite, ROOTS)
    rows, wall = in_rounds(compare, store, partial(run_chunk, spec, evaluate), workers, on_progress, CHUNK)
    all_arms = arms(compare)
    cells = cell_table(compare, all_arms, rows)
    store.put_table("rows", rows)
    store.put_table("cells", cells)
    manifest = store.finish(wall_time_of_last_run_s=round(wall, 2), procedures=length(rows))
    return CompareResult(compare, all_arms, rows, cells, manifest, Path(out))


def run_chunk(spec: ProceduresSpec, evaluate: Evaluate, task: Task) -> Table:
    """Rows of the procedures of one task, in order."""
    assert isinstance(task, ArmTask)
    study, arm = spec.compare.study, of_design(spec.compare, arms(spec.compare)[task.arm], task.tip_load)
    u = points_between(spec.seed, study.points, task.first, task.last)
    made = zip(range(task.first, task.last), points_of(arm, u, spec.compare.distributions), strict=True)
    return from_rows(
        [
            {"arm": arm.index, "replicate": arm.replicate, **procedure_row(spec.of(arm.spec), evaluate, task, k, point)}
            for k, point in made
        ]
    )


def procedure_row(spec: AttemptsSpec, evaluate: Evaluate, task: Task, index: int, u: Array) -> dict[str, Any]:
    """One procedure: its cell, seed and draws, how it ended, and of its attempts how many and whether any did so."""
    attempts = rows_of_procedure(spec, evaluate, task, index, u)
    whole = {k: v for k, v in attempts[-1].items() if not k.startswith(PREFIX) and k != "attempt"}
    return whole | {name: max(a[PREFIX + name] for a in attempts) for name in ANY}
