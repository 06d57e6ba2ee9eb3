"""One page of one or several wire designs: construction, stiffness profiles with bounds, bench figures.

Draws finished results only: profiles and table entries are handed in. Several wires have letters, and one legend for
the page: names are long.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from string import ascii_uppercase
from textwrap import wrap
from typing import TYPE_CHECKING

import numpy as np

from .. import CAUTION
from ..profile import Profile
from ..wire.design import Design
from .bench.marks import colour, finish, key, mark
from .construction import draw_construction, fill_keys, fills, heading_height
from .style import INK, SERIES, add_note, new_figure, note_height

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from ..wire.materials import Material
    from .construction import Fill

Panel = Callable[["Axes"], "Axes"]

MOST = len(SERIES)  # wires on a page: as many colours and markers
FEW = 3  # wires with all their lines in a panel; of more only the main ones are drawn
CHARTED = 120.0  # mm, distal length of the charts
WIDTH = 12.0  # inches
LEFT, RIGHT = 0.75, 0.35  # inches, margins
TITLE, NAMES = 0.6, 0.22  # inches: the page's title, a row of wires' names
STRIP, UNDER, CHART = 1.0, 0.45, 3.5  # inches: a drawing, its axis below it, the charts
KEYS = 0.24  # inches, a row of materials
PATCH, MATERIAL_CHARACTER = 0.75, 0.075  # inches: a patch with its room, a character behind it
ABREAST, PANEL, BETWEEN = 3, 2.7, 0.95  # bench tests in a row; inches: height of one, and between two
NOTE = 0.15  # inches, above the notes
NAME_COLUMNS, MATERIAL_COLUMNS = 3, 5
LABELS = 0.36, 0.28  # share of the table's width for the labels: few wires, more
TYPE = 8.0, 6.5  # points, type of the table: few wires, more
CHARACTER = 0.67  # of the type's size, mean width of a character with some room
LEADING, CELL = 1.2, 5.0  # of the type's size, a line; points, room of a row
LEGEND = (
    "Drawing: lengthwise cut, lengths to scale, thickness exaggerated as stated. Charts: line = coupling used in "
    "simulations; band = parts sliding on each other (lower bound) to parts bonded into one section (upper bound). "
    "Tip pressure: tip load at 10 mm over pi r^2 of the end's face. "
    "EI = bending stiffness, GJ = torsional stiffness; 1 gf = 9.807 mN; N/m = mN/mm; -: none, or without unit."
)


@dataclass(frozen=True)
class WireEntry:
    """What the figure shows of one design.

    Parameters
    ----------
    design : Design
        the construction drawn
    simulated : Profile
        with the design's coupling: the line
    lower, upper : Profile
        sliding and bonded: the band
    figures : tuple of (str, str)
        rows of the table: what (with its unit), value as text; the definitions belong to the first
    """

    design: Design
    simulated: Profile
    lower: Profile
    upper: Profile
    figures: tuple[tuple[str, str], ...]


def letters(count: int) -> list[str]:
    """What wires are called within a page: A, B, ...; nothing where there is one."""
    return [""] if count == 1 else list(ascii_uppercase[:count])


def wire_page(entries: Sequence[WireEntry], panels: Sequence[Panel] = (), note: str = "") -> Figure:
    """One page: the designs one above the other, their profiles over each other, bench tests, figures side by side.

    Parameters
    ----------
    entries : sequence of WireEntry
        one to `MOST`
    panels : sequence of callable
        each draws a bench test of all designs into axes, by their `letters`
    note : str
        definitions that belong to the table (how tip load is measured, ...)

    Returns
    -------
    Figure
        to be saved as PNG or PDF

    Raises
    ------
    ValueError
        for no design, or too many
    """
    if not 1 <= len(entries) <= MOST:
        raise ValueError(f"{len(entries)} entries; at least one design is needed, at most {MOST}")
    across = WIDTH - LEFT - RIGHT
    cells = table_cells(entries)
    filled = fills([entry.design for entry in entries])
    headings = [heading_height(entry.design, across) for entry in entries]
    table, foot = sum(_row_heights(cells, len(entries))), NOTE + note_height(f"{LEGEND}\n{note}", WIDTH)
    names = NAMES * -(-len(entries) // NAME_COLUMNS) if len(entries) > 1 else 0.0
    materials = KEYS * -(-len(filled) // _material_columns(filled)) + 0.35
    tests = -(-len(panels) // ABREAST) * (PANEL + BETWEEN)
    drawn = sum(headings) + (STRIP + 0.15) * len(entries) + UNDER
    height = TITLE + names + drawn + materials + CHART + 1.0 + tests + table + foot + 0.2
    figure = new_figure(WIDTH, height)

    def place(left: float, top: float, width: float, tall: float) -> Axes:
        """Axes whose upper left corner is at a place in inches from that of the page."""
        return figure.add_axes((left / WIDTH, (height - top - tall) / height, width / WIDTH, tall / height))

    _head(figure, entries)
    top = TITLE + names
    for i, (entry, letter) in enumerate(zip(entries, letters(len(entries)), strict=True)):
        top += headings[i]
        ax = place(LEFT, top, across, STRIP)
        draw_construction(
            ax, entry.design, filled, name=f"{letter}  {entry.design.name}".strip(), last=i == len(entries) - 1
        )
        top += STRIP + 0.15
    top += UNDER
    _materials(figure, filled, top)
    top += materials + 0.35
    for k, (rigidity, label) in enumerate((("EI1", "Bending stiffness EI"), ("GJ", "Torsional stiffness GJ"))):
        left, width = _abreast(2, k, 0.7)
        draw_profiles(place(left, top, width, CHART), entries, rigidity, label)
    top += CHART + 0.5
    for k, draw in enumerate(panels):
        left, width = _abreast(ABREAST, k % ABREAST, 0.65)
        draw(place(left, top + BETWEEN - 0.4 + (k // ABREAST) * (PANEL + BETWEEN), width, PANEL))
    if table:
        draw_table(place(LEFT - 0.35, height - foot - table, across + 0.35, table), entries, cells)
    add_note(figure, f"{LEGEND}\n{note}")
    return figure


def draw_profiles(ax: Axes, entries: Sequence[WireEntry], rigidity: str, label: str) -> Axes:
    """One rigidity over distance from the tip: line = as simulated, band = parts sliding to parts bonded."""
    s = np.unique(np.concatenate([entry.simulated.distance for entry in entries]))
    s = np.append(s[s < CHARTED * 1e-3], CHARTED * 1e-3)
    few, named = len(entries) <= FEW, []
    for i, (entry, letter) in enumerate(zip(entries, letters(len(entries)), strict=True)):
        low, high = entry.lower.at(rigidity, s) * 1e6, entry.upper.at(rigidity, s) * 1e6
        if few:
            ax.fill_between(s * 1e3, low, high, color=colour(i), alpha=0.12, linewidth=0)
            for edge in (low, high):
                ax.plot(s * 1e3, edge, color=colour(i), linewidth=0.6, linestyle=":")
        style = {**mark(i, len(s)), "markevery": (0.03 * i, 0.25), "linewidth": 1.8}
        (line,) = ax.plot(s * 1e3, entry.simulated.at(rigidity, s) * 1e6, **style)
        named.append((letter, line))
    ax.set_yscale("log")
    ax.set_xlim(0.0, CHARTED)
    keys = [key("as simulated" if few else "as simulated; bounds at 10 mm: table", linewidth=1.8)]
    keys += [key("band: parts sliding to bonded", linewidth=5.0, alpha=0.25)] if few else []
    symbol = label.split()[-1]
    return finish(ax, label, "distance from the tip, mm", f"{symbol}, N mm²", named, keys)


def table_cells(entries: Sequence[WireEntry]) -> list[list[str]]:
    """Head and rows of the table, wrapped to their columns; a dash where a design has no such figure; [] for no row."""
    labels = row_labels([entry.figures for entry in entries])
    if not labels:
        return []
    heads = [
        f"{letter} {entry.design.name}".strip() for letter, entry in zip(letters(len(entries)), entries, strict=True)
    ]
    rows = [["", *heads]]
    rows += [[label, *(dict(entry.figures).get(label, "-") for entry in entries)] for label in labels]
    share, size, across = _of(LABELS, entries), _of(TYPE, entries), WIDTH - LEFT - RIGHT + 0.35
    widths = [share * across] + [(1.0 - share) * across / len(entries)] * len(entries)
    most = [int(72.0 * width / (CHARACTER * size)) for width in widths]
    return [["\n".join(wrap(text, n)) for text, n in zip(row, most, strict=True)] for row in rows]


def row_labels(figures: Sequence[Sequence[tuple[str, str]]]) -> list[str]:
    """Labels of the rows of several wires, each once; one of a later wire alone stands behind its neighbour there."""
    labels: list[str] = []
    for rows in figures:
        at = 0
        for label, _ in rows:
            if label not in labels:
                labels.insert(at, label)
            at = labels.index(label) + 1
    return labels


def draw_table(ax: Axes, entries: Sequence[WireEntry], cells: Sequence[Sequence[str]]) -> Axes:
    """Figures of the designs, one column each, from `table_cells`."""
    from matplotlib.transforms import Bbox

    ax.axis("off")
    share = _of(LABELS, entries)
    widths = [share] + [(1.0 - share) / len(entries)] * len(entries)
    table = ax.table(cells, colWidths=widths, cellLoc="center", bbox=Bbox.unit())
    table.auto_set_font_size(False)
    heights = _row_heights(cells, len(entries))
    for (row, column), cell in table.get_celld().items():
        cell.set_linewidth(0.3)
        cell.set_edgecolor("#bbbbbb")
        cell.set_height(heights[row])
        cell.get_text().set_fontsize(_of(TYPE, entries))
        if row == 0 and column > 0:
            cell.get_text().set_fontweight("bold")
            cell.get_text().set_color(colour(column - 1) if len(entries) > 1 else INK)
        if column == 0:
            cell.get_text().set_horizontalalignment("left")
            cell.PAD = 0.01
    return ax


def _row_heights(cells: Sequence[Sequence[str]], count: int) -> list[float]:
    """Heights of the table's rows, inches."""
    size = TYPE[0] if count <= FEW else TYPE[1]
    return [(CELL + LEADING * size * max(text.count("\n") + 1 for text in row)) / 72.0 for row in cells]


def _of(choice: tuple[float, float], entries: Sequence[WireEntry]) -> float:
    return choice[0] if len(entries) <= FEW else choice[1]


def _abreast(count: int, k: int, gap: float) -> tuple[float, float]:
    """Left edge and width of the k-th of `count` axes abreast, inches."""
    width = (WIDTH - LEFT - RIGHT - (count - 1) * gap) / count
    return LEFT + k * (width + gap), width


def _head(figure: Figure, entries: Sequence[WireEntry]) -> None:
    """Title of the page, and the wires by letter, colour and marker where there are several."""
    height = figure.get_size_inches()[1]
    title = "Wire bench" if len(entries) == 1 else f"Wire bench: {len(entries)} wires side by side"
    left = (LEFT - 0.35) / WIDTH
    figure.text(left, 1.0 - 0.12 / height, title, fontsize=13, color=INK, va="top")
    figure.text(left, 1.0 - 0.37 / height, CAUTION, fontsize=8, color=INK, va="top")
    if len(entries) == 1:
        return
    handles = [
        key(f"{letter}  {entry.design.name}", **{**mark(i, 1), "markevery": 1, "markersize": 5.0})
        for i, (letter, entry) in enumerate(zip(letters(len(entries)), entries, strict=True))
    ]
    figure.legend(
        handles=handles, ncols=NAME_COLUMNS, loc="upper left", bbox_to_anchor=(left, 1.0 - TITLE / height),
        fontsize=8.5, frameon=False, borderaxespad=0.0, borderpad=0.0, labelspacing=0.5, handlelength=2.6,
    )  # fmt: skip


def _material_columns(filled: dict[Material, Fill]) -> int:
    """Columns of the materials' legend, so that the longest name fits."""
    longest = max(len(material.name) for material in filled)
    return max(1, min(MATERIAL_COLUMNS, int((WIDTH - LEFT - RIGHT) / (PATCH + MATERIAL_CHARACTER * longest))))


def _materials(figure: Figure, filled: dict[Material, Fill], top: float) -> None:
    """Fills of the materials, below the drawings (`top`: inches from the page's)."""
    height = figure.get_size_inches()[1]
    figure.legend(
        handles=fill_keys(filled), ncols=_material_columns(filled), loc="upper left", title="Materials",
        title_fontsize=8, alignment="left", bbox_to_anchor=(LEFT / WIDTH, 1.0 - top / height), fontsize=8,
        frameon=False, borderaxespad=0.0, borderpad=0.0, handlelength=3.0, handleheight=1.2,
    )  # fmt: skip
