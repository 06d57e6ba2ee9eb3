"""A made-up simulator with known probabilities and known thresholds, in place of the mechanics."""

import time
from dataclasses import replace
from math import cos, inf, nan

import numpy as np

from tipmech.insertion.case import Case
from tipmech.insertion.record import Outcome
from tipmech.outcome import Label, Shape, Stop, Where
from tipmech.profile import uniform
from tipmech.study import store
from tipmech.study.build import scale_force
from tipmech.study.run_map import run_map
from tipmech.study.spec import StudySpec, soften_to

P_REACH, P_ENTER, P_EXTEND = 0.9, 0.6, 0.5  # of all; of those that reached; of those that entered
NEVER = Outcome(
    where=Where.BEFORE_TEAR, shape=Shape.STRAIGHT, label=Label.NEVER_REACHED_THE_TEAR, stop=Stop.PROTOCOL_DONE,
    reached=nan, entered=nan, curled=nan, extended=nan, entered_before_curl=False, extension=0.0, opened_area=0.0,
    feed_past_tear=nan, max_push=0.01, max_tip_force=0.005, contact_angle=nan, tip_angle_change=0.0, jammed=False,
    audit_error=1e-3, increments=100, iterations=300,
)  # fmt: skip
TRUE = replace(
    NEVER, where=Where.TRUE_LUMEN, label=Label.TRUE_LUMEN, stop=Stop.ADVANCE_PAST_TEAR_DONE, reached=8e-3,
    feed_past_tear=10e-3,
)  # fmt: skip
EXTENDED = replace(
    TRUE, where=Where.FALSE_LUMEN, label=Label.FALSE_LUMEN_EXTENDED, entered=1e-3, extended=4e-3, extension=6e-3,
    opened_area=5e-6,
)  # fmt: skip
CURLED = replace(
    EXTENDED, label=Label.FALSE_LUMEN_CURLED, shape=Shape.CURLED, stop=Stop.FIRST_CURL, extended=nan, curled=3e-3,
    feed_past_tear=3e-3, opened_area=1e-6, extension=1e-4,
)  # fmt: skip
UNSOLVED = replace(TRUE, where=Where.NOT_SOLVED, label=Label.NOT_SOLVED, stop=Stop.NOT_CONVERGED, entered=nan)


def bench(profile):
    """A tip load proportional to the stiffness at the tip."""
    return 2.0 * float(profile.EI1[0]) / 10e-3**2


def make_spec(loads=(0.5e-2, 2e-2), angles=(0.3, 0.8), **options):
    base = uniform(4e-8, 0.3, name="made-up wire")
    factors, wires = soften_to(base, loads, bench)
    return StudySpec("made up", base, tuple(loads), factors, wires, tuple(angles), **options)


def coin(case: Case) -> Outcome:
    """Outcome by chance, from the case's own seed: P_REACH, P_ENTER, P_EXTEND."""
    a, b, c = np.random.default_rng(case.seed).random(3)
    if a >= P_REACH:
        return NEVER
    if b >= P_ENTER:
        return TRUE
    return EXTENDED if c < P_EXTEND else CURLED


def slow_coin(case: Case) -> Outcome:
    time.sleep(0.02)
    return coin(case)


def run_slowly(spec: StudySpec, out, code: str) -> None:
    store.code_version = lambda: code  # that of the process that goes on with it, even if sources change meanwhile
    run_map(spec, out, workers=2, evaluate=slow_coin)


def coin_with_failures(case: Case) -> Outcome:
    return UNSOLVED if np.random.default_rng(case.seed + 1).random() < 0.2 else coin(case)


def by_force(case: Case) -> Outcome:
    """Curls first when the front force is above a known threshold, else drives on."""
    force = case.scene.channel.front_force
    return CURLED if force is not None and force > true_threshold(case) else EXTENDED


def true_threshold(case: Case) -> float:
    """A threshold between 1 and 4 times the scale, from room and roll."""
    factor = 2.2 + 1.2 * cos(case.tip_shape.roll)
    return factor * scale_force(case.profile, case.scene.channel.room)


def band(low: float, high: float, inside: Outcome, outside: Outcome):
    """Evaluator that answers `inside` for front forces between low and high."""

    def answer(case: Case) -> Outcome:
        force = case.scene.channel.front_force or inf
        return inside if low < force < high else outside

    return answer
