"""Results of a study of what a seen curl tells: fourfold tables, measures, predictive values, by wire."""

from math import isfinite
from typing import Any

from ...study.curl_tables import ANALYSES, POOLED
from .folder import Finished, lines
from .numbers import angle, interval, load, number, probability
from .parts import Block, Bullets, Text, grid

SHARES = ("sensitivity", "specificity")
RATIOS = ("likelihood_positive", "likelihood_negative", "odds_ratio", "area")
HEAD = (
    "tip load, angle",
    "true / false positives",
    "true / false negatives",
    "sensitivity",
    "specificity",
    "LR+",
    "LR−",
    "odds ratio",
    "ROC area",
    "not solved",
)


def curl_results(study: Finished) -> list[Block]:
    """A table for each analysis and condition, why some values are none, bounds, predictive values."""
    told, out = lines(study.tables["tells"]), list[Block]()
    reasons: dict[str, int] = {}  # each once, numbered in the order in which the tables meet them
    for analysis, condition in dict.fromkeys((r["analysis"], r["condition"]) for r in told):
        rows = [_row(r, reasons) for r in told if (r["analysis"], r["condition"]) == (analysis, condition)]
        which = "primary" if analysis == ANALYSES[0] else "secondary"
        caption = (
            f"A curl seen against “{condition}”, {analysis} ({which}); 95 % interval below, or the number of a note"
        )
        out.append(grid(caption, HEAD, rows, "tells.parquet"))
    out += [_bounds(told), _predictive(study, reasons)]
    if reasons:
        out += [Text("Notes: why a value or its interval is no number."), Bullets(tuple(_notes(reasons)))]
    return out


def _notes(reasons: dict[str, int]) -> list[str]:
    return [f"({k}) {words}" for words, k in reasons.items()]


def _note(reason: str, reasons: dict[str, int]) -> str:
    """Number of a reason's note."""
    return f"({reasons.setdefault(reason, len(reasons) + 1)})"


def _place(row: dict[str, Any]) -> str:
    return f"{load(row['tip_load'])}, {'all angles' if row['angle_index'] == POOLED else angle(row['angle'])}"


def _row(row: dict[str, Any], reasons: dict[str, int]) -> tuple[str, ...]:
    """Counts and measures of one wire and angle."""
    shares = (_measure(row, name, probability, reasons) for name in SHARES)
    ratios = (_measure(row, name, number, reasons) for name in RATIOS)
    counts = (f"{row['tp']} / {row['fp']}", f"{row['tn']} / {row['fn']}")
    return (_place(row), *counts, *shares, *ratios, f"{row['n_not_solved']} of {row['n_insertions']}")


def _measure(row: dict[str, Any], name: str, form: Any, reasons: dict[str, int]) -> str:
    """A measure with its interval, or the number of the note that says why there is none."""
    value, low, high, reason = (row[f"{name}{end}"] for end in ("", "_low", "_high", "_reason"))
    if isfinite(low) and isfinite(high):
        return f"{form(value)}\n{interval(low, high, form)}"
    return f"{form(value)} {_note(reason, reasons)}" if reason else form(value)


def _bounds(told: list[dict[str, Any]]) -> Block:
    """Least and most of the primary analysis with all unsolved insertions counted one way."""
    rows = []
    for r in told:
        if r["analysis"] == ANALYSES[0] and r["angle_index"] == POOLED:
            ends = (interval(r[f"{n}_bound_low"], r[f"{n}_bound_high"]) for n in (*SHARES, *RATIOS[:3]))
            rows.append((load(r["tip_load"]), r["condition"], *ends))
    caption = f"Bounds, {ANALYSES[0]}, all angles: least and most with all unsolved insertions counted one way"
    head = ("tip load", "condition", "sensitivity", "specificity", "LR+", "LR−", "odds ratio")
    return grid(caption, head, rows, "tells.parquet: _bound_low, _bound_high")


def _predictive(study: Finished, reasons: dict[str, int]) -> Block:
    """Predictive values over prevalence, of the primary analysis."""
    rows = []
    for r in lines(study.tables["predictive"]):
        if r["analysis"] != ANALYSES[0]:
            continue
        values = []
        for name in ("predictive_positive", "predictive_negative"):
            ends = interval(r[f"{name}_low"], r[f"{name}_high"], probability)
            why = f" {_note(r[f'{name}_reason'], reasons)}" if r[f"{name}_reason"] else ""
            known = isfinite(r[f"{name}_low"])
            values.append(f"{probability(r[name])}\n{ends}" if known else f"{probability(r[name])}{why}")
        rows.append((load(r["tip_load"]), r["condition"], number(r["prevalence_assumed"]), *values))
    caption = f"Predictive values by Bayes over an assumed prevalence, {ANALYSES[0]}, all angles; 95 % interval below"
    head = ("tip load", "condition", "prevalence assumed", "of a curl seen", "of none seen")
    return grid(caption, head, rows, "predictive.parquet")
