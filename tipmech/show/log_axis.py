"""Ticks of a logarithmic axis: plain numbers that stand apart, whether it spans a tenth of a decade or ten."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from matplotlib.axis import Axis
    from matplotlib.ticker import Locator

STEPS: tuple[tuple[float, ...], ...] = (
    (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0),
    (1.0, 1.5, 2.0, 3.0, 5.0, 7.0),
    (1.0, 2.0, 5.0),
    (1.0, 3.0),
    (1.0,),
)
"""Numbers of a decade, from fine to coarse."""
MOST, FEWEST = 7, 3  # ticks: above the first a coarser step is taken; below the second evenly spaced numbers
APART = {"x": 0.45, "y": 0.22}  # inch, between neighbours: room for a label of 8 points


def plain_numbers(axis: Axis) -> None:
    """Write plain numbers along a logarithmic axis, chosen when it is drawn, for the limits that it then has."""
    from matplotlib.ticker import FuncFormatter, NullLocator

    axis.set_major_locator(_locator())
    axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axis.set_minor_locator(NullLocator())


def ticks(low: float, high: float, apart: float) -> list[float]:
    """Numbers from `low` to `high`, both above 0, neighbours at least `apart` of the axis from each other."""
    from matplotlib.ticker import MaxNLocator

    decades = 10.0 ** np.arange(np.floor(np.log10(low)), np.ceil(np.log10(high)) + 1.0)
    least = apart * np.log(high / low)
    found = np.array([])
    for numbers in STEPS:
        every = np.outer(decades, numbers).ravel()
        found = every[(every >= low) & (every <= high)]
        if numbers is STEPS[0] and len(found) < FEWEST:
            return [float(v) for v in MaxNLocator(4).tick_values(low, high) if low <= v <= high]
        if len(found) <= MOST and np.all(np.diff(np.log(found)) >= least):
            return [float(v) for v in found]
    every_nth = int(np.ceil(max(len(found) / MOST, least / np.log(10.0))))
    return [float(v) for v in found[::every_nth]]


def _locator() -> Locator:
    """The locator that asks for the axis' limits and length."""
    from matplotlib.ticker import Locator

    class Plain(Locator):
        def __call__(self) -> list[float]:
            low, high = sorted(self.axis.get_view_interval())  # type: ignore[union-attr]
            return self.tick_values(low, high)

        def tick_values(self, vmin: float, vmax: float) -> list[float]:
            ax, name = self.axis.axes, self.axis.axis_name  # type: ignore[union-attr]
            box = ax.get_window_extent()
            inches = (box.width if name == "x" else box.height) / ax.get_figure(root=True).dpi  # type: ignore[union-attr]
            return ticks(vmin, vmax, APART[name] / inches)

    return Plain()
