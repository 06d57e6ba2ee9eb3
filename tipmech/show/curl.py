"""Figure of what a seen curl tells: ROC, sensitivity, specificity, likelihood ratios, predictive values by wire."""

from __future__ import annotations

from textwrap import wrap
from typing import TYPE_CHECKING, Any

import numpy as np

from ..study import events
from ..study.curl_tables import ANALYSES, CONDITIONS, POOLED
from ..study.run_curl import CurlResult
from ..study.table import Table, length, select
from ..study.uncertainty import NOT_MEASURED
from ..units import from_si
from .bench.marks import MARKERS, colour
from .log_axis import plain_numbers
from .maps import LOAD_LABEL, scene_facts, shared_facts
from .style import INK, MUTED, add_note, new_figure, tidy

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

LINES: tuple[Any, ...] = ("-", (0, (5, 2)), (0, (1, 1.2)), (0, (5, 1.5, 1, 1.5)))
"""Lines of the wires, so that they are told apart without colours."""
READING = (
    "Test: a curl seen by a detector that knows the shape on the screen only. Condition: the wire's end truly lies in "
    "the false lumen at that look. One look for each insertion: the first at which a curl is seen, else the last. ROC: "
    "largest score of an insertion's looks, condition held; large: the detector's own threshold; small: others asked. "
    "Bars and bands: 95 % intervals with the scrambles as clusters; grey bars: least and most with all unsolved "
    "insertions counted one way. Small marks: single angles. No mark, no bar: not a number, reasons are in the tables."
)
INVENTED = "Vessel, wires and tear are invented: demo data"
KEY_ROOM = 30.0  # points, between a panel and its title, for two rows of keys
FACTS_WIDTH = 78  # characters of a line of the facts
BAND = 0.13  # opacity of a band


def curl_figure(result: CurlResult, tables: dict[str, Table], uncertainty: str | None = None) -> Figure:
    """Six panels: ROC; sensitivity and specificity; likelihood ratios; predictive values over prevalence; counts."""
    figure = new_figure(15.4, 10.6)
    axes = figure.subplots(2, 3)
    tells = _primary(tables["tells"])
    _roc(axes[0, 0], result, tables)
    _shares(axes[0, 1], result, tells)
    _ratios(axes[0, 2], result, tells)
    _predictive(
        axes[1, 0], result, tables, "predictive_positive", "a curl seen: probability that it is in the false lumen"
    )
    _predictive(axes[1, 1], result, tables, "predictive_negative", "no curl seen: probability that it is not")
    _facts(axes[1, 2], _lines(result, tells))
    study = result.spec.study
    figure.suptitle(f"{study.name}: {study.base.name}", fontsize=13, x=0.05, ha="left", color=INK)
    note = add_note(figure, f"{READING} {INVENTED}.\n{uncertainty or NOT_MEASURED}")
    bottom = (note + 0.6) / figure.get_size_inches()[1]
    figure.subplots_adjust(left=0.05, right=0.985, top=0.9, bottom=bottom, hspace=0.38, wspace=0.22)
    return figure


def _primary(table: Table) -> Table:
    """Rows of the primary analysis and condition."""
    if not length(table):
        return table
    return select(table, (table["analysis"] == ANALYSES[0]) & (table["condition"] == CONDITIONS[0]))


def _loads(result: CurlResult) -> list[float]:
    return [from_si(load, "gf") for load in result.spec.study.tip_loads]


def _of_wire(table: Table, i: int) -> Table:
    return select(table, table["tip_load_index"] == i) if length(table) else table


def _look(k: int) -> dict[str, Any]:
    return {"color": colour(k), "linestyle": LINES[k % len(LINES)], "linewidth": 1.5}


def _sign(k: int) -> dict[str, Any]:
    """The wire's marker in the key only: on the line it would say that something was seen there."""
    return {"marker": MARKERS[k % len(MARKERS)], "markevery": [], "markersize": 5}


def _roc(ax: Axes, result: CurlResult, tables: dict[str, Table]) -> None:
    """ROC curve of each wire, its area in the key, the asked thresholds and the detector's own marked."""
    ax.plot([0, 1], [0, 1], color=MUTED, linewidth=0.8)
    tells = _primary(tables["tells"])
    for i, load in enumerate(_loads(result)):
        own = _of_wire(tells, i)
        corners, marks = _of_wire(_primary(tables["roc"]), i), _of_wire(_primary(tables["thresholds"]), i)
        if not length(own):
            continue
        k = int(np.flatnonzero(own["angle_index"] == POOLED)[0])
        value, low, high = (float(own[f"area{end}"][k]) for end in ("", "_low", "_high"))
        said = f"{value:.2f} ({low:.2f}-{high:.2f})" if np.isfinite(low) else f"{value:.2f} (no interval)"
        label = f"{load:.3g} gf: area {said}" if np.isfinite(value) else f"{load:.3g} gf: no curve"
        ax.plot(corners["false_positive_rate"], corners["sensitivity"], label=label, **_look(i), **_sign(i))
        x, y = 1.0 - marks["specificity"], marks["sensitivity"]
        look: dict[str, Any] = {"linestyle": "", "marker": MARKERS[i % len(MARKERS)], "color": colour(i)}
        ax.plot(x, y, markersize=3.5, **look)
        here = marks["own"] == 1
        ax.plot(x[here], y[here], markersize=9, markeredgecolor=INK, markeredgewidth=1.4, **look, zorder=4)
    ax.set_xlim(-0.02, 1.02)
    ax.set_ylim(-0.02, 1.02)
    ax.set_title("ROC over the detector's threshold", fontsize=10, loc="left", color=INK, pad=KEY_ROOM)
    ax.set_xlabel("1 - specificity", fontsize=9)
    ax.set_ylabel("sensitivity", fontsize=9)
    ax.legend(fontsize=7.5, frameon=False, loc="lower right")
    tidy(ax)


def _load_axis(ax: Axes, loads: list[float]) -> None:
    from matplotlib.ticker import NullLocator

    ax.set_xscale("log")
    ax.set_xticks(loads, [f"{v:.3g}" for v in loads])
    ax.xaxis.set_minor_locator(NullLocator())
    ax.margins(x=0.15)
    ax.set_xlabel(LOAD_LABEL, fontsize=9)
    tidy(ax)


def _marks(ax: Axes, result: CurlResult, tells: Table, names: tuple[tuple[str, str, str, Any], ...]) -> None:
    """Measures over tip load: pooled with interval and bounds, each angle small; name, words, marker and line."""
    loads = _loads(result)
    for place, (name, words, marker, line) in enumerate(names):
        at: list[float] = []
        drawn: list[float] = []
        for i, load in enumerate(loads):
            own = _of_wire(tells, i)
            x = load * 1.06 ** (place - 0.5 * (len(names) - 1))
            for k in range(length(own)):
                value, low, high = (float(own[f"{name}{end}"][k]) for end in ("", "_low", "_high"))
                if own["angle_index"][k] != POOLED:
                    ax.plot([x * 1.025], [value], marker, color=colour(place), markersize=3, alpha=0.7)
                    continue
                at.append(x)
                drawn.append(value)
                least, most = (float(own[f"{name}_bound_{end}"][k]) for end in ("low", "high"))
                if own["n_not_solved"][k] and np.isfinite(least) and np.isfinite(most):
                    ax.plot([x, x], [least, most], color="#c9ccd1", linewidth=5, solid_capstyle="butt", zorder=1)
                if np.isfinite(low) and np.isfinite(value):
                    away = [[max(value - low, 0.0)], [max(high - value, 0.0)]]  # an end at 1 may lie a rounding below
                    ax.errorbar([x], [value], away, color=colour(place), capsize=4, zorder=3)
        ax.plot(at, drawn, color=colour(place), marker=marker, markersize=6, linestyle=line, label=words, zorder=3)
    _load_axis(ax, loads)
    _key(ax, 1)


def _key(ax: Axes, columns: int) -> None:
    """Key above the axes, where it hides nothing."""
    place: dict[str, Any] = {"loc": "lower left", "bbox_to_anchor": (0.0, 1.0), "borderaxespad": 0.1}
    ax.legend(fontsize=7.5, frameon=False, ncols=columns, labelspacing=0.25, columnspacing=1.2, **place)


def _shares(ax: Axes, result: CurlResult, tells: Table) -> None:
    """Sensitivity and specificity over tip load."""
    names = (
        ("sensitivity", "sensitivity: a curl seen, of those in the false lumen", "o", "-"),
        ("specificity", "specificity: no curl seen, of all others", "s", (0, (5, 2))),
    )
    _marks(ax, result, tells, names)
    ax.set_ylim(-0.04, 1.04)
    ax.set_title("sensitivity and specificity", fontsize=10, loc="left", color=INK, pad=KEY_ROOM)
    ax.set_ylabel("share of solved insertions", fontsize=9)


def _ratios(ax: Axes, result: CurlResult, tells: Table) -> None:
    """Likelihood ratios over tip load, on a logarithmic axis."""
    ax.axhline(1.0, color=MUTED, linewidth=0.8)
    names = (
        ("likelihood_positive", "LR+: how a curl seen changes the odds", "^", "-"),
        ("likelihood_negative", "LR-: how none seen changes them", "v", (0, (5, 2))),
    )
    ax.set_yscale("log")
    _marks(ax, result, tells, names)
    ends = [tells[f"{name}{end}"] for name, *_ in names for end in ("", "_low", "_high")] if length(tells) else []
    known = np.concatenate(ends) if ends else np.zeros(0)
    known = known[np.isfinite(known) & (known > 0.0)]
    ax.set_ylim(min([0.1, *(0.8 * known)]), max([10.0, *(1.25 * known)]))
    plain_numbers(ax.yaxis)
    ax.set_title("likelihood ratios (1: it tells nothing)", fontsize=10, loc="left", color=INK, pad=KEY_ROOM)
    ax.set_ylabel("likelihood ratio", fontsize=9)


def _predictive(ax: Axes, result: CurlResult, tables: dict[str, Table], name: str, title: str) -> None:
    """A predictive value over prevalence by Bayes, with its band; large: as observed at the study's own prevalence."""
    tells, missing = _primary(tables["tells"]), []
    for i, load in enumerate(_loads(result)):
        own, one = _of_wire(_primary(tables["predictive"]), i), _of_wire(tells, i)
        if not length(own):
            continue
        x, y = own["prevalence_assumed"], own[name]
        if not np.any(np.isfinite(y)):
            missing.append(f"{load:.3g} gf: {own[f'{name}_reason'][0]}")
        ax.plot(x, y, label=f"{load:.3g} gf", **_look(i), **_sign(i))
        ax.fill_between(x, own[f"{name}_low"], own[f"{name}_high"], color=colour(i), alpha=BAND, linewidth=0)
        for end in ("_low", "_high"):
            ax.plot(x, own[f"{name}{end}"], **{**_look(i), "linewidth": 0.5})
        k = int(np.flatnonzero(one["angle_index"] == POOLED)[0])
        at, seen = float(one["prevalence"][k]), float(one[name][k])
        ax.plot(
            [at], [seen], MARKERS[i % len(MARKERS)], color=colour(i), markeredgecolor=INK, markersize=8, zorder=4,
            clip_on=False,
        )  # fmt: skip
    if missing:
        words = "\n".join(wrap("not a number: " + "; ".join(missing), 62))
        box = {"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 1.0}
        at_foot: dict[str, Any] = {"transform": ax.transAxes, "ha": "right", "va": "bottom"}
        ax.text(0.98, 0.03, words, fontsize=7, color=INK, bbox=box, zorder=5, **at_foot)
    ax.plot([0, 1], [0, 1] if name == "predictive_positive" else [1, 0], color=MUTED, linewidth=0.8)
    ax.set_xlim(0.0, 1.0)
    ax.set_ylim(-0.02, 1.02)
    ax.set_title(title, fontsize=10, loc="left", color=INK, pad=KEY_ROOM)
    ax.set_xlabel("share of insertions in the false lumen before looking (marks: that of this study)", fontsize=8.5)
    ax.set_ylabel("predictive value, by Bayes (marks: observed)", fontsize=9)
    _key(ax, 4)
    tidy(ax)


def _lines(result: CurlResult, tells: Table) -> list[str]:
    """What was fixed, and the counts of each wire."""
    spec = result.spec
    study, imaging, detector = spec.study, spec.imaging, spec.detector
    views = " and ".join(view.name for view in imaging.views)
    unsolved = int(np.sum(~events.solved(result.rows))) if length(result.rows) else 0
    angles = ", ".join(f"{from_si(a, 'deg'):.4g}°" for a in study.angles)
    past = from_si(study.advance_past_curl, "mm")
    ends = "at its first true curl" if past == 0.0 else f"{past:g} mm past its first true curl"
    lines = [
        f"{study.scrambles} scrambles x {study.points} Sobol' points for each wire and angle ({angles}), "
        f"seed {study.seed}",
        f"insertions: {length(result.rows)}, not solved: {unsolved}; looks: {length(result.looks)}",
    ]
    for i, load in enumerate(_loads(result)):
        own = _of_wire(tells, i)
        pooled = select(own, own["angle_index"] == POOLED) if length(own) else own
        if not length(pooled):
            continue
        c = {name: int(pooled[name][0]) for name in pooled if pooled[name].dtype.kind == "i"}
        lost = f"; not solved {c['n_not_solved']}" if c["n_not_solved"] else ""
        never = f"; never at the tear {c['n_never_reached']}" if c["n_never_reached"] else ""
        lines.append(
            f"{load:.3g} gf: TP {c['tp']}, FN {c['fn']}, FP {c['fp']}, TN {c['tn']}; FP truly curled "
            f"{c['fp_truly_curled']}; foreshortened FN {c['fn_foreshortened']}, TN {c['tn_foreshortened']}{lost}{never}"
        )
    lines += [
        "",
        f"Screen: {views}; {imaging.frame_rate:g} frames/s, pixel {from_si(imaging.pixel, 'mm'):g} mm, noise "
        f"{from_si(imaging.noise, 'mm'):g} mm; read each {from_si(spec.every, 'mm'):g} mm past the tear and at the end",
        f"Detector: threshold {detector.threshold:g} of the score, held for {detector.hold} frames; foreshortened: "
        f"less than {spec.foreshortened:g} of the distal 10 mm in every view",
        f"A run ends {from_si(study.advance_past_tear, 'mm'):g} mm past the tear or {ends}",
        *scene_facts(study),
        *shared_facts(study),
        "given: there is an opening. How the vessel lies is assumed.",
        f"code {result.manifest['code']}",
    ]
    return [part for line in lines for part in (wrap(line, FACTS_WIDTH, subsequent_indent="  ") or [""])]


def _facts(ax: Axes, lines: list[str]) -> None:
    """A panel of text."""
    ax.axis("off")
    ax.text(0.0, 1.16, "\n".join(lines), va="top", ha="left", fontsize=7.5, color=INK, linespacing=1.3)
