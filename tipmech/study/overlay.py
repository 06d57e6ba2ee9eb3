"""Simulated runs beside the reduced model: each run's dimensionless numbers, its regime simulated and predicted."""

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass, replace
from math import inf, isfinite, nan
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ..checks import InputError
from ..insertion.case import Case
from ..insertion.record import Outcome
from ..insertion.record_file import from_plain
from ..outcome import Label, Where
from ..regime.contest import OF_WAY, Regime, Verdict, verdict
from ..regime.fold import Fold, Way, fold_force
from ..regime.groove import STATION
from ..regime.pocket import Pocket, pocket_of
from ..vessel.scene import Scene
from .build import build_case, build_pocket_case
from .inputs import sobol_points
from .run_threshold import ThresholdSpec
from .spec import StudySpec
from .store import Store, read_store
from .table import Table, from_rows, length, read_parquet, select
from .threshold import Event, event_of

WITHIN = 0.2  # of F*: what a threshold is wanted to be predicted within
SHARP = 1.06  # high over low: a bracket that forces with neither, or an unsolved insertion, left wider gives no F*
OF_EVENT = {
    Event.DROVE_ON: Regime.DRIVES_ON,
    Event.CURLED: Regime.CURLS,
    Event.NEITHER: Regime.BOWS,
    Event.NOT_SOLVED: Regime.NOT_SOLVED,
}


@dataclass(frozen=True)
class Job:
    """One wire in one scene and what was simulated with it.

    source, name : where it comes from; case; tip_load, angle : N and rad (nan: not from a study)
    forces : tuple of float
        front forces it was run at (N), `events` the regime simulated at each
    low, high : float
        bracket of the simulated threshold F*, N (nan: none was looked for)
    """

    source: str
    name: str
    case: Case
    tip_load: float
    angle: float
    forces: tuple[float, ...]
    events: tuple[Regime, ...]
    low: float = nan
    high: float = nan

    @property
    def threshold(self) -> float:
        """Geometric middle of the bracket, N (nan: none, open, or wider than `SHARP`)."""
        sharp = self.low > 0.0 and self.high <= SHARP * self.low
        return float((self.low * self.high) ** 0.5) if sharp else nan


@dataclass(frozen=True)
class Overlay:
    """runs: one row for each simulated run; thresholds: one for each case whose F* was bracketed."""

    runs: Table
    thresholds: Table


def outside_model(scene: Scene) -> str:
    """Why the reduced model says nothing of a scene ("": it does)."""
    if scene.tear.intact:
        return "the wall is intact: there is no lip to lift"
    if scene.plug is not None:
        return "the true lumen is plugged, which the reduced model leaves out"
    return ""


def numbers_of_case(case: Case) -> Pocket:
    """Reduced model's numbers of a case (the first bend of its tip alone)."""
    t = case.tip_shape
    return pocket_of(case.profile, case.scene, case.friction, t.angle, t.length, t.roll, STATION)


def simulated(outcome: Outcome) -> Regime:
    """Regime of an insertion: what came first in the false channel, or that the wire was never in it."""
    if outcome.label == Label.NOT_SOLVED:
        return Regime.NOT_SOLVED
    inside = outcome.entered_before_curl or outcome.where == Where.FALSE_LUMEN
    return OF_EVENT[event_of(outcome)] if inside else Regime.STAYS_OUT


def job_of(case: Case, outcome: Outcome, source: str) -> Job:
    """Job of a single insertion."""
    force = numbers_of_case(case).front_force
    return Job(source, source, case, nan, nan, (force,), (simulated(outcome),))


def check_study(folder: Path | str) -> Store:
    """Open the folder of a finished map or threshold study.

    Raises
    ------
    InputError
        where it is something else
    """
    store = read_store(folder)
    kind = store.manifest.get("kind")
    if kind not in ("map", "threshold"):
        raise InputError(f"{folder}: holds a study of kind {kind}; allowed: the folder of a map or a threshold study")
    if not store.finished or not (Path(folder) / "rows.parquet").is_file():
        raise InputError(f"{folder}: the study is not finished; allowed: a finished one (run its command again)")
    return store


def jobs_of_study(folder: Path | str) -> list[Job]:
    """Jobs of a finished map or threshold study, its cases built anew from its own spec and points.

    Raises
    ------
    InputError
        where the folder is no such study, or one whose spec this version reads otherwise
    """
    store = check_study(folder)
    kind, spec = store.manifest["kind"], store.manifest["spec"]
    rows = read_parquet(Path(folder) / "rows.parquet")
    name = Path(folder).resolve().name
    try:
        if kind == "map":
            return _map_jobs(name, from_plain(StudySpec, spec), rows)
        return _threshold_jobs(name, from_plain(ThresholdSpec, spec), rows)
    except (KeyError, TypeError) as error:
        what = f"was computed by other code ({store.manifest['code']}) and cannot be read by this one ({error})"
        raise InputError(f"{folder}: {what}; allowed: a study of this version") from None


def _map_jobs(source: str, spec: StudySpec, rows: Table) -> list[Job]:
    """One job for each row of a map."""
    points, out = sobol_points(spec), []
    for k in range(length(rows)):
        row = {name: column[k] for name, column in rows.items()}
        i, j, index = (int(row[n]) for n in ("tip_load_index", "angle_index", "index"))
        case = build_case(spec, i, j, points[index], int(row["seed"]))
        curled, extended = float(row["curled"]), float(row["extended"])
        if row["label"] == int(Label.NOT_SOLVED):
            event = Regime.NOT_SOLVED
        elif not (row["entered_before_curl"] or row["where"] == int(Where.FALSE_LUMEN)):
            event = Regime.STAYS_OUT
        elif isfinite(curled) and not extended < curled:
            event = Regime.CURLS
        else:
            event = Regime.DRIVES_ON if isfinite(extended) else Regime.BOWS
        force = numbers_of_case(case).front_force
        out.append(Job(source, f"point {index}", case, spec.tip_loads[i], spec.angles[j], (force,), (event,)))
    return out


def _threshold_jobs(source: str, spec: ThresholdSpec, rows: Table) -> list[Job]:
    """One job for each case of a threshold study: its ladder and its bracket."""
    study = spec.study
    points, out = sobol_points(study), []
    rungs = np.geomspace(spec.ladder_low, spec.ladder_high, spec.ladder_count)
    for k in range(length(rows)):
        row = {name: column[k] for name, column in rows.items()}
        i, j, index = (int(row[n]) for n in ("tip_load_index", "angle_index", "index"))
        case = build_pocket_case(study, i, j, points[index], int(row["seed"]))
        events = tuple(OF_EVENT[Event(int(row[f"rung_{r}"]))] for r in range(len(rungs)))
        forces = tuple(float(f) for f in float(row["scale"]) * rungs)
        out.append(
            Job(source, f"case {index}", case, study.tip_loads[i], study.angles[j], forces, events,
                float(row["force_low"]), float(row["force_high"]))
        )  # fmt: skip
    return out


def overlay(jobs: Sequence[Job], workers: int = 2, on_progress: Callable[[int, int], None] | None = None) -> Overlay:
    """Evaluate the reduced model for every job; threads, since its kernels hold no lock."""
    runs: list[dict[str, object]] = []
    found: list[dict[str, object]] = []
    with ThreadPoolExecutor(workers) as pool:
        for k, (job, rows, fold) in enumerate(pool.map(_rows, jobs)):
            runs += rows
            if isfinite(job.threshold) and fold is not None:
                found.append(_threshold_row(job, fold))
            if on_progress is not None:
                on_progress(k + 1, len(jobs))
    return Overlay(from_rows(runs), from_rows(found))


def _rows(job: Job) -> tuple[Job, list[dict[str, object]], Fold | None]:
    """Rows of one job's runs. F_fold does not depend on the front's force: found once, and only where it is needed."""
    pocket = numbers_of_case(job.case)
    inside = job.case.scene.start == "pocket"
    came_in = any(e not in (Regime.STAYS_OUT, Regime.NOT_SOLVED) for e in job.events)
    fold = fold_force(pocket) if inside or came_in else None
    rows = []
    for force, event in zip(job.forces, job.events, strict=True):
        at = replace(pocket, front_force=force)
        # of a wire that came in the contest in the pocket is asked for too, whatever the lip was predicted to do
        lip = verdict(at, in_pocket=inside, fold=fold)
        inner = verdict(at, in_pocket=True, fold=fold) if fold is not None else None
        rows.append(_row(job, at, event, lip, inner))
    return job, rows, fold


def _row(job: Job, at: Pocket, event: Regime, lip: Verdict, inner: Verdict | None) -> dict[str, object]:
    numbers, forces = lip.numbers, (inner or lip).forces
    return {
        "source": job.source,
        "name": job.name,
        "tip_load": job.tip_load,
        "angle": job.angle,
        "in_pocket": int(job.case.scene.start == "pocket"),
        **{f"number_{k}": v for k, v in asdict(numbers).items()},
        **{f"force_{k}": v for k, v in asdict(forces).items()},
        "drive_over_fold": forces.drive / forces.fold if forces.fold > 0.0 else nan,
        "simulated": int(event),
        "predicted": int(lip.regime),
        "predicted_inside": int(inner.regime) if inner is not None else -1,
        "margin": lip.margin,
    }


def _threshold_row(job: Job, fold: Fold) -> dict[str, object]:
    pocket = numbers_of_case(job.case)
    return {
        "source": job.source,
        "name": job.name,
        "tip_load": job.tip_load,
        "angle": job.angle,
        "simulated": job.threshold,
        "bracket": job.high / job.low,
        "scale": pocket.scale,
        "predicted": fold.force,
        "above": int(OF_WAY[fold.above] if fold.above is not Way.NOT_SOLVED else Regime.NOT_SOLVED),
    }


def confusion(simulated: NDArray[np.int64], predicted: NDArray[np.int64]) -> NDArray[np.int64]:
    """Counts by simulated (rows) and predicted (columns) regime, shape (5, 5), in the order of `Regime`."""
    out = np.zeros((len(Regime), len(Regime)), dtype=np.int64)
    np.add.at(out, (simulated, predicted), 1)
    return out


def agreement(table: NDArray[np.int64]) -> tuple[float, float, int]:
    """Share on the diagonal, Cohen's kappa, and of how many runs: those solved by both."""
    solved = table[:-1, :-1]
    n = int(solved.sum())
    if n == 0:
        return nan, nan, 0
    same = float(np.trace(solved)) / n
    chance = float(np.sum(solved.sum(0) * solved.sum(1))) / n**2
    return same, (same - chance) / (1.0 - chance) if chance < 1.0 else nan, n


def inside(runs: Table) -> Table:
    """Runs that came into the pocket in the simulation, with the contest there as what was predicted."""
    if not length(runs):
        return runs
    kept = select(runs, (runs["predicted_inside"] >= 0) & (runs["simulated"] != int(Regime.STAYS_OUT)))
    return kept | {"predicted": kept["predicted_inside"]}


def share_within(thresholds: Table, column: str = "predicted", within: float = WITHIN) -> float:
    """Share of the thresholds whose value in `column` lies within a part of the simulated one; nan is outside."""
    if not length(thresholds):
        return nan
    off = np.abs(thresholds[column] / thresholds["simulated"] - 1.0)
    return float(np.mean(np.where(np.isfinite(off), off, inf) <= within))
