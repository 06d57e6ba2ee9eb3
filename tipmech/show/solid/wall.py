"""What moves in the wall: the inner layer round the tear, the flap, the plane behind it with what was opened, its
fronts, a plug. Meshes of one increment of a record."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...insertion.classify import travel
from ...insertion.opened import front_span
from ...insertion.record import Record
from ...vessel.build import BLEND, FAR, floor_radius, lip_rounding, window_half
from ...vessel.scene import Scene, quintic_step
from ..view import Array, Wire, lip_mode, rest_gap
from ..walls import Opening, at_row
from . import place
from .place import Extent
from .sheets import Sheet, cross, joined, sheet, slab, strip, tube, unit

PLANE_ROWS, WINDOW_ROWS, REST_ROWS = 90, 9, 36  # stations of the plane, the window, the wall before and beyond
LIP_ROWS = 5  # of them in the rounding of the lip
FLAP_COLUMNS, WALL_COLUMNS = 41, 16
SIDES = 10  # of the line of a front
LINE = 0.06e-3  # m, radius of that line
CLEAR = 4e-6  # m by which the plane's colour lies above the wall behind it
HIGHEST = 1.6  # of the flap's thickness: it falls to its margins as one that stands off at rest as a strip does
BESIDE = 0.7  # -, fall of the flap beside the wire that lifts it,
BLUNT = 2.0  # rounded over so many radii of the wire, and
STEEPEST = 12.0  # at a margin or a front: a wire that touches it stays covered
BULGE, BULGING = 0.35, 0.3e-3  # of its height there it stands out beside a margin, so near to it (m): as a wire does
BLOCK = 10  # stations looked at together


@dataclass(frozen=True)
class Plane:
    """One plane behind the flap, counted from its lip on; all m.

    lip : its s; way : 1 downstream, -1 upstream; front : its s; first : where that stood at the start; side : channel
    of the wire in it; margin : row of its margins; lift : of the free lip
    """

    lip: float
    way: float
    front: float
    first: float
    side: int
    margin: int
    lift: float


def planes(record: Record, row: int, at: Opening) -> list[Plane]:
    """Planes of a record at an increment: none in a whole wall."""
    tear, channel = record.case.scene.tear, record.case.scene.channel
    if at.whole:
        return []
    out = [Plane(tear.end, 1.0, at.front, tear.end + channel.length, 2, 0, float(record.lip[row]))]
    if channel.retrograde is not None and at.back < tear.start:
        out.append(Plane(tear.start, -1.0, at.back, tear.start - channel.retrograde, 4, 2, 0.0))
    return out


def mirrored(scene: Scene, plane: Plane, s: Array | float) -> Array:
    """Positions as behind the downstream lip: those of a plane upstream are mirrored. theory, "Retrograde"."""
    return np.asarray(s if plane.way > 0.0 else scene.tear.start + scene.tear.end - s)


def plane_rows(scene: Scene, plane: Plane) -> Array:
    """Stations of a plane from its lip to its front, the rounding of the lip and the first front among them, m."""
    length, rho = plane.way * (plane.front - plane.lip), lip_rounding(scene)
    rho = min(rho, 0.5 * length)
    first = min(max(plane.way * (plane.first - plane.lip), rho), length)
    turn = np.linspace(0.0, 0.5 * np.pi, LIP_ROWS, endpoint=False)
    rest = PLANE_ROWS - LIP_ROWS
    share = (first - rho) / max(length - rho, 1e-12)
    before = int(np.clip(round(share * rest), 2, rest - 2))
    x = np.concatenate(
        [rho * (1.0 - np.cos(turn)), np.linspace(rho, first, before), np.linspace(first, length, rest - before)]
    )
    return plane.lip + plane.way * x


def edges(scene: Scene, plane: Plane, at: Opening, s: Array) -> tuple[Array, Array]:
    """Margins of a plane at stations, sigma in m: half its room and what was opened beyond, on a line between the
    stations at which that is kept."""
    half = np.full(len(s), 0.5 * scene.channel.room)
    if at.margins is None or at.stations is None:
        return -half, half
    x = mirrored(scene, plane, s)
    low, high = (np.interp(x, at.stations, at.margins[plane.margin + k], left=0.0, right=0.0) for k in (0, 1))
    limit = np.pi * floor_radius(scene) - 1e-6
    return -np.minimum(half + low, limit), np.minimum(half + high, limit)


def height(scene: Scene, plane: Plane, s: Array, g: Array, sides: tuple[Array, Array], wire: Wire) -> Array:
    """Clear height under the flap at stations s (n,) and sigma g (n, c), m.

    At rest with the recorded lift of its lip, as the contact has it, falling to the margins as a clamped strip does
    (a drawing: the contact's flap is the same across); over the wire where that stands higher.
    """
    x, front = mirrored(scene, plane, s), float(mirrored(scene, plane, plane.front))
    rest = np.maximum(rest_gap(scene, x, front) + plane.lift * lip_mode(scene, x), 0.0)[:, None]
    room, mouth = 0.5 * scene.channel.room, window_half(scene.tear, scene.channel)
    narrower = ((room - mouth) * (1.0 - quintic_step((x - scene.tear.end) / BLEND)))[:, None]
    inside = np.minimum(g - sides[0][:, None], sides[1][:, None] - g) - narrower
    inside = np.maximum(inside, 0.0)
    half = 0.5 * (sides[1] - sides[0])[:, None] - narrower
    fall = np.minimum(np.sqrt(6.0 * rest * HIGHEST * scene.wall.flap_thickness), half) + 1e-9
    near = np.minimum(inside / fall, 1.0)
    steep = STEEPEST * np.minimum(inside, np.maximum(front - x, 0.0)[:, None])
    over = _smoothed(np.minimum(_smoothed(_over_wire(scene, plane, s, g, wire)), steep))
    return np.asarray(np.maximum(rest * near**2 * (3.0 - 2.0 * near), over))


def _smoothed(values: Array) -> Array:
    """Values on a grid smoothed with weights 1, 2, 1 either way, those at its borders kept."""
    out = values.copy()
    out[1:-1] = 0.25 * (values[:-2] + values[2:]) + 0.5 * values[1:-1]
    out[:, 1:-1] = 0.25 * (out[:, :-2] + out[:, 2:]) + 0.5 * out[:, 1:-1]
    return out


def _over_wire(scene: Scene, plane: Plane, s: Array, g: Array, wire: Wire) -> Array:
    """Height that the wire in a plane lifts the flap to, m: over its own outline, falling beside it."""
    inside = np.flatnonzero(wire.side == plane.side)
    if len(inside) == 0:
        return np.zeros_like(g)
    nodes = np.arange(max(inside[0] - 1, 0), inside[-1] + 1)
    fine = np.linspace(nodes[0], nodes[-1], 2 * len(nodes) + 1)
    own = wire.side[np.round(fine).astype(int)] == plane.side
    along, off, turned, radius = (
        np.interp(fine, nodes, v[nodes])[own]
        for v in (wire.s, np.hypot(wire.across, wire.lateral), wire.around, wire.radius)
    )
    top = scene.lumen.at(along) + scene.wall.flap_thickness - off + radius
    # wire that has gone round to the other side of the vessel does not carry it through the far wall
    top = np.minimum(top, (1.0 - FAR) * scene.lumen.at(along) + scene.wall.flap_thickness)
    out = np.zeros_like(g)
    reach = top / BESIDE + BLUNT * radius
    for first in range(0, len(s), BLOCK):
        rows = slice(first, first + BLOCK)
        low, high = np.min(s[rows]), np.max(s[rows])
        near = np.flatnonzero((along > low - reach) & (along < high + reach))
        if len(near) == 0:
            continue
        apart = (s[rows, None, None] - along[near]) ** 2 + (g[rows, :, None] - turned[near]) ** 2
        blunt = BLUNT * radius[near]
        raised = top[near] + BESIDE * (blunt - np.sqrt(apart + blunt**2))
        out[rows] = np.maximum(raised.max(axis=-1), 0.0)
    return out


def flap(record: Record, row: int, at: Opening, plane: Plane, wire: Wire) -> Sheet:
    """The flap over a plane as a body of its own thickness, its lip rounded, its holes open."""
    scene = record.case.scene
    s = plane_rows(scene, plane)
    low, high = edges(scene, plane, at, s)
    g = low[:, None] + (high - low)[:, None] * np.linspace(0.0, 1.0, FLAP_COLUMNS)
    h, rho = scene.wall.flap_thickness, lip_rounding(scene)
    x = np.clip(plane.way * (s - plane.lip), 0.0, rho)
    round_off = (rho - np.sqrt(np.maximum(rho**2 - (rho - x) ** 2, 0.0)))[:, None]
    clear = height(scene, plane, s, g, (low, high), wire)
    under = scene.lumen.at(s)[:, None] + h - clear
    inside = np.minimum(g - low[:, None], high[:, None] - g)
    phi = (g + np.sign(g) * BULGE * clear * np.exp(-inside / BULGING)) / floor_radius(scene)
    bottom, outward = place.shell(scene, s, phi, under - round_off)
    top, _ = place.shell(scene, s, phi, under - h + round_off)
    return joined(slab(top, bottom, -outward, _not_in_holes(at, plane, s, g)))


def _not_in_holes(at: Opening, plane: Plane, s: Array, g: Array) -> np.ndarray | None:
    """Cells of the flap that lie in no hole; None: there is none."""
    if at.holes is None or not len(at.holes) or plane.way < 0.0:
        return None
    middle = 0.25 * (g[:-1, :-1] + g[1:, :-1] + g[:-1, 1:] + g[1:, 1:])
    along = np.broadcast_to(0.5 * (s[:-1] + s[1:])[:, None], middle.shape)
    keep = np.full(middle.shape, True)
    for s1, g1, s2, g2, radius in at.holes:
        way = np.array([s2 - s1, g2 - g1])
        t = np.clip(((along - s1) * way[0] + (middle - g1) * way[1]) / max(float(way @ way), 1e-18), 0.0, 1.0)
        keep &= np.hypot(along - s1 - t * way[0], middle - g1 - t * way[1]) > radius
    return keep


def floor(record: Record, row: int, at: Opening, plane: Plane) -> Sheet:
    """The plane's outer surface with the travel of the hand at which it was opened, m: 0 from the start, nan where
    the wire has room that was not paid for."""
    scene = record.case.scene
    s = plane_rows(scene, plane)
    low, high = edges(scene, plane, at, s)
    g = _columns(scene, record, row, low, high)
    points, outward = place.shell(scene, s, g / floor_radius(scene), _floor(scene, s)[:, None] - CLEAR)
    return sheet(points, -outward, values=opened_at(record, row, plane, s, g))


def _floor(scene: Scene, s: Array) -> Array:
    """Radius of the plane's outer surface, m."""
    return np.asarray(scene.lumen.at(s) + scene.wall.flap_thickness)


def _columns(scene: Scene, record: Record, row: int, low: Array, high: Array) -> Array:
    """Sigma of the plane's columns, (n, c), m: denser than the flap's, with the initial margins among them."""
    half, beyond = 0.5 * scene.channel.room, FLAP_COLUMNS // 4
    inner = np.linspace(-half, half, FLAP_COLUMNS)
    out = np.linspace(0.0, 1.0, beyond)
    left = -half + (low + half)[:, None] * out[::-1]
    right = half + (high - half)[:, None] * out
    return np.hstack([left, np.broadcast_to(inner, (len(low), FLAP_COLUMNS)), right])


def opened_at(record: Record, row: int, plane: Plane, s: Array, g: Array) -> Array:
    """Travel of the hand (m) at which places of a plane were opened up to an increment, (n, c); 0: at the start."""
    scene = record.case.scene
    path = travel(record)
    x = plane.way * (s - plane.lip)
    first, half = plane.way * (plane.first - plane.lip), 0.5 * scene.channel.room
    out = np.full(g.shape, np.nan)
    fronts = record.front - plane.lip if plane.way > 0.0 else plane.lip - record.front_back
    when = path[np.minimum(np.searchsorted(fronts[: row + 1], x - 1e-12), row)][:, None]
    span = front_span(record, row) if plane.way > 0.0 else _mean_span(record)
    out = np.where((g >= span[0]) & (g <= span[1]), when, out)
    beside = _margins_opened_at(record, row, plane, mirrored(scene, plane, s), np.abs(g) - half, g, path)
    out = np.where(np.abs(g) > half + 1e-12, np.fmin(out, beside), out)
    return np.where((x[:, None] <= first + 1e-12) & (np.abs(g) <= half + 1e-12), 0.0, out)


def _mean_span(record: Record) -> tuple[float, float]:
    """Sigma between which the front behind the upstream lip opens, m."""
    low, high = front_span(record, -1)
    return -0.5 * (high - low), 0.5 * (high - low)


def _margins_opened_at(record: Record, row: int, plane: Plane, x: Array, depth: Array, g: Array, path: Array) -> Array:
    """Travel at which the margins were first opened as deep as `depth` (n, c), m."""
    stations = at_row(record, row).stations
    assert stations is not None
    nearest = np.clip(np.round((x - stations[0]) / (stations[1] - stations[0])).astype(np.int64), 0, len(stations) - 1)
    out = np.full(g.shape, path[row])
    for side, where in ((0, g < 0.0), (1, g >= 0.0)):
        history = record.margins[: row + 1, plane.margin + side]
        for k in np.unique(nearest[np.any(where & (depth > 0.0), axis=1)]):
            rows = nearest == k
            first = np.minimum(np.searchsorted(history[:, k], depth[rows] - 1e-12), row)
            out[rows] = np.where(where[rows], path[first], out[rows])
    return out


def inner_layer(record: Record, at: Opening, extent: Extent, found: list[Plane]) -> Sheet:
    """The attached inner layer on either side of window and planes, as a body, cut away where the wall is."""
    scene = record.case.scene
    tear = scene.tear
    stations, half = [], []
    back = next((p for p in found if p.way < 0.0), None)
    start = back.front if back else tear.start
    before = np.linspace(min(extent.first, start), start, REST_ROWS)
    stations.append(before)
    half.append((np.zeros(REST_ROWS), np.zeros(REST_ROWS)))
    if back is not None:
        s = plane_rows(scene, back)[::-1]
        stations.append(s)
        half.append(edges(scene, back, at, s))
    mouth = 0.0 if at.whole else window_half(tear, scene.channel)
    stations.append(np.linspace(tear.start, tear.end, WINDOW_ROWS))
    half.append((np.full(WINDOW_ROWS, -mouth), np.full(WINDOW_ROWS, mouth)))
    end = tear.end
    if found:
        s = plane_rows(scene, found[0])
        stations.append(s)
        half.append(edges(scene, found[0], at, s))
        end = found[0].front
    stations.append(np.linspace(end, max(extent.last, end), REST_ROWS))
    half.append((np.zeros(REST_ROWS), np.zeros(REST_ROWS)))
    s, low, high = np.concatenate(stations), *(np.concatenate([pair[k] for pair in half]) for k in (0, 1))
    scale = floor_radius(scene)
    sides = [
        _attached(scene, s, np.minimum(low / scale, place.TO), place.FROM, 0),
        _attached(scene, s, np.maximum(high / scale, place.FROM), place.TO, -1),
    ]
    return joined([part for parts in sides for part in parts])


def _attached(scene: Scene, s: Array, edge: Array, cut: float, outer: int) -> list[Sheet]:
    """Inner layer between the cut (rad) and the edge (n,) of what is open; outer: the column of the cut."""
    edge = np.maximum(edge, cut) if outer == 0 else np.minimum(edge, cut)
    t = np.linspace(0.0, 1.0, WALL_COLUMNS)
    phi = cut + (edge - cut)[:, None] * (t if outer == 0 else t[::-1])
    a, h = scene.lumen.at(s)[:, None], scene.wall.flap_thickness
    top, outward = place.shell(scene, s, phi, a)
    bottom, _ = place.shell(scene, s, phi, a + h)
    inner = -1 if outer == 0 else 0
    open_there = edge != 0.0
    return [
        sheet(top, -outward),
        sheet(bottom, outward),
        strip(top[:, outer], bottom[:, outer]),
        strip(top[:, inner], bottom[:, inner], open_there[1:] | open_there[:-1]),
        strip(top[0], bottom[0]),
        strip(top[-1], bottom[-1]),
    ]


def front_line(record: Record, at: Opening, plane: Plane) -> Sheet:
    """The delamination front as a line across the plane."""
    scene = record.case.scene
    s = np.array([plane.front])
    (low,), (high,) = edges(scene, plane, at, s)
    phi = np.linspace(low, high, 24)[None, :] / floor_radius(scene)
    points, outward = place.shell(scene, s, phi, _floor(scene, s)[:, None])
    along = unit(np.gradient(points[0], axis=0))
    return tube(points[0], np.full(24, LINE), outward[0], unit(cross(along, outward[0])), SIDES, cap=True)


def plug(record: Record, at: Opening) -> Sheet | None:
    """What occludes the true lumen, from where it has yielded to."""
    scene = record.case.scene
    if scene.plug is None or not at.plug < scene.plug.end:
        return None
    s = np.linspace(at.plug, scene.plug.end, 30)
    point, across = place.around(scene, s, np.zeros((30, 1)))
    _, other = place.around(scene, s, np.full((30, 1), 0.5 * np.pi))
    radius = scene.lumen.at(s) - 2.0 * CLEAR
    return tube(point[:, 0], radius, across[:, 0], other[:, 0], 48, cap=True)
