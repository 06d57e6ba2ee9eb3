"""Names of parts of a scene and the places they point at; where the words go so that none covers another."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...insertion.record import Record
from ...vessel.build import floor_radius
from .. import style
from ..breach import breaches
from ..view import Array, project
from ..walls import at_row
from . import place, vessel, wall

if TYPE_CHECKING:
    from pyvista import PolyData

SIDES = {
    0: "the true lumen", 1: "the window", 2: "the false lumen", 3: "a hole in the flap",
    4: "the false lumen behind the upstream lip",
}  # fmt: skip
PER_CHARACTER, APART = 8.6, 16.0  # pixels of a 9-point letter at 130 dpi, and between words


@dataclass(frozen=True)
class Label:
    """A part's name, the point (3,) it names, m, whether it stands over the picture, its colour."""

    text: str
    point: Array
    over: bool
    colour: str = style.INK


def labels_of(record: Record, row: int, parts: Mapping[str, PolyData]) -> list[Label]:
    """Names of what there is in a scene at an increment."""
    scene = record.case.scene
    tear, at = scene.tear, at_row(record, row)
    a, h, scale = float(scene.lumen.at(tear.end)), scene.wall.flap_thickness, floor_radius(scene)

    def on_wall(s: float, sigma: float, off: float) -> Array:
        points, _ = place.shell(scene, np.array([s]), np.array([[sigma / scale]]), np.array([[off]]))
        return np.asarray(points[0, 0])

    beyond = min(at.front if not at.whole else tear.end, place.extent_of(record.case).last) + 0.5e-3
    out = [Label("true lumen", on_wall(beyond, 0.8 * np.pi * scale, 0.3 * a), over=True, colour="#31658f")]
    if "flap" in parts:
        found = wall.planes(record, row, at)
        for plane in found:
            name = "flap" if plane.way > 0.0 else "flap behind the upstream lip"
            out.append(Label(name, _top_of_flap(record, parts["flap"], plane, found), over=False, colour=style.FLAP))
            name = "front" if plane.way > 0.0 else "upstream front"
            out.append(Label(name, on_wall(plane.front, 0.45 * scene.channel.room, a + h), over=False))
        half = 0.5 * scene.channel.room
        s = tear.end + 0.35 * (at.front - tear.end)
        out.append(Label("false lumen", on_wall(s, 0.7 * half, a + h), over=False, colour=style.FALSE_OUTLINE))
        out.append(Label("tear (window)", on_wall(0.5 * (tear.start + tear.end), 0.4 * tear.half_width, a + h), False))
    elif "weak spot" in parts:
        out.append(Label("weak spot, whole", on_wall(tear.end, 0.0, a), over=False))
    if "plug" in parts and scene.plug is not None:
        out.append(Label("plug", on_wall(at.plug + 0.5e-3, 0.6 * np.pi * scale, 0.8 * a), over=True))
    mouth = vessel.support_line(record.case)[0][-1]
    out.append(Label("support", mouth, over=True))
    for breach in breaches(record, row):
        out.append(Label(breach.words, np.asarray(parts["pierced"].center), over=True))
    out.append(_wire_label(record, row))
    return out


def _wire_label(record: Record, row: int) -> Label:
    """The wire, named at its tip by the channel it is in."""
    inside = record.side[row, -1] in (2, 4)
    return Label(
        f"tip, in {SIDES[int(record.side[row, -1])]}",
        record.positions[row, -1],
        over=True, colour=style.FALSE_OUTLINE if inside else style.INK,
    )  # fmt: skip


def _top_of_flap(record: Record, flap: PolyData, plane: wall.Plane, found: Sequence[wall.Plane]) -> Array:
    """A point of the flap's face toward the lumen, near the middle of a plane's length."""
    points = np.asarray(flap.points, dtype=float)
    s, depth, lateral = project(record.case.scene, points)
    off = np.hypot(depth, lateral)
    wanted = plane.lip + 0.62 * (plane.front - plane.lip)
    near = np.abs(s - wanted) < max(0.03 * abs(plane.front - plane.lip), 0.1e-3)
    side = near & (np.abs(np.arctan2(lateral, depth)) < 0.35)
    rows = np.flatnonzero(side if side.any() else near)
    return np.asarray(points[rows[int(np.argmin(off[rows]))]])


def spread(wanted: Sequence[float], texts: Sequence[str], room: float) -> list[float]:
    """Middles of words (pixels) in their order, as near to where they are wanted as they fit side by side."""
    wide = [PER_CHARACTER * len(text) + APART for text in texts]
    out: list[float] = []
    edge = 0.0
    for x, w in zip(wanted, wide, strict=True):
        out.append(max(x, edge + 0.5 * w))
        edge = out[-1] + 0.5 * w
    edge = room
    for k in range(len(out) - 1, -1, -1):
        out[k] = min(out[k], edge - 0.5 * wide[k])
        edge = out[k] - 0.5 * wide[k]
    return out
