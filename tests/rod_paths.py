"""The package's side of comparisons with independent codes: one place that knows how a loaded rod is solved."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tipmech.rod.build import Rod, Section, straight
from tipmech.rod.solve import solve, solve_path
from tipmech.rod.structure import Structure

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Shape:
    """What is compared: node positions (N + 1, 3), force and moment of the rod on the clamp at node 0, stability."""

    x: Array
    force: Array
    moment: Array
    stable: bool


def uniform_rod(elements: int, bend: Array, stretch: Array, natural: Callable[[Array], Array]) -> Rod:
    """Rod of unit length along +z, uniform stiffness, even mesh; `natural` maps s (k,) to curvature and twist (3, k).

    It is built straight: not free of stress before it is solved.
    """
    s = np.arange(elements + 1) / elements
    # the ends' joints own half an element; their middle is a quarter of an element inside
    s[0], s[-1] = 0.25 / elements, 1.0 - 0.25 / elements
    section = Section(*(float(v) for v in (*bend, *stretch)))
    return replace(straight(1.0, elements, section), natural=np.repeat(natural(s).T[:, None], 2, axis=1))


def follow(structures: Sequence[Structure], parts: int) -> Shape:
    """Equilibria as the first structure's loads grow in equal parts, then of each further structure; the last one.

    `stable` only if all were; each starts from the one before.
    """
    first, *further = structures
    path = solve_path(first, np.linspace(0.0, 1.0, parts + 1).tolist())
    for structure in further:
        path.append(solve(structure, start=path[-1]))
    assert all(state.converged for state in path), path[-1].reason
    force, moment = path[-1].reactions
    return Shape(path[-1].x, -force[0], -moment[0], all(bool(state.stable) for state in path))


def quadratic(residuals: tuple[float, ...]) -> bool:
    """Each residual (N; loads are of 1 N) at most twice the square of the one before, down to round-off."""
    r = np.array(residuals)
    seen = r[1:][r[1:] > 1e-10]  # after the first step, above round-off
    return len(seen) >= 2 and bool(np.all(r[2:] <= np.maximum(2.0 * r[1:-1] ** 2, 1e-10)))
