"""Figures of a map: heat maps and incidence curves. They draw a finished result and never compute.

The text about numerical uncertainty is handed in by the caller (it comes from a stored experiment); None says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ..study.estimates import wider_interval
from ..study.run_map import MapResult
from ..study.spec import StudySpec
from ..units import from_si
from .curls import with_curls
from .style import INFEASIBLE, INK, add_note, new_figure, tidy

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = NDArray[np.float64]

PROBABILITY_CMAP = "cividis"  # safe for colour blindness, even in lightness
AREA_CMAP = "viridis"
PANELS = (
    ("curled_true", "P(curled in the true lumen first)"),
    ("entered", "P(false-lumen entry before any curl)"),
    ("entered_curled", "P(entered and curled, plane not extended)"),
    ("extended", "P(plane extended > 0.5 mm)"),
)
CURVES = {
    "extended": "plane extended > 0.5 mm",
    "curled_false": "curls in the false lumen",
    "curled_true": "curls in the true lumen",
}
COMPETES = "A run ends at its first curl, so a curl in the true lumen competes with entry as well as with extension."
SCALE_STEP = 0.05  # the top of the probabilities' colour scale is rounded up to this
NO_UNCERTAINTY = "Numerical uncertainty: not yet measured for this code version."
LOAD_LABEL = "tip load on the bench, gf"
ANGLE_LABEL = "commanded approach angle, °"


def map_figure(result: MapResult, uncertainty: str | None = None) -> Figure:
    """Heat maps of the probabilities and of the opened area over tip load (log axis) x commanded angle.

    Every cell shows its estimate and events / solved insertions (+ not solved); infeasible cells are grey.
    """
    result = with_curls(result)
    figure = new_figure(15.0, 9.4)
    axes = figure.subplots(2, 3)
    figure.subplots_adjust(left=0.05, right=0.97, top=0.9, hspace=0.3, wspace=0.4)
    chances = {name: grid(result.cells, result.spec, f"p_{name}") for name, _ in PANELS}
    most = probability_top(list(chances.values()))
    about = f"probability; colours 0 to {most:g} in all four maps"
    for ax, (name, title) in zip(axes.flat, PANELS, strict=False):
        look = ((0.0, most), PROBABILITY_CMAP, about)
        heat_map(ax, result.spec, chances[name], _texts(result, name), title, *look)
    area = from_si(1.0, "mm2") * grid(result.cells, result.spec, "opened_area")
    title = "mean newly opened area of the plane, mm²"
    top = float(np.nanmax(area)) if np.any(np.isfinite(area)) else 1.0
    texts = _number_texts(result, from_si(1.0, "mm2"))
    heat_map(axes[1, 1], result.spec, area, texts, title, (0.0, top or 1.0), AREA_CMAP, "mm²")
    _facts(axes[1, 2], map_facts(result))
    figure.suptitle(f"{result.spec.name}: {result.spec.base.name}", fontsize=13, color=INK, x=0.05, ha="left")
    note = add_note(figure, f"{COMPETES}\n{uncertainty or NO_UNCERTAINTY}")
    figure.subplots_adjust(bottom=(note + 0.6) / figure.get_size_inches()[1])
    return figure


def probability_top(values: Sequence[Array]) -> float:
    """Top of a colour scale shared by several maps of probabilities: their largest, rounded up, at most 1."""
    largest = max((float(np.nanmax(v)) for v in values if np.any(np.isfinite(v))), default=1.0)
    return min(1.0, max(SCALE_STEP, round(float(np.ceil(largest / SCALE_STEP - 1e-9)) * SCALE_STEP, 10)))


def heat_map(
    ax: Axes,
    spec: StudySpec,
    values: Array,
    texts: Sequence[Sequence[str]],
    title: str,
    limits: tuple[float, float],
    cmap: str,
    scale: str,
) -> Axes:
    """One heat map with a text in each cell.

    Parameters
    ----------
    values : ndarray, shape (angles, tip loads)
        nan: the cell was not run (grey)
    texts : nested sequence of str, shape (angles, tip loads)
        text of each cell
    scale : str
        what the colour bar says
    """
    import matplotlib
    from matplotlib.patheffects import withStroke
    from matplotlib.ticker import NullLocator

    loads, angles = _axes_of(spec)
    colours = matplotlib.colormaps[cmap].with_extremes(bad=INFEASIBLE)
    x, y = _edges(np.log(loads)), _edges(angles)
    mesh = ax.pcolormesh(np.exp(x), y, np.ma.masked_invalid(values), cmap=colours, vmin=limits[0], vmax=limits[1])
    ax.set_facecolor(INFEASIBLE)
    ax.set_xscale("log")
    ax.set_xticks(loads, [f"{v:g}" for v in loads])
    ax.xaxis.set_minor_locator(NullLocator())
    ax.set_yticks(angles, [f"{v:g}" for v in angles])
    ax.set_xlabel(LOAD_LABEL, fontsize=9)
    ax.set_ylabel(ANGLE_LABEL, fontsize=9)
    ax.set_title(title, fontsize=10, color=INK)
    ax.tick_params(labelsize=8)
    bar = ax.figure.colorbar(mesh, ax=ax, fraction=0.046, pad=0.02)
    bar.ax.tick_params(labelsize=7)
    bar.set_label(scale, fontsize=7, color=INK)
    shades_of_cells = np.asarray(colours(mesh.norm(np.ma.masked_invalid(values))))
    for j, angle in enumerate(angles):
        for i, load in enumerate(loads):
            back = shades_of_cells[j, i]
            size = 6.5 if len(loads) <= 6 else 5.0
            text = ax.text(load, angle, texts[j][i], ha="center", va="center", fontsize=size, color=_ink_on(back))
            text.set_path_effects([withStroke(linewidth=2.2, foreground=tuple(back))])
    return ax


def incidence_figure(result: MapResult, uncertainty: str | None = None) -> Figure:
    """Cumulative incidence of extension and of curls by lumen against advance, one column for each angle."""
    result = with_curls(result)
    angles = [j for j in range(len(result.spec.angles)) if np.any(result.incidence["angle_index"] == j)]
    columns = max(1, len(angles))
    width, height = max(8.0, 3.6 * columns), 10.0
    figure = new_figure(width, height)
    axes = figure.subplots(len(CURVES), columns, squeeze=False, sharex=True, sharey=True)
    for column, j in enumerate(angles):
        for row, event in enumerate(CURVES):
            _incidence(axes[row, column], result, j, event)
        axes[0, column].set_title(f"commanded angle {from_si(result.spec.angles[j], 'deg'):.0f}°", fontsize=10)
        axes[-1, column].set_xlabel("advance since the tear was reached, mm", fontsize=9)
    for row, name in enumerate(CURVES.values()):
        axes[row, 0].set_ylabel(f"P({name})", fontsize=9)
    handles, labels = axes[0, 0].get_legend_handles_labels()
    if handles:
        at, columns = (0.99, 1.0 - 0.35 / height), min(len(labels), 6)
        legend = figure.legend(handles, labels, loc="upper right", bbox_to_anchor=at, ncols=columns, fontsize=8)
        legend.set_frame_on(False)
        legend.set_title("tip load")
        legend.get_title().set_fontsize(8)
    title = f"{result.spec.name}: cumulative incidence, per insertion"
    figure.suptitle(title, fontsize=12, x=0.02, y=1.0 - 0.1 / height, va="top", ha="left", color=INK)
    about = f"{COMPETES} Aalen-Johansen; bars at the right: Wilson 95 % at the end; solved runs only."
    note = add_note(figure, f"{about}\n{uncertainty or NO_UNCERTAINTY}")
    sides = {"left": 0.75 / width, "right": 1.0 - 0.15 / width, "hspace": 0.1, "wspace": 0.08}
    figure.subplots_adjust(top=1.0 - 1.15 / height, bottom=(note + 0.6) / height, **sides)
    return figure


def _incidence(ax: Axes, result: MapResult, j: int, event: str) -> None:
    """Step curves of one event at one angle, a colour for each tip load."""
    import matplotlib

    table, count = result.incidence, len(result.spec.tip_loads)
    colours = matplotlib.colormaps[AREA_CMAP](np.linspace(0.0, 0.88, count))
    for i, load in enumerate(result.spec.tip_loads):
        mask = (table["angle_index"] == j) & (table["tip_load_index"] == i) & (table["event"] == event)
        x = from_si(1.0, "mm") * table["advance"][mask]
        name = f"{from_si(load, 'gf'):.3g} gf"
        ax.step(x, table["p"][mask], where="post", color=colours[i], label=name, linewidth=1.6)
        if np.any(mask):
            low, high, end = table["low"][mask][-1], table["high"][mask][-1], x[-1] * (1.03 + 0.035 * i)
            ax.plot([end, end], [low, high], color=colours[i], linewidth=1.4)
            ax.plot([end], [table["p"][mask][-1]], "o", color=colours[i], markersize=3.5)
    ax.set_ylim(-0.02, 1.02)
    tidy(ax)


def grid(cells: dict[str, Any], spec: StudySpec, name: str) -> Array:
    """Column of the cells table as an array, shape (angles, tip loads); nan where a cell was not run."""
    out = np.full((len(spec.angles), len(spec.tip_loads)), np.nan)
    out[cells["angle_index"], cells["tip_load_index"]] = np.where(cells["n"] > 0, cells[name], np.nan)
    return out


def _texts(result: MapResult, name: str) -> list[list[str]]:
    """Probability, its wider interval, events / solved (+ unsolved), for every cell."""
    out = [["" for _ in result.spec.tip_loads] for _ in result.spec.angles]
    c = result.cells
    for k, (i, j) in enumerate(zip(c["tip_load_index"], c["angle_index"], strict=True)):
        if c["n"][k] == 0:
            out[j][i] = "does not\nfit"
            continue
        low, high = wider_interval(*(c[f"p_{name}_{end}"][k] for end in ("low", "high", "wilson_low", "wilson_high")))
        unsolved = f" + {c['n_not_solved'][k]}" if c["n_not_solved"][k] else ""
        out[j][i] = f"{c[f'p_{name}'][k]:.2f}\n{low:.2f}-{high:.2f}\n{c[f'n_{name}'][k]}/{c['n_solved'][k]}{unsolved}"
    return out


def _number_texts(result: MapResult, unit: float) -> list[list[str]]:
    """Mean opened area and its interval for every cell."""
    out = [["" for _ in result.spec.tip_loads] for _ in result.spec.angles]
    c = result.cells
    for k, (i, j) in enumerate(zip(c["tip_load_index"], c["angle_index"], strict=True)):
        value, low, high = (round(unit * float(c[f"opened_area{end}"][k]), 4) for end in ("", "_low", "_high"))
        out[j][i] = f"{value:.2g}\n{low:.2g}-{high:.2g}" if c["n"][k] else "does not\nfit"
    return out


def map_facts(result: MapResult) -> list[str]:
    """Lines printed on a map: what each cell is, and the shared unknowns fixed for it."""
    spec, c = result.spec, result.cells
    aimed = "roll uniform over the full turn"
    if spec.roll_half_range < 3.14:
        aimed = f"roll within ±{from_si(spec.roll_half_range, 'deg'):.0f}° of the tear"
    how = {
        "approach": f"approach through the lumen, {aimed}",
        "local": f"local: straight tip aimed at the lip, {from_si(spec.local_free_length, 'mm'):g} mm free",
    }
    return [
        f"{spec.scrambles} scrambles x {spec.points} Sobol' points in each cell, seed {spec.seed}",
        how[spec.presentation],
        f"insertions: {int(np.sum(c['n']))}, not solved: {int(np.sum(c['n_not_solved']))}, "
        f"jammed: {int(np.sum(c['n_jammed']))}",
        f"P(tip reaches the tear): {range_words(c['p_reached'])}",
        "given: there is an opening (its own probability is not in here)",
        "",
        "Fixed for this map (shared unknowns):",
        *shared_facts(spec),
        "",
        "In each cell: estimate, 95 % interval (wider of",
        "scrambles and Wilson), events / solved (+ not solved).",
        "Softness family: EI and GJ scaled over the distal",
        "30 mm, all else equal. Vessel and wire are invented.",
        f"code {result.manifest['code']}",
    ]


def range_words(values: Array) -> str:
    """Smallest to largest of the cells that were run, in words."""
    known = values[np.isfinite(values)]
    return f"{known.min():.2f} to {known.max():.2f} over the cells" if len(known) else "no cell solved"


def shared_facts(spec: StudySpec) -> list[str]:
    """Lines about the shared unknowns of a study."""
    s = spec.shared
    return [
        f"  median fracture energy of the plane {s.fracture_energy:g} J/m²",
        f"  breach energy of the wall {s.breach_toughness:g} J/m²",
        f"  push cap {s.force_cap:g} N, hand spring {from_si(s.drive_stiffness, 'N_per_mm'):g} N/mm",
        f"  front: {s.front_shape}, friction {s.front_friction:g}",
        f"  surface friction {spec.friction:g} (median), static ratio {s.static_ratio:g}",
    ]


def _axes_of(spec: StudySpec) -> tuple[Array, Array]:
    """Tip loads (gf) and angles (degrees), rounded to what a user typed."""
    loads = np.array([float(f"{from_si(x, 'gf'):.6g}") for x in spec.tip_loads])
    angles = np.array([float(f"{from_si(x, 'deg'):.6g}") for x in spec.angles])
    return loads, angles


def _edges(centres: Array) -> Array:
    """Cell edges halfway between centres, the outer ones mirrored; one cell gets a width of 1."""
    if len(centres) == 1:
        return np.array([centres[0] - 0.5, centres[0] + 0.5])
    middle = (centres[1:] + centres[:-1]) / 2.0
    return np.concatenate([[2 * centres[0] - middle[0]], middle, [2 * centres[-1] - middle[-1]]])


def _ink_on(rgba: Array) -> str:
    """Dark or white text, by the background's lightness."""
    lightness = 0.299 * rgba[0] + 0.587 * rgba[1] + 0.114 * rgba[2]
    return "white" if lightness < 0.5 else INK


def _facts(ax: Axes, lines: Sequence[str]) -> None:
    """A panel of text."""
    ax.axis("off")
    ax.text(0.0, 1.0, "\n".join(lines), va="top", ha="left", fontsize=8.5, color=INK, linespacing=1.5)
