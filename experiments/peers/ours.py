"""The package's side: the public calls a user would write, and nothing else."""

from collections.abc import Iterable
from time import perf_counter
from typing import Any

import numpy as np

from tipmech import __version__
from tipmech.rod.statics import NotConvergedError, equilibrium, fix, straight_rod

from .cases import EA, EI, FORCE, GA, GJ, LENGTH, Case
from .code import Attempt, Code


def solve(case: Case, elements: int, *, parts: int, residual: float) -> Attempt:
    """Rod along z; `parts` load steps of the first leg, `residual` in EI/L^2."""
    begin = perf_counter()
    rod, x, q = straight_rod(
        np.full(elements, LENGTH / elements),
        bend=np.tile([EI, EI, GJ], (elements + 1, 1)),
        stretch=np.tile([GA, GA, EA], (elements, 1)),
    )
    fixed = fix(elements, x=0, y=0, z=0)
    start = perf_counter()
    stable, forces = False, np.zeros((elements + 1, 3))
    try:
        for axial, across in case.steps(parts):
            forces[-1] = across * FORCE, 0.0, axial * FORCE
            state = equilibrium(rod, x, q, fixed=fixed, forces=forces, residual=residual * FORCE)
            x, q, stable = state.x, state.q, state.stable
    except NotConvergedError as failed:
        x, stable = failed.last.x, False
    end = perf_counter()
    return Attempt(end - start, (float(x[-1, 2]) / LENGTH, float(x[-1, 0]) / LENGTH), stable, end - begin)


def settings(case: Case) -> Iterable[dict[str, Any]]:
    """Load steps of the first leg, and how far the residual is reduced."""
    for parts in (1, 2, 4, 8) if case.divisible else (1,):
        for residual in (1e-9, 1e-5):
            yield {"parts": parts, "residual": residual}


NOTE = "success means: converged and no negative pivot (stable); true EA and GA, nothing softened"


def codes() -> list[Code]:
    """The package."""
    return [Code("tipmech rod", __version__, "3-D", solve, settings, NOTE)]
