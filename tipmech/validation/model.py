"""Rods for the checks: uniform, nearly inextensible and unshearable, so that classical formulas apply."""

from collections.abc import Sequence
from math import log2

import numpy as np
from numpy.typing import NDArray

from ..rod.build import Rod, Section, rod_along, straight
from ..rod.continuation import critical_point
from ..rod.elastic import Array
from ..rod.structure import Structure

EI = 5e-8  # N m2, of the order of a soft wire's tip
LENGTH = 10e-3  # m
STIFF = 1e4  # N, EA and GA: a strain of 2e-6 at the largest load of the checks
POISSON = 0.3
RIGID = 1e3  # out-of-plane bending and torsion over in-plane bending where a check is about the plane


def uniform_rod(elements: int, *, stiff: float = STIFF, length: float = LENGTH) -> Rod:
    """Straight uniform rod along +z."""
    return straight(length, elements, Section(EI, EI, EI / (1.0 + POISSON), stiff, stiff, stiff))


def compressed(x: Array, stretch: Array, force: float) -> Array:
    """Straight rod's positions under an axial compression `force` (N): each element shortened by force/EA."""
    out = x.copy()
    short = np.diff(x[:, 2]) * (1.0 - force / stretch[:, 2])
    out[1:, 2] = x[0, 2] + np.cumsum(short)
    return out


def critical_factor(structure: Structure, until: float) -> float:
    """Load factor of the first critical point; nan where none is found, which fails the row."""
    point = critical_point(structure, until)
    return float("nan") if point is None else point.factor


def tip_angle(q: Array) -> float:
    """Rotation of the tip's tangent from +z, rad: the last frames' axis carried half an element on (uniform mesh)."""
    axis: NDArray[np.float64] = 1.0 - 2.0 * (q[-2:, 1] ** 2 + q[-2:, 2] ** 2)
    last = np.arccos(np.clip(axis, -1.0, 1.0))
    return float(1.5 * last[1] - 0.5 * last[0])


def planar_rod(
    points: Sequence[Sequence[float]] | Array, bend: float, shear: float, axial: float, corners: Sequence[int] = ()
) -> Rod:
    """Uniform rod along points (x, y) that bends in their plane: the section's axis 1 is z; rigidities in any units."""
    plane = np.asarray(points, dtype=float)
    space = np.column_stack([plane, np.zeros(len(plane))])
    section = Section(bend, RIGID * bend, RIGID * bend, shear, shear, axial)
    return rod_along(space, section, directors=(0.0, 0.0, 1.0), corners=corners)


def observed_order(errors: Sequence[float]) -> float:
    """Least order of convergence from errors on meshes that each halve the element size; nan if one of them is."""
    # not min(), which passes over nan
    return float(np.min([log2(abs(coarse) / abs(fine)) for coarse, fine in zip(errors[:-1], errors[1:], strict=True)]))
