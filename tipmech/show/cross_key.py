"""The key of the cross-sections: what was drawn in any of them, told apart in grey too."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from . import style
from .draw import line, polygon

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FALSE_LUMEN: dict[str, Any] = {
    "facecolor": style.FALSE_LUMEN, "edgecolor": "#a87c2c", "hatch": "...", "label": "false lumen (the plane)",
}  # fmt: skip
"""Dotted: in grey it is as light as the true lumen."""
OUTSIDE, INSIDE = "wire outside the false lumen", "wire in the false lumen"
WORDS = 2.4  # inch, of an entry
LINE = 0.2  # inch, from one line of the key to the next


def draw_disc(ax: Axes, x: Any, y: Any, inside: bool) -> None:
    """The wire cut across, its outline x, y (mm); in the false lumen with a magenta rim and a white dot."""
    rim = style.FALSE_OUTLINE if inside else style.INK
    polygon(ax, x, y, facecolor=style.WIRE, edgecolor=rim, linewidth=1.8, zorder=8)
    look: dict[str, Any] = {"color": style.WIRE, "markeredgecolor": rim, "markeredgewidth": 1.6, "markersize": 8}
    line(ax, [], [], marker="o", linestyle="none", label=INSIDE if inside else OUTSIDE, **look)
    if inside:
        line(ax, [x.mean()], [y.mean()], marker=".", linestyle="none", color="white", markersize=4, zorder=8.1)


def columns(width: float) -> int:
    """Entries side by side in a figure `width` inches wide."""
    return max(1, int(width / WORDS))


def key_height(entries: int, width: float) -> float:
    """Height of the key, inch."""
    return LINE * -(-entries // columns(width)) + 0.15


def entries(figure: Figure) -> dict[str, Any]:
    """Words and handles of all that is drawn with a label, each once."""
    from matplotlib.lines import Line2D

    found: dict[str, Any] = {}
    for ax in figure.axes:
        for handle, words in zip(*ax.get_legend_handles_labels(), strict=True):
            found.setdefault(words, handle)
    if INSIDE in found:
        found[INSIDE] = (found[INSIDE], Line2D([], [], linestyle="none", marker=".", color="white", markersize=4))
    return found


def draw_key(figure: Figure, bottom: float) -> None:
    """The key, its foot `bottom` inches above the figure's."""
    found, (width, height) = entries(figure), figure.get_size_inches()
    figure.legend(
        list(found.values()), list(found), loc="lower center", bbox_to_anchor=(0.5, bottom / height), fontsize=8,
        ncol=columns(width), frameon=False, borderaxespad=0.0, handlelength=2.0, labelspacing=0.35,
    )  # fmt: skip
