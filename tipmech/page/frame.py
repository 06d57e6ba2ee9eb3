"""What the page shows of a bench at one instant, as plain data: drawings (changed shapes alone), words, numbers."""

from dataclasses import dataclass, field
from itertools import groupby
from typing import Any

from ..show.contest import FOLD, FRICTION
from ..show.support import Sleeve, sleeve_of
from .bench import Bench
from .chart import chart, range_of
from .contest import Limits, leads, limits, regime
from .lane import FORCES, Lane, stored
from .paths import Paint, changed
from .screen import Screen
from .section import Frame, frame_of, moving, still

MM, MN, UJ = 1e3, 1e3, 1e6


def numbers(lane: Lane) -> dict[str, float]:
    """Values of `looks.NUMBERS` after the last increment, in the units there."""
    last = lane.last
    push, front, lip, tip, along = lane.history[-1][2:7]
    forces = lane.contest()[:, -1]
    first = lane.case.scene.tear.end + lane.case.scene.channel.length
    opened = float(last.front[-1]) - first
    values = {"push": push, "front": front, "lip": lip, "along": along, "tip": tip}
    values["floor"] = float(last.force_floor[-1])
    values |= {name: float(forces[FORCES.index(name)]) for name in (FOLD, FRICTION)}
    return {name: value * MN for name, value in values.items()} | {"opened": opened * MM}


def energies(lane: Lane) -> dict[str, float]:
    """Values of `looks.ENERGIES` since the first increment, microjoules: the first is the sum of the others, up to the
    error of the solver's audit."""
    last = stored(lane.last)
    return {name: (value - lane.stored_at_start.get(name, 0.0)) * UJ for name, value in last.items()}


def runs(bench: Bench) -> list[list[Any]]:
    """Increments made, as [kind, how many] one after the other."""
    return [[step, len(list(group))] for step, group in groupby(bench.made)]


@dataclass
class Shown:
    """What a page already shows of one wire: so that only what changed is sent.

    case : the one whose standing walls are shown; sleeve : its support; frame : limits of its section
    """

    frame: Frame | None = None
    case: object = None
    sleeve: Sleeve | None = None
    drawn: dict[str, Paint] = field(default_factory=dict)

    def news(self, name: str, now: Paint) -> Paint:
        """What of a drawing differs from what is shown; it counts as shown from now on."""
        before = self.drawn.get(name, {})
        self.drawn[name] = before | now
        return changed(now, before)


def lane_data(lane: Lane, now: Limits, ends: tuple[float, float], screen: Screen, shown: Shown) -> dict[str, Any]:
    """One wire on the bench as plain data."""
    limits_of_view = frame_of(lane.last)
    new = shown.case is not lane.case
    sleeve = sleeve_of(lane.case) if shown.sleeve is None or new else shown.sleeve
    section = moving(lane.last, limits_of_view, sleeve)
    if new or shown.frame != limits_of_view:
        section |= still(lane.case, limits_of_view, sleeve)
        shown.case, shown.frame, shown.sleeve = lane.case, limits_of_view, sleeve
    return {
        "title": lane.wire.words,
        "diameter_mm": 2.0 * float(lane.case.profile.radius[0]) * MM,
        "box": limits_of_view.viewbox,
        "section": shown.news("section", section),
        "chart": shown.news("chart", chart(lane, now, ends)),
        "screen": shown.news("screen", screen.paint(lane.last)),
        "regime": regime(lane),
        "leads": leads(lane, now),
        "limits": now.words,
        "numbers": numbers(lane),
        "energies": energies(lane),
        "open": lane.open,
    }


def frame_data(bench: Bench, known: list[Limits], screen: Screen, shown: list[Shown]) -> dict[str, Any]:
    """The whole bench as plain data; known : limits of each wire."""
    ends = range_of(bench.lanes, known)
    return {
        "lanes": [
            lane_data(lane, now, ends, screen, seen) for lane, now, seen in zip(bench.lanes, known, shown, strict=True)
        ],
        "feed_mm": bench.feed * MM,
        "travel_mm": bench.path * MM,
        "turn_deg": bench.turned_deg,
        "made": runs(bench),
        "ahead": len(bench.ahead),
        "view": screen.words,
    }


def limits_of(bench: Bench) -> list[Limits]:
    """Limits of each wire without the fold, which takes longer."""
    return [limits(lane.case) for lane in bench.lanes]
