"""The picture of an insertion in three dimensions: the tear from the lumen with its parts named, the tip near, what is
seen of it on a screen beside them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ...insertion.classify import travel
from ...insertion.imaging import Imaging, frames, row_times
from ...insertion.record import Outcome, Record
from .. import style
from ..contest import force_words, side_words
from ..seen import picture as screen
from . import key
from .labels import Label, labels_of, spread
from .parts import COIL_SHOWN
from .scene import Eye, build, drawn, near_view, whole_view

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from pyvista import PolyData

MM = 1e3
WIDTH, LEFT, RIGHT, GAP = 13.6, 0.25, 0.25, 0.2  # inch
WHOLE, NEAR, HIGH, LOW = 9.4, 3.5, 4.35, 2.4  # inch: widths of both views, their heights
ABOVE, LINE, NAMES, WORDS = 0.58, 0.2, 0.5, 0.3  # inch: heading, a line below it, row of names, words over a picture
TYPE = 9.5  # points, of these lines
SHOWN = 12e-3  # m of the screen's picture, either way
BARS = (0.2, 0.5, 1.0, 2.0, 5.0)  # mm, lengths of scale bars
NOTE = (
    "Demo data: vessel, tear and wire are invented. Parallel projection, one scale all over each view; true diameters. "
    "Wall cut open on one side and see-through. Lip, fronts, margins, wire: of the model; the flap's shape across its "
    "width and over the wire is drawn, not computed; so is the thickness of {walls}."
)


def note_words(parts: Mapping[str, PolyData], layered: bool) -> str:
    """What of a scene is of the model and what is drawn."""
    note = NOTE.format(walls="the support's wall" if layered else "the outer wall and of the support's")
    if "coil" in parts:
        return f"{note} Turns of the coil: on the distal {COIL_SHOWN * MM:g} mm."
    return f"{note} The wire is shown as its envelope."


def solid_figure(
    record: Record, outcome: Outcome, row: int, parts: Mapping[str, PolyData], most: tuple[float, float],
    imaging: Imaging, title: str, *, layered: bool,
) -> Figure:  # fmt: skip
    """Figure of an increment of a record in three dimensions.

    Parameters
    ----------
    parts, most, layered
        as for `page.page_text`
    imaging : Imaging
        views that a screen shows it from

    Raises
    ------
    CannotDraw
        where the machine draws nothing
    """
    note = note_words(parts, layered)
    foot = style.note_height(note, WIDTH) + 0.1
    told = [part for words in state_words(record, outcome, row) for part in _lines(words)]
    above = ABOVE + LINE * len(told)
    height = above + NAMES + HIGH + NAMES + key.HEIGHT + foot
    figure = style.new_figure(WIDTH, height)

    def place(left: float, top: float, wide: float, tall: float) -> Axes:
        return figure.add_axes((left / WIDTH, 1.0 - (top + tall) / height, wide / WIDTH, tall / height))

    whole = whole_view(record, row, WHOLE / HIGH)
    size = _size(WHOLE, HIGH)
    plotter = build(parts, whole, size)
    try:
        ax = place(LEFT, above + NAMES, WHOLE, HIGH)
        _show(ax, drawn(plotter, whole, size), whole, size)
        _name(ax, labels_of(record, row, parts), whole, size)
        beside = LEFT + WHOLE + GAP
        near, size = near_view(record, row, NEAR / LOW), _size(NEAR, LOW)
        ax = place(beside, above + WORDS, NEAR, LOW)
        _show(ax, drawn(plotter, near, size), near, size)
        ax.set_title("the tip, near", fontsize=9, loc="left", color=style.INK, pad=3)
    finally:
        plotter.close()
    side, top = (NEAR - GAP / 2) / 2, above + 2 * WORDS + LOW + 0.15
    for k in range(min(len(imaging.views), 2)):
        _screen(place(beside + k * (side + GAP / 2), top, side, side), record, row, imaging, k)
    figure.text(
        beside / WIDTH, 1.0 - (top - 0.07) / height,
        "the same as on a screen (wire alone)", fontsize=9, color=style.INK,
    )  # fmt: skip
    key.draw(figure, parts, most, foot / height, WIDTH, height, layered)
    figure.text(LEFT / WIDTH, 1.0 - 0.33 / height, f"In three dimensions{': ' if title else ''}{title}", fontsize=13)
    for k, words in enumerate(told):
        figure.text(LEFT / WIDTH, 1.0 - (0.6 + LINE * k) / height, words, fontsize=TYPE, color=style.INK)
    style.add_note(figure, note)
    return figure


def _lines(words: str) -> list[str]:
    return style.wrapped(words, WIDTH - 2.0 * LEFT, TYPE).split("\n")


def _size(wide: float, tall: float) -> tuple[int, int]:
    """Pixels of a picture in inches."""
    return round(wide * style.DPI), round(tall * style.DPI)


def _show(ax: Axes, pixels: NDArray[np.uint8], eye: Eye, size: tuple[int, int]) -> None:
    """A drawn view with its scale bar."""
    ax.imshow(pixels, interpolation="nearest", aspect="auto")
    ax.set_xlim(0, size[0])
    ax.set_ylim(size[1], 0)
    ax.set_xticks([])
    ax.set_yticks([])
    for spine in ax.spines.values():
        spine.set_color("#cfd4da")
    per_mm = 0.5 * size[1] / eye.half / MM
    length = next((bar for bar in reversed(BARS) if bar * per_mm < 0.25 * size[0]), BARS[0])
    x, y = 0.97 * size[0] - length * per_mm, 0.95 * size[1]
    ax.plot([x, x + length * per_mm], [y, y], linewidth=3.0, color=style.INK, solid_capstyle="butt")
    ax.text(x + 0.5 * length * per_mm, y - 0.015 * size[1], f"{length:g} mm", fontsize=8, ha="center", va="bottom")


def _name(ax: Axes, labels: list[Label], eye: Eye, size: tuple[int, int]) -> None:
    """Names of parts in rows over and under the picture, each with a line to its place."""
    for over in (True, False):
        row = [label for label in labels if label.over == over]
        if not row:
            continue
        at = eye.pixels(np.array([label.point for label in row]), size)
        kept = [int(k) for k in np.argsort(at[:, 0]) if (at[k] > 0).all() and (at[k] < np.array(size)).all()]
        texts = [row[k].text for k in kept]
        y = -0.045 * size[1] if over else 1.045 * size[1]
        for k, x, text in zip(kept, spread([float(at[k, 0]) for k in kept], texts, size[0]), texts, strict=True):
            ax.annotate(
                text, xy=tuple(at[k]), xytext=(x, y), fontsize=9, ha="center", va="bottom" if over else "top",
                color=row[k].colour, annotation_clip=False, zorder=9,
                arrowprops={"arrowstyle": "-", "color": style.INK, "lw": 0.7, "shrinkA": 1, "shrinkB": 0},
            )  # fmt: skip
            ax.plot(*at[k], "o", markersize=3.5, color=style.INK, markeredgecolor="white", markeredgewidth=0.7)


def _screen(ax: Axes, record: Record, row: int, imaging: Imaging, k: int) -> None:
    """What a screen shows of the wire at the increment, from a view."""
    now = float(row_times(record, imaging)[row])
    shown = frames(record, imaging, imaging.views[k], (now, now + 2.0 / imaging.frame_rate))
    line = shown.lines[0]
    count = round(SHOWN / shown.pixel)
    end = line[-min(len(line), count) :]
    corner = np.round((0.5 * (end.min(axis=0) + end.max(axis=0)) - 0.5 * SHOWN) / shown.pixel) * shown.pixel
    left, bottom = (float(v) for v in corner)
    pixels = screen(line, shown, left, bottom, SHOWN)
    low = pixels[: round(0.15 * len(pixels))]
    x = 0.6 if np.sum(low[:, : len(low[0]) // 2]) > np.sum(low[:, len(low[0]) // 2 :]) else SHOWN * MM - 2.6
    ax.imshow(
        pixels, cmap="gray", vmin=0, vmax=1, origin="lower",
        interpolation="nearest", extent=(0.0, SHOWN * MM, 0.0, SHOWN * MM),
    )  # fmt: skip
    ax.set_xticks([])
    ax.set_yticks([])
    ax.plot([x, x + 2.0], [0.6, 0.6], color=style.INK, linewidth=2)
    ax.text(x + 1.0, 0.8, "2 mm", fontsize=7, ha="center", va="bottom", color=style.INK)
    ax.text(0.0, -0.03, shown.view.name, transform=ax.transAxes, fontsize=8, va="top", color=style.INK)


def state_words(record: Record, outcome: Outcome, row: int) -> tuple[str, str]:
    """Where hand and wire are at an increment, with the push; and the force behind it."""
    feed, gone, push = record.feed[row] * MM, travel(record)[row] * MM, record.push[row] * MM
    where = f"feed {feed:.2f} mm, travel of the hand {gone:.2f} mm: {side_words(record, row)}; push {push:.3g} mN"
    return where, force_words(record, outcome, row)
