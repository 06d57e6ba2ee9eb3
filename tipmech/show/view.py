"""The vessel unrolled along its centreline: world points -> (s, depth, lateral), and the walls to draw.

Depth is the radial direction toward the tear's azimuth, lateral the direction a quarter turn on. The wire keeps its
own diameter and the scales of s and depth are equal; along a bent vessel the length at depth y is stretched by
1 + curvature * y, which is not drawn.
"""

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from ..insertion.case import Case
from ..insertion.record import Record
from ..insertion.shape import element_lengths, natural_curvature
from ..vessel.build import (
    BLEND,
    FAR,
    closing_length,
    floor_radius,
    lip_rounding,
    mouth_gap,
    resting_thickness,
    support_mouth,
)
from ..vessel.scene import Centreline, Scene, quintic_step
from ..vessel.walls import BACK, FALSE, WINDOW

if TYPE_CHECKING:
    from scipy.spatial import cKDTree

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

TABLE_STEP = 2e-5  # m, the sagitta of a 5-mm bend over it is 1e-8 m
TABLE_MARGIN = 30e-3  # m of straight continuation at both ends
AXIS_POINTS = 301  # of a support's axis
LIFT_SLOPE = 0.5  # -, steepest fall of the flap beside the wire that lifts it


def project(scene: Scene, points: Array) -> tuple[Array, Array, Array]:
    """Arc length, depth and lateral position (m) of world points.

    Parameters
    ----------
    scene : Scene
        its centreline, and the tear, whose azimuth there is the direction of depth
    points : ndarray, shape (..., 3)
        world positions, m

    Returns
    -------
    s, depth, lateral : ndarray, shape (...)
        the nearest foot point of a fine polyline, then one Newton step of the projection
    """
    along, foot, tangent, bend, first, second, tree = _frames(scene.centreline)
    flat = np.asarray(points, dtype=float).reshape(-1, 3)
    _, nearest = tree.query(flat)
    apart = flat - foot[nearest]
    stretch = 1.0 - np.einsum("ij,ij->i", apart, bend[nearest])
    s = along[nearest] + np.einsum("ij,ij->i", apart, tangent[nearest]) / stretch
    x = np.einsum("ij,ij->i", apart, first[nearest])
    y = np.einsum("ij,ij->i", apart, second[nearest])
    azimuth = scene.tear.azimuth + scene.tear.spiral * (s - scene.tear.end)
    depth = np.cos(azimuth) * x + np.sin(azimuth) * y
    lateral = -np.sin(azimuth) * x + np.cos(azimuth) * y
    shape = np.shape(points)[:-1]
    return s.reshape(shape), depth.reshape(shape), lateral.reshape(shape)


@lru_cache(maxsize=4)
def _frames(centreline: Centreline) -> tuple[Array, Array, Array, Array, Array, Array, "cKDTree"]:
    """Stations of the fine polyline, points, tangents, curvature vectors, the two axes, a search tree of the points."""
    from scipy.spatial import cKDTree

    along = np.arange(-TABLE_MARGIN, centreline.length + TABLE_MARGIN, TABLE_STEP)
    foot, tangent, first, second = centreline.frame(along)
    return along, foot, tangent, np.gradient(tangent, TABLE_STEP, axis=0), first, second, cKDTree(foot)


def frames_at(centreline: Centreline, s: Array) -> tuple[Array, Array, Array, Array]:
    """Points, tangents and the two axes at arc lengths s, each (n, 3), read off the fine polyline: within 1e-8 m."""
    along, foot, tangent, _, first, second, _ = _frames(centreline)
    place = np.clip((s - along[0]) / TABLE_STEP, 0.0, len(along) - 1.001)
    k = place.astype(np.int64)
    share = (place - k)[:, None]
    point, ahead, one, two = ((1.0 - share) * v[k] + share * v[k + 1] for v in (foot, tangent, first, second))
    return point, ahead, one, two


def support_axis(case: Case, length: float) -> tuple[Array, Array, Array]:
    """The support's axis from `length` (m) behind its mouth to the mouth: s, depth, lateral (m), each of shape (n,).

    Evenly spaced; of a support that follows the vessel, along the vessel's own axis.
    """
    scene = case.scene
    if scene.support.follows:
        mouth_s = scene.tear.start - scene.support.distance
        return np.linspace(mouth_s - length, mouth_s, AXIS_POINTS), np.zeros(AXIS_POINTS), np.zeros(AXIS_POINTS)
    mouth, frame = support_mouth(scene, 2.0 * float(case.profile.radius[0]))
    return project(scene, mouth - np.linspace(length, 0.0, AXIS_POINTS)[:, None] * frame[2])


def rest_gap(scene: Scene, s: Array, front: float) -> Array:
    """Clear height under the unloaded flap at s, m: the mouth's gap, then the pocket's thickness, 0 at the front.

    The same curve as the contact's (vessel/walls.py, `stand_off`).
    """
    s = np.asarray(s, dtype=float)
    inside = quintic_step((s - scene.tear.end) / BLEND)
    mouth = mouth_gap(scene)
    gap = mouth + (resting_thickness(scene) - mouth) * inside
    return np.where(s < scene.tear.end, 0.0, gap * quintic_step((front - s) / closing_length(scene)))


def stations(scene: Scene, left: float, right: float, front: float, count: int = 900) -> Array:
    """Stations to draw walls at between `left` and `right` (m), the tear's edges and the front among them."""
    edges = [v for v in (scene.tear.start, scene.tear.end, front) if left < v < right]
    return np.unique(np.concatenate([np.linspace(left, right, count), edges]))


def lip_mode(scene: Scene, s: Array) -> Array:
    """Shape of the downstream lip's lift: 1 at its edge, 0 at its root (vessel/walls.py, `lip_mode`)."""
    tear = scene.tear
    return 1.0 - quintic_step((np.asarray(s, dtype=float) - tear.end - lip_rounding(scene)) / tear.lip_length)


def lifted_gap(scene: Scene, s: Array, front: float, wire: "Wire", lip: float) -> Array:
    """Clear height under the flap, m: at rest, plus the lip's lift, raised where the wire in the channel stands higher.

    The lip's lift (`lip`, m, negative toward the floor) is recorded and drawn with its mode, never below the floor. The
    flap's own bending is not recorded; it is drawn resting on the wire.
    """
    free = (s >= scene.tear.end) & (s < front)
    gap = np.where(free, np.maximum(rest_gap(scene, s, front) + lip * lip_mode(scene, s), 0.0), 0.0)
    inside = (wire.side == 2) & (wire.s > scene.tear.end) & (wire.s < front)
    if inside.sum() < 2:
        return gap
    floor = scene.lumen.at(wire.s) + scene.wall.flap_thickness
    height = np.where(inside, floor - wire.depth + wire.radius, 0.0)
    top = np.zeros_like(gap)
    for i in np.flatnonzero(inside[:-1] & inside[1:]):
        low, high = sorted((wire.s[i], wire.s[i + 1]))
        within = (s >= low) & (s <= high)
        part = np.interp(
            s[within], [low, high], height[[i, i + 1]] if wire.s[i] <= wire.s[i + 1] else height[[i + 1, i]]
        )
        top[within] = np.maximum(top[within], part)
    top = _shoulders(top, s)
    # wire that has gone round to the other side of the vessel does not carry it through the far wall
    top = np.minimum(top, (1.0 - FAR) * scene.lumen.at(s) + scene.wall.flap_thickness)
    return np.where((s >= scene.tear.end) & (s <= front), np.maximum(gap, top), gap)


def mirrored(scene: Scene, wire: "Wire") -> "Wire":
    """The wire mirrored in the window's middle, so that a plane behind the upstream lip lies as the other one does.

    theory, "Retrograde": as far from the wall there.
    """
    s = scene.tear.start + scene.tear.end - wire.s
    depth = wire.depth + scene.lumen.at(s) - scene.lumen.at(wire.s)
    return replace(wire, s=s, depth=depth, side=np.where(wire.side == 4, 2, np.where(wire.side == 2, 4, wire.side)))


def _shoulders(top: Array, s: Array) -> Array:
    """Profile raised so that it falls from its heights no steeper than `LIFT_SLOPE`, as a bent flap would."""
    falls = LIFT_SLOPE * s
    forward = np.maximum.accumulate(top + falls) - falls
    backward = np.maximum.accumulate((top - falls)[::-1])[::-1] + falls
    return np.maximum(forward, backward)


@dataclass(frozen=True)
class Wire:
    """The wire at one instant in the vessel's coordinates; arrays over its nodes.

    s, depth, lateral : m; depth is that across the vessel toward the tear's azimuth, but in the false channel and in
    holes the distance from the axis, as the flap and the floor over it are drawn; across : the first everywhere;
    around : circumferential position at the floor's radius at the tear, m, 0 at its azimuth (in the true lumen and the
    window: the lateral position, a view from the axis);
    strain : bending strain of the outer fibre beyond the shaped form, -; radius : m; side : channel (0 to 4), the
    window also where the wire is being drawn back out of a false one and has its edge behind it: no flap is over it.
    """

    s: Array
    depth: Array
    across: Array
    lateral: Array
    around: Array
    strain: Array
    radius: Array
    side: IntArray


def wires(record: Record, rows: list[int], *, plain: bool = False) -> list[Wire]:
    """The wire at the recorded increments `rows`; `plain`: to be drawn in one colour, its strain left at 0."""
    scene = record.case.scene
    points = record.positions[rows]
    s, depth, lateral = project(scene, points)
    out = []
    for k, row in enumerate(rows):
        arc = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points[k], axis=0), axis=1))])
        radius = record.case.profile.at("radius", arc[-1] - arc)
        side = uncovered(scene, s[k], record.side[row])
        behind = np.isin(side, (2, 3, 4))
        around = np.where(behind, floor_radius(scene) * np.arctan2(lateral[k], depth[k]), lateral[k])
        drawn = np.where(behind, np.hypot(depth[k], lateral[k]), depth[k])
        strain = np.zeros_like(radius) if plain else bending(record.case, record.quaternions[row]) * radius
        out.append(Wire(s[k], drawn, depth[k], lateral[k], around, strain, radius, side))
    return out


def uncovered(scene: Scene, s: Array, side: IntArray) -> IntArray:
    """Channels of nodes at s (m): in the window what lies between the lips, whichever way it came."""
    between = ((side == FALSE) & (s < scene.tear.end)) | ((side == BACK) & (s > scene.tear.start))
    return np.where(between, WINDOW, side)


def over_tear(record: Record, row: int) -> bool:
    """Whether the tip at a row lies with all its surface within the lumen: over the tear then, not in its window, whose
    channel a point takes by its place along and round the vessel alone."""
    scene = record.case.scene
    s, depth, lateral = project(scene, record.positions[row, -1])
    return bool(np.hypot(depth, lateral) + record.case.profile.radius[0] <= scene.lumen.at(s))


def bending(case: Case, quaternions: Array) -> Array:
    """Bending curvature of the wire at its nodes beyond its shaped, stress-free form, 1/m.

    Parameters
    ----------
    case : Case
        its mesh and natural curvature (preshape and imperfection)
    quaternions : ndarray, shape (..., N, 4)
        element frames (w, x, y, z)

    Returns
    -------
    ndarray, shape (..., N + 1)
        size of the rotation vector between neighbouring frames over the length between their middles less the natural
        curvature, components across the wire (theory (4)); the base repeats its neighbour, the free tip carries none
    """
    frames = np.asarray(quaternions)
    n = frames.shape[-2]
    lengths = element_lengths(case)
    span = 0.5 * (lengths[1:] + lengths[:-1])
    joints = frames.shape[:-2] + (n - 1, 3)
    before, after = (
        Rotation.from_quat(part.reshape(-1, 4), scalar_first=True) for part in (frames[..., :-1, :], frames[..., 1:, :])
    )
    turned = (before.inv() * after).as_rotvec().reshape(joints)
    beyond = turned / span[:, None] - natural_curvature(case, lengths)[1:-1]
    size = np.linalg.norm(beyond[..., :2], axis=-1)
    return np.concatenate([size[..., :1], size, np.zeros_like(size[..., :1])], axis=-1)
