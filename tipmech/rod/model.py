"""A structure as arrays for the kernels.

Unknowns in order x_0, [Q_0], th_0, x_1, [Q_1], th_1, ..., x_N, [Q_N] (Q_0 before x_0): node positions, element
frames, and a frame Q of the section at those nodes that need one (supports and moments act on it). Half-bandwidth 8; 11
with a frame at an inner node.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..kernel import bundle
from .elastic import Array, RodArrays

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


@bundle
class Model(NamedTuple):
    """N elements, F frames (the elements', then the nodes'), J joints, n unknowns.

    rod : lengths and stretch of the elements; span, bend, natural of the joints, shape (J,) and (J, 3)
    at_node, at_frame : first unknown of each node and frame
    sides : shape (J, 2), frames on the two sides of a joint
    turned : shape (J,), 1 where the joint's first side is turned by `offset` (J, 4) first: a corner
    fixed : shape (n,), prescribed unknowns
    rate : shape (n,), prescribed motion at load factor 1, m, rad
    metric : shape (n,), stiffness of a foundation of EI/L4 under nodes and EI/L2 under turns, 0 where prescribed
    scale : shape (n,), forces to forces: 1, and 1/mean element length for moments
    anchored : shape (N + 1, 3), positions that trial states keep where the step takes them: those prescribed, and in a
        loop those that a potential presses on
    tied : shape (T,), frames whose unknown is the rotation vector psi from `origin` (T, 4)
    loose : shape (T,), 1 where at least one component of psi is free
    dead : shape (2, N + 1, 3), constant and proportional dead forces, N
    springs : shape (S, 3, 3), nodal stiffness, N/m, of all nodes (S = N + 1) or none; rest : shape (N + 1, 3)
    force_at : shape (A, 2), node and frame of a following force; force : shape (2, A, 3), in the frame's axes
    moment_at : shape (B, 2), frame and 1 where it keeps its direction in space; moment : shape (2, B, 3)
    """

    rod: RodArrays
    at_node: IntArray
    at_frame: IntArray
    sides: IntArray
    turned: IntArray
    offset: Array
    fixed: BoolArray
    rate: Array
    metric: Array
    scale: Array
    anchored: BoolArray
    tied: IntArray
    loose: IntArray
    origin: Array
    dead: Array
    springs: Array
    rest: Array
    force_at: IntArray
    force: Array
    moment_at: IntArray
    moment: Array


@bundle
class Pose(NamedTuple):
    """A state: x (N + 1, 3) positions, m; q (F, 4) frames; psi (T, 3) rotation vectors of tied frames, rad."""

    x: Array
    q: Array
    psi: Array

    def copy(self) -> "Pose":
        """The same state in arrays of its own."""
        return Pose(self.x.copy(), self.q.copy(), self.psi.copy())


@bundle
class System(NamedTuple):
    """The linear system of a state.

    grad : shape (n,), out-of-balance force
    load : shape (n,), its derivative by the load factor (that of external forces)
    band : shape (n, half + 1), lower band of the symmetric part
    extra : shape (n, 2 half + 1) or (0, 2 half + 1), what makes it unsymmetric: columns i - half .. i + half of row i
    fac : shape (n, half + 1), factors
    rhs : shape (2, n), right-hand sides and solutions
    """

    grad: Array
    load: Array
    band: Array
    extra: Array
    fac: Array
    rhs: Array

    @classmethod
    def empty(cls, size: int, unsymmetric: bool, half: int) -> "System":
        """Workspace for `size` unknowns at a half-bandwidth."""
        return cls(
            np.zeros(size), np.zeros(size), np.zeros((size, half + 1)),
            np.zeros((size if unsymmetric else 0, 2 * half + 1)), np.zeros((size, half + 1)), np.zeros((2, size)),
        )  # fmt: skip
