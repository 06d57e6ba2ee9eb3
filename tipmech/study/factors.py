"""Factors of a study beyond tip load and angle: what is shared by all insertions, or an unknown held at a value.

A level becomes an arm: a spec with other shared values, and unknowns pinned to a probability of their distribution, so
that everything else keeps its point (common random numbers). Distributions of an unknown may be replaced in the same
way: the value at u is that of the new distribution at u.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..checks import FieldError
from ..units import from_si, label
from .inputs import NAMES, TINY, UNKNOWNS, Unknown
from .spec import StudySpec

Array = NDArray[np.float64]
Level = float | str

SHARED: Mapping[str, str] = {
    "friction": "-",
    "fracture_energy": "J_per_m2",
    "front_shape": "",
    "front_friction": "-",
    "static_ratio": "-",
    "drive_stiffness": "N_per_mm",
    "force_cap": "N",
}
"""Fields of `Shared` that may be a factor, and their unit for users ("": words)."""

PINNED: Mapping[str, str] = {
    "mouth_gap": "mm",
    "unsupported_length": "mm",
    "youngs_modulus": "MPa",
    "flap_thickness": "mm",
    "room": "mm",
    "thickness": "mm",
    "window_length": "mm",
    "lip_radius": "mm",
    "pressure": "kPa",
}
"""Unknowns that may be a factor or get another distribution, and their unit for users."""


@dataclass(frozen=True)
class Factor:
    """A factor with its levels, SI (words for the front's shape)."""

    name: str
    levels: tuple[Level, ...]

    def __post_init__(self) -> None:
        if self.name not in SHARED and self.name not in PINNED:
            raise FieldError("name", self.name, f"one of {', '.join([*SHARED, *PINNED])}")
        if not self.levels or len(set(self.levels)) < len(self.levels):
            raise FieldError("levels", list(self.levels), "at least one level, none of them twice")


@dataclass(frozen=True)
class Distribution:
    """Another distribution for an unknown: values (SI) at equally spaced probabilities would not do, so the frozen
    distribution of scipy.stats by name and parameters (SI); source: where it comes from, or "assumption"."""

    unknown: str
    kind: str
    parameters: tuple[tuple[str, float], ...]
    source: str

    def value(self, u: Array) -> Array:
        """Values at probabilities `u`."""
        return np.asarray(frozen(self.kind, dict(self.parameters)).ppf(u))


@dataclass(frozen=True)
class Arm:
    """One combination of levels, and one draw of the unknowns shared by a replicate: the spec and what is pinned in it.

    index : place among the arms; levels : of each factor; replicate : number of the draw (-1: none is drawn)
    """

    index: int
    spec: StudySpec
    levels: Mapping[str, Level]
    pinned: Mapping[str, float]
    replicate: int = -1


def factor_words(name: str) -> str:
    """A factor in words."""
    return name.replace("_", " ")


def unit_of(name: str) -> str:
    """Unit for users of a factor or of the tip load; "-" and "": none."""
    return {**SHARED, **PINNED, "tip_load": "gf"}.get(name, "")


def level_number(name: str, level: Level) -> str:
    """A level (SI) of a factor, or a tip load, in the unit for users, without it; words as they are."""
    if isinstance(level, str):
        return level
    value = from_si(level, unit_of(name)) if unit_of(name) not in ("", "-") else level
    return f"{float(f'{value:.3g}'):g}"


def level_words(name: str, level: Level) -> str:
    """The same with its unit."""
    unit = "" if isinstance(level, str) or unit_of(name) == "-" else label(unit_of(name))
    return f"{level_number(name, level)} {unit}".rstrip()


def frozen(kind: str, parameters: Mapping[str, float]) -> Any:
    """Frozen scipy.stats distribution of a named kind."""
    from scipy import stats

    p = parameters
    if kind == "lognormal":
        return stats.lognorm(s=p["log_sd"], scale=p["median"])
    if kind == "normal":
        return stats.norm(p["mean"], p["sd"])
    return stats.uniform(p["low"], p["high"] - p["low"])


def unknown(name: str) -> Unknown:
    """The unknown of this name."""
    return UNKNOWNS[NAMES.index(name)]


def probability_of(x: Unknown, value: Array) -> Array:
    """Probability at which an unknown takes a value (SI): the inverse of `Unknown.value`, 0 below its mass at zero.

    Raises
    ------
    FieldError
        where a value is outside the unknown's range
    """
    worst = float(value[np.argmax(np.maximum(x.low - value, value - x.high))])
    if not x.low <= worst <= x.high:
        raise FieldError(x.name, worst, f"{x.low:.4g} to {x.high:.4g} {x.unit}")
    first, last = float(x.distribution.cdf(x.low)), float(x.distribution.cdf(x.high))
    inside = (np.asarray(x.distribution.cdf(value)) - first) / (last - first)
    u = x.zero_below + (1.0 - x.zero_below) * inside
    return np.clip(np.where((x.zero_below > 0.0) & (value == 0.0), 0.5 * x.zero_below, u), TINY, 1.0 - TINY)


def with_level(spec: StudySpec, name: str, level: Level) -> tuple[StudySpec, dict[str, float]]:
    """Spec with one factor at a level, and the unknown it pins, if it is one (name: value, SI)."""
    if name in SHARED:
        changed: dict[str, Any] = {name: level}
        return replace(spec, shared=replace(spec.shared, **changed)), {}
    probability_of(unknown(name), np.array([float(level)]))
    return spec, {name: float(level)}


def arms_of(spec: StudySpec, factors: Sequence[Factor], draws: Sequence[Mapping[str, Level]] = ()) -> tuple[Arm, ...]:
    """All combinations of the factors' levels, each for every draw of the shared unknowns (none: once, as stated)."""
    arms: list[Arm] = []
    for number, draw in enumerate(draws or ({},)):
        base, always = spec, dict[str, float]()
        for name, level in draw.items():
            base, pin = with_level(base, name, level)
            always |= pin
        for levels in product(*(f.levels for f in factors)):
            own, pinned = base, dict(always)
            for factor, level in zip(factors, levels, strict=True):
                own, pin = with_level(own, factor.name, level)
                pinned |= pin
            at = dict(zip((f.name for f in factors), levels, strict=True))
            arms.append(Arm(len(arms), own, at, pinned, number if draws else -1))
    return tuple(arms)


def points_of(arm: Arm, u: Array, distributions: Sequence[Distribution] = ()) -> Array:
    """Points of an arm from the study's (n, unknowns): other distributions, then what is pinned.

    A value of another distribution beyond the unknown's range is cut to it.
    """
    out = u.copy()
    for d in distributions:
        x, k = unknown(d.unknown), NAMES.index(d.unknown)
        out[:, k] = probability_of(x, np.clip(d.value(u[:, k]), x.low, x.high))
    for name, value in arm.pinned.items():
        out[:, NAMES.index(name)] = probability_of(unknown(name), np.array([value]))[0]
    return out
