"""The opened region on the unrolled wall: what was open, what the wire opened and when, the wire over it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ..insertion.classify import plane_growth, travel
from ..insertion.opened import FRONT, NEVER, Areas, Opened, azimuth, slits, wall_open_since
from ..insertion.record import Outcome, Record
from ..vessel.build import floor_radius, window_half
from . import style
from .breach import Breach, breaches, mark_breach
from .contest import told
from .view import wires

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.collections import QuadMesh
    from matplotlib.figure import Figure

MM = 1e3
WIDTH = 11.0  # inch
TALLEST, LOWEST = 6.0, 2.2  # inch, of the map
CURVES = 1.5  # inch, height of the areas over travel
LEFT, RIGHT, HEAD, BETWEEN = 0.75, 1.15, 1.2, 1.2  # inch, BETWEEN: with the legend under the map
GROWN = 1e-6  # m by which a front has moved at least
AROUND = 1.0e-3  # m of wall shown round what is open
NEAR_AXIS = 0.2  # of the lumen's radius: nearer to the axis the wire has no azimuth worth a line
BETWEEN_NODES = 20  # points of the wire's line
GROUND, AT_START = "#ffffff", "#d9d9d9"
SHADES = "viridis_r"  # dark is late: its lightness runs one way, so that it reads in grey
NOTE = (
    "The wall's inside cut open, laid flat and seen from the lumen, as the pocket's surface of the film strip; equal "
    "scales at the radius of the floor at the tear. Coloured: what was paid for; front: its width about where it was "
    "first touched; margins: in steps of 0.12 mm. Dotted: ahead of the first front the wire has the whole room W, of "
    "which no more was paid for. Lengths are those on the centreline, also in a bend.\n"
    "Beside the window the wire's line, straight from node to node, may seem to cross closed wall: an edge holds a "
    "wire up to the lip's radius and its own beyond it."
)


def opened_figure(record: Record, outcome: Outcome, field: Opened, found: Areas, title: str = "") -> Figure:
    """Figure of the opened region at the end of a record with its classified outcome; `field` and `found` of
    `insertion.opened`."""
    limits = _limits(record, field)
    left, right, low, high = limits
    wide, scale = WIDTH - LEFT - RIGHT, floor_radius(record.case.scene)
    tall = float(np.clip(wide * (high - low) * scale / (right - left), LOWEST, TALLEST))
    spare = 0.5 * max(tall * (right - left) / (wide * scale) - (high - low), 0.0)  # rad, where it would be lower
    foot = style.note_height(NOTE, WIDTH) + 0.55
    height = HEAD + tall + BETWEEN + CURVES + foot
    figure = style.new_figure(WIDTH, height)

    def place(x: float, top: float, size: float, across: float) -> Axes:
        return figure.add_axes((x / WIDTH, 1.0 - (top + size) / height, across / WIDTH, size / height))

    ax = place(LEFT, HEAD, tall, wide)
    mesh = draw_opened(ax, record, field)
    ax.set_xlim(left * MM, right * MM)
    ax.set_ylim(np.degrees(low - spare), np.degrees(high + spare))
    _off_the_map(ax)
    ax.set_aspect(np.radians(1.0) * scale * MM)
    if mesh is not None:
        bar = figure.colorbar(mesh, cax=place(WIDTH - RIGHT + 0.25, HEAD, tall, 0.14))
        bar.set_label("paid for at a travel of the hand of (mm)", fontsize=8)
        bar.ax.tick_params(labelsize=7)
    ax.legend(
        loc="upper left", bbox_to_anchor=(0.0, -0.42 / tall), ncol=4, fontsize=7.5, frameon=False, borderaxespad=0.0
    )
    _curves(place(LEFT, HEAD + tall + BETWEEN, CURVES, wide), record, found)
    figure.text(0.04, 1.0 - 0.3 / height, "The opened region on the unrolled wall", fontsize=13, color=style.INK)
    head = f"{title}{': ' if title else ''}{words(record, found)}\n"
    head += style.wrapped(f"At the end: {told(record, outcome)}", WIDTH - 0.6, 9.0)
    figure.text(0.04, 1.0 - 0.45 / height, head, fontsize=9, va="top", color=style.INK, linespacing=1.35)
    style.add_note(figure, NOTE)
    return figure


def words(record: Record, found: Areas) -> str:
    """What was opened, in a line."""
    scene = record.case.scene
    if wall_open_since(record) == NEVER:
        return "the wall is whole; nothing was opened"
    length = scene.channel.length + (scene.channel.retrograde or 0.0)
    new, start = record.opened_area[-1] * MM**2, scene.channel.room * length * MM**2
    grown = float(plane_growth(record)[-1]) * MM
    where, front, margins = "behind the weak spot" if scene.tear.intact else "at the start", found.front, found.margins
    text = (
        f"plane {where} {start:.1f} mm²; opened {new:.2f} mm² "
        f"(front {front[-1] * MM**2:.2f}, margins {margins[-1] * MM**2:.2f}), {grown:.2f} mm longer"
    )
    return text + (f"; {len(record.holes)} times through the flap" if len(record.holes) else "")


def draw_opened(ax: Axes, record: Record, field: Opened) -> QuadMesh | None:
    """The map on given axes, azimuth (degrees) over s (mm); returns what the colour bar is of, if anything is new."""
    scene = record.case.scene
    tear = scene.tear
    ds, dg = field.cell
    edges_s = np.append(field.s - 0.5 * ds, field.s[-1] + 0.5 * ds)
    edges_g = np.append(field.sigma - 0.5 * dg, field.sigma[-1] + 0.5 * dg)
    x = np.broadcast_to(edges_s[:, None], (len(edges_s), len(edges_g))) * MM
    y = np.degrees(azimuth(scene, edges_s[:, None], edges_g[None, :]))
    ax.set_facecolor(GROUND)
    mesh, new = None, field.by >= FRONT
    if new.any():
        when = np.ma.masked_where(~new, MM * travel(record)[np.where(new, field.since, 0)])
        low, high = float(when.min()), float(when.max())
        mesh = ax.pcolormesh(
            x, y, when, cmap=SHADES, vmin=low, vmax=max(high, low + 0.1), rasterized=True, zorder=2, shading="flat"
        )
    if wall_open_since(record) != NEVER:
        first = tear.end + scene.channel.length
        half, room = window_half(tear, scene.channel), 0.5 * scene.channel.room
        plane = "plane behind the weak spot" if tear.intact else "plane at the start"
        thick = scene.channel.thickness
        plane += f", distended by {thick * MM:.3g} mm" if thick > 0.0 else ", closed"
        _box(ax, record, (tear.start, tear.end, half), label="window", hatch="////", linewidth=1.2)
        _box(ax, record, (tear.end, first, room), label=plane, linewidth=1.4)
        grown = [(first, float(record.front[-1]))]
        if (back := scene.channel.retrograde) is not None and back > 0.0:
            _box(ax, record, (tear.start - back, tear.start, room), linewidth=1.4)
            grown.append((float(record.front_back[-1]), tear.start - back))
        ahead = {"label": "room of the wire ahead of the first front", "hatch": "..", "linewidth": 0.8}
        for start, end in grown:
            if end - start > GROWN:
                _box(ax, record, (start, end, room), GROUND, **ahead)
                ahead["label"] = None
    elif tear.weak_toughness is not None:
        half = window_half(tear, scene.channel)
        _box(ax, record, (tear.start, tear.end, half), GROUND, label="weak spot, whole", linestyle=":", linewidth=1.4)
    _holes(ax, record)
    for breach, place in _breached(record):
        mark_breach(ax, breach.s * MM, float(np.degrees(place)), label=f"{breach.words} here", zorder=7.5)
    _wire(ax, record)
    ax.set_xlabel("s along the vessel (mm)", fontsize=8, labelpad=1)
    ax.set_ylabel("azimuth (°)", fontsize=8)
    ax.tick_params(labelsize=8)
    ax.spines[["top", "right"]].set_visible(False)
    return mesh


def _box(ax: Axes, record: Record, extent: tuple[float, float, float], colour: str = AT_START, **options: Any) -> None:
    """Outline of |sigma| < half between two places, turning with the tear."""
    first, last, half = extent
    s = np.linspace(first, last, 60)
    sides = [np.degrees(azimuth(record.case.scene, part, sign * half)) for part, sign in ((s, -1.0), (s[::-1], 1.0))]
    ax.fill(
        np.concatenate([s, s[::-1]]) * MM,
        np.concatenate(sides),
        facecolor=colour,
        edgecolor=style.INK,
        zorder=1,
        **options,
    )


def _holes(ax: Axes, record: Record) -> None:
    """Slits in the flap as white capsules with a dark rim."""
    scene = record.case.scene
    turn = np.linspace(-0.5 * np.pi, 0.5 * np.pi, 30)
    for k, (s1, g1, s2, g2, radius) in enumerate(slits(record, len(record.feed))):
        along = np.arctan2(g2 - g1, s2 - s1)
        s = np.concatenate([s2 + radius * np.cos(along + turn), s1 - radius * np.cos(along + turn)])
        g = np.concatenate([g2 + radius * np.sin(along + turn), g1 - radius * np.sin(along + turn)])
        y = np.degrees(azimuth(scene, s, g))
        label = "hole in the flap" if k == 0 else None
        ax.fill(s * MM, y, facecolor="white", edgecolor=style.INK, linewidth=1.6, zorder=6, label=label)


def _breached(record: Record) -> list[tuple[Breach, float]]:
    """Walls pierced by the tip, with the azimuth (rad) of each place, within half a turn of the tear's."""
    scene = record.case.scene
    found = breaches(record)
    turned = [floor_radius(scene) * np.arctan2(b.lateral, b.across) for b in found]
    return [(b, float(azimuth(scene, np.array(b.s), sigma))) for b, sigma in zip(found, turned, strict=True)]


def _wire(ax: Axes, record: Record) -> None:
    """The wire's line at the end: full in the false channel, dashed elsewhere."""
    scene = record.case.scene
    wire = wires(record, [len(record.feed) - 1])[0]
    round_ = np.unwrap(np.arctan2(wire.lateral, wire.across))
    nodes = np.arange(len(wire.s))
    fine = np.linspace(0.0, nodes[-1], BETWEEN_NODES * nodes[-1] + 1)
    s, turned, off = (np.interp(fine, nodes, v) for v in (wire.s, round_, np.hypot(wire.across, wire.lateral)))
    turned -= 2.0 * np.pi * np.round(turned[-1] / (2.0 * np.pi))  # the tip lies within half a turn of the tear
    y = np.degrees(azimuth(scene, s, floor_radius(scene) * turned))
    side = wire.side[np.round(fine).astype(int)]
    hidden: NDArray[np.bool_] = np.isin(side, (2, 3, 4)) & ((s > scene.tear.end) | (s < scene.tear.start))
    drawn = off > NEAR_AXIS * scene.lumen.at(s)
    for part, dashes, label in (
        (hidden, "-", "wire at the end, in the false lumen"),
        (~hidden, (0, (3, 1.5)), "wire in the true lumen or the window"),
    ):
        if not part.any():
            continue
        line = np.where(part & drawn, y, np.nan)
        ax.plot(s * MM, line, color="white", linewidth=4.0, zorder=7, solid_capstyle="round")
        ax.plot(s * MM, line, color="black", linewidth=1.8, linestyle=dashes, zorder=7.1, label=label)
    if drawn[-1]:
        ax.plot(
            s[-1] * MM, y[-1], "o", color="black", markersize=6, markeredgecolor="white", zorder=8, linestyle="none",
            label="tip",
        )  # fmt: skip


def _off_the_map(ax: Axes) -> None:
    """Say in the key which of the drawn lines lie wholly beyond the limits of the map."""
    (left, right), (low, high) = ax.get_xlim(), ax.get_ylim()
    for line in ax.lines:
        s, y = (np.asarray(values, dtype=float) for values in line.get_data())
        shown = (s >= left) & (s <= right) & (y >= low) & (y <= high)
        if not shown.any() and not str(line.get_label()).startswith("_"):
            line.set_label(f"{line.get_label()} (off this map)")


def _limits(record: Record, field: Opened) -> tuple[float, float, float, float]:
    """Limits of the map: s from, to (m), azimuth from, to (rad): all that is open, was weak or pierced, and AROUND."""
    scene = record.case.scene
    scale = floor_radius(scene)
    left, right = float(field.s[0]), float(field.s[-1])
    i, j = np.nonzero(field.since != NEVER)
    half = max(scene.tear.half_width, 0.5 * scene.channel.room)
    ends = np.array([scene.tear.start, scene.tear.end, float(record.front[-1])])
    edge = azimuth(scene, ends[:, None], np.array([-half, half]))
    if len(i):
        edge = np.append(edge, azimuth(scene, field.s[i], field.sigma[j]))
    for breach, y in _breached(record):
        left, right, edge = min(left, breach.s - AROUND), max(right, breach.s + AROUND), np.append(edge, y)
    return left, right, float(edge.min()) - AROUND / scale, float(edge.max()) + AROUND / scale


def _curves(ax: Axes, record: Record, found: Areas) -> None:
    """Area opened by front and margins over the travel of the hand."""
    style.tidy(ax)
    path = travel(record) * MM
    for values, dashes, colour, name in (
        (found.front + found.margins, "-", style.INK, "both"),
        (found.front, "--", style.SERIES[0], "front"),
        (found.margins, ":", style.SERIES[1], "margins"),
    ):
        ax.plot(path, values * MM**2, linestyle=dashes, color=colour, linewidth=1.6, label=name)
    ax.set_xlim(0.0, float(path[-1]))
    ax.set_ylim(0.0, max(1.05 * MM**2 * float(np.max(found.front + found.margins)), 0.1))
    ax.set_xlabel("travel of the hand, on and back (mm)", fontsize=8)
    ax.set_ylabel("opened (mm²)", fontsize=8)
    ax.legend(fontsize=7, frameon=False, loc="upper left", bbox_to_anchor=(1.01, 1.0), borderaxespad=0.0)


def save_opened(
    record: Record, outcome: Outcome, field: Opened, found: Areas, path: Path | str, title: str = ""
) -> Path:
    """Write the figure of the opened region to `path`."""
    return style.save(opened_figure(record, outcome, field, found, title), path)
