"""The bench: one or two wires under the same hand, from a setting; increments, a change of setting, steps back."""

from collections import deque
from dataclasses import replace
from functools import lru_cache
from math import degrees
from pathlib import Path

from ..bench.tip_load import tip_load
from ..checks import FieldError, InputError
from ..files.case_wire import FREE_LENGTH, at_tip_load
from ..files.common import validate
from ..files.scene import CaseFile, case_file
from ..files.scene_tables import CaseTables
from ..files.wire import read_wire
from ..insertion.case import Case
from ..insertion.run import TURN_STEP
from ..profile import Profile
from ..units import from_si
from ..wire.design import profile
from .beside import refused_change
from .controls import FEED_MM, SOURCE, STEP_MM, Setting, Wire
from .lane import Lane
from .steps import SIGN, STEPS, Step

MM = 1e-3
SLACK = 1e-9  # m


class Bench:
    """Wires under one hand, without any web.

    Parameters
    ----------
    setting : Setting
        checked numbers in users' units

    Raises
    ------
    InputError
        when the numbers do not go together
    """

    def __init__(self, setting: Setting) -> None:
        self.setting = setting
        self.lanes = _lanes(setting)
        self.made: list[Step] = []
        self.ahead: deque[Step] = deque()

    @property
    def feed(self) -> float:
        """Feed of the hand, m."""
        return STEP_MM * MM * sum(SIGN[step] for step in self.made if step in ("advance", "withdraw"))

    @property
    def path(self) -> float:
        """Travel of the hand, on and back, m."""
        return STEP_MM * MM * sum(step in ("advance", "withdraw") for step in self.made)

    @property
    def turned_deg(self) -> float:
        """Turn of the hand, degrees."""
        return degrees(TURN_STEP) * sum(SIGN[step] for step in self.made if step.startswith("turn"))

    def step(self, step: Step) -> bool:
        """Carry out one increment on every wire; False where the hand or all wires are at an end."""
        if not self.takes(step):
            return False
        number = 0
        while number < len(self.made) and self.made[-1 - number] == step:
            number += 1
        self.made.append(step)
        for lane in self.lanes:
            lane.carry(step, number)
        return True

    def takes(self, step: Step) -> bool:
        """Whether an increment can be carried out."""
        if step not in STEPS:
            raise FieldError("step", step, f"one of {', '.join(STEPS)}")
        there = self.feed
        if step == "advance" and there > (FEED_MM - STEP_MM) * MM + SLACK:
            return False
        if step == "withdraw" and there < STEP_MM * MM - SLACK:
            return False
        return any(lane.open for lane in self.lanes)

    def replay(self) -> bool:
        """Carry out the next of the increments that a change of setting or a step back left to do; False at their
        end."""
        if not self.ahead:
            return False
        if not self.step(self.ahead.popleft()):
            self.ahead.clear()
        return bool(self.ahead)

    def change(self, setting: Setting, *, again: bool) -> None:
        """Put a new setting in place; `again`: the same increments are to be carried out once more (`replay`).

        Raises
        ------
        FieldError
            naming the number that was changed, if it does not go with the others, and what it may be beside them
        InputError
            for what else is wrong
        """
        try:
            lanes = _lanes(setting)
        except InputError as error:
            raise refused_change(self.setting, setting, goes) or error from None
        todo = [*self.made, *self.ahead] if again else []
        self.setting, self.lanes, self.made, self.ahead = setting, lanes, [], deque(todo)

    def reset(self) -> None:
        """The wires as laid, nothing carried out."""
        self.change(self.setting, again=False)

    def back(self, count: int) -> None:
        """Take the last `count` increments back: all before them are to be carried out again (`replay`)."""
        kept = self.made[: max(0, len(self.made) - count)]
        self.reset()
        self.ahead = deque(kept)


def _lanes(setting: Setting) -> list[Lane]:
    """Wires of a setting, as laid."""
    return [Lane(wire, case_of(setting, wire)) for wire in setting.wires]


def case_of(setting: Setting, wire: Wire) -> Case:
    """Case (SI) of a wire on the bench, checked as a case file is.

    Raises
    ------
    InputError
        one sentence: which field, which value, what is allowed
    """
    asked = _asked(setting, wire.preset)
    if wire.tip_load_gf is None:
        return asked.case
    return replace(asked.case, profile=scaled(wire.preset, wire.tip_load_gf))


def _asked(setting: Setting, preset: str) -> CaseFile:
    return case_file(validate(SOURCE, setting.tables(Wire(preset)), CaseTables), Path(SOURCE))


def goes(setting: Setting) -> bool:
    """Whether the numbers of a setting go together; tip loads to which wires are scaled are not looked at."""
    try:
        for preset in {wire.preset: None for wire in setting.wires}:
            _asked(setting, preset)
    except InputError:
        return False
    return True


@lru_cache
def scaled(preset: str, load: float) -> Profile:
    """Profile of a preset scaled to a tip load (gf); a few runs of the simulated bench, kept.

    Raises
    ------
    InputError
        if the family of the wire does not reach the load
    """
    return at_tip_load(replace(_asked(Setting(), preset), tip_load_gf=load)).case.profile


@lru_cache
def own_tip_load(preset: str) -> float:
    """Tip load of a preset as designed on the simulated bench, gf."""
    return from_si(float(tip_load(profile(read_wire(preset), "sliding"), FREE_LENGTH).force), "gf")
