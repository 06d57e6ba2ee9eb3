"""The table of figures on a wire's page: its rows, wrapped to their columns, and how they are drawn."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap
from typing import TYPE_CHECKING

from .bench.marks import colour
from .style import INK

if TYPE_CHECKING:
    from matplotlib.axes import Axes

FEW = 3  # wires with wide columns
LABELS = 0.36, 0.28  # share of the table's width for the labels: few wires, more
TYPE = 8.0, 6.5  # points, type of the table: few wires, more
CHARACTER = 0.67  # of the type's size, mean width of a character with some room
LEADING, CELL = 1.2, 5.0  # of the type's size, a line; points, room of a row

Figures = Sequence[tuple[str, str]]
Cells = list[list[str]]


def table_cells(heads: Sequence[str], figures: Sequence[Figures], across: float) -> Cells:
    """Head and rows of a table `across` inches wide; a dash where a design has no such figure; [] for no row."""
    labels = row_labels(figures)
    if not labels:
        return []
    rows = [["", *heads]]
    rows += [[label, *(dict(own).get(label, "-") for own in figures)] for label in labels]
    share, size, count = _of(LABELS, len(heads)), _of(TYPE, len(heads)), len(heads)
    widths = [share * across] + [(1.0 - share) * across / count] * count
    most = [int(72.0 * width / (CHARACTER * size)) for width in widths]
    return [["\n".join(wrap(text, n)) for text, n in zip(row, most, strict=True)] for row in rows]


def row_labels(figures: Sequence[Figures]) -> list[str]:
    """Labels of the rows of several wires, each once; one of a later wire alone stands behind its neighbour there."""
    labels: list[str] = []
    for rows in figures:
        at = 0
        for label, _ in rows:
            if label not in labels:
                labels.insert(at, label)
            at = labels.index(label) + 1
    return labels


def split_cells(cells: Cells, room: float) -> list[Cells]:
    """Rows on as many sheets as they need, `room` inches each, the head on every one."""
    if not cells:
        return []
    head, *rows = cells
    heights, sheets = row_heights(cells), [[head]]
    left = room - heights[0]
    for row, height in zip(rows, heights[1:], strict=True):
        if height > left and len(sheets[-1]) > 1:
            sheets.append([head])
            left = room - heights[0]
        sheets[-1].append(row)
        left -= height
    return sheets


def draw_table(ax: Axes, cells: Cells) -> Axes:
    """Figures of the designs, one column each, from `table_cells`."""
    from matplotlib.transforms import Bbox

    ax.axis("off")
    count = len(cells[0]) - 1
    share = _of(LABELS, count)
    widths = [share] + [(1.0 - share) / count] * count
    table = ax.table(cells, colWidths=widths, cellLoc="center", bbox=Bbox.unit())
    table.auto_set_font_size(False)
    heights = row_heights(cells)
    for (row, column), cell in table.get_celld().items():
        cell.set_linewidth(0.3)
        cell.set_edgecolor("#bbbbbb")
        cell.set_height(heights[row])
        cell.get_text().set_fontsize(_of(TYPE, count))
        if row == 0 and column > 0:
            cell.get_text().set_fontweight("bold")
            cell.get_text().set_color(colour(column - 1) if count > 1 else INK)
        if column == 0:
            cell.get_text().set_horizontalalignment("left")
            cell.PAD = 0.01
    return ax


def row_heights(cells: Cells) -> list[float]:
    """Heights of the table's rows, inches."""
    size = _of(TYPE, len(cells[0]) - 1) if cells else 0.0
    return [(CELL + LEADING * size * max(text.count("\n") + 1 for text in row)) / 72.0 for row in cells]


def _of(choice: tuple[float, float], count: int) -> float:
    return choice[0] if count <= FEW else choice[1]
