"""What the hand works against at an instant, which adds up, and what fronts and lips bear, as arrows."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .. import draw, style
from ..contest import BEHIND, FRONT_MOVED, MEANING, PLUG_MOVED, REST, Contest
from ..rates import WINDOW_OF_TRAVEL
from ..view import Array
from .panels import LOOKS, MM, PUSH
from .stage import decimals

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from .stage import Stage

COLOURS = {name: colour for name, (colour, _) in LOOKS.items()} | {
    FRONT_MOVED: style.SERIES[1],
    PLUG_MOVED: style.SERIES[5],
    REST: style.SERIES[7],
}
TYPE = 8.0  # points, numbers beside the arrows


class Arrows:
    """Push and what it works against at the instant, as arrows on one scale: the hand pushes to the right and draws
    back to the left; under a line what fronts and lips bear along the vessel. Each points as it acts on the wire."""

    def __init__(self, ax: Axes, contest: Contest, push: Array, scale: float) -> None:
        self.ax, self.contest, self.scale = ax, contest, scale
        borne = [name for name in contest.forces if name not in contest.balance]
        self.values = {PUSH: push} | contest.balance | {name: contest.forces[name] for name in borne}
        bears = [name if name == BEHIND else f"{name} bears" for name in borne]  # the longest name
        words = [*[name for name in self.values if name not in borne], *bears]
        ax.set_xlim(-1.05 * scale * MM, 1.4 * scale * MM)
        ax.set_ylim(len(words) - 0.4, -0.6)
        ax.axvline(0.0, color=style.MUTED, linewidth=0.8)
        ax.axhline(len(words) - len(borne) - 0.5, color=style.MUTED, linewidth=0.8, linestyle=":")
        ax.set_yticks(range(len(words)), words, fontsize=7.5)
        ax.tick_params(length=0, axis="y")
        ax.tick_params(labelsize=7, length=2, axis="x")
        ax.spines[["top", "right", "left"]].set_visible(False)
        ax.set_xlabel("← back    on the wire, mN    onward →", fontsize=7.5, labelpad=1)
        ax.annotate(
            f"Last {WINDOW_OF_TRAVEL * MM:.1f} mm: push (or pull) = {' + '.join(contest.balance)}\n"
            "Under the line: what is borne, no part of that sum. Filled: the largest",
            (1.0, 1.0), (0.0, 2.0), "axes fraction", "offset points", fontsize=6.8, color=style.INK, va="bottom",
            ha="right", multialignment="left",
        )  # fmt: skip

    def draw(self, stage: Stage, row: int) -> None:
        """The arrows at a row."""
        stage.keep(self.ax, row, lambda: self._moving(row))
        box, high = self.ax.get_position(), stage.figure.get_size_inches()[1]
        for k, values in enumerate(self.values.values()):
            y = box.y1 - (k + 0.6) / (len(self.values) + 0.2) * box.height + 0.6 * TYPE / 72.0 / high
            stage.number(box.x1, y, decimals(MM * float(values[row]), 1), TYPE, color=style.INK)

    def _moving(self, row: int) -> None:
        leader = self.contest.leader(row)
        for y, (name, values) in enumerate(self.values.items()):
            value = float(values[row])
            if abs(value) <= 0.004 * self.scale:
                continue
            way = 1.0 if name == PUSH else -float(self.contest.way[row]) if name in self.contest.balance else -1.0
            self._arrow(way * value * MM, y, COLOURS[name], strong=name in (PUSH, leader))

    def _arrow(self, x: float, y: float, colour: str, *, strong: bool) -> None:
        long = 0.08 * self.scale * MM
        half, head = 0.15 * min(1.0, abs(x) / long), min(abs(x), long) * np.sign(x)
        xs = np.array([0.0, x - head, x - head, x, x - head, x - head, 0.0])
        ys = y + np.array([-half, -half, -2.0 * half, 0.0, 2.0 * half, half, half])
        look = {"facecolor": colour} if strong else {"facecolor": "white"}
        draw.polygon(self.ax, xs, ys, edgecolor=colour, linewidth=1.2, zorder=3, **look)


def meanings(contest: Contest) -> str:
    """What the forces are, for the note."""
    return "; ".join(f"{name}: {MEANING[name]}" for name in contest.forces | contest.balance)
