"""Critical loads against unsupported length."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from ...bench.column import ColumnTest
from ...units import from_si
from ..style import MUTED, SERIES
from .marks import finish, mark, plain_ticks, refuse_none

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def draw_column(ax: Axes, results: Sequence[tuple[str, ColumnTest]]) -> Axes:
    """Critical load with a tight (full line) and a loose (dashed) distal support; both axes logarithmic."""
    from matplotlib.lines import Line2D

    refuse_none(results)
    handles = []
    for k, (name, test) in enumerate(results):
        x, scale = from_si(1.0, "mm") * test.unsupported, from_si(1.0, "gf")
        style = mark(k, len(x), 13)
        (line,) = ax.loglog(x, scale * test.clamped, label=name, **style)
        ax.loglog(x, scale * test.pinned, linestyle="--", color=SERIES[k % len(SERIES)], linewidth=1.0)
        handles.append(line)
    handles += [
        Line2D([], [], color=MUTED, label="distal end clamped (tight mouth)"),
        Line2D([], [], color=MUTED, linestyle="--", label="distal end pinned (loose mouth)"),
    ]
    plain_ticks(ax, "x")
    plain_ticks(ax, "y")
    return finish(ax, "Column strength", "unsupported length, mm", "critical push, gf", handles=handles)
