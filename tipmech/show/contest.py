"""The contest of forces over an insertion, and in words where the wire lies and which force leads: read off its record.

All forces that contest are axial: of the lips' forces, most of which lie across the wire, the part along the vessel.
Lip and front do not add up to the push: the hand works against them only as far as they move. What the hand
works against adds up (`Contest.balance`): energy stored in the wire's bending (fold), lost to friction, stored in what
is pressed in (walls), spent on what moves, and the rest, each over the travel of the hand.

Signs: what is borne (fronts, lip, plug) is a force on the wire, against the advance positive, whichever way the hand
moves; what energies give is positive against the hand's motion, on and back. Which force leads goes by what acts
against the hand's motion (`against`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..insertion.classify import curled_rows
from ..insertion.record import Array, Outcome, Record
from ..outcome import LABEL_WORDS, Label, Stop, Where
from ..vessel.walls import BACK, FALSE, HOLE, TRUE, WINDOW
from .decided import MN, decided, front_holds
from .rates import NO_FORCE as NO_FORCE
from .rates import hand_way, rate
from .rates import over_travel as over_travel
from .view import over_tear, uncovered

FOLD, FRONT, LIP, FRICTION, PLUG = "fold", "front", "lip", "friction", "plug"
BEHIND, WALLS = "front behind", "walls"
FRONT_MOVED, PLUG_MOVED, REST = "front moved", "plug moved", "rest"
MEANING: dict[str, str] = {
    FOLD: "energy going into the wire's bending per travel of the hand (below 0: the wire springs back)",
    FRONT: "axial force of the front on the wire",
    BEHIND: "the same of the front behind the upstream lip (below 0: it holds a wire drawn back)",
    LIP: "axial force of the tear's lips on the wire, without friction (below 0: along the advance)",
    FRICTION: "energy lost to friction per travel of the hand",
    WALLS: "energy going into walls, flap and lips that are pressed in, per travel of the hand (below 0: they give "
    "it back)",
    PLUG: "axial force of the plug in the true lumen",
    FRONT_MOVED: "energy spent on opening the plane at its front per travel of the hand",
    PLUG_MOVED: "energy spent on pushing the plug per travel of the hand",
    REST: "all else per travel of the hand: its own spring, margins, snaps",
}
RATES = (FOLD, FRICTION, WALLS)
"""Forces that energies give."""
MORE = "the hand's own spring, margins and snaps take more"
LEAD = {WALLS: "walls lead"}


@dataclass(frozen=True)
class Contest:
    """Forces over the increments, N, each of shape (n,), by name: fold, front, lip, friction, walls, and front behind
    the upstream lip and plug if there are such. Signs: see above.

    holds : force at which the front gives way, N
    balance : what the hand works against over the last `WINDOW_OF_TRAVEL`, N, (n,) each by name: fold, friction, walls,
        what was moved, and the rest; they add up to the work of the hand over its travel
    way : which way the hand last moved, (n,): 1 on, -1 back
    """

    forces: dict[str, Array]
    holds: float
    balance: dict[str, Array]
    way: Array

    def against(self, name: str, row: int) -> float:
        """A force at a row, N, against the hand's motion positive."""
        return against(name, float(self.forces[name][row]), float(self.way[row]))

    def leader(self, row: int) -> str | None:
        """Name of the largest force against the hand's motion at a row; None where none is larger than `NO_FORCE`."""
        name = max(self.forces, key=lambda one: self.against(one, row))
        return name if self.against(name, row) > NO_FORCE else None

    def more(self, row: int) -> bool:
        """Whether the rest takes more than the force that leads."""
        name = self.leader(row)
        return name is not None and float(self.balance[REST][row]) > self.against(name, row)

    def leads(self, row: int) -> str:
        """Which force leads at a row, without its number."""
        name = self.leader(row)
        if name is None:
            return "no force leads"
        gives = f" (it gives way at {MN * self.holds:.1f} mN)" if name in (FRONT, BEHIND) else ""
        more = f"; {MORE}" if self.more(row) else ""
        return f"{LEAD.get(name, f'{name} leads')}{gives}{more}"

    def words(self, row: int) -> str:
        """Which force leads at a row, with its number and, of the front, the one at which it gives way."""
        name = self.leader(row)
        if name is None:
            return "no force leads"
        value, leads = MN * self.against(name, row), LEAD.get(name, f"{name} leads")
        more = f"; {MORE}: {MN * self.balance[REST][row]:.1f} mN" if self.more(row) else ""
        if name in (FRONT, BEHIND):
            return f"{leads}: {value:.1f} of the {MN * self.holds:.1f} mN at which it gives way{more}"
        return f"{leads}: {value:.1f} mN{more}"


def against(name: str, force: float, way: float) -> float:
    """A force by its name, N, against the motion of a hand that goes this way (1 on, -1 back) positive."""
    return force if name in RATES else way * force


def contest(record: Record) -> Contest:
    """The forces that contest at the tear, from a record with at least one increment."""
    forces = {
        FOLD: rate(record, record.energy_elastic),
        FRONT: record.force_front,
        LIP: record.force_lip_along,
        FRICTION: rate(record, record.diss_friction),
        WALLS: rate(record, record.energy_contact),
    }
    if not np.all(np.isnan(record.front_back)):
        forces[BEHIND] = -record.force_front_back
    if record.case.scene.plug is not None:
        forces[PLUG] = record.force_plug
    return Contest(forces, front_holds(record), _balance(record, forces), hand_way(record.feed))


def _balance(record: Record, forces: dict[str, Array]) -> dict[str, Array]:
    """What the hand works against, which adds up."""
    parts = {
        FOLD: forces[FOLD],
        FRICTION: forces[FRICTION],
        WALLS: forces[WALLS],
        FRONT_MOVED: rate(record, record.diss_front),
    }
    if PLUG in forces:
        parts[PLUG_MOVED] = rate(record, record.diss_plug)
    return parts | {REST: rate(record, record.work_hand) - np.sum(list(parts.values()), axis=0)}


def outcome_words(outcome: Outcome) -> str:
    """The outcome's label; where a curl outside the false lumen gave it and the wire went in later, that as well."""
    words = LABEL_WORDS[Label(outcome.label)]
    if outcome.label == Label.FALSE_LUMEN_NEITHER:
        return f"{words} extended nor curled"
    later = outcome.label == Label.TRUE_LUMEN_CURLED_OR_BUCKLED and outcome.where == Where.FALSE_LUMEN
    return f"{words}, then into the false lumen" if later else words


def side_words(record: Record, row: int) -> str:
    """On which side of the flap the wire lies at a row; where its tip pierced the outer wall, that it did."""
    tear, side = record.case.scene.tear, record.side[row]
    if record.stop == Stop.OUTER_WALL_PIERCED and row % len(record.feed) == len(record.feed) - 1:
        return "tip through the outer wall"
    at = int(uncovered(record.case.scene, record.tip_s[row], side[-1]))
    mark = "mark" if tear.intact else "tear"
    if at == WINDOW and over_tear(record, row):
        text = f"tip in the true lumen, over the {mark}"
    elif at == TRUE:
        s = float(record.tip_s[row])
        where = (
            f"before the {mark}" if s < tear.start else f"beside the {mark}" if s <= tear.end else f"past the {mark}"
        )
        text = "tip in the support" if np.isnan(s) else f"tip in the true lumen, {where}"
    else:
        text = {
            WINDOW: "tip in the tear's window",
            FALSE: "tip in the false lumen, under the flap",
            HOLE: "tip in a hole of the flap",
            BACK: "tip in the false lumen behind the upstream lip",
        }[at]
    under = (np.any(side == FALSE) and record.lead_false_s[row] > tear.end) or (
        np.any(side == BACK) and record.lead_back_s[row] < tear.start
    )
    if at not in (FALSE, BACK) and under:
        text += ", wire behind it under the flap"
    return text + ("; curled" if curled_rows(record)[row] else "")


def force_words(record: Record, outcome: Outcome, row: int = -1) -> str:
    """The force behind what a picture of a row shows: which leads there; at the last row, which decided."""
    if row % len(record.feed) < len(record.feed) - 1:
        return contest(record).words(row)
    if record.stop == Stop.NOT_CONVERGED:
        return "not solved: nothing was decided"
    return f"decided by: {decided(record, outcome)}"


def told(record: Record, outcome: Outcome, row: int = -1) -> str:
    """On which side of the flap the wire lies at a row, and the force behind it: the words of a still picture."""
    return f"{side_words(record, row)}; {force_words(record, outcome, row)}"
