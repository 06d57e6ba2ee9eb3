"""`tipmech compare` and `tipmech plan`: look ahead, run the hypothesis test with progress, draw it, print it."""

from functools import partial
from math import degrees, isfinite
from pathlib import Path
from textwrap import wrap
from typing import Any

import numpy as np
from typer import echo

from ..files.compare import read_compare
from ..show.compare import WORDS_OF_INSERTIONS, WORDS_OF_PROCEDURES, compare_figure, title_of
from ..show.style import save
from ..study.compare_spec import CONSTRUCTION, FEWEST_SCRAMBLES, TIP_LOAD, CompareSpec, by_words, design_words
from ..study.compare_tables import tables_of
from ..study.execute import Progress
from ..study.factors import Factor, factor_words, level_words
from ..study.pairs import POOLED
from ..study.plan import DIFFERENCES, DISCORDANT, Outlook, outlook
from ..study.run_attempts import CHUNK, evaluate
from ..study.run_compare import CompareResult, run_compare, unreached
from ..study.run_procedures import ProceduresSpec, run_procedures
from ..study.store import read_store
from ..study.table import Table, length, to_rows
from ..study.uncertainty import uncertainty_text
from .scheduler import workers_of
from .terminal import finish, print_json, print_table, progress

WORDS_WIDTH = 11  # characters of a column of words: the table then fits 80


def run(file: Path, out: Path, workers: int | None, *, as_json: bool, overwrite: bool, scheduler: str | None) -> None:
    """Comparison of a study file."""
    with progress("wires: tip-load bench", quiet=as_json):
        spec = read_compare(file)
    for line in [] if as_json else cautions(compared(spec)):
        echo(line)
    asked = workers or compared(spec).study.workers
    with workers_of(scheduler, asked) as found, progress("comparison", quiet=as_json) as report:

        def on_progress(state: Progress) -> None:
            report(state.done, state.total)

        if isinstance(spec, ProceduresSpec):
            result = run_procedures(spec, out, found, overwrite, on_progress)
        else:
            result = run_compare(spec, out, found, overwrite, on_progress)
    tables, store = tables_of(result), read_store(out)
    for name, table in tables.items():
        store.put_table(name, table)
    figure = compare_figure(result, tables, uncertainty_text(code=result.manifest["code"]))
    paths = [save(figure, out / "compare.png")]
    names = ("cells", "rows", *tables)
    paths += [*(out / f"{name}.{end}" for name in names for end in ("csv", "parquet")), out / "manifest.json"]
    if as_json:
        print_json({"manifest": result.manifest, **tables, "files": paths})
        return
    words = words_of(spec)
    shown = [
        _row(row, result.spec, words) for row in to_rows(tables["comparisons"]) if row["arm"] == POOLED
    ]  # the rest: tables
    print_table(_title(result, spec), _head(result.spec), shown, numbers=True)
    for line in said(result, tables):
        echo(line)
    finish(paths)


def run_plan(file: Path, workers: int | None, pilot: int, *, as_json: bool) -> None:
    """What a comparison would compute."""
    with progress("wires: tip-load bench", quiet=as_json):
        spec = read_compare(file)
    with progress("pilot", quiet=as_json):
        asked = workers or compared(spec).study.workers
        if isinstance(spec, ProceduresSpec):
            procedure = partial(evaluate, spec.of(spec.compare.study))
            ahead = outlook(spec.compare, pilot, asked, procedure, CHUNK)
        else:
            ahead = outlook(spec, pilot, asked)
    for line in [] if as_json else cautions(compared(spec)):
        echo(line)
    if as_json:
        print_json({"plan": vars(ahead) | {"wall_time_s": ahead.wall_time, "longest_s": ahead.longest}})
        return
    for line in plan_words(spec, ahead, pilot):
        echo(line)
    if not ahead.power:
        echo("power: none before any is made, for nothing is known of the area's spread; tables give it afterwards")
        return
    designs = len(compared(spec).study.tip_loads)
    head = ("true risk\ndifference", *(f"designs differ\nat {psi:.0%}" for psi in DISCORDANT))
    rows = [
        (f"{d:g}", *("-" if not isfinite(least) else f"{least:.0%} to {most:.0%}" for least, most in line))
        for d, line in zip(DIFFERENCES, ahead.power, strict=True)
    ]
    title = (
        f"power of the comparison of two designs, from {ahead.points} independent points (the arms and angles of a\n"
        f"point all go together) to {ahead.pairs} (each is as good as another point); two-sided at {ahead.level:.3g}\n"
        f"(Holm's first step over {designs - 1}), Student's t with {ahead.degrees} degrees of freedom"
    )
    print_table(title, head, rows, numbers=True)
    if compared(spec).replicates:
        echo("what the draws of the shared unknowns add to the error is not known before, and not in these powers")


def compared(spec: CompareSpec | ProceduresSpec) -> CompareSpec:
    """The comparison, whatever a row of it is."""
    return spec.compare if isinstance(spec, ProceduresSpec) else spec


def cautions(spec: CompareSpec) -> list[str]:
    """What the stated sample size or draws cannot give, one line each."""
    lines, made = [], spec.study.scrambles
    if made < FEWEST_SCRAMBLES:
        told = f"scrambles: {made}: intervals rest on few scrambles; {FEWEST_SCRAMBLES} or more are advised"
        lines.append(told)
    if spec.replicates == 1:
        lines.append("replicates: 1: one draw says nothing of how draws differ; pooled comparisons stay undecided")
    return lines


def words_of(spec: CompareSpec | ProceduresSpec) -> dict[str, str]:
    """Words of the outcomes."""
    return WORDS_OF_PROCEDURES if isinstance(spec, ProceduresSpec) else WORDS_OF_INSERTIONS


def runs_of(spec: CompareSpec | ProceduresSpec) -> str:
    """What is run: a row of the study."""
    return "procedures" if isinstance(spec, ProceduresSpec) else "insertions"


def plan_words(asked: CompareSpec | ProceduresSpec, ahead: Outlook, pilot: int) -> list[str]:
    """The plan in lines."""
    spec, runs = compared(asked), runs_of(asked)
    one = "a procedure" if isinstance(asked, ProceduresSpec) else "an insertion"
    study, plan = spec.study, spec.plan
    angles = ", ".join(f"{degrees(a):.0f}" for a in study.angles)
    lines = [
        f"{spec.name}: {words_of(asked)[plan.outcome]}; each design beside {design_words(spec, spec.reference)}",
        *([f"a procedure: {_policy_words(asked)}"] if isinstance(asked, ProceduresSpec) else []),
        f"planned: margin {plan.margin:g}; level {plan.level:g} for all designs together (Holm over "
        f"{len(spec.others)}); all else is exploratory",
        *_designs(spec),
        f"angles: {angles} degrees",
        *(f"factor {factor_words(f.name)}: {_levels(f)}" for f in spec.factors),
        *(f"distribution of {d.unknown}: {d.kind} ({d.source})" for d in spec.distributions),
        *(f"shared by a replicate: {s.name}, {s.kind} ({s.source})" for s in spec.shared_unknowns),
        f"{ahead.arms} arms, {ahead.cells} cells of {ahead.points} points ({study.scrambles} scrambles): "
        f"{ahead.insertions} {runs} in {ahead.chunks} chunks",
        f"{ahead.seconds:.2f} s {one} here (mean of {pilot}, slowest {ahead.slowest:.2f}): about "
        f"{_time(ahead.wall_time)} with {ahead.workers} workers",
    ]
    if plan.half_width is not None:
        lines.append(
            f"then scrambles are added until every half-width is {plan.half_width:g} or less: at most {ahead.most} "
            f"{runs}, {_time(ahead.longest)}"
        )
    return lines


def _policy_words(spec: ProceduresSpec) -> str:
    """How long a procedure goes on, in words."""
    policy, most = spec.policy, "any number of" if spec.policy.attempts is None else f"at most {spec.policy.attempts}"
    return f"{most} attempts, {policy.feed * 1e3:g} mm of feed in all, {len(policy.rules)} rules"


def _time(seconds: float) -> str:
    """A duration in words."""
    if seconds < 90.0:
        return f"{seconds:.0f} s"
    return f"{seconds / 60.0:.1f} min" if seconds < 5400.0 else f"{seconds / 3600.0:.1f} h"


def _levels(factor: Factor) -> str:
    """Levels of a factor in words."""
    return ", ".join(level_words(factor.name, level) for level in factor.levels)


def _designs(spec: CompareSpec) -> list[str]:
    """The designs in lines, and the wires that they are."""
    study = spec.study
    words = [design_words(spec, i) for i in range(len(study.tip_loads))]
    if spec.by == CONSTRUCTION:
        words = [f"{w} (softness factor {f:.3g})" for w, f in zip(words, study.factors, strict=True)]
        return [f"designs, each scaled to {level_words(TIP_LOAD, study.tip_loads[0])}: {'; '.join(words)}"]
    at = "" if spec.by == TIP_LOAD else f" at {level_words(TIP_LOAD, study.tip_loads[0])}"
    return [f"designs: {', '.join(words)} ({study.base.name}{at})"]


def _title(result: CompareResult, asked: CompareSpec | ProceduresSpec) -> str:
    spec, planned = result.spec, words_of(asked)[result.spec.plan.outcome]
    unsolved = int(result.cells["n_not_solved"].sum())
    return "\n".join(
        (
            f"{title_of(spec)}",
            f"each design beside {design_words(spec, spec.reference)}, over all arms",
            f"{int(result.cells['n'].sum())} {runs_of(asked)}, {unsolved} not solved",
            f"planned: {planned}; margin {spec.plan.margin:g}, level {spec.plan.level:g} (Holm)",
        )
    )


def _head(spec: CompareSpec) -> tuple[str, ...]:
    return (
        "design" if spec.by == CONSTRUCTION else _broken(by_words(spec)),
        "outcome",
        "design,\nreference",
        "difference",
        "ratio",
        "p,\nHolm",
        "verdict",
    )


def _row(row: dict[str, Any], spec: CompareSpec, words: dict[str, str]) -> tuple[str, ...]:
    unit = 1e6 if row["unit"] == "m2" else 1.0
    return (
        _broken(level_words(spec.by, (spec.levels or spec.study.tip_loads)[row["tip_load_index"]])),
        _broken(words[row["outcome"]]),
        f"{unit * row['mean']:.3g}\n{unit * row['mean_reference']:.3g}",
        _interval(row, "difference", unit, "+.3f"),
        _interval(row, "ratio", 1.0, ".2f"),
        f"{row['p_adjusted']:.2g}" if isfinite(row["p_adjusted"]) else "-",
        _broken(row["verdict"]) + ("" if row["family"] == "planned" else "\nexploratory"),
    )


def _broken(words: str) -> str:
    """Words in lines so short that the table fits 80 columns."""
    return "\n".join(wrap(words, WORDS_WIDTH))


def _interval(row: dict[str, Any], name: str, unit: float, form: str) -> str:
    value, low, high = (unit * row[f"{name}{end}"] for end in ("", "_low", "_high"))
    if not isfinite(value):
        return "-"
    inside = f"{low:{form}} to\n{high:{form}}" if isfinite(low) else "no\ninterval"
    return f"{value:{form}}\n{inside}"


def said(result: CompareResult, tables: dict[str, Table]) -> list[str]:
    """Trend, odds and sample size in lines."""
    outcome, lines = result.spec.plan.outcome, []
    for row in to_rows(tables.get("trends", {})):
        if row["arm"] == POOLED and row["outcome"] == outcome:
            unit, word = (1e6, " mm²") if outcome == "opened_area" else (1.0, "")
            value, low, high = (unit * row[f"per_doubling{end}"] for end in ("", "_low", "_high"))
            inside = f"{low:+.4f} to {high:+.4f}" if isfinite(low) else "no interval"
            lines.append(f"trend: {value:+.4f}{word} per doubling of the {row['along']} ({inside}), p {row['p']:.2g}")
    for row in to_rows(tables.get("interactions", {})):
        if row["fit"] != "fitted":
            lines.append(f"odds, {row['term']}: {row['fit']}")
            continue
        lines.append(
            f"odds ratio, {row['term']}: {row['odds_ratio']:.2f} ({row['odds_ratio_low']:.2f} to "
            f"{row['odds_ratio_high']:.2f}), p {row['p']:.2g}"
        )
    for row in to_rows(tables.get("sizes", {})):
        if row["seen"] and isfinite(row["pairs"]):
            seen = f"{row['risk_difference']:.3g}" if "risk_difference" in row else f"{1e6 * row['difference']:.3g} mm²"
            points = f"{row['points']:.0f}" if isfinite(row["points"]) else "no number of"
            lines.append(
                f"{row['design_words']}: for the difference seen ({seen}) {points} points in each arm and angle give a "
                f"power of {result.spec.plan.power:.0%} at Holm's first step (design effect of the pairs "
                f"{row['design_effect']:.2g})"
            )
    return lines + not_reached(result)


def not_reached(result: CompareResult) -> list[str]:
    """How many cells' intervals are wider than wanted, in a line; none where all are as wanted."""
    cells, plan = unreached(result.cells), result.spec.plan
    if not cells:
        return []
    widest = np.max(result.cells["half_width"])
    told = f"up to {widest:.3f}" if np.isfinite(widest) else "somewhere none at all"
    return [
        f"half-width {plan.half_width:g} not reached in {cells} of {length(result.cells)} cells with "
        f"{plan.most_scrambles} scrambles ({told}): cells.csv, half_width_reached"
    ]
