"""What comparisons compare: outcomes of insertions, or of procedures with all their attempts, told by the columns."""

from collections.abc import Mapping
from typing import Literal

import numpy as np

from . import events
from .intervals import Array, Flags
from .run_attempts import solved as procedures_solved
from .table import Table

Estimand = Literal["insertion", "procedure", "damage"]
Measure = Literal["entered", "extended", "curled", "entered_curled", "opened_area", "through"]

OUTCOMES: Mapping[Estimand, tuple[Measure, ...]] = {
    "insertion": ("entered", "extended", "curled", "entered_curled", "opened_area"),
    "procedure": ("through", "entered", "curled"),
    "damage": ("opened_area",),
}
"""Outcomes that may be planned for each estimand, the usual one first."""

OF_INSERTIONS: tuple[Measure, ...] = ("entered", "extended", "curled", "opened_area")
OF_PROCEDURES: tuple[Measure, ...] = ("through", "entered", "curled", "opened_area")


def of_procedures(rows: Table) -> bool:
    """Whether a row is a procedure, not an insertion."""
    return "through" in rows


def measures(rows: Table) -> tuple[Measure, ...]:
    """Outcomes that tables tell of."""
    return OF_PROCEDURES if of_procedures(rows) else OF_INSERTIONS


def solved(rows: Table) -> Flags:
    """Which insertions, or procedures, were solved to their end."""
    return procedures_solved(rows) if of_procedures(rows) else events.solved(rows)


def flags(rows: Table) -> dict[str, Flags]:
    """Events: of an insertion those of a map; of a procedure: through, and entered or curled in any of its attempts."""
    if of_procedures(rows):
        return {name: np.asarray(rows[name] == 1) for name in OUTCOMES["procedure"]}
    return events.flags(rows)


def outcome_of(rows: Table, measure: Measure) -> Array:
    """Values of an outcome: 0/1 of an event, m2 of the area opened (by a procedure in all its attempts)."""
    if measure == "opened_area":
        return np.asarray(rows["opened_area"], dtype=float)
    return flags(rows)[measure].astype(float)
