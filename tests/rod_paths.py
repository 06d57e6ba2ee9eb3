"""The package's side of comparisons with independent codes: one place that knows how a loaded rod is solved."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tipmech.rod.elastic import RodArrays, clamp_moment
from tipmech.rod.statics import BoolArray, equilibrium, fix, straight_rod

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Shape:
    """What is compared: node positions (N + 1, 3), force and moment of the rod on the clamp at node 0, stability."""

    x: Array
    force: Array
    moment: Array
    stable: bool


def uniform_rod(
    elements: int,
    bend: Array,
    stretch: Array,
    natural: Callable[[Array], Array] | None = None,
    clamped: tuple[bool, bool] = (True, False),
    length: float = 1.0,
) -> tuple[RodArrays, Array, Array]:
    """Rod along +z of uniform stiffness on an even mesh; `natural` maps s (k,) to curvature and twist (3, k)."""
    s = np.arange(elements + 1) / elements * length
    # the clamps' joints own half an element; their middle is a quarter of an element inside
    s[0], s[-1] = 0.25 * length / elements, length - 0.25 * length / elements
    return straight_rod(
        np.full(elements, length / elements),
        bend=np.tile(bend, (elements + 1, 1)),
        stretch=np.tile(stretch, (elements, 1)),
        natural=None if natural is None else natural(s).T.copy(),
        clamped=clamped,
    )


def supports(elements: int, far_end_held: bool) -> BoolArray:
    """Node 0 held, and the last node where asked for."""
    nodes = (0, -1) if far_end_held else (0,)
    return fix(elements, x=nodes, y=nodes, z=nodes)


def follow(
    rod: RodArrays,
    x: Array,
    q: Array,
    loads: list[tuple[Array, Array | None, Array | None]],
) -> Shape:
    """Equilibria along a list of loads, each from the one before; the last one is returned.

    Parameters
    ----------
    rod, x, q
        rod and its first state
    loads : list of (forces (N + 1, 3), place of node N (3,) or None, frame of the far clamp (4,) or None)
        dead nodal forces, and what is prescribed at the far end

    Returns
    -------
    Shape
        the last equilibrium; `stable` only if all were
    """
    n = q.shape[0]
    stable = True
    for forces, place, turn in loads:
        if turn is not None:
            rod = rod._replace(clamps=np.array([rod.clamps[0], turn]))
        target = x.copy()
        if place is not None:
            target[-1] = place
        state = equilibrium(rod, x, q, fixed=supports(n, place is not None), forces=forces, target=target)
        x, q = state.x, state.q
        stable = stable and state.stable
    return Shape(x, -state.reactions[:3], np.array(clamp_moment(rod, q, 0)), stable)
