"""Figure of a comparison: outcomes of the designs, each beside the reference, what changes the odds or the area."""

from __future__ import annotations

from math import isfinite
from textwrap import fill
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ..study.compare_spec import CONSTRUCTION, TIP_LOAD, CompareSpec, by_words, design_words
from ..study.factors import factor_words, level_number, level_words, unit_of
from ..study.intervals import mean_difference, pooled
from ..study.outcomes import flags, of_procedures, outcome_of, solved
from ..study.pairs import POOLED, layout_of
from ..study.run_compare import CompareResult
from ..study.table import Table, length, select
from ..study.uncertainty import NOT_MEASURED
from ..units import label
from .attempts import look
from .log_axis import plain_numbers
from .maps import LOAD_LABEL, scene_facts, shared_facts
from .style import INK, MUTED, SERIES, add_note, new_figure, tidy

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = NDArray[np.float64]

OF_INSERTIONS = {
    "entered": "enters the false lumen",
    "curled": "curls",
    "extended": "extends the plane",
    "entered_curled": "curls in the false lumen",
    "opened_area": "newly opened area",
}
OF_PROCEDURES = {
    "through": "reaches the true lumen",
    "entered": "enters the false lumen in any attempt",
    "curled": "curls in any attempt",
    "opened_area": "newly opened area in all attempts",
}
DRAWN = {False: ("entered", "curled", "extended"), True: ("through", "entered", "curled")}  # of procedures or not
LOOKS: tuple[tuple[str, Any], ...] = (("o", "-"), ("s", (0, (5, 2))), ("^", (0, (1, 1.2))))
MOST_TERMS = 14
HEAD, KEY_LINE = 0.55, 0.16  # inches above the panels: title, a line of a key
NAME_WIDTH = 18  # characters of a design's name under an axis
BESIDE = 0.025  # of an axis, between what is drawn side by side at one design
SPREAD = 0.09  # of an axis, over which arms and angles of one design lie side by side
CLEAR = {"boxstyle": "round,pad=0.15", "facecolor": "white", "edgecolor": "none", "alpha": 0.8}  # under words
READING = (
    "Left: share of solved {runs}, all arms and angles with the same weight; bars: 95 % interval from the scrambles"
    "{draws}{family}. Middle: mean difference at the same points (common random numbers) with its interval; large: "
    "over all arms and angles, small open circles: each of them, exploratory{differences}; grey band: the margin "
    "within which designs count as equivalent. Right: {right}."
)
ODDS = "odds ratios of a logistic model with clusters of scrambles"
AREAS = "share of {runs} that open more than an area; dots: means, which a few large areas decide"


def compare_figure(result: CompareResult, tables: dict[str, Table], uncertainty: str | None = None) -> Figure:
    """Three panels: outcomes of the designs, paired differences from the reference, odds ratios or the areas."""
    figure = new_figure(15.5, 7.0)
    left, middle, right = figure.subplots(1, 3, gridspec_kw={"width_ratios": [1.0, 1.0, 0.9]})
    spec, area = result.spec, result.spec.plan.outcome == "opened_area"
    _risks(left, result, tables)
    _differences(middle, result, tables)
    if area:
        _areas(right, result)
    else:
        of = "a procedure" if of_procedures(result.rows) else "the wire"
        _odds(right, tables.get("interactions", {}), f"{of} {words_of(result.rows)[spec.plan.outcome]}")
    figure.suptitle(title_of(spec), fontsize=12, x=0.05, ha="left", color=INK)
    note = add_note(figure, f"{_facts(spec)}\n{_reading(result, area)}\n{uncertainty or NOT_MEASURED}")
    height = figure.get_size_inches()[1]
    head = HEAD + KEY_LINE * max(len(LOOKS), len(spec.study.tip_loads) if area else 0)
    figure.subplots_adjust(left=0.05, right=0.985, top=1.0 - head / height, bottom=(note + 0.6) / height, wspace=0.3)
    return figure


def words_of(rows: Table) -> dict[str, str]:
    """Words of the outcomes that the rows tell of."""
    return OF_PROCEDURES if of_procedures(rows) else OF_INSERTIONS


def title_of(spec: CompareSpec) -> str:
    """Name of the study, and the wire, with its tip load where all designs have the same."""
    study = spec.study
    at = "" if spec.by == TIP_LOAD else f", {level_words(TIP_LOAD, study.tip_loads[0])}"
    wire = "wires of different construction" if spec.by == CONSTRUCTION else study.base.name
    return f"{study.name}: {wire}{at}"


def _facts(spec: CompareSpec) -> str:
    """What was fixed, what was crossed and what was drawn for a replicate."""
    fixed = {f.name for f in spec.factors} | {s.name for s in spec.shared_unknowns} | {spec.by}
    lines = ["; ".join([*scene_facts(spec.study), *shared_facts(spec.study, fixed)])]
    crossed = [f"{factor_words(f.name)} {', '.join(level_words(f.name, v) for v in f.levels)}" for f in spec.factors]
    if crossed:
        lines.append(f"Crossed with all designs and angles: {'; '.join(crossed)}")
    if spec.shared_unknowns:
        drawn = ", ".join(factor_words(s.name) for s in spec.shared_unknowns)
        lines.append(f"Drawn {spec.replicates} times for all designs together: {drawn}")
    lines.append("Vessel and wires are invented demo data")
    return ". ".join(lines) + "."


def _reading(result: CompareResult, area: bool) -> str:
    """How to read the panels."""
    runs = "procedures" if of_procedures(result.rows) else "insertions"
    drawn = bool(result.spec.replicates)
    return READING.format(
        runs=runs,
        draws=" and the draws of the shared unknowns" if drawn else "",
        family="; thin lines: the planned outcome in each draw" if drawn and not area else "",
        differences="; thin lines: each draw of the shared unknowns" if drawn else "",
        right=AREAS.format(runs=runs) if area else ODDS + (" (given the draws)" if drawn else ""),
    )


def _positions(spec: CompareSpec) -> Array:
    """Places of the designs on an axis from 0 to 1: by the logarithm of their scale, else side by side."""
    at = np.arange(len(spec.study.tip_loads), dtype=float) if spec.scale is None else np.log(spec.scale)
    return np.asarray((at - at.min()) / (at.max() - at.min()))


def _design_axis(ax: Axes, spec: CompareSpec) -> None:
    """An axis of the designs: numbers with their unit at its foot, or names."""
    values = spec.levels or spec.study.tip_loads
    unit = unit_of(spec.by)
    if spec.by == TIP_LOAD:
        axis = LOAD_LABEL
    elif spec.by == CONSTRUCTION:
        axis = ""
    else:
        axis = by_words(spec) + (f", {label(unit)}" if unit not in ("", "-") else "")
    names = [fill(level_number(spec.by, v), NAME_WIDTH) for v in values]
    ax.set_xticks(_positions(spec), names)
    ax.set_xlim(-0.15, 1.15)
    ax.set_xlabel(axis, fontsize=9)
    tidy(ax)


def _risks(ax: Axes, result: CompareResult, tables: dict[str, Table]) -> None:
    """Probability of each event by design, and the family of curves of the replicates."""
    spec, rows, at = result.spec, result.rows, _positions(result.spec)
    words = words_of(rows)
    cells = [select(rows, rows["tip_load_index"] == i) for i in range(len(at))]
    joined = spec.scale is not None  # a line between wires of different construction would mean nothing
    for k, (name, (marker, line)) in enumerate(zip(DRAWN[of_procedures(rows)], LOOKS, strict=True)):
        found = [pooled(flags(c)[name], solved(c), layout_of(c)) for c in cells]
        p, low, high = (np.array([getattr(f, end) for f in found]) for end in ("value", "low", "high"))
        bars = [np.maximum(p - low, 0.0), np.maximum(high - p, 0.0)]
        style: dict[str, Any] = {"color": SERIES[k], "marker": marker, "linestyle": line if joined else "none"}
        ax.errorbar(at + BESIDE * (k - 1), p, bars, capsize=3, label=words[name], **style)
    if spec.plan.outcome != "opened_area":
        _family(ax, result, tables, "mean", 1.0)
    ax.set_ylim(0.0, None)
    ax.set_ylabel("probability, given an opening", fontsize=9)
    _key(ax)
    _design_axis(ax, spec)


def _family(ax: Axes, result: CompareResult, tables: dict[str, Table], name: str, unit: float) -> None:
    """A thin line for each draw of the shared unknowns: a column of the table of replicates, 0 for the reference."""
    family, at = tables.get("replicates", {}), _positions(result.spec)
    if name not in family:
        return
    for r in range(result.spec.replicates):
        one = select(family, family["replicate"] == r)
        value = unit * (one[name] if name == "mean" else np.where(np.isnan(one[name]), 0.0, one[name]))
        ax.plot(at, value, color=MUTED, linewidth=0.7, alpha=0.7, marker=".", markersize=2, zorder=1)


def _key(ax: Axes) -> None:
    """Key above the axes, where nothing is drawn."""
    ax.legend(fontsize=8, frameon=False, loc="lower left", bbox_to_anchor=(-0.02, 1.0), labelspacing=0.25)


def _differences(ax: Axes, result: CompareResult, tables: dict[str, Table]) -> None:
    """Paired difference of the planned outcome from the reference, by design."""
    spec, at = result.spec, _positions(result.spec)
    here = select(tables["comparisons"], tables["comparisons"]["outcome"] == spec.plan.outcome)
    area = spec.plan.outcome == "opened_area"
    unit = 1e6 if area else 1.0
    whole = select(here, here["arm"] == POOLED)
    single = select(here, here["arm"] != POOLED)
    margin = unit * float(np.max(np.abs(whole["margin"]))) if length(whole) else 0.0
    ax.axhspan(-margin, margin, color="#e5e7eb", zorder=0)
    ax.axhline(0.0, color=MUTED, linewidth=0.8)
    places = sorted({(int(a), int(j)) for a, j in zip(single["arm"], single["angle_index"], strict=True)})
    for k, (arm, j) in enumerate(places):
        one = select(single, (single["arm"] == arm) & (single["angle_index"] == j))
        x = at[one["tip_load_index"]] + SPREAD * ((k + 0.5) / len(places) - 0.5)
        ax.plot(x, unit * one["difference"], "o", color=SERIES[1], markerfacecolor="none", markersize=4, zorder=2)
    _family(ax, result, tables, "difference", unit)
    x, d = at[whole["tip_load_index"]], unit * whole["difference"]
    low, high = unit * whole["difference_low"], unit * whole["difference_high"]
    known = np.isfinite(low)
    ax.errorbar(
        x[known], d[known], [(d - low)[known], (high - d)[known]], fmt="D", color=SERIES[0], capsize=4, zorder=3
    )
    ax.plot(x[~known], d[~known], "D", color=SERIES[0], zorder=3)
    for place, value, said in zip(x, np.where(known, high, d), whole["verdict"], strict=True):
        words = fill(str(said), NAME_WIDTH)
        look_of: dict[str, Any] = {"ha": "center", "fontsize": 7.5, "color": INK, "bbox": CLEAR, "zorder": 4}
        ax.annotate(words, (place, value), (0, 5), textcoords="offset points", **look_of)
    ax.plot([at[spec.reference]], [0.0], "D", markerfacecolor="none", color=INK, zorder=3)
    ax.annotate("reference", (at[spec.reference], 0.0), (0, -12), textcoords="offset points", ha="center", fontsize=7.5)
    difference = f"difference from {design_words(spec, spec.reference)}{', mm²' if area else ''}"
    ax.set_ylabel(f"{words_of(result.rows)[spec.plan.outcome]}:\n{difference}", fontsize=9)
    ax.margins(y=0.12)
    _design_axis(ax, spec)


def _areas(ax: Axes, result: CompareResult) -> None:
    """Share of runs that open more than an area, a step curve for each design, and its mean with an interval."""
    spec = result.spec
    for i in range(len(spec.study.tip_loads)):
        rows = select(result.rows, result.rows["tip_load_index"] == i)
        ok, area = solved(rows), 1e6 * outcome_of(rows, "opened_area")
        if not np.any(ok):
            continue
        mean = mean_difference(area, ok, layout_of(rows))
        told = f"{design_words(spec, i)}: mean {mean.value:.2g} mm²"
        if isfinite(mean.low):
            told += f" ({max(0.0, mean.low):.2g} to {mean.high:.2g})"
        if of_procedures(rows):
            told += f", {np.mean(rows['attempts'][ok]):.2g} attempts"
        values = np.sort(area[ok])
        above = 1.0 - np.arange(1, len(values) + 1) / len(values)
        ax.step([0.0, *values], [np.mean(values > 0.0), *above], where="post", label=told, **look(i))
        share = float(np.mean(values > mean.value))
        ax.plot([mean.value], [share], "o", color=look(i)["color"], markeredgecolor="white", markersize=7, zorder=3)
    ax.set_xlim(left=0.0)
    ax.set_ylim(0.0, 1.02)
    ax.set_xlabel(f"{words_of(result.rows)['opened_area']}, mm²", fontsize=9)
    ax.set_ylabel(f"share of {'procedures' if of_procedures(result.rows) else 'insertions'} above it", fontsize=9)
    _key(ax)
    tidy(ax)


def _odds(ax: Axes, table: Table, words: str) -> None:
    """Odds ratios of the terms of the model, on a logarithmic axis."""
    ax.set_title(f"odds that {words}", fontsize=9, loc="left", color=INK)
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
        words = str(table["term"][k]).replace("_", " ")
        ax.text(0.01, y + 0.2, words, transform=ax.get_yaxis_transform(), fontsize=7.5, bbox=CLEAR, va="center")
    ax.set_xscale("log")
    ax.set_ylim(-len(fitted) + 0.3, 0.8)
    ax.set_yticks([])
    plain_numbers(ax.xaxis)
    ax.set_xlabel("odds ratio with its interval", fontsize=9)
    tidy(ax)
