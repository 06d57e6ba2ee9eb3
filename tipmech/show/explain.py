"""What would have flipped an outcome, as bars and as a sentence. It draws a finished explanation."""

from __future__ import annotations

from math import degrees, log
from textwrap import wrap
from typing import TYPE_CHECKING

from ..outcome import LABEL_WORDS, Label
from ..study.flip import FARTHEST, FARTHEST_ROLL, Explanation, Found, Kind, Run, Search
from .style import INK, MUTED, add_note, label_look, new_figure, wrapped

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH, HEIGHT = 11.0, 5.0  # inch, with one line of title
TITLE_CHARACTERS, TITLE_LINE = 125, 0.2  # characters in a line of 11-point type, inch
TOLD_SIZE, TOLD_LINE = 9, 0.18  # points, inch

NAMES: dict[Kind, str] = {
    Kind.TIP_LOAD: "stiffness (tip load)",
    Kind.ROLL: "roll of the tip",
    Kind.SUPPORT: "support's distance",
    Kind.FRICTION: "friction",
    Kind.FRONT: "front's force",
}
DID: dict[Label, tuple[str, str]] = {
    Label.THROUGH_OUTER_WALL: ("it went through the outer wall", "it would have gone through the outer wall"),
    Label.FALSE_LUMEN_EXTENDED: ("it drove the front on", "it would have driven the front on"),
    Label.FALSE_LUMEN_CURLED: ("it curled in the false lumen", "it would have curled in the false lumen"),
    Label.FALSE_LUMEN_NEITHER: (
        "it stayed in the false lumen and neither curled nor drove the front on",
        "it would have stayed in the false lumen with neither",
    ),
    Label.REENTERED: ("it re-entered the true lumen", "it would have re-entered the true lumen"),
    Label.TRUE_LUMEN_CURLED_OR_BUCKLED: (
        "it curled or buckled in the true lumen",
        "it would have curled or buckled in the true lumen",
    ),
    Label.TRUE_LUMEN: ("it went on in the true lumen", "it would have gone on in the true lumen"),
    Label.NEVER_REACHED_THE_TEAR: ("it never reached the tear", "it would never have reached the tear"),
}


def sentence(e: Explanation) -> str:
    """The one sentence: what it did, and with what smallest change it would have done something else."""
    did = DID[Label(e.outcome.label)][0]
    best = e.smallest
    if best is None or best.label is None:
        return f"{did}; no single change tried would have flipped that"
    return f"{did}; with {_with(best)} {DID[best.label][1]}"


def _with(s: Search) -> str:
    """The change in words."""
    if s.kind is Kind.ROLL:
        return f"the tip rolled by {degrees(s.far):+.0f} degrees"
    what = {Kind.TIP_LOAD: "stiffness", Kind.SUPPORT: "distance of the support from the tear",
            Kind.FRICTION: "friction", Kind.FRONT: "force of the front"}[s.kind]  # fmt: skip
    return f"{s.far:.3g} times the {what}"


def change_words(s: Search, change: float) -> str:
    """A change as text."""
    return f"{degrees(change):+.0f}°" if s.kind is Kind.ROLL else f"x {change:.3g}"


def range_words(s: Search) -> str:
    """What was searched in this direction."""
    tried = [r.change for r in s.runs if r.allowed]
    return f"up to {change_words(s, max(tried, key=lambda c: abs(_place(s.kind, c))))}" if tried else "nothing"


def explanation_figure(e: Explanation, told: str) -> Figure:
    """A bar for each kind of change: the outcome over the change, the flip between two marks.

    told : side of the flap and deciding force of the insertion as it was (`contest.told`)
    """
    from matplotlib.patches import Patch

    text = sentence(e)
    lines = wrap(f"{text[0].upper()}{text[1:]}.", TITLE_CHARACTERS)
    as_it_was = wrapped(f"As it was: {told}", WIDTH - 0.5, TOLD_SIZE)
    height = HEIGHT + TITLE_LINE * (len(lines) - 1) + TOLD_LINE * (as_it_was.count("\n") + 1)
    figure = new_figure(WIDTH, height)
    ax = figure.subplots()
    rows = list(Kind)
    seen = {Label(e.outcome.label)}
    for y, kind in enumerate(rows):
        searches = [s for s in e.searches if s.kind is kind]
        if all(s.found is Found.DOES_NOT_APPLY for s in searches):
            clear = {"facecolor": "white", "edgecolor": "none", "pad": 1.5}
            ax.text(0.0, y, searches[0].why, ha="center", va="center", fontsize=8, color=MUTED, bbox=clear, zorder=4)
            continue
        seen |= _bar(ax, y, kind, searches, Label(e.outcome.label))
    ax.axvline(0.0, color=INK, linewidth=1.4)
    ax.set_yticks(range(len(rows)), [NAMES[k] for k in rows], fontsize=9)
    ax.set_ylim(len(rows) - 0.4, -0.6)
    ax.set_xlim(-1.05, 1.05)
    places = [-1.0, -0.5, 0.0, 0.5, 1.0]
    ax.set_xticks(places, [f"x {FARTHEST**p:.2g}\n{degrees(FARTHEST_ROLL * p):+.0f}°" for p in places], fontsize=8)
    ax.set_xlabel("change: factor, or angle for the roll (line: as it was)", fontsize=9)
    ax.spines[["top", "right", "left"]].set_visible(False)
    handles = [Patch(**label_look(k), label=LABEL_WORDS[k]) for k in Label if k in seen]
    figure.legend(
        handles=handles,
        loc="upper left",
        bbox_to_anchor=(0.16, 0.93 * HEIGHT / height),
        ncols=4,
        frameon=False,
        fontsize=8,
    )
    figure.suptitle(
        "\n".join(lines), fontsize=11, x=0.02, y=1.0 - 0.1 / height, ha="left", va="top", color=INK, linespacing=1.25
    )
    below = 1.0 - (0.16 + TITLE_LINE * len(lines)) / height
    figure.text(0.02, below, as_it_was, fontsize=TOLD_SIZE, ha="left", va="top", color=INK)
    note = add_note(figure, note_words(e))
    figure.subplots_adjust(left=0.17, right=0.97, top=0.84 * HEIGHT / height, bottom=(note + 0.7) / height)
    return figure


def note_words(e: Explanation) -> str:
    """What stands at the foot: how many insertions, and what white is."""
    unsolved = sum(s.unsolved for s in e.searches)
    said = f"{unsolved} not solved (white, hatched grey)" if unsolved else "all solved"
    return (
        f"{e.runs} insertions, {said}. White without hatching: not run, for a search ends at a flip or where there is "
        "no room.\nBars change colour between two insertions."
    )


def _place(kind: Kind, change: float) -> float:
    """Place of a change on the axis: -1 to 1."""
    return change / FARTHEST_ROLL if kind is Kind.ROLL else log(change) / log(FARTHEST)


def _bar(ax: Axes, y: int, kind: Kind, searches: list[Search], base: Label) -> set[Label]:
    """One row; returns the labels in it. Each insertion colours the bar half way to its neighbours."""
    runs = [r for s in searches for r in s.runs if r.allowed and r.label is not None]
    zero = Run(0.0 if kind is Kind.ROLL else 1.0, base)
    ordered = sorted([*runs, zero], key=lambda r: _place(kind, r.change))
    at = [_place(kind, r.change) for r in ordered]
    edges = [at[0], *[0.5 * (a + b) for a, b in zip(at, at[1:], strict=False)], at[-1]]
    for left, right, run in zip(edges, edges[1:], ordered, strict=False):
        label = run.label
        if label is not None:
            ax.barh(y, right - left, left=left, height=0.62, **label_look(label))
    for s in searches:
        if s.found is Found.FLIPPED:
            x = _place(kind, s.far)
            ax.plot([x, x], [y - 0.4, y + 0.4], color=INK, linewidth=1.6)
            ax.text(x, y - 0.42, change_words(s, s.far), ha="center", va="bottom", fontsize=8, color=INK)
    return {r.label for r in ordered if r.label is not None}
