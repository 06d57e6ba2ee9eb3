"""A map whose columns are equally likely wires of a calibration: what comes of the wire that was measured. Floor 6.

The scale is one wire's, the same in all its insertions: a shared unknown, so each column is one replicate of the outer
loop, and all columns have the same points (common random numbers).
"""

from typing import Any

import numpy as np

from ..study import events
from ..study.estimates import proportion, wilson_band
from ..study.run_map import rows_of_cell
from ..study.spec import StudySpec
from ..study.table import Table, concat, from_rows, length


def map_over(spec: StudySpec, rows: Table) -> Table:
    """Probabilities of a map's events at each angle, averaged over its columns.

    Returns
    -------
    Table
        one row for each angle that was run: n wires, insertions, solved and not solved; for each event of
        `events.flags` p over solved insertions of all wires, its interval from the scrambles (each holds all wires, so
        that their common points are not counted as independent), Wilson's of as many cases as there are points
        (`wilson_low`, `wilson_high`), `bound_low`, `bound_high` with all unsolved ones without and with the event, and
        `least`, `most` over the wires: what the calibration leaves open
    """
    out = []
    for j, angle in enumerate(spec.angles):
        cells = [rows_of_cell(rows, i, j) for i in range(len(spec.tip_loads))]
        cells = [cell for cell in cells if length(cell)]
        if cells:
            out.append({"angle_index": j, "angle": angle, **_estimates(cells)})
    return from_rows(out)


def _estimates(cells: list[Table]) -> dict[str, Any]:
    """Estimates at one angle from the rows of each wire."""
    whole = concat(cells)
    ok, scramble = events.solved(whole), whole["scramble"]
    row: dict[str, Any] = {"wires": len(cells), "n": length(whole), "n_solved": int(np.sum(ok))}
    points = len(np.unique(whole["index"][ok]))
    row["n_not_solved"] = row["n"] - row["n_solved"]
    for name, flag in events.flags(whole).items():
        p = proportion(flag, ok, scramble)
        each = [proportion(events.flags(c)[name], events.solved(c), c["scramble"]).p for c in cells]
        solved = [v for v in each if np.isfinite(v)]
        row |= {f"p_{name}": p.p, f"p_{name}_low": p.low, f"p_{name}_high": p.high}
        low, high = wilson_band(np.array([p.p]), points) if points else (np.full(1, np.nan), np.full(1, np.nan))
        row |= {f"p_{name}_wilson_low": float(low[0]), f"p_{name}_wilson_high": float(high[0])}
        row |= {f"p_{name}_bound_low": p.bound_low, f"p_{name}_bound_high": p.bound_high}
        row |= {f"p_{name}_least": min(solved, default=np.nan), f"p_{name}_most": max(solved, default=np.nan)}
    return row
