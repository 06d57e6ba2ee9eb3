"""Torsional whip as a film: a wire in a bent tube turned at its base, its tip late, maybe by jumps."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ...bench.torque import JUMP, Torque
from .. import draw, style
from ..view import Array
from .bench import CURVE, FIELD, HEAD, TALL, place

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from .stage import Stage

MM = 1e3
RATE = np.radians(60.0)  # rad of the base in a second of the film
DIAL = 1.45  # inch


class WhipView:
    """A torque test of a wire of this name."""

    def __init__(self, name: str, test: Torque) -> None:
        self.title, self.test = f"Torque response in a bent tube: {name}", test
        self.note = (
            f"{test.definition}. The tube is drawn in the plane in which most of it lies, equal scales; tube and wire "
            "thicker than they are. Colour: by how much a part of the wire has turned less than its base."
        )
        self.times, self.rate, self.unit = test.base / RATE, float(np.degrees(RATE)), "degrees of the base"
        self.line = flat(test.route.points(test.route.total - test.distance)) * MM
        self.behind = np.degrees(test.base[:, None] - test.rotation)

    def begin(self, figure: Figure, bottom: float) -> None:
        """Draw what stands still."""
        from matplotlib.colors import Normalize

        test, top = self.test, TALL - HEAD
        self.norm = Normalize(float(np.min(self.behind)), max(1.0, float(np.max(self.behind))))
        high = top - bottom - 0.8
        ax = self.field = place(figure, FIELD[0], bottom + 0.5 + DIAL, FIELD[1], high - DIAL - 0.2)
        ax.set_aspect("equal", adjustable="datalim")
        ax.plot(*self.line.T, color="#d5dae0", linewidth=9, solid_capstyle="butt", zorder=1)
        ax.plot(*self.line.T, color="white", linewidth=6.5, solid_capstyle="butt", zorder=1.1)
        ax.margins(0.1)
        ax.set_axis_off()
        for k, words in ((0, "base"), (-1, "tip")):
            ax.annotate(words, self.line[k], xytext=(0, 12), textcoords="offset points", fontsize=9, ha="center",
                        color=style.INK)  # fmt: skip
        low = (float(self.line[:, 0].min()), float(self.line[:, 1].min()))
        ax.plot([low[0], low[0] + 10.0], [low[1] - 6.0] * 2, color=style.INK, linewidth=2.0)
        ax.text(low[0] + 5.0, low[1] - 5.0, "10 mm", fontsize=7.5, ha="center", va="bottom", color=style.INK)
        self._bar(figure, bottom)
        self.dials = [
            self._dial(figure, FIELD[0] + 2.5 + k * 1.9, bottom + 0.35, w) for k, w in enumerate(("base", "tip"))
        ]
        ax = self.curve = place(figure, CURVE[0], bottom + 0.5, CURVE[1], high)
        style.tidy(ax)
        last = float(np.degrees(test.base[-1]))
        ax.plot(
            [0.0, last], [0.0, last], color=style.MUTED, linestyle=":", linewidth=1.1, label="tip turns as the base"
        )
        ax.plot([], [], color=style.INK, linewidth=1.8, label="tip, computed")
        ax.set_xlim(0.0, last)
        ax.set_ylim(
            min(0.0, 1.05 * float(np.degrees(test.tip.min()))), 1.05 * max(last, float(np.degrees(test.tip.max())))
        )
        ax.set_xlabel("turn of the base (degrees)", fontsize=8)
        ax.set_ylabel("turn of the tip (degrees)", fontsize=8)
        ax.legend(fontsize=8, frameon=False, loc="upper left")

    def _bar(self, figure: Figure, bottom: float) -> None:
        from matplotlib import colormaps
        from matplotlib.cm import ScalarMappable

        bar = place(figure, FIELD[0], bottom + 0.9, 1.9, 0.1)
        colours = figure.colorbar(
            ScalarMappable(self.norm, colormaps[style.WIRE_CMAP]), cax=bar, orientation="horizontal"
        )
        colours.ax.tick_params(labelsize=7, length=2)
        colours.ax.set_title("behind the base (degrees; below 0: ahead)", fontsize=7.5, color=style.INK, pad=3)

    def _dial(self, figure: Figure, x: float, bottom: float, words: str) -> Axes:
        ax = place(figure, x, bottom, DIAL, DIAL)
        turn = np.linspace(0.0, 2.0 * np.pi, 200)
        ax.plot(np.cos(turn), np.sin(turn), color=style.MUTED, linewidth=1.0)
        for mark in np.arange(0.0, 2.0 * np.pi, np.pi / 6.0):
            ax.plot(*(np.array([0.92, 1.0]) * part for part in (np.sin(mark), np.cos(mark))), color=style.MUTED, lw=0.9)
        ax.set_aspect("equal")
        ax.set_xlim(-1.15, 1.15)
        ax.set_ylim(-1.15, 1.15)
        ax.set_axis_off()
        ax.set_title(words, fontsize=8.5, color=style.INK, pad=1)
        return ax

    def draw(self, stage: Stage, row: int, share: float) -> None:
        """Draw an instant; between states nothing is interpolated, as the tip may jump."""
        stage.draw(self.field, lambda: self._field(row))
        stage.draw(self.curve, lambda: self._curve(row))
        for dial, turn in zip(self.dials, (self.test.base[row], self.test.tip[row]), strict=True):
            stage.draw(dial, lambda dial=dial, turn=turn: _needle(dial, float(turn)))  # type: ignore[misc]

    def _field(self, row: int) -> None:
        from matplotlib import colormaps
        from matplotlib.collections import LineCollection

        colours = colormaps[style.WIRE_CMAP](self.norm(self.behind[row]))
        pieces = LineCollection(
            list(np.stack([self.line[:-1], self.line[1:]], axis=1)),
            colors=colours[1:],
            linewidths=5.0,
            capstyle="round",
            zorder=2,
        )
        self.field.add_collection(pieces, autolim=False)

    def _curve(self, row: int) -> None:
        x, y = np.degrees(self.test.base[: row + 1]), np.degrees(self.test.tip[: row + 1])
        draw.line(self.curve, x, y, color=style.INK, linewidth=1.8)
        draw.line(self.curve, x[-1:], y[-1:], marker="o", markersize=5, color=style.INK)

    def words(self, row: int) -> str:
        """What is said of a state."""
        test = self.test
        base, tip = np.degrees(test.base[row]), np.degrees(test.tip[row])
        done = [(b, after - before) for b, before, after in test.jumps if b <= test.base[row] + 1e-12]
        text = "no jump of the tip so far"
        if done:
            text = f"last jump of the tip: {np.degrees(done[-1][1]):.0f}° at {np.degrees(done[-1][0]):.0f}° of the base"
        elif row == len(test.base) - 1:
            text = f"the tip never jumped (by more than {np.degrees(JUMP):.0f}°)"
        torque = f"torque {test.torque[row] * 1e6:.2f} mN mm"
        return f"base {base:.0f}°   tip {tip:.0f}°   behind by {base - tip:.0f}°   {torque}\n{text}"


def _needle(ax: Axes, turn: float) -> None:
    tip = np.array([np.sin(turn), np.cos(turn)])
    draw.line(ax, [0.0, tip[0]], [0.0, tip[1]], color=style.INK, linewidth=2.4, solid_capstyle="round")
    draw.line(ax, tip[:1], tip[1:], marker="o", markersize=6, color=style.INK)


def flat(points: Array) -> Array:
    """Points (n, 3) in the plane in which most of them lies, shape (n, 2), the longer way along the first axis."""
    apart = points - points.mean(axis=0)
    _, _, axes = np.linalg.svd(apart, full_matrices=False)
    return np.asarray(apart @ axes[:2].T)
