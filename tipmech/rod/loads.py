"""Loads on a structure. Each is constant or grows with the load factor; each keeps its direction or follows the rod."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from .elastic import Array
from .errors import ComponentError, RigidityError, ShapeError
from .numbers import direction, real_array

GRAVITY = 9.80665  # m/s2
# node positions (N + 1, 3) -> energy (J), gradient (N + 1, 3) (N), Hessian blocks (N + 1, 3, 3) (N/m)
Potential = Callable[[Array], tuple[float, Array, Array]]


def _keep_vector(load: "Force | Moment", what: str) -> None:
    """Check a load at a node and keep a copy of its vector."""
    object.__setattr__(load, "vector", tuple(real_array(load.vector, f"{what} at node {load.node}", [(3,)]).tolist()))
    for name in ("follower", "constant"):
        if not isinstance(getattr(load, name), bool | np.bool_):
            message = f"{what} at node {load.node}: {name} is {getattr(load, name)!r}; allowed: True or False"
            raise ComponentError(message)


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
        _keep_vector(self, "force")


@dataclass(frozen=True)
class Moment:
    """Moment at a node, N m; axes and flags as for `Force`. Neither kind has a potential in space."""

    node: int
    vector: Sequence[float]
    follower: bool = False
    constant: bool = False

    def __post_init__(self) -> None:
        _keep_vector(self, "moment")


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
        array = real_array(self.vector, "line load")
        if array.shape[-1:] != (3,) or array.ndim > 2:
            message = f"line load has shape {array.shape}; allowed: (3,) or (N, 3)"
            raise ShapeError(message)
        object.__setattr__(self, "vector", array)


def weight(mass_per_length: float | Array, down: Sequence[float] = (0.0, 0.0, -1.0)) -> LineLoad:
    """Constant dead weight of a mass per length (kg/m, one number or shape (N,)) in the direction `down`."""
    e = direction(down, "direction of the weight")
    mass = real_array(mass_per_length, "mass per length")
    if np.any(mass < 0.0):
        message = f"mass per length is {float(np.min(mass))} kg/m; allowed: at least 0"
        raise RigidityError(message)
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
        array = real_array(self.stiffness, "foundation stiffness")
        if np.any(array < 0.0):
            message = f"foundation stiffness is {float(np.min(array))} N/m2; allowed: at least 0"
            raise RigidityError(message)
        object.__setattr__(self, "stiffness", array)


Load = Force | Moment | LineLoad
