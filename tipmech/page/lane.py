"""One wire on the bench: its insertion, carried out increment by increment, and what it left behind so far."""

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from ..insertion.case import Case
from ..insertion.classify import entered_rows, plane_growth
from ..insertion.record import Record
from ..insertion.run import Insertion
from ..outcome import Stop
from ..show.contest import FOLD, FRICTION, FRONT, LIP, WALLS, over_travel
from ..show.given_way import fall_of
from .controls import Wire
from .rest import at_rest
from .steps import Step, moves_of, rows_of

Array = NDArray[np.float64]

HISTORY = ("path", "feed", "push", "front", "lip", "tip", "along", "elastic", "rubbed", "walls", "tip_s")
"""Columns of `Lane.history`: travel and feed of the hand (m), forces (N; lip, along: on the lips' edges, and of them
along the vessel), energies (J; walls: stored in what is pressed in), axial position of the tip (m)."""
FORCES = (FOLD, FRONT, LIP, FRICTION, WALLS)
"""Forces that contest (show/contest.py), as rows of `Lane.contest`."""


@dataclass
class Lane:
    """A wire under the hand.

    Attributes
    ----------
    wire : Wire
        as it was asked for
    case : Case
        what is simulated; its moves are put in when a record is asked for
    last : Record
        rows of the last increment alone (of the wire as laid, before the first); its holes count from its first row
    history : list of tuple
        one row an increment, columns as in HISTORY
    made : list of Step
        increments carried out
    stored_at_start : dict
        what `stored` gives at the first row: the tip's bend is straightened in the support before any work is done
    grown : float
        length by which the plane had grown before the last increment, m
    buckled : bool
        whether the wire has met an unstable state since it entered the false lumen (as `classify` judges it), and
        still lies there
    """

    wire: Wire
    case: Case
    insertion: Insertion = field(init=False)
    last: Record = field(init=False)
    history: list[tuple[float, ...]] = field(init=False)
    made: list[Step] = field(init=False, default_factory=list)
    grown: float = field(init=False, default=0.0)
    buckled: bool = field(init=False, default=False)
    entered: bool = field(init=False, default=False)
    stored_at_start: dict[str, float] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        self.insertion = Insertion(self.case)
        self.last = at_rest(self.case)
        self.history = [(*(0.0,) * (len(HISTORY) - 1), float(self.last.tip_s[0]))]

    @property
    def stop(self) -> Stop:
        """Why it can go no further; PROTOCOL_DONE: it can."""
        return self.insertion.stop

    @property
    def open(self) -> bool:
        """Whether it takes further increments."""
        return self.stop is Stop.PROTOCOL_DONE

    @property
    def path(self) -> float:
        """Travel of the hand, m."""
        return self.history[-1][0]

    def carry(self, step: Step, number: int) -> None:
        """Carry out increment `number` of a move of this kind, if anything can still be carried out."""
        if not self.open:
            return
        first, before = self.insertion.parts, self.last
        self.insertion.carry_rows(rows_of(step, number, self.case.numerics.increment))
        part = self.insertion.record(first)
        if not len(part.feed):  # not solved at the first row: what was reached before stands
            self.last = replace(before, stop=part.stop)
            return
        if not self.made:
            self.stored_at_start = stored(part, 0)
            first_row = dict(zip(HISTORY, self.history[0], strict=True))
            self.history = [
                tuple((first_row | {name: self.stored_at_start[name] for name in ("elastic", "walls")}).values())
            ]
        self.made.append(step)
        self.last = _holes_from_start(part)
        self.grown = float(plane_growth(before)[-1])
        since = np.maximum.accumulate(entered_rows(part)) | self.entered
        self.entered = bool(since[-1])
        self.buckled = self.buckled or bool(np.any(since & (part.count_met > 0)))
        if not _under_flap(part):  # drawn out again: what happened there is over
            self.entered = self.buckled = False
        self.history.append(self._row(before, part))

    def _row(self, before: Record, part: Record) -> tuple[float, ...]:
        """History's row of an increment."""
        feed = np.concatenate([before.feed[-1:], part.feed])
        return (
            self.path + float(np.abs(np.diff(feed)).sum()),
            float(part.feed[-1]),
            float(part.push[-1]),
            float(part.force_front[-1]),
            float(part.force_lip[-1]),
            float(part.tip_force[-1]),
            float(part.force_lip_along[-1]),
            float(part.energy_elastic[-1]),
            float(part.diss_friction[-1]),
            float(part.energy_contact[-1]),
            float(part.tip_s[-1]),
        )

    def columns(self) -> Array:
        """History as an array, shape (increments + 1, len(HISTORY))."""
        return np.array(self.history)

    def contest(self) -> Array:
        """Forces that contest over the increments, N, shape (5, increments + 1): rows as in FORCES."""
        path, _, _, front, _, _, along, *energies, _ = self.columns().T
        fold, friction, walls = (over_travel(path, energy) for energy in energies)
        return np.stack([fold, front, along, friction, walls])

    @property
    def folded(self) -> bool:
        """Whether the wire, under the flap, has folded, as the sentence on which force decided has it
        (show/given_way.py)."""
        _, feed, push, *_, tip_s = self.columns().T
        return self.entered and fall_of(feed, push, tip_s, 2.0 * float(self.case.profile.radius[0])) is not None

    def record(self) -> Record:
        """Everything carried out so far, with the moves in its case: `insertion.run.advance` of that case gives the
        same to the bit."""
        if not self.insertion.parts:
            return self.last
        whole = self.insertion.record()
        case = replace(self.case, moves=moves_of(self.made, self.case.numerics.increment))
        return replace(whole, case=case)


def stored(record: Record, row: int = -1) -> dict[str, float]:
    """Work of the hand at a row and where it went, J, by the names in `looks.ENERGIES`."""
    values = {
        "hand": record.work_hand,
        "elastic": record.energy_elastic,
        "walls": record.energy_contact,
        "drive": record.energy_drive,
        "friction": record.diss_friction,
        "opened": record.diss_front + record.diss_margin,
        "viscous": record.diss_viscous,
    }
    return {name: float(value[row]) for name, value in values.items()}


def _under_flap(record: Record) -> bool:
    """Whether any of the wire lies under the flap in the last row, past either lip."""
    tear = record.case.scene.tear
    return bool(record.lead_false_s[-1] > tear.end or record.lead_back_s[-1] < tear.start)


def _holes_from_start(part: Record) -> Record:
    """The rows with the holes there from the first of them on (they are counted from the start of the insertion)."""
    if not len(part.holes):
        return part
    holes = part.holes.copy()
    holes[:, 3] = 0.0
    return replace(part, holes=holes)
