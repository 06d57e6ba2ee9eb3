"""The tip-load bench: axial force over plate travel, and the shapes in which the wire gives way."""

from collections.abc import Sequence
from math import isfinite
from typing import TYPE_CHECKING

import numpy as np

from ...bench.tip_load import TRAVEL, TipLoad
from ...units import to_si
from ..style import INK, MUTED, SERIES, tidy

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LINES = ("-", "--", ":", "-.")  # one for each free length
SHAPES = 6  # drawn of a test


def draw_tip_load(ax: "Axes", results: Sequence[tuple[str, Sequence[TipLoad]]]) -> "Axes":
    """Axial force over plate travel: a colour for each wire, a line style for each free length, a ring at slip."""
    for k, (_, tests) in enumerate(results):
        for test, line in zip(tests, LINES, strict=False):
            travel, force = test.displacement * 1e3, test.axial / to_si(1.0, "gf")
            colour = SERIES[k % len(SERIES)]
            ax.plot(travel, force, line, color=colour, linewidth=1.4)
            if isfinite(test.slipped_at):
                at = test.slipped_at * 1e3
                ax.plot(at, np.interp(at, travel, force), "o", mfc="white", mec=colour, markersize=4)
    ax.axvline(TRAVEL * 1e3, color=MUTED, linewidth=0.7)
    for test, line in zip(results[0][1], LINES, strict=False):
        ax.plot([], [], line, color=INK, linewidth=1.4, label=f"{test.free_length * 1e3:g} mm free")
    ax.legend(fontsize=7, framealpha=0.9, loc="best")
    ax.set_xlabel("plate travel, mm", fontsize=8)
    ax.set_title("tip load: axial force, gf", fontsize=9, loc="left")
    ax.set_ylim(bottom=0.0)
    tidy(ax)
    return ax


def draw_shapes(ax: "Axes", results: Sequence[tuple[str, TipLoad]]) -> "Axes":
    """Shapes of a test at even steps of travel, side by side for each wire; the plate comes from above."""
    room = max(float(np.max(np.hypot(*np.moveaxis(test.shapes[..., :2], -1, 0)))) for _, test in results) * 1e3
    gap = 1.5 * room
    for k, (_, test) in enumerate(results):
        travel = np.linspace(0.0, test.travel, SHAPES)
        rows = np.unique(np.searchsorted(test.displacement, travel * (1.0 - 1e-9)))
        last = test.shapes[rows[-1], :, :2]
        far = last[np.argmax(np.hypot(*last.T))]
        side = far / max(float(np.hypot(*far)), 1e-30)  # the plane it bows in
        for i, row in enumerate(rows):
            across, along = test.shapes[row, :, :2] @ side * 1e3 + k * gap, test.shapes[row, :, 2] * 1e3
            fade = 0.25 + 0.75 * (i + 1) / len(rows)
            ax.plot(across, along, color=SERIES[k % len(SERIES)], alpha=fade, linewidth=1.3)
        top = float(test.shapes[rows[-1], -1, 2]) * 1e3
        ax.plot(k * gap + np.array([-0.5, 0.9]) * room, [top, top], color=INK, linewidth=1.0)
    ax.axhline(0.0, color=INK, linewidth=1.5)
    longest, travel_mm = results[0][1].free_length * 1e3, max(test.travel for _, test in results) * 1e3
    ax.set_title(f"shapes while pressed, {longest:g} mm free, {travel_mm:g} mm travel", fontsize=9, loc="left")
    ax.set_xlabel("sideways, mm (to scale beside length)", fontsize=8)
    ax.set_ylabel("from the clamp, mm", fontsize=8)
    ax.set_aspect("equal", adjustable="datalim")
    tidy(ax)
    return ax
