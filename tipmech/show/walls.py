"""Walls in the pictures of an insertion, drawn in mm on given axes: the section along the vessel, and the plane of the
false channel laid flat; with narrowing, plug, weak spot, what was opened, and holes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ..insertion.opened import NEVER, front_span, slits, stations, wall_open_since
from ..insertion.record import Record
from ..vessel.build import window_half
from ..vessel.margins import STATION
from ..vessel.scene import Scene
from . import style
from .draw import ATTACHED, MM, OUTER_LAYER, area, line, polygon
from .view import Array, rest_gap

if TYPE_CHECKING:
    from matplotlib.axes import Axes

CORNER_STEPS = 12
PLUG, PLAQUE = "#8d99a6", "#efe3d3"


@dataclass(frozen=True)
class Opening:
    """What is open in the wall at one instant.

    front, back, plug : m (back, of the front behind the upstream lip, and plug nan: none); whole : the wall has no
    opening; span : sigma between which the front has opened, m; margins : (2 or 4, m) opening beyond W/2 at the
    stations, m; holes : (k, 5) see `opened.slits`.
    """

    front: float
    whole: bool = False
    plug: float = float("nan")
    span: tuple[float, float] = (0.0, 0.0)
    stations: Array | None = None
    margins: Array | None = None
    holes: Array | None = None
    back: float = float("nan")


def at_start(scene: Scene) -> Opening:
    """Walls before anything has touched them."""
    plug = scene.plug.start if scene.plug else float("nan")
    back = float("nan") if scene.channel.retrograde is None else scene.tear.start - scene.channel.retrograde
    return Opening(scene.tear.end + scene.channel.length, scene.tear.intact, plug, back=back)


def along_at_row(record: Record, row: int) -> Opening:
    """Walls at an increment of a record, as far as the section along the vessel shows them."""
    row = row % len(record.feed)
    since = wall_open_since(record)
    ended_open = record.case.scene.tear.intact and since == row == len(record.feed) - 1
    plug = float(record.plug[row]) if record.case.scene.plug else float("nan")
    return Opening(
        float(record.front[row]),
        since == NEVER or row < since or (ended_open and not np.any(record.side[row] == 1)),
        plug,
        holes=slits(record, row),
        back=float(record.front_back[row]),
    )


def at_row(record: Record, row: int) -> Opening:
    """Walls at an increment of a record."""
    row = row % len(record.feed)
    return replace(
        along_at_row(record, row),
        span=front_span(record, row),
        stations=stations(record),
        margins=record.margins[row],
    )


def draw_section(ax: Axes, scene: Scene, s: Array, gap: Array, at: Opening, behind: Array | None = None) -> None:
    """Longitudinal section in the plane of the tear's azimuth: depth (mm, downward) over s (mm).

    Parameters
    ----------
    s : ndarray, shape (n,)
        stations, m, increasing
    gap : ndarray, shape (n,)
        clear height under the flap at the stations, m
    at : Opening
        front, plug, holes at the instant
    behind : ndarray, shape (n,), optional
        clear height under the flap behind the upstream lip at the stations mirrored in the window's middle, m (at rest)
    """
    draw_vessel(ax, scene, s)
    draw_opening(ax, scene, s, gap, at, behind)


def draw_vessel(ax: Axes, scene: Scene, s: Array) -> None:
    """What stands still in the section: lumen and walls at the stations s (m)."""
    h = scene.wall.flap_thickness * MM
    a, x = scene.lumen.at(s) * MM, s * MM
    floor, even = a + h, (scene.lumen.radius + scene.lumen.taper * s) * MM + h
    area(ax, x, -a, a, color=style.TRUE_LUMEN, zorder=1)
    for sign in (-1.0, 1.0):
        area(ax, x, sign * even, sign * (even + OUTER_LAYER), color=style.WALL, zorder=1)
        area(ax, x, sign * floor, sign * even, facecolor=PLAQUE, edgecolor=ATTACHED, hatch="...", zorder=1)
        area(ax, x, sign * a, sign * floor, color=ATTACHED, zorder=1)


def draw_opening(ax: Axes, scene: Scene, s: Array, gap: Array, at: Opening, behind: Array | None = None) -> None:
    """What moves in the section: plug, window, false channel, flap, front, holes; arguments as in `draw_section`."""
    h = scene.wall.flap_thickness * MM
    a, x = scene.lumen.at(s) * MM, s * MM
    floor = a + h
    _plug(ax, scene, x, a, at)
    if at.whole:
        for y in (-a, a):
            line(ax, x, y, color=style.FLAP, linewidth=0.8, zorder=3)
        _weak_spot(ax, scene, h)
        return
    start, end, tip = scene.tear.start * MM, scene.tear.end * MM, at.front * MM
    window = (x >= start) & (x <= end)
    area(ax, x[window], a[window], floor[window], color=style.TRUE_LUMEN, zorder=1.5)
    _attached_lip(ax, x, a, h, start, scene.tear.lip_radius * MM)
    under = (x >= end) & (x <= tip)
    if under.sum() >= 2:
        roof = floor[under] - gap[under] * MM
        area(ax, x[under], a[under], floor[under], color=style.TRUE_LUMEN, zorder=1.5)
        area(ax, x[under], roof, floor[under], color=style.FALSE_LUMEN, zorder=2)
        _flap(ax, x[under], roof, h, scene.tear.lip_radius * MM)
        _holes_across(ax, x[under], roof, h, at)
        line(ax, x[under], floor[under], color=style.FALSE_OUTLINE, linewidth=0.9, zorder=4.5)
    edge = at.back * MM if at.back < scene.tear.start else start
    if edge < start:
        _behind(ax, scene, x, behind, at)
    for y in (-a, np.where(x <= edge, a, np.nan)):
        line(ax, x, y, color=style.FLAP, linewidth=0.8, zorder=3)
    line(ax, x[window], floor[window], color=style.FLAP, linewidth=0.8, zorder=3)
    here = float(np.interp(tip, x, floor))
    line(ax, [tip, tip], [here - h, here], color=style.INK, linewidth=1.6, zorder=6)


def _behind(ax: Axes, scene: Scene, x: Array, gap: Array | None, at: Opening) -> None:
    """The plane behind the upstream lip: the other one mirrored in the window's middle."""
    turned = (scene.tear.start + scene.tear.end) * MM
    u = turned - x[::-1]
    under = (u >= scene.tear.end * MM) & (u <= turned - at.back * MM)
    if under.sum() < 2:
        return
    front, h = scene.tear.start + scene.tear.end - at.back, scene.wall.flap_thickness * MM
    clear = rest_gap(scene, u / MM, front) if gap is None else gap[::-1]
    floor = scene.lumen.at(x[::-1] / MM) * MM + h
    roof = (floor - clear * MM)[under]
    back = turned - u[under]
    area(ax, back, floor[under] - h, floor[under], color=style.TRUE_LUMEN, zorder=2.5)
    area(ax, back, roof, floor[under], color=style.FALSE_LUMEN, zorder=2.6)
    _flap(ax, u[under], roof, h, scene.tear.lip_radius * MM, turned)
    line(ax, back, floor[under], color=style.FALSE_OUTLINE, linewidth=0.9, zorder=4.5)
    line(ax, [at.back * MM] * 2, [floor[under][-1] - h, floor[under][-1]], color=style.INK, linewidth=1.6, zorder=6)


def _plug(ax: Axes, scene: Scene, x: Array, a: Array, at: Opening) -> None:
    """The plug, hatched from where it has yielded to as far as it goes."""
    if scene.plug is None:
        return
    inside = (x >= at.plug * MM) & (x <= scene.plug.end * MM)
    area(ax, x[inside], -a[inside], a[inside], facecolor=PLUG, edgecolor="white", hatch="xx", zorder=1.2)


def _weak_spot(ax: Axes, scene: Scene, h: float) -> None:
    """A whole wall's weak spot, dotted."""
    if scene.tear.weak_toughness is None:
        return
    ends = np.array([scene.tear.start, scene.tear.end])
    a = scene.lumen.at(ends) * MM
    corners = np.concatenate([ends, ends[::-1], ends[:1]]) * MM
    line(ax, corners, [a[0], a[1], a[1] + h, a[0] + h, a[0]], color=style.INK, linewidth=1.2, linestyle=":", zorder=3.2)


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
    polygon(ax, xs, ys, color=ATTACHED, linewidth=0, zorder=2)


def _flap(ax: Axes, x: Array, roof: Array, h: float, radius: float, turned: float | None = None) -> None:
    """Free flap between the lumen and the false channel, both edges of its lip rounded (mm).

    turned : drawn at turned - x instead of x
    """
    radius = min(radius, h / 2, float(x[-1] - x[0]) / 2)
    inner = x > x[0] + radius
    turn = np.linspace(0.0, np.pi / 2, CORNER_STEPS)
    at = float(np.interp(x[0] + radius, x, roof))
    low_x, low_y = x[0] + radius - radius * np.sin(turn), at - radius + radius * np.cos(turn)
    top_x, top_y = x[0] + radius - radius * np.cos(turn), at - h + radius - radius * np.sin(turn)
    xs = np.concatenate([low_x, top_x, x[inner], x[inner][::-1]])
    ys = np.concatenate([low_y, top_y, roof[inner] - h, roof[inner][::-1]])
    xs = xs if turned is None else turned - xs
    polygon(ax, xs, ys, facecolor=style.FLAP, edgecolor=style.INK, linewidth=0.6, zorder=4)


def _holes_across(ax: Axes, x: Array, roof: Array, h: float, at: Opening) -> None:
    """Holes as gaps in the flap, whatever their azimuth."""
    for s1, _, s2, _, radius in at.holes if at.holes is not None else ():
        first, last = (min(s1, s2) - radius) * MM, (max(s1, s2) + radius) * MM
        inside = (x >= first) & (x <= last)
        if inside.sum() < 2:
            continue
        look = {"facecolor": "white", "edgecolor": style.INK, "linewidth": 0.8, "zorder": 4.2}
        area(ax, x[inside], roof[inside] - h, roof[inside], **look)


def draw_plan(ax: Axes, scene: Scene, at: Opening) -> None:
    """The false channel's surface laid flat: circumferential position z (mm) over s (mm), margins at +-W/2."""
    start, end, tip = scene.tear.start * MM, scene.tear.end * MM, at.front * MM
    half, side = scene.channel.room * MM / 2, window_half(scene.tear, scene.channel) * MM
    first = (scene.tear.end + scene.channel.length) * MM
    ax.axhspan(-10 * half - 10, 10 * half + 10, color=ATTACHED, linewidth=0, zorder=0)
    if at.whole:
        if scene.tear.weak_toughness is not None:
            xs, ys = [start, end, end, start, start], [-side, -side, side, side, -side]
            ax.plot(xs, ys, color=style.INK, linewidth=1.2, linestyle=":", zorder=2)
        return
    ax.fill_between([start, end], -side, side, color=style.TRUE_LUMEN, linewidth=0, zorder=1)
    ax.fill_between([end, tip], -half, half, color=style.FALSE_LUMEN, linewidth=0, zorder=1)
    for y in (-half, half):
        ax.plot([end, tip], [y, y], color=style.FALSE_OUTLINE, linewidth=1.0, zorder=2)
    if at.back < scene.tear.start:
        ax.fill_between([at.back * MM, start], -half, half, color=style.FALSE_LUMEN, linewidth=0, zorder=1)
        for y in (-half, half):
            ax.plot([at.back * MM, start], [y, y], color=style.FALSE_OUTLINE, linewidth=1.0, zorder=2)
        ax.plot([at.back * MM] * 2, [-half, half], color=style.INK, linewidth=1.6, zorder=6)
        ax.plot([start, start], [-half, half], color=style.FLAP, linewidth=1.6, zorder=4)
    _opened_margins(ax, half, scene.tear.start + scene.tear.end, at)
    ax.plot([tip, tip], [-half, half], color=style.INK, linewidth=1.6, zorder=6)
    if tip > first + 0.02:
        ax.plot([first, first], [-half, half], color=style.INK, linewidth=0.7, linestyle=":", zorder=2)
        for y in at.span:
            ax.plot([first, tip], [y * MM, y * MM], color=style.INK, linewidth=0.7, linestyle="--", zorder=2)
    ax.plot([end, end], [-max(half, side), max(half, side)], color=style.FLAP, linewidth=1.6, zorder=4)
    turn = np.linspace(0.0, 2.0 * np.pi, 40)
    for s1, g1, s2, g2, radius in at.holes if at.holes is not None else ():
        for s, g in ((s1, g1), (s2, g2)):
            rim = (s + radius * np.cos(turn)) * MM, (g + radius * np.sin(turn)) * MM
            ax.fill(*rim, facecolor="white", edgecolor=style.INK, linewidth=0.8, zorder=2.5)


def _opened_margins(ax: Axes, half: float, turned: float, at: Opening) -> None:
    """What the margins have opened beyond W/2 (`half`, mm) at the stations, behind the upstream lip at `turned` - s."""
    if at.margins is None or at.stations is None:
        return
    for row, sign in enumerate((-1.0, 1.0) * (len(at.margins) // 2)):
        for k in np.flatnonzero(at.margins[row]):
            place = at.stations[k] if row < 2 else turned - at.stations[k]
            x = (place + np.array([-0.5, 0.5]) * STATION) * MM
            edge = sign * (half + at.margins[row, k] * MM)
            ax.fill_between(
                x,
                sign * half,
                edge,
                facecolor=style.FALSE_LUMEN,
                edgecolor=style.FALSE_OUTLINE,
                linewidth=0.4,
                zorder=1.5,
            )
