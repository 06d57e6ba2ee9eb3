"""Results of a study: its figures and its tables with intervals, by kind."""

from collections.abc import Callable
from math import isfinite
from typing import Any

import numpy as np

from ...study.atlas import SIGN_WORDS, Sign
from ...study.atlas_tables import no_news
from ...study.table import select
from .figures import pictures
from .folder import Finished, lines
from .numbers import WIDER, angle, area, chance, interval, load, number, place, probability
from .parts import NONE, Block, Section, Text, grid
from .results_attempts import attempts_results
from .results_compare import compare_results
from .results_curl import curl_results
from .results_sensitivity import sensitivity_results

MOST_ROWS = 240  # of a table on the page: beyond it the file has them all, and the page says so
MAP_EVENTS = {
    "reached": "tip reaches the tear",
    "entered": "enters the false lumen",
    "entered_curled": "entered and curled",
    "extended": "plane extended",
    "curled_false": "curls in the false lumen",
    "curled_true": "curls in the true lumen",
}


def results(study: Finished) -> Section:
    """Figures first, then the tables."""
    made = TABLES[study.kind](study)
    about = Text(
        "Figures first (on paper on pages of their own), then tables: what a figure shows stands in the tables, or in "
        "the file that a table's source names. Estimates are over solved runs."
    )
    return Section("results", "Results", (about, *pictures(study), *made))


def first_rows(rows: list[Any], file: str) -> tuple[list[Any], list[Block]]:
    """At most `MOST_ROWS` rows, and a sentence where there are more."""
    if len(rows) <= MOST_ROWS:
        return rows, []
    return rows[:MOST_ROWS], [Text(f"The first {MOST_ROWS} of {len(rows)} rows; all of them are in {file}.")]


def map_results(study: Finished) -> list[Block]:
    """A row for each cell."""
    cells = study.tables["cells"]
    shown = {name: words for name, words in MAP_EVENTS.items() if f"p_{name}" in cells}
    rows = []
    for cell in lines(cells):
        if not cell["feasible"]:
            rows.append((place(cell), "does not fit", *[NONE] * (len(shown) + 1)))
            continue
        opened = f"{area(cell['opened_area'])}\n{interval(cell['opened_area_low'], cell['opened_area_high'], area)}"
        rows.append((place(cell), f"{cell['n_solved']}/{cell['n']}", *(chance(cell, n) for n in shown), opened))
    rows, more = first_rows(rows, "cells.csv")
    head = ("tip load, angle", "solved / run", *shown.values(), "mean opened area, mm²")
    source = "cells.parquet: n_solved, n, p_ and opened_area with their _low, _high, _wilson_low, _wilson_high"
    out: list[Block] = [grid(f"Probabilities of each cell, given an opening; {WIDER}", head, rows, source), *more]
    if "curled_false" not in shown:
        out.append(
            Text("Curls are not split by lumen in this folder's cells.parquet: its command did not come so far.")
        )
    return [*out, *_bounds(study, shown), *_over(study)]


def _bounds(study: Finished, shown: dict[str, str]) -> list[Block]:
    """Bounds of cells with unsolved insertions."""
    cells = [c for c in lines(study.tables["cells"]) if c["n_not_solved"]]
    if not cells:
        return [Text("Every insertion was solved: the bounds for unsolved ones are the estimates themselves.")]
    rows = [
        (place(c), str(c["n_not_solved"]), *(_ends(c, f"p_{n}_bound_low", f"p_{n}_bound_high") for n in shown))
        for c in cells
    ]
    caption = "Cells with unsolved insertions: bounds with all of these without, and with, the event"
    return [
        grid(
            caption, ("tip load, angle", "not solved", *shown.values()), rows, "cells.parquet: _bound_low, _bound_high"
        )
    ]


def _ends(line: dict[str, Any], low: str, high: str) -> str:
    """Two probabilities of a row as the ends of a range."""
    return interval(line[low], line[high], probability)


def _over(study: Finished) -> list[Block]:
    """Means over the wires of a calibration, where the columns are such."""
    if "calibration" not in study.tables:
        return []
    rows = []
    names = [n for n in MAP_EVENTS if f"p_{n}" in study.tables["calibration"]]
    for line in lines(study.tables["calibration"]):
        each = [f"{chance(line, n)}\nwires {_ends(line, f'p_{n}_least', f'p_{n}_most')}" for n in names]
        rows.append((angle(line["angle"]), str(line["wires"]), f"{line['n_solved']}/{line['n']}", *each))
    caption = f"Means over the equally likely wires of a calibration; {WIDER}, then least to most over the wires"
    head = ("angle", "wires", "solved / run", *(MAP_EVENTS[n] for n in names))
    return [grid(caption, head, rows, "calibration.parquet")]


def threshold_results(study: Finished) -> list[Block]:
    """P50 of F* and of its ratio to the scale, by cell."""
    rows = []
    for c in lines(study.tables["cells"]):
        rows.append(
            (
                place(c),
                _median(c, "p50", 1e3),
                number(c["scale_median"] * 1e3),
                _median(c, "ratio", 1.0),
                f"{c['n_one_crossing']} of {c['n']}",
                f"{c['n_never_curled']} / {c['n_always_curled']}",
                f"{c['n_non_monotone']} / {c['n_neither']}",
                f"{c['n_not_solved']}",
                f"{c['unsolved_runs']} of {c['runs']}",
                f"{c['neither_rungs']} of {c['rungs']}",
            )
        )
    head = (
        "tip load, angle",
        "F*, P50, mN",
        "2 EI/W_c², median, mN",
        "P50 of F*/(2 EI/W_c²)",
        "cases with one crossing",
        "never / always curled",
        "non-monotone / neither",
        "cases not solved",
        "insertions not solved",
        "rungs with neither",
    )
    caption = "Threshold of each cell; order-statistic 95 % interval below; an open median as the side on which it lies"
    return [
        grid(caption, head, rows, "cells.parquet: p50, ratio with _low, _high, _bracket_low, _bracket_high, counts")
    ]


def _median(cell: dict[str, Any], name: str, factor: float) -> str:
    """A median with its interval, or what is known of one that the ladder did not bracket."""
    middle, low, high = (cell[f"{name}{end}"] * factor for end in ("", "_low", "_high"))
    if isfinite(middle):
        return f"{number(middle)}\n{interval(low, high)}"
    below, above = (cell[f"{name}_bracket_{end}"] * factor for end in ("low", "high"))
    if below > 0.0 and not isfinite(above):
        return f"above {number(below)}"
    if below == 0.0 and isfinite(above):
        return f"below {number(above)}"
    return "undecided"


def atlas_results(study: Finished) -> list[Block]:
    """Shares of the volume by sign; calibration of the surfaces."""
    names = {s: SIGN_WORDS[s].replace(" ", "_") for s in Sign}
    rows = [(r["front_shape"], *(f"{100.0 * r[names[s]]:.1f} %" for s in Sign)) for r in lines(study.tables["shares"])]
    loads = " beside ".join(load(v) for v in study.study["tip_loads"])
    level, floor, margin = (study.spec[name] for name in ("level", "floor", "margin"))
    caption = (
        f"Share of the volume of the axes with each sign, {loads}; band for all places at once at "
        f"{number(100.0 * (1.0 - level))} % from sites drawn again, floor of a difference {number(floor)}, margin "
        f"within which entry or curl counts as unchanged {number(margin)}"
    )
    out: list[Block] = [grid(caption, ("front", *(SIGN_WORDS[s] for s in Sign)), rows, "shares.parquet")]
    table, told = study.tables["reliability"], []
    if no_news(table):
        out.append(Text(no_news(table)))
    for key in dict.fromkeys(zip(table["event"].tolist(), table["tip_load"].tolist(), strict=True)):
        one = select(table, (table["event"] == key[0]) & (table["tip_load"] == key[1]))
        score, base = float(one["brier"][0]), float(one["brier_of_the_share"][0])
        worth = "better" if score < base else "no better"
        event = {"entered": "enters", "failed": "enters or curls"}[key[0]]
        told.append(
            (event, load(key[1]), str(one["degree"][0]), number(score), number(base), worth, str(int(np.sum(one["n"]))))
        )
    head = (
        "event",
        "tip load",
        "degree",
        "Brier score",
        "Brier score of the overall share",
        "the surface against the share",
        "insertions",
    )
    out.append(grid("Fitted surfaces, judged on sites left out of the fit", head, told, "reliability.parquet"))
    return out


TABLES: dict[str, Callable[[Finished], list[Block]]] = {
    "map": map_results,
    "threshold": threshold_results,
    "attempts": attempts_results,
    "compare": compare_results,
    "procedures": compare_results,
    "atlas": atlas_results,
    "sensitivity": sensitivity_results,
    "curl": curl_results,
}
