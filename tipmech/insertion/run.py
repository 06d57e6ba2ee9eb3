"""Carry out one insertion: a case in, a record out."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from math import ceil, isfinite, pi

import numpy as np

from ..outcome import Stop
from ..vessel.build import breach_force, front_width, window_half
from ..vessel.holes import pierce
from ..vessel.walls import BACK
from . import feed as loop
from .build import FORCE_LENGTH, build, force_scale
from .case import Case, Move
from .classify import EXTENDED, new_length
from .points import Array
from .record import Record
from .shape import laid_curvature
from .solve import S_OPENED

SHAPING_DRAG = 10.0  # drag in the support over that of an increment
QUIET = 100.0  # times the tolerance of forces: viscous force that never counts as a snap
SLOW_INCREMENTS, SLOW_PARTS = 4, 4  # the next ones in quarters: the dome leaves the support's edge
INSIDE = 200.0  # of EI/L^4: foundation in the support for stability counts
FIRST_PARTS = (0.02, 0.03, 0.05, 0.1, 0.2, 0.6)  # of the first increment of a move
TURN_STEP = pi / 60.0  # rad, largest turn in an increment


def increments(moves: Sequence[Move], step: float) -> Array:
    """Feed (m) and turn (rad) of every increment of the moves, shape (n, 2); step: feed per increment, m."""
    rows: list[tuple[float, float]] = []
    for move in moves:
        if move.kind == "turn":
            count = max(1, ceil(abs(move.amount) / TURN_STEP - 1e-9))
            rows += [(0.0, move.amount / count)] * count
            continue
        sign = 1.0 if move.kind == "advance" else -1.0
        count = max(1, ceil(abs(move.amount) / step - 1e-9), ceil(abs(move.turn) / TURN_STEP - 1e-9))
        full, turn = sign * move.amount / count, move.turn / count
        # friction turns round within micrometres of feed: the first increment is taken in growing parts
        slow = min(SLOW_INCREMENTS, count - 1)
        parts = [*FIRST_PARTS, *[1.0 / SLOW_PARTS] * (slow * SLOW_PARTS), *[1.0] * (count - 1 - slow)]
        rows += [(full * part, turn * part) for part in parts]
    return np.array(rows).reshape(-1, 2)


class Insertion:
    """An insertion under way: moves are carried out from where the wire lies, and each may depend on what was seen.

    Parameters
    ----------
    case : Case
        wire, scene, drive and numerics; its moves are not carried out by themselves
    audit_gain : float
        factor on the push as measured by the energy audit; other than 1 it is a deliberate error for the audit's test
    """

    def __init__(self, case: Case, *, audit_gain: float = 1.0) -> None:
        self.case = case
        self.stop = Stop.PROTOCOL_DONE
        self._model, self._work, self._ledger = build(case)
        self._laid = laid_curvature(self._work.q, self._model.rod.clamps[0], self._model.rod.span)
        self._natural, self._base = self._model.rod.natural.copy(), self._model.rod.clamps[0].copy()
        self._settings = _settings(case, audit_gain)
        self._done: list[loop.History] = []
        self._holes: list[tuple[float, float, float, float]] = []

    def carry_out(self, *moves: Move) -> Stop:
        """Carry out moves until they are done or something ends them; returns why they ended.

        A solve that failed ends the insertion: later moves are not carried out, and the answer stays NOT_CONVERGED.
        """
        return self.carry_rows(increments(moves, self.case.numerics.increment))

    def carry_rows(self, rows: Array) -> Stop:
        """Carry out rows of `increments`: a move may be cut anywhere, and gives the same to the last bit."""
        if self.stop is Stop.NOT_CONVERGED:
            return self.stop
        self._carry_out(rows)
        while self._pierced():
            rows = rows[len(self._done[-1].scalars) :]
            self._carry_out(rows)
        return self.stop

    def _carry_out(self, rows: Array) -> None:
        """Carry out increments (n, 2: feed m, turn rad) up to the first event that ends them."""
        num = self.case.numerics
        n = num.elements
        hist = loop.History(
            np.zeros((len(rows) + 1, loop.COLUMNS)),
            np.zeros((len(rows) + 1, n + 1, 3)),
            np.zeros((len(rows) + 1, n, 4)),
            np.zeros((len(rows) + 1, n + 1), dtype=np.int64),
            np.zeros((len(rows) + 1, *self._model.mem.edges.shape)),
        )
        step = num.increment / self.case.drive.rate
        count, stop = loop.carry_out(
            self._model,
            self._work,
            self._ledger,
            self._laid,
            self._natural,
            self._base,
            rows,
            step,
            SHAPING_DRAG * num.viscosity / step,
            self._settings,
            hist,
            np.zeros(5, dtype=np.int64),
        )
        self._done.append(loop.History._make(column[:count].copy() for column in hist))
        self.stop = Stop(stop)

    def _pierced(self) -> bool:
        """Open the wall where the tip has just pierced it, if the insertion is to go on there; False where nothing is
        to be opened."""
        if self.case.stop.at_breach:
            return False
        model, tear = self._model, self.case.scene.tear
        if self.stop is Stop.FLAP_PIERCED and model.mem.side[-1] != BACK:
            s, _, g = (float(v) for v in model.mem.place[-1, :3])
            tip = self.case.profile.tip_radius
            if not pierce(model.walls.holes, s, g, tip + model.walls.clear):
                return False
            self._holes.append((s, g, tip, float(sum(len(part.scalars) for part in self._done) - 1)))
        elif self.stop is Stop.WEAK_SPOT_PIERCED:
            self._model = model._replace(walls=model.walls._replace(half=window_half(tear, self.case.scene.channel)))
        else:
            return False
        self._work.state[S_OPENED] = 1.0
        return True

    @property
    def parts(self) -> int:
        """How many times moves or increments were carried out."""
        return len(self._done)

    def record(self, first: int = 0) -> Record:
        """Everything carried out so far; first : of `parts`, to leave out those before it."""
        hist = loop.History._make(map(np.concatenate, zip(*self._done[first:], strict=True)))
        return to_record(self.case, hist, np.array(self._holes).reshape(-1, 4), self.stop)


def advance(case: Case, on_progress: Callable[[float], None] | None = None, *, audit_gain: float = 1.0) -> Record:
    """Carry out the insertion described by `case`.

    Parameters
    ----------
    case : Case
        wire, scene, drive, moves and numerics
    on_progress : callable, optional
        called with the share done (0 at the start, 1 at the end; the loop itself is compiled)
    audit_gain : float
        see `Insertion`

    Returns
    -------
    Record
        the history; `stop` tells how it ended, a failed solve included (never raised, never dropped)
    """
    if on_progress:
        on_progress(0.0)
    insertion = Insertion(case, audit_gain=audit_gain)
    insertion.carry_out(*case.moves)
    if on_progress:
        on_progress(1.0)
    return insertion.record()


def _quiet(case: Case) -> float:
    """Viscous force that never counts as a snap, N."""
    return QUIET * case.numerics.tolerance * force_scale(case)


def _settings(case: Case, audit_gain: float) -> loop.Settings:
    """Numbers of the loop."""
    scale, tip, weak = force_scale(case), 2.0 * case.profile.tip_radius, case.scene.tear.weak_toughness
    return loop.Settings._make(
        map(
            float,
            (
                case.numerics.viscosity,
                case.drive.rate,
                case.numerics.tolerance * scale,
                _quiet(case),
                INSIDE * scale / FORCE_LENGTH**2,
                case.drive.force_cap if isfinite(case.drive.force_cap) else np.inf,
                case.stop.advance_past_tear,
                np.inf if case.stop.advance_past_curl is None else case.stop.advance_past_curl,
                case.scene.tear.end + case.scene.channel.length,
                EXTENDED if case.stop.at_extension else np.inf,
                breach_force(case.scene.wall.breach_toughness, tip),
                breach_force(case.scene.wall.behind.breach_toughness, tip),
                np.inf if weak is None else breach_force(weak, tip),
                case.scene.tear.half_width,
                2.0 * float(case.profile.radius[0]),
                audit_gain,
            ),
        )
    )


def to_record(case: Case, hist: loop.History, holes: Array, stop: Stop) -> Record:
    """History arrays as a record."""
    h = hist.scalars

    def col(i: int) -> Array:
        return h[:, i].copy()

    def whole(i: int) -> "np.typing.NDArray[np.int64]":
        return h[:, i].astype(np.int64)

    works = h[:, loop.H_WORKS :]
    # the second yielding end is the front of the plane behind the upstream lip, or else the plug
    behind, nothing = case.scene.channel.retrograde is not None, np.zeros(len(h))
    front_back = case.scene.tear.start + case.scene.tear.end - h[:, loop.H_END] if behind else np.full(len(h), np.nan)
    growth = new_length(case.scene, h[:, loop.H_FRONT], front_back)
    opened = growth * front_width(case.scene, 2.0 * float(case.profile.radius[0]))
    # below this work the solver's force tolerance is all there is: a wire that touches nothing
    total = np.maximum(works[:, 7], np.maximum(_quiet(case) * np.abs(h[:, loop.H_FEED]), 1e-30))
    in_window = h[:, loop.H_F_LIP] + h[:, loop.H_F_FLOOR] + h[:, loop.H_F_HOLE]
    angle = h[in_window > 0.0, loop.H_TIP_ANGLE]
    return Record(
        case=replace(case),
        feed=col(loop.H_FEED),
        turn=col(loop.H_TURN),
        positions=hist.positions,
        quaternions=hist.frames,
        push=col(loop.H_PUSH),
        torque=col(loop.H_TORQUE),
        tip_force=col(loop.H_TIP_FORCE),
        tip_angle=col(loop.H_TIP_ANGLE),
        tip_s=col(loop.H_TIP_S),
        lead_s=col(loop.H_LEAD_S),
        lead_false_s=col(loop.H_LEAD_FALSE_S),
        lead_back_s=col(loop.H_LEAD_BACK_S),
        side=hist.side,
        force_true=col(loop.H_F_TRUE),
        force_false=col(loop.H_F_FALSE),
        force_lip=col(loop.H_F_LIP),
        force_floor=col(loop.H_F_FLOOR),
        force_hole=col(loop.H_F_HOLE),
        force_lip_along=col(loop.H_LIP_ALONG),
        force_front=col(loop.H_F_FRONT),
        force_plug=nothing if behind else col(loop.H_F_END),
        force_front_back=col(loop.H_F_END) if behind else nothing,
        front=col(loop.H_FRONT),
        front_back=front_back,
        plug=np.full(len(h), np.inf) if behind else col(loop.H_END),
        front_centre=col(loop.H_CENTRE),
        opened_area=opened + works[:, 8],
        margins=hist.margins,
        holes=holes,
        lip=col(loop.H_LIP),
        energy_elastic=col(loop.H_ELASTIC),
        energy_contact=col(loop.H_CONTACT),
        energy_drive=col(loop.H_DRIVE),
        work_hand=works[:, 0].copy(),
        diss_friction=works[:, 1].copy(),
        diss_front=works[:, 2] + works[:, 9] if behind else works[:, 2].copy(),
        diss_margin=works[:, 3].copy(),
        diss_plug=nothing if behind else works[:, 9].copy(),
        diss_viscous=works[:, 4].copy(),
        released_at_snaps=works[:, 5].copy(),
        audit_error=np.abs(works[:, 6]) / total,
        count_stuck=whole(loop.H_STUCK),
        count_released=whole(loop.H_RELEASED),
        count_met=whole(loop.H_MET),
        iterations=whole(loop.H_ITERATIONS),
        held=whole(loop.H_HELD),
        limb_approach=col(loop.H_NEAREST),
        stop=int(stop),
        contact_angle=float(angle[0]) if len(angle) else float("nan"),
    )
