"""The regime diagram: simulated runs in dimensionless numbers, with the reduced model's boundaries."""

from __future__ import annotations

from math import isnan
from textwrap import wrap
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ..regime.contest import WORDS, Regime
from ..study.overlay import WITHIN, Overlay, agreement, confusion, inside, share_within
from ..study.table import Table, length
from ..units import from_si
from .log_axis import plain_numbers
from .style import INK, MUTED, SERIES, add_note, new_figure, tidy

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MARKS: dict[Regime, tuple[str, str, bool]] = {
    Regime.STAYS_OUT: (".", SERIES[5], False),
    Regime.DRIVES_ON: ("o", SERIES[1], True),
    Regime.CURLS: ("^", SERIES[0], False),
    Regime.BOWS: ("x", INK, False),
    Regime.NOT_SOLVED: ("+", SERIES[5], False),
}
"""Marker, colour, filled: told apart without colours."""
WIDTH, NARROW, HEIGHT = 13.5, 10.5, 6.2  # inches: with and without the contest at the lip
CHARACTERS_PER_INCH = 14  # of 8-point type
SCALED = "F_front W_c² / (2 EI)"
EDGE = 1e-2  # least value drawn on a logarithmic axis


def regime_figure(result: Overlay) -> Figure:
    """By the contest at the lip (where there is one), in the pocket by 2 EI/W_c^2, then by the force that folds."""
    runs, within = result.runs, inside(result.runs)
    lip = bool(length(runs)) and not bool(np.all(runs["in_pocket"]))
    width = WIDTH if lip else NARROW
    figure = new_figure(width, HEIGHT)
    axes = list(figure.subplots(1, 3 if lip else 2, squeeze=False)[0])
    if lip:
        ax = axes.pop(0)
        _scatter(ax, runs, "number_front", "number_lip")
        ax.axhline(1.0, color=MUTED, linestyle="--", linewidth=1.0)
        _labels(ax, SCALED, "lip gap / wire diameter", "all runs (dashed: a gap as high as the wire)")
    _scatter(axes[0], within, "number_front", "number_reach")
    axes[0].axvline(1.0, color=MUTED, linestyle="--", linewidth=1.0)
    _labels(axes[0], SCALED, "way to the front / W_c", "in the pocket, by the scale alone")
    _scatter(axes[1], within, "drive_over_fold", "number_reach")
    axes[1].axvline(1.0, color=INK, linewidth=1.4)
    axes[1].axvspan(1.0 - WITHIN, 1.0 + WITHIN, color="#d1d5db", alpha=0.5, linewidth=0.0)
    _labels(
        axes[1],
        "F_front / F_fold of the reduced model",
        "way to the front / W_c",
        "in the pocket, by the reduced model",
    )
    left = 0.8 / width
    figure.suptitle("Regimes: simulated runs and the reduced model", fontsize=12, x=left, ha="left", color=INK)
    lines = [part for line in facts(result) for part in wrap(line, int(CHARACTERS_PER_INCH * width))]
    figure.text(left, 0.93, "\n".join(lines), fontsize=8, color=MUTED, va="top")
    note = add_note(
        figure, "Wires, vessels and tissue values are invented or assumed. Line: F_front = F_fold, band 20 %."
    )
    _legend(figure, runs, note)
    figure.subplots_adjust(left=left, right=0.985, top=0.8, bottom=(note + 0.95) / HEIGHT, wspace=0.2)
    return figure


def fold_figure(result: Overlay) -> Figure:
    """Predicted against simulated thresholds, beside what the scale alone says."""
    figure = new_figure(10.0, 5.6)
    left, right = figure.subplots(1, 2, sharex=True, sharey=True)
    t, mn = result.thresholds, from_si(1.0, "mN")
    every = mn * np.concatenate([t["simulated"], t["scale"], t["predicted"]])
    ends = np.array([0.7 * np.nanmin(every), 1.4 * np.nanmax(every)])
    for ax, column, title in ((left, "scale", "2 EI / W_c²"), (right, "predicted", "F_fold of the reduced model")):
        x, y = mn * t["simulated"], mn * t[column]
        ax.fill_between(ends, ends * (1.0 - WITHIN), ends * (1.0 + WITHIN), color="#d1d5db", linewidth=0.0)
        ax.plot(ends, ends, color=INK, linewidth=1.0)
        ax.plot(x, y, "o", color=SERIES[0], markersize=5, markerfacecolor="none", markeredgewidth=1.2)
        ax.set_xscale("log")
        ax.set_yscale("log")
        ax.set_xlabel("simulated F*, mN", fontsize=9)
        ax.set_ylabel(f"{title}, mN", fontsize=9)
        for axis in (ax.xaxis, ax.yaxis):
            plain_numbers(axis)
        ax.set_title(f"{title}: {share_within(t, column):.0%} within {WITHIN:.0%} (grey band)", fontsize=10)
        tidy(ax)
    words = "F*: the front force above which the tip curls first, by bisection of insertions; reduced model: not fitted"
    figure.suptitle(f"{length(t)} pockets. {words}", fontsize=9, x=0.07, ha="left", color=MUTED)
    note = add_note(figure, "Wires, vessels and tissue values are invented or assumed.")
    figure.subplots_adjust(left=0.08, right=0.98, top=0.87, bottom=(note + 0.6) / 5.6, wspace=0.16)
    return figure


def facts(result: Overlay) -> list[str]:
    """Lines on agreement."""
    runs, within, t = result.runs, inside(result.runs), result.thresholds
    lines = [f"{length(runs)} runs, {int(np.sum(runs['simulated'] == int(Regime.NOT_SOLVED)))} not solved."]
    for name, table in (("lip and pocket together", runs), ("in the pocket, of those that came in", within)):
        if length(table) and (table is within or length(within) < length(runs)):
            same, kappa, n = agreement(counts(table))
            lines[0] += f" Agreement {name}: {same:.0%} of {n}{'' if isnan(kappa) else f' (kappa {kappa:.2f})'}."
    if length(t):
        lines.append(
            f"Thresholds within {WITHIN:.0%}: {share_within(t):.0%} of {length(t)} by the reduced model, "
            f"{share_within(t, 'scale'):.0%} by 2 EI/W_c²."
        )
    return lines


def counts(table: Table) -> NDArray[np.int64]:
    """Confusion of a table of runs."""
    return confusion(table["simulated"].astype(np.int64), table["predicted"].astype(np.int64))


def _scatter(ax: Axes, runs: Table, x: str, y: str) -> None:
    """Runs by what was simulated."""
    ax.set_xscale("log")
    ax.set_yscale("log")
    if not length(runs):
        ax.text(0.5, 0.5, "no run came into the pocket", transform=ax.transAxes, ha="center", fontsize=9, color=MUTED)
        return
    for regime, (marker, colour, _) in MARKS.items():
        mask = (runs["simulated"] == int(regime)) & np.isfinite(runs[x])
        if mask.any():
            ax.scatter(
                np.maximum(runs[x][mask], EDGE), np.maximum(runs[y][mask], EDGE), marker=marker, s=26, linewidths=1.0,
                color=None if _hollow(regime) else colour,
                facecolors="none" if _hollow(regime) else colour,
                edgecolors=colour if marker in "^o" else None,
            )  # fmt: skip


def _hollow(regime: Regime) -> bool:
    """Whether the mark is an outline."""
    marker, _, filled = MARKS[regime]
    return marker in "^o" and not filled


def _labels(ax: Axes, x: str, y: str, title: str) -> None:
    """Labels, and plain numbers along logarithmic axes."""
    ax.set_xlabel(x, fontsize=9)
    ax.set_ylabel(y, fontsize=9)
    ax.set_title(title, fontsize=9)
    for axis in (ax.xaxis, ax.yaxis):
        plain_numbers(axis)
    tidy(ax)


def _legend(figure: Figure, runs: Table, bottom: float) -> None:
    """Marks of what occurs."""
    from matplotlib.lines import Line2D

    there = [r for r in MARKS if np.any(runs["simulated"] == int(r))]
    handles = [
        Line2D([], [], linestyle="", marker=MARKS[r][0], color=MARKS[r][1], markersize=6,
               label=f"simulated: {WORDS[r]}",
               markerfacecolor="none" if _hollow(r) else MARKS[r][1])
        for r in there
    ]  # fmt: skip
    figure.legend(handles=handles, loc="lower center", ncols=len(there), frameon=False, fontsize=8,
                  bbox_to_anchor=(0.5, bottom / HEIGHT))  # fmt: skip
