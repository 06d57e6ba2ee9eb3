"""Results of a sensitivity study: for each outcome every input with its indices and Morris' measures."""

from math import isfinite
from typing import Any

from ...study.sensitivity import OUTCOMES
from ...study.table import Table, select
from ...units import from_si, label
from ..sensitivity import outcome_words, sorted_inputs
from .folder import Finished
from .numbers import interval, number
from .parts import NONE, Block, Text, grid


def sensitivity_results(study: Finished) -> list[Block]:
    """A table for each outcome, the largest total index first."""
    names = dict.fromkeys(str(name) for name in study.tables["indices"]["outcome"])
    zero = (
        "0: none of the pairs of insertions differed, not that none ever would; of an event the interval says how far "
        "that goes, of a quantity nothing does (0 to 0)."
    )
    return [Text(zero), *(_outcome(study, name) for name in names)]


def _outcome(study: Finished, name: str) -> Block:
    indices, morris = (select(study.tables[t], study.tables[t]["outcome"] == name) for t in ("indices", "morris"))
    shown = OUTCOMES[name].shown
    unit = from_si(1.0, shown) if shown else 1.0
    rows = []
    for k in sorted_inputs(indices, morris):
        cells = [_cell(indices, k, measure, 1.0) for measure in ("total", "first")]
        cells += [_cell(morris, k, measure, unit) for measure in ("mu_star", "sigma")]
        rows.append(
            (str(indices["input_words"][k]), *cells, str(indices["source"][k]).replace("assumed", "assumption"))
        )
    about = f", {label(shown)}" if shown else ""
    head = (
        "input",
        "total index",
        "first-order index",
        f"Morris' mu*{about}",
        f"Morris' sigma{about}",
        "source of the input",
    )
    holes = int(indices["n_not_solved"][0]) + int(morris["n_not_solved"][0])
    told = "; below that, with all unsolved set to the least and to the largest value" if holes else ""
    caption = f"{outcome_words(indices, name)}. 95 % interval below each{told}"
    return grid(caption, head, rows, "indices.parquet, morris.parquet")


def _cell(table: Table, k: int, name: str, unit: float) -> str:
    """A measure with its interval, and its two other estimates where insertions were not solved."""
    ends = ("", "_low", "_high", "_unsolved_least", "_unsolved_most")
    values: list[Any] = [unit * float(table[f"{name}{end}"][k]) for end in ends]
    text = f"{number(values[0])}\n{interval(values[1], values[2])}" if isfinite(values[0]) else NONE
    return f"{text}\n{number(values[3])} / {number(values[4])}" if table["n_not_solved"][0] else text
