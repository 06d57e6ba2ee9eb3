"""The film strip of an insertion: instants in the section and in the plane of the pocket, and the histories below."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from ..insertion.classify import travel
from ..insertion.record import Outcome, Record
from ..outcome import STOP_WORDS, Label, Stop
from . import draw, style, walls
from .contest import contest, force_words, outcome_words, side_words
from .support import NOTE as SUPPORT_NOTE
from .support import draw_support, draw_wire_of, sleeve_of
from .view import Array, Wire, lifted_gap, mirrored, stations, support_axis, wires

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import Normalize
    from matplotlib.figure import Figure

MM = 1e3
LOOK_BACK = 10e-3  # m of vessel shown upstream of the tear, at most
OUTSIDE, LABEL = 0.4e-3, 0.5e-3  # m: outer wall drawn, room under it for a label
LABEL_SHARE = 0.025  # of the drawing's length, if more
LOOK_AHEAD = 1.5e-3  # m shown beyond the front or the leading point
INSTANTS = 6
COLUMN = 7.3  # inch, width of one drawing
HEAD = 1.45  # inch, above the drawings
SIGNS = 110  # in type of 8.5 points, over a drawing
BOLD = 10.5  # points, of plain type as wide as bold type of 9
TWO_LINES = 0.38  # inch, over a section: what happens, and where the wire lies
SMALLEST_STRAIN_RANGE = 2e-3
STRAIN = "bending strain of the outer fibre, beyond the shaped form"
NUMBER = 0.11  # inch, from one instant's number to the next
STRAIN_TICKS = 4  # steps of the colour bar, at most: more run into each other
FORCES: tuple[tuple[str, str, str, Any], ...] = (
    ("push at the hand", "push", style.SERIES[0], "-"),
    ("front", "force_front", style.INK, (0, (4, 1.5))),
    ("tip", "tip_force", style.SERIES[3], (0, (1, 1))),
)
"""Forces over the feed: words, name in the record, colour, and a line of its own so that they differ in grey too."""


@dataclass(frozen=True)
class Frame:
    """Limits of the drawings, m: s from `left` to `right`, depth from `top` to `bottom`, |z| up to `half`."""

    left: float
    right: float
    top: float
    bottom: float
    half: float


def choose_instants(record: Record, outcome: Outcome) -> list[tuple[int, str]]:
    """Recorded increments worth a picture, in order, each with what happens there.

    Start, reaching the tear, entry, first curl, extension, largest push, end; even steps between the largest gaps
    fill up to six.
    """
    last = len(record.feed) - 1
    events: dict[int, list[str]] = {0: ["start"]}

    def note(row: int, text: str) -> None:
        events.setdefault(int(np.clip(row, 0, last)), []).append(text)

    path = travel(record)

    def at(travelled: float) -> int:
        return int(np.argmin(np.abs(path - travelled)))

    if np.isfinite(outcome.reached):
        note(at(outcome.reached), "reaches the mark" if record.case.scene.tear.intact else "reaches the tear")
        for value, text in (
            (outcome.entered, "enters the false lumen"),
            (outcome.extended, "plane extended by 0.5 mm"),
            (outcome.curled, "first curl"),
        ):
            if np.isfinite(value):
                note(at(outcome.reached + value), text)
    note(int(np.argmax(record.push)), "largest push")
    note(last, "end")
    while len(events) < min(INSTANTS, last + 1):
        rows = sorted(events)
        gaps = np.diff(rows)
        widest = int(np.argmax(gaps))
        if gaps[widest] < 2:
            break
        events[rows[widest] + int(gaps[widest]) // 2] = ["between"]
    return [(row, ", ".join(events[row])) for row in sorted(events)]


def frame_of(record: Record) -> Frame:
    """Limits that hold all instants: from 10 mm before the tear (or the mouth) to beyond front and leading point."""
    scene = record.case.scene
    mouth = float(support_axis(record.case, 1e-3)[0][-1])
    left = max(mouth - 1.5e-3, scene.tear.start - LOOK_BACK)
    left = min(left, scene.tear.start - 1e-3)
    right = max(float(np.nanmax(record.front)), float(np.nanmax(record.lead_s))) + LOOK_AHEAD
    s = np.linspace(left, right, 200)
    outer = float(np.max(scene.lumen.at(s))) + scene.wall.flap_thickness + OUTSIDE
    grown = float(np.max(record.margins, initial=0.0))
    half = max(scene.channel.room / 2 + grown, scene.tear.half_width, float(scene.lumen.at(s).max())) + 0.35e-3
    return Frame(left, right, -outer, outer + label_room(left, right), half)


def label_room(left: float, right: float) -> float:
    """Room for a label under the outer wall of a drawing from `left` to `right`, m."""
    return max(LABEL, LABEL_SHARE * (right - left))


def strain_norm(shown: list[Wire], frame: Frame) -> Normalize:
    """Colour scale of the bending strain over the visible wire at all instants (square root)."""
    return strain_norm_of([w.strain[w.s > frame.left] for w in shown])


def strain_norm_of(strains: list[Array]) -> Normalize:
    """Colour scale up to the largest of bending strains, square root."""
    from matplotlib.colors import PowerNorm

    top = max((float(strain.max(initial=0.0)) for strain in strains), default=0.0)
    return PowerNorm(0.5, 0.0, max(top, SMALLEST_STRAIN_RANGE))


def draw_instant(axes: tuple[Axes, Axes], record: Record, row: int, wire: Wire, frame: Frame, norm: Normalize) -> None:
    """One instant: the section above, the plane of the pocket below."""
    side_view, plan = axes
    draw_side(side_view, record, row, wire, frame, norm)
    side_view.tick_params(labelbottom=False)
    walls.draw_plan(plan, record.case.scene, walls.at_row(record, row))
    draw.draw_wire(plan, wire, wire.around, norm, faint_true=True)
    _limits(plan, frame, -frame.half, frame.half)
    plan.set_ylabel("z (mm)", fontsize=7)
    plan.set_xlabel("s along the vessel (mm)", fontsize=7, labelpad=1)


def _limits(ax: Axes, frame: Frame, low: float, high: float) -> None:
    """Equal scales, limits in m, thin ticks."""
    ax.set_xlim(frame.left * MM, frame.right * MM)
    ax.set_ylim(low * MM, high * MM)
    ax.set_aspect("equal", adjustable="box")
    ax.tick_params(labelsize=7, length=2)
    ax.spines[["top", "right"]].set_visible(False)


def draw_side(ax: Axes, record: Record, row: int, wire: Wire, frame: Frame, norm: Normalize | None) -> None:
    """The section at one instant: walls, flap as it is lifted, support and wire; `norm` None = a plain wire."""
    from matplotlib.patheffects import withStroke

    scene = record.case.scene
    front = float(record.front[row])
    s = stations(scene, frame.left, frame.right, front)
    at = walls.along_at_row(record, row)
    gap, behind = lifted_gap(scene, s, front, wire, float(record.lip[row])), None
    if at.back < scene.tear.start:  # the same, mirrored, with a firm lip
        turned = scene.tear.start + scene.tear.end
        behind = lifted_gap(scene, turned - s[::-1], turned - at.back, mirrored(scene, wire), 0.0)[::-1]
    walls.draw_section(ax, scene, s, gap, at, behind)
    draw_support(ax, record.case)
    draw_wire_of(ax, record.case, wire, norm)
    _limits(ax, frame, frame.bottom, frame.top)
    ax.set_ylabel("depth (mm)", fontsize=7)
    a = float(scene.lumen.at(np.array(frame.right))) * MM
    options: dict[str, Any] = {"fontsize": 7.5, "style": "italic", "ha": "right", "va": "center", "zorder": 9}
    words_at = frame.right if scene.plug is None else max(frame.left + 2.5e-3, min(frame.right, scene.plug.start))
    over_wire = [withStroke(linewidth=2.0, foreground="white")]
    ax.text(words_at * MM - 0.15, -0.75 * a, "true lumen", color="#31658f", path_effects=over_wire, **options)
    if at.whole:
        text = "wall whole" if scene.tear.weak_toughness is None else "wall whole; dotted: weak spot"
    else:
        text = "false lumen under the red flap"
    ax.text(
        frame.right * MM - 0.15,
        (frame.bottom - 0.5 * label_room(frame.left, frame.right)) * MM,
        text,
        color=style.FALSE_OUTLINE,
        **options,
    )
    if scene.plug is not None and at.plug < frame.right:
        box = {"boxstyle": "round,pad=0.15", "fc": "white", "ec": "none", "alpha": 0.85}
        middle = 0.5 * (at.plug + min(frame.right, scene.plug.end)) * MM
        ax.text(middle, 0.0, "plug", color=style.INK, bbox=box, **(options | {"ha": "center"}))


def film_strip(record: Record, outcome: Outcome) -> Figure:
    """The film strip of a record with its classified outcome."""
    chosen = choose_instants(record, outcome)
    shown, forces = wires(record, [row for row, _ in chosen]), contest(record)
    frame = frame_of(record)
    norm = strain_norm(shown, frame)
    scale = (COLUMN - 0.75) / (frame.right - frame.left)  # inch per m
    tall, low = (frame.bottom - frame.top) * scale, 2 * frame.half * scale
    lines = (len(chosen) + 1) // 2
    block = tall + low + TWO_LINES + 0.56
    height = HEAD + lines * block + 3.9
    figure = style.new_figure(2 * COLUMN, height)

    def place(x: float, y_top: float, width: float, tall_now: float) -> Axes:
        return figure.add_axes(
            (x / (2 * COLUMN), 1 - (y_top + tall_now) / height, width / (2 * COLUMN), tall_now / height)
        )

    for k, ((row, text), wire) in enumerate(zip(chosen, shown, strict=True)):
        x, y = (k % 2) * COLUMN + 0.6, HEAD + (k // 2) * block + TWO_LINES
        pair = (place(x, y, COLUMN - 0.75, tall), place(x, y + tall + 0.08, COLUMN - 0.75, low))
        draw_instant(pair, record, row, wire, frame, norm)
        said = f"{side_words(record, row)}; {forces.words(row)}"
        title = f"{k + 1}  {text}, feed {record.feed[row] * MM:.2f} mm\n{said}"
        pair[0].set_title(title, fontsize=8.5 * min(1.0, SIGNS / len(said)), loc="left", color=style.INK)
    _histories(figure, place, record, chosen, HEAD + lines * block + 0.35)
    _heading(figure, record, outcome, norm, height)
    style.add_note(
        figure,
        "Equal scales, s unrolled along the centreline; the wire has its own diameter; the flap is drawn at rest "
        "plus the recorded lift of its lip, and on the wire where that stands higher (its own bending is not "
        "recorded); magenta outline: part in the false lumen; there depth is the distance from the vessel's axis."
        f"{' The tear turns round the vessel; both rows follow it.' if record.case.scene.tear.spiral else ''}\n"
        "Lower rows: the pocket's surface, z along the circumference, margins at ±W/2 and what they opened, dotted: "
        "first front, dashed: width that the front opened, pale: wire outside the false channel. They are seen from "
        f"the lumen, as the unrolled wall is: z grows as the azimuth does."
        f"{' ' + SUPPORT_NOTE if sleeve_of(record.case).broken else ''}",
    )
    return figure


def _heading(figure: Figure, record: Record, outcome: Outcome, norm: Normalize, height: float) -> None:
    """Title, outcome in words, colour bar of the strain."""
    label = Label(outcome.label)
    top = 1 - 0.3 / height
    figure.text(0.04, top, "\u25a0", fontsize=16, color=style.LABEL_COLOURS[label])
    figure.text(0.055, top, f"Outcome: {outcome_words(outcome)}", fontsize=14, color=style.INK, weight="bold")
    push, tip = outcome.max_push * 1e3, outcome.max_tip_force * 1e3
    text = (
        f"{record.case.profile.name}; ended because {STOP_WORDS[Stop(record.stop)]}; plane extended by "
        f"{outcome.extension * MM:.2f} mm; largest push {push:.1f} mN, largest tip force {tip:.1f} mN"
        f"{'; jammed against the front (order of snaps decides)' if outcome.jammed else ''}"
    )
    figure.text(0.04, 1 - 0.86 / height, text, fontsize=9, color=style.INK)
    where, force = side_words(record, -1), force_words(record, outcome)
    end = style.wrapped(f"At the end: {where}; {force}", 0.92 * 2 * COLUMN, BOLD)
    figure.text(0.04, 1 - 0.94 / height, end, fontsize=9, color=style.INK, weight="bold", va="top")
    strain_bar(figure, (0.7, 1 - 0.3 / height, 0.27, 0.12 / height), norm)


def strain_bar(figure: Figure, place: tuple[float, float, float, float], norm: Normalize) -> None:
    """The scale of the wire's colours, its label under it."""
    from matplotlib import colormaps
    from matplotlib.cm import ScalarMappable
    from matplotlib.ticker import MaxNLocator

    mapped, ticks = ScalarMappable(norm, colormaps[style.WIRE_CMAP]), MaxNLocator(STRAIN_TICKS)
    colours = figure.colorbar(mapped, cax=figure.add_axes(place), orientation="horizontal", ticks=ticks)
    colours.ax.tick_params(labelsize=7, length=2)
    colours.set_label(STRAIN, fontsize=7, labelpad=1)


def _histories(figure: Figure, place: object, record: Record, chosen: list[tuple[int, str]], top: float) -> None:
    """Forces, tip angle and front against feed (travel, where the wire was drawn back), with the instants marked."""
    assert callable(place)
    width = (2 * COLUMN - 0.6 - 0.3 - 2 * 0.75) / 3
    onward = bool(np.all(np.diff(record.feed) >= 0.0))
    feed = (record.feed if onward else travel(record)) * MM
    axes = [place(0.65 + k * (width + 0.75), top, width, 2.1) for k in range(3)]
    for words, name, colour, dashes in FORCES:
        axes[0].plot(feed, getattr(record, name) * 1e3, color=colour, linestyle=dashes, label=words, linewidth=1.3)
    axes[0].set_ylabel("force (mN)", fontsize=8)
    axes[1].plot(feed, np.degrees(record.tip_angle), color=style.SERIES[4], linewidth=1.2)
    axes[1].axhline(90, color=style.MUTED, linewidth=0.7, linestyle="--")
    axes[1].set_ylabel("tip against vessel axis (°)", fontsize=8)
    start = record.case.scene.tear.end
    axes[2].plot(feed, (record.front - start) * MM, color=style.INK, label="front", linewidth=1.4)
    axes[2].plot(
        feed, (record.lead_s - start) * MM, color=style.SERIES[0], label="leading point", linewidth=1, linestyle="--"
    )
    axes[2].plot(
        feed,
        (record.lead_false_s - start) * MM,
        color=style.SERIES[1],
        label="leading point, false lumen",
        linewidth=2.2,
        linestyle=":",
    )
    if not np.all(np.isnan(record.front_back)):
        back: dict[str, Any] = {"color": style.SERIES[2], "linestyle": (0, (3, 1, 1, 1)), "linewidth": 1.3}
        axes[0].plot(feed, record.force_front_back * 1e3, label="front behind the upstream lip", **back)
        axes[2].plot(
            feed, (record.front_back - record.case.scene.tear.end) * MM, label="front behind the upstream lip", **back
        )
    axes[2].axhline(0, color=style.FLAP, linewidth=0.8, linestyle="--")
    axes[2].set_ylabel("beyond the downstream lip (mm)", fontsize=8)
    for ax in axes:
        style.tidy(ax)
        ax.set_xlabel("feed at the hand (mm)" if onward else "travel of the hand, on and back (mm)", fontsize=8)
        _numbers(ax, feed[[row for row, _ in chosen]], width)
    for ax in (axes[0], axes[2]):  # under the axes, where no line is
        ax.legend(fontsize=7, frameon=False, loc="upper left", bbox_to_anchor=(0.0, -0.19), ncol=2, borderaxespad=0.0)


def _numbers(ax: Axes, at: Array, width: float) -> None:
    """Numbers of the instants above axes `width` inches wide, each tied to its line, apart where the lines are near."""
    low, high = ax.get_xlim()
    places = spread(at, NUMBER * (high - low) / width)
    for k, (x, place) in enumerate(zip(at, places, strict=True)):
        ax.axvline(x, color=style.MUTED, linewidth=0.5, linestyle=":")
        ax.annotate(
            str(k + 1), (x, 1.0), (place, 1.04), ax.get_xaxis_transform(), fontsize=7, ha="center", va="bottom",
            color=style.MUTED, arrowprops={"arrowstyle": "-", "color": style.MUTED, "lw": 0.5, "shrinkA": 0},
        )  # fmt: skip


def spread(at: Array, apart: float) -> Array:
    """Places nearest to increasing ones, in least squares, that are at least `apart` from each other."""
    from scipy.optimize import isotonic_regression

    steps = apart * np.arange(len(at))
    return np.asarray(isotonic_regression(at - steps).x + steps)


def save_strip(record: Record, outcome: Outcome, path: Path | str) -> Path:
    """Write the film strip to `path`."""
    return style.save(film_strip(record, outcome), path)
