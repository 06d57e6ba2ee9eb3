"""The vessel cut across at the tear, and where a wall gave way, at one instant: lumen, flap, plane, walls, plug, and
where the wire passes."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ..insertion.opened import azimuth, slits
from ..insertion.record import Outcome, Record
from ..vessel.build import FAR, floor_radius, window_half
from ..vessel.scene import Scene
from . import style
from .breach import breaches, mark_breach
from .contest import told
from .cross_key import FALSE_LUMEN, draw_disc, draw_key, key_height
from .draw import ATTACHED, MM, OUTER_LAYER, line, polygon
from .view import Array, Wire, lip_mode, rest_gap, wires
from .walls import PLAQUE, PLUG, Opening, at_row

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

BEHIND_LIP = 0.5e-3  # m, where the mouth is cut
SIDE, HEAD, FOOT = 4.4, 0.95, 0.45  # inch: a cut with its axis, the heading, the least room for the note
ABOVE, UNDER = 0.5, 0.45  # inch: title and axis of a cut
ACROSS = 3  # cuts side by side, at most
MOVED = 1e-6  # m by which the front behind the upstream lip has moved at least
FINE = 120  # points of an arc: two pixels of a print from each other
CLEAR = 0.025e-3  # m between a disc and the flap drawn over it: half the disc's rim
RIM = 0.1e-3  # m of room beside a disc
OWN = slice(FINE, 2 * FINE)  # the points between the margins, of those with as many on either side
OVERHANG = 2e-6  # m, least drawn
BESIDE = 2e-3  # m of circumference looked at beyond the margins
HOLLOW = 0.9e-3  # m, sharpest hollow of the flap's underside, and
STEEP = 1.2  # -, its steepest rise beside a margin, but where a wire near the margin stands higher
AT_MARGIN = 0.2e-3  # m, its hollow there, and
AT_REST = 1.6  # of the flap's thickness, that of a flap that stands off at rest
BLUE: dict[str, Any] = {"color": style.TRUE_LUMEN}
NARROWER = 1e-6  # m by which a narrowing takes the lumen
ENTRIES = 10  # of the key: room for so many
NOTE = (
    "Vessel's frame, seen from downstream, so that azimuths turn counter-clockwise; equal scales. Discs: the wire "
    "where it passes the cut, at its own diameter. Across the width flap and margins are drawn, not computed: the flap "
    "with its even thickness, at rest plus the recorded lift of its lip, and over the wire where that stands higher."
)


def cuts(record: Record, row: int = -1) -> tuple[tuple[str, float], ...]:
    """Where the vessel is cut: names and axial positions, m; at the tear, and where something happened up to `row`."""
    tear, channel = record.case.scene.tear, record.case.scene.channel
    if tear.intact and tear.weak_toughness is None:
        fixed = [("at the mark", tear.start), ("beyond the mark", tear.end + 0.5 * channel.length)]
    else:
        where = "weak spot" if tear.intact else "window"
        fixed = [
            (f"middle of the {where}", tear.start + 0.5 * tear.length),
            ("behind the downstream lip", tear.end + min(BEHIND_LIP, 0.25 * channel.length)),
            ("middle of the first plane", tear.end + 0.5 * channel.length),
        ]
    back = float(record.front_back[row])
    used = record.front_back[0] - back > MOVED or bool(np.any(record.side[row] == 4))  # nan: no such plane
    behind = (("middle of the plane behind the upstream lip", 0.5 * (back + tear.start)),) if used else ()
    holes = slits(record, row % len(record.feed))
    through = [
        (f"middle of hole {k + 1} in the flap" if len(holes) > 1 else "middle of the hole in the flap", 0.5 * (s1 + s2))
        for k, (s1, _, s2, _, _) in enumerate(holes)
    ]
    return (
        *behind,
        *fixed,
        *through,
        *((f"where the {b.words.replace('pierced', 'was pierced')}", b.s) for b in breaches(record, row)),
    )


def cross_figure(record: Record, outcome: Outcome, row: int = -1, title: str = "") -> Figure:
    """Cross-sections at an increment of a record with its classified outcome (the last one, if not told)."""
    where = cuts(record, row)
    lines = -(-len(where) // ACROSS)
    across = -(-len(where) // lines)
    width, block = SIDE * across + 0.5, ABOVE + SIDE - 0.5 + UNDER
    note = f"{NOTE} A tip that pierced a wall is drawn as deep as it sinks in." if breaches(record, row) else NOTE
    foot = max(FOOT, style.note_height(note, width)) + 0.1
    height = HEAD + lines * block + foot + key_height(ENTRIES, width)
    figure = style.new_figure(width, height)
    wire = wires(record, [row])[0]
    out = max([off + radius + RIM for _, s in where for off, _, radius, _ in crossings(wire, s)], default=0.0)
    for k, (name, s) in enumerate(where):
        left, top = 0.6 + k % across * SIDE, HEAD + k // across * block + ABOVE
        size = SIDE - 0.5
        ax = figure.add_axes((left / width, 1.0 - (top + size) / height, size / width, size / height))
        passes = draw_cut(ax, record, row, wire, s, out)
        ax.set_title(f"{name}\ncut at s = {s * MM:.2f} mm", fontsize=9.5, loc="left", color=style.INK)
        ax.text(
            0.02, 1.0, "no wire here" if passes == 0 else f"wire passes {passes} times" if passes > 1 else "",
            transform=ax.transAxes, fontsize=8, va="top", color=style.INK,
        )  # fmt: skip
        ax.set_xlabel("first frame axis (mm)", fontsize=8)
        if k % across == 0:
            ax.set_ylabel("second frame axis (mm)", fontsize=8)
    when = f"feed {record.feed[row] * MM:.2f} mm"
    figure.text(0.3 / width, 1.0 - 0.32 / height, f"Cross-sections at the tear, {when}", fontsize=13, color=style.INK)
    head = f"{title}\n{style.wrapped(told(record, outcome, row), width - 0.5, 9.0)}".strip()
    figure.text(0.3 / width, 1.0 - 0.45 / height, head, fontsize=9, va="top", color=style.INK, linespacing=1.35)
    draw_key(figure, foot)
    style.add_note(figure, note)
    return figure


def draw_cut(ax: Axes, record: Record, row: int, wire: Wire, s: float, least: float = 0.0) -> int:
    """One cut at s (m) on given axes, mm, out to the wall or `least` (m); returns how often the wire passes it."""
    scene, at = record.case.scene, at_row(record, row)
    a, h = float(scene.lumen.at(np.array(s))), scene.wall.flap_thickness
    floor, even = a + h, scene.lumen.radius + scene.lumen.taper * s + h
    toward = float(azimuth(scene, np.array(s), np.array(0.0)))
    turn = np.linspace(0.0, 2.0 * np.pi, 2 * FINE)
    narrow = "narrowing" if even - floor > NARROWER else None
    for radius, colour, words in (
        (even + OUTER_LAYER / MM, style.WALL, "outer wall"),
        (even, PLAQUE, narrow),
        (floor, ATTACHED, "inner layer, attached"),
    ):
        polygon(ax, *_ring(radius, turn), color=colour, linewidth=0, zorder=1, label=words)
    polygon(ax, *_ring(a, turn), color=style.TRUE_LUMEN, linewidth=0, zorder=1.5, label="true lumen, window")
    if scene.plug is not None and at.plug <= s <= scene.plug.end:
        polygon(
            ax, *_ring(a, turn), facecolor=PLUG, edgecolor="white", hatch="xx", linewidth=0, zorder=1.6, label="plug"
        )
    line(ax, *_ring(a, turn), color=style.FLAP, linewidth=0.8, zorder=1.7)
    found = crossings(wire, s)
    if not at.whole and scene.tear.start < s < scene.tear.end:
        phi = toward + np.linspace(-1.0, 1.0, FINE) * window_half(scene.tear, scene.channel) / floor_radius(scene)
        _between(ax, a - 0.02e-3, floor, phi, BLUE, 2.0)
        line(ax, *_ring(floor, phi), color=style.FLAP, linewidth=1.0, zorder=2.1)
    elif not at.whole and (scene.tear.end < s < at.front or at.back < s < scene.tear.start):
        _plane(ax, record, row, s, at, found)
    for off, around, radius, side in found:
        x, y = _ring(off, np.array(toward + around))
        disc = _ring(radius, turn)
        draw_disc(ax, x + disc[0], y + disc[1], side in (2, 4))
    for breach in breaches(record, row):
        if abs(breach.s - s) < record.case.profile.tip_radius:
            turned = toward + float(np.arctan2(breach.lateral, breach.across))
            reach = min(float(np.hypot(breach.across, breach.lateral)), floor)
            mark_breach(ax, *(float(v) for v in _ring(reach, np.array(turned))), zorder=9, label=breach.words)
    out = max(even + 1.1 * OUTER_LAYER / MM, least) * MM
    ray = np.array([0.0, out])
    line(
        ax, ray * np.cos(toward), ray * np.sin(toward), color=style.MUTED, lw=0.7, ls="--", zorder=1.8,
        label="azimuth of the tear",
    )  # fmt: skip
    ax.set_aspect("equal")
    ax.set_xlim(-out, out)
    ax.set_ylim(-out, out)
    ax.tick_params(labelsize=7)
    ax.spines[["top", "right"]].set_visible(False)
    return len(found)


def crossings(wire: Wire, s: float) -> list[tuple[float, float, float, int]]:
    """Where the wire's line passes s (m): distance from the axis (m), angle from the tear's azimuth (rad), radius (m),
    channel; last the tip's dome, where the cut passes it alone."""
    out = []
    for i in np.flatnonzero((wire.s[:-1] - s) * (wire.s[1:] - s) < 0.0):
        t = (s - wire.s[i]) / (wire.s[i + 1] - wire.s[i])
        x, y, radius = ((1.0 - t) * v[i] + t * v[i + 1] for v in (wire.across, wire.lateral, wire.radius))
        side = int(wire.side[i] if t < 0.5 else wire.side[i + 1])
        out.append((float(np.hypot(x, y)), float(np.arctan2(y, x)), float(radius), side))
    before, short = (float(v) - s for v in wire.s[-2:])
    if before * short >= 0.0 and abs(short) < wire.radius[-1]:
        x, y, radius = (float(v[-1]) for v in (wire.across, wire.lateral, wire.radius))
        out.append(
            (float(np.hypot(x, y)), float(np.arctan2(y, x)), float(np.sqrt(radius**2 - short**2)), int(wire.side[-1]))
        )
    return out


def flap_height(record: Record, row: int, s: float, at: Opening, found: list[tuple[float, float, float, int]], g: Array,
                edges: tuple[float, float]) -> Array:  # fmt: skip
    """Clear height under the flap at sigma = g between the margins `edges` (m), m: at rest, over the whole of the wire
    where that stands higher, with no sharp hollow, down to 0 at the margins."""
    scene = record.case.scene
    own, here, front, _ = _mirrored(scene, s, at)
    lift = float(record.lip[row]) if own == 2 else 0.0  # the lip behind which a plane runs upstream is firm
    rest = float((rest_gap(scene, here, front) + lift * lip_mode(scene, here))[0])
    rest, inside = max(rest, 0.0), np.maximum(np.minimum(g - edges[0], edges[1] - g), 0.0)
    a, h = float(scene.lumen.at(np.array(s))), scene.wall.flap_thickness
    # a smooth step's hollow is fall^2 / 6 rest
    fall = min(np.sqrt(6.0 * rest * AT_REST * h), 0.5 * (edges[1] - edges[0])) + 1e-9
    near = np.minimum(inside / fall, 1.0)
    roof = a + h - rest * near * near * (3.0 - 2.0 * near)
    phi = g / floor_radius(scene)
    for off, around, radius, side in found:
        if side == own:
            over = _nearest(np.array([off]), np.array([around]), phi, radius + CLEAR)
            # wire that has gone round to the other side of the vessel does not carry it through the far wall
            roof = np.minimum(roof, np.maximum(over, FAR * a))
    roof[(g <= edges[0]) | (g >= edges[1])] = a + h
    angles, roofs = _with_margins(roof, phi, a + h, scene)
    smooth = _farthest(_nearest(roofs, angles, angles, HOLLOW), angles, angles, HOLLOW)[FINE : FINE + len(g)]
    bent = STEEP * AT_MARGIN  # from a margin to where the rise is steepest
    rise = np.where(inside < bent, 0.5 * inside**2 / AT_MARGIN, STEEP * (inside - 0.5 * bent))
    return np.asarray(a + h - np.minimum(roof, np.maximum(smooth, a + h - rise)))


def _mirrored(scene: Scene, s: float, at: Opening) -> tuple[int, Array, float, int]:
    """Channel and first row of margins of the plane at s (m), and its place and front as behind the downstream lip: the
    plane behind the upstream lip lies as that one mirrored in the window's middle. theory, "Retrograde"."""
    if s > scene.tear.start:
        return 2, np.array([s]), at.front, 0
    turned = scene.tear.start + scene.tear.end
    return 4, np.array([turned - s]), turned - at.back, 2


def _with_margins(roof: Array, phi: Array, floor: float, scene: Scene) -> tuple[Array, Array]:
    """Angles and radii (m) of the underside with FINE points of the attached layer's on either side."""
    reach = BESIDE / floor_radius(scene)
    before = np.linspace(phi[0] - reach, phi[0], FINE, endpoint=False)
    after = np.linspace(phi[-1] + reach, phi[-1], FINE, endpoint=False)[::-1]
    even = np.full(FINE, floor)
    return np.concatenate([before, phi, after]), np.concatenate([even, roof, even])


def _nearest(radii: Array, angles: Array, at: Array, reach: float) -> Array:
    """Radius at which rays from the axis at the angles `at` first come within `reach` of the points, m (inf: never)."""
    met, along, half = _within(radii, angles, at, reach)
    return np.asarray(np.where(met, along - half, np.inf).min(axis=1))


def _farthest(radii: Array, angles: Array, at: Array, reach: float) -> Array:
    """Radius up to which rays from the axis at the angles `at` come within `reach` of the points, m (0: never)."""
    met, along, half = _within(radii, angles, at, reach)
    return np.asarray(np.where(met, along + half, 0.0).max(axis=1))


def _within(radii: Array, angles: Array, at: Array, reach: float) -> tuple[NDArray[np.bool_], Array, Array]:
    """For each ray and point: whether it comes within `reach`, the middle of that stretch of it and half its length."""
    apart = at[:, None] - angles[None, :]
    aside = radii * np.sin(apart)
    met = (np.abs(aside) <= reach) & (np.cos(apart) > 0.0)
    return met, radii * np.cos(apart), np.sqrt(np.maximum(reach**2 - aside**2, 0.0))


def _plane(
    ax: Axes, record: Record, row: int, s: float, at: Opening, found: list[tuple[float, float, float, int]]
) -> None:
    """False channel and flap between the margins at s."""
    scene = record.case.scene
    half, floor = 0.5 * scene.channel.room, float(scene.lumen.at(np.array(s))) + scene.wall.flap_thickness
    low, high = -half, half
    own, here, _, side = _mirrored(scene, s, at)
    if at.stations is not None and at.margins is not None:
        k = int(np.argmin(np.abs(at.stations - here)))
        low, high = low - float(at.margins[side, k]), high + float(at.margins[side + 1, k])
    g = np.linspace(low, high, FINE)
    phi = np.asarray(azimuth(scene, np.full(FINE, s), g))
    roof, h = floor - flap_height(record, row, s, at, found, g, (low, high)), scene.wall.flap_thickness
    angles, roofs = _with_margins(roof, phi, floor, scene)
    inner = _nearest(roofs, angles, angles, h)
    _between(ax, inner[OWN], floor, phi, BLUE, 2.0)
    _between(ax, roof, floor, phi, FALSE_LUMEN, 2.1)
    outer = np.full(len(angles), floor - h)  # where the flap is steep it overhangs what is attached beside it
    outer[OWN] = roof
    drawn = inner < floor - h - OVERHANG
    drawn[OWN] = True
    for s1, g1, s2, g2, radius in at.holes if at.holes is not None and own == 2 else ():
        if min(s1, s2) - radius <= s <= max(s1, s2) + radius:
            middle = g1 if s1 == s2 else g1 + (g2 - g1) * np.clip((s - s1) / (s2 - s1), 0.0, 1.0)
            off = floor_radius(scene) * (angles - float(azimuth(scene, np.array(s), np.array(middle))))
            for part in (drawn & (off < -radius), drawn & (off > radius)):
                _flap_piece(ax, outer[part], inner[part], angles[part])
            break
    else:
        _flap_piece(ax, outer[drawn], inner[drawn], angles[drawn])
    line(ax, *_ring(floor, phi), color=style.FALSE_OUTLINE, linewidth=1.4, zorder=2.3, label="floor of the plane")


def _flap_piece(ax: Axes, roof: Array, inner: Array, phi: Array) -> None:
    """A piece of the flap from the radius `roof` of its underside to that of its face toward the lumen, `inner` (m)."""
    if len(phi):
        faces = zip(_ring(roof, phi), _ring(inner, phi), strict=True)
        x, y = (np.concatenate([one, two[::-1]]) for one, two in faces)
        polygon(ax, x, y, facecolor=style.FLAP, edgecolor=style.INK, linewidth=0.6, zorder=2.2, label="flap")


def _between(
    ax: Axes, inner: Array | float, outer: Array | float, phi: Array, look: dict[str, Any], order: float
) -> None:
    """Fill between two radii (m) over the angles phi."""
    one, two = _ring(inner, phi), _ring(outer, phi)
    x, y = (np.concatenate([p, q[::-1]]) for p, q in zip(one, two, strict=True))
    polygon(ax, x, y, linewidth=0, zorder=order, **look)


def _ring(radius: Array | float, phi: Array) -> tuple[Array, Array]:
    """Points at a radius (m) and angles, mm."""
    return np.asarray(radius * np.cos(phi) * MM), np.asarray(radius * np.sin(phi) * MM)


def save_cross(record: Record, outcome: Outcome, path: Path | str, row: int = -1, title: str = "") -> Path:
    """Write the cross-sections to `path`."""
    return style.save(cross_figure(record, outcome, row, title), path)
