"""What a user measured on a bench of their own, as data, and the same measurement simulated with the rod. Floor 3."""

from dataclasses import dataclass
from math import inf, isnan, log
from typing import Literal

from ..profile import Profile
from .lateral import lateral_stiffness
from .tip_load import TRAVEL, tip_load

Kind = Literal["tip_load", "lateral"]
End = Literal["unknown", "free", "pinned", "friction"]

FREE_C, PINNED_C = 2.4674011, 20.1907286  # P = c EI/L^2 of a clamped column, tip free or pinned (Euler)
END_RANGE = log(PINNED_C / FREE_C)  # of ln c between the two
LENGTH_CUT = 3.0  # sd: the free length's normal distribution is cut here; assumed
UNSTATED_LENGTH, UNSTATED_LENGTH_SD = 10e-3, 1e-3  # m, free length where none is said; common practice, spread assumed
LENGTH_SD = 0.1e-3  # m, error of a stated free length where none is said; assumed
ELEMENTS = 60  # of the tip load: its bench's default


@dataclass(frozen=True)
class Setup:
    """What is known of a user's tip-load bench.

    end : end condition of the tip on the plate; "unknown" lies between "free" and "pinned"
    friction : Coulomb coefficient of the plate where `end` is "friction", else nan
    travel : plate travel within which the largest force is read, m
    """

    end: End = "unknown"
    friction: float = float("nan")
    travel: float = TRAVEL

    def __post_init__(self) -> None:
        if (self.end == "friction") == isnan(self.friction):
            raise ValueError(f"friction is {self.friction}; it belongs to the end 'friction' and to no other")

    @property
    def frictions(self) -> tuple[float, ...]:
        """Plate frictions to simulate: that of the end condition, or those of the two ends it lies between."""
        return {"unknown": (0.0, inf), "free": (0.0,), "pinned": (inf,), "friction": (self.friction,)}[self.end]

    @property
    def words(self) -> str:
        """The end condition in words."""
        if self.end == "friction":
            return f"plate friction {self.friction:g}"
        return {"unknown": "end condition unknown", "free": "tip free to slide", "pinned": "tip pinned"}[self.end]


@dataclass(frozen=True)
class Datum:
    """One measurement: a figure at a free length, with their errors.

    kind : tip load or lateral tip stiffness
    value : N (tip load) or N/m (lateral stiffness)
    error : standard deviation of the value in its unit, or of its logarithm where `relative`
    relative : the error is log-normal, else normal
    free_length, length_sd : m; own to each measurement, normal, cut at `LENGTH_CUT` sd
    length_stated : the user gave the free length
    """

    kind: Kind
    value: float
    error: float
    relative: bool
    free_length: float
    length_sd: float
    length_stated: bool = True

    @property
    def log_sd(self) -> float:
        """Measurement error over the value, -."""
        return self.error if self.relative else self.error / self.value


def simulate(profile: Profile, kind: Kind, free_length: float, friction: float, travel: float = TRAVEL) -> float:
    """Figure of one measurement simulated with the rod: N or N/m; plate and travel count for the tip load only."""
    if kind == "lateral":
        return lateral_stiffness(profile, free_length)
    return tip_load(profile, free_length, friction=friction, travel=travel, elements=ELEMENTS).force


def simulated_log(profile: Profile, kind: Kind, free_length: float, setup: Setup, end: float) -> float:
    """Logarithm of a figure simulated on a bench whose end condition is `end` of the way from free to pinned.

    Between the ends ln load is taken as linear in ln c (docs: calibration): one end condition for all free lengths.
    """
    ends = [log(simulate(profile, kind, free_length, mu, setup.travel)) for mu in frictions_of(kind, setup)]
    return ends[0] if len(ends) == 1 else (1.0 - end) * ends[0] + end * ends[1]


def frictions_of(kind: Kind, setup: Setup) -> tuple[float, ...]:
    """Plate frictions that a figure needs simulated; the lateral stiffness knows no plate."""
    return setup.frictions if kind == "tip_load" else (0.0,)
