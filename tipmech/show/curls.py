"""A map's curls split by where the tip lay, in the false lumen or in the true one, for a finished map.

A run ends at its first curl, so a curl in the true lumen competes with entry as well as with extension.
"""

from dataclasses import replace
from typing import Any

import numpy as np

from ..outcome import Where
from ..study import events
from ..study.estimates import cumulative_incidence, proportion, wilson_band
from ..study.run_map import MapResult, rows_of_cell
from ..study.table import Table, from_rows, length, select

FALSE_LUMEN, TRUE_LUMEN = "curled_false", "curled_true"  # names of the two events: columns, incidence
NAMES = (FALSE_LUMEN, TRUE_LUMEN)


def where_curled(rows: Table) -> Table:
    """Rows with two columns more: the feed of the first curl (m since the tear was reached) by lumen, nan: none there.

    The true lumen is every place that is not the false one (before the tear and after a re-entry too).
    """
    false = rows["where"] == int(Where.FALSE_LUMEN)
    curled = rows["curled"]
    return {**rows, FALSE_LUMEN: np.where(false, curled, np.nan), TRUE_LUMEN: np.where(false, np.nan, curled)}


def with_curls(result: MapResult) -> MapResult:
    """Map whose cells and incidence hold `curled_false` and `curled_true` beside the other events; once is enough."""
    cells = result.cells
    if all(f"p_{name}" in cells for name in NAMES):
        return result
    places = list(zip(cells["tip_load_index"].tolist(), cells["angle_index"].tolist(), strict=True))
    parts = [rows_of_cell(result.rows, i, j) for i, j in places]
    added = from_rows([_estimates(part) for part in parts])
    incidence = _incidence(result, places, parts)
    return replace(result, cells={**cells, **added}, incidence=incidence)


def _estimates(rows: Table) -> dict[str, Any]:
    """Columns of one cell, named as the other events'; nan and 0 where the cell was not run."""
    out: dict[str, Any] = {}
    ok = events.solved(rows) if length(rows) else np.zeros(0, dtype=bool)
    split = where_curled(rows) if length(rows) else {name: np.zeros(0) for name in NAMES}
    scramble = rows["scramble"] if length(rows) else np.zeros(0, dtype=np.int64)
    for name in NAMES:
        p = proportion(~np.isnan(split[name]), ok, scramble)
        out |= {f"p_{name}": p.p, f"p_{name}_low": p.low, f"p_{name}_high": p.high}
        out |= {f"p_{name}_wilson_low": p.wilson_low, f"p_{name}_wilson_high": p.wilson_high, f"n_{name}": p.count}
        out |= {f"p_{name}_bound_low": p.bound_low, f"p_{name}_bound_high": p.bound_high}
    return out


def _incidence(result: MapResult, places: list[tuple[int, int]], parts: list[Table]) -> Table:
    """Incidence table with the two events added, on the same advances."""
    table = result.incidence
    if not len(table["advance"]):
        return table
    grid = np.unique(table["advance"])
    columns: dict[str, list[Any]] = {name: [values] for name, values in table.items()}
    for (i, j), part in zip(places, parts, strict=True):
        solved = select(part, events.solved(part)) if length(part) else part
        if not length(solved):
            continue
        split, n = where_curled(solved), length(solved)
        for name in NAMES:
            p = cumulative_incidence(*events.competing(split, name), grid)
            low, high = wilson_band(p, n)
            place = {"tip_load_index": i, "angle_index": j, "event": name}
            new = {key: np.full(len(grid), value) for key, value in place.items()}
            for key, values in {**new, "advance": grid, "p": p, "low": low, "high": high}.items():
                columns[key].append(values)
    return {name: np.concatenate(values) for name, values in columns.items()}
