"""One page of one or several wire designs: construction, stiffness profiles with bounds, bench figures.

Draws finished results only: profiles and table entries are handed in.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ..profile import Profile
from ..wire.design import Design
from ..wire.parts import Coil, Jacket, Part, Ribbon, Strand, Taper
from .style import SERIES, add_note, new_figure, note_height, tidy

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Panel = Callable[["Axes"], "Axes"]
Array = NDArray[np.float64]

SHOWN = 40.0  # mm, distal length of the drawing
CHARTED = 120.0  # mm, distal length of the charts
WIDTH = 12.0  # inches
LEFT, RIGHT = 0.75, 0.35  # inches, margins
STRIP, GAP, CHART, ROW = 1.05, 0.5, 3.5, 0.21  # inches: a drawing, above it, the charts, a table row
ABREAST, PANEL, BETWEEN = 3, 2.7, 0.75  # bench tests in a row; inches: height of one, and between two
NOTE = 0.15  # inches, above the notes
COLOURS = {
    "steel_304": "#7f8fa6",
    "nitinol": "#5b8c5a",
    "platinum_tungsten_8": "#c9a227",
    "platinum_nickel_10": "#c9a227",
    "platinum_iridium_10": "#c9a227",
    "ptfe": "#d8c7e6",
    "polyurethane_soft_filled": "#e6b8a2",
    "polyurethane_55d_filled": "#d9957a",
}
OWN_MATERIAL = "#999999"
LEGEND = (
    "Drawing: lengthwise cut, lengths to scale, thickness exaggerated as stated. Charts: line = coupling used in "
    "simulations; band = parts sliding on each other (lower bound) to parts bonded into one section (upper bound)."
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


def wire_page(entries: Sequence[WireEntry], panels: Sequence[Panel] = (), note: str = "") -> "Figure":
    """One page: the designs one above the other, their profiles over each other, bench tests, figures side by side.

    Parameters
    ----------
    entries : sequence of WireEntry
        at least one
    panels : sequence of callable
        each draws a bench test of all designs into axes
    note : str
        definitions that belong to the table (how tip load is measured, ...)

    Returns
    -------
    Figure
        to be saved as PNG or PDF
    """
    if not entries:
        raise ValueError("entries is empty; at least one design is needed")
    labels = list(dict.fromkeys(label for entry in entries for label, _ in entry.figures))
    table = ROW * (len(labels) + 2) if labels else 0.0
    rows = -(-len(panels) // ABREAST)
    tests = rows * (PANEL + BETWEEN)
    foot = NOTE + note_height(f"{LEGEND} {note}", WIDTH)
    height = foot + table + tests + CHART + 1.2 + (STRIP + GAP) * len(entries)
    figure = new_figure(WIDTH, height)

    def place(left: float, bottom: float, width: float, tall: float) -> "Axes":
        """Axes at a place given in inches."""
        return figure.add_axes((left / WIDTH, bottom / height, width / WIDTH, tall / height))

    def across(count: int, k: int, gap: float) -> tuple[float, float]:
        """Left edge and width of the k-th of `count` axes abreast."""
        width = (WIDTH - LEFT - RIGHT - (count - 1) * gap) / count
        return LEFT + k * (width + gap), width

    for i, entry in enumerate(entries):
        ax = place(LEFT, height - (i + 1) * (STRIP + GAP), WIDTH - LEFT - RIGHT, STRIP)
        draw_section(ax, entry.design, last=i == len(entries) - 1)
    for k, (key, label) in enumerate((("EI1", "bending stiffness EI, N mm²"), ("GJ", "torsional stiffness GJ, N mm²"))):
        left, width = across(2, k, 0.7)
        ax = place(left, foot + table + tests + 0.5, width, CHART)
        draw_profiles(ax, entries, key, label)
        if k == 0:
            ax.legend(fontsize=8, loc="lower right", framealpha=0.9)
    for k, draw in enumerate(panels):
        left, width = across(ABREAST, k % ABREAST, 0.65)
        row = k // ABREAST + 1
        _quiet(draw(place(left, foot + table + tests + 0.45 - row * (PANEL + BETWEEN), width, PANEL)))
    if labels:
        draw_table(place(LEFT, foot, WIDTH - LEFT - RIGHT, table), entries, labels)
    add_note(figure, f"{LEGEND} {note}")
    return figure


def _quiet(ax: "Axes") -> None:
    """One size of type for all bench tests of a page."""
    for label in (ax.xaxis.label, ax.yaxis.label):
        label.set_fontsize(8)
    ax.set_title(ax.get_title(loc="left"), loc="left", fontsize=9)
    legend = ax.get_legend()
    for text in [] if legend is None else [*legend.get_texts(), legend.get_title()]:
        text.set_fontsize(6.5)


def draw_section(ax: "Axes", design: Design, *, last: bool = True) -> "Axes":
    """Lengthwise cut of the distal 40 mm, tip at the left, drawn thicker than it is; the factor stands in the title."""
    for part in sorted(design.parts, key=lambda p: float(p.room(np.array([p.start]))[1][0])):
        _draw_part(ax, part)
    _draw_tip(ax, design)
    # the tip's radius is a length along the wire as well, so the axis begins a little before it
    top = 1.15e3 * float(np.max(design.radius(np.linspace(0.0, SHOWN * 1e-3, 400))))
    ax.set_xlim(-0.5, SHOWN)
    ax.set_ylim(-top, top)
    box, (width, height) = ax.get_position(), ax.get_figure(root=True).get_size_inches()  # type: ignore[union-attr]
    thicker = (box.height * height / (2.0 * top)) / (box.width * width / (SHOWN + 0.5))
    ax.set_title(f"{design.name}   [{parts_text(design)}]", fontsize=8, loc="left")
    ax.set_title(f"thickness drawn × {thicker:.0f}", fontsize=8, loc="right", color="#555555")
    ax.set_ylabel("mm", fontsize=8)
    ax.tick_params(labelsize=8)
    if last:
        ax.set_xlabel("distance from the tip, mm", fontsize=8)
    ax.spines[["top", "right"]].set_visible(False)
    return ax


def part_words(name: str, part: Part) -> str:
    """A part by kind, material and range (`name` as in `Design.named_parts`): 'coil, steel 304, 30 to 110 mm'."""
    return (
        f"{name.split()[0]}, {part.material.name.replace('_', ' ')}, {part.start * 1e3:.4g} to {part.end * 1e3:.4g} mm"
    )


def parts_text(design: Design) -> str:
    """All parts of a design in one line: 'core steel_304 0-300; coil steel_304 30-110 mm'."""
    parts = (
        f"{name.split()[0]} {part.material.name} {part.start * 1e3:.4g}-{part.end * 1e3:.4g}"
        for name, part in design.named_parts()
    )
    return f"{'; '.join(parts)} mm"


def draw_profiles(ax: "Axes", entries: Sequence[WireEntry], key: str, label: str) -> "Axes":
    """One rigidity over distance from the tip: line = as simulated, band = parts sliding to parts bonded."""
    s = np.unique(np.concatenate([entry.simulated.distance for entry in entries]))
    s = np.append(s[s < CHARTED * 1e-3], CHARTED * 1e-3)
    for i, entry in enumerate(entries):
        colour = SERIES[i % len(SERIES)]
        low, high = entry.lower.at(key, s) * 1e6, entry.upper.at(key, s) * 1e6
        ax.fill_between(s * 1e3, low, high, color=colour, alpha=0.10, linewidth=0)
        ax.plot(s * 1e3, high, color=colour, linewidth=0.6, linestyle=":")
        ax.plot(s * 1e3, low, color=colour, linewidth=0.6, linestyle=":")
        ax.plot(s * 1e3, entry.simulated.at(key, s) * 1e6, color=colour, linewidth=1.8, label=entry.design.name)
    ax.set_yscale("log")
    ax.set_xlim(0.0, CHARTED)
    ax.set_xlabel("distance from the tip, mm", fontsize=9)
    ax.set_title(label, fontsize=9, loc="left")
    tidy(ax)
    return ax


def draw_table(ax: "Axes", entries: Sequence[WireEntry], labels: Sequence[str]) -> "Axes":
    """Figures of the designs, one column each; a dash where a design has no such figure."""
    from matplotlib.transforms import Bbox

    ax.axis("off")
    texts = [[label] + [dict(entry.figures).get(label, "-") for entry in entries] for label in labels]
    head = ["", *(entry.design.name for entry in entries)]
    first = 0.34
    widths = [first] + [(1.0 - first) / len(entries)] * len(entries)
    table = ax.table(texts, colLabels=head, colWidths=widths, cellLoc="center", bbox=Bbox.unit())
    table.auto_set_font_size(False)
    for (row, column), cell in table.get_celld().items():
        cell.set_linewidth(0.3)
        cell.set_edgecolor("#bbbbbb")
        cell.get_text().set_fontsize(8 if row or len(entries) < 4 else 6.5)
        if row == 0 and column > 0:
            cell.get_text().set_color(SERIES[(column - 1) % len(SERIES)])
            cell.get_text().set_text(head[column].replace(" (", "\n("))
            cell.get_text().set_fontweight("bold")
        if row == 0:
            cell.set_height(2.0 * cell.get_height())
        if column == 0:
            cell.get_text().set_horizontalalignment("left")
    return ax


def _draw_part(ax: "Axes", part: Part) -> None:
    """One part of the lengthwise cut."""
    colour = COLOURS.get(part.material.name, OWN_MATERIAL)
    end = min(part.end * 1e3, SHOWN)
    if part.start * 1e3 >= SHOWN:
        return
    s = np.linspace(part.start * 1e3, end, 800)
    if isinstance(part, Taper | Ribbon):
        half = part.room(s * 1e-3)[1] * 1e3 if isinstance(part, Taper) else np.full_like(s, part.thickness * 5e2)
        ax.fill_between(s, -half, half, color=colour, linewidth=0.4, edgecolor="#333333", zorder=3)
    elif isinstance(part, Jacket):
        inner, outer = (r * 1e3 for r in part.room(s * 1e-3))
        for sign in (1.0, -1.0):
            ax.fill_between(s, sign * inner, sign * outer, color=colour, linewidth=0, zorder=1)
    elif isinstance(part, Strand):
        middle = part.offset * 1e3 * np.sin(2.0 * np.pi * (s - s[0]) / (part.pitch * 1e3))
        half = np.full_like(s, part.wire_diameter * 5e2)
        ax.fill_between(
            s, middle - half, middle + half, color=colour, alpha=0.75, linewidth=0.4, edgecolor="#333333", zorder=4
        )
    else:
        _draw_coil(ax, part, end, colour)


def _draw_coil(ax: "Axes", coil: Coil, end: float, colour: str) -> None:
    """Cut wires of a coil: above the axis, and half a turn on below it."""
    from matplotlib.collections import EllipseCollection

    step, wire = coil.pitch * 1e3 / coil.filars, coil.wire_diameter * 1e3
    above = np.arange(coil.start * 1e3 + wire / 2.0, end, step)
    width = wire / np.cos(coil.helix(np.array([coil.start])).angle[0])
    for sign, shift in ((1.0, 0.0), (-1.0, 0.5 * step if coil.filars == 1 else 0.0)):
        s = above + shift
        s = s[s < end]
        centres = np.column_stack([s, sign * coil.radius(s * 1e-3) * 1e3])
        turns = EllipseCollection(
            np.full(len(s), width),
            np.full(len(s), wire),
            np.zeros(len(s)),
            units="xy",
            offsets=centres,
            offset_transform=ax.transData,
            facecolor=colour,
            edgecolor="#333333",
            linewidth=0.15,
            zorder=2,
        )
        ax.add_collection(turns)


def _draw_tip(ax: "Axes", design: Design) -> None:
    """The end: a solid dome, a flat face with rounded corners, or a cone with one."""
    tip = design.tip
    half = (tip.end_diameter or tip.diameter) * 5e2
    corner = half if tip.end == "dome" else tip.corner_radius * 1e3
    turn = np.linspace(0.0, np.pi / 2.0, 40)
    x = corner * (1.0 - np.cos(turn))
    y = half - corner + corner * np.sin(turn)
    if tip.length is not None:
        x, y = np.append(x, tip.length * 1e3), np.append(y, tip.diameter * 5e2)
    outline = np.concatenate([np.column_stack([x, y]), np.column_stack([x, -y])[::-1]])
    ax.fill(outline[:, 0], outline[:, 1], color="#666666", zorder=5)
