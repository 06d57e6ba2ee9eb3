"""Designs of a comparison at one tip load: levels of a factor, or wires of different construction."""

from collections.abc import Sequence
from dataclasses import replace
from math import isclose
from pathlib import Path
from typing import Annotated, Self

from pydantic import Field, model_validator

from ..profile import Profile
from ..study.spec import Bench, StudySpec
from ..units import from_si
from ..wire.design import profile
from .common import FieldError, Model, Name, named
from .study import base_of, family_of
from .study_tables import StudyTables
from .wire import asked_wire


class ConstructionTable(Model):
    """One [[construction]]: another wire, scaled to the same tip load and compared with that of [wire]."""

    preset: Name | None = None
    file: Annotated[str, Field(min_length=1, max_length=400)] | None = None

    @model_validator(mode="after")
    def _one_wire(self) -> Self:
        if (self.preset is None) == (self.file is None):
            raise FieldError("preset", self.preset, "exactly one of preset and file in [[construction]]")
        return self


def constructions_of(path: str | Path, tables: StudyTables, asked: Sequence[ConstructionTable]) -> tuple[Profile, ...]:
    """Profiles of [wire] and of every [[construction]]: of other names, but of one outside, tip and surface.

    What is drawn at a point is cut by the wire's diameter and scales with its tip: else they would meet other vessels.
    """
    found = [base_of(path, tables)]
    for number, one in enumerate(asked, start=1):
        place = f"construction[{number}]"
        design = asked_wire(path, one.preset, one.file, place)
        with named(path, f"{place}."):
            wire = profile(design, tables.wire.coupling)
            _check_beside(found, wire, "file" if one.preset is None else "preset", one.file or one.preset)
        found.append(wire)
    surfaces = sorted({wire.friction for wire in found})
    if tables.wire.friction is None and len(surfaces) > 1:
        differ = ", ".join(f"{v:g}" for v in surfaces)
        with named(path):
            raise FieldError("wire.friction", None, f"a number: one surface for all, their own differ ({differ})")
    return tuple(found)


def _check_beside(found: Sequence[Profile], wire: Profile, field: str, value: str | None) -> None:
    """Refuse a wire that differs from that of [wire] in more than its construction, or that is there already."""
    if wire.name in {other.name for other in found}:
        raise FieldError(field, value, f"a wire of a name of its own, not '{wire.name}' again")
    first = found[0]
    for what, mine, other in (
        ("diameter at the tip", 2.0 * wire.radius[0], 2.0 * first.radius[0]),
        ("largest diameter", 2.0 * wire.radius.max(), 2.0 * first.radius.max()),
        ("tip radius", wire.tip_radius, first.tip_radius),
    ):
        if not isclose(mine, other):
            told = f"{from_si(float(other), 'mm'):.4g} mm (it is {from_si(float(mine), 'mm'):.4g})"
            raise FieldError(field, value, f"a wire whose {what} is that of [wire], {told}")


def at_one_load(path: str | Path, study: StudySpec, wires: Sequence[Profile], bench: Bench) -> StudySpec:
    """The study with wires of different construction as its designs, each scaled to its one tip load; the first is its
    own."""
    factors, scaled = list(study.factors), list(study.wires)
    for wire in wires[1:]:
        factor, one = family_of(path, wire, study.tip_loads, bench, "tip_loads_gf")
        factors += factor
        scaled += one
    return replace(study, tip_loads=study.tip_loads * len(wires), factors=tuple(factors), wires=tuple(scaled))


def at_levels(study: StudySpec, count: int) -> StudySpec:
    """The study with its one wire as every design."""
    return replace(study, tip_loads=study.tip_loads * count, factors=study.factors * count, wires=study.wires * count)
