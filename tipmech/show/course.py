"""One procedure as a story: the hand's path and the push over it, the attempts, and the shapes at their ends."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ..insertion.attempts import Course
from ..insertion.classify import classify, travel
from ..insertion.policy import Policy
from ..outcome import END_WORDS, End
from ..study.run_attempts import AttemptsResult
from .contest import contest, side_words, told
from .strip import draw_side, frame_of
from .style import INK, MUTED, add_note, new_figure, note_height, tidy, wrapped
from .view import wires

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MM = 1e3
SHOWN = 6  # attempts whose shape is drawn
ACROSS = 3  # shapes side by side, at most
WIDTH, EDGE, BETWEEN = 13.0, 0.7, 0.35  # inch: of the figure, left of its axes, between shapes
HEAD, ABOVE, UNDER = 0.9, 0.72, 0.5  # inch: title, a shape's title, its axis
CURVES = (1.5, 1.2)  # inch, feed and push
LOOKS = ((INK, "-"), (MUTED, (0, (5, 1.5))))  # lines of odd and even attempts
NOTE = (
    "Above: the wire at the farthest advance of each attempt, at its own diameter, seen across the plane of the tear; "
    "equal scales; s unrolled along the centreline; magenta outline: in the false lumen, where depth is the distance "
    "from the vessel's axis. The flap is drawn at rest plus the recorded lift of its lip, and on the wire where that "
    "stands higher (its own bending is not recorded). The model's true state, not an operator's."
)


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
    path, record, forces = travel(course.record), course.record, contest(course.record)
    starts = np.concatenate([[0.0], np.cumsum([a.travel for a in course.attempts])])
    lines = -(-len(shown) // ACROSS)
    across = -(-len(shown) // lines)
    frame = frame_of(record)
    wide = (WIDTH - EDGE - 0.15 - (across - 1) * BETWEEN) / across
    tall = wide * (frame.bottom - frame.top) / (frame.right - frame.left)
    block = ABOVE + tall + UNDER
    text = f"{NOTE} Newly opened in all: {course.opened_area * 1e6:.2f} mm²."
    height = HEAD + lines * block + sum(CURVES) + 0.75 + note_height(text, WIDTH) + 0.4
    figure = new_figure(WIDTH, height)

    def place(x: float, top: float, width: float, size: float) -> Axes:
        return figure.add_axes((x / WIDTH, 1.0 - (top + size) / height, width / WIDTH, size / height))

    for k, attempt in enumerate(shown):
        rows = np.flatnonzero((path > starts[k] + 1e-9) & (path <= starts[k + 1] + 1e-9))
        advance = int(rows[int(np.argmax(record.feed[rows]))])
        ax = place(EDGE + k % across * (wide + BETWEEN), HEAD + k // across * block + ABOVE, wide, tall)
        draw_side(ax, record, advance, wires(record, [advance], plain=True)[0], frame, None)
        ax.set_ylabel("depth (mm)" if k % across == 0 else "", fontsize=8)
        ax.set_xlabel("s along the vessel (mm)", fontsize=8, labelpad=1)
        why = f"rule {attempt.rule}: {policy.rules[attempt.rule - 1].when.replace('_', ' ')}" if attempt.rule else ""
        why = why or END_WORDS[End(course.end)].split(":")[0]
        words = f"attempt {k + 1}, {why}\n{side_words(record, advance)}\n{forces.words(advance)}"
        ax.set_title(words, fontsize=8, loc="left", color=INK)
    top, whole = HEAD + lines * block + 0.2, WIDTH - EDGE - 0.15
    _curves(course, starts, (place(EDGE, top, whole, CURVES[0]), place(EDGE, top + CURVES[0] + 0.3, whole, CURVES[1])))
    figure.suptitle(title, fontsize=12, x=0.05, y=1.0 - 0.15 / height, ha="left", va="top", color=INK)
    end = f"ended: {END_WORDS[End(course.end)]}; {told(record, classify(record))}"
    end = wrapped(end, WIDTH - 1.0, 9.0)
    figure.text(0.05, 1.0 - 0.42 / height, end, fontsize=9, va="top", color=INK)
    add_note(figure, text)
    return figure


def _curves(course: Course, starts: NDArray[np.float64], axes: tuple[Axes, Axes]) -> None:
    """Feed and push over the travel of the hand, the attempts numbered."""
    record, path = course.record, travel(course.record)
    for ax, values, label in zip(axes, (record.feed, record.push), ("feed (mm)", "push (mN)"), strict=True):
        for k in range(len(course.attempts)):
            rows = np.flatnonzero((path >= starts[k] - 1e-9) & (path <= starts[k + 1] + 1e-9))
            colour, dashes = LOOKS[k % len(LOOKS)]
            ax.plot(path[rows] * MM, values[rows] * MM, color=colour, linestyle=dashes, linewidth=1.3)
        for at in _turns(course):
            ax.axvline(at * MM, color=MUTED, linestyle=":", linewidth=0.9)
        ax.set_ylabel(label, fontsize=9)
        ax.set_xlim(0.0, path[-1] * MM)
        tidy(ax)
    for k in range(len(course.attempts)):
        middle = 0.5 * (starts[k] + min(starts[k + 1], path[-1])) * MM
        across = axes[0].get_xaxis_transform()
        axes[0].text(middle, 1.02, str(k + 1), transform=across, fontsize=8, ha="center", va="bottom", color=INK)
    axes[0].tick_params(labelbottom=False)
    axes[1].set_xlabel("travel of the hand (mm); numbers: attempts, full and dashed in turn; dotted: turned in place",
                       fontsize=9)  # fmt: skip


def _turns(course: Course) -> list[float]:
    """Travel at which the hand turned in place, m."""
    turned = np.abs(np.diff(course.record.turn, prepend=0.0)) > 0.0
    fed = np.abs(np.diff(course.record.feed, prepend=0.0)) > 0.0
    return sorted(set(np.round(travel(course.record)[turned & ~fed], 9).tolist()))
