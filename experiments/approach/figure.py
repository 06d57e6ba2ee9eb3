"""Figure of experiments/approach: push and turn on the way, push that arrives at the front, and what happens at the
tear, over the distance of the support behind the tip."""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from tipmech.outcome import LABEL_WORDS
from tipmech.show import style

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LINES = {"straight": "--", "tortuous": "-"}
WIRES = ((style.SERIES[0], "o", style.SERIES[0]), (style.SERIES[3], "s", "white"))  # colour, mark and its fill
NOTE = (
    "Mean over five rolls and seeds, bars from the least to the largest; one run for the turn. 100 mm of one wire "
    "design at two bench tip loads, friction 0.12 on tissue and 0.04 in the support, tip bent by 60 degrees, G_c 15 "
    "J/m2. At the front: only runs that touch it. Turn: the hand turned twice where the wire lies, 10 mm before the "
    "tear. Invented vessels, tear and wires."
)
Row = dict[str, Any]


def save_figure(rows: Sequence[Row], turns: Sequence[Row], path: Path) -> Path:
    """Write the figure of the experiment's rows."""
    figure = style.new_figure(13.5, 8.4)
    figure.text(0.03, 0.963, "The support near the tip or far behind it", fontsize=14, weight="bold", color=style.INK)
    boxes = [figure.add_axes((0.06 + 0.32 * k, 0.58, 0.26, 0.31)) for k in range(3)]
    _curves(boxes[0], rows, lambda r: r["push_before_mn"], "Push at the hand just before the tear, mN")
    boxes[0].set_ylim(0.0)
    arrives = [
        r | {"share": 100.0 * r["front_mn"] / r["push_at_front_mn"]} for r in rows if r["push_at_front_mn"] > 0.0
    ]
    _curves(boxes[1], arrives, lambda r: r["share"], "Push that arrives at the front, %")
    boxes[1].set_ylim(0.0, 105.0)
    _curves(boxes[2], turns, lambda r: r["lag_range_deg"], "Unevenness of the tip's turn, degrees")
    figure.legend(
        *boxes[0].get_legend_handles_labels(), loc="upper right", bbox_to_anchor=(0.965, 0.985), ncol=4, fontsize=8.5,
        frameon=False, handlelength=3.2,
    )  # fmt: skip
    wires = sorted({r["tip_load_gf"] for r in rows})
    groups = [(vessel, load) for vessel in LINES for load in wires]
    for k, (vessel, load) in enumerate(groups):
        ax = figure.add_axes((0.06 + 0.24 * k, 0.18, 0.19, 0.26))
        mine = [r for r in rows if (r["vessel"], r["tip_load_gf"]) == (vessel, load)]
        _outcomes(ax, mine, f"{vessel}, {load:g} gf")
    _legend_of_outcomes(figure, rows)
    style.add_note(figure, NOTE)
    return style.save(figure, path)


def _curves(ax: "Axes", rows: Sequence[Row], value: Callable[[Row], float], title: str) -> None:
    """One line for each vessel and wire: means with bars from the least to the largest."""
    behind = sorted({r["behind_mm"] for r in rows})
    for vessel, line in LINES.items():
        for load, (colour, mark, fill) in zip(sorted({r["tip_load_gf"] for r in rows}), WIRES, strict=False):
            at: list[float] = []
            spread: list[tuple[float, float, float]] = []
            for b in behind:
                mine = [value(r) for r in rows if (r["vessel"], r["tip_load_gf"], r["behind_mm"]) == (vessel, load, b)]
                known = [v for v in mine if v == v]
                if known:
                    at.append(b)
                    spread.append((float(np.mean(known)), min(known), max(known)))
            if not at:
                continue
            middle, low, high = np.array(spread).T
            ax.errorbar(
                at,
                middle,
                (middle - low, high - middle),
                color=colour,
                linestyle=line,
                marker=mark,
                markerfacecolor=fill,
                markersize=4.5,
                capsize=2,
                linewidth=1.4,
                elinewidth=0.8,
                label=f"{vessel}, {load:g} gf",
            )
    _distances(ax, behind)
    ax.set_title(title, fontsize=10, loc="left", color=style.INK)


def _distances(ax: "Axes", behind: Sequence[float]) -> None:
    ax.set_xscale("log")
    ax.set_xticks(behind, [f"{b:g}" for b in behind])
    ax.set_xticks([], minor=True)
    ax.set_xlabel("support behind the tip, mm", fontsize=8)
    style.tidy(ax)


def _outcomes(ax: "Axes", rows: Sequence[Row], title: str) -> None:
    """Stacked counts of the labels over the support's distance; front driven on by any amount is written on top."""
    behind = sorted({r["behind_mm"] for r in rows})
    for x, b in enumerate(behind):
        mine = [r for r in rows if r["behind_mm"] == b]
        base = 0
        for label, words in LABEL_WORDS.items():
            count = sum(r["label"] == words for r in mine)
            ax.bar(x, count, 0.7, bottom=base, **style.label_look(label))
            base += count
        most = max(r["extension_mm"] for r in mine)
        if most >= 0.005:
            ax.text(x, base + 0.1, f"{most:.2f}", ha="center", fontsize=7, color=style.INK)
    ax.set_xticks(range(len(behind)), [f"{b:g}" for b in behind])
    ax.set_xlabel("support behind the tip, mm", fontsize=8)
    ax.set_ylabel("runs" if title.startswith("straight") else "", fontsize=8)
    ax.set_ylim(0.0, 1.12 * max(sum(r["behind_mm"] == b for r in rows) for b in behind))
    ax.set_title(title, fontsize=10, loc="left", color=style.INK)
    style.tidy(ax)
    ax.grid(False)


def _legend_of_outcomes(figure: Any, rows: Sequence[Row]) -> None:
    """Colours of the labels that occur."""
    from matplotlib.patches import Patch

    seen = {r["label"] for r in rows}
    patches = [Patch(**style.label_look(k), label=w) for k, w in LABEL_WORDS.items() if w in seen]
    figure.text(0.06, 0.49, "What happened at the tear (above: the front's largest advance, mm)", fontsize=10)
    figure.legend(
        handles=patches,
        loc="lower center",
        bbox_to_anchor=(0.5, 0.075),
        ncol=5,
        fontsize=8,
        frameon=False,
        handlelength=3.0,
        handleheight=1.1,
    )
