"""What a comparison is: a study's designs, what tells them apart, factors, distributions, shared unknowns, the plan."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from math import inf

import numpy as np
from scipy.stats import qmc

from ..checks import FieldError, check_range
from .factors import (
    Arm,
    Array,
    Distribution,
    Factor,
    Level,
    arms_of,
    factor_words,
    frozen,
    level_words,
    with_level,
)
from .outcomes import Measure
from .spec import OfStudy, StudySpec
from .streams import Use, stream

TIP_LOAD, CONSTRUCTION = "tip_load", "construction"
NO_HALF_WIDTH = 'left out with outcome = "opened_area": it is the half-width of a probability\'s interval'
FEWEST_SCRAMBLES = 16  # below it intervals rest on few scrambles, which is told


@dataclass(frozen=True)
class SharedUnknown:
    """An unknown common to all designs of a replicate (outer loop): its distribution, cut to [low, high] (SI; None: no
    limit), or choices with equal chance."""

    name: str
    kind: str
    parameters: tuple[tuple[str, float], ...] = ()
    choices: tuple[Level, ...] = ()
    source: str = "assumption"
    low: float | None = None
    high: float | None = None

    def level(self, u: float) -> Level:
        """Value at the probability `u`."""
        if self.choices:
            return self.choices[min(int(u * len(self.choices)), len(self.choices) - 1)]
        low, high = -inf if self.low is None else self.low, inf if self.high is None else self.high
        return float(np.clip(frozen(self.kind, dict(self.parameters)).ppf(u), low, high))


@dataclass(frozen=True)
class Plan:
    """The analysis planned before any insertion is made.

    outcome : what is compared first; reference : index of the design that the others are compared with
    margin : risk difference (or relative difference of the area) within which designs count as equivalent
    level : level of significance of the whole family of comparisons of the outcome, by Holm
    power : power for which sample sizes are given
    half_width : wanted half-width of every cell's interval (None: as many scrambles as stated)
    most_scrambles : scrambles of a cell at most
    """

    outcome: Measure = "entered"
    reference: int = -1
    margin: float = 0.05
    level: float = 0.05
    power: float = 0.8
    half_width: float | None = None
    most_scrambles: int = 256

    def __post_init__(self) -> None:
        check_range(self.margin, name="comparison.margin", low=0.0, high=1.0, above=True)
        check_range(self.level, name="comparison.level", low=1e-4, high=0.2)
        check_range(self.power, name="comparison.power", low=0.5, high=0.999)
        if self.half_width is not None and self.outcome == "opened_area":
            raise FieldError("comparison.half_width", self.half_width, NO_HALF_WIDTH)


@dataclass(frozen=True)
class CompareSpec(OfStudy):
    """A study's grid and points, further factors, distributions in place of the usual ones, shared unknowns, the plan.

    replicates : draws of the shared unknowns (0: none, they stand as stated)
    by : what tells the designs apart: their tip load; their construction; or a factor, at whose levels one wire is
        compared with itself
    levels : of that factor, SI, or the names of the constructions, one for each wire of the study (by tip load: none)
    """

    study: StudySpec
    factors: tuple[Factor, ...] = ()
    distributions: tuple[Distribution, ...] = ()
    shared_unknowns: tuple[SharedUnknown, ...] = ()
    replicates: int = 0
    plan: Plan = field(default_factory=Plan)
    by: str = TIP_LOAD
    levels: tuple[Level, ...] = ()

    def __post_init__(self) -> None:
        if len(self.study.tip_loads) < 2:
            raise FieldError("tip_loads", list(self.study.tip_loads), "at least two designs to compare")
        names = [f.name for f in self.factors]
        if len(set(names)) < len(names):
            raise FieldError("factor", names, "each factor once")
        if self.by != TIP_LOAD:
            self._check_levels(names)
        elif self.levels:
            raise FieldError("levels", list(self.levels), "none where tip loads tell the designs apart")
        if (self.replicates > 0) != bool(self.shared_unknowns):
            raise FieldError("replicates", self.replicates, "more than 0 with shared unknowns, and only with them")
        clash = {s.name for s in self.shared_unknowns} & set(names)
        if clash:
            raise FieldError("shared_unknown", sorted(clash), "what is no factor too")

    def _check_levels(self, names: list[str]) -> None:
        """Designs by a factor or by construction: one level for each, all at one tip load."""
        loads = self.study.tip_loads
        if len(set(loads)) > 1:
            raise FieldError("tip_loads", list(loads), "one tip load, the same for every design")
        if self.by != CONSTRUCTION:
            if self.by in names:
                raise FieldError("factor", self.by, "a factor that does not tell the designs apart")
            Factor(self.by, self.levels)
        if len(set(self.levels)) != len(loads):
            raise FieldError("levels", list(self.levels), f"{len(loads)}, one for each design, each once")

    @property
    def reference(self) -> int:
        """Index of the reference among the designs."""
        return self.plan.reference % len(self.study.tip_loads)

    @property
    def others(self) -> list[int]:
        """Indices of the designs that are compared with the reference."""
        return [i for i in range(len(self.study.tip_loads)) if i != self.reference]

    @property
    def scale(self) -> Array | None:
        """Tip load or level of every design, SI; None where they are words, or where one is not above 0."""
        values = self.levels or self.study.tip_loads
        numbers = [v for v in values if not isinstance(v, str) and v > 0.0]
        return np.array(numbers, dtype=float) if len(numbers) == len(values) else None


def shared_draws(spec: CompareSpec) -> tuple[Mapping[str, Level], ...]:
    """Draws of the shared unknowns, one for each replicate: scrambled Sobol' points of their own."""
    if not spec.shared_unknowns:
        return ()
    power = max(0, int(np.ceil(np.log2(spec.replicates))))
    sobol = qmc.Sobol(len(spec.shared_unknowns), scramble=True, rng=stream(spec.seed, Use.SHARED))
    u = sobol.random_base2(power)[: spec.replicates]
    return tuple({s.name: s.level(float(v)) for s, v in zip(spec.shared_unknowns, row, strict=True)} for row in u)


def arms(spec: CompareSpec) -> tuple[Arm, ...]:
    """All arms of a comparison, in order."""
    return arms_of(spec.study, spec.factors, shared_draws(spec))


def of_design(spec: CompareSpec, arm: Arm, design: int) -> Arm:
    """An arm as one design meets it: at its own level of the factor that tells the designs apart."""
    if spec.by in (TIP_LOAD, CONSTRUCTION):
        return arm
    own, pinned = with_level(arm.spec, spec.by, spec.levels[design])
    return replace(arm, spec=own, pinned={**arm.pinned, **pinned})


def by_words(spec: CompareSpec) -> str:
    """What tells the designs apart, in words."""
    return factor_words(spec.by)


def design_words(spec: CompareSpec, design: int) -> str:
    """A design in words."""
    return words_of_design(spec.by, (spec.levels or spec.study.tip_loads)[design])


def words_of_design(by: str, value: Level) -> str:
    """A design in words: its tip load, its construction, or its level of the factor with the factor's name."""
    words = level_words(by, value)
    return words if by in (TIP_LOAD, CONSTRUCTION) else f"{factor_words(by)} {words}"
