"""The side margins of a plane: how far they have been opened, at stations along them, and the wire that pushes on them.

theory (22b). In the axial direction a wire covers its radius before and behind each of its points, as a disc does.
"""

from math import ceil, floor

import numpy as np
from numpy.typing import NDArray

from ..kernel import inlined
from .laws import step5, yielding
from .walls import Array, Walls

IntArray = NDArray[np.int64]

STATION = 0.12e-3  # m, spacing of the stations: three span a wire's width
BEFORE = 10  # stations before the downstream lip


@inlined
def stations_within(w: Walls, s: float, reach: float, count: int) -> tuple[int, int]:
    """First station within `reach` (m) of s, and the one after the last; count: of all stations."""
    at = (s - w.stop) / STATION + BEFORE
    return max(0, ceil(at - reach / STATION)), min(count, floor(at + reach / STATION) + 1)


@inlined
def covered(w: Walls, s: float, radius: float, station: int) -> tuple[float, float, float]:
    """Share (0..1) of a station that a wire of `radius` at s covers, with two derivatives by s."""
    ahead = s - w.stop - (station - BEFORE) * STATION
    way, half = (1.0, min(STATION, radius)) if ahead < 0.0 else (-1.0, min(STATION, radius))
    share, slope, bend = step5(0.5 * (radius + half + way * ahead) / half)
    return share, 0.5 * way * slope / half, 0.25 * bend / (half * half)


@inlined
def beyond_room(w: Walls, g: float, radius: float) -> float:
    """How far a wire of `radius` at sigma = g reaches beyond the room W between the margins, m."""
    return abs(g) + radius - 0.5 * w.room


@inlined
def push_margin(
    w: Walls, opening: Array, pushed_by: IntArray, point: int, s: float, g: float, radius: float, part: float
) -> tuple[float, float, float, float, float, float]:
    """Energy of a point at (s, sigma = g) that pushes on the margin on its side; derivatives by s, g, ss, sg, gg.

    opening, pushed_by (n,) : of the margin's stations, how far it has been opened beyond W/2 (m) and which point pushes
    there; part : (0..1) of the point that is integrated here. At each station the line law yields at G_c times its
    length.
    """
    level = beyond_room(w, g, radius)
    u, u_s, u_g, u_ss, u_sg, u_gg = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    if level > 0.0:
        side = 1.0 if g >= 0.0 else -1.0
        length = STATION * part
        first, last = stations_within(w, s, radius + min(STATION, radius), opening.shape[0])
        for k in range(first, last):
            if pushed_by[k] != point:
                continue
            share, slope, bend = covered(w, s, radius, k)
            pen = share * level - opening[k] - w.eps
            e, f, stiff, _ = yielding(pen, w.line * length, w.margin * length, w.eps)
            u += e
            u_s += f * slope * level
            u_g += f * share * side
            u_ss += stiff * (slope * level) ** 2 + f * bend * level
            u_sg += side * (stiff * slope * level * share + f * slope)
            u_gg += stiff * share * share
    return u, u_s, u_g, u_ss, u_sg, u_gg
