"""Figure of a study of attempts: share through against attempts, what was opened, forces, how procedures ended."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from ..insertion.policy import UNTIL, Action, Rule
from ..outcome import End, Label
from ..study.run_attempts import AttemptsResult, cells_of, solved
from ..study.table import Table
from ..study.uncertainty import NOT_MEASURED
from ..units import from_si
from .bench.marks import MARKERS, colour
from .maps import scene_facts, shared_facts
from .style import INK, LABEL_COLOURS, MUTED, add_note, new_figure, on, tidy

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

END_COLOURS: dict[End, str] = {
    End.TRUE_LUMEN: LABEL_COLOURS[Label.TRUE_LUMEN],
    End.ATTEMPTS_USED_UP: LABEL_COLOURS[Label.FALSE_LUMEN_CURLED],
    End.FEED_USED_UP: LABEL_COLOURS[Label.FALSE_LUMEN_NEITHER],
    End.WIRE_USED_UP: "#c9a227",
    End.PUSH_AT_FORCE_CAP: LABEL_COLOURS[Label.REENTERED],
    End.PERFORATED: LABEL_COLOURS[Label.THROUGH_OUTER_WALL],
    End.PIERCED: LABEL_COLOURS[Label.FALSE_LUMEN_EXTENDED],
    End.ROUND_THE_VESSEL: "#2e8b57",
    End.REENTERED: "#a07fc9",
    End.NOT_SOLVED: LABEL_COLOURS[Label.NOT_SOLVED],
}
SHORT: dict[End, str] = {
    End.TRUE_LUMEN: "through to the true lumen",
    End.ATTEMPTS_USED_UP: "attempts used up",
    End.FEED_USED_UP: "total feed used up",
    End.WIRE_USED_UP: "no more wire, no sign",
    End.PUSH_AT_FORCE_CAP: "push at the cap",
    End.PERFORATED: "outer wall pierced",
    End.PIERCED: "intima pierced",
    End.ROUND_THE_VESSEL: "round the vessel",
    End.REENTERED: "re-entered through a hole",
    End.NOT_SOLVED: "not solved",
}
READING = (
    "Left: share of solved procedures through within so many attempts; bars: wider of the scrambles' and Wilson's 95 % "
    "interval; shaded: bounds with all unsolved procedures as not through, or as through at once. Middle: over all "
    "solved procedures, through or not; the same vessels for every wire (common random numbers). 'Through' is the true "
    "state; rules know the image and the hand only, unless declared otherwise."
)
SPREAD = 0.12  # attempts, between the bars of neighbouring wires
LINES: tuple[Any, ...] = ("-", (0, (5, 2)), (0, (1, 1.2)), (0, (5, 1.5, 1, 1.5)), (0, (5, 1.2, 1, 1.2, 1, 1.2)))
"""Lines of the wires, so that they are told apart without colours."""


def attempts_figure(result: AttemptsResult, uncertainty: str | None = None) -> Figure:
    """Four panels for each commanded angle; a colour, a line and a marker for each wire."""
    study = result.spec.study
    angles = sorted({int(j) for j in result.cells["angle_index"]})
    height = 1.9 + 3.3 * len(angles)
    figure = new_figure(14.0, height)
    axes = figure.subplots(len(angles), 4, squeeze=False, gridspec_kw={"width_ratios": [1.15, 1.0, 1.0, 1.1]})
    for line, j in zip(axes, angles, strict=True):
        cells = [(place, rows) for place, rows in cells_of(result.spec, result.rows) if place["angle_index"] == j]
        _shares(line[0], result, j)
        _spread(line[1], cells, "opened_area", 1e6, "newly opened area, mm²")
        _spread(line[2], cells, "largest_push", 1e3, "largest push, mN")
        _ends(line[3], cells)
        line[0].set_title(f"commanded angle {from_si(study.angles[j], 'deg'):.0f}°", fontsize=9, loc="left", color=INK)
    axes[0][0].legend(
        fontsize=8, frameon=False, title="bench tip load", title_fontsize=8, loc="lower right", handlelength=3.0
    )
    figure.suptitle(f"{result.spec.name}: {study.base.name}", fontsize=12, x=0.05, ha="left", y=1 - 0.12 / height)
    facts = f"{_policy_words(result)}\n{'; '.join([*scene_facts(study), *shared_facts(study)])}."
    note = add_note(figure, f"{facts}\n{READING}\n{uncertainty or NOT_MEASURED}")
    figure.subplots_adjust(
        left=0.05, right=0.985, top=1 - 0.75 / height, bottom=(note + 0.5) / height, wspace=0.28, hspace=0.42
    )
    return figure


def wire_label(result: AttemptsResult, i: int) -> str:
    """The wire's tip load in words."""
    return f"{from_si(result.spec.study.tip_loads[i], 'gf'):.3g} gf"


def look(i: int) -> dict[str, Any]:
    """Plot options of a wire: colour and line."""
    return {"color": colour(i), "linestyle": LINES[i % len(LINES)]}


def _shares(ax: Axes, result: AttemptsResult, j: int) -> None:
    """Share through within k attempts, a curve for each wire."""
    table = result.incidence
    wires = sorted({int(i) for i in table["tip_load_index"]})
    for order, i in enumerate(wires):
        mask = (table["tip_load_index"] == i) & (table["angle_index"] == j)
        k, p, low, high = (table[name][mask] for name in ("attempts", "p", "low", "high"))
        x = k + SPREAD * (order - (len(wires) - 1) / 2)
        mark = MARKERS[i % len(MARKERS)]
        ax.plot(x, p, **look(i), marker=mark, markersize=4, linewidth=1.4, label=wire_label(result, i))
        ax.vlines(x, low, high, color=colour(i), linewidth=1.0)
        bounds = (table[name][mask] for name in ("bound_low", "bound_high"))
        ax.fill_between(x, *bounds, color=colour(i), alpha=0.12, linewidth=0)
    ax.set_ylim(0.0, 1.02)
    ax.set_xticks(np.unique(table["attempts"]))
    ax.set_xlabel("attempts", fontsize=9)
    ax.set_ylabel("share through to the true lumen", fontsize=9)
    tidy(ax)


def _spread(ax: Axes, cells: list[tuple[dict[str, int], Table]], name: str, unit: float, label: str) -> None:
    """Share of procedures at or above a value, a step curve for each wire."""
    for place, rows in cells:
        values = np.sort(unit * rows[name][solved(rows)])
        share = 1.0 - np.arange(len(values)) / max(1, len(values))
        x, y = np.append(values, values[-1:]), np.append(share, 0.0)[: len(values) + 1]
        ax.step(x, y, where="post", **look(place["tip_load_index"]))
    ax.set_ylim(0.0, 1.02)
    ax.set_xlim(left=0.0)
    ax.set_xlabel(label, fontsize=9)
    ax.set_ylabel("share of procedures above it", fontsize=9)
    tidy(ax)


def _ends(ax: Axes, cells: list[tuple[dict[str, int], Table]]) -> None:
    """How procedures ended: a bar for each wire, unsolved ones included."""
    names = []
    for y, (place, rows) in enumerate(cells):
        left = 0
        for end in End:
            count = int(np.sum(rows["end"] == int(end)))
            if count:
                ax.barh(y, count, left=left, color=END_COLOURS[end], height=0.6)
                ax.text(
                    left + count / 2, y, str(count), ha="center", va="center", fontsize=8, color=on(END_COLOURS[end])
                )
            left += count
        names.append(f"{from_si(float(place['tip_load']), 'gf'):.3g} gf")
    present = [end for end in End if any(np.any(rows["end"] == int(end)) for _, rows in cells)]
    for end in present:
        ax.barh(0, 0, color=END_COLOURS[end], label=SHORT[end])
    from matplotlib.ticker import MaxNLocator

    ax.xaxis.set_major_locator(MaxNLocator(integer=True))
    ax.set_yticks(range(len(names)), names)
    ax.set_ylim(-0.5, len(names) + 0.1 + 0.35 * len(present) * len(names) / 2)
    ax.legend(fontsize=7, frameon=False, loc="upper left")
    ax.set_xlabel("procedures", fontsize=9)
    tidy(ax)
    ax.grid(False)
    ax.tick_params(colors=MUTED)


def _policy_words(result: AttemptsResult) -> str:
    """The policy in one line."""
    policy = result.spec.policy
    rules = "; ".join(rule_words(rule) for rule in policy.rules)
    bound = "" if policy.attempts is None else f"at most {policy.attempts} attempts, "
    through = f"through {policy.true_lumen * 1e3:g} mm past the tear"
    return f"Policy: a look every {policy.look_every * 1e3:g} mm; {rules}; {bound}{through}."


LEVEL_WORDS = {
    "buckled_seen": ("beyond the natural bend by", "deg", "°"),
    "push_above": ("", "mN", " mN"),
    "advance_past_tear": ("by", "mm", " mm"),
    "true_lumen_past_tear": ("by", "mm", " mm"),
}


def rule_words(rule: Rule) -> str:
    """One rule in words."""
    sign = rule.when.replace("_", " ")
    if rule.when in LEVEL_WORDS:
        before, unit, after = LEVEL_WORDS[rule.when]
        sign = f"{sign} {before} {from_si(rule.level, unit):.4g}{after}".replace("  ", " ")
    known = " (true state, not an operator's)" if rule.true_state else ""
    return f"{sign}{known}: {', '.join(action_words(action) for action in rule.then)}"


def action_words(action: Action) -> str:
    """One action in words."""
    amount = f"{from_si(action.amount, 'mm'):.4g} mm"
    turned = f", turning by {from_si(action.turn, 'deg'):.4g}°" if action.turn else ""
    if action.kind == "turn":
        return f"turn by {from_si(action.amount, 'deg'):.4g}°"
    if action.kind == "strokes":
        return f"{action.count} strokes of {amount}, each drawn back by {from_si(action.back, 'mm'):.4g} mm"
    if action.kind == "withdraw_before_tear":
        return f"withdraw to {amount} before the tear"
    if action.kind in UNTIL:
        return f"{action.kind.replace('_', ' ')} (at most {amount})"
    return f"{action.kind} {amount}{turned}"
