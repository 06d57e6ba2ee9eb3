"""Files for `tipmech sensitivity`: a map's file with a [sensitivity] table, which may give ranges in place of the grid.

`check_sensitivity` reads and checks a file; `read_sensitivity` also runs the bench, for the softness factor of one tip
load or of those tabulated over the range.
"""

from math import degrees, radians
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import ConfigDict, Field, model_validator

from ..rod.errors import NotConvergedError
from ..study.sensitivity import SensitivitySpec, interpolation_error, load_knots
from ..study.spec import Bench, StudySpec
from .case_wire import bench_of
from .common import FieldError, Model, fail, named, read_toml, validate
from .study import GF, MM, check_tables, spec_of
from .study_tables import Angle, LocalStudyTable, MapTables, TipLoad

ALLOWED = (
    "a [sensitivity] table, which makes a file one for `tipmech sensitivity` (an empty one takes its defaults; a file "
    "without one goes to `tipmech map`)"
)
RANGES = {"tip_load_gf": "tip_loads_gf", "angle_deg": "angles_deg"}  # range in [sensitivity] -> the map's axis

Asked = Literal["entered", "extended", "curled", "opened_area", "max_push"]


class SensitivityTable(Model):
    """[sensitivity]: sizes of the two designs, outcomes, and ranges in place of a fixed tip load and angle."""

    screening: int = Field(default=10, ge=2, le=1000)
    levels: int = Field(default=4, ge=4, le=20)
    base_points: int = Field(default=128, ge=8, le=8192)
    outcomes: Annotated[tuple[Asked, ...], Field(min_length=1, max_length=5)] = (
        "entered",
        "extended",
        "curled",
        "opened_area",
    )
    tip_load_gf: tuple[TipLoad, TipLoad] | None = None
    angle_deg: tuple[Angle, Angle] | None = None

    @model_validator(mode="after")
    def _sizes(self) -> Self:
        if self.levels % 2:
            raise FieldError("levels", self.levels, "an even number: 4, 6, 8, ...")
        if self.base_points & (self.base_points - 1):
            raise FieldError("base_points", self.base_points, "a power of 2: 8, 16, 32, ... 8192")
        if len(set(self.outcomes)) < len(self.outcomes):
            raise FieldError("outcomes", list(self.outcomes), "each outcome once")
        for name in RANGES:
            ends = getattr(self, name)
            if ends is not None and not ends[0] < ends[1]:
                raise FieldError(name, list(ends), "two numbers, the second larger than the first")
        return self


class _Own(Model):
    """The [sensitivity] table alone: it is checked first, for the map's axes may come from it."""

    sensitivity: SensitivityTable


def _angles_may_be_a_range(schema: dict[str, Any]) -> None:
    """`check_sensitivity` puts angles in before the tables are checked, where a range is given in their place."""
    schema["required"].remove("angles_deg")


class SensitivityTables(MapTables):
    """A whole file of a sensitivity study."""

    model_config = ConfigDict(json_schema_extra=_angles_may_be_a_range)

    sensitivity: SensitivityTable

    @model_validator(mode="after")
    def _sensitivity(self) -> Self:
        for name in ("scrambles", "points_per_scramble"):
            if name in self.model_fields_set:
                allowed = "nothing here: sensitivity.screening and sensitivity.base_points say how many insertions"
                raise FieldError(name, getattr(self, name), allowed)
        if self.wire.posterior is not None:
            allowed = "left out: a sensitivity study takes its wires by tip load"
            raise FieldError("wire.posterior", self.wire.posterior, allowed)
        if "front_shape" in self.shared.model_fields_set:
            allowed = "left out: it is an input of the study, notch and flat with probability 0.5 each"
            raise FieldError("shared.front_shape", self.shared.front_shape, allowed)
        for name, axis in RANGES.items():
            values = getattr(self, axis)
            if getattr(self.sensitivity, name) is None and len(values) != 1:
                allowed = f"one value, or a range sensitivity.{name} = [low, high] in its place"
                raise FieldError(axis, list(values), allowed)
        return self


def check_sensitivity(path: str | Path) -> SensitivityTables:
    """Read and check a file, wire and geometry included, without running the bench.

    Raises
    ------
    InputError
        one sentence: file, field, value, what is allowed
    """
    data = read_toml(path)
    if "sensitivity" not in data:
        fail(path, "sensitivity", None, ALLOWED)
    own = validate(path, {"sensitivity": data["sensitivity"]}, _Own).sensitivity
    for name, axis in RANGES.items():
        ends = getattr(own, name)
        if ends is not None and axis in data:
            fail(path, axis, data[axis], f"left out where sensitivity.{name} gives a range")
        if ends is not None:
            data[axis] = list(ends)
    tables = check_tables(path, validate(path, data, SensitivityTables))
    alone = tables.model_copy(update={"tip_loads_gf": None})  # one wire as it is: no bench for a check
    _spec(path, tables, _study(path, alone, lambda wire: 1.0, (1.0,)), fixed_load=True)
    return tables


def read_sensitivity(path: str | Path, bench: Bench | None = None) -> SensitivitySpec:
    """Spec of a file; `bench` (profile -> tip load, N): the simulated one at the file's free length if left out."""
    tables = check_sensitivity(path)
    used = bench if bench is not None else bench_of(tables.wire.bench_free_length_mm * MM)
    own = tables.sensitivity
    if own.tip_load_gf is None:
        return _spec(path, tables, _study(path, tables, used, None))
    knots = tuple(x / GF for x in load_knots(*(x * GF for x in own.tip_load_gf)))
    study = _study(path, tables.model_copy(update={"tip_loads_gf": knots}), used, None)
    try:
        error = interpolation_error(study, used)
    except NotConvergedError:
        allowed = f"a range at which the bench finds an equilibrium for the softness family of '{study.base.name}'"
        fail(path, "sensitivity.tip_load_gf", list(own.tip_load_gf), allowed)
    return _spec(path, tables, study, load_error=error)


def _study(path: str | Path, tables: SensitivityTables, bench: Bench, scales: tuple[float, ...] | None) -> StudySpec:
    """Study of a file's tables."""
    field = "tip_loads_gf" if tables.sensitivity.tip_load_gf is None else "sensitivity.tip_load_gf"
    local = tables.local or LocalStudyTable()
    return spec_of(path, tables, bench, scales, tables.presentation, local, field)


def _spec(
    path: str | Path, tables: SensitivityTables, study: StudySpec, load_error: float = 0.0, *, fixed_load: bool = False
) -> SensitivitySpec:
    """Spec of a study; what does not fit the vessel is blamed on the field that asked for it."""
    own = tables.sensitivity
    sizes: dict[str, Any] = {"trajectories": own.screening, "levels": own.levels, "base_points": own.base_points}
    load = None if fixed_load or own.tip_load_gf is None else (study.tip_loads[0], study.tip_loads[-1])
    angle = None if own.angle_deg is None else (radians(own.angle_deg[0]), radians(own.angle_deg[1]))
    with named(path):
        try:
            return SensitivitySpec(study, **sizes, tip_load=load, angle=angle, load_error=load_error)
        except FieldError as error:
            if error.field != "angle":
                raise
            field = "angles_deg" if angle is None else "sensitivity.angle_deg"
            fail(
                path, field, round(degrees(error.value), 6), "angles at which tip and support fit the lumen at the tear"
            )
