"""Pieces of the pictures of an insertion, drawn in mm on given axes: wire, dimensions; also walls.py, support.py."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from . import style
from .view import Array, Wire

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import Normalize
    from matplotlib.path import Path

MM = 1e3  # mm per m
OUTER_LAYER = 0.4  # mm of outer wall drawn beyond the floor
ATTACHED = style.ATTACHED
PALE = 0.72  # whitening of what lies elsewhere
SHADES = 63  # steps of the strain's colours: neighbours cannot be told apart
OUTLINE = 0.035  # mm, drawn outside the wire's true diameter


def polygon(ax: Axes, x: Array, y: Array, **look: Any) -> None:
    """A filled polygon, mm. The axes' limits do not follow it: finding them would take longer than to draw it."""
    from matplotlib.patches import Polygon

    ax.add_artist(Polygon(np.column_stack([x, y]), closed=True, **look))


def area(ax: Axes, x: Array, low: Array | float, high: Array | float, **look: Any) -> None:
    """What lies between two heights over increasing x, mm; nothing where there are less than two points."""
    if len(x) > 1:
        low, high = np.broadcast_to(low, len(x)), np.broadcast_to(high, len(x))
        polygon(ax, np.concatenate([x, x[::-1]]), np.concatenate([low, high[::-1]]), **({"linewidth": 0} | look))


def line(ax: Axes, x: Any, y: Any, **look: Any) -> None:
    """A line, mm, as `polygon`."""
    from matplotlib.lines import Line2D

    ax.add_artist(Line2D(np.asarray(x), np.asarray(y), **look))


def draw_wire(
    ax: Axes, wire: Wire, height: Array, norm: Normalize | None, *, faint_true: bool = False, outline: float = OUTLINE
) -> None:
    """The wire as a tube of its own diameter coloured by bending strain, over s and `height` (m).

    The part in the false channel is outlined in magenta and lies under the flap, the rest has a dark outline and lies
    over it. `faint_true` draws the part outside the false channel pale, and under the other where both are at one
    place; `norm` None = one plain colour; `outline` in mm is drawn outside the wire's diameter.
    """
    false = (wire.side == 2) | (wire.side == 4)
    for part, colour, order, pale in (
        (~false, style.INK, 2.6 if faint_true else 5.0, PALE if faint_true else 0.0),
        (false, style.FALSE_OUTLINE, 3.0, 0.0),
    ):
        _tube(ax, wire, height, part, norm, (colour, outline, order, pale), joined=part is false)


def _tube(
    ax: Axes,
    wire: Wire,
    height: Array,
    part: NDArray[np.bool_],
    norm: Normalize | None,
    look: tuple[str, float, float, float],
    *,
    joined: bool,
) -> None:
    """Discs at the nodes and quadrilaterals between them, outline first, for the nodes of `part`.

    look : colour and width (mm) of the outline, drawing order, whitening 0 to 1; joined : with the pieces that lead to
    the nodes of the other part
    """
    from matplotlib import colormaps
    from matplotlib.collections import PathCollection
    from matplotlib.colors import to_rgba

    colour, outline, order, pale = look
    nodes = np.flatnonzero(part)
    if len(nodes) == 0:
        return
    x, y, r = wire.s * MM, height * MM, wire.radius * MM
    segments = np.flatnonzero(part[:-1] | part[1:] if joined else part[:-1] & part[1:])
    share = np.zeros(len(x)) if norm is None else np.asarray(norm(wire.strain))
    shade = np.rint(SHADES * np.concatenate([0.5 * (share[segments] + share[segments + 1]), share[nodes]]))
    for grow, order_now in ((outline, order), (0.0, order + 0.1)):
        shapes = _quads(x, y, r + grow, segments), _discs(x[nodes], y[nodes], r[nodes] + grow)
        levels = np.zeros(1) if grow else np.unique(shade)
        alike = [shade == level if not grow else np.full(len(shade), True) for level in levels]
        paths = [_joined(shapes[0][one[: len(segments)]], shapes[1][one[len(segments) :]]) for one in alike]
        plain = colour if grow else style.WIRE
        fills = np.atleast_2d(to_rgba(plain)) if grow or norm is None else colormaps[style.WIRE_CMAP](levels / SHADES)
        fills = fills + pale * (1.0 - fills)
        shapes_now = PathCollection(paths, facecolors=fills, edgecolors="none", zorder=order_now)
        ax.add_collection(shapes_now, autolim=False)


def _joined(*groups: Array) -> Path:
    """One path of polygons (n, k, 2) that turn the same way, so that it fills their union: quicker than each alone."""
    from matplotlib.path import Path as Outline

    vertices, codes = [], []
    for shapes in groups:
        vertices.append(np.concatenate([shapes, shapes[:, :1]], axis=1).reshape(-1, 2))
        code = np.full(shapes.shape[1] + 1, Outline.LINETO)
        code[0], code[-1] = Outline.MOVETO, Outline.CLOSEPOLY
        codes.append(np.tile(code, len(shapes)))
    return Outline(np.concatenate(vertices), np.concatenate(codes))


def _quads(x: Array, y: Array, r: Array, segments: NDArray[np.int64]) -> Array:
    """Quadrilaterals of a tube's projection, shape (n, 4, 2), for the segments i -> i + 1."""
    i, j = segments, segments + 1
    along = np.column_stack([x[j] - x[i], y[j] - y[i]])
    length = np.hypot(*along.T)
    across = np.column_stack([-along[:, 1], along[:, 0]]) / np.where(length > 0.0, length, 1.0)[:, None]
    first, last = np.column_stack([x[i], y[i]]), np.column_stack([x[j], y[j]])
    out, away = across * r[i][:, None], across * r[j][:, None]
    return np.stack([first - out, last - away, last + away, first + out], axis=1)


def _discs(x: Array, y: Array, r: Array) -> Array:
    """Regular polygons of radius r around the points, shape (n, 16, 2)."""
    turn = np.linspace(0.0, 2 * np.pi, 16, endpoint=False)
    circle = np.column_stack([np.cos(turn), np.sin(turn)])
    return np.asarray(np.column_stack([x, y])[:, None] + r[:, None, None] * circle)


def dimension(
    ax: Axes,
    first: tuple[float, float],
    second: tuple[float, float],
    text: str,
    *,
    at: tuple[float, float] | None = None,
    colour: str = style.INK,
) -> None:
    """Dimension line with arrows between two points (mm) and its text beside the middle or at `at`."""
    ax.annotate(
        "",
        xy=first,
        xytext=second,
        arrowprops={"arrowstyle": "<|-|>", "color": colour, "lw": 0.8, "mutation_scale": 7, "shrinkA": 0, "shrinkB": 0},
        zorder=8,
    )
    middle = ((first[0] + second[0]) / 2, (first[1] + second[1]) / 2)
    options: dict[str, Any] = {"fontsize": 8, "color": style.INK, "zorder": 9, "ha": "center", "va": "center"}
    box = {"boxstyle": "round,pad=0.12", "fc": "white", "ec": "none", "alpha": 0.85}
    if at is None:
        ax.text(*middle, text, bbox=box, **options)
        return
    ax.annotate(
        text, xy=middle, xytext=at, bbox=box, arrowprops={"arrowstyle": "-", "color": style.MUTED, "lw": 0.6}, **options
    )


def extension(ax: Axes, first: tuple[float, float], second: tuple[float, float]) -> None:
    """Thin extension line of a dimension."""
    ax.plot([first[0], second[0]], [first[1], second[1]], color=style.MUTED, linewidth=0.5, zorder=7)
