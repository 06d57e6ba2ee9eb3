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
from ..vessel.build import floor_radius, front_width, window_half
from ..vessel.holes import HOLES, VALUES, pierce
from ..vessel.margins import BEFORE, STATION
from ..vessel.scene import Scene
from .classify import plane_growth
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
    plane grew at its fronts; front, margins : areas, m2; holes : pierced in the flap."""

    kind: Literal["advance", "withdraw", "turn"]
    amount: float
    first: int
    last: int
    length: float
    front: float
    margins: float
    holes: int


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
    """Axial positions of the stations of the margins, m; of those behind the upstream lip: mirrored, s_u + s_d - s."""
    numbers = np.arange(record.margins.shape[2], dtype=np.float64)
    return np.asarray(record.case.scene.tear.end + STATION * (numbers - BEFORE))


def areas(record: Record) -> Areas:
    """Areas opened by front and margins up to each row, exact for the shapes that they open.

    The front opens its width about where it was first touched; a station of a margin opens a station's length. Their
    sum is the record's `opened_area` to rounding. A front behind the upstream lip opens the same width about sigma = 0.
    """
    width = _front_width(record)
    twice = np.zeros(len(record.feed))
    for part in _ends(record):
        low, high = part.span
        at = STATION * (np.arange(record.margins.shape[2], dtype=np.float64) - BEFORE)
        reach = np.minimum(at + 0.5 * STATION, part.front[:, None]) - np.maximum(at - 0.5 * STATION, part.first)
        ahead, half = np.clip(reach, 0.0, None), 0.5 * record.case.scene.channel.room
        for row, inner, outer in ((part.row, -high, -low), (part.row + 1, low, high)):
            both = np.minimum(half + record.margins[:, row], outer) - max(half, inner)
            twice += np.sum(ahead * np.clip(both, 0.0, None), axis=1)
    by_margins: Array = STATION * np.sum(record.margins, axis=(1, 2))
    return Areas(np.asarray(plane_growth(record) * width), by_margins, twice)


@dataclass(frozen=True)
class _End:
    """A plane's end, lengths counted from its lip, m.

    first, front : where its front stood first and stands at each row (n,); span : the sigma between which it opens;
    row : of the margins of sigma < 0; lip : its s; way : which way the plane lies from there (1, -1)
    """

    first: float
    front: Array
    span: tuple[float, float]
    row: int
    lip: float
    way: float


def _ends(record: Record) -> list[_End]:
    """Ends of the plane: downstream, and behind the upstream lip where there is one."""
    tear, channel = record.case.scene.tear, record.case.scene.channel
    half = 0.5 * _front_width(record)
    span = front_span(record, -1) if len(record.feed) else (-half, half)
    ends = [_End(channel.length, record.front - tear.end, span, 0, tear.end, 1.0)]
    if channel.retrograde is not None:
        ends.append(_End(channel.retrograde, tear.start - record.front_back, (-half, half), 2, tear.start, -1.0))
    return ends


def opened(record: Record) -> Opened:
    """Field of what is open and since when."""
    scene = record.case.scene
    tear, length, start = scene.tear, len(record.feed), wall_open_since(record)
    field = _all_closed(record)
    g = np.abs(field.sigma)[None, :]
    if start != NEVER:
        x = field.s[:, None]
        half = window_half(tear, scene.channel)
        _open(field, (x > tear.start) & (x < tear.end) & (g < half), np.array(start), WINDOW)
    for end in _ends(record):
        x = end.way * (field.s - end.lip)  # from the lip on
        if start != NEVER:
            inside = ((x > 0.0) & (x < end.first))[:, None] & (g < 0.5 * scene.channel.room)
            _open(field, inside, np.array(start), PLANE)
        if length:
            beside = (field.sigma > end.span[0]) & (field.sigma < end.span[1])
            when = np.searchsorted(end.front, x, side="left")
            _open(field, (x > end.first)[:, None] & beside[None, :], when[:, None].astype(np.int64), FRONT)
            _open_margins(record, field, end, x)
    field.since[field.since == length] = NEVER
    field.by[field.since == NEVER] = NOT_OPEN
    return field


def _all_closed(record: Record) -> Opened:
    """Raster over all that may be open, each cell opened after the last row."""
    scene, length = record.case.scene, len(record.feed)
    floor = floor_radius(scene)
    reach = [AROUND, AROUND]
    for k, end in enumerate(_ends(record)):
        rows = record.margins[-1, end.row : end.row + 2].any(axis=0) if length else np.array([], dtype=bool)
        touched = STATION * (np.flatnonzero(rows)[-1:] - BEFORE)
        reach[k] += max([end.first, *end.front[-1:], *touched])
    before, after = int(np.ceil((scene.tear.length + reach[1]) / CELL)), int(np.ceil(reach[0] / CELL))
    s = scene.tear.end + CELL * (np.arange(-before, after, dtype=np.float64) + 0.5)
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


def _open_margins(record: Record, field: Opened, end: _End, x: Array) -> None:
    """Open what the margins of one end opened, station by station; x : (m,) places from its lip on, m."""
    nearest = np.floor(x / STATION + 0.5).astype(np.int64) + BEFORE
    depth = np.abs(field.sigma) - 0.5 * record.case.scene.channel.room
    for row, side in ((end.row, field.sigma < 0.0), (end.row + 1, field.sigma >= 0.0)):
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
    grown = [np.diff(v[ends], prepend=0.0) for v in (plane_growth(record), found.front, found.margins)]
    out = []
    for k, (first, last) in enumerate(zip(starts, ends, strict=True)):
        what = names[int(kind[first])]
        amount = float(np.sum((turned if what == "turn" else np.abs(fed))[first : last + 1]))
        holes = int(np.count_nonzero((pierced >= first) & (pierced <= last)))
        length, front, margins = (float(v[k]) for v in grown)
        out.append(MoveGrowth(what, amount, first, last, length, front, margins, holes))
    return tuple(out)
