"""The end of a wire, its surface and its preshape. SI units."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..checks import FieldError, Said, check_positive, check_range, mm

Array = NDArray[np.float64]

SurfaceKind = Literal["bare", "hydrophobic", "hydrophilic"]

FRICTION: dict[SurfaceKind, tuple[float, float]] = {
    "bare": (0.25, 0.35),
    "hydrophobic": (0.12, 0.4),
    "hydrophilic": (0.04, 0.5),
}
"""Median and log-sd of friction on wet tissue: docs/parameters.md. The ratios have a source, the scale is assumed."""


@dataclass(frozen=True)
class Tip:
    """End of the wire (all m): a dome, a flat face, or a cone.

    end : "dome" (sphere of `diameter`), "flat" (face with a rounded corner) or "tapered" (cone frustum that narrows
        from `diameter` to `end_diameter` over `length`, its face with a rounded corner)
    diameter : m, of the end where it joins the wire
    corner_radius : m
    length, end_diameter : m, of a tapered end; None for the others. The cone is shape, not stiffness: what lies in it
        is stated as parts, which must fit into it
    """

    end: Literal["dome", "flat", "tapered"]
    diameter: float
    corner_radius: float
    length: float | None = None
    end_diameter: float | None = None

    def __post_init__(self) -> None:
        check_positive(self.diameter, name="diameter")
        for name in ("length", "end_diameter"):
            value = getattr(self, name)
            if self.end != "tapered" and value is not None:
                raise FieldError(name, mm(value), 'a tip with end = "tapered"; others have none')
            if self.end == "tapered" and value is None:
                raise FieldError(name, Said("missing"), 'a length: a tip with end = "tapered" needs it')
        if self.length is not None:
            check_positive(self.length, name="length")
        if self.end_diameter is not None and not 0.0 < self.end_diameter < self.diameter:
            raise FieldError(
                "end_diameter", mm(self.end_diameter), f"greater than 0 and less than diameter ({mm(self.diameter)})"
            )
        check_positive(self.corner_radius, name="corner_radius")
        if self.corner_radius > self.contact_radius:
            allowed = f"at most half the diameter of the face ({mm(self.contact_radius)})"
            raise FieldError("corner_radius", mm(self.corner_radius), allowed)

    @property
    def contact_radius(self) -> float:
        """Radius of the sphere that stands for the end in contact, m: half the diameter of its face."""
        return (self.diameter if self.end_diameter is None else self.end_diameter) / 2.0

    @property
    def area(self) -> float:
        """Projected area of the face that meets the tissue, m2: what "tip pressure" divides by."""
        return float(np.pi * self.contact_radius**2)

    def room(self, s: Array) -> Array:
        """Radius of a tapered end at distances s from the tip's end, m; infinite behind it and for the other kinds."""
        if self.length is None or self.end_diameter is None:
            return np.full_like(s, np.inf)
        cone = np.interp(s, [0.0, self.length], [self.end_diameter, self.diameter]) / 2.0
        return np.where(s <= self.length, cone, np.inf)


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


@dataclass(frozen=True)
class SecondBend:
    """Second preshaped bend behind the first.

    angle : rad, spread evenly over `length`
    length : m
    distance : m, from the tip's end to the bend's distal end
    roll : rad, from the plane of the first bend to that of this one about the wire's axis; pi bends it the other way
    """

    angle: float
    length: float
    distance: float
    roll: float = 0.0

    def __post_init__(self) -> None:
        check_range(self.angle, name="angle", low=0.0, high=np.pi)
        check_positive(self.length, name="length")
        check_range(self.distance, name="distance", low=0.0)
        check_range(self.roll, name="roll", low=-2.0 * np.pi, high=2.0 * np.pi)

    @property
    def curvature(self) -> float:
        """Natural curvature within the bend, 1/m."""
        return self.angle / self.length
