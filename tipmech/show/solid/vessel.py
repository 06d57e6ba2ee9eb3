"""What stands still: outer wall with its layers, the cut-away side as a thin shell, the support."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from ...insertion.case import Case
from ...vessel.build import floor_radius, support_mouth, window_half
from ...vessel.layers import Layers
from ...vessel.scene import Scene
from ..draw import MM, OUTER_LAYER
from ..support import THICK, TOUCH
from ..view import Array, frames_at, project
from . import place
from .place import Extent
from .sheets import Sheet, cross, joined, sheet, slab, strip, tube, unit

STEP = 0.35e-3  # m between stations
COLUMNS, SIDES = 45, 28
NARROWER = 1e-6  # m by which a narrowing takes the lumen
BORE_REACH, BORE_POINTS = 5e-3, 60  # m of support shown behind its mouth at most


def stations(extent: Extent) -> Array:
    """Stations of what stands still, m."""
    return np.linspace(extent.first, extent.last, max(2, int(np.ceil((extent.last - extent.first) / STEP)) + 1))


def outer_layers(case: Case, extent: Extent, layers: Layers | None) -> dict[str, Sheet]:
    """Bodies outside the plane of dissection, cut away where the wall is: media and adventitia where the layers are
    known, else one outer wall of a drawn thickness; a narrowing's plaque."""
    scene, s = case.scene, stations(extent)
    phi = np.broadcast_to(np.linspace(place.FROM, place.TO, COLUMNS), (len(s), COLUMNS))
    even = (scene.lumen.radius + scene.lumen.taper * s + scene.wall.flap_thickness)[:, None]
    inner = (scene.lumen.at(s) + scene.wall.flap_thickness)[:, None]
    bodies = {"outer wall": OUTER_LAYER / MM}
    if layers is not None:
        bodies = dict(zip(("media", "adventitia"), (part.thickness for part in layers.outside), strict=True))
    out: dict[str, Sheet] = {}
    if float(np.max(even - inner)) > NARROWER:
        out["narrowing"] = _body(scene, s, phi, inner, even)
    for name, size in bodies.items():
        out[name] = _body(scene, s, phi, even, even + size)
        even = even + size
    return out


def _body(scene: Scene, s: Array, phi: Array, inner: Array, outer: Array) -> Sheet:
    """Body between two radii."""
    top, outward = place.shell(scene, s, phi, inner)
    bottom, _ = place.shell(scene, s, phi, outer)
    return joined(slab(top, bottom, -outward))


def removed_side(case: Case, extent: Extent) -> Sheet:
    """The lumen's surface where the wall is cut away."""
    scene, s = case.scene, stations(extent)
    phi = np.broadcast_to(np.linspace(place.TO, place.FROM + 2.0 * np.pi, COLUMNS), (len(s), COLUMNS))
    points, outward = place.shell(scene, s, phi, scene.lumen.at(s)[:, None])
    return sheet(points, -outward)


def weak_spot(case: Case) -> Sheet | None:
    """Border of a whole wall's weak spot, as a line on the lumen's surface."""
    scene, tear = case.scene, case.scene.tear
    if tear.weak_toughness is None:
        return None
    half = window_half(tear, scene.channel)
    n = 24
    s = np.concatenate([np.linspace(tear.start, tear.end, n), np.full(n, tear.end)])
    g = np.concatenate([np.full(n, half), np.linspace(half, -half, n)])
    s, g = np.concatenate([s, tear.start + tear.end - s]), np.concatenate([g, -g])
    points, outward = place.shell(scene, s, (g / floor_radius(scene))[:, None], scene.lumen.at(s)[:, None])
    line, across = points[:, 0], outward[:, 0]
    along = unit(np.gradient(line, axis=0))
    return tube(line, np.full(len(line), 0.03e-3), across, unit(cross(along, across)), 8)


def support_line(case: Case) -> tuple[Array, Array, Array, Array]:
    """`support_axes` of a case."""
    return support_axes(case.scene, 2.0 * float(case.profile.radius[0]))


@lru_cache(maxsize=8)
def support_axes(scene: Scene, diameter: float) -> tuple[Array, Array, Array, Array]:
    """The support's axis from where it is shown to its mouth: points, tangents and two axes across, (n, 3).

    It ends where its bore would stand in a wall: no wall holds the support itself in the model. `diameter`: the
    wire's, m.
    """
    back = np.linspace(BORE_REACH, 0.0, BORE_POINTS)
    if scene.support.follows:
        mouth_s = scene.tear.start - scene.support.distance
        line, along, one, two = frames_at(scene.centreline, mouth_s - back)
    else:
        mouth, frame = support_mouth(scene, diameter)
        line = mouth - back[:, None] * frame[2]
        one, two, along = (np.tile(v, (BORE_POINTS, 1)) for v in frame)
    s, depth, lateral = project(scene, line)
    tear = scene.tear
    open_there = (depth > 0.0) & (s >= tear.start) & (s <= tear.end + scene.channel.length) & (not tear.intact)
    room = scene.lumen.at(s) + np.where(open_there, scene.wall.flap_thickness, 0.0) + TOUCH
    out = np.flatnonzero(np.hypot(depth, lateral) + scene.support.inner_radius > room)
    start = min(int(out[-1]) + 1 if len(out) else 0, BORE_POINTS - 2)
    return line[start:], along[start:], one[start:], two[start:]


def support(case: Case) -> Sheet:
    """The support as a sleeve about its bore; its wall's thickness is drawn, not modelled."""
    line, _, one, two = support_line(case)
    bore = np.full(len(line), case.scene.support.inner_radius)
    inner, outer = (tube(line, bore + grow, one, two, SIDES) for grow in (0.0, THICK))
    rims = []
    for k in (0, -1):
        rings = [part.points.reshape(len(line), SIDES, 3)[k] for part in (inner, outer)]
        rings = [np.vstack([ring, ring[:1]]) for ring in rings]
        rims.append(strip(rings[0], rings[1]))
    return joined([inner._replace(normals=-inner.normals), outer, *rims])
