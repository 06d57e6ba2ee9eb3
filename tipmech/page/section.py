"""The section through the tear and the plan of the pocket as SVG paths, in mm: what moves with every increment.

Geometry is that of the pictures (show/view.py, show/walls.py); colours are those of show/style.py.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..insertion.case import Case
from ..insertion.opened import stations as opened_stations
from ..insertion.record import Record
from ..show.draw import OUTER_LAYER
from ..show.support import Sleeve, shown_from, sleeve_of, zigzag
from ..show.view import Wire, lifted_gap, stations, wires
from ..vessel.margins import STATION
from .looks import BINS, RIM, STRAIN
from .paths import Array, Paint, box, line, region, segments

MM = 1e3
POINTS = 160  # stations along the walls
BEFORE, BEYOND = 1.5e-3, 4.0e-3  # m shown behind the support's mouth and beyond the front
JUMP = 2.0e-3  # m by which the view is made longer when the front comes near its end
CLEAR = 1.6e-3  # m between front and end of the view, at least: the front's name
APART = 0.9  # mm between section and plan, with the plan's label


@dataclass(frozen=True)
class Frame:
    """Limits of the drawing, mm: s from left to right; the section's half height; offset and half height of the
    plan below it."""

    left: float
    right: float
    half: float
    plan: float
    width: float

    @property
    def viewbox(self) -> str:
        """The same as an SVG viewBox."""
        bottom = self.plan + self.width
        return f"{self.left:g} {-self.half:g} {self.right - self.left:g} {bottom + self.half:g}"


def frame_of(record: Record) -> Frame:
    """Limits for the last row of a record."""
    scene = record.case.scene
    tear, channel = scene.tear, scene.channel
    mouth = tear.start - scene.support.distance
    right = tear.end + channel.length + BEYOND
    over = float(record.front[-1]) + CLEAR - right
    right += JUMP * max(0.0, np.ceil(over / JUMP))
    half = (float(scene.lumen.at(np.array(tear.start))) + scene.wall.flap_thickness) * MM + OUTER_LAYER
    width = max(channel.room / 2, tear.half_width) * MM + 0.6
    return Frame((mouth - BEFORE) * MM, right * MM, half, half + APART + width, width)


def still(case: Case, frame: Frame, sleeve: Sleeve | None = None) -> Paint:
    """Shapes that stay as they are while the wire moves: walls, lumen, support; `sleeve`: that, if known already."""
    scene = case.scene
    x = np.array([frame.left, frame.right])
    a = scene.lumen.at(x / MM) * MM
    floor = a + scene.wall.flap_thickness * MM
    sleeve = sleeve_of(case) if sleeve is None else sleeve
    edges = zip(sleeve.inner, sleeve.outer, strict=True)
    body = "".join(line(*(np.concatenate([i, o[::-1]]).T * MM)) + "Z" for i, o in edges)
    mark = line(*zigzag(sleeve.inner[0][0] * MM, sleeve.inner[1][0] * MM)) if sleeve.broken else ""
    start, end, side = scene.tear.start * MM, scene.tear.end * MM, scene.tear.half_width * MM
    return {
        "lumen": {"d": region(x, -a, a)},
        "attached": {"d": region(x, a, floor) + region(x, -floor, -a)},
        "wall": {"d": region(x, floor, floor + OUTER_LAYER) + region(x, -floor - OUTER_LAYER, -floor)},
        "support": {"d": body},
        "break_ground": {"d": mark},
        "break": {"d": mark},
        "window": {"d": region(np.array([start, end]), a, floor)},
        "ground": {"d": box((frame.left, frame.right), (frame.plan - frame.width, frame.plan + frame.width))},
        "plan_window": {"d": box((start, end), (frame.plan - side, frame.plan + side))},
        "plan_lip": {"d": line(np.array([end, end]), frame.plan + np.array([-1.0, 1.0]) * (frame.width - 0.6))},
        "label_lumen": {"x": frame.right - 0.15, "y": float(-0.45 * a[1])},
        "label_false": {"x": frame.right - 0.15, "y": float(floor[1] + 0.32)},
        "label_tear": {"x": 0.5 * (start + end), "y": float(floor[0] + 0.32)},
        "label_plan": {"x": frame.left + 0.15, "y": frame.plan - frame.width - 0.2},
        "label_section": {"x": frame.left + 0.15, "y": float(-floor[0] - 0.06)},
        "scale": {"d": line(np.array([0.0, 1.0]) + frame.left + 0.2, np.full(2, frame.plan + frame.width - 0.25))},
        "label_scale": {"x": frame.left + 1.3, "y": frame.plan + frame.width - 0.13},
    }


def moving(record: Record, frame: Frame, sleeve: Sleeve | None = None) -> Paint:
    """Shapes that move, at the last row of a record: flap, false channel, front, what was opened, wire; `sleeve`: its
    support if known already."""
    wire = wires(record, [len(record.feed) - 1])[0]
    sleeve = sleeve_of(record.case) if sleeve is None else sleeve
    return _walls(record, frame, wire) | _wire(wire, frame, shown_from(sleeve, wire, _half(record.case)))


def _walls(record: Record, frame: Frame, wire: Wire) -> Paint:
    """False channel, flap and front."""
    scene, front = record.case.scene, float(record.front[-1])
    s = stations(scene, frame.left / MM, frame.right / MM, front, POINTS)
    gap = lifted_gap(scene, s, front, wire, float(record.lip[-1])) * MM
    under = (s >= scene.tear.end) & (s <= front)
    h = scene.wall.flap_thickness * MM
    x, floor = s[under] * MM, scene.lumen.at(s[under]) * MM + h
    roof = floor - gap[under]
    low, room = float(np.interp(front * MM, x, floor)), scene.channel.room * MM / 2
    thick = max(h, scene.channel.thickness * MM)
    end, tip = scene.tear.end * MM, front * MM
    return {
        "channel": {"d": region(x, roof, floor)},
        "flap": {"d": region(x, roof - h, roof)},
        "front": {"d": line(np.full(2, tip), np.array([low - thick, low + 0.1]))},
        "plan_channel": {"d": box((end, tip), (frame.plan - room, frame.plan + room))},
        "plan_front": {"d": line(np.full(2, tip), frame.plan + np.array([-room, room]))},
        "plan_opened": {"d": _opened(record, frame, room)},
        "label_front": {"x": tip + 0.12, "y": low - thick - 0.12},
    }


def _opened(record: Record, frame: Frame, room: float) -> str:
    """What the margins of the pocket have opened beyond its room, in the plan."""
    text, at, half = [], opened_stations(record) * MM, 0.5 * STATION * MM
    for row, sign in enumerate((-1.0, 1.0)):
        edge = frame.plan - sign * room
        for k in np.flatnonzero(record.margins[-1, row]):
            beyond = edge - sign * float(record.margins[-1, row, k]) * MM
            text.append(box((at[k] - half, at[k] + half), (edge, beyond)))
    return "".join(text)


def _half(case: Case) -> float:
    """Half the width of the wire as drawn, rim included, m: its ends are round."""
    return float(case.profile.radius[0]) + 0.5 * RIM / MM


def _wire(wire: Wire, frame: Frame, start: tuple[int, float]) -> Paint:
    """The wire at its own diameter, in pieces of one colour each, apart where it lies in the false channel; start :
    segment from which the section shows it, and how far along it."""
    false = np.isin(wire.side, (2, 3, 4))
    inside = false[:-1] & false[1:]
    x = wire.s * MM
    shown = (x[1:] > frame.left - 1.0) & (x[:-1] > frame.left - 1.0)
    shade = shades(0.5 * (wire.strain[1:] + wire.strain[:-1]))
    paint: Paint = {}
    first, along = start
    side_x, depth = x.copy(), wire.depth * MM
    for values in (side_x, depth):
        values[first] += along * (values[min(first + 1, len(x) - 1)] - values[first])
    ahead = np.arange(len(shown)) >= first
    views = (("side", side_x, depth, shown & ahead), ("plan", x, frame.plan - wire.around * MM, shown))
    for view, across, y, here in views:
        for name, part in (("true", ~inside & here), ("false", inside & here)):
            paint[f"{view}_{name}_rim"] = {"d": segments(across, y, part)}
            for k in range(BINS):
                paint[f"{view}_{name}_{k}"] = {"d": segments(across, y, part & (shade == k))}
    return paint


def shades(strain: Array) -> NDArray[np.int64]:
    """Colour (0 to BINS - 1) of a bending strain; by its square root, up to STRAIN."""
    return np.minimum((np.sqrt(strain / STRAIN) * BINS).astype(np.int64), BINS - 1)
