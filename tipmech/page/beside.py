"""What one number of a setting may be beside the others, found by trying: for the message on a refused change."""

from collections.abc import Callable
from dataclasses import replace

from ..checks import FieldError
from .controls import SHARED, Control, Setting

DIGITS = 6  # of numbers on a control's steps: what adding them up leaves beyond is rounding


def refused_change(before: Setting, asked: Setting, goes: Callable[[Setting], bool]) -> FieldError | None:
    """What to say of a refused setting: the first number, of those changed, that does not go with the others.

    Parameters
    ----------
    before, asked : Setting
        the one in use, the one refused
    goes : callable
        whether the numbers of a setting go together

    Returns
    -------
    FieldError or None
        None: none of the shared numbers is why
    """
    there = replace(before, wires=asked.wires)
    if not goes(there):
        return None
    for control in SHARED:
        value = getattr(asked, control.name)
        further = there.with_number(control.name, value)
        if not goes(further):
            low, high = (_farthest(control, there, goes, end) for end in (control.low, control.high))
            allowed = f"{low:g} to {high:g} {control.unit}".rstrip()
            return FieldError(control.words, value, f"{allowed}, beside the other numbers")
        there = further
    return None


def _farthest(control: Control, before: Setting, goes: Callable[[Setting], bool], end: float) -> float:
    """The number on the control's steps farthest toward an end of its range that goes with the others in use.

    Takes it that all between the one in use and the farthest go too.
    """

    def fits(value: float) -> bool:
        return goes(before.with_number(control.name, value))

    if fits(end):
        return end
    now = float(getattr(before, control.name))
    steps = range(1, round((control.high - control.low) / control.step))
    places = (round(control.low + k * control.step, DIGITS) for k in steps)
    between = sorted((p for p in places if min(now, end) < p < max(now, end)), reverse=end < now)
    good, bad = -1, len(between)  # places of numbers that go (-1: the one in use) and that do not (beyond: the end)
    while bad - good > 1:
        middle = (good + bad) // 2
        good, bad = (middle, bad) if fits(between[middle]) else (good, middle)
    return now if good < 0 else between[good]
