"""Meshes of an insertion by name: what stands still, made once a case, and what moves, made at every increment.

Points in m, in the model's axes; every mesh has normals and `colour`, RGB of its points. Pure functions, no plotter.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ...insertion.case import Case
from ...insertion.record import Record
from ...vessel.layers import Layers
from ...wire.design import Design
from .. import style
from ..breach import breaches
from ..draw import ATTACHED
from ..view import wires
from ..walls import PLAQUE, PLUG, at_row
from . import vessel, wall, wire
from .look import OPENED, STRAIN, opened_colours, strain_colours
from .place import around, extent_of
from .sheets import Sheet, joined, mesh, tube

if TYPE_CHECKING:
    from pyvista import PolyData

COIL_SHOWN = 12e-3  # m of wire from the tip on which the turns of an outer coil are shown
MEDIA, ADVENTITIA = "#f3e3d8", "#c3ada2"  # lighter and darker than the inner layer
MOVING = ("inner layer", "flap", "plane", "front", "plug", "wire", "coil", "rim outside", "rim inside", "pierced")
STANDING = ("outer wall", "media", "adventitia", "narrowing", "cut-away side", "support", "weak spot")


def vessel_parts(case: Case, layers: Layers | None = None) -> dict[str, PolyData]:
    """Meshes of what does not move, by the names in STANDING; a part that a case has not is not in it.

    Parameters
    ----------
    case : Case
        an insertion
    layers : Layers, optional
        the wall's layers: "media" and "adventitia" then stand for "outer wall"
    """
    extent = extent_of(case)
    colours = {"outer wall": style.WALL, "media": MEDIA, "adventitia": ADVENTITIA, "narrowing": PLAQUE}
    out = {name: mesh(part, colours[name]) for name, part in vessel.outer_layers(case, extent, layers).items()}
    out["cut-away side"] = mesh(vessel.removed_side(case, extent), style.TRUE_LUMEN)
    out["support"] = mesh(vessel.support(case), style.SUPPORT)
    spot = vessel.weak_spot(case)
    if spot is not None:
        out["weak spot"] = mesh(spot, style.INK)
    return out


def moving_parts(
    record: Record, row: int, design: Design | None = None, *, strain: float = 0.0, travel: float = 0.0
) -> dict[str, PolyData]:
    """Meshes of what moves at an increment of a record, by the names in MOVING; a part that is not there is not in it.

    Parameters
    ----------
    record : Record
        an insertion, finished or as far as it has come
    row : int
        of it
    design : Design, optional
        the wire's construction: its outer coil is then shown over the distal COIL_SHOWN, and the "wire" under it is
        only as thick as the coil's middle; without it the wire is its envelope
    strain, travel : float
        bending strain (-) and travel of the hand (m) at the dark ends of the colours; 0: the largest up to this row
    """
    return (
        opened_parts(record, row, travel=travel)
        | flap_parts(record, row)
        | wire_parts(record, row, design, strain=strain)
    )


def opened_parts(record: Record, row: int, *, travel: float = 0.0) -> dict[str, PolyData]:
    """Of `moving_parts` those that change only where a front, a margin or a plug does: "inner layer", "plane",
    "front", "plug", and "pierced"."""
    row = row % len(record.feed)
    at = at_row(record, row)
    found = wall.planes(record, row, at)
    out = {"inner layer": mesh(wall.inner_layer(record, at, extent_of(record.case), found), ATTACHED)}
    if found:
        opened = joined([wall.floor(record, row, at, plane) for plane in found])
        out["plane"] = mesh(opened, opened_colours(opened.values, travel), OPENED)
        out["front"] = mesh(joined([wall.front_line(record, at, plane) for plane in found]), style.INK)
    if (stopper := wall.plug(record, at)) is not None:
        out["plug"] = mesh(stopper, PLUG)
    marks = [_mark(record, place.s, place.across, place.lateral) for place in breaches(record, row)]
    if marks:
        out["pierced"] = mesh(joined(marks), "white")
    return out


def flap_parts(record: Record, row: int) -> dict[str, PolyData]:
    """Of `moving_parts` the "flap", which moves with its lip and with the wire under it."""
    row = row % len(record.feed)
    at, seen = at_row(record, row), wires(record, [row], plain=True)[0]
    sheets = [wall.flap(record, row, at, plane, seen) for plane in wall.planes(record, row, at)]
    return {"flap": mesh(joined(sheets), style.FLAP)} if sheets else {}


def wire_parts(record: Record, row: int, design: Design | None = None, *, strain: float = 0.0) -> dict[str, PolyData]:
    """The wire's meshes of `moving_parts`: "wire", "coil", "rim outside", "rim inside"."""
    row = row % len(record.feed)
    between = wire.BETWEEN if design is None else wire.UNDER_COIL
    line = wire.line_of(record, row, between, _shown_from(record, row))
    dome = record.case.profile.tip_radius
    out: dict[str, PolyData] = {}
    radius = line.radius
    turns = []
    for coil in wire.outer_coils(design) if design is not None else []:
        if coil.start < min(COIL_SHOWN, float(line.distance[0])):
            shown, under = wire.coil_turns(line, coil, COIL_SHOWN)
            turns.append(shown)
            radius = np.where(under, coil.radius(line.distance), radius)
    trunk = wire.body(line, dome, radius)
    out["wire"] = mesh(trunk, strain_colours(trunk.values, strain), STRAIN)
    if turns:
        coils = joined(turns)
        out["coil"] = mesh(coils, strain_colours(coils.values, strain), STRAIN)
    for name, inside, colour in (("rim outside", False, style.INK), ("rim inside", True, style.FALSE_OUTLINE)):
        if (skin := wire.outline(line, dome, inside)) is not None:
            out[name] = mesh(skin, colour)
    return out


def _shown_from(record: Record, row: int) -> float:
    """Arc length along the wire from which on it is shown, m: where the support is, which may end in a wall."""
    nodes = record.positions[row]
    line, along, _, _ = vessel.support_line(record.case)
    arc = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(nodes, axis=0), axis=1))])
    ahead = (nodes - line[0]) @ along[0]
    mouth = int(np.argmin(np.linalg.norm(nodes - line[-1], axis=1)))
    behind = np.flatnonzero(ahead[: mouth + 1] < 0.0)
    if len(behind) == 0 or behind[-1] + 1 >= len(arc):
        return 0.0
    k = int(behind[-1])
    share = ahead[k] / (ahead[k] - ahead[k + 1])
    return float(arc[k] + share * (arc[k + 1] - arc[k]))


def _mark(record: Record, s: float, across: float, lateral: float) -> Sheet:
    """A ball where a wall was pierced."""
    point, out = around(record.case.scene, np.array([s]), np.array([[np.arctan2(lateral, across)]]))
    size = 1.2 * record.case.profile.tip_radius
    turn = np.linspace(0.0, np.pi, 9)
    centre = point[0, 0] + np.hypot(across, lateral) * out[0, 0]
    axis, one, two = (np.tile(v, (9, 1)) for v in np.eye(3))
    ball = tube(centre + size * np.cos(turn)[:, None] * axis, size * np.sin(turn), one, two, 12)
    return ball._replace(normals=(ball.points - centre) / size)
