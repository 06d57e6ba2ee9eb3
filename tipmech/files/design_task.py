"""Design files: TOML in users' units -> what `tipmech design` is asked, dimensions checked against the wire.

A design file::

    title = "Softer tip"
    [wire]
    preset = "workhorse"                # or file = "my_wire.toml"
    [calibration]                       # optional: the scale of EI of this wire, and what it leaves open
    posterior = "posterior.parquet"     # of tipmech calibrate, beside this file
    [sensitivities]                     # optional, all fields too
    by = "simulated"                    # or "reduced": beam theory only
    change_percent = 1.0                # of every dimension without a [[tolerance]]: length of the bars
    figures = ["tip", "side", "bends"]  # groups (also "tube": a minute) or names of figures; default: all
    [[vary]]                            # bounds of a dimension, for [[wanted]]
    dimension = "core 1 diameter at 0 mm"
    low_mm = 0.03
    high_mm = 0.06
    [[wanted]]                          # one or more figures, in the unit of their name
    figure = "tip_load_10mm_gf"
    target = 0.6                        # or at_least, at_most
    tolerance_percent = 1.0
    [[tolerance]]                       # manufacturing tolerances
    dimension = "core 1 diameter"
    plus_minus_mm = 0.003
    distribution = "normal"             # +- is 3 standard deviations, or `sigmas` of them; or "uniform"
    [stackup]                           # optional, needs [[tolerance]]
    figure = "tip_load_10mm_gf"
    band = [0.5, 0.7]                   # allowed values, for the yield
    of = "given"                        # or "found": the first design of [[wanted]]

Names of figures are checked by `lab.evaluate.find_figure`, which knows them.
"""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from pydantic import Field, model_validator

from ..checks import FieldError
from ..units import UNITS
from ..wire.design import Design
from ..wire.dimensions import BENDS, Dimension, find_dimension
from .common import Model, Name, fail, load, named
from .wire import LONGEST, asked_wire

MM = UNITS["mm"]
THINNEST = 0.005  # mm, thinnest dimension a wire file may hold
TOLERANCE_PERCENT = 1.0  # of a wanted figure, where none is said: below the scatter of a bench
FIGURE = "tip_load_10mm_gf"  # stacked up where none is said

Kind = Literal["target", "at_least", "at_most"]
KINDS: tuple[Kind, ...] = ("target", "at_least", "at_most")


class TaskWireTable(Model):
    """`[wire]`: the given wire."""

    preset: Name | None = None
    file: str | None = Field(default=None, min_length=1, max_length=400)
    coupling: Literal["sliding", "bonded"] | None = None

    @model_validator(mode="after")
    def _one(self) -> "TaskWireTable":
        if (self.preset is None) == (self.file is None):
            both = None if self.preset is None else f"given with file {self.file!r}"
            raise FieldError("preset", both, "either preset or file")
        return self


class CalibrationReference(Model):
    """`[calibration]`: posterior of `tipmech calibrate`; the path counts from this file's folder."""

    posterior: str = Field(min_length=1, max_length=400)


class SensitivitiesTable(Model):
    """`[sensitivities]`."""

    by: Literal["simulated", "reduced"] = "simulated"
    change_percent: float = Field(default=1.0, gt=0, le=50)
    figures: tuple[Name, ...] = Field(default=(), max_length=60)


class VaryTable(Model):
    """`[[vary]]`: a dimension and its bounds."""

    dimension: Name
    low_mm: float = Field(ge=THINNEST, le=LONGEST)
    high_mm: float = Field(ge=THINNEST, le=LONGEST)

    @model_validator(mode="after")
    def _ordered(self) -> "VaryTable":
        if self.high_mm <= self.low_mm:
            raise FieldError("high_mm", self.high_mm, f"greater than low_mm ({self.low_mm:g})")
        return self


class WantedTable(Model):
    """`[[wanted]]`: a figure and what it shall be, in the unit of its name."""

    figure: Name
    target: float | None = Field(default=None, gt=0)
    at_least: float | None = Field(default=None, gt=0)
    at_most: float | None = Field(default=None, gt=0)
    tolerance_percent: float = Field(default=TOLERANCE_PERCENT, ge=0.05, le=50)

    @model_validator(mode="after")
    def _one(self) -> "WantedTable":
        given = [kind for kind in KINDS if getattr(self, kind) is not None]
        if len(given) != 1:
            raise FieldError("target", " and ".join(given) or None, "one of target, at_least, at_most")
        return self


class ToleranceTable(Model):
    """`[[tolerance]]`: manufacturing tolerance of a dimension."""

    dimension: Name
    plus_minus_mm: float = Field(gt=0, le=100)
    distribution: Literal["normal", "uniform"] = "normal"
    sigmas: float = Field(default=3.0, ge=1, le=6)


class StackupTable(Model):
    """`[stackup]`: figure, its allowed band in the unit of its name, size of the sample."""

    figure: Name = FIGURE
    band: tuple[float, float] | None = None
    of: Literal["given", "found"] = "given"
    points: int = Field(default=512, ge=256, le=65536)
    checks: int = Field(default=16, ge=16, le=256)

    @model_validator(mode="after")
    def _valid(self) -> "StackupTable":
        if self.points & (self.points - 1):
            raise FieldError("points", self.points, "a power of 2 from 256 to 65536")
        if self.band is not None and not 0.0 <= self.band[0] < self.band[1]:
            raise FieldError("band", list(self.band), "two values of at least 0, the second larger")
        return self


class DesignFile(Model):
    """A whole design file."""

    title: Name
    seed: int = Field(default=1, ge=0)
    wire: TaskWireTable
    calibration: CalibrationReference | None = None
    sensitivities: SensitivitiesTable = SensitivitiesTable()
    vary: tuple[VaryTable, ...] = Field(default=(), max_length=20)
    wanted: tuple[WantedTable, ...] = Field(default=(), max_length=8)
    tolerance: tuple[ToleranceTable, ...] = Field(default=(), max_length=40)
    stackup: StackupTable | None = None

    @model_validator(mode="after")
    def _complete(self) -> "DesignFile":
        if self.wanted and not self.vary:
            raise FieldError("vary", None, "at least one [[vary]] with the bounds of a dimension, for [[wanted]]")
        if self.vary and not self.wanted:
            raise FieldError("wanted", None, "at least one [[wanted]] figure, for [[vary]]")
        if self.stackup is not None and not self.tolerance:
            raise FieldError("tolerance", None, "at least one [[tolerance]], for [stackup]")
        if self.stackup is not None and self.stackup.of == "found" and not self.wanted:
            raise FieldError("stackup.of", "found", '"given", or [[wanted]] figures from which a design is found')
        for key, field, names in (
            ("vary", "dimension", [row.dimension for row in self.vary]),
            ("tolerance", "dimension", [row.dimension for row in self.tolerance]),
            ("wanted", "figure", [row.figure for row in self.wanted]),
        ):
            twice = next((i for i, name in enumerate(names) if name in names[:i]), None)
            if twice is not None:
                raise FieldError(f"{key}[{twice + 1}].{field}", names[twice], f"each {field} once")
        return self


@dataclass(frozen=True)
class AskedBounds:
    """Bounds of a dimension, m."""

    dimension: Dimension
    low: float
    high: float


@dataclass(frozen=True)
class AskedFigure:
    """A wanted figure by its name with unit; `value` in that unit, relative `tolerance`."""

    figure: str
    kind: Kind
    value: float
    tolerance: float


@dataclass(frozen=True)
class AskedTolerance:
    """Manufacturing tolerance, m."""

    dimension: Dimension
    plus_minus: float
    distribution: Literal["normal", "uniform"]
    sigmas: float


@dataclass(frozen=True)
class AskedStack:
    """Stack-up of a figure by its name with unit; `band` in that unit."""

    figure: str
    band: tuple[float, float] | None
    of: Literal["given", "found"]
    points: int
    checks: int


@dataclass(frozen=True)
class DesignTask:
    """What a design file asks. change : relative, of a dimension without tolerance; stack : None without tolerances;
    posterior : file of a calibration, or None; figures : groups or names of the sensitivities, none: all."""

    path: Path
    title: str
    seed: int
    design: Design
    simulate: bool
    change: float
    bounds: tuple[AskedBounds, ...]
    wanted: tuple[AskedFigure, ...]
    tolerances: tuple[AskedTolerance, ...]
    stack: AskedStack | None
    posterior: Path | None = None
    figures: tuple[str, ...] = ()


def read_design_task(path: str | Path) -> DesignTask:
    """Read and check a design file, the wire and the dimensions it names included.

    Raises
    ------
    InputError
        one sentence: file, field, value, what is allowed
    """
    file = load(path, DesignFile)
    design = asked_wire(path, file.wire.preset, file.wire.file)
    if file.wire.coupling is not None:
        design = replace(design, coupling=file.wire.coupling)  # so that the wire files of found designs have it too
    bounds = tuple(
        AskedBounds(_length(path, f"vary[{i}]", design, row.dimension), row.low_mm * MM, row.high_mm * MM)
        for i, row in enumerate(file.vary, 1)
    )
    tolerances = tuple(
        AskedTolerance(
            _length(path, f"tolerance[{i}]", design, row.dimension),
            row.plus_minus_mm * MM,
            row.distribution,
            row.sigmas,
        )
        for i, row in enumerate(file.tolerance, 1)
    )
    stack = file.stackup or (StackupTable() if tolerances else None)
    return DesignTask(
        path=Path(path),
        title=file.title,
        seed=file.seed,
        design=design,
        simulate=file.sensitivities.by == "simulated",
        change=file.sensitivities.change_percent / 100.0,
        bounds=bounds,
        wanted=tuple(_asked(row) for row in file.wanted),
        tolerances=tolerances,
        stack=None if stack is None else AskedStack(stack.figure, stack.band, stack.of, stack.points, stack.checks),
        posterior=None if file.calibration is None else Path(path).parent / file.calibration.posterior,
        figures=file.sensitivities.figures,
    )


def _length(path: str | Path, place: str, design: Design, name: str) -> Dimension:
    """Dimension of this name, a length."""
    with named(path, f"{place}."):
        dimension = find_dimension(design, name)
    if dimension.place in BENDS:
        fail(
            path,
            f"{place}.dimension",
            name,
            "a dimension of a part or of the tip: figures are those of the tip's shape as it is",
        )
    return dimension


def _asked(row: WantedTable) -> AskedFigure:
    """A wanted figure."""
    kind = next(k for k in KINDS if getattr(row, k) is not None)
    return AskedFigure(row.figure, kind, float(getattr(row, kind)), row.tolerance_percent / 100.0)
