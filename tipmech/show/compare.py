"""Figure of a comparison: the outcomes over tip load, every design beside the reference, what changes the odds."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ..study.compare_tables import POOLED
from ..study.events import flags, solved
from ..study.intervals import probability
from ..study.run_compare import CompareResult
from ..study.table import Table, length, select
from ..study.uncertainty import NOT_MEASURED
from ..units import from_si
from .log_axis import plain_numbers
from .maps import LOAD_LABEL, scene_facts, shared_facts
from .style import INK, MUTED, SERIES, add_note, new_figure, tidy

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

EVENTS: dict[str, tuple[str, str, Any]] = {
    "entered": ("enters the false lumen", "o", "-"),
    "curled": ("curls", "s", (0, (5, 2))),
    "extended": ("extends the plane", "^", (0, (1, 1.2))),
}
WORDS = {
    "entered": "enters the false lumen",
    "extended": "extends the plane",
    "curled": "curls",
    "entered_curled": "curls in the false lumen",
    "opened_area": "newly opened area",
}
MOST_TERMS = 14
READING = (
    "Left: share of solved insertions over all arms and angles; bars: 95 % interval from the scrambles; thin lines: "
    "each draw of the shared unknowns. Middle: mean difference at the same points (common random numbers) with its "
    "interval; large: over all arms and angles, small: each of them, exploratory; grey band: the margin within which "
    "designs count as equivalent. Right: odds ratios of a logistic model with clusters of scrambles."
)


def compare_figure(result: CompareResult, tables: dict[str, Table], uncertainty: str | None = None) -> Figure:
    """Three panels: outcomes over tip load, paired differences from the reference, odds ratios."""
    figure = new_figure(15.5, 6.6)
    left, middle, right = figure.subplots(1, 3, gridspec_kw={"width_ratios": [1.0, 1.0, 0.9]})
    _risks(left, result, tables)
    _differences(middle, result, tables["comparisons"])
    _odds(right, tables.get("interactions", {}), WORDS[result.spec.plan.outcome])
    study = result.spec.study
    figure.suptitle(f"{study.name}: {study.base.name}", fontsize=12, x=0.05, ha="left", color=INK)
    facts = "; ".join([*scene_facts(study), *shared_facts(study)])
    note = add_note(figure, f"{facts}.\n{READING}\n{uncertainty or NOT_MEASURED}")
    height = figure.get_size_inches()[1]
    figure.subplots_adjust(left=0.05, right=0.985, top=0.87, bottom=(note + 0.6) / height, wspace=0.32)
    return figure


def _loads(result: CompareResult) -> NDArray[np.float64]:
    return from_si(1.0, "gf") * np.array(result.spec.study.tip_loads)


def _load_axis(ax: Axes, loads: NDArray[np.float64]) -> None:
    from matplotlib.ticker import NullLocator

    ax.set_xscale("log")
    ax.set_xticks(loads, [f"{v:.3g}" for v in loads])
    ax.xaxis.set_minor_locator(NullLocator())
    ax.set_xlabel(LOAD_LABEL, fontsize=9)
    tidy(ax)


def _risks(ax: Axes, result: CompareResult, tables: dict[str, Table]) -> None:
    """Probability of each event over tip load, and the family of curves of the replicates."""
    loads, rows = _loads(result), result.rows
    for k, (name, (words, marker, line)) in enumerate(EVENTS.items()):
        spread = loads * 1.03 ** (k - 1)
        cells = [select(rows, rows["tip_load_index"] == i) for i in range(len(loads))]
        points = len(np.unique(rows["index"]))
        found = [probability(flags(c)[name], solved(c), c["scramble"], independent=points) for c in cells]
        p, low, high = (np.array([getattr(f, end) for f in found]) for end in ("value", "low", "high"))
        ax.errorbar(
            spread, p, [p - low, high - p], color=SERIES[k], marker=marker, linestyle=line, capsize=3, label=words
        )
    family = tables.get("replicates", {})
    for r in range(result.spec.replicates):
        one = select(family, family["replicate"] == r) if length(family) else {}
        if length(one) and result.spec.plan.outcome != "opened_area":
            ax.plot(loads, one["mean"], color=MUTED, linewidth=0.7, alpha=0.8, zorder=0)
    ax.set_ylim(0.0, None)
    ax.set_ylabel("probability, given an opening", fontsize=9)
    ax.legend(fontsize=8, frameon=False, loc="best")
    _load_axis(ax, loads)


def _differences(ax: Axes, result: CompareResult, table: Table) -> None:
    """Paired difference of the planned outcome from the reference, over tip load."""
    plan, loads = result.spec.plan, _loads(result)
    here = select(table, table["outcome"] == plan.outcome)
    area = plan.outcome == "opened_area"
    unit = 1e6 if area else 1.0
    pooled = select(here, here["arm"] == POOLED)
    single = select(here, here["arm"] != POOLED)
    margin = unit * float(np.max(np.abs(pooled["margin"]))) if length(pooled) else 0.0
    ax.axhspan(-margin, margin, color="#e5e7eb", zorder=0)
    ax.axhline(0.0, color=MUTED, linewidth=0.8)
    places = sorted({(int(a), int(j)) for a, j in zip(single["arm"], single["angle_index"], strict=True)})
    for k, (arm, j) in enumerate(places):
        one = select(single, (single["arm"] == arm) & (single["angle_index"] == j))
        x = from_si(1.0, "gf") * one["tip_load"] * 1.015 ** (k - len(places) / 2)
        ax.plot(x, unit * one["difference"], ".", color=MUTED, markersize=4, alpha=0.8, zorder=1)
    x, d = from_si(1.0, "gf") * pooled["tip_load"], unit * pooled["difference"]
    low, high = unit * pooled["difference_low"], unit * pooled["difference_high"]
    known = np.isfinite(low)
    ax.errorbar(
        x[known], d[known], [(d - low)[known], (high - d)[known]], fmt="D", color=SERIES[0], capsize=4, zorder=3
    )
    ax.plot(x[~known], d[~known], "D", color=SERIES[0], zorder=3)
    for at, value, said in zip(x, np.where(known, high, d), pooled["verdict"], strict=True):
        ax.annotate(str(said), (at, value), (0, 5), textcoords="offset points", ha="center", fontsize=7.5, color=INK)
    reference = loads[result.spec.reference]
    ax.plot([reference], [0.0], "D", markerfacecolor="none", color=INK, zorder=3)
    ax.annotate("reference", (reference, 0.0), (0, -12), textcoords="offset points", ha="center", fontsize=7.5)
    ax.set_ylabel(f"{WORDS[plan.outcome]}: difference from {reference:.3g} gf" + (", mm²" if area else ""), fontsize=9)
    ax.margins(x=0.12, y=0.12)
    _load_axis(ax, loads)


def _odds(ax: Axes, table: Table, words: str) -> None:
    """Odds ratios of the terms of the model, on a logarithmic axis."""
    ax.set_title(f"odds that the wire {words}", fontsize=9, loc="left", color=INK)
    rows = min(length(table), MOST_TERMS)
    fitted = [k for k in range(rows) if isfinite(float(table["odds_ratio"][k]))]
    if not fitted:
        ax.text(0.5, 0.5, "no model fitted", ha="center", va="center", transform=ax.transAxes, fontsize=9, color=MUTED)
        ax.set_axis_off()
        return
    ax.axvline(1.0, color=MUTED, linewidth=0.8)
    for place, k in enumerate(fitted):
        y = -place
        low, value, high = (float(table[f"odds_ratio{end}"][k]) for end in ("_low", "", "_high"))
        ax.plot([low, high], [y, y], color=SERIES[0], linewidth=1.4)
        ax.plot([value], [y], "D", color=SERIES[0], markersize=5)
        ax.annotate(str(table["term"][k]), (value, y), (0, 6), textcoords="offset points", ha="center", fontsize=7.5)
    ax.set_xscale("log")
    ax.set_ylim(-len(fitted) + 0.3, 0.8)
    ax.set_yticks([])
    plain_numbers(ax.xaxis)
    ax.set_xlabel("odds ratio with its interval", fontsize=9)
    tidy(ax)
