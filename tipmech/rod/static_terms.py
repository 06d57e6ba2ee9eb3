"""What the dynamics takes from the statics: a rod as arrays with end clamps, its supports, energy and tangent."""

import numpy as np

from .band import WIDTH
from .build import Rod
from .elastic import Array, RodArrays, assemble_elastic
from .errors import GeometryError
from .linear import add_nodal, impose
from .loads import Potential
from .model import BoolArray
from .numbering import joints_of


def rod_arrays(rod: Rod, clamped: tuple[bool, bool] = (True, False)) -> tuple[RodArrays, Array, Array]:
    """Arrays of a rod, its node positions (N + 1, 3), m, and its element frames (N, 4).

    `clamped` says whether the frame of the first and of the last element is tied to a clamp.

    Raises
    ------
    GeometryError
        for a rod with corners: they need a frame of their own
    """
    if rod.corners:
        message = f"the rod has a corner at node {min(rod.corners)}; allowed in the dynamics: rods without corners"
        raise GeometryError(message)
    n = rod.elements
    _, (span, bend, natural, *law), _, _ = joints_of(rod, (0, n), np.zeros((n + 1, 3), bool))
    for end in (0, 1):
        if not clamped[end]:
            bend[-end] = 0.0
    clamps = np.stack([rod.sections[0, 1], rod.sections[-1, 0]])
    arrays = RodArrays(rod.lengths, span, rod.stretch, bend, natural, clamps, *law)
    return arrays, rod.points.copy(), rod.frames.copy()


def fix(n_elements: int, **parts: int | tuple[int, ...]) -> BoolArray:
    """Mask of prescribed unknowns, shape (6 N + 3,).

    Keywords name the component, values the nodes (or elements, for rotations; negative counts from the end):
    x, y, z positions; rx, ry, rz material rotation components. Example: fix(40, x=0, y=(0, -1), z=0).
    """
    mask = np.zeros(6 * n_elements + 3, dtype=bool)
    for key, places in parts.items():
        rotation = key.startswith("r")
        component = "xyz".index(key[-1]) + 3 * rotation
        count = n_elements if rotation else n_elements + 1
        for place in (places,) if isinstance(places, int) else places:
            mask[6 * (place % count) + component] = True
    return mask


def assemble_static(
    rod: RodArrays,
    x: Array,
    q: Array,
    potential: Potential | None,
    load: Array | None,
    grad: Array,
    band: Array,
) -> tuple[float, float]:
    """Fill `grad` (6 N + 3,) and `band` (6 N + 3, 9) with those of the static potential, theory (5) to (12).

    Parameters
    ----------
    rod, x, q
        rod, node positions (N + 1, 3), m, and frames (N, 4)
    potential : callable or None
        further smooth energy of the node positions
    load : ndarray, shape (N + 1, 3), or None
        dead nodal forces, N; they enter the gradient only

    Returns
    -------
    tuple of float
        elastic energy and that of `potential`, J
    """
    grad[:] = 0.0
    band[:] = 0.0
    strain = float(assemble_elastic(rod, x, q, grad, band))
    other = 0.0
    if potential is not None:
        other, g, h = potential(x)
        add_nodal(6 * np.arange(len(x)), np.ascontiguousarray(g), np.ascontiguousarray(h), grad, band)
    if load is not None:
        for a in range(3):
            grad[a::6] -= load[:, a]
    return strain, float(other)


def tangent(rod: RodArrays, x: Array, q: Array, fixed: BoolArray, potential: Potential | None = None) -> Array:
    """Static tangent of a state, shape (6 N + 3, 9), with the prescribed unknowns taken out (their diagonal is 1)."""
    size = len(fixed)
    grad, band, none = np.empty(size), np.empty((size, WIDTH)), np.empty((0, size))
    assemble_static(rod, x, q, potential, None, grad, band)
    impose(band, none, fixed, none)
    return band
