"""Torque response: the tip's rotation over that of the proximal end, and how far it lags behind."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ...bench.torque import Torque
from ..style import MUTED
from .marks import colour, finish, key, mark, present

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.lines import Line2D

DOTTED = (0, (1, 2))
X = "rotation of the proximal end, deg"


def draw_torque(
    ax: Axes, results: Sequence[tuple[str, Torque | None]], straight: Sequence[tuple[str, Torque | None]] = ()
) -> Axes:
    """Tip against proximal rotation, deg; the dotted line is a wire without lag, a ring the start of a jump.

    Parameters
    ----------
    ax : Axes
    results : sequence of (str, Torque)
        name for the line and the finished test, of a shaped tip
    straight : the same wires with a straight tip, thin
    """
    shown = present(results)
    most, named = _most(shown), []
    ax.plot([0.0, most], [0.0, most], color=MUTED, linewidth=0.8, linestyle=DOTTED)
    for k, name, r in shown:
        (line,) = ax.plot(np.degrees(r.base), np.degrees(r.tip), **mark(k, len(r.base)))
        named.append((name, line))
        if r.jumps:
            at = np.degrees([(base, before) for base, before, _ in r.jumps])
            ax.plot(at[:, 0], at[:, 1], "o", color=colour(k), markerfacecolor="white", markersize=6, zorder=3)
    _thin(ax, straight, lag=False)
    _rotations(ax, most)
    keys = [
        key("no lag", linewidth=0.8, linestyle=DOTTED),
        *_thin_key(straight),
        key("whip begins: the tip jumps", linestyle="", marker="o", markerfacecolor="white"),
    ]
    return finish(ax, "Torque response, shaped tip", X, "rotation of the tip, deg", named, keys)


def draw_lag(
    ax: Axes, results: Sequence[tuple[str, Torque | None]], straight: Sequence[tuple[str, Torque | None]] = ()
) -> Axes:
    """Lag of the tip behind the proximal end, deg; arguments as for `draw_torque`."""
    shown = present(results)
    most, named = _most(shown), []
    ax.axhline(0.0, color=MUTED, linewidth=0.8, linestyle=DOTTED)
    for k, name, r in shown:
        (line,) = ax.plot(np.degrees(r.base), np.degrees(r.base - r.tip), **mark(k, len(r.base)))
        named.append((name, line))
    _thin(ax, straight, lag=True)
    _rotations(ax, most)
    keys = [key("no lag", linewidth=0.8, linestyle=DOTTED), *_thin_key(straight)]
    return finish(ax, "Lag of the tip behind the proximal end", X, "lag of the tip, deg", named, keys)


def _thin(ax: Axes, results: Sequence[tuple[str, Torque | None]], *, lag: bool) -> None:
    """The responses of straight tips: thin lines without marks or names."""
    for k, (_, r) in enumerate(results):
        if r is not None:
            ax.plot(np.degrees(r.base), np.degrees(r.base - r.tip if lag else r.tip), color=colour(k), linewidth=0.7)


def _thin_key(results: Sequence[tuple[str, Torque | None]]) -> list[Line2D]:
    """Key of those lines, where there are any."""
    return [key("thin: straight tip", linewidth=0.7)] if results else []


def _most(shown: Sequence[tuple[int, str, Torque]]) -> float:
    """Largest proximal rotation, deg."""
    return max(float(np.degrees(r.base[-1])) for *_, r in shown)


def _rotations(ax: Axes, most: float) -> None:
    ax.set_xlim(0.0, most)
    ax.set_xticks(np.arange(0.0, most + 1.0, 90.0))
