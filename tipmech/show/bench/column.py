"""Critical loads against unsupported length."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from ...bench.column import ColumnTest
from ...units import from_si
from ..log_axis import plain_numbers
from .marks import finish, key, mark, present

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def draw_column(ax: Axes, results: Sequence[tuple[str, ColumnTest | None]], *, detail: bool = True) -> Axes:
    """Critical load with a tight (full line) and a loose (dashed) distal support; both axes logarithmic.

    detail : with the loose support
    """
    shown = present(results)
    named = []
    for k, name, test in shown:
        x, scale = from_si(1.0, "mm") * test.unsupported, from_si(1.0, "mN")
        style = mark(k, len(x), 13)
        (line,) = ax.loglog(x, scale * test.clamped, **style)
        if detail:
            ax.loglog(x, scale * test.pinned, **{**style, "linestyle": "--", "linewidth": 0.9})
        named.append((name, line))
    keys = [key("distal end clamped (tight mouth)")]
    keys += [key("pinned (loose mouth)", linestyle="--", linewidth=0.9)] if detail else []
    plain_numbers(ax.xaxis)
    plain_numbers(ax.yaxis)
    return finish(
        ax, "Column strength of the distal length", "unsupported length, mm", "push at which it buckles, mN", named,
        keys, 2,
    )  # fmt: skip
