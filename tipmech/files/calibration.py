"""Calibration files: the user's own bench measurements in TOML -> a wire, what is known of the bench, data in SI.

A calibration file::

    title = "My wire on my bench"
    [wire]
    preset = "workhorse"                # or file = "my_wire.toml", from this file's folder
    [bench]
    end = "unknown"                     # or "free", "pinned", "friction" with plate_friction = 0.2
    travel_mm = 0.25
    [prior]
    scale_log_sd = 0.5                  # how well the drawing gives EI
    [[tip_load]]                        # one to three
    free_length_mm = 10.0               # left out: 10 +- 1 mm
    length_error_mm = 0.1
    load_gf = 0.4
    error_percent = 3.0                 # or error_gf = 0.02
    [[lateral_stiffness]]               # none to three
    free_length_mm = 10.0
    stiffness_N_per_m = 0.6
    error_percent = 5.0                 # or error_N_per_m = 0.03
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from ..bench.measured import (
    LENGTH_CUT,
    LENGTH_SD,
    UNSTATED_LENGTH,
    UNSTATED_LENGTH_SD,
    Datum,
    Kind,
    Setup,
)
from ..profile import Profile
from ..units import UNITS
from ..wire.design import Design, profile
from .common import FieldError, Model, Name, load, named
from .wire import asked_wire

MM, GF = UNITS["mm"], UNITS["gf"]

LEAST_ERROR, MOST_ERROR = 0.005, 0.5  # relative: below, the length's and the model's errors rule; above, no measurement
SHORTEST, LONGEST = 3.0, 20.0  # mm: usual lengths; the softness family is a plain factor over the distal 30 mm
MOST_LENGTH_ERROR = 0.1  # of the free length
MOST_TRAVEL = 0.4  # of the free length, as in bench/tip_load.py

Length = Annotated[float, Field(ge=SHORTEST, le=LONGEST)]
Error = Annotated[float, Field(ge=0, le=2)]


class CalibrationWireTable(Model):
    """[wire]: the wire as drawn; one of `preset` and `file`."""

    preset: Name | None = None
    file: Annotated[str, Field(min_length=1, max_length=400)] | None = None

    @model_validator(mode="after")
    def _one_wire(self) -> Self:
        if (self.preset is None) == (self.file is None):
            raise FieldError("preset", self.preset, "exactly one of preset and file in [wire]")
        return self


class BenchTable(Model):
    """[bench]: what is known of the user's tip-load bench."""

    end: Literal["unknown", "free", "pinned", "friction"] = "unknown"
    plate_friction: float | None = Field(default=None, ge=0.02, le=2)
    travel_mm: float = Field(default=0.25, ge=0.05, le=1)

    @model_validator(mode="after")
    def _friction(self) -> Self:
        if (self.end == "friction") != (self.plate_friction is not None):
            allowed = 'a number from 0.02 to 2 with end = "friction", and left out with any other end'
            raise FieldError("plate_friction", self.plate_friction, allowed)
        return self


class PriorTable(Model):
    """[prior]: how well the drawing is believed."""

    scale_log_sd: float = Field(default=0.5, ge=0.02, le=1)


class TipLoadTable(Model):
    """[[tip_load]]: one measured tip load."""

    free_length_mm: Length | None = None
    length_error_mm: Error | None = None
    load_gf: float = Field(gt=0, le=200)
    error_gf: float | None = Field(default=None, gt=0, le=100)
    error_percent: float | None = Field(default=None, gt=0, le=100)

    @model_validator(mode="after")
    def _errors(self) -> Self:
        _check_error(self.load_gf, "error_gf", self.error_gf, self.error_percent)
        _check_length(self.free_length_mm, self.length_error_mm)
        return self


class LateralTable(Model):
    """[[lateral_stiffness]]: one measured lateral tip stiffness."""

    free_length_mm: Length
    length_error_mm: Error | None = None
    stiffness_N_per_m: float = Field(gt=0, le=1e4)
    error_N_per_m: float | None = Field(default=None, gt=0, le=1e4)
    error_percent: float | None = Field(default=None, gt=0, le=100)

    @model_validator(mode="after")
    def _errors(self) -> Self:
        _check_error(self.stiffness_N_per_m, "error_N_per_m", self.error_N_per_m, self.error_percent)
        _check_length(self.free_length_mm, self.length_error_mm)
        return self


class CalibrationTables(Model):
    """A whole calibration file."""

    title: Name = "calibration"
    wire: CalibrationWireTable
    bench: BenchTable = BenchTable()
    prior: PriorTable = PriorTable()
    tip_load: Annotated[tuple[TipLoadTable, ...], Field(min_length=1, max_length=3)]
    lateral_stiffness: Annotated[tuple[LateralTable, ...], Field(max_length=3)] = ()

    @model_validator(mode="after")
    def _travel(self) -> Self:
        for k, row in enumerate(self.tip_load):
            datum = tip_load_datum(row)
            most = MOST_TRAVEL * (datum.free_length - LENGTH_CUT * datum.length_sd) / MM
            if self.bench.travel_mm > most:
                allowed = f"at most {most:.3g}, {MOST_TRAVEL:g} of the shortest length that tip_load[{k + 1}] may have"
                raise FieldError("bench.travel_mm", self.bench.travel_mm, allowed)
        return self


@dataclass(frozen=True)
class Calibration:
    """What a calibration file asks for, SI.

    title : shown to users
    design, base : the wire as drawn
    setup : what is known of the bench
    data : the measurements
    prior_sd : prior sd of ln scale
    """

    title: str
    design: Design
    base: Profile
    setup: Setup
    data: tuple[Datum, ...]
    prior_sd: float


def read_calibration(path: str | Path) -> Calibration:
    """Read and check a calibration file.

    Raises
    ------
    InputError
        one sentence: file, field, value, what is allowed
    """
    tables = load(path, CalibrationTables)
    design = asked_wire(path, tables.wire.preset, tables.wire.file)
    with named(path, "wire."):
        base = profile(design)
    data = [tip_load_datum(row) for row in tables.tip_load] + [lateral_datum(row) for row in tables.lateral_stiffness]
    friction = tables.bench.plate_friction
    setup = Setup(tables.bench.end, float("nan") if friction is None else friction, tables.bench.travel_mm * MM)
    return Calibration(tables.title, design, base, setup, tuple(data), tables.prior.scale_log_sd)


def tip_load_datum(row: TipLoadTable) -> Datum:
    """A tip load in SI; an unstated free length has the prior of one."""
    return _datum("tip_load", row.load_gf, GF, row.error_gf, row.error_percent, row.free_length_mm, row.length_error_mm)


def lateral_datum(row: LateralTable) -> Datum:
    """A lateral stiffness in SI."""
    value, error = row.stiffness_N_per_m, row.error_N_per_m
    return _datum("lateral", value, 1.0, error, row.error_percent, row.free_length_mm, row.length_error_mm)


def _datum(
    kind: Kind,
    value: float,
    unit: float,
    error: float | None,
    percent: float | None,
    length: float | None,
    length_error: float | None,
) -> Datum:
    spread = LENGTH_SD if length is not None else UNSTATED_LENGTH_SD
    return Datum(
        kind=kind,
        value=value * unit,
        error=error * unit if error is not None else float(percent or 0.0) / 100.0,
        relative=error is None,
        free_length=UNSTATED_LENGTH if length is None else length * MM,
        length_sd=spread if length_error is None else length_error * MM,
        length_stated=length is not None,
    )


def _check_error(value: float, name: str, error: float | None, percent: float | None) -> None:
    """Exactly one error is given, and it is neither nothing nor as large as the value."""
    if (error is None) == (percent is None):
        raise FieldError(name, error, f"exactly one of {name} (normal) and error_percent (log-normal)")
    share = error / value if error is not None else float(percent or 0.0) / 100.0
    if not LEAST_ERROR <= share <= MOST_ERROR:
        low, high = (f"{100.0 * v:g} %" for v in (LEAST_ERROR, MOST_ERROR))
        wrong = (name, error) if error is not None else ("error_percent", percent)
        raise FieldError(*wrong, f"from {low} to {high} of the value")


def _check_length(length: float | None, error: float | None) -> None:
    """The error of a length belongs to a stated length and is small against it."""
    if length is None and error is not None:
        raise FieldError("length_error_mm", error, "left out where free_length_mm is (10 +- 1 mm then)")
    if length is not None and error is not None and error > MOST_LENGTH_ERROR * length:
        raise FieldError("length_error_mm", error, f"at most {MOST_LENGTH_ERROR:g} of free_length_mm, {length:g}")
