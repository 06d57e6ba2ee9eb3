"""Least bend radii along wires, and what a bend around a mandrel leaves."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from ...bench.bend import WOUND, BendTest
from ...units import from_si
from ..style import MUTED, SERIES
from .marks import finish, mark, plain_ticks, refuse_none

if TYPE_CHECKING:
    from matplotlib.axes import Axes

DASHES: dict[str, Any] = {"core": "-", "ribbon": "-.", "strand": (0, (5, 1, 1, 1, 1, 1)), "coil": "--", "jacket": ":"}
WIDTHS = {"core": 1.6, "ribbon": 1.6}
ROOM = 0.45  # of the curves' range: added above them for the legend


def draw_bend(ax: Axes, results: Sequence[tuple[str, BendTest]]) -> Axes:
    """Bend radius at which each part reaches its limit strain, along the distal length; logarithmic."""
    from matplotlib.lines import Line2D

    refuse_none(results)
    handles, words = [], dict[str, None]()
    for k, (name, test) in enumerate(results):
        x = from_si(1.0, "mm") * test.station
        style = mark(k, len(x))
        for part, radius in zip(test.parts, from_si(1.0, "mm") * test.limit_radius, strict=True):
            word = part.split()[0]
            words[word] = None
            ax.semilogy(x, radius, **{**style, "linestyle": DASHES[word], "linewidth": WIDTHS.get(word, 1.0)})
        handles.append(
            Line2D([], [], color=SERIES[k % len(SERIES)], marker=style["marker"], markersize=4.0, label=name)
        )
    handles += [Line2D([], [], color=MUTED, linestyle=DASHES[word], label=word) for word in words]
    low, high = ax.get_ylim()
    ax.set_ylim(low, high * (high / low) ** ROOM)
    plain_ticks(ax, "y")
    title = "Bend radius at which each part reaches its limit"
    return finish(
        ax,
        title,
        "distance from the tip, mm",
        "bend radius of the axis, mm",
        handles=handles,
        ncols=2,
        loc="upper left",
    )


def draw_springback(ax: Axes, results: Sequence[tuple[str, BendTest]]) -> Axes:
    """Angle that stays of a turn around mandrels of a row of radii."""
    refuse_none(results)
    for k, (name, test) in enumerate(results):
        text = f"{name}: sets below {from_si(test.set_radius, 'mm'):.2g} mm"
        x, y = from_si(1.0, "mm") * test.mandrel, from_si(1.0, "deg") * test.residual_angle
        ax.semilogx(x, y, label=text, **mark(k, len(x), 12))
    plain_ticks(ax, "x")
    at = ", ".join(f"{s:g}" for s in sorted({from_si(test.shaped_at, "mm") for _, test in results}))
    title = f"Shape kept {at} mm from the tip"
    turn = from_si(WOUND, "deg")
    return finish(ax, title, "mandrel radius, mm", f"angle kept of a bend by {turn:g}°, degrees")
