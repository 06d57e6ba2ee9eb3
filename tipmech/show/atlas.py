"""Figures of an atlas: signs over pairs of axes, and how well its surfaces are calibrated."""

from __future__ import annotations

from math import exp, log
from typing import TYPE_CHECKING, Any

import numpy as np

from ..study.atlas import (
    EVENTS,
    SIGN_WORDS,
    STEPS,
    Atlas,
    Panel,
    Sign,
    pairs,
    signs,
)
from ..study.atlas_tables import no_news, reliability_table, share_table
from ..study.factors import PINNED, SHARED
from ..study.run_atlas import SHAPES, Range
from ..study.uncertainty import NOT_MEASURED
from ..units import UNITS, from_si
from .maps import scene_facts, shared_facts
from .style import INK, MUTED, SERIES, add_note, new_figure, note_height, tidy

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

COLOURS: dict[Sign, str] = {
    Sign.UNDECIDED: "#f3f4f6",
    Sign.LOWERS: "#1f5fa8",
    Sign.TRADES: "#fbdcae",
    Sign.REVERSES: "#8c1d4f",
}
PANEL_WIDTH, PANEL_HEIGHT = 4.0, 2.9  # all lengths in inches
LEFT, RIGHT, GAP = 0.85, 0.2, 0.75  # before, behind and between panels: room for numbers and names of the axes
HEAD, BETWEEN, FOOT = 1.0, 0.85, 0.6  # above, between and below the rows of panels
NARROWEST = 9.0  # the title and the key beside it fit
INSIDE = 0.94  # of an axis: numbers of lines stay within
INVENTED = "Vessel, wires and tear are invented: demo data"
NAMES = {
    "fracture_energy": "fracture energy G_c, J/m²",
    "room": "lateral room W, mm",
    "mouth_gap": "mouth gap, mm",
    "unsupported_length": "support behind the tear, mm",
    "friction": "friction of the surface",
    "front_friction": "friction at the front",
    "youngs_modulus": "tissue modulus, MPa",
    "flap_thickness": "flap thickness, mm",
    "window_length": "length of the tear, mm",
    "lip_radius": "lip radius, mm",
    "thickness": "thickness of the plane, mm",
}
WORDS = {"entered": "enters", "failed": "enters or curls"}
READING = (
    "Sign of the softer less the stiffer design's probability, each panel the mean over the other axes (uniform in "
    "their logarithm). Lowers: entry falls, and entry or curl too; trades: entry falls, and the change of entry or "
    "curl lies within the margin; raises: entry rises; hatched: none of these by the band, or the difference is below "
    "the floor, or counts of the sites near on one axis speak against it. Lines: difference of entry."
)


def atlas_figure(atlas: Atlas, uncertainty: str | None = None) -> Figure:
    """A row for each end condition at the front, a column for each pair of axes."""
    from matplotlib.patches import Patch

    spec, columns = atlas.result.spec, len(pairs(len(atlas.result.spec.ranges)))
    width = max(NARROWEST, LEFT + columns * PANEL_WIDTH + (columns - 1) * GAP + RIGHT)
    note = _note(atlas, uncertainty)
    foot = note_height(note, width) + FOOT
    height = HEAD + 2 * PANEL_HEIGHT + BETWEEN + foot
    figure = new_figure(width, height)
    shares = share_table(atlas)
    for number, panel in enumerate(atlas.panels):
        row, column = divmod(number, columns)
        left, bottom = LEFT + column * (PANEL_WIDTH + GAP), foot + (1 - row) * (PANEL_HEIGHT + BETWEEN)
        across = PANEL_WIDTH if columns > 1 else width - LEFT - RIGHT
        ax = figure.add_axes((left / width, bottom / height, across / width, PANEL_HEIGHT / height))
        _panel(ax, atlas, panel)
        if column == 0:
            words = f"front: {SHAPES[row]}; of all places: {_shares(shares, row)}"
            ax.set_title(words, fontsize=8.5, loc="left", color=INK)
    patches = [
        Patch(facecolor=COLOURS[s], edgecolor=MUTED, hatch="////" if s == Sign.UNDECIDED else "", label=SIGN_WORDS[s])
        for s in (Sign.LOWERS, Sign.TRADES, Sign.REVERSES, Sign.UNDECIDED)
    ]
    loads = [from_si(v, "gf") for v in spec.study.tip_loads]
    title = f"{spec.name}: {loads[0]:.3g} gf beside {loads[1]:.3g} gf ({spec.study.base.name})"
    figure.text(0.2 / width, 1.0 - 0.15 / height, title, fontsize=12, color=INK, va="top")
    place: dict[str, Any] = {"loc": "upper left", "bbox_to_anchor": (0.12 / width, 1.0 - 0.4 / height)}
    figure.legend(handles=patches, ncols=4, fontsize=8.5, frameon=False, **place)
    add_note(figure, note)
    return figure


def _panel(ax: Axes, atlas: Atlas, panel: Panel) -> None:
    """Signs over one pair of axes, hatched where undecided, with lines of the difference of entry."""
    from matplotlib.colors import ListedColormap
    from matplotlib.patheffects import withStroke

    spec, place = atlas.result.spec, np.linspace(-1.0, 1.0, STEPS)
    sign = signs(atlas, panel.found).reshape(STEPS, STEPS)
    entered = panel.found["entered"].value.reshape(STEPS, STEPS)
    colours = ListedColormap([COLOURS[s] for s in Sign])
    ax.pcolormesh(place, place, sign, cmap=colours, vmin=-0.5, vmax=3.5, shading="nearest", rasterized=True)
    undecided = np.where(sign == int(Sign.UNDECIDED), 1.0, 0.0)
    if np.any(undecided):
        ax.contourf(place, place, undecided, levels=[0.5, 1.5], colors="none", hatches=["////"])
    lines = ax.contour(place, place, entered, colors=INK, linewidths=0.8)
    lines.set_path_effects([withStroke(linewidth=2.0, foreground="white", alpha=0.6)])
    for label in ax.clabel(lines, fontsize=7, fmt="%+.2f"):
        x, y = np.clip(label.get_position(), -INSIDE, INSIDE)
        label.set_position((float(x), float(y)))
        label.set_bbox({"facecolor": "white", "edgecolor": "none", "pad": 0.8, "alpha": 0.85})
    ax.set_xlim(-1.0, 1.0)
    ax.set_ylim(-1.0, 1.0)
    _axis(ax, spec.ranges[panel.one], spec.ranges[panel.other])


def _note(atlas: Atlas, uncertainty: str | None) -> str:
    """What stands under the panels."""
    spec = atlas.result.spec
    facts = "; ".join([*scene_facts(spec.study), *shared_facts(spec.study)])
    varied = "what the axes and the rows of panels vary takes their values"
    fitted = (
        f"{spec.sites} sites of {spec.study.points} vessels; {atlas.not_solved} insertions not solved, as bounds; "
        f"floor {spec.floor:g}, margin {spec.margin:g}; band of {1.0 - spec.level:.0%} for all places at once, "
        f"{atlas.quantile:.1f} standard errors either way, from sites drawn again"
    )
    lost = no_news(reliability_table(atlas))
    lines = [f"{INVENTED}. {facts} ({varied}).", f"{fitted}.", *([lost] if lost else []), READING]
    return "\n".join([*lines, uncertainty or NOT_MEASURED])


def _shares(table: dict[str, np.ndarray], row: int) -> str:
    """Shares of the volume in words."""
    names = {s: SIGN_WORDS[s].replace(" ", "_") for s in Sign}
    return ", ".join(f"{SIGN_WORDS[s]} {float(table[names[s]][row]):.0%}" for s in Sign)


def _axis(ax: Axes, one: Range, other: Range) -> None:
    """Ticks in users' units on both axes."""
    for set_ticks, set_label, r in (
        (ax.set_xticks, ax.set_xlabel, one),
        (ax.set_yticks, ax.set_ylabel, other),
    ):
        unit = {**SHARED, **PINNED}[r.name]
        scale = UNITS.get(unit, 1.0)
        values = [exp(log(r.low) + k / 4.0 * (log(r.high) - log(r.low))) for k in range(5)]
        set_ticks([2.0 * k / 4.0 - 1.0 for k in range(5)], [f"{v / scale:.3g}" for v in values], fontsize=8)
        set_label(NAMES.get(r.name, r.name.replace("_", " ")), fontsize=9)


def reliability_figure(atlas: Atlas) -> Figure:
    """Reliability of every surface on sites left out of its fit."""
    figure = new_figure(10.5, 5.6)
    for ax, name in zip(figure.subplots(1, 2), EVENTS, strict=True):
        ax.plot([0.0, 1.0], [0.0, 1.0], color=MUTED, linewidth=0.8)
        for design, (marker, line) in enumerate((("o", "-"), ("s", (0, (5, 2))))):
            c = atlas.surfaces[name, design].calibration
            bars = [np.clip(c.seen - c.low, 0.0, None), np.clip(c.high - c.seen, 0.0, None)]
            load = from_si(atlas.result.spec.study.tip_loads[design], "gf")
            label = f"{load:.3g} gf: Brier {c.brier:.3f} (share alone {c.base:.3f})"
            ax.errorbar(
                c.predicted, c.seen, bars, marker=marker, linestyle=line, color=SERIES[design], capsize=3, label=label
            )
        ax.set_xlabel("predicted probability, sites left out", fontsize=9)
        ax.set_ylabel(f"share that {WORDS[name]}", fontsize=9)
        ax.legend(fontsize=8, frameon=False, loc="upper left")
        tidy(ax)
    figure.suptitle(f"{atlas.result.spec.name}: calibration of the surfaces", fontsize=12, x=0.05, ha="left", color=INK)
    bins = "Bins of equal numbers; bars: Wilson's 95 % interval, insertions taken as independent"
    lost = no_news(reliability_table(atlas))
    note = add_note(figure, "\n".join([f"{bins}. {INVENTED}.", *([lost] if lost else [])]))
    figure.subplots_adjust(left=0.07, right=0.98, top=0.9, bottom=(note + 0.6) / 5.6, wspace=0.22)
    return figure
