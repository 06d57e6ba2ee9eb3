"""Figure of a threshold study: P50 of the curling threshold with its interval. It draws a finished result."""

from __future__ import annotations

from textwrap import wrap
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ..study.run_threshold import ThresholdStudyResult
from ..study.uncertainty import NOT_MEASURED
from ..units import from_si
from .maps import LOAD_LABEL, scene_facts, shared_facts
from .style import INK, MUTED, SERIES, add_note, new_figure, tidy

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = NDArray[np.float64]

READING = (
    "P50: median over the cases of the threshold, above which the tip curls first and below which the front is driven "
    "on. Neither: within the advance the tip did not curl and the front was not driven on; such forces widen a case's "
    "bracket, which counts with both its ends, and a case with neither at every rung may lie anywhere. Bars: "
    "order-statistic 95 % interval. Open triangle: the median lies beyond the ladder (up: above)."
)
MARKS = ("o", "s", "D", "X")  # of the angles, told apart in grey too, as are
DASHES = ("-", "-.", (0, (6, 1.5)), (0, (1, 1)))
FACTS_WIDTH = 205  # characters of a line of the facts


def threshold_figure(result: ThresholdStudyResult, uncertainty: str | None = None) -> Figure:
    """P50 of the curling threshold against tip load, a curve for each angle, with the scale 2 EI / Wc^2 beside it."""
    from matplotlib.ticker import FuncFormatter, LogLocator, NullLocator

    figure = new_figure(13.5, 6.4)
    left, right = figure.subplots(1, 2)
    figure.subplots_adjust(left=0.06, right=0.98, top=0.8, bottom=0.2, wspace=0.2)
    spec, cells = result.spec.study, result.cells
    loads = from_si(1.0, "gf") * np.array(spec.tip_loads)
    for j, angle in enumerate(spec.angles):
        mask = cells["angle_index"] == j
        spread = 1.06 ** (j - (len(spec.angles) - 1) / 2.0)
        label = f"{from_si(angle, 'deg'):.0f}°"
        _with_interval(left, loads * spread, cells, mask, "p50", from_si(1.0, "mN"), j, label)
        _with_interval(right, loads * spread, cells, mask, "ratio", 1.0, j, label)
    scale = [float(np.median(cells["scale_median"][cells["tip_load_index"] == i])) for i in range(len(loads))]
    left.plot(loads, from_si(1.0, "mN") * np.array(scale), "--", color=MUTED, label="2 EI / Wc², median")
    right.axhline(1.0, color=MUTED, linestyle="--", linewidth=1.2)
    for ax, label in ((left, "front force at which the tip curls first, P50, mN"), (right, "P50 of F* / (2 EI / Wc²)")):
        ax.set_xscale("log")
        ax.set_yscale("log")
        ax.set_xticks(loads, [f"{v:.3g}" for v in loads])
        ax.xaxis.set_minor_locator(NullLocator())
        ax.yaxis.set_major_formatter(FuncFormatter(lambda v, _: f"{v:g}"))
        ax.yaxis.set_minor_locator(LogLocator(subs=(2.0, 5.0)))
        ax.yaxis.set_minor_formatter(FuncFormatter(lambda v, _: f"{v:g}"))
        ax.tick_params(axis="y", which="minor", labelsize=7)
        ax.set_xlabel(LOAD_LABEL, fontsize=9)
        ax.set_ylabel(label, fontsize=9)
        tidy(ax)
    left.legend(fontsize=8, frameon=False, title="commanded angle", title_fontsize=8)
    figure.suptitle(f"{spec.name}: {spec.base.name}", fontsize=12, x=0.06, ha="left", color=INK)
    figure.text(0.06, 0.94, threshold_facts(result), fontsize=8, color=MUTED, va="top")
    note = add_note(figure, f"{READING}\n{uncertainty or NOT_MEASURED}")
    figure.subplots_adjust(bottom=(note + 0.6) / figure.get_size_inches()[1])
    return figure


def _with_interval(
    ax: Axes,
    loads: Array,
    cells: dict[str, Any],
    mask: NDArray[np.bool_],
    name: str,
    unit: float,
    k: int,
    label: str,
) -> None:
    """Curve k: points with bars; an open triangle where the median is censored; bars without an end mark are open."""
    middle, low, high = (unit * cells[f"{name}{end}"][mask] for end in ("", "_low", "_high"))
    known, colour = np.isfinite(middle), SERIES[k % len(SERIES)]
    look: dict[str, Any] = {
        "marker": MARKS[k % len(MARKS)],
        "linestyle": DASHES[k % len(DASHES)],
        "markersize": 5,
        "linewidth": 1.4,
    }
    ax.plot(loads[known], middle[known], color=colour, label=label, **look)
    for x, a, b in zip(loads[known], low[known], high[known], strict=True):
        y = middle[known][loads[known] == x][0]
        ax.plot([x, x], [a if a > 0.0 else y / 3.0, b if np.isfinite(b) else y * 3.0], color=colour, linewidth=1.2)
        for end, marker in ((a if a > 0.0 else None, "_"), (b if np.isfinite(b) else None, "_")):
            if end is not None:
                ax.plot([x], [end], marker, color=colour, markersize=7)
    for x, a, b in zip(
        loads[~known], *(unit * cells[f"{name}_bracket_{end}"][mask][~known] for end in ("low", "high")), strict=True
    ):
        if a > 0.0 and not np.isfinite(b):
            ax.plot([x], [a], "^", color=colour, markersize=8, fillstyle="none")
        elif a == 0.0 and np.isfinite(b):
            ax.plot([x], [b], "v", color=colour, markersize=8, fillstyle="none")


def threshold_facts(result: ThresholdStudyResult) -> str:
    """Lines printed on a threshold figure: how the searches ended, and what was held fixed."""
    spec, c = result.spec.study, result.cells
    ended = ", ".join(
        f"{int(np.sum(c[f'n_{key}']))} {words}"
        for key, words in (
            ("one_crossing", "with one crossing"),
            ("non_monotone", "non-monotone"),
            ("always_curled", "always curled"),
            ("never_curled", "never curled"),
            ("not_solved", "not solved"),
            ("neither", "neither at any rung"),
        )
    )
    ended += f"; neither within the advance at {int(np.sum(c['neither_rungs']))} of {int(np.sum(c['rungs']))} rungs"
    ended += f"; {int(np.sum(c['unsolved_runs']))} of {int(np.sum(c['runs']))} insertions not solved"
    scene, shared = ("; ".join(part(spec)) for part in (scene_facts, shared_facts))
    advance = f"a run ends {from_si(spec.advance_past_tear, 'mm'):.4g} mm beyond the way to the front"
    start = f"Start in the pocket, random roll, front force given directly; {advance}. Fixed:"
    texts = (f"{int(np.sum(c['n']))} cases: {ended}.", f"{start} {scene}; {shared}. Vessel and wire are invented.")
    return "\n".join(line for text in texts for line in wrap(text, FACTS_WIDTH))
