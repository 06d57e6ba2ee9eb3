"""Figures of a design exploration: tornado plots, the front of an inverse design, a tolerance stack-up.

Draws finished results only, handed in in users' units.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from .style import INK, MUTED, SERIES, SUPPORT, add_note, new_figure, save, tidy

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes

Array = NDArray[np.float64]

BARS = 9  # dimensions of a tornado plot, the most effective ones
LEAST = 0.02  # %, bars shorter than that are left out
WIDTH = 12.0  # inches
NOTE, KEYS = 0.7, 0.5  # inches, room for the note, for the names of the figures under the front
MARKERS = ("o", "s", "^", "D", "v", "P", "X", "*")
STYLES = ("-", "--", "-.", ":")
LESS, MORE = SERIES[0], SERIES[3]  # blue is darker than orange in greyscale


@dataclass(frozen=True)
class Tornado:
    """Bars of one figure.

    title : the figure, its value, how it was computed
    rows : (dimension with its change, effect of less of it in %, effect of more of it in %)
    """

    title: str
    rows: tuple[tuple[str, float, float], ...]


@dataclass(frozen=True)
class Front:
    """Front of an inverse design with n points, K wanted figures, m simulated designs.

    labels : tuple of str, K, figures with what is wanted
    changes : ndarray, shape (n,), root mean square change of the dimensions, %
    over : ndarray, shape (n, K), figure over the wanted one, reduced times ratio, -
    misses : ndarray, shape (n, K), misses in tolerances
    names : tuple of str, m, of the simulated designs
    shown_changes : ndarray, shape (m,), %
    shown_over : ndarray, shape (m, K), simulated figure over the wanted one
    shown_misses : ndarray, shape (m,), their largest miss in tolerances
    """

    labels: tuple[str, ...]
    changes: Array
    over: Array
    misses: Array
    names: tuple[str, ...]
    shown_changes: Array
    shown_over: Array
    shown_misses: Array


@dataclass(frozen=True)
class Stack:
    """Tolerance stack-up.

    label : figure with its unit
    values : ndarray, shape (n,), figure at the points that can be built
    nominal : value at the nominal design
    band : allowed values, or None
    checked : ndarray, shape (m, 2), value and simulated value of the checked points
    shares : (tolerance in words, share of the variance, low and high end of its interval)
    text : facts written beside the histogram
    """

    label: str
    values: Array
    nominal: float
    band: tuple[float, float] | None
    checked: Array
    shares: tuple[tuple[str, float, float, float], ...]
    text: str


def tornado_figure(title: str, panels: Sequence[Tornado], path: str | Path, note: str) -> Path:
    """Tornado plots, one a bench figure, two side by side, as a PNG."""
    lines = (len(panels) + 1) // 2
    each = 0.95 + 0.2 * BARS
    height = NOTE + 0.55 + each * lines
    figure = new_figure(WIDTH, height)
    figure.text(0.02, 1.0 - 0.22 / height, title, ha="left", fontsize=12, color=INK)
    for i, panel in enumerate(panels):
        left, bottom = (0.0 if i % 2 == 0 else 0.5), height - 0.85 - each * (i // 2) - 0.2 * BARS
        ax = figure.add_axes((left + 0.215, bottom / height, 0.27, 0.2 * BARS / height))
        draw_tornado(ax, panel)
    handles, labels = _handles()
    figure.legend(
        handles,
        labels,
        loc="upper right",
        bbox_to_anchor=(0.995, 1.0 - 0.05 / height),
        ncols=2,
        fontsize=8,
        frameon=False,
    )
    add_note(figure, note)
    return save(figure, path)


def draw_tornado(ax: "Axes", panel: Tornado) -> "Axes":
    """Bars of one figure, the longest on top."""
    rows = sorted((r for r in panel.rows if max(abs(r[1]), abs(r[2])) >= LEAST), key=lambda r: max(map(abs, r[1:])))
    rows = rows[-BARS:]
    tidy(ax)
    place = np.arange(len(rows)) + BARS - len(rows)
    ax.barh(place, [r[1] for r in rows], height=0.7, color=LESS, edgecolor=INK, linewidth=0.4)
    ax.barh(place, [r[2] for r in rows], height=0.7, color=MORE, edgecolor=INK, linewidth=0.4, hatch="///")
    ax.axvline(0.0, color=INK, linewidth=0.8)
    ax.set_yticks(place, [r[0] for r in rows], fontsize=7)
    ax.set_ylim(-0.6, BARS - 0.4)
    if not rows:
        ax.text(0.5, 0.5, f"no bar of {LEAST:g} %", ha="center", transform=ax.transAxes, fontsize=8, color=MUTED)
    most = max((abs(v) for r in rows for v in r[1:]), default=1.0)
    ax.set_xlim(-1.1 * most, 1.1 * most)
    ax.tick_params(axis="x", labelsize=7)
    ax.set_xlabel("change of the figure, %", fontsize=7, labelpad=1)
    ax.set_title(panel.title, fontsize=8, color=INK, loc="right")
    return ax


def _handles() -> tuple[list["Artist"], list[str]]:
    """Legend of the two bars."""
    from matplotlib.patches import Patch

    less = Patch(facecolor=LESS, edgecolor=INK, linewidth=0.4)
    more = Patch(facecolor=MORE, edgecolor=INK, linewidth=0.4, hatch="///")
    return [less, more], ["dimension less", "dimension more"]


def front_figure(title: str, front: Front, path: str | Path, note: str) -> Path:
    """Misses against change, and every figure over the wanted one along the front, as a PNG.

    Where the figures cannot all be met, their misses against each other instead.
    """
    height = 4.9 + KEYS + NOTE
    figure = new_figure(WIDTH, height)
    figure.text(0.5, 1.0 - 0.25 / height, title, ha="center", fontsize=12, color=INK)
    bottom, tall = (NOTE + 0.6 + KEYS) / height, 3.55 / height
    draw_misses(figure.add_axes((0.065, bottom, 0.39, tall)), front)
    ax = figure.add_axes((0.53, bottom, 0.45, tall))
    if front.misses.max(axis=1).min() > 1.0:
        draw_exchange(ax, front)
    else:
        draw_ratios(ax, front)
    add_note(figure, note)
    return save(figure, path)


def draw_misses(ax: "Axes", front: Front) -> "Axes":
    """Largest miss of the wanted figures against the change of the dimensions."""
    tidy(ax)
    worst = front.misses.max(axis=1)
    order = np.argsort(front.changes)
    line = "" if worst.min() > 1.0 else "-"  # a curve where one trade is made, points where figures trade too
    ax.plot(front.changes[order], worst[order], color=MUTED, marker=".", linestyle=line, label="searched (reduced)")
    ax.axhspan(0.0, 1.0, color="#e8f2ea")
    ax.text(
        0.01,
        0.5,
        "within tolerance",
        fontsize=7,
        color=MUTED,
        ha="left",
        va="center",
        transform=ax.get_yaxis_transform(),
    )
    ax.set_yscale("symlog", linthresh=1.0)
    ax.yaxis.set_major_formatter("{x:g}")
    ax.set_ylim(bottom=0.0)
    ax.plot(front.shown_changes, front.shown_misses, "o", color=SERIES[0], markersize=6, label="simulated")
    for name, change, miss in zip(front.names, front.shown_changes, front.shown_misses, strict=True):
        ax.annotate(name, (change, miss), textcoords="offset points", xytext=(6, 5), fontsize=7)
    ax.legend(fontsize=7, framealpha=0.9)
    ax.set_xlabel("change from the given design (root mean square over the dimensions), %", fontsize=8)
    ax.set_ylabel("largest miss of a wanted figure, in its tolerances", fontsize=8)
    return ax


def draw_ratios(ax: "Axes", front: Front) -> "Axes":
    """Every figure over the wanted one along the front: lines reduced, marks simulated."""
    tidy(ax)
    order = np.argsort(front.changes)
    for k, label in enumerate(front.labels):
        colour = SERIES[k % len(SERIES)]
        ax.plot(
            front.changes[order], front.over[order, k], color=colour, linestyle=STYLES[k % len(STYLES)], label=label
        )
        ax.plot(front.shown_changes, front.shown_over[:, k], color=colour, marker=MARKERS[k], linestyle="")
    ax.axhline(1.0, color=INK, linewidth=0.8)
    ax.set_xlabel("change from the given design (root mean square over the dimensions), %", fontsize=8)
    ax.set_ylabel("figure over the wanted one", fontsize=8)
    ax.legend(  # under the axes, where no line is
        fontsize=7, frameon=False, ncols=2, loc="upper left", bbox_to_anchor=(0.0, -0.14), borderaxespad=0.0
    )
    return ax


def draw_exchange(ax: "Axes", front: Front) -> "Axes":
    """Misses of all figures, one line a design of the front: darker for those that change less."""
    tidy(ax)
    place = np.arange(len(front.labels))
    span = max(float(np.ptp(front.changes)), 1e-12)
    for i in np.argsort(-front.changes):
        grey = 0.15 + 0.65 * (front.changes[i] - front.changes.min()) / span
        ax.plot(place, front.misses[i], color=str(grey), marker=".", linewidth=0.9)
    ax.axhspan(0.0, 1.0, color="#e8f2ea")
    ax.set_yscale("symlog", linthresh=1.0)
    ax.yaxis.set_major_formatter("{x:g}")
    ax.set_ylim(bottom=0.0)
    ax.set_xlim(-0.5, len(place) - 0.5)
    ax.set_xticks(place, [name.replace(", ", "\n") for name in front.labels], fontsize=7)
    ax.set_ylabel("miss, in tolerances; a line is a design (dark: little changed)", fontsize=8)
    return ax


def stackup_figure(title: str, stack: Stack, path: str | Path, note: str) -> Path:
    """Histogram of the figure with its band, and each tolerance's share of the variance, as a PNG."""
    height = 4.6 + NOTE
    figure = new_figure(WIDTH, height)
    figure.text(0.5, 1.0 - 0.25 / height, title, ha="center", fontsize=12, color=INK)
    bottom, tall = (NOTE + 0.55) / height, 3.25 / height
    draw_histogram(figure.add_axes((0.06, bottom, 0.4, tall)), stack)
    draw_shares(figure.add_axes((0.73, bottom, 0.25, tall)), stack)
    add_note(figure, note)
    return save(figure, path)


def draw_histogram(ax: "Axes", stack: Stack) -> "Axes":
    """Histogram of the figure, its nominal value, the band, the points that were simulated."""
    tidy(ax)
    counts, edges, _ = ax.hist(stack.values, bins="fd", color=SUPPORT, edgecolor="white", linewidth=0.4)
    top = float(np.max(counts))
    ax.axvline(stack.nominal, color=INK, linewidth=1.2, label="nominal design")
    if stack.band is not None:
        ax.axvspan(*stack.band, color=SERIES[2], alpha=0.12, label="allowed band")
        for end in stack.band:
            ax.axvline(end, color=SERIES[2], linewidth=1.0, linestyle="--")
    if len(stack.checked):
        height = np.full(len(stack.checked), -0.04 * top)
        ax.plot(stack.checked[:, 1], height, "|", color=SERIES[1], markersize=9, label="simulated points")
    ax.set_ylim(-0.08 * top, 1.25 * top)
    ax.set_xlabel(stack.label, fontsize=8)
    ax.set_ylabel("points", fontsize=8)
    ax.legend(fontsize=7, loc="upper right", framealpha=0.9)
    ax.set_title(stack.text, fontsize=8, color=INK, loc="left")
    return ax


def draw_shares(ax: "Axes", stack: Stack) -> "Axes":
    """Share of each tolerance in the variance, the largest on top, with its interval."""
    tidy(ax)
    rows = sorted(stack.shares, key=lambda r: r[1])
    place = np.arange(len(rows))
    share = np.array([r[1] for r in rows])
    ends = np.array([[max(r[1] - r[2], 0.0) for r in rows], [max(r[3] - r[1], 0.0) for r in rows]])
    ax.barh(place, 100.0 * share, xerr=100.0 * ends, height=0.6, color=SERIES[0], ecolor=INK, capsize=2)
    ax.set_yticks(place, [r[0] for r in rows], fontsize=7)
    ax.set_ylim(-0.6, max(len(rows), 4) - 0.4)
    ax.set_xlim(0.0, 105.0)
    ax.set_xlabel("share of the variance of the figure's logarithm, %", fontsize=8)
    return ax
