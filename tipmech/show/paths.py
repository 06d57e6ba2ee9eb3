"""Figure of equilibrium paths of a rod: load against a displacement. It draws finished paths."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from ..rod.continuation import Path, Special
from ..rod.solve import Control, Equilibrium
from ..units import from_si
from .style import INK, MUTED, SERIES, add_note, new_figure, tidy

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = NDArray[np.float64]

STYLES: dict[bool | None, Literal["-", "--", ":"]] = {True: "-", False: "--", None: ":"}
WORDS: dict[bool | None, str] = {
    True: "stable",
    False: "unstable",
    None: "stability not known (loads without a potential)",
}
MARKERS = {"limit": "o", "bifurcation": "D"}
OF_CURVES = ("", "s", "^", "v", "P")
APART = 0.08  # of the panel's diagonal, between a curve's marks
READING = (
    "Line: equilibria at the load on the axis; where it is dashed the tangent has a negative eigenvalue, and under a "
    "given load the structure leaves the state. Limit point: the load turns round; bifurcation point: another path "
    "crosses. Beside each: its load."
)


@dataclass(frozen=True)
class Curve:
    """A path and the displacement it is drawn against.

    measure : what lies on the horizontal axis, m
    label : for the legend, "" for none
    """

    path: Path
    measure: Control
    label: str = ""


@dataclass(frozen=True)
class Panel:
    """Curves in common axes.

    title : what is loaded
    displacement : horizontal quantity without its unit; it is drawn in mm
    load : vertical quantity with its unit
    scale : what a load factor of 1 is in that unit
    """

    curves: Sequence[Curve]
    title: str
    displacement: str
    load: str = "load factor, 1"
    scale: float = 1.0


def path_figure(panels: Sequence[Panel], note: str = "") -> Figure:
    """Load against displacement, a panel for each structure.

    Stable and unstable parts differ by line style; limit and bifurcation points are marked with their load.

    Raises
    ------
    ValueError
        where there is no panel
    """
    if not panels:
        message = "no panel to draw; needed: at least one"
        raise ValueError(message)
    figure = new_figure(6.6 * len(panels), 5.4)
    axes = np.atleast_1d(figure.subplots(1, len(panels)))
    for ax, panel in zip(axes, panels, strict=True):
        draw_panel(ax, panel)
    taken = add_note(figure, f"{READING} {note}".strip())
    width, height = figure.get_size_inches()
    figure.subplots_adjust(0.75 / width, (taken + 0.55) / height, 1.0 - 0.2 / width, 1.0 - 0.45 / height, 0.18)
    return figure


def draw_panel(ax: Axes, panel: Panel) -> Axes:
    """One panel of `path_figure`."""
    from matplotlib.lines import Line2D

    drawn: set[bool | None] = set()
    kinds: dict[str, Line2D] = {}
    for k, curve in enumerate(panel.curves):
        for stable, x, y in _stretches(curve, panel.scale):
            ax.plot(x, y, linestyle=STYLES[stable], linewidth=1.6, **_look(k))
            drawn.add(stable)
        for special, place in zip(curve.path.specials, curve.path.places, strict=True):
            x0, y0 = _place(curve, special.state, special, panel.scale)
            (kinds[special.kind],) = ax.plot(
                [x0], [y0], MARKERS[special.kind], color=INK, markerfacecolor="white", markersize=6.5, zorder=3,
                label=f"{special.kind} point",
            )  # fmt: skip
            falling = special.factor < curve.path.points[place].factor
            offset = (0, -15) if falling and special.kind == "limit" else (6, 6)
            ax.annotate(f"{y0:.4g}", (x0, y0), offset, textcoords="offset points", fontsize=8, color=INK)
    handles = [Line2D([], [], label=curve.label, **_look(k)) for k, curve in enumerate(panel.curves) if curve.label]
    handles += [Line2D([], [], color=MUTED, linestyle=STYLES[s], label=WORDS[s]) for s in STYLES if s in drawn]
    handles += kinds.values()
    ax.margins(0.06, 0.1)
    ax.axhline(0.0, color=MUTED, linewidth=0.6, zorder=0)
    ax.set_xlabel(f"{panel.displacement}, mm", fontsize=9)
    ax.set_ylabel(panel.load, fontsize=9)
    ax.set_title(panel.title, fontsize=10, loc="left", color=INK)
    ax.legend(handles=handles, fontsize=8, frameon=False)
    tidy(ax)
    return ax


def _look(k: int) -> dict[str, Any]:
    """Colour of a curve, and the marks that tell it apart in grey: dashes say whether it is stable."""
    marker = OF_CURVES[k % len(OF_CURVES)]
    return {"color": SERIES[k % len(SERIES)], "marker": marker, "markersize": 4.5, "markevery": APART}


def _place(curve: Curve, state: Equilibrium, special: Special | None, scale: float) -> tuple[float, float]:
    """Displacement, mm, and load of a state; of a special point the load in the middle of its bracket."""
    factor = state.factor if special is None else special.factor
    return from_si(curve.measure.value(state.structure, state.pose), "mm"), scale * factor


def _stretches(curve: Curve, scale: float) -> list[tuple[bool | None, Array, Array]]:
    """Parts of the path of one stability each, which meet at its special points."""
    path = curve.path
    line = [(*_place(curve, path.points[0], None, scale), path.points[0].stable)]
    for k, (_, point) in enumerate(pairwise(path.points)):
        inside = [s for s, place in zip(path.specials, path.places, strict=True) if place == k]
        for special in inside:
            known = special.state.stable is not None
            line.append((*_place(curve, special.state, special, scale), special.counts[1] == 0 if known else None))
        line.append((*_place(curve, point, None, scale), point.stable))
    found: list[tuple[bool | None, Array, Array]] = []
    first = 0
    for k in range(1, len(line) + 1):
        # the stretch ends at the point from which on the path is of another stability
        if k == len(line) or line[k][2] != line[first][2]:
            last = min(k, len(line) - 1)
            x, y = (np.array([p[a] for p in line[first : last + 1]], dtype=float) for a in (0, 1))
            found.append((line[first][2], x, y))
            first = k
    return found
