"""`tipmech curl`: run the insertions and read their screens with progress, draw the figure, print what a curl tells."""

from math import isfinite
from pathlib import Path
from typing import Any

from typer import echo

from ..files.curl import check_curl, read_curl
from ..show.curl import curl_figure
from ..show.style import save
from ..study import events
from ..study.curl_tables import ANALYSES, CONDITIONS, POOLED, tables_of
from ..study.execute import Progress
from ..study.run_curl import CurlResult, run_curl
from ..study.store import read_store
from ..study.table import Table, length, select, to_rows
from ..study.uncertainty import uncertainty_text
from ..units import from_si
from .scheduler import workers_of
from .terminal import finish, print_json, print_table, progress

SHOWN = (("likelihood_positive", "LR+"), ("likelihood_negative", "LR-"), ("odds_ratio", "odds ratio"), ("area", "area"))


def run(file: Path, out: Path, workers: int | None, *, as_json: bool, overwrite: bool, scheduler: str | None) -> None:
    """Study of a file."""
    asked = check_curl(file).curl.asked()
    with progress("wires: tip-load bench", quiet=as_json):
        spec = read_curl(file)
    processes = workers or spec.study.workers
    with workers_of(scheduler, processes) as found, progress("insertions", quiet=as_json) as report:

        def on_progress(state: Progress) -> None:
            report(state.done, state.total)

        result = run_curl(spec, out, found, overwrite, on_progress)
    tables, store = tables_of(result, asked), read_store(out)
    for name, table in tables.items():
        store.put_table(name, table)
    paths = [save(curl_figure(result, tables, uncertainty_text()), out / "curl.png")]
    names = (*tables, "looks", "rows")
    paths += [*(out / f"{name}.{end}" for name in names for end in ("csv", "parquet")), out / "manifest.json"]
    if as_json:
        print_json({"manifest": result.manifest, **tables, "files": paths})
        return
    for condition in CONDITIONS:
        print_table(_title(result, condition), _head(), _rows(tables["tells"], condition), numbers=True)
    for line in reasons(tables["tells"]):
        echo(line)
    finish(paths)


def _title(result: CurlResult, condition: str) -> str:
    unsolved = int((~events.solved(result.rows)).sum())
    words = {
        CONDITIONS[0]: "condition: the wire's end lies in the false lumen at the look",
        CONDITIONS[1]: "condition: wire had entered the false lumen up to the look",
    }
    return "\n".join(
        (
            f"{result.spec.name}: a curl seen against where the wire is, all angles",
            f"wire: {result.spec.study.base.name}; {length(result.rows)} insertions, {unsolved} not solved",
            words[condition],
            "one look an insertion: first with a curl, else last; below it: all looks",
        )
    )


def _head() -> tuple[str, ...]:
    return ("tip\nload,\ngf", "TP FN\nFP TN", "sensitivity", "specificity", "LR+", "LR-", "ROC area")


def _rows(table: Table, condition: str) -> list[tuple[str, ...]]:
    out = []
    shown = select(table, (table["angle_index"] == POOLED) & (table["condition"] == condition)) if table else table
    for row in sorted(to_rows(shown), key=lambda row: (row["tip_load"], ANALYSES.index(row["analysis"]))):
        load = f"{from_si(row['tip_load'], 'gf'):.3g}" if row["analysis"] == ANALYSES[0] else "looks"
        counts = f"{row['tp']} {row['fn']}\n{row['fp']} {row['tn']}"
        shares = (_cell(row, name, ".0%") for name in ("sensitivity", "specificity"))
        ratios = (_cell(row, name, ".2f") for name in ("likelihood_positive", "likelihood_negative", "area"))
        out.append((load, counts, *shares, *ratios))
    return out


def _cell(row: dict[str, Any], name: str, form: str) -> str:
    """An estimate, its interval below; "-" where it is not a number (the reason is printed under the table)."""
    value, low, high = (float(row[f"{name}{end}"]) for end in ("", "_low", "_high"))
    if not isfinite(value):
        return "-"
    inside = f"{low:{form}}-{high:{form}}" if isfinite(low) else "no interval"
    return f"{value:{form}}\n{inside}"


def reasons(table: Table) -> list[str]:
    """Lines about what is not a number, prevalence, and what stands behind the counts, of the primary analysis."""
    out: list[str] = []
    if not length(table):
        return ["no insertion was solved: nothing to estimate"]
    primary = (table["analysis"] == ANALYSES[0]) & (table["condition"] == CONDITIONS[0])
    for row in to_rows(select(table, primary & (table["angle_index"] == POOLED))):
        load = f"{from_si(row['tip_load'], 'gf'):.3g} gf"
        out.append(
            f"{load}: in the false lumen {row['prevalence']:.0%} of {row['n']}; of {row['fp']} curls seen in the true "
            f"lumen {row['fp_truly_curled']} true; negatives with the tip foreshortened in every view "
            f"{row['fn_foreshortened']} of {row['fn']} and {row['tn_foreshortened']} of {row['tn']}"
        )
        out += [f"{load}: {word}: {row[f'{name}_reason']}" for name, word in SHOWN if row[f"{name}_reason"]]
    return out
