"""A buckling column as a film: the wire under its load, and load against deflection as it grows."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ...bench.buckling import LARGEST_TURN, Buckling
from ...closed_forms import euler_load, free_elastica
from ...profile import Profile
from .. import draw, style
from ..strip import strain_norm_of
from .bench import CURVE, FIELD, HEAD, STRAIN_BAR, TALL, clamp_at, lerp, place, tube
from .panels import strain_bar

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from .stage import Stage

MM, MN = 1e3, 1e3
STRAIGHT, BOWED = 2.0, 7.0  # s of the film up to the critical load, and from there on
ARROW = 0.2  # of the free length, the load's arrow at the critical load


class BucklingView:
    """A test of a wire of this name; profile: for the wire's own diameter and Euler's load."""

    def __init__(self, name: str, profile: Profile, test: Buckling) -> None:
        self.title, self.test = f"Column test: {name}", test
        self.note = (
            f"{test.definition}. Dashed: elastica of a uniform column with this critical load, P/P_c = (2 K/π)² "
            "(closed form); dotted: Euler's load π² EI/4 L² with the mean EI of the free length. A tapered "
            "wire leaves them."
        )
        turned = test.turned / float(test.turned[-1])
        self.times = np.where(
            np.arange(len(turned)) < 2, STRAIGHT * test.load / test.critical, STRAIGHT + BOWED * turned
        )
        self.rate, self.unit = float(np.degrees(test.turned[-1])) / BOWED, "degrees of the tip's turn"
        self.radius = profile.at("radius", test.free_length - test.shapes[0, :, 0])
        grid = np.linspace(0.0, test.free_length, 200)
        rigidity = float(np.mean(np.minimum(profile.at("EI1", grid), profile.at("EI2", grid))))
        self.euler = euler_load(rigidity, test.free_length, "clamped-free")

    def begin(self, figure: Figure, bottom: float) -> None:
        """Draw what stands still."""
        test, top = self.test, TALL - HEAD
        wires = [tube(shape[:, 0], shape[:, 1], self.radius) for shape in test.shapes]
        self.norm = strain_norm_of([w.strain for w in wires])
        long = test.free_length * MM
        ax = self.field = place(figure, FIELD[0], bottom + 0.5, FIELD[1], top - bottom - 0.8)
        ax.set_aspect("equal", adjustable="box")
        ax.set_xlim(min(-0.1 * long, float(np.min(test.shapes[:, :, 0])) * MM - 0.05 * long), 1.45 * long)
        ax.set_ylim(-0.15 * long, float(np.max(test.shapes[:, :, 1])) * MM + 0.1 * long)
        clamp_at(ax, 0.04 * long)
        ax.axhline(0.0, color=style.MUTED, linewidth=0.6, linestyle=":", zorder=0)
        ax.set_xlabel("from the clamp (mm)", fontsize=8)
        ax.set_ylabel("aside (mm)", fontsize=8)
        ax.tick_params(labelsize=7)
        ax.spines[["top", "right"]].set_visible(False)
        strain_bar(figure, STRAIN_BAR, self.norm)
        ax = self.curve = place(figure, CURVE[0], bottom + 0.5, CURVE[1], top - bottom - 0.8)
        style.tidy(ax)
        closed = [free_elastica(angle) for angle in np.linspace(1e-6, LARGEST_TURN, 120)]
        first = closed[0][0]
        x, y = [tip.y * long for _, tip in closed], [load / first * test.critical * MN for load, _ in closed]
        ax.plot(x, y, color=style.SERIES[0], linestyle=(0, (5, 2)), linewidth=1.4, label="elastica, uniform column")
        ax.axhline(self.euler * MN, color=style.MUTED, linestyle=":", linewidth=1.1, label="Euler's load, mean EI")
        ax.plot([], [], color=style.INK, linewidth=1.8, label="computed")
        ax.set_xlim(0.0, 1.05 * max(max(x), float(np.max(test.aside)) * MM))
        ax.set_ylim(0.0, 1.08 * max(max(y), float(np.max(test.load)) * MN))
        ax.set_xlabel("deflection of the tip across the axis (mm)", fontsize=8)
        ax.set_ylabel("axial load (mN)", fontsize=8)
        ax.legend(fontsize=8, frameon=False, loc="lower right")

    def draw(self, stage: Stage, row: int, share: float) -> None:
        """Draw an instant."""
        stage.draw(self.field, lambda: self._field(row, share))
        stage.draw(self.curve, lambda: self._curve(row, share))

    def _field(self, row: int, share: float) -> None:
        test = self.test
        shape = lerp(test.shapes, row, share)
        wire = tube(shape[:, 0], shape[:, 1], self.radius)
        draw.draw_wire(self.field, wire, wire.depth, self.norm, outline=0.02)
        load = float(lerp(test.load, row, share)) / test.critical
        x, y = shape[-1] * MM
        size = ARROW * test.free_length * MM * load
        head, half = min(size, 0.4), 0.12
        xs = x + 0.15 + np.array([0.0, head, head, size, size, head, head])
        ys = y + np.array([0.0, 2.0 * half, half, half, -half, -half, -2.0 * half])
        if size > 0.0:
            draw.polygon(self.field, xs, ys, facecolor=style.SERIES[1], edgecolor=style.INK, linewidth=0.6, zorder=6)
        self.field.text(x + 0.2, y + 0.5, "load", fontsize=8.5, color=style.INK, va="bottom")

    def _curve(self, row: int, share: float) -> None:
        x, y = (np.append(v[: row + 1], lerp(v, row, share)) for v in (self.test.aside * MM, self.test.load * MN))
        draw.line(self.curve, x, y, color=style.INK, linewidth=1.8)
        draw.line(self.curve, x[-1:], y[-1:], marker="o", markersize=5, color=style.INK)

    def words(self, row: int) -> str:
        """What is said of a state."""
        test = self.test
        share = test.load[row] / test.critical
        state = "straight" if row < 2 else f"turned by {np.degrees(test.turned[row]):.0f}°"
        return (
            f"load {test.load[row] * MN:.3f} mN = {share:.3f} of the critical {test.critical * MN:.3f} mN\n"
            f"tip {test.aside[row] * MM:.2f} mm aside, {state}, {test.shortening[row] * MM:.2f} mm nearer the clamp"
        )
