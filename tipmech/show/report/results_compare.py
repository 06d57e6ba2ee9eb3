"""Results of a comparison: planned and exploratory differences, trend, odds, sample size, replicates, cells."""

from math import isfinite
from typing import Any

from ...study.compare_tables import POOLED
from ...units import from_si
from ..compare import WORDS
from .folder import Finished, lines
from .inputs_of_kind import level_words
from .numbers import angle, interval, load, number, place, probability, signed
from .parts import NONE, Block, Text, grid

MOST_CELLS = 120  # rows of a table by arm, angle and design: beyond it the file has them all


def compare_results(study: Finished) -> list[Block]:
    """All tables of a comparison."""
    plan = study.spec["plan"]
    share = number(100.0 * (1.0 - plan["level"]))
    planned = (
        f"Planned before any insertion: {WORDS[plan['outcome']]}; margin {number(plan['margin'])} (of an area: times "
        f"the "
        f"reference's mean), level {number(plan['level'])} for the whole family of designs (Holm). Intervals are at "
        f"{share} %, single comparisons."
    )
    pooled = [r for r in lines(study.tables["comparisons"]) if r["arm"] == POOLED]
    single = [r for r in lines(study.tables["comparisons"]) if r["arm"] != POOLED and r["outcome"] == plan["outcome"]]
    out: list[Block] = [Text(planned)]
    out.append(_differences("Each design less the reference, over all arms and angles", pooled, False))
    out += _trends(study)
    out += _odds(study)
    out += _sizes(study)
    out += _replicates(study)
    if len(single) <= MOST_CELLS:
        out.append(_differences("The planned outcome in each arm and angle (exploratory)", single, True))
    else:
        out.append(Text(f"Differences by arm and angle ({len(single)} rows, exploratory) are in comparisons.csv."))
    return [*out, *_cells(study)]


def _differences(caption: str, rows: list[dict[str, Any]], by_arm: bool) -> Block:
    """Paired differences with intervals, bounds, counts, p and verdict."""
    told = []
    for r in rows:
        unit, word = (1e6, " mm²") if r["unit"] == "m2" else (1.0, "")
        ends = (r["difference_low"] * unit, r["difference_high"] * unit)
        alone = (r["only_design"], r["only_reference"])
        where = (f"{r['arm']}, {angle(r['angle'])}",) if by_arm else ()
        told.append(
            (
                f"{load(r['tip_load'])} less {load(r['reference_tip_load'])}",
                *where,
                WORDS[r["outcome"]],
                f"{number(r['mean'] * unit)} / {number(r['mean_reference'] * unit)}{word}",
                f"{signed(r['difference'] * unit)}{word}\n{interval(*ends, signed)}",
                interval(r["bound_low"] * unit, r["bound_high"] * unit, signed),
                f"{number(r['ratio'])}\n{interval(r['ratio_low'], r['ratio_high'])}",
                " / ".join(number(v) for v in alone) if isfinite(alone[0]) else NONE,
                f"{r['n']}, {r['left_out']} left out",
                f"{number(r['p_adjusted'], 2)}",
                f"{r['verdict']}" + ("" if r["family"] == "planned" else " (exploratory)"),
            )
        )
    head = (
        "designs",
        *(("arm, angle",) if by_arm else ()),
        "outcome",
        "design / reference",
        "difference, interval",
        "bounds for unsolved",
        "ratio, interval",
        "design / reference alone",
        "pairs",
        "p, Holm",
        "verdict",
    )
    return grid(caption, head, told, "comparisons.parquet")


def _trends(study: Finished) -> list[Block]:
    """Change per doubling of the tip load, over all arms and angles."""
    rows = []
    for r in lines(study.tables["trends"]):
        if r["arm"] != POOLED:
            continue
        unit, word = (1e6, " mm²") if r["outcome"] == "opened_area" else (1.0, "")
        ends = interval(r["per_doubling_low"] * unit, r["per_doubling_high"] * unit, signed)
        pairs = f"{r['n']}, {r['left_out']} left out"
        rows.append((WORDS[r["outcome"]], f"{signed(r['per_doubling'] * unit)}{word}", ends, number(r["p"], 2), pairs))
    head = ("outcome", "change per doubling of the tip load", "interval", "p", "points")
    return [grid("Trend over tip load, over all arms and angles", head, rows, "trends.parquet")]


def _odds(study: Finished) -> list[Block]:
    """Odds ratios of the logistic model, or why there are none."""
    if "interactions" not in study.tables:
        return [Text("No model of the odds: the planned outcome is an area, or the table interactions is not there.")]
    rows = [
        (
            r["term"],
            number(r["odds_ratio"]),
            interval(r["odds_ratio_low"], r["odds_ratio_high"]),
            number(r["p"], 2),
            r["fit"],
        )
        for r in lines(study.tables["interactions"])
    ]
    caption = "Odds ratios of the planned outcome: generalised estimating equations, clusters the scrambles"
    return [grid(caption, ("term", "odds ratio", "interval", "p", "fit"), rows, "interactions.parquet")]


def _sizes(study: Finished) -> list[Block]:
    """Points needed."""
    if "sizes" not in study.tables:
        return [Text("No sample sizes: the planned outcome is an area, or the table sizes is not there.")]
    rows = [
        (
            load(r["tip_load"]),
            number(r["risk_difference"]) + (" (seen)" if r["seen"] else ""),
            number(r["discordant"]),
            number(r["points"], 6),
            number(r["power_here"], 2),
        )
        for r in lines(study.tables["sizes"])
    ]
    power = number(study.spec["plan"]["power"])
    caption = f"Points for a power of {power}, by McNemar's test (Connor 1987, from memory)"
    head = ("tip load", "risk difference", "share of points that differ", "points needed", "power here")
    return [grid(caption, head, rows, "sizes.parquet")]


def _replicates(study: Finished) -> list[Block]:
    """Family of results over draws of the shared unknowns."""
    if "replicates" not in study.tables:
        return []
    area = study.spec["plan"]["outcome"] == "opened_area"
    rows = []
    for r in lines(study.tables["replicates"]):
        mean = from_si(r["mean"], "mm2") if area else r["mean"]
        rows.append((f"replicate {r['replicate']}", load(r["tip_load"]), number(mean), str(r["n"])))
    head = (
        "draw of the shared unknowns",
        "tip load",
        f"mean of the planned outcome{', mm²' if area else ''}",
        "solved",
    )
    return [grid("Family of results over the shared unknowns", head, rows, "replicates.parquet")]


def _cells(study: Finished) -> list[Block]:
    """Probability of each event in each arm, angle and design."""
    cells = lines(study.tables["cells"])
    if len(cells) > MOST_CELLS:
        return [Text(f"Estimates of the {len(cells)} cells are in cells.csv.")]
    factors = [name for name in study.tables["cells"] if name.startswith("f_")]
    rows = []
    for c in cells:
        levels = "; ".join(f"{f[2:].replace('_', ' ')} {level_words(f[2:], c[f])}" for f in factors)
        each = [
            f"{probability(c[f'p_{n}'])}\n{interval(c[f'p_{n}_low'], c[f'p_{n}_high'], probability)}"
            for n in ("entered", "curled", "extended")
        ]
        rows.append((f"arm {c['arm']}, {place(c)}", levels or NONE, f"{c['n_solved']}/{c['n']}", *each))
    head = ("cell", "levels of the factors", "solved / run", "enters", "curls", "extends the plane")
    caption = "Probabilities of each cell; 95 % interval (Wilson's of the effective number of insertions) below"
    return [grid(caption, head, rows, "cells.parquet")]
