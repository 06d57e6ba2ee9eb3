"""Rods for the checks: uniform, nearly inextensible and unshearable, so that classical formulas apply."""

from collections.abc import Callable, Sequence
from math import log2

import numpy as np
from numpy.typing import NDArray

from ..rod.build import Rod, Section, rod_along
from ..rod.elastic import Array, RodArrays
from ..rod.stability import State
from ..rod.statics import Potential, straight_rod

EI = 5e-8  # N m2, of the order of a soft wire's tip
LENGTH = 10e-3  # m
STIFF = 1e4  # N, EA and GA: a strain of 2e-6 at the largest load of the checks
POISSON = 0.3
RIGID = 1e3  # out-of-plane bending and torsion over in-plane bending where a check is about the plane


def uniform_rod(
    elements: int, *, clamped: tuple[bool, bool] = (True, False), stiff: float = STIFF, length: float = LENGTH
) -> tuple[RodArrays, Array, Array]:
    """Straight uniform rod along +z with its reference state."""
    lengths = np.full(elements, length / elements)
    bend = np.tile([EI, EI, EI / (1.0 + POISSON)], (elements + 1, 1))
    return straight_rod(lengths, bend=bend, stretch=np.full((elements, 3), stiff), clamped=clamped)


def forces(elements: int, **components: float) -> Array:
    """Dead forces with the tip's components (x=, y=, z=, N), shape (N + 1, 3)."""
    out = np.zeros((elements + 1, 3))
    for key, value in components.items():
        out[-1, "xyz".index(key)] = value
    return out


def compressed(x: Array, stretch: Array, force: float) -> Array:
    """Straight rod's positions under an axial compression `force` (N): each element shortened by force/EA."""
    out = x.copy()
    short = np.diff(x[:, 2]) * (1.0 - force / stretch[:, 2])
    out[1:, 2] = x[0, 2] + np.cumsum(short)
    return out


def straight_path(rod: RodArrays, x: Array, q: Array, potential: Potential | None = None) -> Callable[[float], State]:
    """Path of the straight compressed rod: axial load (N) -> state, for `stability.critical_load`."""
    return lambda load: (rod, compressed(x, rod.stretch, load), q, potential)


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
