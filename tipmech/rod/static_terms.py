"""What the dynamics takes from the statics, in one place: energy, gradient and tangent of a state, and its supports."""

import numpy as np

from .elastic import Array, RodArrays, assemble_elastic
from .statics import BoolArray, Potential, add_nodal, impose

__all__ = ["BoolArray", "Potential", "assemble_static", "impose"]


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
        add_nodal(band, grad, np.ascontiguousarray(g), np.ascontiguousarray(h))
    if load is not None:
        for a in range(3):
            grad[a::6] -= load[:, a]
    return strain, float(other)
