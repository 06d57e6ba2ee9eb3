"""The wire at its true diameter as a mesh: tube and tip, the outer coil of its construction, an outline that tells the
part in the false lumen."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from scipy.spatial.transform import Rotation

from ...insertion.record import Record
from ...wire.design import Design
from ...wire.parts import Coil
from ..view import Array, IntArray, bending
from .sheets import Sheet, cross, dot, joined, tube, unit

BETWEEN, UNDER_COIL = 2, 6  # rings to an element, and where the turns of a coil are shown
SIDES = 20
DOME_RINGS = 6
RIM = 0.022e-3  # m, outline outside the wire's true diameter
TURN_STEPS, COIL_SIDES = 18, 6  # points of a coil's turn, and round its wire
SPARE = 1e-6  # m between neighbouring rings at least
SAME_RADIUS = 1e-6  # m, of a design's room and a record's wire


@dataclass(frozen=True)
class Line:
    """The wire's line, finely: points, tangents and the section's axes (n, 3); distance from the tip's end (n,), m;
    radius (n,), m; bending strain of the outer fibre (n,); channel (n,)."""

    points: Array
    tangents: Array
    first: Array
    second: Array
    distance: Array
    radius: Array
    strain: Array
    side: IntArray


def line_of(record: Record, row: int, between: int = BETWEEN, since: float = 0.0) -> Line:
    """The wire at an increment, through its nodes, which are kept; `since` : drawn from this arc length (m) on."""
    nodes = record.positions[row]
    arc = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(nodes, axis=0), axis=1))])
    fine = np.interp(np.arange((len(arc) - 1) * between + 1) / between, np.arange(len(arc)), arc)
    since = min(since, float(arc[-3]))
    fine = np.concatenate([[since], fine[fine > since + SPARE]])
    curve = CubicSpline(arc, nodes)
    tangents = unit(curve(fine, 1))
    first, second = _axes(record.quaternions[row], arc, fine, tangents)
    distance = arc[-1] - fine
    strain = bending(record.case, record.quaternions[row]) * record.case.profile.at("radius", arc[-1] - arc)
    side = record.side[row][np.clip(np.searchsorted(arc, fine - 1e-12), 0, len(arc) - 1)]
    return Line(
        curve(fine), tangents, first, second, distance, record.case.profile.at("radius", distance),
        np.interp(fine, arc, strain), side,
    )  # fmt: skip


def _axes(quaternions: Array, arc: Array, fine: Array, tangents: Array) -> tuple[Array, Array]:
    """The section's two axes at places along the wire, across its tangents; between the middles of the elements the
    frames are blended."""
    frames = Rotation.from_quat(quaternions, scalar_first=True).as_matrix()[..., 0]
    middle = 0.5 * (arc[1:] + arc[:-1])
    first = np.stack([np.interp(fine, middle, frames[:, k]) for k in range(3)], axis=1)
    first = unit(first - dot(first, tangents) * tangents)
    return first, cross(tangents, first)


def body(line: Line, tip_radius: float, radius: Array | None = None, values: Array | None = None) -> Sheet:
    """Tube of the wire's own radius (or of `radius`), its end a dome of the tip's radius about the last node."""
    values = line.strain if values is None else values
    radius = line.radius if radius is None else radius
    trunk = tube(line.points, radius, line.first, line.second, SIDES)
    turn = np.linspace(0.0, 0.5 * np.pi, DOME_RINGS)
    centre, t = line.points[-1], line.tangents[-1]
    first, second = (np.tile(v[-1], (DOME_RINGS, 1)) for v in (line.first, line.second))
    dome = tube(centre + tip_radius * np.sin(turn)[:, None] * t, tip_radius * np.cos(turn), first, second, SIDES)
    dome = dome._replace(normals=(dome.points - centre) / tip_radius, values=np.full(len(dome.points), values[-1]))
    return joined([trunk._replace(values=np.repeat(values, SIDES)), dome])


def outline(line: Line, tip_radius: float, inside: bool) -> Sheet | None:
    """Skin just outside the wire's part in the false lumen (`inside`) or elsewhere, its faces turned inward: with the
    faces that look away left out it is seen as a rim. None: no such part."""
    part = np.isin(line.side, (2, 4)) == inside
    runs = np.flatnonzero(np.diff(np.concatenate([[0], part.astype(int), [0]])))
    found = []
    for first, last in zip(runs[::2], runs[1::2], strict=True):
        rows = slice(max(first - 1, 0), last)
        if len(line.points[rows]) > 1:
            radius = line.radius[rows] + RIM
            found.append(tube(line.points[rows], radius, line.first[rows], line.second[rows], SIDES))
    if part[-1]:
        end = Line(*(v[-2:] for v in vars(line).values()))
        found.append(body(end, tip_radius + RIM, end.radius + RIM)._replace(values=None))
    if not found:
        return None
    whole = joined(found)
    return whole._replace(normals=-whole.normals, faces=whole.faces[:, ::-1])


def outer_coils(design: Design) -> list[Coil]:
    """Coils that make the wire's outside where they are."""
    coils = [part for part in design.parts if isinstance(part, Coil)]
    return [
        coil for coil in coils
        if np.all(coil.room(_inside(coil))[1] >= design.radius(_inside(coil)) - SAME_RADIUS)
    ]  # fmt: skip


def _inside(part: Coil) -> Array:
    """A few distances from the tip within a part, m."""
    return np.linspace(part.start, part.end, 7)[1:-1]


def coil_turns(line: Line, coil: Coil, shown: float) -> tuple[Sheet, NDArray[np.bool_]]:
    """The turns of a coil over the distal `shown` (m) of wire, each filar a round wire on its helix; and which rings
    of the line (n,) lie under them."""
    end = min(coil.end, shown, float(line.distance[0]))
    under = (line.distance >= coil.start) & (line.distance <= end)
    turns = (end - coil.start) / coil.pitch
    steps = max(int(np.ceil(turns * TURN_STEPS)), 2)
    distance = np.linspace(coil.start, end, steps + 1)
    order = slice(None, None, -1)
    points, first, second, strain = (
        _at(line.distance[order], v[order], distance) for v in (line.points, line.first, line.second, line.strain)
    )
    sense = 1.0 if coil.hand == "right" else -1.0
    found = []
    for filar in range(coil.filars):
        angle = -sense * 2.0 * np.pi * (distance - coil.start) / coil.pitch + 2.0 * np.pi * filar / coil.filars
        out = np.cos(angle)[:, None] * first + np.sin(angle)[:, None] * second
        helix = points + coil.radius(distance)[:, None] * out
        along = unit(np.gradient(helix, axis=0))
        out = unit(out - dot(out, along) * along)
        wire = tube(helix, np.full(len(helix), 0.5 * coil.wire_diameter), out, cross(along, out), COIL_SIDES, cap=True)
        shade = np.repeat(strain, COIL_SIDES)
        caps = np.repeat(strain[[0, -1]], COIL_SIDES + 1)
        found.append(wire._replace(values=np.concatenate([shade, caps])))
    return joined(found), under


def _at(known: Array, values: Array, wanted: Array) -> Array:
    """Values (n,) or (n, 3) on a line between known places."""
    if values.ndim == 1:
        return np.asarray(np.interp(wanted, known, values))
    return np.stack([np.interp(wanted, known, values[:, k]) for k in range(values.shape[1])], axis=1)
