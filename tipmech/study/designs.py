"""Designs of a sensitivity study over the unit cube, by SALib. They know no physics.

- Morris: trajectories on a grid of levels, one input changed at a step, each input once in a trajectory. The levels are
  the middles of equally likely classes (at 4: 0.125, 0.375, 0.625, 0.875), so that no input stands at the ends of its
  distribution, which of an unbounded one are infinitely far away.
- Saltelli: two matrices A and B of a scrambled Sobol' sequence and, for each input, A with that input taken from B; in
  independent scrambles, one after the other, rows of B in random order within each. In a single scramble, and with rows
  of A and B as they come, an input of A and the same of B hang together: of two equally likely halves a base point then
  has both the same, or both different, for nearly all base points at once (with 22 inputs and 64 base points the total
  index of an input that alone decides came out as 0 or 2 for some inputs), and no resampling of base points sees it.

References
----------
Morris, Technometrics 33 (1991) 161-174, doi 10.1080/00401706.1991.10484804; Campolongo, Cariboni and Saltelli, Environ.
Model. Softw. 22 (2007) 1509-1518, doi 10.1016/j.envsoft.2006.10.004; Saltelli et al., Comput. Phys. Commun. 181 (2010)
259-270, doi 10.1016/j.cpc.2009.09.018; Iwanaga, Usher and Herman, Socio-Environ. Syst. Model. 4 (2022) 18155, doi
10.18174/sesmo.18155 (SALib).
"""

from functools import lru_cache
from importlib.metadata import version
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

SCRAMBLES = 16  # of Saltelli's design at most: its intervals have Student's t of one less
KEPT = 4  # designs kept in a process: a worker needs the two of its study for every chunk


def sampler() -> str:
    """Library that makes the designs, with its version: another one may make others."""
    return f"SALib {version('SALib')}"


def level_ends(levels: int) -> tuple[float, float]:
    """Least and largest level of Morris' grid: the middles of the outermost of `levels` equally likely classes."""
    return 0.5 / levels, 1.0 - 0.5 / levels


def problem(count: int, low: float = 0.0, high: float = 1.0) -> dict[str, Any]:
    """SALib's description of `count` inputs, uniform in (low, high); a new one at each call, for SALib adds to it."""
    return {"num_vars": count, "names": [f"x{k}" for k in range(count)], "bounds": [[low, high]] * count}


@lru_cache(maxsize=KEPT)
def morris_design(count: int, trajectories: int, levels: int, seed: int) -> Array:
    """Morris' trajectories, one after the other.

    Returns
    -------
    ndarray, shape (trajectories * (count + 1), count)
        values in (0, 1), read only
    """
    from SALib.sample import morris

    rng = np.random.default_rng(np.random.SeedSequence([seed, 1]))
    ends = level_ends(levels)
    return _fixed(morris.sample(problem(count, *ends), trajectories, num_levels=levels, seed=rng))


@lru_cache(maxsize=KEPT)
def sobol_design(count: int, base_points: int, seed: int) -> Array:
    """Saltelli's design without the matrices of second order: for each base point A, A with input i from B, B.

    Base points of one scramble (`scramble_of`) follow each other.

    Returns
    -------
    ndarray, shape (base_points * (count + 2), count)
        values in (0, 1), read only; rows of a base point stand together
    """
    from SALib.sample import sobol

    scrambles = scrambles_of(base_points)
    own = [np.random.default_rng(np.random.SeedSequence([seed, 2, k])) for k in range(scrambles)]
    out = np.empty((scrambles, base_points // scrambles, count + 2, count))
    for points, rng in zip(out, own, strict=True):
        made = sobol.sample(problem(count), len(points), calc_second_order=False, seed=rng)
        ends = np.reshape(made, points.shape)[:, [0, -1]]
        points[:, :-1], points[:, -1] = ends[:, :1], rng.permutation(ends[:, 1])
        for k in range(count):
            points[:, 1 + k, k] = points[:, -1, k]
    return _fixed(out.reshape(-1, count))


def scrambles_of(base_points: int) -> int:
    """Number of independent scrambles of so many base points (a power of 2): at least four points in each."""
    return max(1, min(SCRAMBLES, base_points // 4))


def scramble_of(base_points: int) -> NDArray[np.int64]:
    """Scramble of each base point, shape (base_points,)."""
    return np.arange(base_points, dtype=np.int64) * scrambles_of(base_points) // base_points


def _fixed(points: Any) -> Array:
    """A design as an array that nobody changes."""
    out = np.array(points, dtype=np.float64)
    out.flags.writeable = False
    return out
