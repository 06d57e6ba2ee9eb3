"""Figure of experiments/seen: four looks as they stand on the screen; curls hidden and false alarms over the views;
curls hidden over the angle to their plane; how late they are seen."""

from collections.abc import Callable, Mapping, Sequence
from math import radians
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from experiments.seen.measure import AFTER, CRANIAL, HANDS, LAO, MM, USUAL, Row, curl_of
from experiments.seen.summary import at, column, has_seen, is_seen, share_of
from tipmech.insertion.classify import travel
from tipmech.insertion.imaging import Imaging, frames
from tipmech.insertion.projection import View
from tipmech.insertion.record import Record
from tipmech.insertion.seen import Detector, scores
from tipmech.show import style
from tipmech.show.seen import picture

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

LINES = {15.0: "-", 7.5: "--", 3.8: ":"}
BINS = np.arange(0, 91, 10)  # degrees
SHOWN_AT = np.array([0.0, 1.0, 2.5])  # mm, where the curves of lateness have their intervals
SIDE = 11e-3  # m shown of each look
TIP_AT = 0.62  # of that side, where the tip stands
NOTE = (
    "Top: 15 frames/s, pixel 0.2 mm, noise 0.1 mm; the wire only; bar 2 mm. Below: share of looks (one insertion from "
    "one view) at 15 frames/s, hand at 5 mm/s; crosses: the usual views. A true curl is hidden if it is not seen "
    "within 3 mm of travel before or after its start, though it is from across its own plane. Small numbers under the "
    "shares, and bars: 95 % intervals, insertions drawn anew (looks at one hang together), Wilson's where all agree; "
    "over the bars: insertions. Right: usual views, 5 noises each. Invented wires, vessels and orientation."
)


def save_figure(looks: list[Row], rates: list[Row], records: Mapping[str, Record], path: Path) -> Path:
    """Write the figure of the experiment's rows; records by name, for the looks shown."""
    figure = style.new_figure(15.5, 9.4)
    figure.text(0.02, 0.965, "What is seen beside what is true", fontsize=14, weight="bold", color=style.INK)
    _examples(figure, looks, records)
    boxes = ((0.045, 0.2), (0.295, 0.2), (0.545, 0.19), (0.785, 0.2))
    axes = [figure.add_axes((left, 0.115, width, 0.37)) for left, width in boxes]
    visible = {r["name"] for r in looks if r["set"] == "across" and is_seen(r)}
    grid = [r for r in looks if r["set"] == "grid"]
    curls = [r for r in grid if r["name"] in visible]
    plain = [r for r in grid if not r["group"].startswith("curl")]
    _map(axes[0], curls, lambda r: not is_seen(r), "True curls hidden by the view, %")
    _map(axes[1], plain, has_seen, "A curl seen where there is none, %")
    axes[1].set_ylabel("")
    _angles(axes[2], curls)
    _late(axes[3], [r for r in rates if r["set"] == "usual"])
    style.add_note(figure, NOTE)
    return style.save(figure, path)


def choose_looks(looks: Sequence[Row]) -> list[tuple[str, Row]]:
    """Four looks and what they show, each the first of its kind: a curl in the false lumen across its plane, the same
    hidden, a curl seen in the true lumen, a curl seen in a wire that never curls."""
    grid = [r for r in looks if r["set"] != "across"]
    false_curl = {r["name"] for r in grid if r["group"] == "curl, false lumen" and not is_seen(r)}
    kinds: list[tuple[str, list[Row]]] = [
        (
            "Curl in the false lumen, across its plane: seen",
            [r for r in looks if r["set"] == "across" and r["name"] in false_curl and is_seen(r)],
        ),
        ("", []),
        (
            "Curl in the true lumen, seen: it misleads",
            [r for r in grid if r["set"] == "usual" and r["group"] == "curl, true lumen" and is_seen(r)],
        ),
        ("No curl, one is seen", [r for r in grid if not r["group"].startswith("curl") and has_seen(r)]),
    ]
    if kinds[0][1]:
        same = [r for r in grid if r["name"] == kinds[0][1][0]["name"] and not is_seen(r)]
        flat = max(same, key=lambda r: float(r["to_normal_deg"]))
        kinds[1] = ("The same moment, nearly in its plane: hidden", [flat])
    return [(words, rows[0]) for words, rows in kinds if rows]


def _examples(figure: "Figure", looks: list[Row], records: Mapping[str, Record]) -> None:
    """The chosen looks as pictures, the detector's score below each: each at its largest score within AFTER past the
    true curl, or when a curl had been seen where there is none; a hidden curl when it shows best across its plane."""
    travels: dict[str, float] = {}
    for column_, (words, row) in enumerate(choose_looks(looks)):
        record = records[row["name"]]
        curl = curl_of(record)
        path = travel(record)
        view = View(radians(row["lao_deg"]), radians(row["cranial_deg"]))
        seen = frames(record, Imaging(hand_rate=HANDS[0]), view)
        score, here = scores(seen, Detector()), path[seen.row]
        if curl is None:
            k = int(np.argmin(np.abs(MM * here - row["first_seen_mm"])))
        elif row["name"] in travels:
            k = int(np.argmin(np.abs(here - travels[row["name"]])))
        else:
            near = (here >= curl.start) & (here <= curl.start + AFTER)
            k = int(np.argmax(np.where(near, score, -1.0)))
            travels[row["name"]] = float(here[k])
        line = seen.lines[k]
        left, bottom = np.round((line[-1] - np.array([TIP_AT, TIP_AT]) * SIDE) / seen.pixel) * seen.pixel
        ax = figure.add_axes((0.03 + 0.245 * column_, 0.575, 0.21, 0.345))
        shown = picture(line, seen, float(left), float(bottom), SIDE)
        extent = (0.0, SIDE * MM, 0.0, SIDE * MM)
        ax.imshow(shown, cmap="gray", vmin=0, vmax=1, origin="lower", interpolation="nearest", extent=extent)
        ax.plot([8.6, 10.6], [0.5, 0.5], color=style.INK, linewidth=2)
        ax.set_xticks([])
        ax.set_yticks([])
        ax.set_title(words, fontsize=9, loc="left")
        text = f"{view.name}; travel {MM * here[k]:.1f} mm; score {score[k]:.2f}"
        ax.text(0.0, -0.02, f"{text}\n{row['name']}", transform=ax.transAxes, fontsize=8, va="top", color=style.INK)


def _map(ax: "Axes", rows: Sequence[Row], hit: Callable[[Row], bool], title: str) -> None:
    """Share of hits from each view of the grid as grey, with its percentage."""
    here = {(a, b): [hit(r) for r in rows if at(r) == (a, b)] for a in LAO for b in CRANIAL}
    share = np.array([[np.mean(here[a, b]) if here[a, b] else np.nan for a in LAO] for b in CRANIAL])
    half = (LAO[1] - LAO[0]) / 2, (CRANIAL[1] - CRANIAL[0]) / 2
    extent = (LAO[0] - half[0], LAO[-1] + half[0], CRANIAL[0] - half[1], CRANIAL[-1] + half[1])
    ax.imshow(share, cmap="Greys", vmin=0.0, vmax=1.0, origin="lower", extent=extent, aspect="auto")
    for i, b in enumerate(CRANIAL):
        for j, a in enumerate(LAO):
            ink = "white" if share[i, j] > 0.55 else style.INK
            ax.text(a, b + 1.9, f"{100 * share[i, j]:.0f}", ha="center", va="center", fontsize=7.5, color=ink)
            ends = "-".join(f"{100 * v:.0f}" for v in share_of([r for r in rows if at(r) == (a, b)], hit)[1:3])
            ax.text(a, b - 2.2, ends, ha="center", va="center", fontsize=5.6, color=ink)
    for a, b in USUAL:
        ax.plot(a, b, "x", color=style.SERIES[1], markersize=13, markeredgewidth=2)
    ax.set_xlabel("RAO  \u2190  left-right angle (\u00b0)  \u2192  LAO", fontsize=8)
    ax.set_ylabel("caudal  \u2190  angle (\u00b0)  \u2192  cranial", fontsize=8)
    ax.tick_params(labelsize=8)
    ax.set_title(f"{title}  ({len({r['name'] for r in rows})} insertions)", fontsize=9, loc="left")


def _angles(ax: "Axes", rows: Sequence[Row]) -> None:
    """Share hidden over the angle between line of sight and the normal of the curl's plane."""
    style.tidy(ax)
    angle = column(rows, "to_normal_deg")
    for low, high in zip(BINS[:-1], BINS[1:], strict=True):
        here = (angle >= low) & (angle < high + (high == BINS[-1]))
        if not here.any():
            continue
        part = [r for r, inside in zip(rows, here, strict=True) if inside]
        share, least, most, count = share_of(part, lambda r: not is_seen(r))
        bars = [[share - least], [most - share]]
        ax.errorbar((low + high) / 2, share, yerr=bars, fmt="o", color=style.INK, capsize=3, markersize=5)
        ax.text((low + high) / 2, most + 0.02, str(count), fontsize=6.5, ha="center", color=style.MUTED)
    ax.set_xlim(0, 90)
    ax.set_ylim(0, 1.05)
    ax.set_xlabel("line of sight off the normal of the curl's plane (\u00b0)", fontsize=8)
    ax.set_ylabel("share of looks in which the curl is hidden", fontsize=8)
    ax.tick_params(labelsize=8)
    ax.set_title("Hidden by foreshortening", fontsize=9, loc="left")


def _late(ax: "Axes", rows: Sequence[Row]) -> None:
    """Share of curls seen by a travel past the start of the true curl, by frame rate and speed of the hand; its
    interval at some travels."""
    style.tidy(ax)
    aside = iter(np.linspace(-0.25, 0.25, len(HANDS) * len(LINES)))
    for hand, colour in zip(HANDS, (style.INK, style.SERIES[3]), strict=True):
        for rate, dashes in LINES.items():
            part = [r for r in rows if (r["frames_per_s"], r["hand_mm_s"]) == (rate, MM * hand)]
            late = column(part, "late_mm")
            seen = np.sort(late[~np.isnan(late)])
            share = np.arange(1, len(seen) + 1) / len(late)
            ax.step(seen, share, dashes, color=colour, linewidth=1.3, label=f"{rate:g} frames/s, {MM * hand:g} mm/s")
            for at_mm in SHOWN_AT + next(aside):
                found, least, most, _ = share_of(part, lambda r, by=at_mm: bool(r["late_mm"] <= by))
                bars = [[found - least], [most - found]]
                ax.errorbar(at_mm, found, yerr=bars, color=colour, linewidth=0.8, capsize=1.5)
    ax.axvline(0.0, color=style.MUTED, linewidth=0.7)
    ax.set_xlim(-3, 3)
    ax.set_ylim(0, 1)
    ax.set_xlabel("travel past the start of the true curl (mm)", fontsize=8)
    ax.set_ylabel("share of true curls seen", fontsize=8)
    ax.tick_params(labelsize=8)
    ax.legend(fontsize=7, frameon=False, loc="upper left")
    ax.set_title("How late, by frame rate and hand", fontsize=9, loc="left")
