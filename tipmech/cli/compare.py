"""`tipmech compare` and `tipmech plan`: look ahead, run the hypothesis test with progress, draw it, print it."""

from math import degrees, isfinite
from pathlib import Path
from typing import Any

from typer import echo

from ..files.compare import read_compare
from ..show.compare import WORDS, compare_figure
from ..show.style import save
from ..study.compare_tables import POOLED, tables_of
from ..study.execute import Progress
from ..study.plan import DIFFERENCES, DISCORDANT, Outlook, outlook
from ..study.run_compare import CompareResult, CompareSpec, run_compare
from ..study.store import read_store
from ..study.table import Table
from ..study.uncertainty import uncertainty_text
from ..units import from_si
from .scheduler import workers_of
from .terminal import finish, print_json, print_table, progress


def run(file: Path, out: Path, workers: int | None, *, as_json: bool, overwrite: bool, scheduler: str | None) -> None:
    """Comparison of a study file."""
    with progress("wires: tip-load bench", quiet=as_json):
        spec = read_compare(file)
    asked = workers or spec.study.workers
    with workers_of(scheduler, asked) as found, progress("comparison", quiet=as_json) as report:

        def on_progress(state: Progress) -> None:
            report(state.done, state.total)

        result = run_compare(spec, out, found, overwrite, on_progress)
    tables, store = tables_of(result), read_store(out)
    for name, table in tables.items():
        store.put_table(name, table)
    paths = [save(compare_figure(result, tables, uncertainty_text(code=result.manifest["code"])), out / "compare.png")]
    names = ("cells", "rows", *tables)
    paths += [*(out / f"{name}.{end}" for name in names for end in ("csv", "parquet")), out / "manifest.json"]
    if as_json:
        print_json({"manifest": result.manifest, **tables, "files": paths})
        return
    shown = [_row(row) for row in _lines(tables["comparisons"]) if row["arm"] == POOLED]  # the rest is in the tables
    print_table(_title(result), _head(), shown, numbers=True)
    for line in said(result, tables):
        echo(line)
    finish(paths)


def run_plan(file: Path, workers: int | None, pilot: int, *, as_json: bool) -> None:
    """What a comparison would compute."""
    with progress("wires: tip-load bench", quiet=as_json):
        spec = read_compare(file)
    with progress("pilot", quiet=as_json):
        ahead = outlook(spec, pilot, workers or spec.study.workers)
    if as_json:
        print_json({"plan": vars(ahead) | {"wall_time_s": ahead.wall_time, "longest_s": ahead.longest}})
        return
    for line in plan_words(spec, ahead, pilot):
        echo(line)
    head = ("true risk\ndifference", *(f"designs differ\nat {psi:.0%}" for psi in DISCORDANT))
    rows = [
        (f"{d:g}", *("-" if not isfinite(p) else f"{p:.0%}" for p in line))
        for d, line in zip(DIFFERENCES, ahead.power, strict=True)
    ]
    title = (
        f"power of the comparison of two designs over {ahead.pairs} points\n(two-sided at {spec.plan.level:g} over "
        f"{len(spec.study.tip_loads) - 1} designs, points taken as independent)"
    )
    print_table(title, head, rows, numbers=True)


def plan_words(spec: CompareSpec, ahead: Outlook, pilot: int) -> list[str]:
    """The plan in lines."""
    study, plan = spec.study, spec.plan
    loads = ", ".join(f"{from_si(v, 'gf'):.3g}" for v in study.tip_loads)
    angles = ", ".join(f"{degrees(a):.0f}" for a in study.angles)
    lines = [
        f"{spec.name}: {WORDS[plan.outcome]}; each design beside {_reference(spec)}",
        f"designs: {loads} gf ({study.base.name}); angles: {angles} degrees",
        *(f"factor {f.name}: {', '.join(str(level) for level in f.levels)} (SI)" for f in spec.factors),
        *(f"distribution of {d.unknown}: {d.kind} ({d.source})" for d in spec.distributions),
        *(f"shared by a replicate: {s.name}, {s.kind} ({s.source})" for s in spec.shared_unknowns),
        f"{ahead.arms} arms, {ahead.cells} cells of {ahead.points} points ({study.scrambles} scrambles): "
        f"{ahead.insertions} insertions in {ahead.chunks} chunks",
        f"{ahead.seconds:.2f} s an insertion here (mean of {pilot}, slowest {ahead.slowest:.2f}): about "
        f"{_time(ahead.wall_time)} with {ahead.workers} workers",
    ]
    if plan.half_width is not None:
        lines.append(
            f"then scrambles are added until every half-width is {plan.half_width:g} or less: at most {ahead.most} "
            f"insertions, {_time(ahead.longest)}"
        )
    return lines


def _time(seconds: float) -> str:
    """A duration in words."""
    if seconds < 90.0:
        return f"{seconds:.0f} s"
    return f"{seconds / 60.0:.1f} min" if seconds < 5400.0 else f"{seconds / 3600.0:.1f} h"


def _reference(spec: CompareSpec) -> str:
    """Tip load of the reference in words."""
    return f"{from_si(spec.study.tip_loads[spec.reference], 'gf'):.3g} gf"


def _lines(table: Table) -> list[dict[str, Any]]:
    names = list(table)
    return [dict(zip(names, values, strict=True)) for values in zip(*(table[n].tolist() for n in names), strict=True)]


def _title(result: CompareResult) -> str:
    spec = result.spec
    unsolved = int(result.cells["n_not_solved"].sum())
    return "\n".join(
        (
            f"{spec.name}: each design beside {_reference(spec)}, over all arms",
            f"wire: {spec.study.base.name}; {int(result.cells['n'].sum())} insertions, {unsolved} not solved",
            f"planned: {WORDS[spec.plan.outcome]}; margin {spec.plan.margin:g}, level {spec.plan.level:g} (Holm)",
        )
    )


def _head() -> tuple[str, ...]:
    return ("tip\nload,\ngf", "outcome", "design,\nreference", "difference", "ratio", "p, Holm", "verdict")


def _row(row: dict[str, Any]) -> tuple[str, ...]:
    unit = 1e6 if row["unit"] == "m2" else 1.0
    return (
        f"{from_si(row['tip_load'], 'gf'):.3g}",
        WORDS[row["outcome"]].replace(" ", "\n", 1),
        f"{unit * row['mean']:.3g}\n{unit * row['mean_reference']:.3g}",
        _interval(row, "difference", unit, "+.3f"),
        _interval(row, "ratio", 1.0, ".2f"),
        f"{row['p_adjusted']:.2g}" if isfinite(row["p_adjusted"]) else "-",
        row["verdict"].replace(", ", ",\n") + ("" if row["family"] == "planned" else "\n(exploratory)"),
    )


def _interval(row: dict[str, Any], name: str, unit: float, form: str) -> str:
    value, low, high = (unit * row[f"{name}{end}"] for end in ("", "_low", "_high"))
    if not isfinite(value):
        return "-"
    inside = f"{low:{form}} to {high:{form}}" if isfinite(low) else "no interval"
    return f"{value:{form}}\n{inside}"


def said(result: CompareResult, tables: dict[str, Table]) -> list[str]:
    """Trend, odds and sample size in lines."""
    outcome, lines = result.spec.plan.outcome, []
    for row in _lines(tables["trends"]):
        if row["arm"] == POOLED and row["outcome"] == outcome:
            unit, word = (1e6, " mm²") if outcome == "opened_area" else (1.0, "")
            lines.append(
                f"trend: {unit * row['per_doubling']:+.4f}{word} per doubling of the tip load "
                f"({unit * row['per_doubling_low']:+.4f} to {unit * row['per_doubling_high']:+.4f}), p {row['p']:.2g}"
            )
    for row in _lines(tables.get("interactions", {})) if "interactions" in tables else []:
        if row["fit"] != "fitted":
            lines.append(f"odds, {row['term']}: {row['fit']}")
            continue
        lines.append(
            f"odds ratio, {row['term']}: {row['odds_ratio']:.2f} ({row['odds_ratio_low']:.2f} to "
            f"{row['odds_ratio_high']:.2f}), p {row['p']:.2g}"
        )
    for row in _lines(tables["sizes"]) if "sizes" in tables else []:
        if row["seen"]:
            lines.append(
                f"{from_si(row['tip_load'], 'gf'):.3g} gf: for the difference seen ({row['risk_difference']:.3g}) "
                f"{row['points']:.0f} points give a power of {result.spec.plan.power:.0%} in a single comparison"
            )
    return lines
