"""The region of the wall that is open, as a field over the vessel's length and circumference, from a record.

Places are (s, sigma): arc length along the centreline and along the circumference from the tear's azimuth, at the
floor's radius at the tear, as the walls have them. theory, "The region opened".
"""

from dataclasses import dataclass
from math import pi
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..outcome import Stop
from ..vessel.build import front_width, window_half
from ..vessel.holes import HOLES, VALUES, pierce
from ..vessel.scene import Scene
from .points import BEFORE, STATION
from .record import Array, IntArray, Record

NOT_OPEN, WINDOW, PLANE, FRONT, MARGIN = 0, 1, 2, 3, 4  # what a cell was opened by
NEVER = -1
FINE = 4  # cells of the raster to a station of the margins, so that their borders fall together
CELL = STATION / FINE  # m, along the vessel; round it as nearly that as divides the circumference
AROUND = 1e-3  # m of wall shown beyond what is open


@dataclass(frozen=True)
class Opened:
    """Raster of the wall. Cells m along the vessel, k round it.

    s : (m,) and sigma : (k,) middles of the cells, m; since : (m, k) row of the record from which on the cell is open
    (0: from the start, NEVER); by : (m, k) what opened it; cell : (ds, dsigma), m
    """

    s: Array
    sigma: Array
    since: IntArray
    by: IntArray
    cell: tuple[float, float]

    def new_area(self, row: int) -> float:
        """Area opened up to a row of the record, without what was open at the start, m2."""
        new = (self.since != NEVER) & (self.since <= row) & (self.by >= FRONT)
        return float(np.count_nonzero(new)) * self.cell[0] * self.cell[1]


@dataclass(frozen=True)
class Areas:
    """Areas opened up to each row, m2: by the front, by the margins, and what of both lies in the same place, which the
    record's sum of both counts twice."""

    front: Array
    margins: Array
    twice: Array


@dataclass(frozen=True)
class MoveGrowth:
    """What one move opened. amount : m, or rad of a turn; first, last : its rows in the record; length : m by which the
    plane grew; front, margins : areas, m2; holes : pierced in the flap."""

    kind: Literal["advance", "withdraw", "turn"]
    amount: float
    first: int
    last: int
    length: float
    front: float
    margins: float
    holes: int


def floor_radius(scene: Scene) -> float:
    """Radius at which sigma is measured: the floor's at the downstream lip, m."""
    return float(scene.lumen.at(scene.tear.end)) + scene.wall.flap_thickness


def azimuth(scene: Scene, s: Array, sigma: Array | float) -> Array:
    """Azimuth (rad) in the vessel's frame of places on the wall; it turns with a spiral tear."""
    tear = scene.tear
    return np.asarray(tear.azimuth + tear.spiral * (s - tear.end) + sigma / floor_radius(scene))


def wall_open_since(record: Record) -> int:
    """Row from which on there is a window: 0, but in an intact wall that of the first wire behind it (NEVER: none)."""
    if not record.case.scene.tear.intact:
        return 0
    if record.stop == Stop.WEAK_SPOT_PIERCED:
        return len(record.feed) - 1
    behind = np.flatnonzero(np.any(record.side != 0, axis=1))
    return int(behind[0]) if len(behind) else NEVER


def stations(record: Record) -> Array:
    """Axial positions of the stations of the margins, m."""
    numbers = np.arange(record.margins.shape[2], dtype=np.float64)
    return np.asarray(record.case.scene.tear.end + STATION * (numbers - BEFORE))


def areas(record: Record) -> Areas:
    """Areas opened by front and margins up to each row, exact for the shapes that they open.

    The front opens its width about where it was first touched; a station of a margin opens a station's length. Their
    sum is the record's `opened_area` to rounding.
    """
    scene = record.case.scene
    first, width = scene.tear.end + scene.channel.length, _front_width(record)
    centre = np.nan_to_num(record.front_centre)
    at, half = stations(record), 0.5 * scene.channel.room
    ahead = np.minimum(at + 0.5 * STATION, record.front[:, None]) - np.maximum(at - 0.5 * STATION, first)
    ahead = np.clip(ahead, 0.0, None)
    twice = np.zeros(len(record.feed))
    for row, sign in enumerate((-1.0, 1.0)):
        inner = np.maximum(half, sign * centre - 0.5 * width)[:, None]
        outer = np.minimum(half + record.margins[:, row], (sign * centre + 0.5 * width)[:, None])
        twice += np.sum(ahead * np.clip(outer - inner, 0.0, None), axis=1)
    by_margins: Array = STATION * np.sum(record.margins, axis=(1, 2))
    return Areas(np.asarray((record.front - first) * width), by_margins, twice)


def opened(record: Record) -> Opened:
    """Field of what is open and since when."""
    scene = record.case.scene
    tear, channel, length = scene.tear, scene.channel, len(record.feed)
    start, end = wall_open_since(record), tear.end + channel.length
    field = _all_closed(record)
    x, g = field.s[:, None], np.abs(field.sigma)[None, :]
    if start != NEVER:
        _open(field, (x > tear.start) & (x < tear.end) & (g < window_half(tear, channel)), np.array(start), WINDOW)
        _open(field, (x > tear.end) & (x < end) & (g < 0.5 * channel.room), np.array(start), PLANE)
    if length:
        low, high = front_span(record, -1)
        beside = (field.sigma > low) & (field.sigma < high)
        when = np.searchsorted(record.front, field.s, side="left")
        _open(field, (x > end) & beside[None, :], when[:, None].astype(np.int64), FRONT)
        _open_margins(record, field)
    field.since[field.since == length] = NEVER
    field.by[field.since == NEVER] = NOT_OPEN
    return field


def _all_closed(record: Record) -> Opened:
    """Raster over all that may be open, each cell opened after the last row."""
    scene, length = record.case.scene, len(record.feed)
    tear, floor = scene.tear, floor_radius(scene)
    touched = np.flatnonzero(record.margins[-1].any(axis=0)) if length else np.array([], dtype=np.int64)
    last = max([tear.end + scene.channel.length, *record.front[-1:], *(stations(record)[touched[-1:]])]) + AROUND
    before, after = (int(np.ceil(x / CELL)) for x in (tear.length + AROUND, last - tear.end))
    s = tear.end + CELL * (np.arange(-before, after, dtype=np.float64) + 0.5)
    count = int(np.ceil(2.0 * pi * floor / CELL))
    cell = 2.0 * pi * floor / count
    sigma = cell * (np.arange(count, dtype=np.float64) + 0.5) - pi * floor
    since = np.full((len(s), count), length, dtype=np.int64)
    return Opened(s, sigma, since, np.zeros_like(since), (CELL, cell))


def _open(field: Opened, where: NDArray[np.bool_], row: IntArray, what: int) -> None:
    """Open cells of the field, in place, at `row` where they are not open before."""
    earlier = where & (row < field.since)
    field.since[earlier] = np.broadcast_to(row, field.since.shape)[earlier]
    field.by[earlier] = what


def _open_margins(record: Record, field: Opened) -> None:
    """Open what the margins opened, station by station."""
    half, start = 0.5 * record.case.scene.channel.room, record.case.scene.tear.end
    nearest = np.floor((field.s - start) / STATION + 0.5).astype(np.int64) + BEFORE
    depth = np.abs(field.sigma) - half
    for row, side in ((0, field.sigma < 0.0), (1, field.sigma >= 0.0)):
        beside = side & (depth > 0.0)
        for k in np.flatnonzero(record.margins[-1, row]):
            when = np.searchsorted(record.margins[:, row, k], depth, side="left").astype(np.int64)
            _open(field, (nearest == k)[:, None] & beside[None, :], when[None, :], MARGIN)


def front_span(record: Record, row: int) -> tuple[float, float]:
    """Between which sigma the front opens, m."""
    centre, half = float(np.nan_to_num(record.front_centre[row])), 0.5 * _front_width(record)
    return centre - half, centre + half


def _front_width(record: Record) -> float:
    """Width that the front opens, m."""
    return front_width(record.case.scene, 2.0 * float(record.case.profile.radius[0]))


def slits(record: Record, row: int) -> Array:
    """Holes in the flap at a row of the record, shape (n, 5): ends of their middle lines (s1, sigma1, s2, sigma2) and
    the tip's radius, m."""
    table = np.zeros((HOLES, VALUES))
    for s, sigma, radius, at in record.holes:
        if at <= row:
            pierce(table, s, sigma, radius)
    return table[table[:, 4] > 0.0]


def growth_by_move(record: Record) -> tuple[MoveGrowth, ...]:
    """What each move opened, moves told from feed and turn of the hand: neighbours of one kind are one move."""
    if not len(record.feed):
        return ()
    fed, turned = np.diff(record.feed, prepend=0.0), np.diff(record.turn, prepend=0.0)
    kind = np.where(fed > 0.0, 1, np.where(fed < 0.0, -1, np.where(turned != 0.0, 2, 0)))
    for i in np.flatnonzero(kind == 0):  # a wire that is let come to rest belongs to the move before
        kind[i] = kind[i - 1] if i else 1
    starts = [0, *(int(i) + 1 for i in np.flatnonzero(np.diff(kind)))]
    ends = [*(i - 1 for i in starts[1:]), len(kind) - 1]
    found, pierced = areas(record), record.holes[:, 3]
    names: dict[int, Literal["advance", "withdraw", "turn"]] = {1: "advance", -1: "withdraw", 2: "turn"}
    from_start = record.front - (record.case.scene.tear.end + record.case.scene.channel.length)
    grown = [np.diff(v[ends], prepend=0.0) for v in (from_start, found.front, found.margins)]
    out = []
    for k, (first, last) in enumerate(zip(starts, ends, strict=True)):
        what = names[int(kind[first])]
        amount = float(np.sum((turned if what == "turn" else np.abs(fed))[first : last + 1]))
        holes = int(np.count_nonzero((pierced >= first) & (pierced <= last)))
        length, front, margins = (float(v[k]) for v in grown)
        out.append(MoveGrowth(what, amount, first, last, length, front, margins, holes))
    return tuple(out)
