"""What all figures share: colours, the caution note, a figure without a display, an atomic save."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING, Any

from .. import CAUTION, __version__
from ..outcome import Label
from ..whole import whole_file

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INK = "#22272e"  # lines and text
MUTED = "#6b7280"  # dimension lines, secondary text
TRUE_LUMEN = "#abd0ec"  # darker than the false lumen, so that grey print tells the channels apart too
FALSE_LUMEN = "#fbdcae"
FLAP = "#b4574b"
WALL = "#e6cfc4"
ATTACHED = "#d9a79d"  # inner layer where it is attached
SUPPORT = "#9aa5b1"
WIRE = "#3b4754"
FALSE_OUTLINE = "#c2185b"  # outline of the wire's part that lies in the false lumen
WIRE_CMAP = "viridis"
SERIES = ("#1f5fa8", "#c2185b", "#2e8b57", "#e08214", "#6a51a3", "#6b7280", "#00838f", "#5d4037")
INFEASIBLE = "#c9ccd1"

LABEL_COLOURS: dict[Label, str] = {  # of lightness of their own where they stand side by side
    Label.NOT_SOLVED: "#6b7280",
    Label.THROUGH_OUTER_WALL: "#7f0000",
    Label.FALSE_LUMEN_EXTENDED: "#c2185b",
    Label.FALSE_LUMEN_CURLED: "#e08214",
    Label.FALSE_LUMEN_NEITHER: "#f3b562",
    Label.REENTERED: "#6a51a3",
    Label.TRUE_LUMEN_CURLED_OR_BUCKLED: "#2e8b57",
    Label.TRUE_LUMEN: "#7fb2dd",
    Label.NEVER_REACHED_THE_TEAR: "#a8b3bf",
}

LABEL_HATCHES: dict[Label, str] = {
    Label.NOT_SOLVED: "////",
    Label.THROUGH_OUTER_WALL: "xx",
    Label.FALSE_LUMEN_EXTENDED: "//",
    Label.FALSE_LUMEN_CURLED: "..",
    Label.FALSE_LUMEN_NEITHER: "",
    Label.REENTERED: "++",
    Label.TRUE_LUMEN_CURLED_OR_BUCKLED: "\\\\",
    Label.TRUE_LUMEN: "--",
    Label.NEVER_REACHED_THE_TEAR: "oo",
}
"""So that outcomes are told apart without colours."""

LUMA = (0.299, 0.587, 0.114)  # shares of red, green and blue in grey
DPI = 130
COMPRESSION = 3  # of PNG, 0-9: 3 % larger files than at 6 in two thirds of the time (a page of 7 million pixels)
NOTE_SIZE = 7  # point
NOTE_CHARACTERS_PER_INCH = 16  # of that type
NOTE_LINE = 0.125  # inch, height of a line of the note


def label_look(label: Label) -> dict[str, Any]:
    """Fill of a label: white on its colour, but of what was not solved grey on white."""
    colour, hatch = LABEL_COLOURS[label], LABEL_HATCHES[label]
    if label is Label.NOT_SOLVED:
        return {"facecolor": "white", "edgecolor": colour, "hatch": hatch, "linewidth": 0.6}
    return {"facecolor": colour, "edgecolor": "white", "hatch": hatch, "linewidth": 0.0}


def on(colour: str) -> str:
    """Colour of type on a fill: white on a dark one."""
    from matplotlib.colors import to_rgb

    return "white" if sum(part * share for part, share in zip(to_rgb(colour), LUMA, strict=True)) < 0.5 else INK


def new_figure(width: float, height: float, **options: Any) -> Figure:
    """Empty figure of `width` x `height` inches drawn off-screen (Agg), whatever the display."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width, height), dpi=DPI, **options)
    FigureCanvasAgg(figure)
    return figure


def add_note(figure: Figure, text: str = "") -> float:
    """Write `text`, the caution sentence and the version at the figure's foot; return the height taken, inch.

    7-point type, wrapped to the figure's width; leave that height free at the bottom of the figure.
    """
    width, height = figure.get_size_inches()
    lines = _note_lines(text, width)
    figure.text(0.5, 0.06 / height, "\n".join(lines), ha="center", va="bottom", fontsize=NOTE_SIZE, color=MUTED)
    return note_height(text, width)


def note_height(text: str, width: float) -> float:
    """Height of the note with `text` in a figure of `width`, inches."""
    return 0.06 + NOTE_LINE * len(_note_lines(text, width))


def _note_lines(text: str, width: float) -> list[str]:
    most = int(NOTE_CHARACTERS_PER_INCH * width)
    return [part for line in [*text.split("\n"), f"{CAUTION}  tipmech {__version__}"] for part in wrap(line, most)]


def wrapped(text: str, width: float, size: float) -> str:
    """Lines of `text` in type of `size` points that fit into `width` inches."""
    return "\n".join(wrap(text, int(width * NOTE_CHARACTERS_PER_INCH * NOTE_SIZE / size)))


def tidy(ax: Axes) -> None:
    """Thin frame, no top and right spines, light grid."""
    ax.spines[["top", "right"]].set_visible(False)
    ax.spines[["left", "bottom"]].set_color(MUTED)
    ax.tick_params(labelsize=8, colors=INK)
    ax.grid(True, color="#e5e7eb", linewidth=0.6)
    ax.set_axisbelow(True)


def save_pages(figures: Sequence[Figure], path: Path | str) -> Path:
    """Write figures as the pages of one PDF, with the caution in its metadata, under a temporary name first."""
    from matplotlib.backends.backend_pdf import PdfPages

    path = Path(path)
    with (
        whole_file(path) as temporary,
        PdfPages(temporary, metadata={"Subject": CAUTION}) as pages,
    ):
        for figure in figures:
            pages.savefig(figure)
    return path


def save(figure: Figure, path: Path | str) -> Path:
    """Write the figure to `path` (by its suffix), under a temporary name first, and return the path.

    The caution is stored in the file's metadata too, for PNG, PDF and SVG.
    """
    path = Path(path)
    suffix = path.suffix.lower().lstrip(".") or "png"
    key = {"png": "Comment", "pdf": "Subject", "svg": "Description"}.get(suffix)
    options: dict[str, Any] = {"pil_kwargs": {"compress_level": COMPRESSION}} if suffix == "png" else {}
    with whole_file(path) as temporary:
        figure.savefig(temporary, format=suffix, metadata={key: CAUTION} if key else None, **options)
    return path
