"""Files for `tipmech compare`: a map's file with [comparison], and [[factor]], [[distribution]], [[shared_unknown]].

`check_*` reads and checks a file; `read_*` also finds the softness factor of every tip load, which runs the bench.
"""

from math import isclose
from pathlib import Path
from typing import Annotated, Literal, Self

import numpy as np
from pydantic import Field, model_validator

from ..checks import Said
from ..study.compare_spec import CompareSpec, Plan, SharedUnknown
from ..study.factors import PINNED, SHARED, Distribution, Factor, Level, frozen, probability_of, unknown
from ..study.outcomes import OUTCOMES, Estimand, Measure
from ..study.run_procedures import ProceduresSpec
from ..study.spec import Bench
from ..units import UNITS
from .common import FieldError, Model, Name, fail, named, read_toml
from .imaging import ImagingTable, looks_of
from .policy import PolicyTable
from .study import check_study, spec_of
from .study_tables import LocalStudyTable, MapTables, check_policy

ENDING = {"mm": "_mm", "MPa": "_mpa", "kPa": "_kpa", "N": "_n", "J_per_m2": "_j_m2", "N_per_mm": "_n_mm"}
"""How the unit of a factor ends its name in a file, as in the tables of study files."""

NAMES: dict[str, tuple[str, float]] = {
    name + ENDING.get(unit, ""): (name, UNITS.get(unit, 1.0)) for name, unit in {**SHARED, **PINNED}.items()
}
"""Name in a file: name inside, and what a number there is times to be SI."""

SHAPES = ("notch", "flat")
PARAMETERS = {"lognormal": ("median", "log_sd"), "normal": ("mean", "sd"), "uniform": ("low", "high")}
COMPARISON_ALLOWED = (
    "a [comparison] table, which makes a file one for `tipmech compare` (an empty one takes its defaults; a map's file "
    "goes to `tipmech map`)"
)
Number = Annotated[float, Field(ge=-1e9, le=1e9)]
Named = Annotated[Name, Field(json_schema_extra={"enum": list(NAMES)})]
"""Name of a factor or unknown; validators refuse others, the schema lists them."""


class ComparisonTable(Model):
    """[comparison]: the analysis planned before any insertion is made; outcome: left out, the estimand's usual one."""

    estimand: Estimand = "insertion"
    outcome: Measure | None = None
    reference_gf: Annotated[float, Field(gt=0, le=60)] | None = None
    margin: float = Field(default=0.05, gt=0, le=1)
    level: float = Field(default=0.05, ge=1e-4, le=0.2)
    power: float = Field(default=0.8, ge=0.5, le=0.999)
    half_width: Annotated[float, Field(ge=0.005, le=0.5)] | None = None
    most_scrambles: int = Field(default=256, ge=2, le=100_000)
    replicates: int = Field(default=0, ge=0, le=256)

    @model_validator(mode="after")
    def _outcome(self) -> Self:
        if self.outcome is not None and self.outcome not in OUTCOMES[self.estimand]:
            allowed = f'with estimand = "{self.estimand}" one of {", ".join(OUTCOMES[self.estimand])}'
            raise FieldError("outcome", self.outcome, allowed)
        return self

    def plan(self, reference: int) -> Plan:
        """The plan; reference: index of its tip load."""
        outcome = self.outcome or OUTCOMES[self.estimand][0]
        return Plan(outcome, reference, self.margin, self.level, self.power, self.half_width, self.most_scrambles)


class FactorTable(Model):
    """One [[factor]]: its name, with the unit at the end, and its levels (words for the front's shape)."""

    name: Named
    levels: Annotated[tuple[float | str, ...], Field(min_length=1, max_length=12)]

    @model_validator(mode="after")
    def _levels(self) -> Self:
        _inside(self.name, "name")
        for level in self.levels:
            check_level(self.name, level, "levels")
        if len(set(self.levels)) < len(self.levels):
            raise FieldError("levels", list(self.levels), "each level once")
        return self

    def factor(self) -> Factor:
        """The factor, SI."""
        name, _ = NAMES[self.name]
        return Factor(name, tuple(_si(self.name, level) for level in self.levels))


class DistributionTable(Model):
    """What [[distribution]] and [[shared_unknown]] have in common: a kind with its parameters, in the name's unit."""

    name: Named
    kind: Literal["lognormal", "normal", "uniform"] | None = None
    median: Annotated[float, Field(gt=0)] | None = None
    log_sd: Annotated[float, Field(gt=0, le=3)] | None = None
    mean: Number | None = None
    sd: Annotated[float, Field(gt=0)] | None = None
    low: Number | None = None
    high: Number | None = None
    source: Annotated[str, Field(min_length=1, max_length=200)]

    def parameters(self) -> tuple[tuple[str, float], ...]:
        """Parameters of the kind, SI; anything missing or too much is refused."""
        if self.kind is None:
            raise FieldError("kind", None, f"one of {', '.join(PARAMETERS)}")
        wanted = PARAMETERS[self.kind]
        for name in ("median", "log_sd", "mean", "sd", "low", "high"):
            value = getattr(self, name)
            if (value is None) == (name in wanted):
                raise FieldError(name, value, f"for a {self.kind} distribution {' and '.join(wanted)}, nothing else")
        if self.kind == "uniform" and not (self.low or 0.0) < (self.high or 0.0):
            raise FieldError("high", self.high, f"greater than low, {self.low:g}")
        scale = NAMES[self.name][1]
        return tuple((n, float(getattr(self, n)) * (1.0 if n == "log_sd" else scale)) for n in wanted)


class UnknownTable(DistributionTable):
    """One [[distribution]]: in place of the usual one of an unknown that scatters from insertion to insertion."""

    @model_validator(mode="after")
    def _unknown(self) -> Self:
        scattered = [edge for edge, (inner, _) in NAMES.items() if inner in PINNED]
        if self.name not in scattered:
            raise FieldError("name", self.name, f"one of {', '.join(scattered)}")
        inner, scale = NAMES[self.name]
        x, d = unknown(inner), frozen(str(self.kind), dict(self.parameters()))
        outside = float(d.cdf(x.low) + d.sf(x.high))
        if outside > 0.5:
            allowed = f"a distribution that lies mostly within {x.low / scale:.4g} to {x.high / scale:.4g}"
            raise FieldError("kind", self.kind, f"{allowed} (it is cut there; {outside:.0%} of it lies outside)")
        return self

    def distribution(self) -> Distribution:
        """The distribution, SI."""
        return Distribution(NAMES[self.name][0], str(self.kind), self.parameters(), self.source)


class SharedUnknownTable(DistributionTable):
    """One [[shared_unknown]]: drawn once in a replicate, common to all designs; choices: equally likely values."""

    choices: Annotated[tuple[float | str, ...], Field(min_length=2, max_length=12)] | None = None

    @model_validator(mode="after")
    def _drawn(self) -> Self:
        _inside(self.name, "name")
        if self.choices is not None:
            if self.kind is not None:
                raise FieldError("choices", list(self.choices), "either choices or a kind of distribution")
            for choice in self.choices:
                check_level(self.name, choice, "choices")
            return self
        if self.name == "front_shape":
            raise FieldError("choices", None, f"choices of {', '.join(SHAPES)}")
        d, scale = frozen(str(self.kind), dict(self.parameters())), NAMES[self.name][1]
        for u in (0.001, 0.999):  # what is drawn must be allowed
            check_level(self.name, float(d.ppf(u)) / scale, "kind")
        return self

    def shared(self) -> SharedUnknown:
        """The shared unknown, SI."""
        name = NAMES[self.name][0]
        if self.choices is not None:
            return SharedUnknown(name, "choice", (), tuple(_si(self.name, c) for c in self.choices), self.source)
        return SharedUnknown(name, str(self.kind), self.parameters(), (), self.source)


class CompareTables(MapTables):
    """A whole file of a comparison."""

    comparison: ComparisonTable
    factor: tuple[FactorTable, ...] = ()
    distribution: tuple[UnknownTable, ...] = ()
    shared_unknown: tuple[SharedUnknownTable, ...] = ()
    policy: PolicyTable | None = None
    imaging: ImagingTable | None = None

    @model_validator(mode="after")
    def _procedures(self) -> Self:
        estimand, policy = self.comparison.estimand, self.policy
        if estimand == "insertion":
            for name in ("policy", "imaging"):
                if getattr(self, name) is not None:
                    allowed = 'a table only with comparison.estimand = "procedure" or "damage"'
                    raise FieldError(name, Said("given"), allowed)
            return self
        if policy is None:
            raise FieldError("policy", None, f'a table, as for attempts, with comparison.estimand = "{estimand}"')
        check_policy(self, policy)
        caps = [f.levels for f in self.factor if f.name == "force_cap_n"]
        caps += [s.choices for s in self.shared_unknown if s.name == "force_cap_n" and s.choices]
        for levels in caps:
            policy.check_pushes(min(map(float, levels)), "the lowest force_cap_n")
        return self

    @model_validator(mode="after")
    def _comparison(self) -> Self:
        loads, c = self.tip_loads_gf or (), self.comparison
        if self.wire.posterior is not None:
            raise FieldError("wire.posterior", self.wire.posterior, "left out: designs are compared by tip load")
        if len(loads) < 2:
            raise FieldError("tip_loads_gf", list(loads), "at least two tip loads to compare")
        if c.reference_gf is not None and not any(isclose(c.reference_gf, load) for load in loads):
            raise FieldError("comparison.reference_gf", c.reference_gf, f"one of tip_loads_gf, {_listed(loads)}")
        factors = [f.name for f in self.factor]
        for place, names in (
            ("factor", factors),
            ("distribution", [d.name for d in self.distribution]),
            ("shared_unknown", [s.name for s in self.shared_unknown]),
        ):
            if len(set(names)) < len(names):
                raise FieldError(place, names, "each name once")
        clash = sorted(set(factors) & {s.name for s in self.shared_unknown})
        if clash:
            raise FieldError("shared_unknown", clash, "names that are no factor too")
        if (c.replicates > 0) != bool(self.shared_unknown):
            allowed = "at least 1 with [[shared_unknown]] (a power of 2 is best), and only with them"
            raise FieldError("comparison.replicates", c.replicates, allowed)
        if c.half_width is not None and c.most_scrambles < self.scrambles:
            raise FieldError("comparison.most_scrambles", c.most_scrambles, f"at least scrambles, {self.scrambles}")
        return self


def check_compare(path: str | Path) -> CompareTables:
    """Read and check a file of a comparison, wire and geometry included, without running the bench."""
    if "comparison" not in read_toml(path):
        fail(path, "comparison", None, COMPARISON_ALLOWED)
    return check_study(path, CompareTables)


def read_compare(path: str | Path, bench: Bench | None = None) -> CompareSpec | ProceduresSpec:
    """Spec of a file of a comparison, of insertions or of procedures; `bench` as for `read_map`.

    Raises
    ------
    InputError
        one sentence: file, field, value, what is allowed
    """
    tables = check_compare(path)
    study = spec_of(path, tables, bench, None, tables.presentation, tables.local or LocalStudyTable())
    c, loads = tables.comparison, tables.tip_loads_gf or ()
    reference = len(loads) - 1
    if c.reference_gf is not None:
        reference = int(np.argmin([abs(load - c.reference_gf) for load in loads]))
    with named(path):
        compared = CompareSpec(
            study,
            tuple(f.factor() for f in tables.factor),
            tuple(d.distribution() for d in tables.distribution),
            tuple(s.shared() for s in tables.shared_unknown),
            c.replicates,
            c.plan(reference),
        )
        if tables.policy is None:
            return compared
        return ProceduresSpec(compared, tables.policy.policy(), *looks_of(tables.imaging or ImagingTable()))


def _listed(values: tuple[float, ...]) -> str:
    return ", ".join(f"{v:g}" for v in values)


def _inside(name: str, field: str) -> None:
    """Refuse a name that no factor of the scene has."""
    if name not in NAMES:
        raise FieldError(field, name, f"one of {', '.join(NAMES)}")


def _si(name: str, level: float | str) -> Level:
    """A level in SI; words stay."""
    return level if isinstance(level, str) else float(level) * NAMES[name][1]


def check_level(name: str, level: float | str, field: str) -> None:
    """Refuse a level that the scene cannot have."""
    inner, scale = NAMES[name]
    if inner == "front_shape":
        if level not in SHAPES:
            raise FieldError(field, level, f"one of {', '.join(SHAPES)}")
        return
    if isinstance(level, str):
        raise FieldError(field, level, "a number")
    if inner in PINNED:
        x = unknown(inner)
        try:
            probability_of(x, np.array([level * scale]))
        except FieldError:
            allowed = f"{x.low / scale:.4g} to {x.high / scale:.4g}"
            raise FieldError(field, level, allowed) from None
        return
    low, high = RANGES[inner]
    if not low <= level <= high:
        raise FieldError(field, level, f"{low:g} to {high:g}")


RANGES = {
    "friction": (0.005, 1.0),
    "fracture_energy": (0.1, 1000.0),
    "front_friction": (0.0, 2.0),
    "static_ratio": (1.0, 3.0),
    "drive_stiffness": (0.01, 10.0),
    "force_cap": (0.005, 10.0),
}
"""Of the shared values, in a file's units, as in [shared] and [wire]."""
