"""The tip-load bench: axial force over plate travel, and the shapes in which the wire gives way."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite
from typing import TYPE_CHECKING

import numpy as np

from ...bench.tip_load import TRAVEL, TipLoad
from ...units import from_si
from ..style import INK, MUTED
from .marks import badge, colour, finish, key, mark, present

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LINES = ("-", "--", ":", "-.")  # one for each free length
SHAPES = 6  # drawn of a test
NAMED_AT = -0.09  # of the room of a wire: its name, below the clamp


def draw_tip_load(ax: Axes, results: Sequence[tuple[str, Sequence[TipLoad] | None]]) -> Axes:
    """Axial force over plate travel: a line style for each free length (m), a ring where the tip slips."""
    shown = present(results)
    named = []
    for k, name, tests in shown:
        for test, dash in zip(tests, LINES, strict=False):
            travel, force = from_si(1.0, "mm") * test.displacement, from_si(1.0, "gf") * test.axial
            (line,) = ax.plot(travel, force, **{**mark(k, len(travel)), "linestyle": dash})
            named.append((name, line))
            if isfinite(test.slipped_at):
                at = from_si(test.slipped_at, "mm")
                ax.plot(at, np.interp(at, travel, force), "o", mfc="white", mec=colour(k), markersize=6)
    ax.axvline(from_si(TRAVEL, "mm"), color=MUTED, linewidth=0.8, linestyle=(0, (1, 1)))
    tests = shown[0][2]
    several = len(tests) > 1
    keys = [
        key(f"{from_si(test.free_length, 'mm'):g} mm free", linestyle=dash)
        for test, dash in zip(tests, LINES, strict=False)
        if several
    ]
    keys.append(key(f"tip load: largest to {from_si(TRAVEL, 'mm'):g} mm", linewidth=0.8, linestyle=(0, (1, 1))))
    keys.append(key("tip slips", linestyle="", marker="o", markerfacecolor="white"))
    title = "Tip load" if several else f"Tip load, {from_si(tests[0].free_length, 'mm'):g} mm free"
    ax.set_ylim(bottom=0.0)
    return finish(ax, title, "travel of the plate, mm", "axial force, gf", named, keys)


def draw_shapes(ax: Axes, results: Sequence[tuple[str, TipLoad | None]]) -> Axes:
    """Shapes of a test at even steps of travel, side by side for each wire; the plate comes from above."""
    shown = present(results)
    room = max(float(np.max(np.hypot(*np.moveaxis(test.shapes[..., :2], -1, 0)))) for *_, test in shown) * 1e3
    gap = 1.5 * room
    for k, name, test in shown:
        travel = np.linspace(0.0, test.travel, SHAPES)
        rows = np.unique(np.searchsorted(test.displacement, travel * (1.0 - 1e-9)))
        last = test.shapes[rows[-1], :, :2]
        far = last[np.argmax(np.hypot(*last.T))]
        side = far / max(float(np.hypot(*far)), 1e-30)  # the plane it bows in
        for i, row in enumerate(rows):
            across, along = test.shapes[row, :, :2] @ side * 1e3 + k * gap, test.shapes[row, :, 2] * 1e3
            fade = 0.25 + 0.75 * (i + 1) / len(rows)
            ax.plot(across, along, color=colour(k), alpha=fade, linewidth=1.3)
        top = float(test.shapes[rows[-1], -1, 2]) * 1e3
        ax.plot(k * gap + np.array([-0.5, 0.9]) * room, [top, top], color=INK, linewidth=1.0)
        if name:
            badge(ax, k * gap, NAMED_AT * from_si(test.free_length, "mm"), name, colour(k))
    ax.axhline(0.0, color=INK, linewidth=1.5)
    free, most = (from_si(v, "mm") for v in (shown[0][2].free_length, max(test.travel for *_, test in shown)))
    ax.update_datalim([(0.0, 2.0 * NAMED_AT * free)])
    ax.set_aspect("equal", adjustable="datalim")
    keys = [key(f"plate after {most:g} mm of travel", color=INK, linewidth=1.0), key("clamp", color=INK, linewidth=1.8)]
    title = f"Shapes while pressed, {free:g} mm free, pale to dark"
    return finish(ax, title, "sideways, mm (same scale as length)", "from the clamp, mm", (), keys)
