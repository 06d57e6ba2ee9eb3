"""A map's curls split by where the tip lay, in the false lumen or in the true one, and the incidence curves.

Where runs end at their first curl, a curl in the true lumen competes with entry as well as with extension.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ..outcome import Stop, Where
from ..study import events
from ..study.estimates import cumulative_incidence, proportion, scramble_mean, wider_interval, wilson_band
from ..study.run_map import MapResult, rows_of_cell
from ..study.table import Table, from_rows, length, select
from ..study.uncertainty import NOT_MEASURED
from ..units import from_si
from .style import INK, add_note, new_figure, tidy

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from ..study.spec import StudySpec

Array = NDArray[np.float64]

FALSE_LUMEN, TRUE_LUMEN = "curled_false", "curled_true"  # names of the two events: columns, incidence
NAMES = (FALSE_LUMEN, TRUE_LUMEN)
CURVES = {
    "extended": "plane extended > 0.5 mm",
    FALSE_LUMEN: "curls in the false lumen",
    TRUE_LUMEN: "curls in the true lumen",
}
COLUMNS = ("tip_load_index", "angle_index", "tip_load", "angle", "event", "advance", "p", "low", "high")
INTERVAL = "95 % interval (wider of scrambles and Wilson)"
LOAD_CMAP = "viridis"


def competes(spec: StudySpec) -> str:
    """What a curl does to the other events of a map, in words."""
    if spec.advance_past_curl == 0.0:
        return (
            "A run ends at its first curl, so a curl in the true lumen competes with entry as well as with extension."
        )
    past = from_si(spec.advance_past_curl, "mm")
    return f"Runs go on {past:g} mm past their first curl: what is extended or entered after a curl counts too."


def where_curled(rows: Table) -> Table:
    """Rows with two columns more: the feed of the first curl (m since the tear was reached) by lumen, nan: none there.

    The true lumen is every place that is not the false one (before the tear and after a re-entry too). A run that went
    on past its curl may end elsewhere: there counts whether it had entered before.
    """
    at_end = rows["where"] == int(Where.FALSE_LUMEN)
    false = np.where(rows["stop"] == int(Stop.FIRST_CURL), at_end, rows["entered_before_curl"] == 1)
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
    """Incidence table of all events, on the same advances, with the interval that a map prints."""
    table, spec = result.incidence, result.spec
    grid = np.unique(table["advance"])
    columns: dict[str, list[Any]] = {name: [] for name in COLUMNS}
    for (i, j), part in zip(places, parts, strict=True):
        solved = select(part, events.solved(part)) if length(part) else part
        if not length(solved):
            continue
        split = where_curled(solved)
        place = {"tip_load_index": i, "angle_index": j, "tip_load": spec.tip_loads[i], "angle": spec.angles[j]}
        for name in (*CURVES, "curled"):
            curve = dict(zip(("p", "low", "high"), incidence_curve(split, name, grid), strict=True))
            new = {key: np.full(len(grid), value) for key, value in {**place, "event": name}.items()}
            for key, values in {**new, "advance": grid, **curve}.items():
                columns[key].append(values)
    if not columns["p"]:
        return table
    return {name: np.concatenate(values) for name, values in columns.items()}


def incidence_curve(rows: Table, event: str, grid: Array) -> tuple[Array, Array, Array]:
    """Cumulative incidence of an event over solved rows at the advances `grid` (m), with its 95 % interval.

    The interval is the wider of the t interval of the scrambles and Wilson's, as for the probabilities of a map, so
    that both say the same at the curve's end.
    """
    time, cause = events.competing(rows, event)
    p = cumulative_incidence(time, cause, grid)
    every, half = np.ones(length(rows), dtype=bool), np.zeros(len(grid))
    for at in np.unique(np.searchsorted(np.sort(time[cause == 1]), grid, side="right"), return_index=True)[1]:
        mean = scramble_mean(((cause == 1) & (time <= grid[at])).astype(float), every, rows["scramble"])
        half[at:] = (mean.high - mean.low) / 2.0  # until the next step of the curve
    low, high = wider_interval(p - half, p + half, *wilson_band(p, length(rows)))
    return p, np.clip(low, 0.0, 1.0), np.clip(high, 0.0, 1.0)


def incidence_figure(result: MapResult, uncertainty: str | None = None) -> Figure:
    """Cumulative incidence of extension and of curls by lumen against advance, one column for each angle."""
    result = with_curls(result)
    angles = [j for j in range(len(result.spec.angles)) if np.any(result.incidence["angle_index"] == j)]
    columns = max(1, len(angles))
    width, height = max(8.0, 3.6 * columns), 10.0
    figure = new_figure(width, height)
    axes = figure.subplots(len(CURVES), columns, squeeze=False, sharex=True, sharey=True)
    for column, j in enumerate(angles):
        for row, event in enumerate(CURVES):
            _steps(axes[row, column], result, j, event)
        axes[0, column].set_title(f"commanded angle {from_si(result.spec.angles[j], 'deg'):.0f}°", fontsize=10)
        axes[-1, column].set_xlabel("advance since the tear was reached, mm", fontsize=9)
    for row, name in enumerate(CURVES.values()):
        axes[row, 0].set_ylabel(f"P({name})", fontsize=9)
    handles, labels = axes[0, 0].get_legend_handles_labels()
    if handles:
        at, columns = (0.99, 1.0 - 0.35 / height), min(len(labels), 6)
        legend = figure.legend(handles, labels, loc="upper right", bbox_to_anchor=at, ncols=columns, fontsize=8)
        legend.set_frame_on(False)
        legend.set_title("tip load")
        legend.get_title().set_fontsize(8)
    title = f"{result.spec.name}: cumulative incidence, per insertion"
    figure.suptitle(title, fontsize=12, x=0.02, y=1.0 - 0.1 / height, va="top", ha="left", color=INK)
    about = f"{competes(result.spec)} Aalen-Johansen; bars at the right: {INTERVAL} at the end; solved runs only."
    note = add_note(figure, f"{about}\n{uncertainty or NOT_MEASURED}")
    sides = {"left": 0.75 / width, "right": 1.0 - 0.15 / width, "hspace": 0.1, "wspace": 0.08}
    figure.subplots_adjust(top=1.0 - 1.15 / height, bottom=(note + 0.6) / height, **sides)
    return figure


def _steps(ax: Axes, result: MapResult, j: int, event: str) -> None:
    """Step curves of one event at one angle, a colour for each tip load."""
    import matplotlib

    table, count = result.incidence, len(result.spec.tip_loads)
    colours = matplotlib.colormaps[LOAD_CMAP](np.linspace(0.0, 0.88, count))
    for i, load in enumerate(result.spec.tip_loads):
        mask = (table["angle_index"] == j) & (table["tip_load_index"] == i) & (table["event"] == event)
        x = from_si(1.0, "mm") * table["advance"][mask]
        name = f"{from_si(load, 'gf'):.3g} gf"
        ax.step(x, table["p"][mask], where="post", color=colours[i], label=name, linewidth=1.6)
        if np.any(mask):
            low, high, end = table["low"][mask][-1], table["high"][mask][-1], x[-1] * (1.03 + 0.035 * i)
            ax.plot([end, end], [low, high], color=colours[i], linewidth=1.4)
            ax.plot([end], [table["p"][mask][-1]], "o", color=colours[i], markersize=3.5)
    ax.set_ylim(-0.02, 1.02)
    tidy(ax)
