"""Figure of a sensitivity study: Sobol' indices of every input and Morris' measures, a row for each outcome.

It draws a finished result and never computes.
"""

from __future__ import annotations

from textwrap import wrap
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ..study.run_sensitivity import SensitivityResult
from ..study.sensitivity import OUTCOMES, SensitivitySpec
from ..study.table import Table, select
from ..study.uncertainty import NOT_MEASURED
from ..units import from_si, label
from .maps import scene_facts
from .style import INFEASIBLE, INK, MUTED, SERIES, add_note, new_figure, note_height, tidy

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = NDArray[np.float64]

WIDTH = 13.5  # of the figure; all lengths in inches
LINE, ROOM = 0.2, 1.05  # height of an input's line; of a row's title and axis
LABELS, INDEX, GAP, MORRIS = 2.75, 5.1, 0.85, 4.4  # widths from left to right
SIDE = 0.15
FACTS_WIDTH = 200  # characters of a line of the facts
FACTS_LINE = 0.155
SPLIT = 0.17  # of a line's height: total above its middle, first order below
NAMED_SHARE = 0.08  # of the largest mu*: points below it carry no number
NEAR = 0.02  # of the axes: points nearer than this share one label
AXIS = (-0.5, 1.5)  # how far intervals are followed: those that end beyond are too wide to tell anything
LOOKS: dict[str, dict[str, Any]] = {
    "tissue": {"color": INK},
    "wire": {"color": INK, "fontweight": "bold"},
    "place": {"color": INK, "fontstyle": "italic"},
    "numerical": {"color": MUTED},
}
READING = (
    "Left: share of the outcome's variance. Filled circle: total index (the input alone and in all its interactions); "
    "open diamond: first-order index (the input alone); bars: 95 % intervals from independent scrambles (drawn to -0.5 "
    "and 1.5, or to the farthest point beyond; of a quantity with a long tail, as an area is, they are too narrow); "
    "grey bands behind them, where insertions were not solved: from all of these set to the least value of the outcome "
    "to all set to the largest. Right: Morris' screening, mean of the absolute elementary effects and their standard "
    "deviation, numbered as on the left; above the dashed line an input acts mostly in interaction or not one way "
    "only. Upright: anatomy and tissue; italic: where and how rolled the wire comes; bold: wire and commanded angle; "
    "grey: the direction of the solver's imperfection, which decides nothing in the world. Inputs are independent; "
    "the shares are those of the distributions assumed. Vessel, wire and tear are invented: demo data."
)


def sensitivity_figure(result: SensitivityResult, uncertainty: str | None = None) -> Figure:
    """Total and first-order Sobol' index of each input, sorted, and mu* against sigma: a row for each outcome."""
    facts = [line for text in sensitivity_facts(result) for line in wrap(text, FACTS_WIDTH)]
    note = f"{READING}\n{uncertainty or NOT_MEASURED}"
    tall = LINE * len(result.spec.inputs)
    head, foot = 0.55 + FACTS_LINE * len(facts), note_height(note, WIDTH) + 0.1
    height = head + len(result.outcomes) * (tall + ROOM) + foot
    figure = new_figure(WIDTH, height)
    for row, outcome in enumerate(result.outcomes):
        bottom = height - head - (row + 1) * (tall + ROOM) + 0.55
        indices, morris = (_of(table, outcome) for table in (result.indices, result.morris))
        order = sorted_inputs(indices, morris)
        left = figure.add_axes((LABELS / WIDTH, bottom / height, INDEX / WIDTH, tall / height))
        _indices(left, indices, order)
        start = LABELS + INDEX + GAP
        right = figure.add_axes((start / WIDTH, bottom / height, MORRIS / WIDTH, tall / height))
        _morris(right, morris, order, outcome)
        title = outcome_words(indices, outcome)
        figure.text(SIDE / WIDTH, (bottom + tall + 0.14) / height, title, fontsize=10, color=INK, va="bottom")
    title = f"{result.spec.name}: {result.spec.study.base.name}, which inputs decide"
    figure.text(SIDE / WIDTH, 1.0 - 0.1 / height, title, fontsize=12, color=INK, va="top")
    figure.text(SIDE / WIDTH, 1.0 - 0.42 / height, "\n".join(facts), fontsize=8, color=MUTED, va="top", linespacing=1.3)
    add_note(figure, note)
    return figure


def sorted_inputs(indices: Table, morris: Table) -> list[int]:
    """Inputs of one outcome by their total index, the largest first; by mu* where there is no index."""
    total, mu = (np.nan_to_num(x, nan=-1.0) for x in (indices["total"], morris["mu_star"]))
    return [int(k) for k in np.lexsort((-mu, -total))]


def outcome_words(indices: Table, outcome: str) -> str:
    """Title of one outcome: its mean, and how much of its variance the inputs explain each alone.

    Of an event also what a total index of 0 (no pair differed) leaves open: the upper end of its interval.
    """
    about, mean, sd = OUTCOMES[outcome], float(indices["mean"][0]), float(indices["sd"][0])
    if about.flag:
        middle = f"probability {mean:.3g}"
    else:
        middle = f"mean {from_si(mean, about.shown):.3g}, sd {from_si(sd, about.shown):.3g} {label(about.shown)}"
        middle += "; intervals too narrow if a few insertions make its variance"
    known = np.isfinite(indices["first"])
    alone = f"sum of the first-order indices {np.sum(indices['first']):.2f}" if np.all(known) else "no variance"
    unseen = indices["total_high"][indices["total"] == 0.0]
    if about.flag and len(unseen):
        alone += f"; a total index of 0 may be up to {np.max(unseen):.2g}"
    holes = ""
    if indices["n_not_solved"][0]:
        holes = f"; base points without a hole {indices['complete_base_points'][0]} of {indices['base_points'][0]}"
    return f"{about.words}: {middle}; {alone}{holes}"


def sensitivity_facts(result: SensitivityResult) -> list[str]:
    """Lines printed on the figure: sizes, what was not solved, ranges, what was held fixed."""
    spec = result.spec
    s = spec.study.shared
    fixed = (
        f"breach energy of the wall {s.breach_toughness:g} J/m², push cap {s.force_cap:g} N, hand spring "
        f"{from_si(s.drive_stiffness, 'N_per_mm'):g} N/mm, friction of the front {s.front_friction:g}, median friction "
        f"of the surface {spec.study.friction:g}, static ratio {s.static_ratio:g}"
    )
    return [
        *design_words(result),
        f"{range_words(spec)} Median fracture energy: lognormal about {s.fracture_energy:g} J/m², log-sd 0.5; front: "
        "notch or flat with probability 0.5 each; all else as in a map. Given: there is an opening.",
        f"Fixed: {'; '.join(scene_facts(spec.study))}; {fixed}. A run ends "
        f"{from_si(spec.study.advance_past_tear, 'mm'):.4g} mm past the tear. "
        f"Code {result.manifest['code']}.",
    ]


def design_words(result: SensitivityResult) -> list[str]:
    """Sizes of the two designs and how many insertions were not solved, in words."""
    spec, d = result.spec, len(result.spec.inputs)
    parts = ((result.morris, "Morris"), (result.indices, "Sobol'"))
    unsolved = ", ".join(f"{name} {int(t['n_not_solved'][0])} of {int(t['n'][0])}" for t, name in parts)
    jammed = int(np.sum(result.rows["jammed"]))
    return [
        f"{d} inputs; Morris: {spec.trajectories} trajectories on {spec.levels} levels; Saltelli's design: "
        f"{spec.base_points} base points; {spec.count} insertions, seed {spec.seed}, {spec.sampler}; "
        f"not solved: {unsolved}; jammed: {jammed}."
    ]


def range_words(spec: SensitivitySpec) -> str:
    """Tip load and approach angle, sampled or fixed, and the error of the interpolated wires, in words."""
    loads, angles = spec.study.tip_loads, spec.study.angles
    if spec.tip_load is None:
        load = f"Tip load {from_si(loads[0], 'gf'):.3g} gf, fixed"
    else:
        low, high = (from_si(x, "gf") for x in spec.tip_load)
        load = (
            f"Tip load {low:.3g} to {high:.3g} gf, uniform in its logarithm, wires interpolated between {len(loads)} "
            f"bench loads (error of the load halfway between them at most {100.0 * spec.load_error:.2g} %)"
        )
    if spec.angle is None:
        return f"{load}; angle {from_si(angles[0], 'deg'):.3g}°, fixed."
    low, high = (from_si(x, "deg") for x in spec.angle)
    return f"{load}; angle {low:.3g} to {high:.3g}°, uniform."


def _of(table: Table, outcome: str) -> Table:
    """Rows of one outcome."""
    return select(table, table["outcome"] == outcome)


def _indices(ax: Axes, table: Table, order: list[int]) -> None:
    """Total and first-order index of each input, the largest total on top."""
    y = np.arange(len(order), dtype=float)
    places = {"total": (y - SPLIT, "o", SERIES[0], SERIES[0]), "first": (y + SPLIT, "D", MUTED, "white")}
    for name, (at, marker, colour, face) in places.items():
        value, low, high, least, most = (
            table[f"{name}{end}"][order] for end in ("", "_low", "_high", "_unsolved_least", "_unsolved_most")
        )
        if table["n_not_solved"][0]:
            ax.hlines(at, np.fmin(least, most), np.fmax(least, most), color=INFEASIBLE, linewidth=5.0, zorder=2)
        ax.hlines(at, low, high, color=colour, linewidth=1.5, zorder=3)
        words = {"total": "total", "first": "first order"}[name]
        look: dict[str, Any] = {"color": colour, "markerfacecolor": face, "markersize": 4.5, "linestyle": "none"}
        ax.plot(value, at, marker, label=words, zorder=4, **look)
    ax.axvline(0.0, color=MUTED, linewidth=0.8)
    ax.set_xlim(*index_axis(table))
    ax.set_ylim(len(order) - 0.4, -0.6)
    ax.set_yticks(y, [f"{name}  {k + 1}" for k, name in enumerate(table["input_words"][order])], fontsize=8)
    tidy(ax)
    for text, kind in zip(ax.get_yticklabels(), table["kind"][order], strict=True):
        text.set(**LOOKS[str(kind)])
    ax.tick_params(axis="y", length=0)
    if not np.any(np.isfinite(table["total"])):
        words = "the outcome is the same\nat all base points, or fewer than two are complete"
        ax.text(0.5, 0.5, words, transform=ax.transAxes, ha="center", va="center", fontsize=9, color=MUTED)
    ax.set_xlabel("Sobol' index: share of the variance", fontsize=9)
    ax.legend(fontsize=8, frameon=False, loc="lower right")


def index_axis(table: Table) -> tuple[float, float]:
    """Ends of an index axis: all points lie inside, intervals as far as `AXIS`."""
    values, lows, highs = (
        [float(v) for name in ("total", "first") for v in table[f"{name}{end}"] if np.isfinite(v)]
        for end in ("", "_low", "_high")
    )
    start = min([0.0, *values, max(AXIS[0], min(lows, default=0.0))])
    end = max([1.0, *values, min(AXIS[1], max(highs, default=1.0))])
    return start - 0.03, end + 0.03


def _morris(ax: Axes, table: Table, order: list[int], outcome: str) -> None:
    """Standard deviation of the elementary effects against the mean of their absolute values."""
    about = OUTCOMES[outcome]
    unit = from_si(1.0, about.shown) if about.shown else 1.0
    mu, sigma = unit * table["mu_star"][order], unit * table["sigma"][order]
    if not np.any(np.isfinite(mu)):
        words = "fewer than two trajectories are complete"
        ax.text(0.5, 0.5, words, transform=ax.transAxes, ha="center", va="center", fontsize=9, color=MUTED)
    for k in range(len(order)):
        low, high = (unit * table[f"mu_star{end}"][order][k] for end in ("_low", "_high"))
        ax.plot([low, high], [sigma[k]] * 2, color=INFEASIBLE, linewidth=1.0, zorder=2)
        low, high = (unit * table[f"sigma{end}"][order][k] for end in ("_low", "_high"))
        ax.plot([mu[k]] * 2, [low, high], color=INFEASIBLE, linewidth=1.0, zorder=2)
    ax.plot(mu, sigma, "o", color=SERIES[0], markersize=4.5, zorder=3, clip_on=False)
    top = float(np.nanmax(mu)) if np.any(np.isfinite(mu)) else 1.0
    look: dict[str, Any] = {"xytext": (4, 3), "textcoords": "offset points", "zorder": 4}
    for place, numbers in together(mu, sigma, NAMED_SHARE * top):
        ax.annotate(", ".join(str(k + 1) for k in numbers), place, fontsize=8, color=INK, **look)
    if top == 0.0:
        words = "no step of any trajectory\nchanged the outcome"
        ax.text(0.5, 0.5, words, transform=ax.transAxes, ha="center", va="center", fontsize=9, color=MUTED)
    ax.axline((0.0, 0.0), slope=1.0, linestyle="--", color=MUTED, linewidth=1.0, zorder=1)
    ax.set_xlim(left=0.0)
    ax.set_ylim(bottom=0.0)
    words = f", {label(about.shown)}" if about.shown else ""
    ax.set_xlabel(f"µ*, mean absolute elementary effect{words}", fontsize=9)
    ax.set_ylabel(f"σ of the elementary effects{words}", fontsize=9)
    tidy(ax)


def together(mu: Array, sigma: Array, least: float) -> list[tuple[tuple[float, float], list[int]]]:
    """Points that share a label: places, and the points there; those with mu at most `least` have none."""
    groups: list[tuple[tuple[float, float], list[int]]] = []
    size = np.nanmax([*mu, *sigma, 0.0])
    for k in range(len(mu)):
        if not mu[k] > least:
            continue
        near = [g for g in groups if max(abs(g[0][0] - mu[k]), abs(g[0][1] - sigma[k])) < NEAR * size]
        if near:
            near[0][1].append(k)
        else:
            groups.append(((float(mu[k]), float(sigma[k])), [k]))
    return groups
