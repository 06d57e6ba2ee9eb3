"""`tipmech explain`: the smallest single change that would have flipped an insertion's outcome."""

from math import degrees, isfinite
from pathlib import Path
from typing import Any

from ..checks import FieldError, InputError
from ..insertion.case import Case
from ..insertion.run import advance
from ..outcome import LABEL_WORDS, Label
from ..show.contest import told
from ..show.explain import NAMES, change_words, explanation_figure, range_words, sentence
from ..show.style import save
from ..study.evaluate import evaluate
from ..study.flip import Explanation, Found, Kind, Search, explain
from .terminal import finish, guard, print_json, print_table, progress, write_json

PICTURE, FACTS = "explain.png", "explain.json"


def run(case: Case, source: str, folder: Path, *, as_json: bool, overwrite: bool) -> None:
    """Explain a case and write everything into `folder`."""
    guard(folder, (PICTURE, FACTS), overwrite)
    with progress("searches", quiet=as_json) as report:
        try:
            result = explain(case, evaluate, report)
        except FieldError as error:
            raise InputError(f"{source}: {error}") from None
    (folder / FACTS).unlink(missing_ok=True)  # comes back last: a folder that holds it is complete
    as_it_was = told(advance(case), result.outcome)
    paths = [save(explanation_figure(result, as_it_was), folder / PICTURE)]
    facts = facts_of(result, source) | {"as_it_was": as_it_was}
    paths.append(write_json(facts, folder / FACTS))
    if as_json:
        print_json({**facts, "files": paths})
        return
    rows = [_row(s) for s in result.searches]
    print_table(
        f"{source}: {sentence(result)}. As it was: {as_it_was}.",
        ("change", "flips at", "between", "outcome then", "runs"),
        rows,
    )
    finish(paths)


def facts_of(result: Explanation, source: str) -> dict[str, Any]:
    """Explanation as plain data: factors without unit, angles in degrees."""
    best = result.smallest
    return {
        "file": source,
        "outcome": LABEL_WORDS[Label(result.outcome.label)],
        "sentence": sentence(result),
        "smallest": None if best is None else _facts(best),
        "insertions": result.runs,
        "not_solved": sum(s.unsolved for s in result.searches),
        "searches": [_facts(s) for s in result.searches],
    }


def _facts(s: Search) -> dict[str, Any]:
    """One search as plain data."""

    def value(change: float) -> float | None:
        if not isfinite(change):
            return None
        return degrees(change) if s.kind is Kind.ROLL else change

    return {
        "change": s.kind.name.lower(),
        "unit": "degrees" if s.kind is Kind.ROLL else "factor",
        "direction": "up" if s.up else "down",
        "found": s.found.name.lower(),
        "same_at": value(s.near),
        "flipped_at": value(s.far),
        "outcome": None if s.label is None else LABEL_WORDS[s.label],
        "size": s.size if isfinite(s.size) else None,
        "why": s.why,
        "runs": [
            {"change": value(r.change), "outcome": LABEL_WORDS[r.label] if r.label is not None else "no room for it"}
            for r in s.runs
        ],
    }


def _row(s: Search) -> tuple[str, str, str, str, str]:
    """Row of the printed table."""
    name = f"{NAMES[s.kind]} {'up' if s.up else 'down'}"
    if s.found is Found.DOES_NOT_APPLY:
        return name, "does not apply", "", s.why, "0"
    runs = f"{len(s.runs)}" + (f", {s.unsolved} not solved" if s.unsolved else "")
    if s.found is Found.NO_FLIP or s.label is None:
        return name, "no flip", range_words(s), s.why, runs
    between = f"{change_words(s, s.near)} and {change_words(s, s.far)}"
    return name, change_words(s, s.far), between, LABEL_WORDS[s.label], runs
