"""Panels of the animations of insertions: section along the vessel, cut at the tip, forces."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import pi
from typing import TYPE_CHECKING, Any

import numpy as np

from ...insertion.classify import travel
from ...insertion.record import Record
from .. import draw, style, walls
from ..contest import BEHIND, FOLD, FRICTION, FRONT, LIP, PLUG, RATES, WALLS, Contest
from ..cross import draw_cut
from ..strip import Frame
from ..support import draw_support, draw_wire_of, part_of, sleeve_of
from ..view import Array, Wire, lifted_gap, mirrored, stations
from .stage import decimals

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import Normalize
    from matplotlib.figure import Figure

    from .stage import Stage

MM = 1e3
COUNT = 420  # stations of a section: one for each three pixels
PUSH = "push"
LOOKS: dict[str, tuple[str, Any]] = {
    PUSH: (style.INK, "-"),
    FOLD: (style.SERIES[0], (0, (6, 1.5))),
    FRONT: (style.SERIES[1], (0, (1, 1))),
    LIP: (style.SERIES[2], (0, (5, 1.5, 1, 1.5))),
    FRICTION: (style.SERIES[3], (0, (3, 1, 1, 1, 1, 1))),
    WALLS: (style.SERIES[4], (0, (8, 2, 2, 2))),
    BEHIND: (style.SERIES[6], (0, (1, 2))),
    PLUG: (style.SERIES[5], (0, (2, 2))),
}
"""Colour and line of each force, told apart without colours."""
HEADROOM = 1.08  # of the largest force, at the top of the force axis
SNAPS = 0.03  # of the increments, taken as snaps
NUMBER = 26.0  # points that a place in mm takes under a cut
LEAST_FORCE = 0.2e-3  # N, range of an axis on which nothing happens


class Section:
    """The section along the vessel: walls at rest once, then opening, support and wire at an instant."""

    def __init__(self, ax: Axes, record: Record, frame: Frame, norm: Normalize) -> None:
        self.ax, self.record, self.frame, self.norm = ax, record, frame, norm
        self.sleeve = sleeve_of(record.case)
        scene = record.case.scene
        walls.draw_vessel(ax, scene, stations(scene, frame.left, frame.right, float(record.front[0]), COUNT))
        ax.set_xlim(frame.left * MM, frame.right * MM)
        ax.set_ylim(frame.bottom * MM, frame.top * MM)
        ax.tick_params(labelsize=7, length=2)
        ax.spines[["top", "right", "left", "bottom"]].set_visible(False)
        ax.set_xlabel("s along the vessel (mm)", fontsize=7.5, labelpad=1)
        ax.set_ylabel("depth (mm)", fontsize=7.5, labelpad=1)
        self._name_channels()

    def _name_channels(self) -> None:
        """The channels by their names: colours alone do not tell them apart in grey."""
        scene, frame, ax = self.record.case.scene, self.frame, self.ax
        a = float(scene.lumen.at(np.array(scene.tear.start))) * MM
        look: dict[str, Any] = {"fontsize": 8.5, "style": "italic", "va": "center", "zorder": 9}
        ax.text(frame.right * MM - 0.2, -0.72 * a, "true lumen", color="#1d4f74", ha="right", **look)
        if scene.tear.intact and scene.tear.weak_toughness is None:
            return
        end = (scene.tear.start + scene.channel.length if scene.tear.intact else float(self.record.front[0])) * MM
        where = "weak spot, behind it a closed plane" if scene.tear.intact else "false lumen, under the flap"
        floor = a + scene.wall.flap_thickness * MM
        ax.annotate(
            where,
            xy=(0.5 * (scene.tear.end * MM + end), floor),
            xytext=(frame.right * MM - 0.2, frame.bottom * MM - 0.22),
            color=style.FALSE_OUTLINE,
            ha="right",
            arrowprops={"arrowstyle": "-", "color": style.INK, "lw": 0.7},
            **look,
        )

    def draw(self, stage: Stage, row: int, share: float, wire: Wire) -> None:
        """The instant `share` of the way from a row to the next."""
        stage.draw(self.ax, lambda: self._moving(row, share, wire))

    def _moving(self, row: int, share: float, wire: Wire) -> None:
        record, scene, frame = self.record, self.record.case.scene, self.frame
        later = min(row + 1, len(record.feed) - 1)
        at = walls.along_at_row(record, row)
        at = replace(at, front=_between(record.front, row, later, share))
        s = stations(scene, frame.left, frame.right, at.front, COUNT)
        gap, behind = lifted_gap(scene, s, at.front, wire, _between(record.lip, row, later, share)), None
        if at.back < scene.tear.start:  # the same, mirrored, with a firm lip
            turned = scene.tear.start + scene.tear.end
            behind = lifted_gap(scene, turned - s[::-1], turned - at.back, mirrored(scene, wire), 0.0)[::-1]
        walls.draw_opening(self.ax, scene, s, gap, at, behind)
        draw_support(self.ax, record.case, self.sleeve)
        seen = np.flatnonzero(wire.s > frame.left - 1e-3)
        first = int(seen[0]) if len(seen) else len(wire.s) - 2
        draw_wire_of(self.ax, record.case, part_of(wire, slice(first, None)), self.norm, sleeve=self.sleeve)


def _between(values: Array, row: int, later: int, share: float) -> float:
    """A value between two rows."""
    return float((1.0 - share) * values[row] + share * values[later])


def between(now: Wire, then: Wire, share: float) -> Wire:
    """The wire between two neighbouring increments; where it moves by more than its thickness (it snaps, and what lies
    between is not known) it stays."""
    names = ("s", "depth", "across", "lateral", "around", "strain")
    if share == 0.0 or max(float(np.max(np.abs(then.s - now.s))), float(np.max(np.abs(then.depth - now.depth)))) > (
        2.0 * float(now.radius[0])
    ):
        return now
    return replace(now, **{n: (1.0 - share) * getattr(now, n) + share * getattr(then, n) for n in names})


class Cut:
    """The vessel cut across at the centre of the tip's dome, the tear below as in the section."""

    def __init__(self, ax: Axes, record: Record, shown: Sequence[Wire]) -> None:
        self.ax = ax
        scene = record.case.scene
        down = replace(scene.tear, azimuth=-0.5 * pi, spiral=0.0)
        self.record = replace(record, case=replace(record.case, scene=replace(scene, tear=down)))
        tips = [float(wire.s[-1]) for wire in shown]
        s = np.linspace(min(tips), max(tips), 50)
        self.out = float(np.max(scene.lumen.at(s))) + scene.wall.flap_thickness + 0.5e-3
        ax.set_aspect("equal")
        ax.set_axis_off()
        ax.set_xlim(-self.out * MM, self.out * MM)
        ax.set_ylim(-self.out * MM, self.out * MM)
        ax.set_title("cut across at the tip, tear below", fontsize=8, color=style.INK, pad=3, loc="left")
        low = -self.out * MM
        ax.plot([low, low + 1.0], [low, low], color=style.INK, linewidth=2.0, solid_capstyle="butt", clip_on=False)
        ax.text(low + 0.5, low + 0.1, "1 mm", fontsize=7, ha="center", va="bottom", color=style.INK)
        ax.annotate(
            "at s (mm)", (1.0, -0.01), (-NUMBER, 0.0), "axes fraction", "offset points", fontsize=7, ha="right",
            va="top", color=style.INK,
        )  # fmt: skip

    def draw(self, stage: Stage, row: int, wire: Wire) -> None:
        """The cut at a row, whose wire this is."""
        stage.keep(self.ax, row, lambda: self._moving(row, wire))
        box = self.ax.get_position()
        stage.number(box.x1, box.y0 - 0.01 * box.height, decimals(float(wire.s[-1]) * MM, 2), 7.0, color=style.INK)

    def _moving(self, row: int, wire: Wire) -> None:
        draw_cut(self.ax, self.record, row, wire, float(wire.s[-1]), self.out)


class Forces:
    """Push and contesting forces of one or two insertions over the travel of the hand, up to the instant."""

    def __init__(self, ax: Axes, records: Sequence[Record], contests: Sequence[Contest], names: Sequence[str]) -> None:
        self.ax, self.records = ax, records
        self.lines = [
            {PUSH: r.push} | (c.forces if len(records) == 1 else {}) for r, c in zip(records, contests, strict=True)
        ]
        self.paths = [travel(r) * MM for r in records]
        high, low = force_range(records, contests)
        style.tidy(ax)
        ax.tick_params(labelsize=7)
        ax.set_xlim(0.0, max(float(path[-1]) for path in self.paths) * 1.01)
        ax.set_ylim(low * MM, high * MM)
        ax.set_xlabel("travel of the hand (mm)", fontsize=7.5, labelpad=1)
        ax.set_ylabel("force (mN)", fontsize=7.5)
        holds = MM * contests[0].holds
        tear = records[0].case.scene.tear
        if len(records) == 1 and holds < high * MM and not (tear.intact and tear.weak_toughness is None):
            ax.axhline(holds, color=style.MUTED, linewidth=0.8, linestyle=":")
            ax.text(0.01, holds, "the front gives way", transform=ax.get_yaxis_transform(), fontsize=7, va="bottom",
                    color=style.INK)  # fmt: skip
        for k, name in enumerate(names):
            for key in self.lines[k]:
                label = key if len(records) == 1 else f"{key}, {name}"
                ax.plot([], [], label="push at the hand" if label == PUSH else label, **self._look(k, key))
        ax.legend(
            fontsize=7, frameon=False, ncol=len(ax.lines), loc="lower left", bbox_to_anchor=(0.0, 1.0),
            borderaxespad=0.1, handlelength=2.6, columnspacing=1.2,
        )  # fmt: skip

    def _look(self, k: int, key: str) -> dict[str, Any]:
        colour, dashes = LOOKS[key]
        if len(self.records) > 1:
            colour, dashes = (style.SERIES[0], "-") if k == 0 else (style.SERIES[3], (0, (5, 1.5)))
        return {"color": colour, "linestyle": dashes, "linewidth": 1.4}

    def draw(self, stage: Stage, rows: Sequence[int]) -> None:
        """Up to a row of each record."""
        stage.keep(self.ax, tuple(rows), lambda: self._moving(rows))

    def _moving(self, rows: Sequence[int]) -> None:
        for k, row in enumerate(rows):
            path = self.paths[k][: row + 1]
            for key, values in self.lines[k].items():
                draw.line(self.ax, path, values[: row + 1] * MM, **self._look(k, key))
            draw.line(
                self.ax,
                path[-1:],
                self.records[k].push[row : row + 1] * MM,
                marker="o",
                markersize=3.5,
                color=style.INK,
            )


def force_range(records: Sequence[Record], contests: Sequence[Contest]) -> tuple[float, float]:
    """Highest and lowest force drawn, with a little room, N: of push and contact forces all, of what energies give all
    but the snaps, which would leave nothing to see of the rest (their numbers stand beside the arrows)."""
    whole = [r.push for r in records]
    whole += [f for c in contests for name, f in c.forces.items() if name not in RATES]
    rates = [c.forces[name] for c in contests for name in RATES]
    high = max(LEAST_FORCE, *(float(np.max(v)) for v in whole), *(float(np.quantile(v, 1.0 - SNAPS)) for v in rates))
    low = min(0.0, *(float(np.min(v)) for v in whole), *(float(np.quantile(v, SNAPS)) for v in rates))
    return HEADROOM * high, HEADROOM * low


def strain_bar(figure: Figure, place: tuple[float, float, float, float], norm: Normalize) -> None:
    """The scale of the wire's colours."""
    from matplotlib import colormaps
    from matplotlib.cm import ScalarMappable
    from matplotlib.ticker import MaxNLocator

    bar = figure.add_axes(place)
    mapped = ScalarMappable(norm, colormaps[style.WIRE_CMAP])
    colours = figure.colorbar(mapped, cax=bar, orientation="horizontal", ticks=MaxNLocator(4))
    colours.ax.tick_params(labelsize=7, length=2)
    colours.ax.set_title("bending strain of the wire (beyond its shape)", fontsize=7, color=style.INK, pad=2)
