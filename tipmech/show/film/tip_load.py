"""The tip-load test as a film: the wire before the plate, and force against travel as it grows."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ...bench.tip_load import TRAVEL, TipLoad
from ...closed_forms import euler_load
from ...profile import Profile
from ...units import from_si
from .. import draw, style
from ..strip import strain_norm_of
from .bench import CURVE, FIELD, HEAD, STRAIN_BAR, TALL, clamp_at, lerp, place, tube
from .panels import strain_bar

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from .stage import Stage

MM, MN = 1e3, 1e3
RATE = 0.1e-3  # m of plate travel in a second of the film
ROOM = 0.15  # of the free length, beside the wire at rest


class TipLoadView:
    """A test of a wire of this name; profile: for the wire's own diameter and the closed forms."""

    def __init__(self, name: str, profile: Profile, test: TipLoad) -> None:
        self.title, self.test = f"Tip-load test: {name}", test
        self.note = (
            f"{test.definition}. Wire at its own diameter, equal scales. Dotted: critical loads of a uniform column "
            "with the mean EI of the free length (closed form); the plate's friction lets the tip stick (as "
            "pinned) or slip."
        )
        self.times, self.rate, self.unit = test.displacement / RATE, RATE * MM, "mm of plate travel"
        aside = np.ptp(test.shapes[:, :, :2], axis=(0, 1))
        self.axis = int(np.argmax(aside))
        away = test.shapes[0, -1, 2] - test.shapes[0, :, 2]
        self.radius = profile.at("radius", away)
        grid = np.linspace(0.0, test.free_length, 200)
        rigidity = float(np.mean(np.minimum(profile.at("EI1", grid), profile.at("EI2", grid))))
        self.closed = {
            "free tip, 2.47 EI/L²": euler_load(rigidity, test.free_length, "clamped-free"),
            "pinned tip, 20.19 EI/L²": euler_load(rigidity, test.free_length, "clamped-pinned"),
        }
        self.wires = [tube(shape[:, 2], shape[:, self.axis], self.radius) for shape in test.shapes]

    def begin(self, figure: Figure, bottom: float) -> None:
        """Draw what stands still."""
        test, top = self.test, TALL - HEAD
        self.norm = strain_norm_of([w.strain for w in self.wires])
        lateral = test.shapes[:, :, self.axis]
        half = max(float(np.max(np.abs(lateral))), ROOM * test.free_length) * MM * 1.15
        ax = self.field = place(figure, FIELD[0], bottom + 0.5, FIELD[1], top - bottom - 0.8)
        ax.set_aspect("equal", adjustable="box")
        long = test.free_length * MM
        ax.set_xlim(-0.09 * long, 1.12 * long)
        ax.set_ylim(-half, half)
        clamp_at(ax, 0.04 * long)
        ax.set_xlabel("from the clamp (mm)", fontsize=8)
        ax.set_ylabel("aside (mm)", fontsize=8)
        ax.tick_params(labelsize=7)
        ax.spines[["top", "right"]].set_visible(False)
        strain_bar(figure, STRAIN_BAR, self.norm)
        ax = self.curve = place(figure, CURVE[0], bottom + 0.5, CURVE[1], top - bottom - 0.8)
        style.tidy(ax)
        ax.set_xlim(0.0, test.travel * MM)
        high = max(float(np.max(test.axial)), *self.closed.values()) * MN
        ax.set_ylim(0.0, 1.1 * high)
        ax.set_xlabel("travel of the plate since first touch (mm)", fontsize=8)
        ax.set_ylabel("force (mN)", fontsize=8)
        for words, load in self.closed.items():
            ax.axhline(load * MN, color=style.MUTED, linestyle=":", linewidth=1.0)
            ax.text(test.travel * MM, load * MN, f"{words} ", fontsize=7.5, ha="right", va="top", color=style.INK)
        ax.axvline(TRAVEL * MM, color=style.MUTED, linewidth=0.8, linestyle="--")
        label = f"tip load: largest up to here,\n{from_si(test.force_within(TRAVEL), 'gf'):.3g} gf"
        ax.text(TRAVEL * MM, 0.5 * high, f" {label}", fontsize=7.5, color=style.INK, va="center")
        for words, look in (("axial force", "-"), ("friction of the plate", (0, (4, 1.5)))):
            ax.plot([], [], linestyle=look, color=style.INK if look == "-" else style.SERIES[3], label=words)
        ax.legend(fontsize=7.5, frameon=False, loc="center right")

    def draw(self, stage: Stage, row: int, share: float) -> None:
        """Draw an instant."""
        stage.draw(self.field, lambda: self._field(row, share))
        stage.draw(self.curve, lambda: self._curve(row))

    def _field(self, row: int, share: float) -> None:
        shape = lerp(self.test.shapes, row, share)
        wire = tube(shape[:, 2], shape[:, self.axis], self.radius)
        draw.draw_wire(self.field, wire, wire.depth, self.norm, outline=0.02)
        low, high = self.field.get_ylim()
        at = (float(shape[-1, 2]) + float(self.radius[-1])) * MM
        xs, ys = np.array([at, at + 0.35, at + 0.35, at]), np.array([low, low, high, high])
        draw.polygon(self.field, xs, ys, facecolor=style.SUPPORT, edgecolor=style.INK, linewidth=0.8, zorder=2)
        self.field.text(at + 0.17, 0.9 * high, "plate", fontsize=8, rotation=90, ha="center", va="top", color=style.INK)

    def _curve(self, row: int) -> None:
        x, end = self.test.displacement * MM, row + 1
        draw.line(self.curve, x[:end], self.test.axial[:end] * MN, color=style.INK, linewidth=1.6)
        look = {"color": style.SERIES[3], "linewidth": 1.3, "linestyle": (0, (4, 1.5))}
        draw.line(self.curve, x[:end], self.test.lateral[:end] * MN, **look)
        draw.line(self.curve, x[row:end], self.test.axial[row:end] * MN, marker="o", markersize=5, color=style.INK)

    def words(self, row: int) -> str:
        """What is said of a state."""
        test = self.test
        force, most = test.axial[row], float(np.max(test.axial[: row + 1]))
        slips = "the tip has slipped" if test.displacement[row] >= test.slipped_at else "the tip sticks"
        turned = np.degrees(test.angle[row])
        return (
            f"travel {test.displacement[row] * MM:.3f} mm   force {force * MN:.2f} mN = {from_si(force, 'gf'):.3f} gf"
            f"   largest so far {from_si(most, 'gf'):.3f} gf\n{slips}, turned by {turned:.1f}°"
        )
