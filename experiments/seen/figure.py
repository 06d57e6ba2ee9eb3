"""Figure of experiments/seen: curls hidden over the views and over the angle to their plane, and how late they are seen."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.stats import binomtest

from tipmech.show import style

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LINES = {15.0: "-", 7.5: "--", 3.8: ":"}
BINS = np.arange(0, 91, 10)  # degrees
NOTE = (
    "Left: 15 frames/s, hand at 5 mm/s, share of true curls not seen within 3 mm of travel though they are from across "
    "their own plane; crosses: views used on the right. Middle: the same over the angle; bars: Wilson's 95 %, views of one "
    "curl counted as if independent. Right: share of curls seen, usual views, 5 noises each. Invented wires and vessels."
)


def save_figure(rows: list[dict[str, Any]], lao: Sequence[int], cranial: Sequence[int], path: Path) -> Path:
    """Write the figure of the experiment's rows; lao, cranial: the grid of views, degrees."""
    figure = style.new_figure(14.5, 5.2)
    axes = [figure.add_axes((left, 0.23, width, 0.65)) for left, width in ((0.05, 0.27), (0.4, 0.25), (0.72, 0.26))]
    grid = [r for r in rows if r["set"] == "grid" and not np.isnan(r["across_late_mm"])]
    usual = sorted({(round(r["lao_deg"]), round(r["cranial_deg"])) for r in rows if r["set"] == "usual"})
    _map(axes[0], grid, lao, cranial, usual)
    _angles(axes[1], grid)
    _late(axes[2], [r for r in rows if r["set"] == "usual"])
    style.add_note(figure, NOTE)
    return style.save(figure, path)


def _map(
    ax: "Axes", grid: list[dict[str, Any]], lao: Sequence[int], cranial: Sequence[int], usual: list[tuple[int, int]]
) -> None:
    """Share hidden from each view as grey, with its percentage."""
    share = np.array(
        [
            [np.mean([np.isnan(r["late_mm"]) for r in grid if (r["lao_deg"], r["cranial_deg"]) == (a, b)]) for a in lao]
            for b in cranial
        ]
    )
    half = (lao[1] - lao[0]) / 2, (cranial[1] - cranial[0]) / 2
    extent = (lao[0] - half[0], lao[-1] + half[0], cranial[0] - half[1], cranial[-1] + half[1])
    ax.imshow(share, cmap="Greys", vmin=0.0, vmax=1.0, origin="lower", extent=extent, aspect="auto")
    for i, b in enumerate(cranial):
        for j, a in enumerate(lao):
            ink = "white" if share[i, j] > 0.55 else style.INK
            ax.text(a, b, f"{100 * share[i, j]:.0f}", ha="center", va="center", fontsize=7, color=ink)
    for a, b in usual:
        ax.plot(a, b, "x", color=style.SERIES[1], markersize=13, markeredgewidth=2)
    ax.set_xlabel("RAO  \u2190  left-right angle (\u00b0)  \u2192  LAO", fontsize=8)
    ax.set_ylabel("caudal  \u2190  angle (\u00b0)  \u2192  cranial", fontsize=8)
    ax.tick_params(labelsize=8)
    ax.set_title("True curls hidden by the view, %", fontsize=9, loc="left")


def _angles(ax: "Axes", grid: list[dict[str, Any]]) -> None:
    """Share hidden over the angle between line of sight and the normal of the curl's plane."""
    style.tidy(ax)
    angle = np.array([r["to_normal_deg"] for r in grid])
    hidden = np.array([np.isnan(r["late_mm"]) for r in grid])
    for low, high in zip(BINS[:-1], BINS[1:], strict=True):
        here = (angle >= low) & (angle < high + (high == BINS[-1]))
        if not here.any():
            continue
        found = binomtest(int(hidden[here].sum()), int(here.sum()))
        share, reach = found.statistic, found.proportion_ci(0.95, "wilson")
        bars = [[share - reach.low], [reach.high - share]]
        ax.errorbar((low + high) / 2, share, yerr=bars, fmt="o", color=style.INK, capsize=3, markersize=5)
        ax.text((low + high) / 2, reach.high + 0.02, str(int(here.sum())), fontsize=6.5, ha="center", color=style.MUTED)
    ax.set_xlim(0, 90)
    ax.set_ylim(0, 1.05)
    ax.set_xlabel("line of sight off the normal of the curl's plane (\u00b0)", fontsize=8)
    ax.set_ylabel("share hidden", fontsize=8)
    ax.set_title("Foreshortening hides it in its own plane", fontsize=9, loc="left")


def _late(ax: "Axes", rows: list[dict[str, Any]]) -> None:
    """Share of curls seen by a travel past the start of the true curl, by frame rate and speed of the hand."""
    style.tidy(ax)
    for hand, colour in ((5.0, style.INK), (1.0, style.SERIES[3])):
        for rate, dashes in LINES.items():
            late = np.array([r["late_mm"] for r in rows if r["frames_per_s"] == rate and r["hand_mm_s"] == hand])
            seen = np.sort(late[~np.isnan(late)])
            share = np.arange(1, len(seen) + 1) / len(late)
            ax.step(seen, share, dashes, color=colour, linewidth=1.3, label=f"{rate:g} frames/s, {hand:g} mm/s")
    ax.axvline(0.0, color=style.MUTED, linewidth=0.7)
    ax.set_xlim(-3, 3)
    ax.set_ylim(0, 1)
    ax.set_xlabel("travel past the start of the true curl (mm)", fontsize=8)
    ax.set_ylabel("share of true curls seen", fontsize=8)
    ax.legend(fontsize=7, frameon=False, loc="upper left")
    ax.set_title("Late by frame rate and hand", fontsize=9, loc="left")
