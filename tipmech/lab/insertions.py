"""One insertion over a calibrated wire: the same case at equally likely scales of EI and GJ. Floor 6."""

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from ..insertion.case import Case
from ..insertion.classify import classify
from ..insertion.record import Outcome, Record
from ..insertion.run import advance
from ..outcome import Label
from .posterior import Array
from .scale import Scale, scaled

DRAWS = 8  # wires: an outcome's share is then coarse to 1/8, at a few seconds each
FORCES = ("max_push", "max_tip_force")  # fields of `Outcome` of which a band is given, N

Advance = Callable[[Case], Record]


@dataclass(frozen=True)
class Drawn:
    """One wire's insertion.

    scale : of EI and GJ, -
    outcome : Outcome
    feed, push, tip_force : ndarray, shape (n,), its history, m and N
    """

    scale: float
    outcome: Outcome
    feed: Array
    push: Array
    tip_force: Array

    @property
    def solved(self) -> bool:
        """Whether it ended in an outcome."""
        return self.outcome.label != Label.NOT_SOLVED


@dataclass(frozen=True)
class Insertions:
    """Insertions of one case over a posterior.

    median : the posterior's median scale, -
    record, outcome : insertion of the wire with that scale; one of `drawn` only where their number is odd
    drawn : insertions of the wires in the middle of equal shares of probability, in increasing scale
    """

    median: float
    record: Record
    outcome: Outcome
    drawn: tuple[Drawn, ...]

    @property
    def counts(self) -> dict[Label, int]:
        """Wires that came to each label, in order of precedence; those that were not solved among them."""
        found = Counter(Label(d.outcome.label) for d in self.drawn)
        return {label: found[label] for label in Label if found[label]}

    @property
    def unsolved(self) -> int:
        """Wires whose insertion was not solved."""
        return sum(not d.solved for d in self.drawn)

    def band(self, force: str) -> tuple[float, float, float]:
        """Smallest, median and largest of a field of `FORCES` over the solved wires, N; nan where none was solved."""
        values = [getattr(d.outcome, force) for d in self.drawn if d.solved]
        if not values:
            return float("nan"), float("nan"), float("nan")
        return float(np.min(values)), float(np.median(values)), float(np.max(values))


def insertions_over(
    case: Case,
    scale: Scale,
    draws: int = DRAWS,
    on_progress: Callable[[float, float], None] = lambda done, total: None,
    advance: Advance = advance,
) -> Insertions:
    """Run a case at the posterior's median scale and at the middles of `draws` equal shares of its probability.

    All else (tear, support, friction, roll, the seed of the imperfection) is that of the case: the spread is what the
    calibration alone leaves open.

    Parameters
    ----------
    case : Case
        with the profile of the wire as drawn
    on_progress : callable
        called with (done, total)
    advance : callable
        what carries out one case (tests hand in a made-up one)
    """
    if draws < 1:
        raise ValueError(f"draws is {draws}; it must be at least 1")
    on_progress(0, draws + 1)
    median = scale.median
    record = advance(_at(case, median))
    outcome = classify(record)
    drawn = []
    for k, factor in enumerate(scale.middles(draws)):
        on_progress(k + 1, draws + 1)
        one = record if factor == median else advance(_at(case, float(factor)))
        drawn.append(Drawn(float(factor), classify(one), one.feed, one.push, one.tip_force))
    on_progress(draws + 1, draws + 1)
    return Insertions(median, record, outcome, tuple(drawn))


def _at(case: Case, factor: float) -> Case:
    """Case with its wire scaled, which its name says."""
    name = f"{case.profile.name}, calibrated (x {factor:.3g})"
    return replace(case, profile=replace(scaled(case.profile, factor), name=name))
