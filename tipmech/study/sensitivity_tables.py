"""Tables of a sensitivity study, one row for each outcome and input: Morris' measures, Sobol' indices, counts."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from . import events
from .indices import Estimate, screening, sobol_indices
from .sensitivity import MORRIS, OUTCOMES, SOBOL, Input, SensitivitySpec, limits_of
from .table import Table, from_rows, select

Array = NDArray[np.float64]


def outcome_values(rows: Table, outcome: str) -> Array:
    """One outcome of all rows: 1 or 0 for an event, else its value (SI); of no meaning where a row was not solved."""
    if OUTCOMES[outcome].flag:
        return events.flags(rows)[outcome].astype(np.float64)
    return np.asarray(rows[outcome], dtype=np.float64)


def morris_table(spec: SensitivitySpec, rows: Table, outcomes: Sequence[str]) -> Table:
    """Morris' measures in the outcome's unit (SI: column `unit`), with intervals, and with unsolved ones set."""
    out: list[dict[str, Any]] = []
    part, solved = _part(rows, MORRIS)
    for name in outcomes:
        values = outcome_values(part, name)
        limits = limits_of(name, values, solved)
        found = screening(spec.design(MORRIS), values, solved, limits, spec.levels, spec.seed)
        counts = {"trajectories": found.trajectories, "complete_trajectories": found.complete, **_counts(solved)}
        measures = {"mu_star": found.mu_star, "sigma": found.sigma, "mu": found.mu}
        out += _lines(name, spec.inputs, measures, counts)
    return from_rows(out)


def indices_table(spec: SensitivitySpec, rows: Table, outcomes: Sequence[str]) -> Table:
    """First-order and total Sobol' indices, with intervals and what unsolved insertions may do.

    mean, sd: of the outcome over the independent points (unit: column `unit`, SI).
    """
    out: list[dict[str, Any]] = []
    part, solved = _part(rows, SOBOL)
    for name in outcomes:
        values = outcome_values(part, name)
        limits = limits_of(name, values, solved)
        found = sobol_indices(len(spec.inputs), values, solved, limits, OUTCOMES[name].flag)
        counts = {"mean": found.mean, "sd": found.sd, "base_points": found.base_points}
        counts |= {"complete_base_points": found.complete, **_counts(solved)}
        out += _lines(name, spec.inputs, {"total": found.total, "first": found.first}, counts)
    return from_rows(out)


def _part(rows: Table, which: int) -> tuple[Table, NDArray[np.bool_]]:
    """Rows of one design, and which of them were solved."""
    part = select(rows, rows["design"] == which)
    return part, events.solved(part)


def _counts(solved: NDArray[np.bool_]) -> dict[str, int]:
    return {"n": len(solved), "n_not_solved": int(np.sum(~solved))}


def _lines(
    outcome: str, inputs: Sequence[Input], measures: dict[str, Estimate], counts: dict[str, Any]
) -> list[dict[str, Any]]:
    """Rows of one outcome, one for each input."""
    about = OUTCOMES[outcome]
    lines = []
    for k, i in enumerate(inputs):
        line: dict[str, Any] = {"outcome": outcome, "outcome_words": about.words, "unit": about.unit}
        line |= {"input": i.name, "input_words": i.words, "kind": i.kind, "source": i.unknown.source}
        for name, found in measures.items():
            line |= {name: found.value[k], f"{name}_low": found.low[k], f"{name}_high": found.high[k]}
            line |= {f"{name}_unsolved_least": found.at_least[k], f"{name}_unsolved_most": found.at_most[k]}
        lines.append({**line, **counts})
    return lines
