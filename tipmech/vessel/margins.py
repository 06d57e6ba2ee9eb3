"""The side margins of a plane: how far they have been opened, at stations along them, and what a wire asks of one.

theory (22b). Seen along the radius a wire's end, or the crest of its loop, is round: a point reaches as far to the side
as a parabola through its crest and its foremost place.
"""

from math import ceil, floor

from ..kernel import inlined
from .laws import step5, yielding
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
    return max(0, ceil(at - reach / STATION)), min(count, floor(at + reach / STATION) + 1)


@inlined
def beyond_room(w: Walls, g: float, radius: float) -> float:
    """How far a wire of `radius` at sigma = g reaches beyond the room W between the margins, m."""
    return abs(g) + radius - 0.5 * w.room


@inlined
def asked_opening(w: Walls, station: int, s: float, g: float, radius: float) -> float:
    """How far a point at (s, sigma = g) would have a station of its margin opened beyond W/2, m."""
    u = station_place(w, station) - s
    return beyond_room(w, g, radius) - u * u / radius


@inlined
def push_margin(
    w: Walls, station: int, opening: float, s: float, r: float, g: float, radius: float
) -> tuple[float, float, float, float, float, float, float, float, float, float]:
    """Energy of a point at (s, r, sigma = g) against a station of its margin, with its derivatives by s, r, g, ss, sr,
    sg, rr, rg, gg; opening : how far that has been opened beyond W/2, m.

    The line law yields at G_c times the station's length. About the axis the circumference has no sides: there the
    margins let go.
    """
    u, f, k, _ = yielding(
        asked_opening(w, station, s, g, radius) - opening - w.eps, w.line * STATION, w.margin * STATION, w.eps
    )
    v, v1, v2 = step5(r / w.far - 1.0)
    v1, v2 = v1 / w.far, v2 / (w.far * w.far)
    d_s, d_g = 2.0 * (station_place(w, station) - s) / radius, 1.0 if g >= 0.0 else -1.0
    return (
        v * u,
        v * f * d_s,
        v1 * u,
        v * f * d_g,
        v * (k * d_s * d_s - 2.0 * f / radius),
        v1 * f * d_s,
        v * k * d_s * d_g,
        v2 * u,
        v1 * f * d_g,
        v * k,
    )
