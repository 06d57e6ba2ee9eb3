"""`tipmech sensitivity`: run a sensitivity study with progress, draw its figure, print its indices."""

from math import isfinite
from pathlib import Path
from typing import Any

from typer import echo

from ..files.sensitivity import check_sensitivity, read_sensitivity
from ..show.sensitivity import design_words, outcome_words, range_words, sensitivity_figure, sorted_inputs
from ..show.style import save
from ..study.execute import Progress
from ..study.run_sensitivity import SensitivityResult, run_sensitivity
from ..study.sensitivity import OUTCOMES
from ..study.table import select
from ..study.uncertainty import uncertainty_text
from ..units import from_si, label
from .scheduler import workers_of
from .terminal import finish, print_json, print_table, progress

TABLES = ("indices", "morris", "rows")


def run(file: Path, out: Path, workers: int | None, *, as_json: bool, overwrite: bool, scheduler: str | None) -> None:
    """Sensitivity study of a file."""
    outcomes = check_sensitivity(file).sensitivity.outcomes
    with progress("wires: tip-load bench", quiet=as_json):
        spec = read_sensitivity(file)
    asked = workers or spec.study.workers
    with workers_of(scheduler, asked) as found, progress("insertions", quiet=as_json) as report:

        def on_progress(state: Progress) -> None:
            report(state.done, state.total)

        result = run_sensitivity(spec, outcomes, out, found, overwrite, on_progress)
    paths = [save(sensitivity_figure(result, uncertainty_text()), out / "sensitivity.png")]
    paths += [*(out / f"{name}.{end}" for name in TABLES for end in ("csv", "parquet")), out / "manifest.json"]
    if as_json:
        tables = {"indices": result.indices, "morris": result.morris}
        print_json({"manifest": result.manifest, **tables, "files": paths})
        return
    echo(f"{spec.name}: {spec.study.base.name}")
    for line in [*design_words(result), range_words(spec)]:
        echo(line)
    for outcome in outcomes:
        print_outcome(result, outcome)
    finish(paths)


def print_outcome(result: SensitivityResult, outcome: str) -> None:
    """Indices and Morris' measures of one outcome, the largest total first."""
    indices, morris = (select(t, t["outcome"] == outcome) for t in (result.indices, result.morris))
    about = OUTCOMES[outcome]
    unit = from_si(1.0, about.shown) if about.shown else 1.0
    holes = bool(indices["n_not_solved"][0] or morris["n_not_solved"][0])
    rows = []
    for k in sorted_inputs(indices, morris):
        cells = [_cell(indices, k, name, 1.0, holes) for name in ("total", "first")]
        cells += [_cell(morris, k, name, unit, holes) for name in ("mu_star", "sigma")]
        rows.append((str(indices["input_words"][k]), *cells))
    shown = f",\n{label(about.shown)}" if about.shown else ""
    head = ("input", "total\nindex", "first\norder", f"mu*{shown}", f"sigma{shown}")
    title = f"{outcome_words(indices, outcome)}\n(below each: its 95 % interval)"
    if holes:
        title += "\nbelow that: all that were not solved set\nto the least / to the largest value"
    print_table(title, head, rows, numbers=True)


def _cell(table: dict[str, Any], k: int, name: str, unit: float, holes: bool) -> str:
    """A measure, its interval below; below that, where insertions were not solved, its two other estimates."""
    ends = ("", "_low", "_high", "_unsolved_least", "_unsolved_most")
    value, low, high, least, most = (unit * float(table[f"{name}{end}"][k]) for end in ends)
    text = f"{_short(value)}\n{_short(low)}–{_short(high)}" if isfinite(value) else "-\n"
    return f"{text}\n{_short(least)}/{_short(most)}" if holes else text


def _short(value: float) -> str:
    """Two decimals below 10, else whole: columns stay narrow."""
    if not isfinite(value):
        return "-"
    return f"{value:.2f}".replace("-0.00", "0.00") if abs(value) < 10.0 else f"{value:.0f}"
