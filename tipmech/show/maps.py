"""Heat maps of a map, with contours and what was held fixed. They draw a finished result and never compute.

The text about numerical uncertainty is handed in by the caller (it comes from a stored experiment); None says so.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from textwrap import wrap
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ..study.estimates import wider_interval
from ..study.run_map import MapResult
from ..study.spec import StudySpec
from ..study.uncertainty import NOT_MEASURED
from ..units import from_si
from ..vessel.scene import Centreline
from .curls import competes, with_curls
from .style import INFEASIBLE, INK, add_note, new_figure

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
SCALE_STEP = 0.05  # the top of the probabilities' colour scale is rounded up to this
CONTOURS = (0.1, 0.25, 0.5, 0.75)  # probabilities at which contours are drawn, where they lie inside the range
LABEL_EVERY = 9  # places for a contour's label on each of its straight pieces
NUMBERS = (1.3, 0.62)  # share of a cell's width and height that its numbers and half a label on each side take
CROWDED = 6  # tip loads beyond which the numbers in the cells are written smaller
WIDEST = 10  # characters of an interval on one line of a cell
NAMED_PIECES = 8  # of a centreline: more would fill the page
FACTS_WIDTH = 68  # characters of a line of the facts
LOAD_LABEL = "tip load on the bench, gf"
ANGLE_LABEL = "commanded approach angle, °"


def map_figure(result: MapResult, uncertainty: str | None = None) -> Figure:
    """Heat maps of the probabilities and of the opened area over tip load (log axis) x commanded angle.

    Every cell shows its estimate and events / solved insertions (+ not solved); infeasible cells are grey.
    """
    result = with_curls(result)
    figure = new_figure(15.4, 10.0)
    axes = figure.subplots(2, 3)
    figure.subplots_adjust(left=0.05, right=0.95, top=0.91, hspace=0.27, wspace=0.4)
    chances = {name: grid(result.cells, result.spec, f"p_{name}") for name, _ in PANELS}
    most = probability_top(list(chances.values()))
    about = f"probability (colours 0 to {most:g} in all four maps)"
    for ax, (name, title) in zip(axes.flat, PANELS, strict=False):
        look = ((0.0, most), PROBABILITY_CMAP, about)
        heat_map(ax, result.spec, chances[name], _texts(result, name), title, *look)
        contours(ax, result.spec, chances[name])
    area = from_si(1.0, "mm2") * grid(result.cells, result.spec, "opened_area")
    title = "mean newly opened area of the plane, mm²"
    top = float(np.nanmax(area)) if np.any(np.isfinite(area)) else 1.0
    texts = _number_texts(result, from_si(1.0, "mm2"))
    heat_map(axes[1, 1], result.spec, area, texts, title, (0.0, top or 1.0), AREA_CMAP, "mm²")
    _facts(axes[1, 2], map_facts(result))
    figure.suptitle(f"{result.spec.name}: {result.spec.base.name}", fontsize=13, color=INK, x=0.05, ha="left")
    note = add_note(figure, f"{competes(result.spec)}\n{uncertainty or NOT_MEASURED}")
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
    from matplotlib.ticker import NullLocator

    loads, angles = _axes_of(spec)
    colours = matplotlib.colormaps[cmap].with_extremes(bad=INFEASIBLE)
    x, y = _edges(np.log(loads)), _edges(angles)
    mesh = ax.pcolormesh(np.exp(x), y, np.ma.masked_invalid(values), cmap=colours, vmin=limits[0], vmax=limits[1])
    ax.set_facecolor(INFEASIBLE)
    ax.set_xscale("log")
    ax.set_xticks(loads, [f"{v:.3g}" for v in loads])
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
            size = 6.5 if len(loads) <= CROWDED else 5.0
            box = {"facecolor": tuple(back), "edgecolor": "none", "pad": 0.8}  # a contour stops at the numbers
            look: dict[str, Any] = {"fontsize": size, "color": _ink_on(back), "bbox": box, "zorder": 4, "clip_on": True}
            ax.text(load, angle, texts[j][i], ha="center", va="center", **look)
    return ax


def contours(ax: Axes, spec: StudySpec, values: Array) -> list[float]:
    """Labelled contours of a probability over a heat map; returns the levels drawn.

    Linear between the centres of cells (tip load on its log axis), only where all four cells around were run, so with
    fewer than 2 x 2 there are none. Labels stand where they are farthest from the numbers of the cells.

    Parameters
    ----------
    values : ndarray, shape (angles, tip loads)
        nan: the cell was not run
    """
    from matplotlib.patheffects import withStroke

    loads, angles = _axes_of(spec)
    known = np.isfinite(values)
    if min(values.shape) < 2 or not np.any(known[1:, 1:] & known[:-1, 1:] & known[1:, :-1] & known[:-1, :-1]):
        return []
    levels = [level for level in CONTOURS if np.nanmin(values) < level < np.nanmax(values)]
    taken: list[Array] = []
    for level, lines in zip(levels, contour_lines(np.log(loads), angles, values, levels), strict=True):
        for k, line in enumerate(sorted(lines, key=len, reverse=True)):
            (drawn,) = ax.plot(np.exp(line[:, 0]), line[:, 1], color="white", linewidth=1.1, zorder=3)
            drawn.set_path_effects([withStroke(linewidth=2.2, foreground=INK)])
            place, clear = _label_place(line, np.log(loads), angles, taken)
            if k == 0 or clear:  # the longest piece of a level is always labelled
                taken.append(place)
                _contour_label(ax, f"{level:g}", place, None if clear else _edges(angles)[1:-1])
    return levels


def _contour_label(ax: Axes, text: str, place: Array, rows: Array | None) -> None:
    """Label at a place (log of the load, angle), or on the nearest edge `rows` between angles with a line to it."""
    x, y = float(np.exp(place[0])), float(place[1])
    if rows is not None:
        free = float(rows[np.argmin(np.abs(rows - y))])
        ax.plot([x, x], [y, free], ":", color="white", linewidth=0.9, zorder=3)
        y = free
    box = {"facecolor": "white", "edgecolor": INK, "linewidth": 0.5, "pad": 0.8}
    ax.text(x, y, text, ha="center", va="center", fontsize=6, color=INK, bbox=box, zorder=5)


def contour_lines(x: Array, y: Array, values: Array, levels: Sequence[float]) -> list[list[Array]]:
    """Contours of values, shape (len(y), len(x)), as polylines, shape (n, 2), for every level; none beside a nan."""
    from matplotlib.figure import Figure

    if not levels:
        return []
    found = Figure().subplots().contour(x, y, np.ma.masked_invalid(values), levels=levels, corner_mask=False)
    paths = [[np.asarray(line) for line in path.to_polygons(closed_only=False)] for path in found.get_paths()]
    return [[line for line in lines if len(line) > 1] for lines in paths]


def _label_place(line: Array, x: Array, y: Array, taken: Sequence[Array]) -> tuple[Array, bool]:
    """Place on a polyline that is farthest from the numbers of the cells and other labels, and whether it is clear."""
    share = np.linspace(0.0, 1.0, LABEL_EVERY)[:, None, None]
    places = ((1.0 - share) * line[:-1] + share * line[1:]).reshape(-1, 2)
    halves = [np.diff(_edges(c)) / 2.0 * part for c, part in zip((x, y), NUMBERS, strict=True)]
    across, up = (np.abs(places[:, k, None] - c) / half for k, (c, half) in enumerate(zip((x, y), halves, strict=True)))
    room = np.min(np.maximum(across[:, :, None], up[:, None, :]), axis=(1, 2))
    for other in taken:
        near = np.abs(places - other) / [2.0 * np.min(h) for h in halves]
        room = np.minimum(room, np.max(near, axis=1))
    best = int(np.argmax(room))
    return places[best], bool(room[best] >= 1.0)


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
        interval = _range(result.spec, f"{low:.2f}", f"{high:.2f}")
        out[j][i] = f"{c[f'p_{name}'][k]:.2f}\n{interval}\n{c[f'n_{name}'][k]}/{c['n_solved'][k]}{unsolved}"
    return out


def _number_texts(result: MapResult, unit: float) -> list[list[str]]:
    """Mean opened area and its interval for every cell; no interval where there is none (nothing was opened)."""
    out = [["" for _ in result.spec.tip_loads] for _ in result.spec.angles]
    c = result.cells
    for k, (i, j) in enumerate(zip(c["tip_load_index"], c["angle_index"], strict=True)):
        value, low, high = (round(unit * float(c[f"opened_area{end}"][k]), 4) for end in ("", "_low", "_high"))
        interval = _range(result.spec, f"{low:.2g}", f"{high:.2g}")
        if len(interval) > WIDEST:
            interval = interval.replace("-", "-\n")
        text = f"{value:.2g}\n{interval}" if high > low else f"{value:.2g}"
        out[j][i] = text if c["n"][k] else "does not\nfit"
    return out


def _range(spec: StudySpec, low: str, high: str) -> str:
    """An interval in a cell; .12 for 0.12 where the cells are narrow."""
    if len(spec.tip_loads) <= CROWDED:
        return f"{low}-{high}"
    return "-".join(f".{text[2:]}" if text.startswith("0.") else text for text in (low, high))


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
    lines = [
        f"{spec.scrambles} scrambles x {spec.points} Sobol' points in each cell, seed {spec.seed}",
        how[spec.presentation],
        insertions_words(c),
        f"P(tip reaches the tear): {range_words(c['p_reached'])}",
        "given: there is an opening (its own probability is not in here)",
        "",
        "Fixed for this map, the vessel and the run:",
        *(f"  {line}" for line in scene_facts(spec)),
        f"  a run ends {_mm(spec.advance_past_tear)} past the tear (P(plane extended) depends on it)"
        + ("" if spec.advance_past_curl == 0.0 else f" or {_mm(spec.advance_past_curl)} past its first curl"),
        "Fixed for this map, the shared unknowns:",
        *(f"  {line}" for line in shared_facts(spec)),
        "",
        "In each cell: estimate, 95 % interval (wider of scrambles and Wilson), events / solved (+ not solved). "
        "Lines: contours of the estimates, linear between the cells' centres.",
        "Softness family: EI and GJ scaled over the distal 30 mm, all else equal. Vessel and wire are invented.",
        f"code {result.manifest['code']}",
    ]
    return [part for line in lines for part in (_wrapped(line) or [""])]


def _wrapped(line: str) -> list[str]:
    """A fact in lines that fit its panel, those after the first indented."""
    indent = " " * (len(line) - len(line.lstrip()))
    return wrap(line.strip(), FACTS_WIDTH, initial_indent=indent, subsequent_indent=f"{indent}  " if indent else "")


def insertions_words(cells: dict[str, Any]) -> str:
    """How many insertions were made, not solved and jammed, in words."""
    n, unsolved, jammed = (int(np.sum(cells[name])) for name in ("n", "n_not_solved", "n_jammed"))
    return f"insertions: {n}, not solved: {unsolved}, jammed: {jammed}"


def range_words(values: Array) -> str:
    """Smallest to largest of the cells that were run, in words."""
    known = values[np.isfinite(values)]
    return f"{known.min():.2f} to {known.max():.2f} over the cells" if len(known) else "no cell solved"


def scene_facts(spec: StudySpec) -> list[str]:
    """Lines about vessel, tear, support and tip, the same for all insertions of a study."""
    s = spec.scene
    taper = f"taper of the radius {s.lumen.taper:g} mm/mm" if s.lumen.taper else "no taper"
    tilt = f", tilted {from_si(s.support_tilt, 'deg'):g}°" if s.support_tilt else ""
    bend = "straight tip" if spec.presentation == "local" else f"tip bend {_mm(spec.bend_length)} long"
    return [
        f"centreline: {centreline_words(s.centreline)}",
        f"lumen diameter {_mm(2.0 * s.lumen.radius)} at the start, {taper}",
        f"tear at {_mm(s.tear_start)}, azimuth {from_si(s.tear_azimuth, 'deg'):g}°, half-width {_mm(s.half_width)}",
        f"lip {_mm(s.lip_length)} long, pocket {_mm(s.pocket_length)} long",
        f"support bore {_mm(2.0 * s.support_inner_radius)}{tilt}; {bend}",
    ]


def centreline_words(line: Centreline) -> str:
    """Pieces of a centreline in words, from its start; of a line of many only their number and the tightest bend."""
    if len(line.lengths) > NAMED_PIECES and any(line.curvatures):
        tightest = _mm(1.0 / max(line.curvatures))
        return f"{len(line.lengths)} arcs over {_mm(line.length)}, the tightest bend of radius {tightest}"
    words, last = [], None
    for length, curvature, plane in zip(line.lengths, line.curvatures, line.planes, strict=True):
        if curvature == 0.0:
            words.append(f"straight {_mm(length)}")
            continue
        turned = 0.0 if last is None else round(from_si(plane - last, "deg")) % 360
        way = {0: "", 180: " the other way"}.get(int(turned), f" turned by {turned:g}°")
        words.append(f"bend of radius {_mm(1.0 / curvature)} through {from_si(curvature * length, 'deg'):.3g}°{way}")
        last = plane
    return ", ".join(words)


def _mm(value: float) -> str:
    """A length in mm with its unit."""
    return f"{from_si(value, 'mm'):.4g} mm"


def shared_facts(spec: StudySpec, varied: Collection[str] = ()) -> list[str]:
    """Lines about the shared unknowns of a study; varied: names of those that are not fixed, which are left out."""
    s = spec.shared
    lines = (
        {"fracture_energy": f"median fracture energy of the plane {s.fracture_energy:g} J/m²"},
        {"breach_toughness": f"breach energy of the wall {s.breach_toughness:g} J/m²"},
        {
            "force_cap": f"push cap {s.force_cap:g} N",
            "drive_stiffness": f"hand spring {from_si(s.drive_stiffness, 'N_per_mm'):g} N/mm",
        },
        {"front_shape": f"front: {s.front_shape}", "front_friction": f"friction at the front {s.front_friction:g}"},
        {
            "friction": f"surface friction {spec.friction:g} (median)",
            "static_ratio": f"static ratio {s.static_ratio:g}",
        },
    )
    kept = ([words for name, words in line.items() if name not in varied] for line in lines)
    return [", ".join(words) for words in kept if words]


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
    ax.text(0.0, 1.06, "\n".join(lines), va="top", ha="left", fontsize=8, color=INK, linespacing=1.35)
