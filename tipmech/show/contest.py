"""The contest of forces over an insertion, and in words where the wire lies and which force leads: read off its record.

All forces that contest are axial: of the lips' forces, most of which lie across the wire, the part along the vessel.
Lip and front do not add up to the push: the hand works against them only as far as they move. What the hand
works against adds up (`Contest.balance`): energy stored in the wire's bending (fold), lost to friction, spent on what
moves, and the rest, each over the travel of the hand.
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
from .rates import over_travel as over_travel
from .rates import rate
from .view import over_tear, uncovered

FOLD, FRONT, LIP, FRICTION, PLUG = "fold", "front", "lip", "friction", "plug"
FRONT_MOVED, PLUG_MOVED, REST = "front moved", "plug moved", "rest"
MEANING: dict[str, str] = {
    FOLD: "energy going into the wire's bending per travel of the hand (below 0: the wire springs back)",
    FRONT: "axial force of the front on the wire",
    LIP: "axial force of the tear's lips on the wire, without friction",
    FRICTION: "energy lost to friction per travel of the hand",
    PLUG: "axial force of the plug in the true lumen",
    FRONT_MOVED: "energy spent on opening the plane at its front per travel of the hand",
    PLUG_MOVED: "energy spent on pushing the plug per travel of the hand",
    REST: "all else per travel of the hand: walls, lips, margins, the hand's own spring, snaps",
}


@dataclass(frozen=True)
class Contest:
    """Forces over the increments, N, each of shape (n,), by name: fold, front, lip, friction, and plug if there is one.

    holds : force at which the front gives way, N
    balance : what the hand works against over the last `WINDOW_OF_TRAVEL`, N, (n,) each by name: fold, friction, what
        was moved, and the rest; they add up to the work of the hand over its travel
    """

    forces: dict[str, Array]
    holds: float
    balance: dict[str, Array]

    def leader(self, row: int) -> str | None:
        """Name of the largest force at a row; None where none is larger than `NO_FORCE`."""
        name = max(self.forces, key=lambda one: float(self.forces[one][row]))
        return name if self.forces[name][row] > NO_FORCE else None

    def leads(self, row: int) -> str:
        """Which force leads at a row, without its number."""
        name = self.leader(row)
        if name is None:
            return "no force leads"
        return f"{name} leads" + (f" (it gives way at {MN * self.holds:.1f} mN)" if name == FRONT else "")

    def words(self, row: int) -> str:
        """Which force leads at a row, with its number and, of the front, the one at which it gives way."""
        name = self.leader(row)
        if name is None:
            return "no force leads"
        value = MN * float(self.forces[name][row])
        if name == FRONT:
            return f"front leads: {value:.1f} of the {MN * self.holds:.1f} mN at which it gives way"
        return f"{name} leads: {value:.1f} mN"


def contest(record: Record) -> Contest:
    """The forces that contest at the tear, from a record with at least one increment."""
    forces = {
        FOLD: rate(record, record.energy_elastic),
        FRONT: record.force_front + record.force_front_back,
        LIP: record.force_lip_along,
        FRICTION: rate(record, record.diss_friction),
    }
    if record.case.scene.plug is not None:
        forces[PLUG] = record.force_plug
    return Contest(forces, front_holds(record), _balance(record, forces))


def _balance(record: Record, forces: dict[str, Array]) -> dict[str, Array]:
    """What the hand works against, which adds up."""
    parts = {
        FOLD: forces[FOLD],
        FRICTION: forces[FRICTION],
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
