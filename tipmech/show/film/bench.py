"""Bench tests as films: what each shares. A view draws the test and its growing curve; the film gives it time."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from .. import style
from ..view import Array, Wire
from .insertion import INVENTED
from .pace import Pace
from .stage import Stage

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDE, TALL = 12.8, 6.4  # inch
HEAD = 0.95  # inch, title and words
FIELD = (0.6, 6.0)  # inch: left edge and width of the drawing of the test
CURVE = (7.5, 5.0)  # inch: of the growing curve
STRAIN_BAR = (0.815, 1.0 - 0.62 / TALL, 0.16, 0.09 / TALL)  # of the figure: left, bottom, width, height


class View(Protocol):
    """One bench test: its states in order, and how they are drawn.

    times : ndarray, shape (n,), of the states at the usual pace, s; rate : of what is driven, its unit a second, in it;
    unit : what is driven, in words with its unit
    """

    title: str
    note: str
    times: Array
    rate: float
    unit: str

    def begin(self, figure: Figure, bottom: float) -> None:
        """Draw what stands still above `bottom` (inch)."""

    def draw(self, stage: Stage, row: int, share: float) -> None:
        """Draw the instant `share` of the way from a state to the next."""

    def words(self, row: int) -> str:
        """What is said of a state."""


class BenchFilm:
    """A film of a bench test; it is quasi-static, so that its time is a choice, said on every frame."""

    def __init__(self, view: View, *, speed: float = 1.0) -> None:
        self.view, self.speed = view, speed
        self.pace = Pace(view.times, speed)
        self.seconds = self.pace.seconds
        self.figure = style.new_figure(WIDE, TALL)

    def begin(self) -> None:
        """Draw what stands still."""
        figure, view = self.figure, self.view
        foot = style.add_note(figure, f"{view.note} {INVENTED}")
        figure.text(0.012, 1.0 - 0.1 / TALL, view.title, fontsize=11, color=style.INK, va="top")
        words = f"quasi-static, without real time: shown at {view.rate * self.speed:.3g} {view.unit} a second"
        figure.text(0.988, 1.0 - 0.12 / TALL, words, fontsize=8.5, color=style.INK, va="top", ha="right")
        view.begin(figure, foot + 0.1)
        self.stage = Stage(figure)

    def draw(self, at: float) -> None:
        """Draw the frame at a time of the film, s."""
        row, share = self.pace.place(at)
        self.stage.clear()
        self.view.draw(self.stage, row, share)
        for k, words in enumerate(self.view.words(row).split("\n")):
            self._words(k, words)

    def _words(self, line: int, words: str) -> None:
        look = {"fontsize": 10.5, "color": style.INK, "weight": "bold"}
        self.stage.say(0.012, 1.0 - (0.42 + 0.22 * line) / TALL, words, (0.78 * WIDE, 0.22), **look)


def place(figure: Figure, x: float, bottom: float, wide: float, high: float) -> Axes:
    """Axes at inches from the figure's lower left corner."""
    return figure.add_axes((x / WIDE, bottom / TALL, wide / WIDE, high / TALL))


def tube(along: Array, across: Array, radius: Array) -> Wire:
    """A wire in a plane as the pictures of insertions draw one, coloured by the bending strain that its line shows.

    along, across, radius : ndarray, shape (n,), m
    """
    step = np.hypot(np.diff(along), np.diff(across))
    turn = np.diff(np.unwrap(np.arctan2(np.diff(across), np.diff(along))))
    curved = np.abs(turn) / (0.5 * (step[1:] + step[:-1]))
    strain = np.concatenate([curved[:1], curved, [0.0]]) * radius
    none = np.zeros(len(along))
    return Wire(along, across, across, none, none, strain, radius, np.zeros(len(along), dtype=np.int64))


def lerp(values: Array, row: int, share: float) -> Any:
    """Values between a row and the next."""
    return values[row] + share * (values[min(row + 1, len(values) - 1)] - values[row])


def clamp_at(ax: Axes, half: float) -> None:
    """A clamp at the left end of the wire's axis: a hatched block from -half to half, mm."""
    from matplotlib.patches import Rectangle

    size = 2.0 * half
    ax.add_artist(
        Rectangle(
            (-0.6 * size, -half), 0.6 * size, size, facecolor=style.SUPPORT, edgecolor=style.INK, hatch="////", lw=0.8
        )
    )
