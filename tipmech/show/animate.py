"""An animated GIF of an insertion: the same view as the film strip, with the forces running along."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from ..insertion.classify import travel
from ..insertion.record import Outcome, Record
from ..outcome import LABEL_WORDS, Label
from . import style
from .strip import FORCES, STRAIN, Frame, draw_instant, frame_of, strain_norm
from .view import wires

if TYPE_CHECKING:
    from matplotlib.colors import Normalize
    from PIL.Image import Image

    from .view import Wire

WIDTH = 9.0  # inch
FRAMES = 48  # at most
PIXELS_PER_INCH = 90


def animate(
    record: Record, outcome: Outcome, path: Path | str, *, on_progress: Callable[[int, int], None] | None = None
) -> Path:
    """Write an animated GIF of a record to `path` and return the path.

    Parameters
    ----------
    record, outcome : Record, Outcome
        a finished insertion and its classification
    path : path
        where the GIF goes; written under a temporary name first
    on_progress : callable, optional
        called with (frames drawn, frames in all)
    """
    n = len(record.feed)
    rows = sorted({int(round(r)) for r in np.linspace(0, n - 1, min(FRAMES, n))})
    shown, frame = wires(record, rows), frame_of(record)
    norm = strain_norm(shown, frame)
    images = []
    for k, (row, wire) in enumerate(zip(rows, shown, strict=True)):
        images.append(_image(record, outcome, row, wire, frame, norm))
        if on_progress is not None:
            on_progress(k + 1, len(rows))
    return style.write_gif(images, path)


def _image(record: Record, outcome: Outcome, row: int, wire: Wire, frame: Frame, norm: Normalize) -> Image:
    """One frame as a palette image."""
    scale = (WIDTH - 0.8) / (frame.right - frame.left)
    tall, low, curves = (frame.bottom - frame.top) * scale, 2 * frame.half * scale, 1.3
    height = 0.4 + tall + 0.1 + low + 0.35 + curves + 1.05
    figure = style.new_figure(WIDTH, height)

    def place(top: float, size: float) -> tuple[float, float, float, float]:
        return (0.65 / WIDTH, 1 - (top + size) / height, (WIDTH - 0.8) / WIDTH, size / height)

    pair = (figure.add_axes(place(0.4, tall)), figure.add_axes(place(0.5 + tall, low)))
    draw_instant(pair, record, row, wire, frame, norm)
    last = row == len(record.feed) - 1
    text = f"feed {record.feed[row] * 1e3:5.2f} mm"
    text += f"   outcome: {LABEL_WORDS[Label(outcome.label)]}" if last else ""
    pair[0].set_title(text, fontsize=9, loc="left", color=style.INK)
    ax = figure.add_axes(place(0.4 + tall + 0.1 + low + 0.35, curves))
    feed, highest, lowest = travel(record) * 1e3, 1e-3, 0.0
    for words, name, colour, dashes in FORCES:
        values = getattr(record, name)
        ax.plot(feed[: row + 1], values[: row + 1] * 1e3, color=colour, linestyle=dashes, linewidth=1.4, label=words)
        highest, lowest = max(highest, float(np.max(values)) * 1e3), min(lowest, float(np.min(values)) * 1e3)
    style.tidy(ax)
    ax.set_xlim(0.0, feed[-1] * 1.02)  # what comes is not shown, the room for it is
    ax.set_ylim(lowest * 1.05, highest * 1.05)
    ax.set_ylabel("force (mN)", fontsize=7)
    ax.set_xlabel("travel of the hand (mm)", fontsize=7, labelpad=1)
    ax.tick_params(labelsize=7)
    ax.legend(fontsize=7, frameon=False, loc="upper left", bbox_to_anchor=(0.0, -0.3), borderaxespad=0.0, ncol=3)
    style.add_note(figure, f"Colour: {STRAIN}, 0 to {norm.vmax:.3g}; magenta outline: part in the false lumen.")
    return style.palette_image(figure, PIXELS_PER_INCH)
