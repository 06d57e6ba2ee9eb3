"""How wires laid over each other are told apart, in grey too: colour, marker and the wire's name on its line."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from ..style import INK, MUTED, SERIES, tidy

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.lines import Line2D

Array = NDArray[np.float64]

R = TypeVar("R")

MARKERS = ("o", "s", "^", "D", "v", "P", "X", "*")
TITLE, LABEL, KEY = 9.0, 8.0, 6.5  # points, type of a panel
KEY_ROW, ABOVE = 9.5, 5.0  # points: a row of keys, and above the last one
PLACES = 33  # of a line, tried for its name
WIDE = 8.0  # largest over least value from which an axis is logarithmic
CLEAR, APART = 11.0, 18.0  # points: a name as far as this from other lines, from other names, could lie no better


def colour(k: int) -> str:
    """Colour of wire number k."""
    return SERIES[k % len(SERIES)]


def mark(k: int, points: int, wanted: int = 6) -> dict[str, Any]:
    """Plot options of wire number k: a colour, and about `wanted` markers along a line of `points` points."""
    return {
        "color": colour(k),
        "marker": MARKERS[k % len(MARKERS)],
        "markevery": (k % 2, max(1, points // wanted)),
        "markersize": 3.5,
        "linewidth": 1.4,
    }


def key(label: str, **look: Any) -> Line2D:
    """A line for the keys of a panel: what a line style or sign means with every wire."""
    from matplotlib.lines import Line2D

    return Line2D([], [], **{"color": MUTED, "linewidth": 1.2, "markersize": 4.5, **look}, label=label)


def finish(
    ax: Axes,
    title: str,
    x: str,
    y: str,
    named: Sequence[tuple[str, Line2D]] = (),
    keys: Sequence[Line2D] = (),
    columns: int = 3,
) -> Axes:
    """Title, keys under it, labels with units, frame, and the wires' names on their lines.

    Keys stand outside the axes, so that they hide no line. Limits and scales must be set before.

    Parameters
    ----------
    ax : Axes
    title, x, y : str
        title and axis labels, with units
    named : sequence of (str, Line2D)
        name of a wire ("" for none) and the line it is written on
    keys : sequence of Line2D
        from `key`
    columns : int
        most keys in a row
    """
    rows = -(-len(keys) // columns)
    ax.set_xlabel(x, fontsize=LABEL)
    ax.set_ylabel(y, fontsize=LABEL)
    ax.set_title(title, fontsize=TITLE, loc="left", color=INK, pad=ABOVE + KEY_ROW * rows)
    tidy(ax)
    if keys:
        ax.legend(
            handles=list(keys), ncols=columns, loc="lower left", bbox_to_anchor=(0.0, 1.0), fontsize=KEY, frameon=False,
            borderaxespad=0.1, borderpad=0.1, labelspacing=0.25, columnspacing=1.2, handlelength=2.2, handletextpad=0.5,
        )  # fmt: skip
    names(ax, named)
    return ax


def names(ax: Axes, named: Sequence[tuple[str, Line2D]]) -> None:
    """Write each wire's name on its line, at the place where other lines and names leave most room."""
    from matplotlib.colors import to_hex

    ax.autoscale_view()
    lines = {line: _seen(ax, line) for line in ax.lines if line.get_linestyle() != "None"}
    placed: list[Array] = []
    for name, line in named:
        own = lines.get(line)
        if not name or own is None or not len(own):
            continue
        places = own[np.linspace(0, len(own) - 1, PLACES + 2).astype(int)[1:-1]]
        others = [points for other, points in lines.items() if other is not line and len(points)]
        room = np.minimum(_away(places, others) / CLEAR, 1.0) + 2.0 * np.minimum(_away(places, placed) / APART, 1.0)
        best = int(np.argmax(room))
        placed.append(places[best : best + 1])
        x, y = ax.transData.inverted().transform(places[best] * _pixels(ax))
        badge(ax, float(x), float(y), name, to_hex(line.get_color()))


def badge(ax: Axes, x: float, y: float, name: str, edge: str) -> None:
    """A wire's name in a frame of its colour, at (x, y) of the data."""
    frame = {"boxstyle": "round,pad=0.18", "facecolor": "white", "edgecolor": edge, "linewidth": 0.9}
    ax.text(
        x, y, name, fontsize=KEY, fontweight="bold", color=INK, ha="center", va="center", zorder=9, bbox=frame,
        clip_on=True,
    )  # fmt: skip


def far_apart(largest: Sequence[float]) -> bool:
    """Whether wires differ so much that a linear axis would press the softer ones onto it."""
    return min(largest) > 0.0 and max(largest) > WIDE * min(largest)


def present(results: Sequence[tuple[str, R | None]]) -> list[tuple[int, str, R]]:
    """Number, name and result of the wires that have one; the number decides colour and marker in every panel.

    Raises
    ------
    ValueError
        for no result
    """
    shown = [(k, name, result) for k, (name, result) in enumerate(results) if result is not None]
    if not shown:
        message = "no result to draw; needed: at least one"
        raise ValueError(message)
    return shown


def _pixels(ax: Axes) -> float:
    """Pixels of a point of type."""
    return float(ax.get_figure(root=True).dpi) / 72.0  # type: ignore[union-attr]


def _seen(ax: Axes, line: Line2D) -> Array:
    """Points along what the axes show of a line, evenly spaced, shape (n, 2), in points of type."""
    data = np.column_stack([np.asarray(line.get_xdata(), dtype=float), np.asarray(line.get_ydata(), dtype=float)])
    with np.errstate(all="ignore"):
        at = line.get_transform().transform(data[np.all(np.isfinite(data), axis=1)])
    at = at[np.all(np.isfinite(at), axis=1)]
    if len(at) < 2:
        return at / _pixels(ax)
    way = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(at, axis=0).T))])
    even = np.arange(0.0, way[-1], _pixels(ax))
    dense = np.column_stack([np.interp(even, way, at[:, 0]), np.interp(even, way, at[:, 1])])
    box = ax.get_window_extent()
    inside = (dense[:, 0] > box.x0) & (dense[:, 0] < box.x1) & (dense[:, 1] > box.y0) & (dense[:, 1] < box.y1)
    return np.asarray(dense[inside] / _pixels(ax))


def _away(places: Array, others: Sequence[Array]) -> Array:
    """Distance of each place from the nearest of other points, in points of type; infinite without any."""
    if not others:
        return np.full(len(places), np.inf)
    away = places[:, None, :] - np.concatenate(others)[None, :, :]
    return np.asarray(np.min(np.hypot(away[..., 0], away[..., 1]), axis=1))
