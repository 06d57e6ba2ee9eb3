"""Pieces of the pictures of an insertion, drawn in mm on given axes: walls, flap, wire, support, dimensions."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ..insertion.case import Case
from ..vessel.scene import Scene
from . import style
from .view import Array, Wire, lumen_radius, support_axis

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import Normalize

MM = 1e3  # mm per m
OUTER_LAYER = 0.4  # mm of outer wall drawn beyond the floor
ATTACHED = "#d9a79d"  # inner layer where it is attached
PALE = 0.72  # whitening of what lies elsewhere
OUTLINE = 0.035  # mm, drawn outside the wire's true diameter
SUPPORT_WALL = 0.12  # mm, drawn (the support's outside is not modelled)
CORNER_STEPS = 12


def draw_section(ax: Axes, scene: Scene, s: Array, front: float, gap: Array) -> None:
    """Longitudinal section in the plane of the tear's azimuth: depth (mm, downward) over s (mm).

    Parameters
    ----------
    s : ndarray, shape (n,)
        stations, m, increasing
    front : float
        axial position of the front, m
    gap : ndarray, shape (n,)
        clear height under the flap at the stations, m
    """
    h = scene.wall.flap_thickness * MM
    a, x = lumen_radius(scene, s) * MM, s * MM
    floor = a + h
    start, end, tip = scene.tear.start * MM, scene.tear.end * MM, front * MM
    ax.fill_between(x, -a, a, color=style.TRUE_LUMEN, linewidth=0, zorder=1)
    ax.fill_between(x, -a - h - OUTER_LAYER, -a - h, color=style.WALL, linewidth=0, zorder=1)
    ax.fill_between(x, -a - h, -a, color=ATTACHED, linewidth=0, zorder=1)
    ax.fill_between(x, floor, floor + OUTER_LAYER, color=style.WALL, linewidth=0, zorder=1)
    window = (x >= start) & (x <= end)
    ax.fill_between(x[window], a[window], floor[window], color=style.TRUE_LUMEN, linewidth=0, zorder=1)
    _attached_lip(ax, x, a, h, start, scene.tear.lip_radius * MM)
    beyond = x >= tip
    ax.fill_between(x[beyond], a[beyond], floor[beyond], color=ATTACHED, linewidth=0, zorder=2)
    under = (x >= end) & (x <= tip)
    if under.sum() >= 2:
        roof = floor[under] - gap[under] * MM
        ax.fill_between(x[under], roof, floor[under], color=style.FALSE_LUMEN, linewidth=0, zorder=2)
        _flap(ax, x[under], roof, h, scene.tear.lip_radius * MM)
        ax.plot(x[under], floor[under], color=style.FALSE_OUTLINE, linewidth=0.9, zorder=4.5)
    for y in (-a, np.where(x <= start, a, np.nan)):
        ax.plot(x, y, color=style.FLAP, linewidth=0.8, zorder=3)
    ax.plot(x[window], floor[window], color=style.FLAP, linewidth=0.8, zorder=3)
    here = float(np.interp(front, s, floor))
    ax.plot([tip, tip], [here - max(h, scene.channel.thickness * MM), here], color=style.INK, linewidth=1.6, zorder=6)


def _attached_lip(ax: Axes, x: Array, a: Array, h: float, start: float, radius: float) -> None:
    """Inner layer upstream of the window, its edge toward the lumen rounded by the lip radius (mm)."""
    radius = min(radius, h)
    before = x < start - radius
    if not before.any():
        return
    edge = float(np.interp(start, x, a))
    turn = np.linspace(0.0, np.pi / 2, CORNER_STEPS)
    corner_x = start - radius + radius * np.sin(turn)
    corner_y = edge + radius - radius * np.cos(turn)
    xs = np.concatenate([x[before], corner_x, [start], x[before][::-1]])
    ys = np.concatenate([a[before], corner_y, [edge + h], a[before][::-1] + h])
    ax.fill(xs, ys, color=ATTACHED, linewidth=0, zorder=2)


def _flap(ax: Axes, x: Array, roof: Array, h: float, radius: float) -> None:
    """Free flap between the lumen and the false channel, both edges of its lip rounded (mm)."""
    radius = min(radius, h / 2, float(x[-1] - x[0]) / 2)
    inner = x > x[0] + radius
    turn = np.linspace(0.0, np.pi / 2, CORNER_STEPS)
    at = float(np.interp(x[0] + radius, x, roof))
    low_x, low_y = x[0] + radius - radius * np.sin(turn), at - radius + radius * np.cos(turn)
    top_x, top_y = x[0] + radius - radius * np.cos(turn), at - h + radius - radius * np.sin(turn)
    xs = np.concatenate([low_x, top_x, x[inner], x[inner][::-1]])
    ys = np.concatenate([low_y, top_y, roof[inner] - h, roof[inner][::-1]])
    ax.fill(xs, ys, facecolor=style.FLAP, edgecolor=style.INK, linewidth=0.6, zorder=4)


def draw_plan(ax: Axes, scene: Scene, s: Array, front: float) -> None:
    """The false channel's surface unrolled: circumferential position z (mm) over s (mm), margins at +-W/2."""
    start, end, tip = scene.tear.start * MM, scene.tear.end * MM, front * MM
    half, side = scene.channel.room * MM / 2, scene.tear.half_width * MM
    first = (scene.tear.end + scene.channel.length) * MM
    ax.axhspan(-10 * half - 10, 10 * half + 10, color=ATTACHED, linewidth=0, zorder=0)
    ax.fill_between([start, end], -side, side, color=style.TRUE_LUMEN, linewidth=0, zorder=1)
    ax.fill_between([end, tip], -half, half, color=style.FALSE_LUMEN, linewidth=0, zorder=1)
    for y in (-half, half):
        ax.plot([end, tip], [y, y], color=style.FALSE_OUTLINE, linewidth=1.0, zorder=2)
    ax.plot([tip, tip], [-half, half], color=style.INK, linewidth=1.6, zorder=6)
    if tip > first + 0.02:
        ax.plot([first, first], [-half, half], color=style.INK, linewidth=0.7, linestyle=":", zorder=2)
    ax.plot([end, end], [-max(half, side), max(half, side)], color=style.FLAP, linewidth=1.6, zorder=4)


def draw_wire(
    ax: Axes, wire: Wire, height: Array, norm: Normalize | None, *, faint_true: bool = False, outline: float = OUTLINE
) -> None:
    """The wire as a tube of its own diameter coloured by bending strain, over s and `height` (m).

    The part in the false channel is outlined in magenta and lies under the flap, the rest has a dark outline and lies
    over it. `faint_true` draws the part outside the false channel pale; `norm` None = one plain colour; `outline` in mm
    is drawn outside the wire's diameter.
    """
    false = wire.side == 2
    for part, colour, order, pale in (
        (~false, style.INK, 5.0, PALE if faint_true else 0.0),
        (false, style.FALSE_OUTLINE, 3.0, 0.0),
    ):
        _tube(ax, wire, height, part, norm, (colour, outline, order, pale))


def _tube(
    ax: Axes,
    wire: Wire,
    height: Array,
    part: NDArray[np.bool_],
    norm: Normalize | None,
    look: tuple[str, float, float, float],
) -> None:
    """Discs at the nodes and quadrilaterals between them, outline first, for the nodes of `part`.

    look : colour and width (mm) of the outline, drawing order, whitening 0 to 1
    """
    from matplotlib import colormaps
    from matplotlib.collections import PolyCollection
    from matplotlib.colors import to_rgba

    colour, outline, order, pale = look
    nodes = np.flatnonzero(part)
    if len(nodes) == 0:
        return
    x, y, r = wire.s * MM, height * MM, wire.radius * MM
    segments = nodes[:-1][np.diff(nodes) == 1]
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


def draw_support(ax: Axes, case: Case, length: float = 2e-3) -> None:
    """The support's distal `length` (m) as two walls along its projected axis."""
    s, depth = (v * MM for v in support_axis(case, length))
    back, mouth = np.array([s[0], depth[0]]), np.array([s[1], depth[1]])
    along = (mouth - back) / max(float(np.hypot(*(mouth - back))), 1e-9)
    across = np.array([-along[1], along[0]])
    bore = case.scene.support.inner_radius * MM
    for sign in (-1.0, 1.0):
        near, far = sign * bore * across, sign * (bore + SUPPORT_WALL) * across
        corners = np.array([mouth + near, mouth + far, back + far, back + near])
        ax.fill(corners[:, 0], corners[:, 1], color=style.SUPPORT, linewidth=0, zorder=5.5)


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
