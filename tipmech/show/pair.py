"""Two insertions side by side at the same travel of the hand: film strip and animation, with the forces of both."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from ..insertion.classify import travel
from ..insertion.opened import NEVER, wall_open_since
from ..insertion.record import Outcome, Record
from . import style
from .contest import contest, force_words, outcome_words, side_words
from .draw import MM
from .strip import STRAIN, Frame, draw_instant, frame_of, strain_bar, strain_norm
from .support import NOTE as SUPPORT_NOTE
from .support import sleeve_of
from .view import Array, Wire, wires

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import Normalize
    from matplotlib.figure import Figure

INSTANTS = 5
NEAR = 0.6e-3  # m of travel: of two events as near as that one picture is enough
COLUMN, LEFT = 6.2, 0.6  # inch
HEAD, BETWEEN, CURVES = 1.65, 0.76, 1.7  # inch: above, between the rows, the forces
KEY, KEYS = 0.14, 0.42  # inch: a line of a legend under its axes, and where the first begins
LINES = ("-", "--")  # the two wires, told apart without colour
FRONT = "front"
BACK = "front behind the upstream lip"
MARKS: dict[str, str] = {FRONT: "o", BACK: "s"}  # on the lines of the fronts, told apart without colour
COLOURS: dict[str, str] = {
    "push": style.SERIES[0],
    "tip": style.SERIES[3],
    "leading point": style.SERIES[0],
    FRONT: style.INK,
    BACK: style.SERIES[1],
}
NOTE = (
    f"Colour: {STRAIN}, one scale for both, 0 to {{top:.3g}}; magenta outline: part in the false lumen. Upper: section "
    "toward the tear; lower: the pocket's surface laid flat, seen from the lumen, pale: wire outside the false channel."
)


@dataclass(frozen=True)
class Run:
    """One of the two: its name, record and classified outcome."""

    name: str
    record: Record
    outcome: Outcome


Pair = tuple[Run, Run]


def choose_travels(runs: Pair) -> list[float]:
    """Travels of the hand (m) worth a picture of both: when either reaches the tear, enters, curls or extends the
    plane, and the end; even steps between the widest gaps fill up to INSTANTS."""
    end = max(float(travel(run.record)[-1]) for run in runs)
    chosen = [end]
    for run in runs:
        o = run.outcome
        for since in (o.entered, o.curled, o.extended, 0.0):
            if np.isfinite(at := o.reached + since) and all(abs(at - other) > NEAR for other in chosen):
                chosen.append(at)
    chosen = sorted(chosen)
    while len(chosen) > INSTANTS:
        gaps = np.diff(chosen)
        chosen.pop(int(np.argmin(gaps)))
    while len(chosen) < INSTANTS:
        steps = [0.0, *chosen]
        widest = int(np.argmax(np.diff(steps)))
        chosen = sorted([*chosen, 0.5 * (steps[widest] + steps[widest + 1])])
    return chosen


def rows_at(record: Record, travels: list[float]) -> list[int]:
    """Increments of a record at travels of the hand (m); a run that ended stays at its end."""
    path = travel(record)
    return [int(np.clip(np.searchsorted(path, at - 1e-9), 0, len(path) - 1)) for at in travels]


@dataclass(frozen=True)
class _Look:
    """What all drawings share: limits, colour scale, and the wires of both runs at the chosen rows."""

    frame: Frame
    norm: Normalize
    rows: tuple[list[int], list[int]]
    wires: tuple[list[Wire], list[Wire]]

    @property
    def tall(self) -> float:
        """Height of a section, inch."""
        return (self.frame.bottom - self.frame.top) * self.scale

    @property
    def low(self) -> float:
        """Height of a plan, inch."""
        return 2.0 * self.frame.half * self.scale

    @property
    def scale(self) -> float:
        """Inch per m."""
        return (COLUMN - 0.75) / (self.frame.right - self.frame.left)


def _look(runs: Pair, travels: list[float]) -> _Look:
    """Limits that hold both runs, one colour scale."""
    a, b = (frame_of(run.record) for run in runs)
    frame = Frame(
        min(a.left, b.left), max(a.right, b.right), min(a.top, b.top), max(a.bottom, b.bottom), max(a.half, b.half)
    )
    one, two = (rows_at(run.record, travels) for run in runs)
    shown = wires(runs[0].record, one), wires(runs[1].record, two)
    return _Look(frame, strain_norm([*shown[0], *shown[1]], frame), (one, two), shown)


def _note(runs: Pair, look: _Look) -> str:
    """What stands at the foot."""
    broken = any(sleeve_of(run.record.case).broken for run in runs)
    return NOTE.format(top=look.norm.vmax) + (f" {SUPPORT_NOTE}" if broken else "")


def pair_strip(runs: Pair, title: str = "") -> Figure:
    """Film strip of two insertions, one a column, at the same travels of the hand."""
    travels = choose_travels(runs)
    look = _look(runs, travels)
    block = look.tall + look.low + 0.1 + BETWEEN
    width = 2 * COLUMN
    note = _note(runs, look)
    height = HEAD + INSTANTS * block + CURVES + key_height(runs, 2) + style.note_height(note, width)
    figure = style.new_figure(width, height)

    def place(x: float, top: float, wide: float, size: float) -> Axes:
        return figure.add_axes((x / width, 1.0 - (top + size) / height, wide / width, size / height))

    for i in range(INSTANTS):
        _draw_both(place, runs, look, i, HEAD + i * block)
    strain_bar(figure, (0.7, 1.0 - 0.14 / height, 0.27, 0.08 / height), look.norm)
    top = HEAD + INSTANTS * block + 0.05
    for k, draw in enumerate((_forces, _leads)):
        ax = place(LEFT + k * COLUMN, top, COLUMN - 0.75, CURVES)
        draw(ax, runs, max(travels))
        for at in travels:
            ax.axvline(at * MM, color=style.MUTED, linewidth=0.5, linestyle=":")
    figure.text(0.3 / width, 1.0 - 0.3 / height, title, fontsize=13, color=style.INK)
    for k, run in enumerate(runs):
        x = (LEFT + k * COLUMN) / width
        figure.text(x, 1.0 - 0.62 / height, f"{run.name}: {outcome_words(run.outcome)}", fontsize=11)
        words = (
            f"{side_words(run.record, -1)}\n{style.wrapped(force_words(run.record, run.outcome), COLUMN - 0.6, 8.5)}"
        )
        figure.text(x, 1.0 - 0.72 / height, words, fontsize=8.5, va="top", color=style.INK, linespacing=1.35)
    style.add_note(figure, note)
    return figure


def _draw_both(
    place: Callable[[float, float, float, float], Axes], runs: Pair, look: _Look, i: int, top: float
) -> None:
    """Instant i of both runs."""
    for k, run in enumerate(runs):
        x, row = LEFT + k * COLUMN, look.rows[k][i]
        axes = (
            place(x, top, COLUMN - 0.75, look.tall),
            place(x, top + look.tall + 0.08, COLUMN - 0.75, look.low),
        )
        draw_instant(axes, run.record, row, look.wires[k][i], look.frame, look.norm)
        ended = row == len(run.record.feed) - 1
        text = f"travel {travel(run.record)[row] * MM:.2f} mm{', ended' if ended else ''}: "
        text += f"{side_words(run.record, row)}\n{contest(run.record).words(row)}"
        axes[0].set_title(text, fontsize=8, loc="left", color=style.INK, pad=3)


def _has_front(record: Record) -> bool:
    """Whether there is a plane: not in a wall that stays whole."""
    return wall_open_since(record) != NEVER


def force_lines(record: Record) -> dict[str, Array]:
    """Forces over the increments, N, by name: push at the hand, tip, and each front that the record has."""
    lines = {"push": record.push, "tip": record.tip_force}
    if _has_front(record):
        lines[FRONT] = record.force_front
    if not np.all(np.isnan(record.front_back)):
        lines[BACK] = record.force_front_back
    return lines


def lead_lines(record: Record) -> dict[str, Array]:
    """Places over the increments, m beyond the downstream lip, by name: leading point and each front that there is."""
    lines = {"leading point": record.lead_s}
    if _has_front(record):
        lines[FRONT] = record.front
    if not np.all(np.isnan(record.front_back)):
        lines[BACK] = record.front_back
    return {name: values - record.case.scene.tear.end for name, values in lines.items()}


def _forces(ax: Axes, runs: Pair, end: float, until: float | None = None, columns: int = 2) -> None:
    """Push at the hand, forces on tip and fronts over the travel of the hand."""
    lines = [{name: values * MM for name, values in force_lines(run.record).items()} for run in runs]
    _histories(ax, runs, lines, until)
    highest = max(float(np.max(values)) for drawn in lines for values in drawn.values())
    lowest = min(float(np.min(values)) for drawn in lines for values in drawn.values())
    ax.set_ylim(min(0.0, 1.05 * lowest), 1.05 * max(highest, 1e-3))
    ax.set_ylabel("force (mN)", fontsize=7.5)
    _finish(ax, end, columns)


def _leads(ax: Axes, runs: Pair, end: float) -> None:
    """Leading point and fronts beyond the downstream lip over the travel of the hand."""
    _histories(ax, runs, [{name: values * MM for name, values in lead_lines(run.record).items()} for run in runs])
    ax.axhline(0.0, color=style.FLAP, linewidth=0.8, linestyle="-.")
    ax.set_ylabel("beyond the\ndownstream lip (mm)", fontsize=7.5)
    _finish(ax, end, 2)


def _histories(ax: Axes, runs: Pair, lines: list[dict[str, Array]], until: float | None = None) -> None:
    """Histories of both runs up to a travel (m): colour and mark by what it is, dashes by the run."""
    for run, drawn, dashes, first in zip(runs, lines, LINES, (0.0, 0.06), strict=True):
        path = travel(run.record)
        shown = path <= (np.inf if until is None else until + 1e-9)
        for name, values in drawn.items():
            ax.plot(
                path[shown] * MM, values[shown], linestyle=dashes, color=COLOURS[name], linewidth=1.3,
                marker=MARKS.get(name, ""), markersize=3.5, markevery=(first, 0.12), label=f"{name}, {run.name}",
            )  # fmt: skip


def _finish(ax: Axes, end: float, columns: int) -> None:
    """Limits and words of a history; its legend stands under it, where no line is."""
    style.tidy(ax)
    ax.set_xlim(0.0, end * MM * 1.01)
    ax.set_xlabel("travel of the hand (mm)", fontsize=7.5, labelpad=1)
    ax.tick_params(labelsize=7)
    tall = ax.get_position().height * ax.get_figure(root=True).get_size_inches()[1]  # type: ignore[union-attr]
    ax.legend(
        fontsize=6.5, frameon=False, ncol=columns, loc="upper left", bbox_to_anchor=(0.0, -KEYS / tall),
        borderaxespad=0.0, borderpad=0.0, labelspacing=0.3,
    )  # fmt: skip


def key_height(runs: Pair, columns: int) -> float:
    """Height of a legend of the histories with its room under the axes, inch."""
    return KEYS + KEY * -(-sum(len(force_lines(run.record)) for run in runs) // columns) + 0.1


def save_pair(runs: Pair, path: Path | str, title: str = "") -> Path:
    """Write the film strip of two insertions to `path`."""
    return style.save(pair_strip(runs, title), path)
