"""Where the vessel's surfaces lie in space, and which stretch of it is shown: the model's coordinates -> points, m."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...insertion.case import Case
from ...insertion.opened import azimuth
from ...vessel.scene import Scene
from ..view import Array, frames_at

UPSTREAM, DOWNSTREAM = 3e-3, 4e-3  # m of vessel shown before the tear's surroundings and beyond them
FARTHEST_BACK = 12e-3  # m of vessel shown before the tear at most
FROM, TO = np.radians(-150.0), np.radians(52.0)  # from the tear's azimuth: the wall that is shown, the rest is cut away


@dataclass(frozen=True)
class Extent:
    """Stretch of the vessel that is shown, m along its centreline."""

    first: float
    last: float


def extent_of(case: Case) -> Extent:
    """Stretch shown of a case: from behind the support's mouth, or not far before the tear, to beyond all that the
    wire can reach."""
    scene = case.scene
    tear, channel = scene.tear, scene.channel
    back = 0.0 if channel.retrograde is None else channel.retrograde
    mouth = tear.end if scene.start == "pocket" else tear.start - scene.support.distance
    first = max(min(mouth, tear.start - back) - UPSTREAM, tear.start - back - FARTHEST_BACK, 0.0)
    ends = [tear.end + channel.length, tear.end + case.stop.advance_past_tear]
    if scene.plug is not None:
        ends.append(scene.plug.end)
    return Extent(first, min(max(ends) + DOWNSTREAM, scene.centreline.length))


def around(scene: Scene, s: Array, phi: Array) -> tuple[Array, Array]:
    """Points on the centreline (n, 1, 3), m, and unit vectors across it (n, c, 3) at arc lengths s (n,) and angles phi
    (n, c) from the tear's azimuth there, rad."""
    point, _, first, second = frames_at(scene.centreline, s)
    turned = azimuth(scene, s, 0.0)[:, None] + phi
    across = np.cos(turned)[..., None] * first[:, None, :] + np.sin(turned)[..., None] * second[:, None, :]
    return point[:, None, :], across


def shell(scene: Scene, s: Array, phi: Array, radius: Array) -> tuple[Array, Array]:
    """Points (n, c, 3), m, of the surface of `radius` (n, 1) or (n, c), m, and the unit vectors from the axis."""
    point, across = around(scene, s, phi)
    return point + radius[..., None] * across, across
