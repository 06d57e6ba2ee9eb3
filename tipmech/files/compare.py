"""Files for `tipmech compare`: a map's file with [comparison], and [[factor]], [[distribution]], [[shared_unknown]].

`check_*` reads and checks a file; `read_*` also finds the softness factor of every tip load, which runs the bench.
"""

from math import isclose
from pathlib import Path
from typing import Annotated, Self

import numpy as np
from pydantic import Field, model_validator

from ..checks import Said
from ..study.compare_spec import CONSTRUCTION, NO_HALF_WIDTH, TIP_LOAD, CompareSpec, Plan
from ..study.factors import Level
from ..study.outcomes import OUTCOMES, Estimand, Measure
from ..study.run_procedures import ProceduresSpec
from ..study.spec import Bench
from ..units import UNITS
from .case_wire import bench_of
from .common import FieldError, Model, fail, named, read_toml
from .compare_designs import ConstructionTable, at_levels, at_one_load, constructions_of
from .factors import NAMES, FactorTable, Named, SharedUnknownTable, UnknownTable, si_level
from .imaging import ImagingTable, looks_of
from .policy import PolicyTable
from .study import check_study, spec_of
from .study_tables import LocalStudyTable, MapTables, check_policy

COMPARISON_ALLOWED = (
    "a [comparison] table, which makes a file one for `tipmech compare` (an empty one takes its defaults; a map's file "
    "goes to `tipmech map`)"
)


class ComparisonTable(Model):
    """[comparison]: the analysis planned before any insertion is made; outcome: left out, the estimand's usual one.

    by: factor whose levels are the designs, in place of tip loads; reference: one of its levels (left out: the last).
    """

    estimand: Estimand = "insertion"
    outcome: Measure | None = None
    by: Named | None = None
    reference: float | str | None = None
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
        if self.half_width is not None and (self.outcome or OUTCOMES[self.estimand][0]) == "opened_area":
            raise FieldError("half_width", self.half_width, NO_HALF_WIDTH)
        return self

    def plan(self, reference: int) -> Plan:
        """The plan; reference: index of its tip load."""
        outcome = self.outcome or OUTCOMES[self.estimand][0]
        return Plan(outcome, reference, self.margin, self.level, self.power, self.half_width, self.most_scrambles)


class CompareTables(MapTables):
    """A whole file of a comparison."""

    comparison: ComparisonTable
    factor: tuple[FactorTable, ...] = ()
    distribution: tuple[UnknownTable, ...] = ()
    shared_unknown: tuple[SharedUnknownTable, ...] = ()
    policy: PolicyTable | None = None
    imaging: ImagingTable | None = None
    construction: tuple[ConstructionTable, ...] = Field(default=(), max_length=11)

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
    def _designs(self) -> Self:
        loads, c = self.tip_loads_gf or (), self.comparison
        if self.wire.posterior is not None:
            raise FieldError("wire.posterior", self.wire.posterior, "left out: designs are compared by tip load")
        if c.by is None and not self.construction:
            if len(loads) < 2:
                allowed = "at least two tip loads to compare (one with comparison.by or [[construction]])"
                raise FieldError("tip_loads_gf", list(loads), allowed)
            if c.reference is not None:
                raise FieldError("comparison.reference", c.reference, "left out: by tip load it is reference_gf")
            if c.reference_gf is not None and not any(isclose(c.reference_gf, load) for load in loads):
                raise FieldError("comparison.reference_gf", c.reference_gf, f"one of tip_loads_gf, {_listed(loads)}")
            return self
        if len(loads) != 1:
            raise FieldError("tip_loads_gf", list(loads), "one tip load, the same for all designs")
        if c.reference_gf is not None:
            raise FieldError("comparison.reference_gf", c.reference_gf, "left out: all designs have one tip load")
        if not self.construction:
            self._check_by(c)
            return self
        if c.by is not None:
            raise FieldError("comparison.by", c.by, "left out with [[construction]], which tells the designs apart")
        if c.reference is not None:
            raise FieldError("comparison.reference", c.reference, "left out: the wire of [wire] is the reference")
        return self

    def _check_by(self, c: ComparisonTable) -> None:
        """Check that the designs are the levels of a factor, and that the reference is one of them."""
        levels = self.levels
        if len(levels) < 2:
            raise FieldError("comparison.by", c.by, "the name of a [[factor]] with at least two levels")
        if c.reference is not None and c.reference not in levels:
            told = ", ".join(v if isinstance(v, str) else f"{v:g}" for v in levels)
            raise FieldError("comparison.reference", c.reference, f"one of the levels of {c.by}, {told}")

    @property
    def levels(self) -> tuple[float | str, ...]:
        """Levels of the factor that tells the designs apart, as the file has them."""
        return next((f.levels for f in self.factor if f.name == self.comparison.by), ())

    @model_validator(mode="after")
    def _comparison(self) -> Self:
        c = self.comparison
        factors = [f.name for f in self.factor]
        for place, names in (
            ("factor", factors),
            ("distribution", [d.name for d in self.distribution]),
            ("shared_unknown", [s.name for s in self.shared_unknown]),
        ):
            if len(set(names)) < len(names):
                raise FieldError(place, names, "each name once")
        held = {"factor": set(factors), "shared_unknown": {s.name for s in self.shared_unknown}}
        clash = sorted(held["factor"] & held["shared_unknown"])
        if clash:
            raise FieldError("shared_unknown", clash, "names that are no factor too")
        for place, taken in held.items():
            clash = sorted(taken & {d.name for d in self.distribution})
            if clash:
                raise FieldError("distribution", clash, f"names of which no [[{place}]] holds the value")
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
    tables = check_study(path, CompareTables)
    constructions_of(path, tables, tables.construction)
    return tables


def read_compare(path: str | Path, bench: Bench | None = None) -> CompareSpec | ProceduresSpec:
    """Spec of a file of a comparison, of insertions or of procedures; `bench` as for `read_map`.

    Raises
    ------
    InputError
        one sentence: file, field, value, what is allowed
    """
    tables = check_compare(path)
    study = spec_of(path, tables, bench, None, tables.presentation, tables.local or LocalStudyTable())
    c, by, levels = tables.comparison, TIP_LOAD, tuple[Level, ...]()
    if tables.construction:
        wires = constructions_of(path, tables, tables.construction)
        used = bench if bench is not None else bench_of(tables.wire.bench_free_length_mm * UNITS["mm"])
        study = at_one_load(path, study, wires, used)
        by, levels = CONSTRUCTION, tuple(wire.name for wire in wires)
    elif c.by is not None:
        by, levels = NAMES[c.by][0], tuple(si_level(c.by, level) for level in tables.levels)
        study = at_levels(study, len(levels))
    with named(path):
        compared = CompareSpec(
            study,
            tuple(f.factor() for f in tables.factor if f.name != c.by),
            tuple(d.distribution() for d in tables.distribution),
            tuple(s.shared() for s in tables.shared_unknown),
            c.replicates,
            c.plan(_reference(tables)),
            by,
            levels,
        )
        if tables.policy is None:
            return compared
        return ProceduresSpec(compared, tables.policy.policy(), *looks_of(tables.imaging or ImagingTable()))


def _reference(tables: CompareTables) -> int:
    """Index of the reference among the designs; left out: the last tip load or level, the wire of [wire]."""
    c, loads = tables.comparison, tables.tip_loads_gf or ()
    if tables.construction:
        return 0
    if c.reference is not None:
        return tables.levels.index(c.reference)
    if c.reference_gf is not None:
        return int(np.argmin([abs(load - c.reference_gf) for load in loads]))
    return -1


def _listed(values: tuple[float, ...]) -> str:
    return ", ".join(f"{v:g}" for v in values)
