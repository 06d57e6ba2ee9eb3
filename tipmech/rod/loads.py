"""Loads on a structure. Each is constant or grows with the load factor; each keeps its direction or follows the rod."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from .elastic import Array
from .errors import NonFiniteError, RigidityError, ShapeError

GRAVITY = 9.80665  # m/s2
# node positions (N + 1, 3) -> energy (J), gradient (N + 1, 3) (N), Hessian blocks (N + 1, 3, 3) (N/m)
Potential = Callable[[Array], tuple[float, Array, Array]]


def _vector(value: Sequence[float], what: str) -> None:
    array = np.asarray(value, dtype=float)
    if array.shape != (3,):
        message = f"{what} has shape {array.shape}; allowed: (3,)"
        raise ShapeError(message)
    if not np.all(np.isfinite(array)):
        message = f"{what} is {value}; allowed: finite numbers"
        raise NonFiniteError(message)


@dataclass(frozen=True)
class Force:
    """Force at a node.

    node : node number, negative counts from the end
    vector : N; in space axes, or where it follows along the section's axes 1, 2 and the tangent
    follower : turns with the section
    constant : acts in full at every load factor, else in proportion to it
    """

    node: int
    vector: Sequence[float]
    follower: bool = False
    constant: bool = False

    def __post_init__(self) -> None:
        _vector(self.vector, f"force at node {self.node}")


@dataclass(frozen=True)
class Moment:
    """Moment at a node, N m; axes and flags as for `Force`. Neither kind has a potential in space."""

    node: int
    vector: Sequence[float]
    follower: bool = False
    constant: bool = False

    def __post_init__(self) -> None:
        _vector(self.vector, f"moment at node {self.node}")


@dataclass(frozen=True)
class LineLoad:
    """Force per rest length.

    vector : N/m, shape (3,) for the whole rod or (N, 3) for each element (its middle's value)
    follower, constant : as for `Force`; a follower has its components along the elements' frames
    """

    vector: Array | Sequence[float]
    follower: bool = False
    constant: bool = False

    def __post_init__(self) -> None:
        array = np.asarray(self.vector, dtype=float)
        if array.shape[-1:] != (3,) or array.ndim > 2:
            message = f"line load has shape {array.shape}; allowed: (3,) or (N, 3)"
            raise ShapeError(message)
        if not np.all(np.isfinite(array)):
            message = "a line load is not finite"
            raise NonFiniteError(message)


def weight(mass_per_length: float | Array, down: Sequence[float] = (0.0, 0.0, -1.0)) -> LineLoad:
    """Constant dead weight of a mass per length (kg/m, one number or shape (N,)) in the direction `down`."""
    e = np.asarray(down, dtype=float)
    e = e / np.linalg.norm(e)
    mass = np.asarray(mass_per_length, dtype=float)
    return LineLoad(GRAVITY * mass[..., None] * e, constant=True)


@dataclass(frozen=True)
class Foundation:
    """Springs along the rod (Winkler) toward the stress-free positions.

    stiffness : force per length and displacement, N/m2, one number or shape (N,)
    directions : space axes along which they act, any of "xyz", or "transverse": across the stress-free tangent
    """

    stiffness: float | Array
    directions: str = "xyz"

    def __post_init__(self) -> None:
        if not (np.all(np.isfinite(self.stiffness)) and np.all(np.asarray(self.stiffness) >= 0.0)):
            message = f"foundation stiffness is {self.stiffness}; allowed: finite numbers of at least 0"
            raise RigidityError(message)


Load = Force | Moment | LineLoad
