"""Trackability: the push along a bend over friction, over stiffness, and over the way the tip has gone."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ...bench.track import Track
from ...units import from_si
from ..log_axis import plain_numbers
from .marks import colour, finish, key, mark, present

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.lines import Line2D
    from numpy.typing import NDArray

PUSH = "push to advance, mN"


def draw_track(ax: Axes, results: Sequence[tuple[str, Track | None]], *, detail: bool = True) -> Axes:
    """Push over friction, mN: without resistance (solid) and with it (dashed); a ring at the wire's own friction.

    Parameters
    ----------
    ax : Axes
    results : sequence of (str, Track)
        name for the line and the finished test
    detail : bool
        with the push against a resistance
    """
    shown = present(results)
    named = []
    for k, name, r in shown:
        named.append((name, _pair(ax, k, r.frictions, r.over_friction, detail)))
        ax.plot(
            [r.friction], [from_si(r.drag, "mN")], "o", color=colour(k), markerfacecolor="white", markersize=7, zorder=3
        )
    ax.set_xlim(left=0.0)
    keys = [
        *_keys(shown, detail),
        key("its own friction", linestyle="", marker="o", markerfacecolor="white", markersize=6),
    ]
    return finish(ax, _title(shown, "friction"), "friction coefficient in the tube, -", PUSH, named, keys)


def draw_track_stiffness(ax: Axes, results: Sequence[tuple[str, Track | None]], *, detail: bool = True) -> Axes:
    """Push at the wire's own friction over a factor of its stiffness, mN; arguments as for `draw_track`."""
    shown = present(results)
    named = [(name, _pair(ax, k, r.scales, r.over_stiffness, detail)) for k, name, r in shown]
    ax.set_xscale("log", base=2)
    ticks = sorted({float(v) for *_, r in shown for v in r.scales})
    ax.set_xticks(ticks, [f"{v:g}" for v in ticks])
    ax.set_yscale("log")
    plain_numbers(ax.yaxis)
    x = "EI and GJ of the whole wire, times its own"
    return finish(ax, _title(shown, "stiffness"), x, PUSH, named, _keys(shown, detail))


def draw_track_way(ax: Axes, results: Sequence[tuple[str, Track | None]]) -> Axes:
    """Drag at the wire's own friction over how far its tip has gone past the bend, mN; as `draw_track`."""
    shown = present(results)
    named = []
    for k, name, r in shown:
        (line,) = ax.plot(r.ways * 1e3, from_si(1.0, "mN") * r.over_way, **mark(k, len(r.ways)))
        named.append((name, line))
    ax.set_yscale("log")
    plain_numbers(ax.yaxis)
    y = "push without resistance, mN"
    return finish(ax, _title(shown, "the tip's way"), "tip past the bend, mm", y, named)


def _pair(ax: Axes, k: int, x: NDArray[np.float64], push: NDArray[np.float64], detail: bool) -> Line2D:
    """Push without resistance (returned) and with it."""
    style, scale = mark(k, len(x)), from_si(1.0, "mN")
    (line,) = ax.plot(x, scale * push[:, 0], **style)
    if detail:
        ax.plot(x, scale * push[:, 1], **{**style, "linewidth": 0.9, "linestyle": "--"})
    return line


def _keys(shown: Sequence[tuple[int, str, Track]], detail: bool) -> list[Line2D]:
    loads = " or ".join(f"{v:.3g}" for v in sorted({from_si(r.resistance, "mN") for *_, r in shown}))
    against = key(f"against {loads} mN on the tip", linestyle="--", linewidth=0.9)
    return [key("tip free (drag)"), *([against] if detail else [])]


def _title(shown: Sequence[tuple[int, str, Track]], over: str) -> str:
    bends = sorted({(from_si(r.angle, "deg"), from_si(r.radius, "mm")) for *_, r in shown})
    words = " and ".join(f"{angle:.3g}°, R {radius:.3g} mm" for angle, radius in bends)
    return f"Push round a bend ({words}), over {over}"
