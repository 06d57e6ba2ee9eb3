"""Where the tip pierced a wall for which a record keeps no hole: what pictures mark. It reads a finished record."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ..insertion.opened import NEVER, wall_open_since
from ..insertion.record import Record
from ..outcome import Stop
from .style import INK
from .view import wires

if TYPE_CHECKING:
    from matplotlib.axes import Axes

PIERCED: dict[Stop, str] = {
    Stop.OUTER_WALL_PIERCED: "outer wall pierced",
    Stop.FLAP_PIERCED: "flap pierced",
    Stop.INTIMA_PIERCED: "intima pierced",
    Stop.WEAK_SPOT_PIERCED: "weak spot pierced",
}
SIZE = 12.0  # points, of the mark


@dataclass(frozen=True)
class Breach:
    """A wall pierced. words : what; s, across, lateral : the dome's centre at the end of that increment, m (as of
    `view.Wire`)."""

    words: str
    s: float
    across: float
    lateral: float


def breaches(record: Record, row: int = -1) -> list[Breach]:
    """Walls pierced up to an increment of a record, in order. Holes through which the wire went on: `record.holes`."""
    last = len(record.feed) - 1
    found: dict[int, Stop] = {}
    if record.case.scene.tear.weak_toughness is not None and (since := wall_open_since(record)) != NEVER:
        found[since] = Stop.WEAK_SPOT_PIERCED
    if record.stop in PIERCED:
        found[last] = Stop(record.stop)
    out = []
    for at, stop in found.items():
        if at <= row % len(record.feed):
            wire = wires(record, [at], plain=True)[0]
            out.append(Breach(PIERCED[stop], float(wire.s[-1]), float(wire.across[-1]), float(wire.lateral[-1])))
    return out


def mark_breach(ax: Axes, x: float, y: float, **options: Any) -> None:
    """The mark of a breach at a place in the axes' own units: a white cross with a dark edge, alike in grey."""
    ax.plot(
        x, y, "X", color="white", markeredgecolor=INK, markeredgewidth=1.2, markersize=SIZE, linestyle="none", **options
    )
