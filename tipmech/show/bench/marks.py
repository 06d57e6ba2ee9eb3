"""How wires laid over each other are told apart: colour and marker, so that a greyscale print still shows it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

from ..style import INK, SERIES, tidy

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

MARKERS = ("o", "s", "^", "D", "v", "P")


def mark(k: int, points: int, wanted: int = 6) -> dict[str, Any]:
    """Plot options of wire number k: a colour, and about `wanted` markers along a line of `points` points."""
    return {
        "color": SERIES[k % len(SERIES)],
        "marker": MARKERS[k % len(MARKERS)],
        "markevery": (k % 2, max(1, points // wanted)),
        "markersize": 4.0,
        "linewidth": 1.5,
    }


def finish(ax: Axes, title: str, x: str, y: str, **legend: Any) -> Axes:
    """Labels with units, title, legend, frame."""
    ax.set_xlabel(x, fontsize=9)
    ax.set_ylabel(y, fontsize=9)
    ax.set_title(title, fontsize=10, loc="left", color=INK)
    tidy(ax)
    ax.legend(**{"fontsize": 7.5, "frameon": False, **legend})
    return ax


def plain_ticks(ax: Axes, axis: Literal["x", "y"]) -> None:
    """Ticks at 1, 2 and 5 of each decade on a logarithmic axis, written as plain numbers."""
    from matplotlib.ticker import FuncFormatter, LogLocator, NullLocator

    chosen = ax.xaxis if axis == "x" else ax.yaxis
    chosen.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0), numticks=30))
    chosen.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    chosen.set_minor_locator(NullLocator())


def refuse_none(results: Sequence[object]) -> None:
    """Raise where there is nothing to draw.

    Raises
    ------
    ValueError
        for no result
    """
    if not results:
        message = "no result to draw; needed: at least one"
        raise ValueError(message)
