"""Page of one or several wire designs: construction, stiffness profiles with bounds, bench figures.

As one long picture for the screen, and as sheets of paper. Draws finished results only: profiles and table entries are
handed in. Several wires have letters, and one legend for the page: names are long.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from string import ascii_uppercase
from textwrap import wrap
from typing import TYPE_CHECKING, Any

import numpy as np

from .. import CAUTION
from ..profile import Profile
from ..wire.design import Design
from ..wire.stations import two_axes
from .bench.marks import colour, finish, key, mark
from .construction import draw_construction, fill_keys, fills, heading_height
from .lengths import distance_axis, distance_label, spread_along
from .sheet import Block, Sheet, lay, packed
from .style import INK, MUTED, NOTE_CHARACTERS_PER_INCH, NOTE_LINE, SERIES, add_note, note_height
from .wire_table import FEW, Cells, draw_table, row_heights, split_cells, table_cells

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from ..wire.materials import Material
    from .construction import Fill

Panel = Callable[["Axes"], "Axes"]

MOST = len(SERIES)  # wires on a page: as many colours and markers
WIDTH, PAPER = 11.69, 8.27  # inches: A4 lying; on letter it is printed 94 % as large
LEFT, RIGHT = 0.75, 0.35  # inches, margins
TITLE, NAMES = 0.6, 0.22  # inches: the page's title, a row of wires' names
FOOT = 0.3  # inches, caution and page number at the foot of a sheet
STRIP, UNDER, CHART = 1.0, 0.45, 3.5  # inches: a drawing, its axis below it, the charts
KEYS = 0.24  # inches, a row of materials
PATCH, MATERIAL_CHARACTER = 0.75, 0.075  # inches: a patch with its room, a character behind it
ABREAST, PANEL, BETWEEN = 3, 2.7, 0.95  # bench tests in a row; inches: height of one, and between two
NOTE = 0.15  # inches, above the notes
NAME_COLUMNS, MATERIAL_COLUMNS = 3, 5
OUTLINE = 400  # stations of a profile's line beside its knots
LEGEND = (
    "Drawing and charts: distances linear over 40 mm, logarithmic beyond (dotted line). Drawing: lengthwise cut, "
    "thickness exaggerated as stated; beyond 40 mm coils and strands are bands. Charts: line = coupling used in "
    "simulations; band = parts sliding on each other (lower bound) to parts bonded into one section (upper bound); "
    "dashed, hatched: the same about the hard axis of a ribbon, where it differs. Tests bend the wire about its easy "
    "axis. Tip pressure: tip load at 10 mm over pi r^2 of the end's face. "
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


def wire_page(entries: Sequence[WireEntry], panels: Sequence[Panel] = (), note: str = "", title: str = "") -> Figure:
    """One long page: the designs one above the other, their profiles over each other, bench tests, figures abreast.

    Parameters
    ----------
    entries : sequence of WireEntry
        one to `MOST`
    panels : sequence of callable
        each draws a bench test of all designs into axes, by their `letters`
    note : str
        definitions that belong to the table (how tip load is measured, ...)
    title : str
        written behind the page's title

    Returns
    -------
    Figure
        to be saved as a picture

    Raises
    ------
    ValueError
        for no design, or too many
    """
    _check(entries)
    blocks = [*_drawings(entries), _charts(entries), *_tests(panels, PANEL)]
    blocks += [_table(cells) for cells in split_cells(_cells(entries), np.inf)]
    told = f"{LEGEND}\n{note}"
    head = _head_height(entries)
    height = head + sum(block.height for block in blocks) + NOTE + note_height(told, WIDTH) + 0.2
    sheet = Sheet.of(WIDTH, height)
    _head(sheet, entries, title)
    lay(sheet, blocks, head)
    add_note(sheet.figure, told)
    return sheet.figure


def wire_sheets(
    entries: Sequence[WireEntry], panels: Sequence[Panel] = (), note: str = "", title: str = ""
) -> list[Figure]:
    """The same as `wire_page`, on sheets of A4 lying, each with title, wires' names, caution and number."""
    _check(entries)
    head = _head_height(entries)
    room = PAPER - head - FOOT
    tall = min(PANEL, room / 2.0 - BETWEEN)  # two rows of tests on a sheet
    groups = [[*_drawings(entries), _charts(entries)], _tests(panels, tall)]
    groups += [[_table(cells)] for cells in split_cells(_cells(entries), room)]
    groups.append(_lines(f"{LEGEND}\n{note}"))
    laid = [blocks for group in groups for blocks in packed(group, room)]
    figures = []
    for k, blocks in enumerate(laid):
        sheet = Sheet.of(WIDTH, PAPER)
        _head(sheet, entries, title, f", page {k + 1} of {len(laid)}")
        lay(sheet, blocks, head)
        add_note(sheet.figure)
        figures.append(sheet.figure)
    return figures


def draw_profiles(ax: Axes, entries: Sequence[WireEntry], rigidity: str, label: str) -> Axes:
    """One rigidity over distance from the tip: line = as simulated, band = parts sliding to parts bonded.

    "EI1" comes with EI2 where it differs: dashed, in a hatched band.
    """
    end = _end(entries)
    distance_axis(ax, 0.0, end)
    ax.set_yscale("log")
    few, named, hard = len(entries) <= FEW, [], False
    for i, (entry, letter) in enumerate(zip(entries, letters(len(entries)), strict=True)):
        last = 1e3 * entry.design.length
        s = 1e-3 * np.union1d(1e3 * entry.simulated.distance, spread_along(0.0, last, OUTLINE))
        if few:
            _band(ax, entry, rigidity, s, i)
        style = {**mark(i, len(s)), "markevery": (0.03 * i, 0.25), "linewidth": 1.8}
        (line,) = ax.plot(s * 1e3, entry.simulated.at(rigidity, s) * 1e6, **style)
        named.append((letter, line))
        other = two_axes(entry.simulated, s) | two_axes(entry.upper, s)
        if rigidity == "EI1" and np.any(other):
            hard = True
            _hard(ax, entry, s, other, i, detail=few)
    keys = [key("as simulated" if few else "as simulated; bounds at 10 mm: table", linewidth=1.8)]
    keys += [key("band: parts sliding to bonded", linewidth=5.0, alpha=0.25)] if few else []
    keys += [key("about the hard axis", linewidth=1.4, linestyle="--")] if hard else []
    symbol = label.split()[-1]
    return finish(ax, label, distance_label(end), f"{symbol}, N mm²", named, keys)


def _band(ax: Axes, entry: WireEntry, rigidity: str, s: np.ndarray, i: int, hatch: str = "") -> None:
    """Bounds of a rigidity at distances s (m; nan: not drawn)."""
    low, high = entry.lower.at(rigidity, s) * 1e6, entry.upper.at(rigidity, s) * 1e6
    look: dict[str, Any] = {"color": colour(i), "alpha": 0.12}
    if hatch:
        look = {"hatch": hatch, "facecolor": "none", "edgecolor": colour(i), "alpha": 0.3}
    ax.fill_between(s * 1e3, low, high, linewidth=0, **look)
    for edge in (low, high):
        ax.plot(s * 1e3, edge, color=colour(i), linewidth=0.6, linestyle=":")


def _hard(ax: Axes, entry: WireEntry, s: np.ndarray, where: np.ndarray, i: int, *, detail: bool) -> None:
    """EI about the hard axis where it differs, with its bounds."""
    there = np.where(where, s, np.nan)
    if detail:
        _band(ax, entry, "EI2", there, i, "////")
    ax.plot(there * 1e3, entry.simulated.at("EI2", there) * 1e6, color=colour(i), linewidth=1.4, linestyle="--")


def _check(entries: Sequence[WireEntry]) -> None:
    if not 1 <= len(entries) <= MOST:
        raise ValueError(f"{len(entries)} entries; at least one design is needed, at most {MOST}")


def _end(entries: Sequence[WireEntry]) -> float:
    """Length that drawings and charts show, mm: that of the longest wire."""
    return max(1e3 * entry.design.length for entry in entries)


def _drawings(entries: Sequence[WireEntry]) -> list[Block]:
    """Drawings of all wires and the legend of their materials."""
    across, end = WIDTH - LEFT - RIGHT, _end(entries)
    filled = fills([entry.design for entry in entries])

    def drawing(entry: WireEntry, letter: str) -> Block:
        heading = heading_height(entry.design, across)

        def draw(sheet: Sheet, top: float, last: bool) -> None:
            ax = sheet.place(LEFT, top + heading, across, STRIP)
            name = f"{letter}  {entry.design.name}".strip()
            draw_construction(ax, entry.design, filled, name=name, last=last, end=end)

        return Block(heading + STRIP + 0.15, draw, "drawing")

    def materials(sheet: Sheet, top: float, last: bool) -> None:
        _materials(sheet, filled, top + UNDER)

    height = UNDER + KEYS * -(-len(filled) // _material_columns(filled)) + 0.35
    drawn = [drawing(entry, letter) for entry, letter in zip(entries, letters(len(entries)), strict=True)]
    return [*drawn, Block(height, materials, "materials")]


def _charts(entries: Sequence[WireEntry]) -> Block:
    """Bending and torsional stiffness abreast."""

    def draw(sheet: Sheet, top: float, last: bool) -> None:
        for k, (rigidity, label) in enumerate((("EI1", "Bending stiffness EI"), ("GJ", "Torsional stiffness GJ"))):
            left, width = _abreast(2, k, 0.7)
            draw_profiles(sheet.place(left, top + 0.35, width, CHART), entries, rigidity, label)

    return Block(CHART + 0.85, draw, "charts")


def _tests(panels: Sequence[Panel], tall: float) -> list[Block]:
    """Rows of bench tests, each `tall` inches high."""

    def row(few: Sequence[Panel]) -> Block:
        def draw(sheet: Sheet, top: float, last: bool) -> None:
            for k, panel in enumerate(few):
                left, width = _abreast(ABREAST, k, 0.65)
                panel(sheet.place(left, top + BETWEEN - 0.4, width, tall))

        return Block(tall + BETWEEN, draw, "tests")

    return [row(panels[k : k + ABREAST]) for k in range(0, len(panels), ABREAST)]


def _cells(entries: Sequence[WireEntry]) -> Cells:
    """Cells of the table of all wires."""
    named = zip(letters(len(entries)), entries, strict=True)
    heads = [f"{letter} {entry.design.name}".strip() for letter, entry in named]
    return table_cells(heads, [entry.figures for entry in entries], WIDTH - LEFT - RIGHT + 0.35)


def _table(cells: Cells) -> Block:
    """The table, or a sheet's share of it."""
    height = sum(row_heights(cells))

    def draw(sheet: Sheet, top: float, last: bool) -> None:
        draw_table(sheet.place(LEFT - 0.35, top, WIDTH - LEFT - RIGHT + 0.35, height), cells)

    return Block(height, draw, "table")


def _lines(text: str) -> list[Block]:
    """Lines of the notes on a sheet of their own."""
    most = int(NOTE_CHARACTERS_PER_INCH * (WIDTH - LEFT - RIGHT + 0.35))

    def line(words: str) -> Block:
        def draw(sheet: Sheet, top: float, last: bool) -> None:
            sheet.figure.text(*sheet.at(LEFT - 0.35, top), words, fontsize=7, color=MUTED, va="top")

        return Block(NOTE_LINE, draw, "note")

    return [line(part) for paragraph in text.split("\n") for part in wrap(paragraph, most)]


def _abreast(count: int, k: int, gap: float) -> tuple[float, float]:
    """Left edge and width of the k-th of `count` axes abreast, inches."""
    width = (WIDTH - LEFT - RIGHT - (count - 1) * gap) / count
    return LEFT + k * (width + gap), width


def _head_height(entries: Sequence[WireEntry]) -> float:
    """Height of title and names, inches."""
    return TITLE + (NAMES * -(-len(entries) // NAME_COLUMNS) if len(entries) > 1 else 0.0)


def _head(sheet: Sheet, entries: Sequence[WireEntry], behind: str, page: str = "") -> None:
    """Title of the page, and the wires by letter, colour and marker where there are several."""
    only = f": {entries[0].design.name}" if page and len(entries) == 1 else ""
    title = f"Wire bench{only}" if len(entries) == 1 else f"Wire bench: {len(entries)} wires side by side"
    left = LEFT - 0.35
    sheet.figure.text(*sheet.at(left, 0.12), f"{title}{behind}{page}", fontsize=13, color=INK, va="top")
    sheet.figure.text(*sheet.at(left, 0.37), CAUTION, fontsize=8, color=INK, va="top")
    if len(entries) == 1:
        return
    handles = [
        key(f"{letter}  {entry.design.name}", **{**mark(i, 1), "markevery": 1, "markersize": 5.0})
        for i, (letter, entry) in enumerate(zip(letters(len(entries)), entries, strict=True))
    ]
    sheet.figure.legend(
        handles=handles, ncols=NAME_COLUMNS, loc="upper left", bbox_to_anchor=sheet.at(left, TITLE),
        fontsize=8.5, frameon=False, borderaxespad=0.0, borderpad=0.0, labelspacing=0.5, handlelength=2.6,
    )  # fmt: skip


def _material_columns(filled: dict[Material, Fill]) -> int:
    """Columns of the materials' legend, so that the longest name fits."""
    longest = max(len(material.name) for material in filled)
    return max(1, min(MATERIAL_COLUMNS, int((WIDTH - LEFT - RIGHT) / (PATCH + MATERIAL_CHARACTER * longest))))


def _materials(sheet: Sheet, filled: dict[Material, Fill], top: float) -> None:
    """Fills of the materials, below the drawings (`top`: inches from the sheet's)."""
    sheet.figure.legend(
        handles=fill_keys(filled), ncols=_material_columns(filled), loc="upper left", title="Materials",
        title_fontsize=8, alignment="left", bbox_to_anchor=sheet.at(LEFT, top), fontsize=8,
        frameon=False, borderaxespad=0.0, borderpad=0.0, handlelength=3.0, handleheight=1.2,
    )  # fmt: skip
