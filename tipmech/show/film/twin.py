"""Two insertions of the same seed side by side in step of the hand's travel, standing still where they part."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...insertion.classify import travel
from ...insertion.record import Array
from .. import style
from ..contest import Contest, contest, outcome_words, side_words
from ..decided import decided
from ..pair import Pair, Run
from ..strip import Frame, frame_of, strain_norm
from ..view import wires
from .insertion import INVENTED, NOTE, WIDE, fitting, wide_enough
from .pace import Pace, place, speed_words
from .panels import Arrows, Cut, Forces, Section, between, force_range, meanings, strain_bar
from .parting import events, parting
from .stage import Stage

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MM = 1e3
COLUMN, LEFT, GAP = 5.95, 0.5, 0.35  # inch: a section, left of the first, between them
TALL = 8.4  # inch
HEAD, WORDS, CURVES = 0.62, 0.66, 1.0  # inch: title, words over the sections, the common force panel
BANNER = 0.42  # inch, under the sections, for what stands there where the two part
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
        self.figure = style.new_figure(WIDE, TALL)

    def begin(self) -> None:
        """Draw what stands still."""
        figure, runs = self.figure, self.runs
        frame = wide_enough(joint_frame([frame_of(run.record) for run in runs]), COLUMN)
        norm = strain_norm([w for shown in self.wires for w in shown], frame)
        tall = (frame.bottom - frame.top) * COLUMN / (frame.right - frame.left)
        note = f"{NOTE}{meanings(self.contests[0]).capitalize()}. {INVENTED}"
        foot = style.add_note(figure, note)

        def axes(x: float, top: float, wide: float, high: float) -> Axes:
            return figure.add_axes((x / WIDE, 1.0 - (top + high) / TALL, wide / WIDE, high / TALL))

        top = HEAD + WORDS
        self.banner = top + tall + 0.45 + 0.5 * BANNER
        below = self.banner + 0.5 * BANNER + 0.3
        curves = TALL - foot - 0.42 - CURVES
        high = min(2.3, curves - below - 0.72)
        ends = force_range([run.record for run in runs], self.contests)
        self.sections, self.cuts, self.arrows = [], [], []
        for k, run in enumerate(runs):
            x = LEFT + k * (COLUMN + GAP)
            self.sections.append(Section(axes(x, top, COLUMN, tall), run.record, frame, norm))
            if k:
                self.sections[k].ax.set_ylabel("")
            self.cuts.append(Cut(axes(x - 0.2, below, high, high), run.record, self.wires[k]))
            arrows = axes(x + high + 0.45, below, COLUMN - high - 0.5, high - 0.1)
            self.arrows.append(Arrows(arrows, self.contests[k], run.record.push, max(ends[0], -ends[1])))
            figure.text(
                x / WIDE, 1.0 - (HEAD - 0.02) / TALL, run.name, fontsize=11, color=style.INK, va="top", weight="bold"
            )
        whole = axes(LEFT, curves, 2 * COLUMN + GAP, CURVES)
        self.forces = Forces(whole, [run.record for run in runs], self.contests, [run.name for run in runs])
        figure.text(0.012, 1.0 - 0.08 / TALL, self.title, fontsize=11, color=style.INK, va="top")
        words = speed_words(self.pace.speed, self.rate)
        figure.text(0.012, 1.0 - 0.32 / TALL, words, fontsize=8.5, color=style.INK, va="top")
        strain_bar(figure, (10.0 / WIDE, 1.0 - 0.33 / TALL, 2.5 / WIDE, 0.09 / TALL), norm)
        self.stage = Stage(figure)

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
        for k, one in enumerate(said):
            x = (LEFT + k * (COLUMN + GAP)) / WIDE
            for line, words in enumerate((one.where, one.leads)):
                look = {"fontsize": fitting(words, 9.0, COLUMN), "color": style.INK}
                y = 1.0 - (HEAD + 0.24 + 0.2 * line) / TALL
                self.stage.say(x, y, words, (COLUMN + GAP - 0.1, 0.19), **look)

    def _parted(self) -> None:
        if self.parting is None:
            return
        said = [
            f"{run.name}: {'no further event' if event is None else f'{event.words} at {event.at * MM:.2f} mm'}"
            for run, event in zip(self.runs, self.parting.events, strict=True)
        ]
        text = f"They part here, {self.parting.at * MM:.2f} mm.  Next:  {said[0]};  {said[1]}"
        box = {"boxstyle": "round,pad=0.35", "fc": "white", "ec": style.INK, "lw": 1.2}
        self.figure.text(
            0.5, 1.0 - self.banner / TALL, text, fontsize=10, color=style.INK, ha="center", va="center", bbox=box
        )


def joint_frame(frames: list[Frame]) -> Frame:
    """Limits that hold them all."""
    array: Array = np.array([[f.left, f.right, f.top, f.bottom, f.half] for f in frames])
    low, high = array.min(axis=0), array.max(axis=0)
    return Frame(float(low[0]), float(high[1]), float(low[2]), float(high[3]), float(high[4]))
