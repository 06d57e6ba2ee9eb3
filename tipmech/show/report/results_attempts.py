"""Results of a study of attempts: shares through, what was opened, forces, ends, what was seen, pairs of wires."""

from typing import Any

from ...outcome import END_WORDS, End
from .folder import Finished, lines
from .numbers import WIDER, area, interval, load, number, place, probability, signed
from .parts import NONE, Block, Text, grid

QUANTITIES = {
    "through": ("share through", 1.0, ""),
    "travel": ("travel of the hand", 1e3, " mm"),
    "largest_push": ("largest push", 1e3, " mN"),
    "opened_area": ("opened area", 1e6, " mm²"),
    "opened_length": ("opened length", 1e3, " mm"),
}
SEEN = {
    "attempts_made": "attempts made",
    "attempts_entered": "in the false lumen",
    "attempts_curl_seen": "a curl seen",
    "attempts_seen_and_curled": "of them truly there",
    "attempts_curled_not_seen": "curled and not seen",
}
PLACE = "tip load, angle"


def attempts_results(study: Finished) -> list[Block]:
    """All tables of a study of attempts."""
    cells = lines(study.tables["cells"])
    seen = [(place(c), *(str(c[name]) for name in SEEN)) for c in cells]
    source = "cells.parquet: attempts_ columns"
    told = grid("Attempts: in the false lumen, and what was seen", (PLACE, *SEEN.values()), seen, source)
    return [_shares(study, cells), _opened(cells), told, _ended(cells), *_pairs(study)]


def _shares(study: Finished, cells: list[dict[str, Any]]) -> Block:
    """Share through within so many attempts."""
    incidence, rows = lines(study.tables["incidence"]), []
    most = max(row["attempts"] for row in incidence)
    for c in cells:
        own = [r for r in incidence if all(r[k] == c[k] for k in ("tip_load_index", "angle_index"))]
        told = [f"{probability(r['p'])}\n{interval(r['low'], r['high'], probability)}" for r in own]
        bounds = interval(c["p_through_bound_low"], c["p_through_bound_high"], probability)
        rows.append((place(c), f"{c['n_solved']}/{c['n']}", *told, *[NONE] * (most - len(told)), bounds))
    within = tuple(f"within {k}" for k in range(1, most + 1))
    head = (PLACE, "solved / made", *within, "bounds for unsolved, in the end")
    caption = f"Share of procedures through within so many attempts; {WIDER}"
    return grid(caption, head, rows, "incidence.parquet; cells.parquet")


def _opened(cells: list[dict[str, Any]]) -> Block:
    """What a procedure opened, and its forces."""
    rows = []
    for c in cells:
        rows.append(
            (
                place(c),
                f"{area(c['opened_area'])}\n{interval(c['opened_area_low'], c['opened_area_high'], area)}",
                f"{area(c['opened_area_median'])} / {area(c['opened_area_p90'])}",
                _two(c, "opened_length"),
                _two(c, "largest_push"),
                number(c["median_push"] * 1e3),
                f"{number(c['attempts_mean'])}\n{interval(c['attempts_mean_low'], c['attempts_mean_high'])}",
                f"{number(c['travel'] * 1e3)}\n{interval(c['travel_low'] * 1e3, c['travel_high'] * 1e3)}",
            )
        )
    head = (
        PLACE,
        "opened area, mean, mm²",
        "its median / 90 % quantile",
        "opened length, median / 90 %, mm",
        "largest push, median / 90 %, mN",
        "push while advancing past the tear, median, mN",
        "attempts, mean",
        "travel of the hand, mean, mm",
    )
    caption = "Of a procedure, over all solved ones; 95 % interval of the scrambles below the means"
    return grid(caption, head, rows, "cells.parquet")


def _ended(cells: list[dict[str, Any]]) -> Block:
    """How procedures ended; ends that never occurred have no column."""
    kept = [end for end in End if any(c[f"n_end_{end.name.lower()}"] for c in cells)]
    rows = [(place(c), *(str(c[f"n_end_{end.name.lower()}"]) for end in kept)) for c in cells]
    caption = "How procedures ended (ends that did not occur left out)"
    return grid(caption, (PLACE, *(END_WORDS[end] for end in kept)), rows, "cells.parquet: n_end_ columns")


def _two(cell: dict[str, Any], name: str) -> str:
    """Median and 90 % quantile of a length or force, in mm or mN."""
    return " / ".join(number(cell[f"{name}_{end}"] * 1e3) for end in ("median", "p90"))


def _pairs(study: Finished) -> list[Block]:
    """Each wire less the first."""
    rows, first = [], load(study.study["tip_loads"][0])
    for r in lines(study.tables["pairs"]):
        words, factor, unit = QUANTITIES[r["quantity"]]
        ends = interval(r["low"] * factor, r["high"] * factor, signed)
        mean = f"{signed(r['difference'] * factor)}{unit}"
        rows.append((place(r), words, mean, ends, str(r["n"]), str(r["n_left_out"])))
    if not rows:
        return [Text("One wire only: no pairs.")]
    caption = f"Each wire less the first ({first}), point by point, on the procedures that both solved"
    head = (PLACE, "quantity", "mean difference", "95 % interval of the scrambles", "pairs", "left out")
    return [grid(caption, head, rows, "pairs.parquet")]
