"""Apparent and local bending rigidity along wires."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from ...bench.flexure import FlexureTest
from ...units import from_si
from ..style import MUTED, SERIES
from .marks import finish, mark, refuse_none

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def draw_flexure(ax: Axes, results: Sequence[tuple[str, FlexureTest]]) -> Axes:
    """Apparent EI at stations (lines with markers) over the wire's own EI (thin lines); logarithmic."""
    from matplotlib.lines import Line2D

    refuse_none(results)
    handles = []
    for k, (name, test) in enumerate(results):
        x, scale = from_si(1.0, "mm") * test.station, from_si(1.0, "N_mm2")
        (line,) = ax.semilogy(x, scale * test.apparent, label=name, **mark(k, len(x), 12))
        ax.semilogy(x, scale * test.local, color=SERIES[k % len(SERIES)], linewidth=0.8, linestyle=":")
        handles.append(line)
    handles.append(Line2D([], [], color=MUTED, linewidth=0.8, linestyle=":", label="EI of the section at the station"))
    spans = sorted({from_si(test.span, "mm") for _, test in results})
    title = f"Three-point flexure, span {' and '.join(f'{s:g}' for s in spans)} mm"
    return finish(
        ax, title, "distance of the pushed point from the tip, mm", "apparent EI = F L³/(48 d), N mm²", handles=handles
    )
