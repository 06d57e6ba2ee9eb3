"""An insertion as one lane of many carried out side by side: all that `feed.carry_out` needs, and its answer."""

from typing import NamedTuple

import numpy as np

from ..gpu.lanes import LAST, RAGGED, Slot
from ..kernel import bundle, kernel
from ..outcome import Stop
from .case import Case
from .classify import classify
from .commit import Ledger
from .feed import COLUMNS, History, Settings, carry_out
from .points import Array, IntArray
from .record import Outcome
from .run import SHAPING_DRAG, Insertion, increments, to_record
from .solve import Model, Work


@bundle
class Lane(NamedTuple):
    """Arguments of `feed.carry_out`, by their names there; answer (2,): rows recorded, reason of the end."""

    m: Model
    w: Work
    led: Ledger
    laid: Array
    natural: Array
    base: Array
    moves: Array
    dt: float
    shaping: float
    s: Settings
    hist: History
    counts: IntArray
    answer: IntArray


def make_lane(case: Case, most: int, increments_of_it: int | None = None) -> Lane:
    """Lane of a case before anything is carried out, with room for `most` increments.

    increments_of_it : take only so many of its increments
    """
    insertion, num = Insertion(case), case.numerics
    rows = increments(case.moves, num.increment)[:increments_of_it]
    n, edges = num.elements, insertion._model.mem.edges.shape
    step = num.increment / case.drive.rate
    return Lane(
        m=insertion._model,
        w=insertion._work,
        led=insertion._ledger,
        laid=insertion._laid,
        natural=insertion._natural,
        base=insertion._base,
        moves=rows,
        dt=step,
        shaping=SHAPING_DRAG * num.viscosity / step,
        s=insertion._settings,
        hist=History(
            np.zeros((most + 1, COLUMNS)),
            np.zeros((most + 1, n + 1, 3)),
            np.zeros((most + 1, n, 4)),
            np.zeros((most + 1, n + 1), dtype=np.int64),
            np.zeros((most + 1, *edges)),
        ),
        counts=np.zeros(5, dtype=np.int64),
        answer=np.zeros(2, dtype=np.int64),
    )


def lane_slot(lane: Lane, most: int) -> Slot:
    """Places of a lane's fields: of the history all scalars, of all else in it the last row only."""
    room = lane._replace(moves=np.zeros((most, 2)))
    history = dict.fromkeys(("positions", "frames", "side", "margins"), LAST)
    return Slot(room, mark={"moves": RAGGED, "hist": history})


def outcome_of(case: Case, scalars: Array, dome: int, stop: int) -> Outcome:
    """Outcome of a lane that was carried out, from what is kept of it.

    scalars : (rows recorded, COLUMNS) of its history; dome : channel of the tip in the last of them
    """
    rows = len(scalars)
    side = np.full((rows, 1), dome, dtype=np.int64)
    hist = History(scalars, np.zeros((rows, 0, 3)), np.zeros((rows, 0, 4)), side, np.zeros((rows, 0, 0)))
    return classify(to_record(case, hist, np.zeros((0, 4)), Stop(stop)))


@kernel
def carry_lane(lane: Lane) -> None:
    """Carry out a lane from its start to its end."""
    rows, end = carry_out(
        lane.m,
        lane.w,
        lane.led,
        lane.laid,
        lane.natural,
        lane.base,
        lane.moves,
        lane.dt,
        lane.shaping,
        lane.s,
        lane.hist,
        lane.counts,
    )
    lane.answer[0] = rows
    lane.answer[1] = end
