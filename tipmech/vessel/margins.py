"""The side margins of a plane: how far they have been opened, at stations along them, and what a wire asks of one.

theory (22b). Seen along the radius a wire's end, or the crest of its loop, is round: a point reaches as far to the side
as a parabola through its crest and its foremost place.
"""

from math import ceil, floor

from ..kernel import inlined
from .laws import step5
from .walls import Walls

STATION = 0.12e-3  # m, spacing of the stations: three span a wire's width
BEFORE = 10  # stations before the downstream lip


@inlined
def station_place(w: Walls, station: int) -> float:
    """Position s of a station (mirrored behind the upstream lip), m."""
    return w.stop + (station - BEFORE) * STATION


@inlined
def stations_within(w: Walls, s: float, reach: float, count: int) -> tuple[int, int]:
    """First station within `reach` (m) of s, and the one after the last; count: of all stations."""
    at = (s - w.stop) / STATION + BEFORE
    return max(0, int(ceil(at - reach / STATION))), min(count, int(floor(at + reach / STATION)) + 1)


@inlined
def reach_aside(w: Walls, side: float, r: float, g: float) -> tuple[float, float, float, float, float]:
    """How far a place at (r, sigma = g) lies toward the margin on `side` (-1, 1), m, with its derivatives by r, g, rr,
    rg.

    About the axis the circumference has no sides: there it does not.
    """
    v, v1, v2 = step5(r / w.far - 1.0)
    v1, v2 = v1 / w.far, v2 / (w.far * w.far)
    return v * side * g, v1 * side * g, v * side, v2 * side * g, v1 * side


@inlined
def asked_opening(w: Walls, side: float, station: int, s: float, r: float, g: float, radius: float) -> float:
    """How far a wire of `radius` at (s, r, sigma = g) would have a station of the margin on `side` (-1, 1) opened
    beyond W/2, m."""
    u = station_place(w, station) - s
    return reach_aside(w, side, r, g)[0] + radius - 0.5 * w.room - u * u / radius


@inlined
def asked_slopes(
    w: Walls, side: float, station: int, s: float, r: float, g: float, radius: float
) -> tuple[float, float, float, float, float, float]:
    """Derivatives of `asked_opening` by s, r, g, ss, rr, rg (by sr, sg, gg it has none)."""
    _, d_r, d_g, d_rr, d_rg = reach_aside(w, side, r, g)
    return 2.0 * (station_place(w, station) - s) / radius, d_r, d_g, -2.0 / radius, d_rr, d_rg
