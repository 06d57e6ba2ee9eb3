"""The support in the section along the vessel: its bore as far as it lies in the vessel, and the wire in it.

The model knows the bore alone: no wall holds the support itself, which may stand on the far side of one. It is drawn
from its mouth to where it meets a wall, and ends there with a break mark.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ..insertion.case import Case
from ..vessel.scene import Scene
from . import style
from .draw import MM, OUTLINE, draw_wire, line, polygon
from .view import Array, Wire, support_axis

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import Normalize

FAR = 0.1  # m, beyond all drawings
REACH = 15e-3  # m behind the mouth, at most: more than the drawings show
THICK = 0.12e-3  # m, drawn where there is room (the support's outside is not modelled)
TOUCH = 0.1e-3  # m by which the bore may lie in a wall: straight, it stands on the floor of a bent plane
SLANT = 2.0  # most of a break along the support, over the bore's width
AMPLITUDE, TEETH = 0.07, 5  # mm, and number, of a break mark's zigzag
EDGE = "#5b6672"
NOTE = "Support: its bore; zigzag: there it meets a wall, which holds the wire alone, and is not drawn on."


@dataclass(frozen=True)
class Sleeve:
    """Both edges of the bore, and what is drawn outside it, from where they are broken off to the mouth.

    inner, outer : two of (n, 2), (s, depth), m; broken : whether a wall ends them, not the reach of the drawing
    """

    inner: tuple[Array, Array]
    outer: tuple[Array, Array]
    broken: bool


def sleeve_of(case: Case) -> Sleeve:
    """The support of a case as far as it lies in the vessel."""
    s, depth, lateral = support_axis(case, REACH)
    axis, bore = np.column_stack([s, depth]), case.scene.support.inner_radius
    along = np.gradient(axis, axis=0)
    across = np.column_stack([-along[:, 1], along[:, 0]]) / np.maximum(np.hypot(*along.T), 1e-12)[:, None]
    edges = [axis + sign * bore * across for sign in (-1.0, 1.0)]
    first = [_first(_inside(case.scene, edge, lateral, TOUCH)) for edge in edges]
    step = REACH / (len(s) - 1)
    latest = max(first) - int(SLANT * 2.0 * bore / step)  # one edge may be longer than the other by the break's slant
    inner, outer = [], []
    for edge, sign, start in zip(edges, (-1.0, 1.0), first, strict=True):
        cut = slice(max(start, latest), None)
        inner.append(edge[cut])
        thick = np.zeros(len(s))
        free = np.full(len(s), True)
        for t in np.linspace(0.1, 1.0, 10) * THICK:
            free &= _inside(case.scene, edge + sign * t * across, lateral, 0.0)
            thick[free] = t
        outer.append((edge + sign * thick[:, None] * across)[cut])
    return Sleeve((inner[0], inner[1]), (outer[0], outer[1]), max(first) > 0)


def _first(inside: NDArray[np.bool_]) -> int:
    """First row from which on all are inside; of the mouth itself two rows are drawn in any case."""
    out = np.flatnonzero(~inside)
    return min(int(out[-1]) + 1 if len(out) else 0, len(inside) - 2)


def _inside(scene: Scene, place: Array, lateral: Array, give: float) -> NDArray[np.bool_]:
    """Whether places (s, depth) of the drawing, `lateral` out of it, lie in the lumen, the window or the plane, m."""
    s, depth = place.T
    tear = scene.tear
    open_there = (depth > 0.0) & (s >= tear.start) & (s <= tear.end + scene.channel.length) & (not tear.intact)
    room = scene.lumen.at(s) + np.where(open_there, scene.wall.flap_thickness, 0.0)
    return np.asarray(np.hypot(depth, lateral) <= room + give)


def draw_support(ax: Axes, case: Case, sleeve: Sleeve | None = None) -> None:
    """The support: its bore between two lines, with a break mark where it meets a wall; `sleeve`: if known already."""
    sleeve = sleeve_of(case) if sleeve is None else sleeve
    for near, far in zip(sleeve.inner, sleeve.outer, strict=True):
        body = np.concatenate([near, far[::-1]]) * MM
        polygon(ax, *body.T, color=style.SUPPORT, linewidth=0, zorder=3.4)
        line(ax, *(near * MM).T, color=EDGE, linewidth=0.9, zorder=3.5, solid_capstyle="butt")
    if sleeve.broken:
        _break(ax, sleeve.inner[0][0] * MM, sleeve.inner[1][0] * MM)


def _break(ax: Axes, one: Array, other: Array) -> None:
    """A break mark between two points (mm), white under its line."""
    x, y = zigzag(one, other)
    line(ax, x, y, color="white", linewidth=3.0, zorder=5.6, solid_joinstyle="miter")
    line(ax, x, y, color=style.INK, linewidth=0.9, zorder=5.7, solid_joinstyle="miter")


def zigzag(one: Array, other: Array) -> tuple[Array, Array]:
    """Corners of a zigzag between two points, and a little beyond them, mm."""
    along = other - one
    length = float(np.hypot(*along))
    unit = along / length
    beyond = np.linspace(-0.5, TEETH + 0.5, 2 * TEETH + 3) / TEETH * length
    swing = AMPLITUDE * np.resize([0.0, 1.0, 0.0, -1.0], len(beyond))
    x, y = one[:, None] + unit[:, None] * beyond + np.array([[-unit[1]], [unit[0]]]) * swing
    return x, y


def draw_wire_of(
    ax: Axes, case: Case, wire: Wire, norm: Normalize | None, outline: float = OUTLINE, sleeve: Sleeve | None = None
) -> None:
    """The wire over s and depth, within the support only as far as that is drawn; `sleeve`: if known already."""
    from matplotlib.path import Path

    sleeve = sleeve_of(case) if sleeve is None else sleeve
    last, ahead = within_support(sleeve, wire)
    if not sleeve.broken or last == 0:
        draw_wire(ax, wire, wire.depth, norm, outline=outline)
        return
    within, beyond = (part_of(wire, rows) for rows in (slice(None, last + 1), slice(last, None)))
    before = len(ax.collections)
    draw_wire(ax, within, within.depth, norm, outline=outline)
    border = Path(_ahead_of_break(sleeve, ahead) * MM, closed=False)
    for tube in ax.collections[before:]:
        tube.set_clip_path(border, ax.transData)
    draw_wire(ax, beyond, beyond.depth, norm, outline=outline)


def within_support(sleeve: Sleeve, wire: Wire) -> tuple[int, Array]:
    """Node up to which a wire lies within a support, and the way ahead out of its mouth (s, depth), m."""
    mouth = 0.5 * (sleeve.inner[0][-1] + sleeve.inner[1][-1])
    ahead = mouth - 0.5 * (sleeve.inner[0][-2] + sleeve.inner[1][-2])
    out = np.flatnonzero((wire.s - mouth[0]) * ahead[0] + (wire.depth - mouth[1]) * ahead[1] > 0.0)
    return int(out[0]) if len(out) else len(wire.s) - 1, ahead


def shown_from(sleeve: Sleeve, wire: Wire, clear: float) -> tuple[int, float]:
    """Segment at which a wire comes `clear` (m) out of a break mark, and how far along it (0 to 1); without a mark the
    first, 0.0."""
    last, ahead = within_support(sleeve, wire)
    if not sleeve.broken or last == 0:
        return 0, 0.0
    one, other = sleeve.inner[0][0], sleeve.inner[1][0]
    normal = np.array([other[1] - one[1], one[0] - other[0]]) / np.hypot(*(other - one))
    out = np.sign(normal @ ahead) * (np.column_stack([wire.s, wire.depth])[: last + 1] - one) @ normal - clear
    hidden = np.flatnonzero(out <= 0.0)
    if not len(hidden):
        return 0, 0.0
    k = int(hidden[-1])
    return (k, float(out[k] / (out[k] - out[k + 1]))) if k < last else (last, 0.0)


def _ahead_of_break(sleeve: Sleeve, ahead: Array) -> Array:
    """Corners of the half of the drawing that lies before the break, m; `ahead`: the way from there to the mouth."""
    one, other = sleeve.inner[0][0], sleeve.inner[1][0]
    along, way = ((v / np.hypot(*v)) * FAR for v in (other - one, ahead))
    return np.array([one - along, other + along, other + along + way, one - along + way])


def part_of(wire: Wire, rows: slice) -> Wire:
    """Some nodes of a wire."""
    return replace(wire, **{name: values[rows] for name, values in vars(wire).items()})
