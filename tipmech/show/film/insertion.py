"""One insertion as a film: section along the vessel, cut at the tip, forces; who leads, and where it lies."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ...insertion.record import Outcome, Record
from .. import style
from ..contest import contest, outcome_words, side_words
from ..decided import decided
from ..strip import Frame, frame_of, strain_norm
from ..view import wires
from .arrows import Arrows, meanings
from .hand import Procedure, action_words
from .pace import Pace, hand_times, speed_words
from .panels import Cut, Forces, Section, between, force_range, strain_bar
from .stage import Stage, decimals

MM = 1e3
WIDE, TALL = 12.8, 7.2  # inch, 16 to 9
LEFT, SIDE = 0.55, 0.2  # inch beside the section
HEAD, STATUS, AXIS = 0.34, 0.84, 0.42  # inch: title, words, axis under the section
HIGHEST, LOWEST = 2.75, 0.9  # inch, of the section
NUMBERS = (5.1, 6.9)  # inch, where the numbers of feed and push end
BOLD = 0.62  # of the size of type, width of a bold sign on average, with some to spare
INVENTED = "Vessels, tears and wires shipped with this tool are invented."
NOTE = (
    "Numbers are those of the last recorded increment; between increments the drawn shape is interpolated, but not "
    "across a snap. Equal scales, s unrolled along the centreline, wire at its own diameter; magenta outline: in the "
    "false lumen. The flap is drawn at rest plus the lift of its lip, and on the wire. Snaps may leave the force axis. "
)


@dataclass(frozen=True)
class Shown:
    """What a frame says: increment, feed (m), push (N), and the words."""

    row: int
    feed: float
    push: float
    where: str
    leads: str
    hand: str


class InsertionFilm:
    """A film of one record; `procedure`: what `tipmech attempts` wrote beside it, if it is one."""

    def __init__(
        self, record: Record, outcome: Outcome, title: str, *, speed: float = 1.0, procedure: Procedure | None = None
    ) -> None:
        self.record, self.outcome, self.title, self.procedure = record, outcome, title, procedure
        self.pace = Pace(hand_times(record), speed)
        self.contest = contest(record)
        self.seconds = self.pace.seconds
        self.wires = wires(record, list(range(len(record.feed))))
        self.figure = style.new_figure(WIDE, TALL)

    def begin(self) -> None:
        """Draw what stands still."""
        figure, record = self.figure, self.record
        frame = wide_enough(frame_of(record), WIDE - LEFT - SIDE)
        norm = strain_norm(self.wires, frame)
        scale = (WIDE - LEFT - SIDE) / (frame.right - frame.left)
        tall = (frame.bottom - frame.top) * scale
        note = f"{NOTE}{meanings(self.contest).capitalize()}. {INVENTED}"
        foot = style.add_note(figure, note)

        def place(x: float, top: float, wide: float, high: float) -> tuple[float, float, float, float]:
            return x / WIDE, 1.0 - (top + high) / TALL, wide / WIDE, high / TALL

        top = HEAD + STATUS
        self.section = Section(figure.add_axes(place(LEFT, top, WIDE - LEFT - SIDE, tall)), record, frame, norm)
        below = top + tall + AXIS + 0.32
        high = min(2.6, TALL - below - foot - 0.5)
        cut = min(high, 2.3)
        self.forces = Forces(figure.add_axes(place(LEFT, below, 5.7, high)), [record], [self.contest], [""])
        ends = force_range([record], [self.contest])
        at = place(7.15, below, 2.75, high)
        self.arrows = Arrows(figure.add_axes(at), self.contest, record.push, max(ends[0], -ends[1]))
        self.cut = Cut(figure.add_axes(place(10.2, below, 2.4, cut)), record, self.wires)
        strain_bar(figure, place(9.9, 0.24, 2.6, 0.09), norm)
        figure.text(0.012, 1.0 - 0.1 / TALL, self.title, fontsize=11, color=style.INK, va="top")
        turns = bool(np.any(np.diff(record.turn, prepend=0.0)))
        words = speed_words(self.pace.speed, record.case.drive.rate, turns=turns)
        at_right: dict[str, Any] = {"fontsize": 9, "color": style.INK, "va": "top", "ha": "right"}
        figure.text(1.0 - SIDE / WIDE, 1.0 - (top + tall + 0.3) / TALL, words, **at_right)
        for inch, name, unit in zip(NUMBERS, ("feed", "push"), ("mm", "mN"), strict=True):
            y = 1.0 - (HEAD + 0.06) / TALL
            figure.text((inch + 0.06) / WIDE, y, unit, fontsize=10, color=style.INK, va="top")
            figure.text((inch - 0.65) / WIDE, y, name, fontsize=10, color=style.INK, va="top", ha="right")
        self.stage = Stage(figure)

    def shown(self, at: float) -> Shown:
        """What the frame at a time of the film (s) says."""
        row, _ = self.pace.place(at)
        record = self.record
        last, where = row == len(record.feed) - 1, side_words(record, row)
        if last:
            ended = outcome_words(self.outcome) if self.procedure is None else self.procedure.end
            where, leads = f"{where}; ended: {ended}", f"decided by: {decided(record, self.outcome)}"
        else:
            leads = self.contest.leads(row)
        hand = action_words(record, row, self.procedure)
        return Shown(row, float(record.feed[row]), float(record.push[row]), where, leads, hand)

    def draw(self, at: float) -> None:
        """Draw the frame at a time of the film, s."""
        row, share = self.pace.place(at)
        later = min(row + 1, len(self.wires) - 1)
        said = self.shown(at)
        stage = self.stage
        stage.clear()
        self.section.draw(stage, row, share, between(self.wires[row], self.wires[later], share))
        self.cut.draw(stage, row, self.wires[row])
        self.arrows.draw(stage, row)
        self.forces.draw(stage, [row])
        self._words(said)

    def _words(self, said: Shown) -> None:
        top, stage = 1.0 - (HEAD + 0.06) / TALL, self.stage
        for inch, number in zip(NUMBERS, (decimals(said.feed * MM, 2), decimals(said.push * MM, 1)), strict=True):
            stage.number(inch / WIDE, top, number, 10.0, color=style.INK)
        stage.say(0.012, top, said.hand, (NUMBERS[0] - 1.4, 0.24), fontsize=10, color=style.INK)
        for line, words in ((1, said.where), (2, said.leads)):
            look = {"fontsize": fitting(words, 10.0, WIDE - 0.3), "color": style.INK, "weight": "bold"}
            stage.say(0.012, top - 0.25 * line / TALL, words, (WIDE - 0.16, 0.22), **look)


def fitting(words: str, size: float, wide: float) -> float:
    """Size of bold type, at most `size` points, at which words fit into `wide` inches."""
    return min(size, wide * 72.0 / (BOLD * max(1, len(words))))


def wide_enough(frame: Frame, wide: float) -> Frame:
    """The frame, longer on both sides where its section (`wide` inches) would be higher than HIGHEST, and taller where
    it would be lower than LOWEST."""
    length, height = frame.right - frame.left, frame.bottom - frame.top
    if height / length * wide > HIGHEST:
        more = 0.5 * (height * wide / HIGHEST - length)
        return replace(frame, left=frame.left - more, right=frame.right + more)
    if height / length * wide < LOWEST:
        more = 0.5 * (length * LOWEST / wide - height)
        return replace(frame, top=frame.top - more, bottom=frame.bottom + more)
    return frame
