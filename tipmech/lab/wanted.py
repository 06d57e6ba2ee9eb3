"""Wanted figures, bounds, and what an inverse design returns. SI units."""

from dataclasses import dataclass, field
from math import inf, isfinite, log, log1p
from typing import Literal

from ..checks import FieldError, Said
from ..profile import Array
from ..wire.design import Design
from ..wire.dimensions import Dimension
from .figure import Figure

Kind = Literal["target", "at_least", "at_most"]


@dataclass(frozen=True)
class Wanted:
    """A wanted figure: `value` (SI) within the relative `tolerance`, or on one side of it.

    A side is aimed at half a tolerance beyond `value`, so that the simulated figure lies on it. `added`: not asked for,
    but another wanted figure means nothing without it.
    """

    figure: Figure
    kind: Kind
    value: float
    tolerance: float
    added: bool = False

    def miss(self, value: float) -> float:
        """Signed logarithm of a figure over the wanted one, 0 on the allowed side; nan stays nan.

        Of a figure that is not positive (a reduced ratio of a tip that lags by more than the turns) -inf.
        """
        if value <= 0.0:
            return -inf
        if self.kind == "target":
            return log(value / self.value)
        margin = log1p(self.tolerance) / 2.0
        if self.kind == "at_least":
            return min(log(value / self.value) - margin, 0.0)
        return max(log(value / self.value) + margin, 0.0)

    def met(self, value: float) -> bool:
        """Whether a figure is as wanted."""
        if self.kind == "target":
            return abs(self.miss(value)) <= log1p(self.tolerance)
        return value >= self.value if self.kind == "at_least" else value <= self.value

    def missed(self, value: float) -> float:
        """Size of a miss in tolerances; inf for nan, where the bench found no equilibrium."""
        return abs(self.miss(value)) / log1p(self.tolerance) if isfinite(value) else inf

    def words(self) -> str:
        """The wish in users' units."""
        sign = {"target": "", "at_least": "at least ", "at_most": "at most "}[self.kind]
        return f"{sign}{self.value / self.figure.factor:.4g}"


@dataclass(frozen=True)
class Bounds:
    """A dimension and the values it may take, m."""

    dimension: Dimension
    low: float
    high: float

    def __post_init__(self) -> None:
        if not 0.0 < self.low < self.high:
            raise FieldError(f"bounds of {self.dimension.name}", [self.low, self.high], "0 < low < high")


@dataclass(frozen=True)
class Found:
    """One found design.

    design : Design
    values : dict, dimension's name -> m
    reduced : dict, figure's key -> reduced value, SI
    simulated : dict, figure's key -> simulated value, SI; without those that have no simulated test
    change : root mean square of ln(dimension/given one), -
    met : whether every wanted figure is as wanted, by the simulated value where there is one, and none is in doubt
    doubts : dict, figure's key -> what speaks against its simulated value
    """

    design: Design
    values: dict[str, float]
    reduced: dict[str, float]
    simulated: dict[str, float]
    change: float
    met: bool
    doubts: dict[str, str] = field(default_factory=dict)

    def figure(self, key: str) -> float:
        """Simulated value of a figure, the reduced one where there is no simulated test."""
        return self.simulated.get(key, self.reduced[key])


@dataclass(frozen=True)
class Inverse:
    """Result of an inverse design.

    wanted : tuple of Wanted, K
    bounds : tuple of Bounds, D
    found : tuple of Found; the first meets the figures as closely as can be, with the least change that does so; the
        others lie on the front
    figures : ndarray, shape (n, K), reduced figures times `ratios` along the front, SI
    misses : ndarray, shape (n, K), their |ln(figure/wanted)| over ln(1 + tolerance)
    changes : ndarray, shape (n,), root mean square of ln(dimension/given one) along the front
    values : ndarray, shape (n, D), dimensions along the front, m
    shown : tuple of int, points of the front that are `found`, in their order
    ratios : dict, figure's key -> simulated/reduced used by the last search
    rounds : searches made
    evaluations : reduced models evaluated
    """

    wanted: tuple[Wanted, ...]
    bounds: tuple[Bounds, ...]
    found: tuple[Found, ...]
    figures: Array
    misses: Array
    changes: Array
    values: Array
    shown: tuple[int, ...]
    ratios: dict[str, float]
    rounds: int
    evaluations: int


class OutOfReachError(FieldError):
    """A wanted figure that no design within the bounds has; `nearest` (SI) is the closest one found, simulated.

    scale : of EI and GJ, from a calibration, at which it was sought
    """

    def __init__(self, wanted: Wanted, nearest: float, scale: float = 1.0) -> None:
        self.wanted, self.nearest = wanted, nearest
        shown = nearest / wanted.figure.factor
        by = "" if scale == 1.0 else f" at the calibrated scale of EI, {scale:.3g}"
        allowed = f"what parts that fit reach within [[vary]]; the nearest reachable value is {shown:.4g}{by}"
        super().__init__(f"wanted {wanted.figure.name}", Said(wanted.words()), allowed)
