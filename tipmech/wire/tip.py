"""The end of a wire, its surface and its preshape. SI units."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from ..checks import check_positive, check_range

SurfaceKind = Literal["bare", "hydrophobic", "hydrophilic"]

FRICTION: dict[SurfaceKind, tuple[float, float]] = {
    "bare": (0.25, 0.35),
    "hydrophobic": (0.12, 0.4),
    "hydrophilic": (0.04, 0.5),
}
"""Median and log-sd of friction on wet tissue: docs/parameters.md. The ratios have a source, the scale is assumed."""


@dataclass(frozen=True)
class Tip:
    """End of the wire: a dome (sphere of `diameter`) or a flat face with a rounded corner (all m)."""

    end: Literal["dome", "flat"]
    diameter: float
    corner_radius: float

    def __post_init__(self) -> None:
        check_positive(self.diameter, name="diameter")
        check_positive(self.corner_radius, name="corner_radius", high=self.diameter / 2.0)

    @property
    def area(self) -> float:
        """Projected area, m2: what "tip pressure" divides by."""
        return float(np.pi * self.diameter**2 / 4.0)


@dataclass(frozen=True)
class Surface:
    """Surface of the wire. friction: median coefficient against wet tissue, -; None takes the one of the kind."""

    kind: SurfaceKind
    friction: float | None = None

    def __post_init__(self) -> None:
        if self.friction is not None:
            check_range(self.friction, name="friction", low=0.0, high=1.0)

    @property
    def median(self) -> float:
        """Median friction coefficient, -."""
        return FRICTION[self.kind][0] if self.friction is None else self.friction

    @property
    def log_sd(self) -> float:
        """Standard deviation of the logarithm of the friction coefficient, -."""
        return FRICTION[self.kind][1]


@dataclass(frozen=True)
class Bend:
    """Preshaped bend: `angle` (rad) spread evenly over `length` (m) at the tip's end."""

    angle: float = 0.0
    length: float = 2.5e-3

    def __post_init__(self) -> None:
        check_range(self.angle, name="angle", low=0.0, high=np.pi)
        check_positive(self.length, name="length")

    @property
    def curvature(self) -> float:
        """Natural curvature within the bend, 1/m."""
        return self.angle / self.length
