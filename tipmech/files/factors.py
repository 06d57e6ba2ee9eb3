"""Tables of factors, distributions and shared unknowns: a name with its unit, and what may stand beside it."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from ..study.compare_spec import SharedUnknown
from ..study.factors import PINNED, SHARED, Distribution, Factor, Level, frozen, unknown
from ..study.inputs import TINY
from ..units import UNITS
from .common import FieldError, Model, Name

ENDING = {"mm": "_mm", "MPa": "_mpa", "kPa": "_kpa", "N": "_n", "J_per_m2": "_j_m2", "N_per_mm": "_n_mm"}
"""How the unit of a factor ends its name in a file, as in the tables of study files."""

NAMES: dict[str, tuple[str, float]] = {
    name + ENDING.get(unit, ""): (name, UNITS.get(unit, 1.0)) for name, unit in {**SHARED, **PINNED}.items()
}
"""Name in a file: name inside, and what a number there is times to be SI."""

SHAPES = ("notch", "flat")
PARAMETERS = {"lognormal": ("median", "log_sd"), "normal": ("mean", "sd"), "uniform": ("low", "high")}
MOST_OUTSIDE = 0.001  # of a shared unknown's distribution: what is drawn beyond its limits is cut to them
MOST_CUT = 0.05  # of the distribution of an unknown that scatters, likewise
Number = Annotated[float, Field(ge=-1e9, le=1e9)]
Named = Annotated[Name, Field(json_schema_extra={"enum": list(NAMES)})]
"""Name of a factor or unknown; validators refuse others, the schema lists them."""


class FactorTable(Model):
    """One [[factor]]: its name, with the unit at the end, and its levels (words for the front's shape)."""

    name: Named
    levels: Annotated[tuple[float | str, ...], Field(min_length=1, max_length=12)]

    @model_validator(mode="after")
    def _levels(self) -> Self:
        inside(self.name, "name")
        for level in self.levels:
            check_level(self.name, level, "levels")
        if len(set(self.levels)) < len(self.levels):
            raise FieldError("levels", list(self.levels), "each level once")
        return self

    def factor(self) -> Factor:
        """The factor, SI."""
        name, _ = NAMES[self.name]
        return Factor(name, tuple(si_level(self.name, level) for level in self.levels))


class DistributionTable(Model):
    """What [[distribution]] and [[shared_unknown]] have in common: a kind with its parameters, in the name's unit."""

    name: Named
    kind: Literal["lognormal", "normal", "uniform"] | None = None
    median: Annotated[float, Field(gt=0)] | None = None
    log_sd: Annotated[float, Field(ge=1e-6, le=3)] | None = None
    mean: Number | None = None
    sd: Annotated[float, Field(ge=1e-9, le=1e9)] | None = None
    low: Number | None = None
    high: Number | None = None
    source: Annotated[str, Field(min_length=1, max_length=200, pattern=r"\S")]

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

    def check_inside(self, limits: tuple[float, float], most: float) -> None:
        """Refuse a distribution of which more than the share `most` lies outside the limits (units of the file).

        Blamed is the parameter that puts it there: the middle where it lies outside itself, else the spread; of a
        uniform one the end that lies outside.
        """
        parameters = self.parameters()
        d, scale = frozen(str(self.kind), dict(parameters)), NAMES[self.name][1]
        low, high = limits
        outside = float(d.cdf(low * scale) + d.sf(high * scale))
        if outside <= most:
            return
        first, second = (name for name, _ in parameters)
        inside_first = low <= getattr(self, first) <= high
        blamed = second if inside_first else first
        allowed = f"a {self.kind} distribution of which at most {most:g} lies outside {low:.4g} to {high:.4g}"
        raise FieldError(blamed, getattr(self, blamed), f"{allowed}, where it is cut ({outside:.2g} of it does)")


class UnknownTable(DistributionTable):
    """One [[distribution]]: in place of the usual one of an unknown that scatters from insertion to insertion."""

    @model_validator(mode="after")
    def _unknown(self) -> Self:
        scattered = [edge for edge, (inner, _) in NAMES.items() if inner in PINNED]
        if self.name not in scattered:
            raise FieldError("name", self.name, f"one of {', '.join(scattered)}")
        self.check_inside(limits_of(self.name), MOST_CUT)
        return self

    def distribution(self) -> Distribution:
        """The distribution, SI."""
        return Distribution(NAMES[self.name][0], str(self.kind), self.parameters(), self.source)


class SharedUnknownTable(DistributionTable):
    """One [[shared_unknown]]: drawn once in a replicate, common to all designs; choices: equally likely values."""

    choices: Annotated[tuple[float | str, ...], Field(min_length=2, max_length=12)] | None = None

    @model_validator(mode="after")
    def _drawn(self) -> Self:
        inside(self.name, "name")
        if self.choices is not None:
            if self.kind is not None:
                raise FieldError("choices", list(self.choices), "either choices or a kind of distribution")
            for stray in ("median", "log_sd", "mean", "sd", "low", "high"):
                if getattr(self, stray) is not None:
                    raise FieldError(stray, getattr(self, stray), "left out beside choices")
            for choice in self.choices:
                check_level(self.name, choice, "choices")
            return self
        if self.name == "front_shape":
            raise FieldError("choices", None, f"choices of {', '.join(SHAPES)}")
        self.check_inside(limits_of(self.name), MOST_OUTSIDE)
        return self

    def shared(self) -> SharedUnknown:
        """The shared unknown, SI."""
        name = NAMES[self.name][0]
        if self.choices is not None:
            return SharedUnknown(name, "choice", (), tuple(si_level(self.name, c) for c in self.choices), self.source)
        low, high = (end * NAMES[self.name][1] for end in limits_of(self.name))
        return SharedUnknown(name, str(self.kind), self.parameters(), (), self.source, low, high)


def inside(name: str, field: str) -> None:
    """Refuse a name that no factor of the scene has."""
    if name not in NAMES:
        raise FieldError(field, name, f"one of {', '.join(NAMES)}")


def si_level(name: str, level: float | str) -> Level:
    """A level in SI; words stay."""
    return level if isinstance(level, str) else float(level) * NAMES[name][1]


def check_level(name: str, level: float | str, field: str) -> None:
    """Refuse a level that the scene cannot have."""
    if name == "front_shape":
        if level not in SHAPES:
            raise FieldError(field, level, f"one of {', '.join(SHAPES)}")
        return
    if isinstance(level, str):
        raise FieldError(field, level, "a number")
    low, high = limits_of(name)
    if not low <= level <= high:
        raise FieldError(field, level, f"{low:.4g} to {high:.4g}")


def limits_of(name: str) -> tuple[float, float]:
    """Least and largest level of a factor (a number), in a file's units; of an unknown what its own distribution can
    give, to four digits."""
    inner, scale = NAMES[name]
    if inner in PINNED:
        x = unknown(inner)
        low, high = (float(f"{x.value(u) / scale:.4g}") for u in (TINY, 1.0 - TINY))
        return low, high
    return RANGES[inner]


RANGES = {
    "friction": (0.005, 1.0),
    "fracture_energy": (0.1, 1000.0),
    "front_friction": (0.0, 2.0),
    "static_ratio": (1.0, 3.0),
    "drive_stiffness": (0.01, 10.0),
    "force_cap": (0.005, 10.0),
}
"""Of the shared values, in a file's units, as in [shared] and [wire]."""
