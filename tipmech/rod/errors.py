"""What can be wrong with a structure of rods: one exception for each kind, all of them ValueErrors; and no solution."""

from .elastic import Array


class RodInputError(ValueError):
    """A structure that cannot be solved as given; raised before any iteration."""


class ShapeError(RodInputError):
    """An array of the wrong shape."""


class NonFiniteError(RodInputError):
    """A point, rigidity, load or prescribed motion that is not a finite number."""


class GeometryError(RodInputError):
    """A rod that is no curve: an element without length, an unmarked corner, a director along the tangent."""


class RigidityError(RodInputError):
    """A rigidity or stiffness that is not positive."""


class NodeError(RodInputError):
    """A node or element that the rod does not have."""


class ComponentError(RodInputError):
    """A component whose name is not known."""


class RangeError(RodInputError):
    """A range of load factors without the start in it, or a point at which what is asked for does not exist."""


class SupportConflictError(RodInputError):
    """Two supports that prescribe the same component with different values."""


class MechanismError(RodInputError):
    """A structure that can move without strain: unrestrained, or with one hinge too many."""


class NotConvergedError(RuntimeError):
    """No equilibrium where a result needs one; `last` (N + 1, 3) are the node positions reached, m."""

    def __init__(self, message: str, last: Array) -> None:
        super().__init__(message)
        self.last = last
