"""What holds a structure: supports and hinges at nodes."""

from dataclasses import dataclass
from math import pi

import numpy as np

from .errors import ComponentError, RangeError
from .numbers import real_array

POSITIONS, ROTATIONS = "xyz", "123"


def components(names: str, known: str, what: str) -> tuple[int, ...]:
    """Indices of named components.

    Raises
    ------
    ComponentError
        for a letter that is not in `known`, or one given twice
    """
    if not isinstance(names, str) or any(c not in known for c in names) or len(set(names)) != len(names):
        message = f"{what} components {names!r}; allowed: any of {known!r}, each once"
        raise ComponentError(message)
    return tuple(known.index(c) for c in names)


@dataclass(frozen=True)
class Support:
    """Components of a node's motion that are prescribed; all others are free.

    node : node number, negative counts from the end
    position : prescribed displacement components, any of "xyz" (space axes); "" for none
    rotation : prescribed rotation components, any of "123": about the section's axes 1 and 2 and the tangent as they
        are in the stress-free shape. The section at the node has the frame S exp(psi), S its stress-free frame, psi the
        rotation vector; these are components of psi. "123" is a clamp. For one free component psi is a turn about
        that axis: a hinge. Twist alone ("3") under large bending means psi_3 = 0. With a free component |psi| must
        stay below 2 pi.
    displacement : prescribed displacement at load factor 1, m; entries of free components must be 0
    turn : prescribed rotation vector psi at load factor 1, rad; entries of free components must be 0. Several turns
        are allowed where all three components are prescribed.
    """

    node: int
    position: str = "xyz"
    rotation: str = "123"
    displacement: tuple[float, float, float] = (0.0, 0.0, 0.0)
    turn: tuple[float, float, float] = (0.0, 0.0, 0.0)

    def __post_init__(self) -> None:
        where = f"support at node {self.node}"
        for field in ("displacement", "turn"):
            value = tuple(real_array(getattr(self, field), f"{where}: {field}", [(3,)]).tolist())
            object.__setattr__(self, field, value)
        pairs = ((self.position, POSITIONS, self.displacement), (self.rotation, ROTATIONS, self.turn))
        for names, known, values in pairs:
            kept = components(names, known, "support")
            for a in range(3):
                if values[a] != 0.0 and a not in kept:
                    message = f"{where} moves component {known[a]!r}, which it does not hold"
                    raise ComponentError(message)
        size = float(np.linalg.norm(self.turn))
        if len(self.rotation) < 3 and size >= 2.0 * pi:
            message = f"{where}: turn {size:g} rad with a free component; allowed: below 2 pi"
            raise RangeError(message)


def clamp(node: int) -> Support:
    """Nothing moves at the node."""
    return Support(node)


def pin(node: int) -> Support:
    """The node stays in place, the section may turn in every way."""
    return Support(node, rotation="")


@dataclass(frozen=True)
class Hinge:
    """Moments released at a node: the rod passes on no moment about these section axes.

    node : node number, negative counts from the end
    released : any of "123". One released component is a turn about that axis; where a hinge has turned far and the
        rod beside it bends about the other axes, these are resolved to first order in element size only.
    """

    node: int
    released: str = "12"

    def __post_init__(self) -> None:
        components(self.released, ROTATIONS, "hinge")
