"""Figures of an atlas: signs over pairs of axes, and how well its surfaces are calibrated."""

from __future__ import annotations

from itertools import combinations
from math import exp, log
from typing import TYPE_CHECKING

import numpy as np

from ..study.atlas import EVENTS, SIGN_WORDS, Atlas, Sign, panel, share_table
from ..study.factors import PINNED, SHARED
from ..study.run_atlas import SHAPES, Range
from ..study.uncertainty import NOT_MEASURED
from ..units import UNITS, from_si
from .maps import scene_facts, shared_facts
from .style import INK, MUTED, SERIES, add_note, new_figure, tidy

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

COLOURS: dict[Sign, str] = {
    Sign.UNDECIDED: "#f3f4f6",
    Sign.LOWERS: "#1f5fa8",
    Sign.TRADES: "#fbdcae",
    Sign.REVERSES: "#8c1d4f",
}
MOST_PAIRS = 3  # pairs of axes in a figure: the first ones
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
    "their logarithm). Lowers: entry falls, and entry or curl too; trades: entry falls, entry or curl does not; "
    "raises: entry rises; hatched: the interval holds 0, or the difference is below the floor. Lines: difference of "
    "entry."
)


def atlas_figure(atlas: Atlas, uncertainty: str | None = None) -> Figure:
    """A row for each end condition at the front, a column for each pair of axes."""
    from matplotlib.colors import ListedColormap
    from matplotlib.patches import Patch

    spec = atlas.result.spec
    pairs = _pairs(len(spec.ranges))
    figure = new_figure(4.6 * len(pairs) + 1.2, 9.6)
    axes = figure.subplots(2, len(pairs), squeeze=False)
    shares = share_table(atlas)
    colours = ListedColormap([COLOURS[s] for s in Sign])
    for row, flat in zip(axes, (False, True), strict=True):
        for ax, (one, other) in zip(row, pairs, strict=True):
            place, sign, entered = panel(atlas, one, other, flat)
            ax.pcolormesh(place, place, sign, cmap=colours, vmin=-0.5, vmax=3.5, shading="nearest", rasterized=True)
            undecided = np.where(sign == int(Sign.UNDECIDED), 1.0, np.nan)
            ax.contourf(place, place, np.nan_to_num(undecided), levels=[0.5, 1.5], colors="none", hatches=["////"])
            lines = ax.contour(place, place, entered, colors=INK, linewidths=0.8)
            ax.clabel(lines, fontsize=7, fmt="%+.2f")
            _axis(ax, spec.ranges[one], spec.ranges[other])
        row[0].set_title(
            f"front: {SHAPES[int(flat)]}; {_shares(shares, int(flat))}", fontsize=8.5, loc="left", color=INK
        )
    patches = [
        Patch(facecolor=COLOURS[s], edgecolor=MUTED, hatch="////" if s == Sign.UNDECIDED else "", label=SIGN_WORDS[s])
        for s in (Sign.LOWERS, Sign.TRADES, Sign.REVERSES, Sign.UNDECIDED)
    ]
    loads = [from_si(v, "gf") for v in spec.study.tip_loads]
    figure.legend(handles=patches, loc="upper right", ncols=4, fontsize=8.5, frameon=False)
    figure.suptitle(
        f"{spec.name}: {loads[0]:.3g} gf beside {loads[1]:.3g} gf ({spec.study.base.name})",
        fontsize=12,
        x=0.04,
        ha="left",
    )
    facts = "; ".join([*scene_facts(spec.study), *shared_facts(spec.study)])
    fitted = f"{spec.sites} sites of {spec.study.points} vessels; {atlas.left_out} insertions not solved and left out"
    floor = f"floor {spec.floor:g}; intervals {1.0 - spec.level:.0%}, from sites drawn again"
    varied = "what the axes and the rows of panels vary takes their values"
    note = add_note(figure, f"{facts} ({varied}).\n{fitted}; {floor}.\n{READING}\n{uncertainty or NOT_MEASURED}")
    figure.subplots_adjust(left=0.07, right=0.98, top=0.89, bottom=(note + 0.7) / 9.6, wspace=0.28, hspace=0.28)
    return figure


def _pairs(axes: int) -> list[tuple[int, int]]:
    """Pairs of axes that are drawn: neighbours first, so that every axis of four is seen."""
    near = [(k, k + 1) for k in range(0, axes - 1, 2)]
    return [*near, *(p for p in combinations(range(axes), 2) if p not in near)][:MOST_PAIRS]


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
    note = add_note(figure, "Bins of equal numbers; bars: Wilson's 95 % interval, insertions taken as independent.")
    figure.subplots_adjust(left=0.07, right=0.98, top=0.9, bottom=(note + 0.6) / 5.6, wspace=0.22)
    return figure
