"""Apparent and local bending rigidity along wires."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from ...bench.flexure import FlexureTest
from ...units import from_si
from .marks import colour, finish, key, mark, present

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def draw_flexure(ax: Axes, results: Sequence[tuple[str, FlexureTest | None]]) -> Axes:
    """Apparent EI at stations (lines with markers) over the wire's own EI (thin lines); logarithmic."""
    shown = present(results)
    named = []
    for k, name, test in shown:
        x, scale = from_si(1.0, "mm") * test.station, from_si(1.0, "N_mm2")
        (line,) = ax.semilogy(x, scale * test.apparent, **mark(k, len(x), 12))
        ax.semilogy(x, scale * test.local, color=colour(k), linewidth=0.8, linestyle=":")
        named.append((name, line))
    keys = [
        key("measured: EI = F L³/(48 d)", marker="o", markersize=3.5),
        key("EI of the section there", linewidth=0.8, linestyle=":"),
    ]
    spans = sorted({from_si(test.span, "mm") for *_, test in shown})
    title = f"Three-point flexure, span L = {' and '.join(f'{s:g}' for s in spans)} mm"
    return finish(ax, title, "pushed point from the tip, mm", "bending stiffness EI, N mm²", named, keys, 2)
