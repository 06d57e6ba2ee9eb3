"""The axis of distances from the tip: linear over the distal 40 mm, logarithmic beyond, so that a whole wire fits."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from .style import MUTED

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LINEAR = 40.0  # mm, to which distances are to scale: the tip's parts lie there
FOLD = 15.0  # mm of axis for each factor e beyond: 40 mm then take more than half of the axis of a 300 mm wire
NEAR, FAR = (
    (0.0, 10.0, 20.0, 30.0, 40.0),
    (60.0, 100.0, 150.0, 200.0, 300.0, 500.0, 1000.0, 2000.0, 3000.0),
)  # mm, ticks


def scaled(distance: Any) -> Any:
    """Place on the axis of a distance from the tip (mm), in mm of its linear part."""
    s = np.asarray(distance, dtype=float)
    return np.where(s <= LINEAR, s, LINEAR + FOLD * np.log(np.maximum(s, LINEAR) / LINEAR))


def unscaled(place: Any) -> Any:
    """Distance from the tip (mm) at a place on the axis."""
    x = np.asarray(place, dtype=float)
    return np.where(x <= LINEAR, x, LINEAR * np.exp(np.maximum(x - LINEAR, 0.0) / FOLD))


def spread_along(start: float, end: float, count: int) -> Any:
    """Distances from `start` to `end` (mm) that lie evenly on the axis, shape (count,)."""
    out = np.clip(unscaled(np.linspace(scaled(start), scaled(end), count)), start, end)
    out[[0, -1]] = start, end  # without the rounding of the way there and back
    return out


def distance_axis(ax: Axes, start: float, end: float) -> None:
    """Make the horizontal axis one of distances from `start` to `end` (mm), with a line where its scale changes."""
    from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator

    ax.set_xscale("function", functions=(scaled, unscaled))
    ax.set_xlim(start, end)
    ax.xaxis.set_major_locator(FixedLocator([t for t in (*NEAR, *FAR) if t <= end]))
    ax.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    ax.xaxis.set_minor_locator(NullLocator())
    if end > LINEAR:
        ax.axvline(LINEAR, color=MUTED, linewidth=0.8, linestyle=(0, (1, 2)), zorder=6)


def distance_label(end: float) -> str:
    """Label of the axis."""
    return "distance from the tip, mm" + (f" (beyond {LINEAR:g}: logarithmic)" if end > LINEAR else "")
