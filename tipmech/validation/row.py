"""One row of the validation table."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import isfinite


@dataclass(frozen=True)
class Row:
    """A computed value against a reference.

    id : short unique name
    quantity : what is compared, with its unit
    computed, reference : SI values
    error : relative error, or the absolute one where the quantity says so; for "never above" rows the excess
    tolerance : largest error accepted; None: reported only, where published values disagree
    passed : whether it is; None: reported only
    source : where the reference comes from
    """

    id: str
    quantity: str
    computed: float
    reference: float
    error: float
    tolerance: float | None
    passed: bool | None
    source: str


# one check of the table; a theme is a tuple of them
Case = Callable[[], Sequence[Row]]


def relative(id: str, quantity: str, computed: float, reference: float, tolerance: float, source: str) -> Row:
    """Row judged by |computed/reference - 1|."""
    error = abs(computed / reference - 1.0)
    return Row(id, quantity, float(computed), float(reference), error, tolerance, _within(error, tolerance), source)


def absolute(id: str, quantity: str, computed: float, reference: float, tolerance: float, source: str) -> Row:
    """Row judged by |computed - reference|, in the quantity's unit."""
    error = abs(computed - reference)
    return Row(id, quantity, float(computed), float(reference), error, tolerance, _within(error, tolerance), source)


def at_most(id: str, quantity: str, computed: float, bound: float, tolerance: float, source: str) -> Row:
    """Row judged by how far `computed` exceeds `bound`, over the bound."""
    error = max(0.0, computed / bound - 1.0) if isfinite(computed) else float("inf")
    return Row(id, quantity, float(computed), float(bound), error, tolerance, _within(error, tolerance), source)


def at_least(id: str, quantity: str, computed: float, bound: float, tolerance: float, source: str) -> Row:
    """Row judged by how far `computed` falls below `bound`, in the quantity's unit."""
    error = max(0.0, bound - computed) if isfinite(computed) else float("inf")
    return Row(id, quantity, float(computed), float(bound), error, tolerance, _within(error, tolerance), source)


def reported(id: str, quantity: str, computed: float, reference: float, source: str) -> Row:
    """Row that is not judged: the relative error against one of several references that disagree."""
    error = abs(computed / reference - 1.0)
    return Row(id, quantity, float(computed), float(reference), error, None, None, source)


def _within(error: float, tolerance: float) -> bool:
    return bool(isfinite(error) and error <= tolerance)
