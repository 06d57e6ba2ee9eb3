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

MM = 1e3  # mm per m
OUTER_LAYER = 0.4  # mm of outer wall drawn beyond the floor
ATTACHED = style.ATTACHED
PALE = 0.72  # whitening of what lies elsewhere
OUTLINE = 0.035  # mm, drawn outside the wire's true diameter


def draw_wire(
    ax: Axes, wire: Wire, height: Array, norm: Normalize | None, *, faint_true: bool = False, outline: float = OUTLINE
) -> None:
    """The wire as a tube of its own diameter coloured by bending strain, over s and `height` (m).

    The part in the false channel is outlined in magenta and lies under the flap, the rest has a dark outline and lies
    over it. `faint_true` draws the part outside the false channel pale; `norm` None = one plain colour; `outline` in mm
    is drawn outside the wire's diameter.
    """
    false = (wire.side == 2) | (wire.side == 4)
    for part, colour, order, pale in (
        (~false, style.INK, 5.0, PALE if faint_true else 0.0),
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
    from matplotlib.collections import PolyCollection
    from matplotlib.colors import to_rgba

    colour, outline, order, pale = look
    nodes = np.flatnonzero(part)
    if len(nodes) == 0:
        return
    x, y, r = wire.s * MM, height * MM, wire.radius * MM
    segments = np.flatnonzero(part[:-1] | part[1:] if joined else part[:-1] & part[1:])
    if norm is None:
        shades = np.tile(to_rgba(style.WIRE), (len(x), 1))
    else:
        shades = colormaps[style.WIRE_CMAP](norm(wire.strain))
    between = 0.5 * (shades[segments] + shades[segments + 1]) if len(segments) else shades[:0]
    for grow, order_now in ((outline, order), (0.0, order + 0.1)):
        shapes = _quads(x, y, r + grow, segments) + _discs(x[nodes], y[nodes], r[nodes] + grow)
        fills = np.atleast_2d(to_rgba(colour)) if grow else np.concatenate([between, shades[nodes]])
        fills = fills + pale * (1.0 - fills)
        ax.add_collection(PolyCollection(shapes, facecolors=fills, edgecolors="none", zorder=order_now), autolim=False)


def _quads(x: Array, y: Array, r: Array, segments: NDArray[np.int64]) -> list[Array]:
    """Quadrilaterals of a tube's projection, each (4, 2), for the segments i -> i + 1."""
    out = []
    for i in segments:
        dx, dy = x[i + 1] - x[i], y[i + 1] - y[i]
        length = float(np.hypot(dx, dy)) or 1.0
        nx, ny = -dy / length, dx / length
        out.append(
            np.array(
                [
                    [x[i] + nx * r[i], y[i] + ny * r[i]],
                    [x[i + 1] + nx * r[i + 1], y[i + 1] + ny * r[i + 1]],
                    [x[i + 1] - nx * r[i + 1], y[i + 1] - ny * r[i + 1]],
                    [x[i] - nx * r[i], y[i] - ny * r[i]],
                ]
            )
        )
    return out


def _discs(x: Array, y: Array, r: Array) -> list[Array]:
    """Regular polygons of radius r around the points, each (16, 2)."""
    turn = np.linspace(0.0, 2 * np.pi, 16, endpoint=False)
    circle = np.column_stack([np.cos(turn), np.sin(turn)])
    return [np.array([xi, yi]) + ri * circle for xi, yi, ri in zip(x, y, r, strict=True)]


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
