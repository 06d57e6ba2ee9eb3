"""Figure of a calibration: what the measurements say of scale and end condition, and what to measure next.

It draws a finished result.
"""

from __future__ import annotations

from dataclasses import dataclass
from textwrap import wrap
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from .style import INK, MUTED, SERIES, WIRE, add_note, new_figure, tidy

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = NDArray[np.float64]

FILL50, FILL95 = "#6f9fcf", "#cfe0f1"  # 50 % and 95 % regions; their greys differ
MARKERS = ("o", "s", "^", "D", "v", "P")
DASHES = ("-", "--", "-.", ":", (0, (5, 1, 1, 1, 1, 1)), (0, (1, 1)))
FREE_C, PINNED_C = 2.468, 20.19  # ticks just inside the axis: clamped-free and clamped-pinned column
FACTS_WIDTH = 205  # characters of a line of the facts
READING = (
    "Scale: factor on EI and GJ over the distal 30 mm, blended to 1 at 60 mm; 1 is the drawing. End condition: c of "
    "P = c EI/L². Regions: 50 and 95 % of the posterior's probability. Dotted: prior. Lines: what each measurement "
    "alone says at its stated length, with two standard deviations of its own. One tip load cannot tell a stiff wire "
    "on a slippery plate from a soft one whose tip sticks. Next measurement: expected, not promised."
)


@dataclass(frozen=True)
class DatumPicture:
    """One measurement as drawn.

    name : words
    unit : of the three below
    value, error : measured value and its standard deviation
    predicted : its five predictive quantiles (2.5, 25, 50, 75, 97.5 %)
    curve : ndarray, shape (m,), scale that gives the value, for each c
    spread : sd of ln scale that it gives alone at known c
    """

    name: str
    unit: str
    value: float
    error: float
    predicted: tuple[float, ...]
    curve: Array
    spread: float


@dataclass(frozen=True)
class CalibrationPicture:
    """All that the figure shows.

    title, facts : texts
    scale : ndarray, shape (n,), grid of the scale
    c : ndarray, shape (m,), grid of the end condition; c_known: words, "" where it is inferred
    joint : ndarray, shape (m, n), posterior density over ln scale and ln c; levels: those of the 95 and 50 % regions
    marginal, prior : ndarray, shape (n,), posterior and prior density of ln scale
    c_marginal, c_prior : ndarray, shape (m,), those of ln c
    distance : ndarray, shape (k,), mm from the tip
    drawn, bending : ndarray, shapes (k,) and (5, k), EI of the drawing and its posterior quantiles, N mm2
    data : the measurements
    candidates : names and expected sd of ln EI, the best first; present: the sd now
    """

    title: str
    facts: str
    scale: Array
    c: Array
    c_known: str
    joint: Array
    levels: tuple[float, float]
    marginal: Array
    prior: Array
    c_marginal: Array
    c_prior: Array
    distance: Array
    drawn: Array
    bending: Array
    data: tuple[DatumPicture, ...]
    candidates: tuple[tuple[str, float], ...]
    present: float


def calibration_figure(picture: CalibrationPicture) -> Figure:
    """Six panels: scale against end condition, their marginals, EI along the wire, predictions, next measurement."""
    figure = new_figure(13.5, 9.0)
    grid = figure.subplots(2, 3)
    (joint, marginal, end), (bending, data, following) = grid
    (_banana if not picture.c_known else _alone)(joint, picture)
    _marginal(marginal, picture)
    _end(end, picture)
    _bending(bending, picture)
    _predictions(data, picture)
    _following(following, picture)
    figure.suptitle(picture.title, fontsize=12, x=0.06, ha="left", color=INK)
    facts = "\n".join(part for line in picture.facts.split("\n") for part in wrap(line, FACTS_WIDTH))
    figure.text(0.06, 0.955, facts, fontsize=8, color=MUTED, va="top")
    note = add_note(figure, READING)
    figure.subplots_adjust(
        left=0.06, right=0.985, top=0.845, bottom=(note + 0.6) / 9.0, wspace=0.26, hspace=0.34
    )  # fmt: skip
    return figure


def _scale_axis(ax: Axes, picture: CalibrationPicture) -> None:
    from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter, NullLocator

    ax.set_xscale("log")
    ax.set_xlim(picture.scale[0], picture.scale[-1])
    if picture.scale[-1] / picture.scale[0] < 4.0:  # too short for decades: even steps instead
        from matplotlib.ticker import MaxNLocator

        ax.xaxis.set_major_locator(MaxNLocator(6))
        ax.xaxis.set_minor_locator(NullLocator())
    else:
        ax.xaxis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
        ax.xaxis.set_minor_formatter(NullFormatter())
    ax.xaxis.set_major_formatter(FuncFormatter(lambda v, _: f"{v:g}"))
    ax.set_xlabel("scale of EI (drawing = 1), -", fontsize=9)
    tidy(ax)


def _c_ticks(ax: Axes, axis: str) -> None:
    from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator

    line = ax.yaxis if axis == "y" else ax.xaxis
    (ax.set_yscale if axis == "y" else ax.set_xscale)("log")
    line.set_major_locator(FixedLocator([FREE_C, 5.0, 10.0, PINNED_C]))
    line.set_minor_locator(NullLocator())
    line.set_major_formatter(FuncFormatter(lambda v, _: f"{v:.3g}"))
    (ax.set_ylabel if axis == "y" else ax.set_xlabel)("end condition c (free 2.47, pinned 20.2), -", fontsize=9)


def _banana(ax: Axes, picture: CalibrationPicture) -> None:
    """Joint posterior with each measurement's own line."""
    low, high = picture.levels
    ax.contourf(picture.scale, picture.c, picture.joint, levels=[low, high, np.inf], colors=[FILL95, FILL50])
    ax.contour(picture.scale, picture.c, picture.joint, levels=[low, high], colors=[WIRE], linewidths=0.8)
    for k, d in enumerate(picture.data):
        colour = SERIES[(k + 1) % len(SERIES)]
        ax.plot(d.curve, picture.c, linestyle=DASHES[k % len(DASHES)], color=colour, linewidth=1.4, label=d.name)
        for sign in (-2.0, 2.0):
            ax.plot(d.curve * np.exp(sign * d.spread), picture.c, color=colour, linewidth=0.6)
    ax.axvline(1.0, color=MUTED, linewidth=0.8)
    _scale_axis(ax, picture)
    _c_ticks(ax, "y")
    ax.set_ylim(picture.c[0], picture.c[-1])
    ax.legend(fontsize=7, loc="lower left", framealpha=0.9)
    ax.set_title("what the measurements say together", fontsize=9, loc="left", color=INK)


def _alone(ax: Axes, picture: CalibrationPicture) -> None:
    """What each measurement alone says of the scale, where the end condition is known."""
    for k, d in enumerate(picture.data):
        bell = np.exp(-0.5 * (np.log(picture.scale / d.curve[0]) / d.spread) ** 2)
        ax.plot(picture.scale, bell, linestyle=DASHES[k % len(DASHES)], color=SERIES[(k + 1) % len(SERIES)],
                linewidth=1.4, label=d.name)  # fmt: skip
    ax.axvline(1.0, color=MUTED, linewidth=0.8)
    _scale_axis(ax, picture)
    ax.set_ylabel("likelihood over its largest, -", fontsize=9)
    ax.set_ylim(0.0, 1.1 + 0.11 * len(picture.data))  # room for the legend
    ax.legend(fontsize=7, loc="upper left", framealpha=0.9)
    ax.set_title("what each measurement says alone", fontsize=9, loc="left", color=INK)


def _marginal(ax: Axes, picture: CalibrationPicture) -> None:
    ax.fill_between(picture.scale, picture.marginal, color=FILL95)
    ax.plot(picture.scale, picture.marginal, color=WIRE, linewidth=1.4, label="posterior")
    ax.plot(picture.scale, picture.prior, ":", color=INK, linewidth=1.2, label="prior")
    ax.axvline(1.0, color=MUTED, linewidth=0.8)
    _scale_axis(ax, picture)
    ax.set_ylim(bottom=0.0)
    ax.set_ylabel("density over ln scale, -", fontsize=9)
    ax.legend(fontsize=8, frameon=False)
    ax.set_title("scale of EI", fontsize=9, loc="left", color=INK)


def _end(ax: Axes, picture: CalibrationPicture) -> None:
    ax.set_title("end condition of this bench", fontsize=9, loc="left", color=INK)
    if picture.c_known:
        ax.axis("off")
        ax.text(0.5, 0.5, f"given: {picture.c_known}", ha="center", va="center", fontsize=10, color=MUTED)
        return
    ax.fill_between(picture.c, picture.c_marginal, color=FILL95)
    ax.plot(picture.c, picture.c_marginal, color=WIRE, linewidth=1.4, label="posterior")
    ax.plot(picture.c, picture.c_prior, ":", color=INK, linewidth=1.2, label="prior")
    tidy(ax)
    _c_ticks(ax, "x")
    ax.set_xlim(picture.c[0], picture.c[-1])
    ax.set_ylim(bottom=0.0)
    ax.set_ylabel("density over ln c, -", fontsize=9)
    ax.legend(fontsize=8, frameon=False, loc="upper left")


def _bending(ax: Axes, picture: CalibrationPicture) -> None:
    low95, low50, median, high50, high95 = picture.bending
    ax.fill_between(picture.distance, low95, high95, color=FILL95, label="95 %")
    ax.fill_between(picture.distance, low50, high50, color=FILL50, label="50 %")
    ax.plot(picture.distance, median, color=WIRE, linewidth=1.4, label="median")
    ax.plot(picture.distance, picture.drawn, "--", color=INK, linewidth=1.0, label="drawing")
    ax.set_yscale("log")
    ax.set_xlim(picture.distance[0], picture.distance[-1])
    ax.set_xlabel("distance from the tip, mm", fontsize=9)
    ax.set_ylabel("EI of the softer axis, N mm²", fontsize=9)
    tidy(ax)
    ax.legend(fontsize=8, frameon=False)
    ax.set_title("bending stiffness along the wire", fontsize=9, loc="left", color=INK)


def _predictions(ax: Axes, picture: CalibrationPicture) -> None:
    """Measured value against its predictive intervals, both over the predictive median."""
    for k, d in enumerate(picture.data):
        low95, low50, median, high50, high95 = 100.0 * (np.array(d.predicted) / d.predicted[2] - 1.0)
        ax.plot([low95, high95], [k, k], color=FILL95, linewidth=11, solid_capstyle="butt")
        ax.plot([low50, high50], [k, k], color=FILL50, linewidth=11, solid_capstyle="butt")
        ax.plot([median], [k], "|", color=WIRE, markersize=12)
        here, bar = 100.0 * (d.value / d.predicted[2] - 1.0), 100.0 * d.error / d.predicted[2]
        ax.errorbar([here], [k], xerr=[bar], fmt=MARKERS[k % len(MARKERS)], color=SERIES[(k + 1) % len(SERIES)],
                    markersize=6, capsize=3)  # fmt: skip
        words = f"{d.name}: measured {d.value:.3g}, predicted {d.predicted[2]:.3g} {d.unit}"
        ax.annotate(words, (0.0, k + 0.22), xycoords=("axes fraction", "data"), xytext=(4, 0),
                    textcoords="offset points", fontsize=7, color=INK)  # fmt: skip
    ax.set_ylim(-0.5, len(picture.data) - 0.3)
    ax.set_yticks([])
    ax.set_xlabel("difference from the predictive median, %", fontsize=9)
    tidy(ax)
    ax.set_title("measured (bars: one sd) and predicted again", fontsize=9, loc="left", color=INK)


def _following(ax: Axes, picture: CalibrationPicture) -> None:
    """Expected sd of ln EI after each candidate, the best on top."""
    names = [name for name, _ in picture.candidates]
    values = [sd for _, sd in picture.candidates]
    places = np.arange(len(names))[::-1]
    ax.barh(places, values, color=FILL50, edgecolor=WIRE, linewidth=0.8, height=0.55)
    for place, name, sd in zip(places, names, values, strict=True):
        ax.text(0.01 * picture.present, place + 0.31, f"{name}: {sd:.3f}", fontsize=7, color=INK, va="bottom")
    ax.axvline(picture.present, color=INK, linestyle="--", linewidth=1.2)
    ax.text(picture.present, len(names) - 0.1, f"now {picture.present:.3f} ", ha="right", fontsize=8, color=INK)
    ax.set_ylim(-0.5, len(names) + 0.3)
    ax.set_xlim(0.0, 1.05 * picture.present)
    ax.set_yticks([])
    ax.set_xlabel("expected sd of ln EI after one more measurement, -", fontsize=9)
    tidy(ax)
    ax.set_title("which measurement next (best on top)", fontsize=9, loc="left", color=INK)
