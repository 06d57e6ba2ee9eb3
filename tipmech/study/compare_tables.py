"""What a comparison says: every design beside the reference, the trend over them, the family over shared unknowns.

All intervals are at 1 - level of the plan; the family over which p values are adjusted is stated with each table.
"""

from typing import Any

import numpy as np

from .compare_sizes import size_table
from .compare_spec import CompareSpec, by_words, design_words
from .hypothesis import judge, trend
from .intervals import Array
from .odds import interaction_table
from .outcomes import Measure, measures, outcome_of, solved
from .pairs import POOLED, common, compared, layout_of, place
from .run_compare import CompareResult
from .strata import Strata
from .table import Table, from_rows, length, select


def comparison_table(result: CompareResult) -> Table:
    """Each design beside the reference: in every arm and angle, and over all of them (index -1).

    Holm's adjustment is over the designs of the pooled comparison of the planned outcome (the family of the test), and
    over all others of one outcome together (exploratory); the column `family` says which.
    """
    spec, out, rows = result.spec, [], _slim(result.rows)
    for measure in measures(rows):
        planned = measure == spec.plan.outcome
        pooled = [compared(spec, rows, measure, i, POOLED, POOLED) for i in spec.others]
        single = [
            compared(spec, rows, measure, i, arm.index, j)
            for arm in result.arms
            for j in range(len(spec.study.angles))
            for i in spec.others
        ]
        for group, family in ((pooled, "planned" if planned else "exploratory"), (single, "exploratory")):
            made = [row for row in group if row is not None]
            relative = [c.mean_reference if measure == "opened_area" else 1.0 for _, c in made]
            margins = [spec.plan.margin * r for r in relative]
            judged = judge([c for _, c in made], spec.plan.level, margins)
            for (row, _), said, margin in zip(made, judged, margins, strict=True):
                own = {"p_adjusted": said.p, "p_unsolved": said.p_unsolved, "p_equivalent": said.p_outside}
                own |= {"p_equivalent_unsolved": said.p_outside_unsolved}
                out.append(row | own | {"family": family, "margin": margin, "verdict": str(said.verdict)})
    return from_rows(out)


def _slim(rows: Table) -> Table:
    """Rows without what was drawn, which no outcome needs: many of them are picked out many times."""
    return {name: column for name, column in rows.items() if not name.startswith(("x_", "cap_"))}


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
            values, ok, first = _grid(spec, place(result.rows, arm, angle), measure)
            if not len(values):
                continue
            layout = layout_of(first, given_draw=arm != POOLED)
            t = trend(values, ok, scale, layout, 1.0 - spec.plan.level)
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


def _grid(spec: CompareSpec, rows: Table, measure: Measure) -> tuple[Array, Any, Table]:
    """Values and which were solved, shape (points, designs), at points that all designs have; rows of the first."""
    cells = common([select(rows, rows["tip_load_index"] == i) for i in range(len(spec.study.tip_loads))])
    values = np.stack([outcome_of(c, measure) for c in cells], axis=1)
    return values, np.stack([solved(c) for c in cells], axis=1), cells[0]


def replicate_table(result: CompareResult) -> Table:
    """Family of curves: the planned outcome of every design in each replicate of the shared unknowns, over its arms.

    Beside the mean that replicate's own difference from the reference, with its interval given that draw.
    """
    spec, out = result.spec, []
    for r in range(spec.replicates):
        rows = select(result.rows, result.rows["replicate"] == r)
        rows = rows | {"replicate": np.full(length(rows), -1)}  # within one draw nothing else varies
        for i, load in enumerate(spec.study.tip_loads):
            cell = select(rows, rows["tip_load_index"] == i)
            ok = solved(cell)
            mean = Strata(layout_of(cell), ok).mean(outcome_of(cell, spec.plan.outcome))
            at = {"replicate": r, "tip_load_index": i, "design_words": design_words(spec, i), "tip_load": load}
            made = compared(spec, rows, spec.plan.outcome, i, POOLED, POOLED) if i != spec.reference else None
            d = made[1].difference if made is not None else None
            ends = (d.value, d.low, d.high) if d is not None else (np.nan,) * 3
            names = ("difference", "difference_low", "difference_high")
            out.append(at | {"mean": mean, **dict(zip(names, ends, strict=True)), "n": int(ok.sum())})
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
