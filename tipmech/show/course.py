"""One procedure as a story: the hand's path and the push over it, the attempts, and the shapes at their ends."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ..insertion.attempts import Course
from ..insertion.classify import travel
from ..insertion.policy import Policy
from ..outcome import END_WORDS, End
from ..study.run_attempts import AttemptsResult
from ..vessel.walls import BACK, FALSE
from .style import FALSE_LUMEN, FALSE_OUTLINE, FLAP, INK, MUTED, SERIES, TRUE_LUMEN, WIRE, add_note, new_figure, tidy
from .view import project

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = NDArray[np.float64]

MM = 1e3
SHOWN = 6  # attempts whose shape is drawn
BEFORE, BEYOND = 8e-3, 10e-3  # m of vessel drawn before the tear and beyond it


def telling(result: AttemptsResult) -> tuple[int, int, int] | None:
    """Wire, angle and point of the procedure that tells most: through in at most SHOWN attempts, of which the most
    showed a curl in the false lumen, then the most entered it; the first of equals. None where none came through."""
    rows, attempts = result.rows, result.attempts
    best: tuple[int, int, int] | None = None
    most = (-1, -1)
    for k in np.flatnonzero(rows["through"] == 1):
        place = tuple(int(rows[name][k]) for name in ("tip_load_index", "angle_index", "index"))
        own = np.ones(len(attempts["index"]), dtype=bool)
        for name, value in zip(("tip_load_index", "angle_index", "index"), place, strict=True):
            own &= attempts[name] == value
        false = attempts["entered"][own] == 1
        found = (int(np.sum(false & (attempts["curl_seen"][own] == 1))), int(np.sum(false)))
        if found > most and int(rows["attempts"][k]) <= SHOWN:
            best, most = (place[0], place[1], place[2]), found
    return best


def course_figure(course: Course, policy: Policy, title: str) -> Figure:
    """Shapes at the end of each attempt's advance above, feed and push over the hand's travel below."""
    shown = course.attempts[:SHOWN]
    figure = new_figure(13.0, 7.2)
    grid = figure.add_gridspec(3, len(shown), height_ratios=[1.5, 1.0, 0.8], hspace=0.5, wspace=0.12)
    path, record = travel(course.record), course.record
    starts = np.concatenate([[0.0], np.cumsum([a.travel for a in course.attempts])])
    turns = _turns(course)
    for k, attempt in enumerate(shown):
        rows = np.flatnonzero((path > starts[k] + 1e-9) & (path <= starts[k + 1] + 1e-9))
        advance = rows[int(np.argmax(record.feed[rows]))]
        ax = figure.add_subplot(grid[0, k])
        _shape(ax, course, int(advance), first=k == 0)
        why = f"rule {attempt.rule}: {policy.rules[attempt.rule - 1].when.replace('_', ' ')}" if attempt.rule else ""
        ax.set_title(f"attempt {k + 1}\n{why or END_WORDS[End(course.end)].split(':')[0]}", fontsize=8, color=INK)
    feed, push = figure.add_subplot(grid[1, :]), figure.add_subplot(grid[2, :])
    for ax, values, label in ((feed, record.feed, "feed, mm"), (push, record.push, "push, mN")):
        for k in range(len(course.attempts)):
            rows = np.flatnonzero((path >= starts[k] - 1e-9) & (path <= starts[k + 1] + 1e-9))
            ax.plot(path[rows] * MM, values[rows] * MM, color=SERIES[k % len(SERIES)], linewidth=1.3)
        for at in turns:
            ax.axvline(at * MM, color=MUTED, linestyle=":", linewidth=0.9)
        ax.set_ylabel(label, fontsize=9)
        ax.set_xlim(0.0, path[-1] * MM)
        tidy(ax)
    push.set_xlabel("travel of the hand, mm (dotted: turned in place)", fontsize=9)
    figure.suptitle(title, fontsize=12, x=0.06, ha="left", color=INK)
    text = (
        "Above: the wire at the farthest advance of each attempt, seen across the plane of the tear; pink: in the "
        "false lumen; red: flap at its first place. The model's true state, not an operator's. Newly opened in all: "
        f"{course.opened_area * 1e6:.2f} mm²."
    )
    note = add_note(figure, text)
    figure.subplots_adjust(left=0.06, right=0.985, top=0.86, bottom=(note + 0.5) / 7.2)
    return figure


def _turns(course: Course) -> list[float]:
    """Travel at which the hand turned in place, m."""
    turned = np.abs(np.diff(course.record.turn, prepend=0.0)) > 0.0
    fed = np.abs(np.diff(course.record.feed, prepend=0.0)) > 0.0
    return sorted(set(np.round(travel(course.record)[turned & ~fed], 9).tolist()))


def _shape(ax: Axes, course: Course, row: int, *, first: bool) -> None:
    """The wire in the plane of the tear: position along the vessel and depth toward the tear, mm."""
    scene = course.record.case.scene
    tear, channel = scene.tear, scene.channel
    s = np.linspace(tear.start - BEFORE, tear.end + channel.length + BEYOND, 300)
    radius = scene.lumen.at(s)
    front = float(course.record.front[row])
    ax.fill_between(s * MM, -radius * MM, radius * MM, color=TRUE_LUMEN, linewidth=0)
    behind = (s >= tear.start) & (s <= front)
    floor = radius + scene.wall.flap_thickness
    ax.fill_between(s[behind] * MM, radius[behind] * MM, floor[behind] * MM, color=FALSE_LUMEN, linewidth=0)
    flap = (s >= tear.end) & (s <= front)
    ax.plot(s[flap] * MM, radius[flap] * MM, color=FLAP, linewidth=1.6)
    along, depth, false = _unrolled(course, row)
    ax.plot(along * MM, depth * MM, color=WIRE, linewidth=1.8)
    ax.plot(np.where(false, along, np.nan) * MM, depth * MM, color=FALSE_OUTLINE, linewidth=1.8)
    ax.plot(along[-1] * MM, depth[-1] * MM, "o", color=FALSE_OUTLINE if false[-1] else WIRE, markersize=3.5)
    ax.set_xlim(s[0] * MM, s[-1] * MM)
    ax.set_ylim(-1.8 * float(radius.max()) * MM, 2.2 * float(radius.max()) * MM)
    tidy(ax)
    ax.grid(False)
    ax.set_xlabel("along the vessel, mm", fontsize=7)
    ax.tick_params(labelsize=7, labelleft=first)
    if first:
        ax.set_ylabel("toward the tear, mm", fontsize=8)


def _unrolled(course: Course, row: int) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Position along the centreline and depth toward the tear's azimuth of each node, m; whether in the false lumen."""
    record = course.record
    s, depth, _ = project(record.case.scene, record.positions[row])
    keep = s > 0.0
    return s[keep], depth[keep], np.isin(record.side[row][keep], (FALSE, BACK))
