"""Torque response: the tip's rotation over that of the proximal end, and how far it lags behind."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ...bench.torque import Torque
from ..style import MUTED, SERIES, tidy

if TYPE_CHECKING:
    from matplotlib.axes import Axes

STYLES = ("-", "--", "-.", ":")


def draw_torque(ax: Axes, results: Sequence[tuple[str, Torque]]) -> Axes:
    """Tip against proximal rotation, deg; the dotted line is a wire without lag, a circle the start of a jump.

    Parameters
    ----------
    ax : Axes
    results : sequence of (str, Torque)
        name for the legend and the finished test
    """
    most = max((float(np.degrees(r.base[-1])) for _, r in results), default=360.0)
    ax.plot([0.0, most], [0.0, most], color=MUTED, linewidth=0.8, linestyle=(0, (1, 2)))
    for k, (name, r) in enumerate(results):
        colour, style = SERIES[k % len(SERIES)], STYLES[k % len(STYLES)]
        text = f"{name}: {_whip(r)}"
        ax.plot(np.degrees(r.base), np.degrees(r.tip), color=colour, linestyle=style, linewidth=1.6, label=text)
        if r.jumps:
            at = np.degrees([(base, before) for base, before, _ in r.jumps])
            ax.plot(at[:, 0], at[:, 1], "o", color=colour, markerfacecolor="white", markersize=5, zorder=3)
    return _finish(ax, most, "rotation of the tip, deg")


def draw_lag(ax: Axes, results: Sequence[tuple[str, Torque]]) -> Axes:
    """Lag of the tip behind the proximal end, deg; arguments as for `draw_torque`."""
    most = max((float(np.degrees(r.base[-1])) for _, r in results), default=360.0)
    ax.axhline(0.0, color=MUTED, linewidth=0.8, linestyle=(0, (1, 2)))
    for k, (name, r) in enumerate(results):
        lag = np.degrees(r.base - r.tip)
        ax.plot(
            np.degrees(r.base), lag, color=SERIES[k % len(SERIES)], linestyle=STYLES[k % len(STYLES)], linewidth=1.6,
            label=name,
        )  # fmt: skip
    low, high = ax.get_ylim()
    ax.set_ylim(low, high + 0.08 * (len(results) + 1) * (high - low))  # room for the legend
    return _finish(ax, most, "lag of the tip, deg")


def _whip(r: Torque) -> str:
    return f"whip {np.degrees(r.whip):.3g}°" if r.jumps else "no whip"


def _finish(ax: Axes, most: float, label: str) -> Axes:
    ax.set_xlim(0.0, most)
    ax.set_xticks(np.arange(0.0, most + 1.0, 90.0))
    ax.set_xlabel("rotation of the proximal end, deg", fontsize=9)
    ax.set_ylabel(label, fontsize=9)
    ax.legend(fontsize=7.5, frameon=False, loc="upper left")
    tidy(ax)
    return ax
