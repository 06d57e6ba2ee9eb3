"""Small checks of arguments, and the one error type of wrong user input. Floor 0.

Every check takes the argument's name, returns the value, and raises with the name, the value and what is allowed.
"""

from collections.abc import Sequence
from math import inf, isfinite
from typing import Any

SHOWN_CHARACTERS = 60  # of a wrong value in a message: longer ones are cut, so that the sentence stays readable


class InputError(ValueError):
    """A mistake in a user's input, as one finished sentence: which file, field, value, and what is allowed.

    The command line prints the sentence and ends with exit code 2.
    """


class FieldError(ValueError):
    """A wrong value found where the file's name is not known: field, value and what is allowed.

    The reader of files turns it into an `InputError` with the file's name in front.
    """

    def __init__(self, field: str, value: Any, allowed: str) -> None:
        self.field = field
        self.value = value
        self.allowed = allowed
        super().__init__(f"{field} is {shown(value)}; allowed: {allowed}")


class Said(str):
    """A value already put into words with its unit ("0.5 mm"): shown in a message as it is."""

    __slots__ = ()


def mm(value: float) -> Said:
    """Length in m as words in mm, for messages."""
    return Said(f"{value * 1e3:.4g} mm")


def shown(value: Any) -> str:
    """Text of a wrong value for a message: short, on one line, containers and long texts cut."""
    if isinstance(value, dict):
        return f"a table ({', '.join(map(str, value)) or 'empty'})"[:SHOWN_CHARACTERS]
    if isinstance(value, Said):
        return str(value)
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e6:
        return str(int(value))
    text = " ".join((repr(value) if not isinstance(value, bool) else str(value).lower()).split())
    return text if len(text) <= SHOWN_CHARACTERS else text[: SHOWN_CHARACTERS - 3] + "..."


def check_range(value: float, *, name: str, low: float = -inf, high: float = inf, above: bool = False) -> float:
    """Return `value` if it is finite and within [low, high] (`above`: greater than low).

    Raises
    ------
    FieldError
        naming the argument, its value and the allowed range
    """
    ok = isfinite(value) and (value > low if above else value >= low) and value <= high
    if not ok:
        raise FieldError(name, value, range_text(low, high, above=above))
    return float(value)


def check_positive(value: float, *, name: str, high: float = inf) -> float:
    """Return `value` if it is finite, greater than 0 and at most `high`."""
    return check_range(value, name=name, low=0.0, high=high, above=True)


def check_increasing(values: Sequence[float], *, name: str) -> tuple[float, ...]:
    """Return `values` as a tuple if there are at least two and each is larger than the one before."""
    out = tuple(float(v) for v in values)
    if len(out) < 2 or not all(isfinite(v) for v in out) or any(b <= a for a, b in zip(out, out[1:], strict=False)):
        raise FieldError(name, list(out), "at least two finite numbers, each larger than the one before")
    return out


def range_text(low: float = -inf, high: float = inf, *, above: bool = False, below: bool = False) -> str:
    """Words for an allowed range: 'greater than 0 and at most 5' and the like."""
    words = []
    if isfinite(low):
        words.append(f"{'greater than' if above else 'at least'} {low:g}")
    if isfinite(high):
        words.append(f"{'less than' if below else 'at most'} {high:g}")
    return "a finite number" + (f" {' and '.join(words)}" if words else "")
