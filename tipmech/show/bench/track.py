"""Trackability: the push along a bend over friction, over stiffness, and over the way the tip has gone."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ...bench.track import Track
from ...units import UNITS, from_si
from ..style import SERIES, tidy

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from numpy.typing import NDArray

MARKERS = ("o", "s", "D", "^", "v", "x")
READING = "solid: drag; dashed: against {:.3g} mN on the tip"


def draw_track(ax: Axes, results: Sequence[tuple[str, Track]]) -> Axes:
    """Push over friction, gf: without resistance (solid) and with it (dashed); a ring at the wire's own friction.

    Parameters
    ----------
    ax : Axes
    results : sequence of (str, Track)
        name for the legend and the finished test
    """
    for k, (name, r) in enumerate(results):
        text = f"{name}: drag {from_si(r.drag, 'gf'):.3g} gf"
        _pair(ax, k, r.frictions, r.over_friction, text)
        ax.plot(
            [r.friction], [from_si(r.drag, "gf")], "o", color=SERIES[k % len(SERIES)], markerfacecolor="white",
            markersize=8, zorder=3,
        )  # fmt: skip
    ax.set_xlim(left=0.0)
    return _finish(ax, "friction coefficient in the tube, -", results)


def draw_track_stiffness(ax: Axes, results: Sequence[tuple[str, Track]]) -> Axes:
    """Push at the wire's own friction over a factor of its stiffness, gf; arguments as for `draw_track`."""
    for k, (name, r) in enumerate(results):
        _pair(ax, k, r.scales, r.over_stiffness, name)
    ax.set_xscale("log", base=2)
    ticks = sorted({float(v) for _, r in results for v in r.scales})
    ax.set_xticks(ticks, [f"{v:g}" for v in ticks])
    _log_push(ax)
    return _finish(ax, "stiffness EI and GJ of the whole wire, times its own", results)


def draw_track_way(ax: Axes, results: Sequence[tuple[str, Track]]) -> Axes:
    """Drag at the wire's own friction over how far its tip has gone past the bend, gf; as `draw_track`."""
    for k, (name, r) in enumerate(results):
        colour, marker = SERIES[k % len(SERIES)], MARKERS[k % len(MARKERS)]
        ax.plot(r.ways * 1e3, r.over_way / UNITS["gf"], color=colour, marker=marker, markersize=4, label=name)
    _log_push(ax)
    _finish(ax, "tip past the bend, mm", ())
    ax.set_ylabel("push without resistance, gf", fontsize=9)
    return ax


def _pair(ax: Axes, k: int, x: NDArray[np.float64], push: NDArray[np.float64], name: str) -> None:
    colour, marker = SERIES[k % len(SERIES)], MARKERS[k % len(MARKERS)]
    ax.plot(x, push[:, 0] / UNITS["gf"], color=colour, marker=marker, markersize=4, linewidth=1.6, label=name)
    ax.plot(x, push[:, 1] / UNITS["gf"], color=colour, marker=marker, markersize=3, linewidth=1.0, linestyle="--")


def _log_push(ax: Axes) -> None:
    """Logarithmic axis of the push with plain numbers at 1, 2, 5 of each decade."""
    from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

    ax.set_yscale("log")
    ax.yaxis.set_major_locator(LogLocator(10.0, subs=(1.0, 2.0, 5.0)))
    ax.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    ax.yaxis.set_minor_formatter(NullFormatter())


def _finish(ax: Axes, label: str, results: Sequence[tuple[str, Track]]) -> Axes:
    ax.set_xlabel(label, fontsize=9)
    ax.set_ylabel("push, gf", fontsize=9)
    loads = sorted({r.resistance for _, r in results})
    title = READING.format(from_si(loads[0], "mN")) if len(loads) == 1 else None
    ax.legend(fontsize=7.5, frameon=False, loc="best", title=title, title_fontsize=7.5)
    tidy(ax)
    return ax
