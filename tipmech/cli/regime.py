"""`tipmech regime`: simulated runs in the regime diagram of the reduced model, and how they agree."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from typer import echo

from ..checks import InputError
from ..insertion.case import Case
from ..regime.contest import WORDS, Regime, verdict, words
from ..show.regime import counts, facts, fold_figure, regime_figure
from ..show.style import save
from ..study.evaluate import evaluate
from ..study.overlay import (
    Job,
    Overlay,
    agreement,
    inside,
    job_of,
    jobs_of_study,
    numbers_of_case,
    outside_model,
    overlay,
    share_within,
)
from ..study.table import Table, length, write_csv
from .terminal import finish, guard, print_json, print_table, progress, write_json

DIAGRAM, THRESHOLDS, FACTS = "regime.png", "regime_thresholds.png", "regime.json"
RUNS, CASES = "runs.csv", "thresholds.csv"
WORKERS = 2
SHORT = {
    Regime.STAYS_OUT: "stays out",
    Regime.DRIVES_ON: "drives on",
    Regime.CURLS: "curls",
    Regime.BOWS: "bows aside",
    Regime.NOT_SOLVED: "not solved",
}


def run(
    studies: Sequence[Path], cases: Sequence[tuple[str, Case]], folder: Path, workers: int | None, *, as_json: bool,
    overwrite: bool,
) -> None:  # fmt: skip
    """Overlay studies and single cases and write everything into `folder`."""
    guard(folder, (DIAGRAM, THRESHOLDS, RUNS, CASES, FACTS), overwrite)
    jobs: list[Job] = [job for study in studies for job in jobs_of_study(study)]
    outside = {name: why for name, case in cases if (why := outside_model(case.scene))}
    covered = [(name, case) for name, case in cases if name not in outside]
    with progress("insertions", quiet=as_json) as report:
        for k, (name, case) in enumerate(covered):
            jobs.append(job_of(case, evaluate(case), name))
            report(k + 1, len(covered))
    if not jobs:
        why = (
            "; ".join(f"{name}: {reason}" for name, reason in outside.items()) or "there are no runs in what was given"
        )
        raise InputError(f"{why}; allowed: studies with rows, case files and records of a tear without a plug")
    with progress("reduced model", quiet=as_json) as report:
        result = overlay(jobs, workers or WORKERS, report)
    for name in (THRESHOLDS, CASES, FACTS):
        (folder / name).unlink(missing_ok=True)
    paths = _write(result, folder)
    data = facts_of(result) | {"outside_the_model": outside}
    paths.append(write_json(data, folder / FACTS))
    if as_json:
        print_json({**data, "files": paths})
        return
    _print(result, jobs, len(covered))
    for name, why in outside.items():
        echo(f"{name}: outside the reduced model: {why}")
    finish(paths)


def facts_of(result: Overlay) -> dict[str, Any]:
    """Agreement as plain data."""
    out: dict[str, Any] = {"regimes": [r.name.lower() for r in Regime], "text": facts(result)}
    for name, table in (("all", result.runs), ("in_pocket", inside(result.runs))):
        if length(table):
            table_of = counts(table)
            same, kappa, n = agreement(table_of)
            out[name] = {"simulated_by_predicted": table_of, "agreement": same, "kappa": kappa, "n": n}
    if length(result.thresholds):
        t = result.thresholds
        out["thresholds"] = {"n": length(t), "within_20_percent": share_within(t)}
        out["thresholds"]["scale_within_20_percent"] = share_within(t, "scale")
    return out


def _write(result: Overlay, folder: Path) -> list[Path]:
    """Pictures and tables (SI)."""
    paths = [save(regime_figure(result), folder / DIAGRAM)]
    write_csv(result.runs, folder / RUNS)
    paths.append(folder / RUNS)
    if length(result.thresholds):
        paths.append(save(fold_figure(result), folder / THRESHOLDS))
        write_csv(result.thresholds, folder / CASES)
        paths.append(folder / CASES)
    return paths


def _print(result: Overlay, jobs: Sequence[Job], singles: int) -> None:
    """Tables of agreement, and a sentence for each single case."""
    for title, table in (
        ("simulated (rows) against predicted (columns): lip and pocket", result.runs),
        ("the same in the pocket, of runs that came in", inside(result.runs)),
    ):
        if length(table):
            print_table(title, ("simulated", *SHORT.values()), _confusion_rows(table))
    rows = [(line,) for line in facts(result)]
    first = length(result.runs) - singles
    for job, k in zip(jobs[len(jobs) - singles :], range(first, length(result.runs)), strict=True):
        simulated = WORDS[Regime(int(result.runs["simulated"][k]))]
        predicted = _sentence(job)
        rows.append((f"{job.name}: simulated: {simulated}; reduced model: {predicted}",))
    print_table("", ("agreement",), rows)


def _sentence(job: Job) -> str:
    """What the reduced model says of a single case."""
    return words(verdict(numbers_of_case(job.case), in_pocket=job.case.scene.start == "pocket"))


def _confusion_rows(table: Table) -> list[tuple[str, ...]]:
    """Rows of the confusion that are not empty."""
    grid = counts(table)
    return [(SHORT[r], *(str(int(v)) for v in grid[int(r)])) for r in Regime if grid[int(r)].any()]
