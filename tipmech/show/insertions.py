"""Insertions of one case over a calibrated wire: forces against feed, and the outcome of each scale.

Draws finished results only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ..outcome import LABEL_WORDS, Label
from . import style

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Array = NDArray[np.float64]

WIDTH, HEIGHT = 12.0, 4.9  # inches


@dataclass(frozen=True)
class Line:
    """One insertion: scale of EI, its label, and feed (m), push and tip force (N), each of shape (n,)."""

    scale: float
    label: Label
    feed: Array
    push: Array
    tip_force: Array


def insertions_figure(title: str, median: Line, drawn: Sequence[Line], path: str | Path, note: str) -> Path:
    """Push and tip force over feed of every wire, coloured by outcome, and scale against outcome, as a PNG."""
    figure = style.new_figure(WIDTH, HEIGHT)
    figure.text(0.5, 1.0 - 0.25 / HEIGHT, title, ha="center", fontsize=12, color=style.INK)
    bottom, tall = 1.05 / HEIGHT, 3.2 / HEIGHT
    for left, field, label in ((0.055, "push", "push at the hand, mN"), (0.375, "tip_force", "force on the tip, mN")):
        draw_forces(figure.add_axes((left, bottom, 0.265, tall)), field, label, median, drawn)
    draw_outcomes(figure.add_axes((0.825, bottom, 0.16, tall)), median, drawn)
    style.add_note(figure, note)
    return style.save(figure, path)


def draw_forces(ax: Axes, field: str, label: str, median: Line, drawn: Sequence[Line]) -> Axes:
    """A force of every wire over its feed; the median wire's thick on top, a mark where a run ended."""
    style.tidy(ax)
    for line in (*drawn, median):
        colour, force = style.LABEL_COLOURS[line.label], 1e3 * getattr(line, field)
        thick = line is median
        ax.plot(1e3 * line.feed, force, color=style.INK if thick else colour, linewidth=1.8 if thick else 0.9)
        if len(force):
            ax.plot(1e3 * line.feed[-1], force[-1], "o", color=colour, markersize=5 if thick else 3.5)
    ax.set_xlabel("feed, mm", fontsize=8)
    ax.set_ylabel(label, fontsize=8)
    return ax


def draw_outcomes(ax: Axes, median: Line, drawn: Sequence[Line]) -> Axes:
    """Outcome of each scale: a mark for a wire, a ring for the median one."""
    style.tidy(ax)
    present = [label for label in Label if any(line.label == label for line in (*drawn, median))]
    for line in drawn:
        colour = style.LABEL_COLOURS[line.label]
        ax.plot(line.scale, present.index(line.label), "o", color=colour, markersize=6)
    ax.plot(
        median.scale, present.index(median.label), "o", markersize=11, markerfacecolor="none", color=style.INK,
        label="median wire",
    )  # fmt: skip
    ax.set_yticks(range(len(present)), [LABEL_WORDS[label].replace(", ", ",\n") for label in present], fontsize=7)
    ax.set_ylim(-0.6, max(len(present), 3) - 0.4)
    ax.set_xlabel("scale of EI (drawing = 1)", fontsize=8)
    ax.legend(fontsize=7, loc="upper right", framealpha=0.9)
    return ax
