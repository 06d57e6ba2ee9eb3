"""A comparison's rows in pairs: two designs, or all, at the points that they have in common, and where these lie."""

from collections.abc import Sequence
from functools import reduce
from typing import Any

import numpy as np

from .compare_spec import CompareSpec, design_words
from .hypothesis import Comparison, compare
from .outcomes import Measure, outcome_of, solved
from .strata import Layout
from .table import Table, length, select

POOLED = -1  # index of an angle, or of an arm, that stands for all of them


def place(rows: Table, arm: int, angle: int) -> Table:
    """Rows of an arm and angle (-1: of all)."""
    here = np.ones(length(rows), dtype=bool)
    if arm != POOLED:
        here &= rows["arm"] == arm
    if angle != POOLED:
        here &= rows["angle_index"] == angle
    return select(rows, here)


def layout_of(rows: Table, *, given_draw: bool = False) -> Layout:
    """Layout of rows: strata are arms and angles, each point has its number.

    given_draw : leave aside that they are of one draw of the shared unknowns: what is estimated is of that draw
    """
    stratum = rows["arm"] * (int(np.max(rows["angle_index"], initial=0)) + 1) + rows["angle_index"]
    return Layout(
        stratum, rows["scramble"], rows["index"], 0 * rows["replicate"] - 1 if given_draw else rows["replicate"]
    )


def common(tables: Sequence[Table]) -> list[Table]:
    """Of each table the rows at points that all of them have, in the same order: arm, angle, point."""
    names = ("arm", "angle_index", "index")
    keys = [np.stack([t[name] for name in names], axis=1) for t in tables]
    numbered = np.unique(np.concatenate(keys), axis=0, return_inverse=True)[1].ravel()
    of_table = np.split(numbered, np.cumsum([len(k) for k in keys])[:-1])
    shared = reduce(np.intersect1d, of_table)
    out = []
    for table, numbers in zip(tables, of_table, strict=True):
        sorted_ = np.argsort(numbers)
        chosen = sorted_[np.isin(numbers[sorted_], shared)]
        out.append({name: column[chosen] for name, column in table.items()})
    return out


def compared(
    spec: CompareSpec, rows: Table, measure: Measure, load: int, arm: int, angle: int
) -> tuple[dict[str, Any], Comparison] | None:
    """One design beside the reference; None where it was not run."""
    here = place(rows, arm, angle)
    mine, other = common([select(here, here["tip_load_index"] == i) for i in (load, spec.reference)])
    if not length(mine):
        return None
    value, reference = outcome_of(mine, measure), outcome_of(other, measure)
    event = measure != "opened_area"
    largest = float(np.max(np.concatenate([value, reference])))
    where, level = layout_of(mine, given_draw=arm != POOLED), spec.plan.level
    ok = solved(mine), solved(other)
    c = compare(value, reference, *ok, where, level=level, event=event, largest=largest)
    loads, d = spec.study.tip_loads, c.difference
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
        "mean": c.mean,
        "mean_reference": c.mean_reference,
        "difference": d.value,
        "difference_low": d.low,
        "difference_high": d.high,
        "p": d.p,
        "degrees": d.degrees,
        "ratio": c.ratio.value,
        "ratio_low": c.ratio.low,
        "ratio_high": c.ratio.high,
        "only_design": c.more,
        "only_reference": c.fewer,
        "p_mcnemar": c.p_pairs,
        "bound_low": c.least.value,
        "bound_high": c.most.value,
        "bound_low_end": c.least.low,
        "bound_high_end": c.most.high,
        "n": d.n,
        "left_out": c.left_out,
    }
    return row, c
