"""What was seen of an insertion: frames around the first curl from each view, true state beside them, and the score."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ..insertion.imaging import Frames, Imaging
from ..insertion.record import Outcome, Record
from ..insertion.seen import Seen, end_side
from . import style
from .contest import told

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = NDArray[np.float64]

MM = 1e3
PANELS = 5  # frames shown of each view
PANEL = 2.5  # inch
LEFT, TOP, WORDS, SCORE = 0.75, 1.15, 0.45, 2.3  # inch: margin, head, text under a frame, the lowest drawing
SHOWN = 14e-3  # m of apparent wire that each picture is to hold
MARGIN = 1.2e-3  # m around it
TOO_NEAR = 2  # frames: of two events as near as that the later one is shown
LEAD_IN = 0.7e-3  # m of travel before the first event at which the first picture is taken
DARK, BRIGHT = 0.18, 0.86  # greys of wire and ground
FINE = 4  # points to each step of the line when it is painted
LINES = ("-", "--", ":")  # scores of the views, told apart without colour
SIDES = {2: "false lumen", 0: "true lumen"}


def choose_frames(looks: tuple[Seen, ...]) -> list[int]:
    """Frames worth a picture, in order: before the first event, true curl, seen from each view, largest score, last.

    All views have the same frames. Even steps between the widest gaps fill up to PANELS.
    """
    frames = looks[0].frames
    last = len(frames.time) - 1

    def at(time: float) -> int:
        return int(np.clip(np.searchsorted(frames.time, time - 1e-12), 0, last))

    events = [t for look in looks for t in (look.true_time, look.seen_time) if not np.isnan(t)]
    if events:
        chosen = {at(t) for t in events}
        chosen = {k for k in chosen if not any(k < other <= k + TOO_NEAR for other in chosen)}
        path = looks[0].path
        first = min(chosen)
        chosen.add(int(np.searchsorted(path, path[first] - LEAD_IN)))
    else:
        chosen = {int(np.argmax(np.max([look.score for look in looks], axis=0))), 0}
    chosen.add(last)
    while len(chosen) < min(PANELS, last + 1):
        rows = sorted(chosen)
        widest = int(np.argmax(np.diff(rows)))
        chosen.add((rows[widest] + rows[widest + 1]) // 2)
    return sorted(chosen)[:PANELS]


def picture(line: Array, frames: Frames, left: float, bottom: float, size: float) -> Array:
    """Grey picture of an apparent centreline: pixels whose centre lies on the wire's diameter are dark.

    left, bottom, size : corner and side of the square that is shown, m
    """
    count = max(1, round(size / frames.pixel))
    centre = (np.arange(count) + 0.5) * frames.pixel
    x, y = np.meshgrid(left + centre, bottom + centre)
    steps = np.arange(len(line))
    fine = np.linspace(0, len(line) - 1, FINE * len(line))
    tree = cKDTree(np.column_stack([np.interp(fine, steps, line[:, i]) for i in range(2)]))
    away, _ = tree.query(np.column_stack([x.ravel(), y.ravel()]))
    dark = np.reshape(away, x.shape) <= max(0.5 * frames.width, 0.5 * frames.pixel)
    return np.where(dark, DARK, BRIGHT)


def seen_figure(record: Record, outcome: Outcome, looks: tuple[Seen, ...], imaging: Imaging) -> Figure:
    """Figure of what was seen of a record with its classified outcome; `looks` of `insertion.seen.look_from_all`, at
    least one."""
    chosen = choose_frames(looks)
    block = PANEL + WORDS
    note = _note(imaging)
    width = LEFT + PANELS * (PANEL + 0.12) + 0.2
    height = TOP + len(looks) * block + 0.3 + SCORE + 0.5 + style.note_height(note, width)
    figure = style.new_figure(width, height)

    def place(x: float, y: float, wide: float, tall: float) -> Axes:
        return figure.add_axes((x / width, 1.0 - (y + tall) / height, wide / width, tall / height))

    for line, look in enumerate(looks):
        y = TOP + line * block
        left, bottom, size = _crop(look, chosen)
        for column, k in enumerate(chosen):
            ax = place(LEFT + column * (PANEL + 0.12), y, PANEL, PANEL - 0.25)
            shown = picture(look.frames.lines[k], look.frames, left, bottom, size)
            ax.imshow(
                shown, cmap="gray", vmin=0, vmax=1, origin="lower", interpolation="nearest",
                extent=(left * MM, (left + size) * MM, bottom * MM, (bottom + size) * MM),
            )  # fmt: skip
            _label(ax, record, look, k)
            if column == 0:
                _scale(ax, left, bottom, size)
                figure.text(
                    0.25 / width, 1.0 - (y + PANEL / 2) / height, look.frames.view.name, rotation=90, fontsize=10,
                    weight="bold", color=style.INK, ha="center", va="center",
                )  # fmt: skip
    _scores(place(LEFT, TOP + len(looks) * block + 0.3, width - LEFT - 0.3, SCORE), looks, chosen)
    figure.text(0.02, 1.0 - 0.28 / height, "What was seen", fontsize=14, weight="bold", color=style.INK)
    figure.text(
        0.02, 1.0 - 0.62 / height, "   ".join(f"{look.frames.view.name}: {words(look)}." for look in looks),
        fontsize=8.5, color=style.INK,
    )  # fmt: skip
    true = f"True state at the end (on no screen): {told(record, outcome)}"
    true = style.wrapped(true, width - 0.5, 8.5)
    figure.text(0.02, 1.0 - 0.72 / height, true, fontsize=8.5, color=style.INK, va="top")
    style.add_note(figure, note)
    return figure


def _note(imaging: Imaging) -> str:
    """What the pictures are, and what they leave out."""
    return (
        f"Parallel projection, no magnification; wire only, {imaging.radiopaque * MM:g} mm of it radiopaque; "
        f"{imaging.frame_rate:g} frames/s, pixel {imaging.pixel * MM:g} mm, noise {imaging.noise * MM:g} mm; "
        "no beating, no breathing.\nHow the vessel lies in the patient is assumed. True state: of the model, on no "
        "screen. Heavy border: curled or shown as curled; dashed: only one of the two."
    )


def words(look: Seen) -> str:
    """What was seen from one view, in a few words."""
    if np.isnan(look.seen_time):
        if np.isnan(look.true_time):
            return "no curl, none seen"
        return f"curl in the {SIDES[look.true_side]} not seen{', hidden by the view' if look.hidden_by_view else ''}"
    where = SIDES[look.seen_side]
    if np.isnan(look.true_time):
        return f"a curl seen in the {where} after {look.seen_path * MM:.1f} mm, none true"
    late = round(look.late * MM, 1)
    when = "as it began" if late == 0.0 else f"{abs(late):.1f} mm {'after' if late > 0 else 'before'} it counts as one"
    return f"curl in the {where} seen {when}"


def _crop(look: Seen, chosen: list[int]) -> tuple[float, float, float]:
    """Left, bottom and side (m) of the square that holds the wire's end in all chosen frames, on whole pixels."""
    frames = look.frames
    count = round(SHOWN / frames.step)
    ends = np.vstack([frames.lines[k][-count:] for k in chosen])
    low, high = ends.min(axis=0), ends.max(axis=0)
    side = np.ceil((float((high - low).max()) + 2 * MARGIN) / frames.pixel) * frames.pixel
    corner = np.round((0.5 * (low + high) - 0.5 * side) / frames.pixel) * frames.pixel
    return float(corner[0]), float(corner[1]), float(side)


def _label(ax: Axes, record: Record, look: Seen, k: int) -> None:
    """Moment above a frame; true state and what it shows below it."""
    frames = look.frames
    ax.set_xticks([])
    ax.set_yticks([])
    shown, true = bool(look.shown[k]), bool(look.true[k])
    side = SIDES[end_side(record, int(frames.row[k]))]
    ax.set_title(f"{frames.time[k]:.2f} s, travel {look.path[k] * MM:.2f} mm", fontsize=8, loc="left", pad=2)
    box, full = "\u25a1", "\u25a0"
    text = (
        f"{full if true else box} true: {'curled' if true else 'not curled'}, {side}\n"
        f"{full if shown else box} shows {'a curl' if shown else 'no curl'}: score {look.score[k]:.2f}, "
        f"length \u00d7 {frames.foreshortening[k]:.2f}"
    )
    ax.text(0.0, -0.03, text, transform=ax.transAxes, fontsize=7.5, va="top", color=style.INK)
    heavy = true or shown
    for spine in ax.spines.values():
        spine.set_linewidth(1.8 if heavy else 0.6)
        spine.set_linestyle("-" if true == shown else (0, (4, 2)))


def _scale(ax: Axes, left: float, bottom: float, size: float) -> None:
    """Bar of 2 mm in the lower right corner."""
    end = (left + 0.95 * size) * MM
    y = (bottom + 0.06 * size) * MM
    ax.plot([end - 2.0, end], [y, y], color=style.INK, linewidth=2)
    ax.text(end - 1.0, y + 0.02 * size * MM, "2 mm", fontsize=7, ha="center", va="bottom", color=style.INK)


def _scores(ax: Axes, looks: tuple[Seen, ...], chosen: list[int]) -> None:
    """Score of each frame over time, the threshold, the time in which the wire is curled, the pictures' moments."""
    style.tidy(ax)
    time = looks[0].frames.time
    true = looks[0].true
    top = 1.1 * max(2.0, *(float(look.score.max(initial=0.0)) for look in looks))
    ax.fill_between(
        time, 0.0, top, where=true.tolist(), step="mid", facecolor="#d5d8dc", edgecolor="#8a9099", hatch="//",
        linewidth=0.0, label="truly curled", zorder=0,
    )  # fmt: skip
    for look, dashes, colour in zip(looks, LINES, (style.INK, style.SERIES[0], style.MUTED), strict=False):
        ax.plot(time, look.score, dashes, color=colour, linewidth=1.2, label=look.frames.view.name)
        if not np.isnan(look.seen_time):
            ax.plot(look.seen_time, top * 0.97, "v", color=colour, markersize=7, clip_on=False)
    ax.axhline(looks[0].threshold, color=style.INK, linewidth=0.8, linestyle="-.", label="threshold")
    for number, k in enumerate(chosen):
        ax.axvline(time[k], color=style.MUTED, linewidth=0.6, linestyle=":")
        ax.text(
            time[k], 1.02, str(number + 1), transform=ax.get_xaxis_transform(), fontsize=7, ha="center",
            color=style.MUTED,
        )  # fmt: skip
    ax.set_ylim(0.0, top)
    ax.set_xlim(float(time[0]), float(time[-1]))
    ax.set_xlabel("time (s); triangle: a curl has been seen long enough; numbers: the pictures above", fontsize=8)
    ax.set_ylabel("score of the frame (-)", fontsize=8)
    ax.legend(fontsize=7, frameon=True, framealpha=0.9, edgecolor="none", loc="upper left")


def save_seen(record: Record, outcome: Outcome, looks: tuple[Seen, ...], imaging: Imaging, path: Path | str) -> Path:
    """Write the figure of what was seen to `path`."""
    return style.save(seen_figure(record, outcome, looks, imaging), path)
