"""What a comparison says: every design beside the reference, the trend over them, what changes it, how many points.

All intervals are at 1 - level of the plan; the family over which p values are adjusted is stated with each table.
"""

from typing import Any

import numpy as np

from .compare_spec import CompareSpec, by_words, design_words
from .hypothesis import (
    Comparison,
    compare,
    holm,
    pairs_needed,
    points_needed,
    power_of,
    power_of_mean,
    trend,
    verdict,
)
from .intervals import Array
from .odds import interaction_table
from .outcomes import Measure, measures, of_procedures, outcome_of, solved
from .run_compare import CompareResult
from .table import Table, from_rows, length, select

DIFFERENCES = (0.02, 0.05, 0.1, 0.2)  # risk differences for which the points needed are told
RELATIVE = (0.1, 0.2, 0.5)  # differences of a mean area, over the reference's, for which the points needed are told
POOLED = -1  # index of an angle, or of an arm, that stands for all of them


def comparison_table(result: CompareResult) -> Table:
    """Each design beside the reference: in every arm and angle, and over all of them (index -1).

    Holm's adjustment is over the designs of the pooled comparison of the planned outcome (the family of the test), and
    over all others of one outcome together (exploratory); the column `family` says which.
    """
    spec, out = result.spec, []
    for measure in measures(result.rows):
        planned = measure == spec.plan.outcome
        pooled = [_compared(spec, result.rows, measure, i, POOLED, POOLED) for i in spec.others]
        single = [
            _compared(spec, result.rows, measure, i, arm.index, j)
            for arm in result.arms
            for j in range(len(spec.study.angles))
            for i in spec.others
        ]
        for group, family in ((pooled, "planned" if planned else "exploratory"), (single, "exploratory")):
            made = [row for row in group if row is not None]
            for (row, c), p in zip(made, holm([c.difference.p for _, c in made]), strict=True):
                margin = spec.plan.margin if measure != "opened_area" else spec.plan.margin * row["mean_reference"]
                said = verdict(c, p, spec.plan.level, margin)
                out.append(row | {"p_adjusted": p, "family": family, "margin": margin, "verdict": str(said)})
    return from_rows(out)


def _place(rows: Table, arm: int, angle: int) -> Table:
    """Rows of an arm and angle (-1: of all)."""
    here = np.ones(length(rows), dtype=bool)
    if arm != POOLED:
        here &= rows["arm"] == arm
    if angle != POOLED:
        here &= rows["angle_index"] == angle
    return select(rows, here)


def _compared(
    spec: CompareSpec, rows: Table, measure: Measure, load: int, arm: int, angle: int
) -> tuple[dict[str, Any], Comparison] | None:
    """One design beside the reference; None where it was not run."""
    here = _place(rows, arm, angle)
    mine, other = (select(here, here["tip_load_index"] == i) for i in (load, spec.reference))
    if not length(mine):
        return None
    value, reference = outcome_of(mine, measure), outcome_of(other, measure)
    ok, ok_other = solved(mine), solved(other)
    event = measure != "opened_area"
    largest = float(np.max(np.concatenate([value, reference])))
    c = compare(value, reference, ok, ok_other, mine["scramble"], level=spec.plan.level, event=event, largest=largest)
    both = ok & ok_other
    loads, d = spec.study.tip_loads, c.difference
    means = [float(np.mean(v[both])) if np.any(both) else np.nan for v in (value, reference)]
    row: dict[str, Any] = {
        "outcome": measure,
        "unit": "-" if event else "m2",
        "arm": arm,
        "angle_index": angle,
        "angle": spec.study.angles[angle] if angle != POOLED else np.nan,
        "tip_load_index": load,
        "design_words": design_words(spec, load),
        "reference_words": design_words(spec, spec.reference),
        "tip_load": loads[load],
        "reference_tip_load": loads[spec.reference],
        "mean": means[0],
        "mean_reference": means[1],
        "difference": d.value,
        "difference_low": d.low,
        "difference_high": d.high,
        "p": d.p,
        "ratio": c.ratio.value,
        "ratio_low": c.ratio.low,
        "ratio_high": c.ratio.high,
        "only_design": c.more,
        "only_reference": c.fewer,
        "p_mcnemar": c.p_pairs,
        "bound_low": c.low_bound,
        "bound_high": c.high_bound,
        "n": d.n,
        "left_out": c.left_out,
    }
    return row, c


def trend_table(result: CompareResult) -> Table:
    """Change of each outcome per doubling of what tells the designs apart, by arm and angle and over all (index -1).

    None where the designs have no scale.
    """
    spec, out = result.spec, []
    scale = spec.scale
    if scale is None:
        return from_rows([])
    for measure in measures(result.rows):
        for arm, angle in _places(result):
            values, ok, scramble = _grid(spec, _place(result.rows, arm, angle), measure)
            if not len(values):
                continue
            t = trend(values, ok, scale, scramble, 1.0 - spec.plan.level)
            out.append(
                {
                    "outcome": measure,
                    "arm": arm,
                    "angle_index": angle,
                    "angle": spec.study.angles[angle] if angle != POOLED else np.nan,
                    "along": by_words(spec),
                    "per_doubling": t.value,
                    "per_doubling_low": t.low,
                    "per_doubling_high": t.high,
                    "p": t.p,
                    "n": t.n,
                    "left_out": len(values) - t.n,
                }
            )
    return from_rows(out)


def _places(result: CompareResult) -> list[tuple[int, int]]:
    """All together, then every arm and angle."""
    return [(POOLED, POOLED)] + [(arm.index, j) for arm in result.arms for j in range(len(result.spec.study.angles))]


def _grid(spec: CompareSpec, rows: Table, measure: Measure) -> tuple[Array, Any, Any]:
    """Values and which were solved, shape (points, designs), and the scramble of each point."""
    cells = [select(rows, rows["tip_load_index"] == i) for i in range(len(spec.study.tip_loads))]
    values = np.stack([outcome_of(c, measure) for c in cells], axis=1)
    return values, np.stack([solved(c) for c in cells], axis=1), cells[0]["scramble"]


def size_table(result: CompareResult) -> Table:
    """Points needed for differences of the planned outcome of each design, from how its points differ here.

    None for the area opened by an insertion: most open nothing, so that its few large values decide the spread.
    """
    spec, out = result.spec, []
    area = spec.plan.outcome == "opened_area"
    if area and not of_procedures(result.rows):
        return from_rows([])
    for i in spec.others:
        made = _compared(spec, result.rows, spec.plan.outcome, i, POOLED, POOLED)
        if made is not None and made[1].difference.n > 0:
            out += _sizes_of_mean(spec, *made) if area else _sizes_of_event(spec, *made)
    return from_rows(out)


def _sizes_of_event(spec: CompareSpec, row: dict[str, Any], c: Comparison) -> list[dict[str, Any]]:
    """Points needed for risk differences, from the share of points that differ."""
    discordant = (c.more + c.fewer) / c.difference.n
    return [
        {
            "design_words": row["design_words"],
            "tip_load": row["tip_load"],
            "discordant": discordant,
            "risk_difference": d,
            "points": pairs_needed(d, discordant, spec.plan.level, spec.plan.power),
            "power_here": power_of(d, discordant, spec.plan.level, c.difference.n),
            "seen": int(d not in DIFFERENCES),
        }
        for d in dict.fromkeys([*DIFFERENCES, abs(c.difference.value)])
        if d != 0.0
    ]


def _sizes_of_mean(spec: CompareSpec, row: dict[str, Any], c: Comparison) -> list[dict[str, Any]]:
    """Points needed for differences of a mean, from the standard deviation of the differences between points."""
    seen = abs(c.difference.value)
    wanted = [(share * row["mean_reference"], 0) for share in RELATIVE] + [(seen, 1)]
    return [
        {
            "design_words": row["design_words"],
            "tip_load": row["tip_load"],
            "unit": row["unit"],
            "spread": c.spread,
            "difference": d,
            "points": points_needed(d, c.spread, spec.plan.level, spec.plan.power),
            "power_here": power_of_mean(d, c.spread, spec.plan.level, c.difference.n),
            "seen": here,
        }
        for d, here in wanted
        if d > 0.0
    ]


def replicate_table(result: CompareResult) -> Table:
    """Family of curves: the planned outcome of every design in each replicate of the shared unknowns, over its arms."""
    spec, out = result.spec, []
    for r in range(spec.replicates):
        rows = select(result.rows, result.rows["replicate"] == r)
        for i, load in enumerate(spec.study.tip_loads):
            cell = select(rows, rows["tip_load_index"] == i)
            ok = solved(cell)
            value = outcome_of(cell, spec.plan.outcome)
            mean = float(np.mean(value[ok])) if np.any(ok) else np.nan
            place = {"replicate": r, "tip_load_index": i, "design_words": design_words(spec, i), "tip_load": load}
            out.append(place | {"mean": mean, "n": int(ok.sum())})
    return from_rows(out)


def tables_of(result: CompareResult) -> dict[str, Table]:
    """All tables of a comparison by name, empty ones left out."""
    made = {
        "comparisons": comparison_table(result),
        "trends": trend_table(result),
        "interactions": interaction_table(result),
        "sizes": size_table(result),
        "replicates": replicate_table(result),
    }
    return {name: table for name, table in made.items() if length(table)}
