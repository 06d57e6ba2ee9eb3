"""Where a wire passes from one channel to the other, and how far from its opening: read off a finished record.

A wire goes round an edge up to the lip's rounding and its own radius from it (theory (18b)); edges and rims of holes
are springs, so that a pressed wire lies farther off. Farther than that it passes where there is no opening.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ..insertion.record import Array, IntArray, Record
from ..vessel.build import lip_rounding
from ..vessel.walls import BACK, FALSE, HOLE, TRUE
from .view import project

MM = 1e3
GIVES = 0.1e-3  # m by which an edge may give way and a node lie off the place of crossing


def off_opening(record: Record) -> float:
    """How far beyond a lip's edge, or the ends of what is pierced so far, its line passes the flap at most, m."""
    lip, back = _edge(record), record.case.scene.tear.start
    most = 0.0
    for row, (s, sides) in enumerate(_lines(record)):
        out = np.flatnonzero(sides != HOLE)
        side, place = sides[out], 0.5 * (s[out][1:] + s[out][:-1])
        across = np.sort(np.stack([side[:-1], side[1:]]), axis=0)
        off = place[(across[0] == TRUE) & (across[1] == FALSE)] - lip
        holes = record.holes[record.holes[:, 3] <= row]
        if len(holes):
            off = np.minimum(off, np.abs(off + lip - np.clip(off + lip, holes[:, 0].min(), holes[:, 0].max())))
        behind = back - place[(across[0] == TRUE) & (across[1] == BACK)]
        most = max(most, float(np.max(np.concatenate([off, behind]), initial=0.0)))
    return most


def round_edge(record: Record) -> float:
    """How far off an edge the shaft's line lies that goes round it unpressed, m."""
    return lip_rounding(record.case.scene) + float(record.case.profile.radius[0])


def off_words(record: Record, off: float) -> str:
    """The first of them (m) beside the second, in words."""
    return f"{off * MM:.2f} mm (unpressed round an edge: {round_edge(record) * MM:.2f})"


def through_flap(record: Record) -> int:
    """Increments in which the wire's line passes from the true lumen to the false one farther behind the lip than a
    wire goes round its edge, without a hole: what no wire can do."""
    count = 0
    first = _edge(record) + lip_rounding(record.case.scene) + record.case.profile.tip_radius + GIVES
    if len(record.holes):
        return 0
    for s, side in _lines(record):
        beyond = (s[:-1] > first) & (s[1:] > first)
        across = np.sort(np.stack([side[:-1], side[1:]]), axis=0)
        count += bool(np.any(beyond & (across[0] == TRUE) & (across[1] == FALSE)))
    return count


def _edge(record: Record) -> float:
    """Where the flap begins that a wire may not pass, m: at the lip; before a support that stands in the pocket, in
    which a wire has no channel."""
    scene = record.case.scene
    return scene.tear.end + (2.0 * float(record.case.profile.radius[0]) if scene.start == "pocket" else 0.0)


def _lines(record: Record) -> Iterator[tuple[Array, IntArray]]:
    """The wire's nodes at every increment: positions along the vessel, m, and channels."""
    for positions, side in zip(record.positions, record.side, strict=True):
        yield project(record.case.scene, positions)[0], side
