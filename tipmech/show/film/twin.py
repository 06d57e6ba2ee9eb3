"""Two insertions of the same seed side by side in step of the hand's travel, standing still where they part."""

from __future__ import annotations

from dataclasses import dataclass
from textwrap import wrap
from typing import TYPE_CHECKING, Any

import numpy as np

from ...insertion.classify import travel
from ...insertion.record import Array
from .. import style
from ..contest import Contest, contest, outcome_words, side_words
from ..decided import decided
from ..pair import Pair, Run
from ..strip import Frame, frame_of, strain_norm
from ..view import wires
from .arrows import Arrows, meanings
from .insertion import INVENTED, NOTE, WIDE, fitting, wide_enough
from .pace import Pace, place, speed_words
from .panels import Cut, Forces, Section, between, force_range, strain_bar
from .parting import events, parting
from .stage import Stage

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MM = 1e3
COLUMN, LEFT, GAP = 5.95, 0.5, 0.35  # inch: a section, left of the first, between them
TALL = 8.4  # inch, more where the section is high
LEAST_CUT = 1.5  # inch, of the cut across
UNDER = 0.72  # inch: axis of the arrows, key of the force panel
HEAD, WORDS, CURVES = 0.62, 0.86, 1.0  # inch: title, words over the sections, the common force panel
PLAIN = 0.57  # of the size of type, width of a sign on average, with some to spare
LINES = 3  # of words over a section
BANNER = 0.62  # inch, under the sections, for what stands there where the two part
LETTERS = ("A", "B")  # names of the two where both are spoken of
TITLE = 9.2  # inch, beside the scale of the wire's colours
DISTAL = 10e-3  # m from the tip, over which the wires' bending is told apart
SAME = 1e-3  # of the larger rigidity: less is no difference
EDGE = 0.15  # inch, between words and the figure's edge
PAUSE = 3.0  # s for which the film stands where the two part


@dataclass(frozen=True)
class Side:
    """One of the two at an instant: row, whether it has ended, and the words."""

    row: int
    ended: bool
    where: str
    leads: str


class TwinFilm:
    """A film of two runs of the same seed."""

    def __init__(self, runs: Pair, title: str, *, speed: float = 1.0) -> None:
        self.runs, self.title = runs, title
        self.paths = [travel(run.record) for run in runs]
        self.parting = parting(*(events(run.record, run.outcome) for run in runs))
        self.rate = runs[0].record.case.drive.rate
        longest = max(self.paths, key=lambda path: float(path[-1]))
        pause = (float("nan"), 0.0)
        if self.parting is not None:
            pause = (max(0.0, self.parting.at - float(longest[0])) / self.rate, PAUSE)
        self.pace = Pace((longest - longest[0]) / self.rate, speed, pause)
        self.start = float(longest[0])
        self.seconds = self.pace.seconds
        self.contests: list[Contest] = [contest(run.record) for run in runs]
        self.wires = [wires(run.record, list(range(len(run.record.feed)))) for run in runs]
        told = rigidities(runs)
        self.names = [f"{lettered(k, run.name)}{one}" for k, run, one in zip(LETTERS, runs, told, strict=True)]
        self.frame = wide_enough(joint_frame([frame_of(run.record) for run in runs]), COLUMN)
        self.note = f"{NOTE}{meanings(self.contests[0]).capitalize()}. {INVENTED}"
        self.figure = style.new_figure(WIDE, max(TALL, self._below() + LEAST_CUT + UNDER + self._foot()))

    def _section(self) -> float:
        """Height of a section, inch."""
        return (self.frame.bottom - self.frame.top) * COLUMN / (self.frame.right - self.frame.left)

    def _below(self) -> float:
        """Where cuts and arrows begin, inch from above."""
        return HEAD + WORDS + self._section() + 0.45 + BANNER + 0.4

    def _foot(self) -> float:
        """Height of the force panel and all under it, inch."""
        return CURVES + 0.42 + style.note_height(self.note, WIDE)

    def begin(self) -> None:
        """Draw what stands still."""
        figure, runs = self.figure, self.runs
        norm = strain_norm([w for shown in self.wires for w in shown], self.frame)
        self.tall = float(figure.get_size_inches()[1])
        style.add_note(figure, self.note)

        def axes(x: float, top: float, wide: float, high: float) -> Axes:
            return figure.add_axes((x / WIDE, 1.0 - (top + high) / self.tall, wide / WIDE, high / self.tall))

        top, below, curves = HEAD + WORDS, self._below(), self.tall - self._foot()
        self.banner = below - 0.4 - 0.5 * BANNER
        high = min(2.3, curves - below - UNDER)
        ends = force_range([run.record for run in runs], self.contests)
        self.sections, self.cuts, self.arrows = [], [], []
        for k, run in enumerate(runs):
            x = LEFT + k * (COLUMN + GAP)
            self.sections.append(Section(axes(x, top, COLUMN, self._section()), run.record, self.frame, norm))
            if k:
                self.sections[k].ax.set_ylabel("")
            self.cuts.append(Cut(axes(x - 0.2, below, high, high), run.record, self.wires[k]))
            arrows = axes(x + high + 0.7, below, COLUMN - high - 0.75, high - 0.1)
            self.arrows.append(Arrows(arrows, self.contests[k], run.record.push, max(ends[0], -ends[1])))
            self._fixed(x, HEAD - 0.02, self.names[k], fitting(self.names[k], 11.0, COLUMN), weight="bold")
        whole = axes(LEFT, curves, 2 * COLUMN + GAP, CURVES)
        self.forces = Forces(whole, [run.record for run in runs], self.contests, list(LETTERS))
        self._fixed(EDGE, 0.08, self.title, fitting(self.title, 11.0, TITLE))
        self._fixed(EDGE, 0.32, speed_words(self.pace.speed, self.rate), 8.5)
        strain_bar(figure, (10.0 / WIDE, 1.0 - 0.33 / self.tall, 2.5 / WIDE, 0.09 / self.tall), norm)
        self.stage = Stage(figure)

    def _fixed(self, x: float, top: float, words: str, size: float, **look: Any) -> None:
        """Words that stand still, at inches from the left and from above."""
        self.figure.text(x / WIDE, 1.0 - top / self.tall, words, fontsize=size, color=style.INK, va="top", **look)

    def travelled(self, at: float) -> float:
        """Travel of the hand at a time of the film (s), m."""
        return self.start + self.pace.real(at) * self.rate

    def shown(self, at: float) -> tuple[Side, Side]:
        """What the frame at a time of the film (s) says of each."""
        now = self.travelled(at)
        one, two = (self._side(k, run, now) for k, run in enumerate(self.runs))
        return one, two

    def _side(self, k: int, run: Run, now: float) -> Side:
        row, _ = place(self.paths[k], now)
        ended = row == len(self.paths[k]) - 1
        where, leads = side_words(run.record, row), self.contests[k].leads(row)
        if ended:
            where = f"ended: {outcome_words(run.outcome)} ({where})"
            leads = f"decided by: {decided(run.record, run.outcome)}"
        return Side(row, ended, where, leads)

    def draw(self, at: float) -> None:
        """Draw the frame at a time of the film, s."""
        now, said, stage = self.travelled(at), self.shown(at), self.stage
        stage.clear()
        for k in range(len(said)):
            row, share = place(self.paths[k], now)
            shown = self.wires[k]
            then = shown[min(row + 1, len(shown) - 1)]
            self.sections[k].draw(stage, row, share, between(shown[row], then, share))
            self.cuts[k].draw(stage, row, shown[row])
            self.arrows[k].draw(stage, row)
        self.forces.draw(stage, [one.row for one in said])
        self._words(said)
        if self.pace.paused(at):
            stage.draw(self.figure, self._parted)

    def _words(self, said: tuple[Side, Side]) -> None:
        fitted = [in_lines((one.where, one.leads), 9.0, COLUMN, LINES) for one in said]
        size = min(size for size, _ in fitted)
        for k, (_, lines) in enumerate(fitted):
            x = (LEFT + k * (COLUMN + GAP)) / WIDE
            for line, words in enumerate(lines):
                y = 1.0 - (HEAD + 0.24 + 0.2 * line) / self.tall
                self.stage.say(x, y, words, (COLUMN + GAP - 0.1, 0.19), fontsize=size, color=style.INK)

    def _parted(self) -> None:
        if self.parting is None:
            return
        said = [
            f"{letter}:  {'no further event' if event is None else f'{event.words} at {event.at * MM:.2f} mm'}"
            for letter, event in zip(LETTERS, self.parting.events, strict=True)
        ]
        lines = [f"They part here, at {self.parting.at * MM:.2f} mm of travel. Next:", ";     ".join(said)]
        size = min(fitting(line, 10.0, WIDE - 4.0 * EDGE) for line in lines)
        box = {"boxstyle": "round,pad=0.35", "fc": "white", "ec": style.INK, "lw": 1.2}
        self.figure.text(
            0.5, 1.0 - self.banner / self.tall, "\n".join(lines), fontsize=size, color=style.INK, ha="center",
            va="center", linespacing=1.25, bbox=box,
        )  # fmt: skip


def lettered(letter: str, name: str) -> str:
    """A run's name with its letter before it."""
    return name if name.startswith(f"{letter} ") else f"{letter}  {name}"


def rigidities(runs: Pair) -> tuple[str, str]:
    """Mean bending rigidity of each wire's distal `DISTAL`, in words; empty where both are the same."""
    away = np.linspace(0.0, DISTAL, 101)
    one, two = (float(np.mean(run.record.case.profile.at("EI1", away))) for run in runs)
    if abs(one - two) <= SAME * max(one, two):
        return "", ""
    first, second = (f"; EI {MM**2 * value:.3g} N mm² (distal {MM * DISTAL:.0f} mm)" for value in (one, two))
    return first, second


def in_lines(words: tuple[str, ...], size: float, wide: float, most: int) -> tuple[float, list[str]]:
    """The largest size of type, at most `size` points, at which all words fit into `most` lines of `wide` inches; and
    the lines."""
    while True:
        room = max(1, int(wide * 72.0 / (PLAIN * size)))
        lines = [line for part in words for line in wrap(part, room)]
        if len(lines) <= most:
            return size, lines
        size *= 0.95


def joint_frame(frames: list[Frame]) -> Frame:
    """Limits that hold them all."""
    array: Array = np.array([[f.left, f.right, f.top, f.bottom, f.half] for f in frames])
    low, high = array.min(axis=0), array.max(axis=0)
    return Frame(float(low[0]), float(high[1]), float(low[2]), float(high[3]), float(high[4]))
