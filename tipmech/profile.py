"""Stiffness profile of a wire over the distance from its tip: what the rod needs, and nothing else.

The wire room makes it from a construction, the rod reads it; they do not know each other. Floor 1.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .bending import MomentLaw, PartLaw, composed

Array = NDArray[np.float64]

SOFT_LENGTH = 0.030  # m, the softness family scales EI and GJ fully over this distal length
BLEND_LENGTH = 0.060  # m, and not at all beyond this one


@dataclass(frozen=True)
class Profile:
    """Rigidities, radius and mass per length, piecewise linear over distance from the tip.

    Parameters
    ----------
    distance : ndarray, shape (n,)
        distance from the tip's end, m; strictly increasing from 0
    EI1, EI2 : ndarray, shape (n,)
        bending rigidities about the two section axes, N m2
    GJ : ndarray, shape (n,)
        torsional rigidity, N m2
    EA, GA : ndarray, shape (n,)
        axial and shear rigidity, N
    radius : ndarray, shape (n,)
        outer radius, m
    mass : ndarray, shape (n,)
        mass per length, kg/m
    tip_radius : float
        radius of the tip dome, m
    friction : float
        Coulomb friction coefficient of the surface against wet intima (median), -
    name : str
        name shown to users
    laws : tuple of PartLaw
        parts whose bending moment leaves the line M = EI1 kappa, at the same n stations; empty: none does. Moments are
        kept over EI1, so that they follow whoever scales EI1
    """

    distance: Array
    EI1: Array
    EI2: Array
    GJ: Array
    EA: Array
    GA: Array
    radius: Array
    mass: Array
    tip_radius: float
    friction: float
    name: str
    laws: tuple[PartLaw, ...] = ()

    def __post_init__(self) -> None:
        n = len(self.distance)
        if n < 2 or self.distance[0] != 0.0 or not np.all(np.diff(self.distance) > 0.0):
            raise ValueError("distance must start at 0 and increase strictly")
        for key in ("EI1", "EI2", "GJ", "EA", "GA", "radius", "mass"):
            value = getattr(self, key)
            if len(value) != n or not np.all(np.isfinite(value)) or not np.all(value > 0.0):
                raise ValueError(f"{key} must have {n} positive finite values")
        if not (np.isfinite(self.tip_radius) and self.tip_radius > 0.0):
            raise ValueError(f"tip_radius is {self.tip_radius}; it must be positive")
        if not (np.isfinite(self.friction) and self.friction >= 0.0):
            raise ValueError(f"friction is {self.friction}; it must not be negative")
        if any(len(law.limit) != n for law in self.laws):
            raise ValueError(f"laws must have {n} stations each")

    def at(self, key: str, distance: Array) -> Array:
        """Value of field `key` at distances from the tip (m), constant beyond the ends."""
        return np.asarray(np.interp(distance, self.distance, getattr(self, key)), dtype=np.float64)

    def law_at(self, distance: Array) -> MomentLaw | None:
        """Law of the whole wire at distances from the tip (m): EI1 kappa less what its parts fall behind; or None."""
        if not self.laws:
            return None
        return composed(tuple(law.resampled(self.distance, distance) for law in self.laws))

    def softened(self, factor: float) -> "Profile":
        """Member of the one-parameter softness family: EI and GJ times `factor` at the tip.

        Full factor over the distal 30 mm, blended linearly to 1 at 60 mm; EA, GA, mass, diameter,
        shape and surface unchanged. Laws keep their curvatures, their moments scale as EI.
        """
        if not (np.isfinite(factor) and factor > 0.0):
            raise ValueError(f"softness factor is {factor}; it must be positive")
        knots = np.union1d(self.distance, [SOFT_LENGTH, BLEND_LENGTH])
        dense: dict[str, Any] = {k: self.at(k, knots) for k in ("EI1", "EI2", "GJ", "EA", "GA", "radius", "mass")}
        weight = np.interp(knots, [SOFT_LENGTH, BLEND_LENGTH], [1.0, 0.0])
        scale = 1.0 + (factor - 1.0) * weight
        for key in ("EI1", "EI2", "GJ"):
            dense[key] = dense[key] * scale
        laws = tuple(law.resampled(self.distance, knots) for law in self.laws)
        return replace(self, distance=knots, laws=laws, **dense)


def uniform(EI: float, length: float, radius: float = 0.178e-3, **kwargs: float | str) -> Profile:
    """Uniform round profile of bending rigidity `EI` (N m2) for benches and closed-form checks.

    GJ = EI/1.3 (nu = 0.3); EA and GA of a round solid section of radius r_s with EI = E pi r_s^4/4 at
    E = 190 GPa, so that the rod is nearly inextensible and unshearable as a real wire is.
    """
    modulus = 190e9
    solid = (4.0 * EI / (np.pi * modulus)) ** 0.25
    area = np.pi * solid**2
    one = np.ones(2)
    return Profile(
        distance=np.array([0.0, length]),
        EI1=EI * one,
        EI2=EI * one,
        GJ=EI / 1.3 * one,
        EA=modulus * area * one,
        GA=modulus / 2.6 * area * one,
        radius=radius * one,
        mass=7900.0 * area * one,
        tip_radius=float(kwargs.get("tip_radius", radius)),
        friction=float(kwargs.get("friction", 0.1)),
        name=str(kwargs.get("name", "uniform")),
    )
