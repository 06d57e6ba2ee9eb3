"""The package's side: the public calls a user would write, and nothing else."""

from collections.abc import Iterable, Iterator
from itertools import groupby
from math import atan2, hypot
from time import perf_counter
from typing import Any

from tipmech import __version__
from tipmech.rod.build import Section, straight
from tipmech.rod.loads import Force
from tipmech.rod.solve import Equilibrium, solve_path
from tipmech.rod.structure import Structure
from tipmech.rod.supports import clamp

from .cases import EA, EI, FORCE, GA, GJ, LENGTH, Case
from .code import Attempt, Code

SECTION = Section(EI, EI, GJ, GA, GA, EA)


def rows_of_loads(case: Case, parts: int) -> Iterator[tuple[tuple[float, float], list[float]]]:
    """The forces of a case as rows of growing multiples of one force (axial, transverse)."""
    for _, row in groupby(case.steps(parts), key=lambda force: round(atan2(force[1], force[0]), 9)):
        forces = list(row)
        yield forces[-1], [hypot(*force) / hypot(*forces[-1]) for force in forces]


def solve(case: Case, elements: int, *, parts: int, plane: bool) -> Attempt:
    """Rod along z; `parts` load steps of the first leg; `plane`: its motion is held in the plane x, z."""
    begin = perf_counter()
    rod = straight(LENGTH, elements, SECTION)
    rows = [
        (
            Structure(
                rod,
                [clamp(0)],
                loads=[Force(-1, (force[1] * FORCE, 0.0, force[0] * FORCE))],
                plane="y" if plane else None,
            ),
            factors,
        )
        for force, factors in rows_of_loads(case, parts)
    ]
    start = perf_counter()
    found: Equilibrium | None = None
    for structure, factors in rows:
        found = solve_path(structure, factors, start=found)[-1]
        if not found.converged:
            break
    end = perf_counter()
    if found is None:
        raise ValueError(f"case {case.key} has no loads")
    tip = found.x[-1]
    good = found.converged and bool(found.stable)
    return Attempt(end - start, (float(tip[2]) / LENGTH, float(tip[0]) / LENGTH), good, end - begin)


def settings(case: Case, plane: bool) -> Iterable[dict[str, Any]]:
    """Load steps of the first leg."""
    for parts in (1, 2, 4, 8) if case.divisible else (1,):
        yield {"parts": parts, "plane": plane}


NOTE = "success means: converged and no negative pivot (stable); true EA and GA, nothing softened"


def codes() -> list[Code]:
    """The package: in space, and held in a plane."""
    return [
        Code("tipmech rod", __version__, "3-D", solve, lambda case: settings(case, False), NOTE),
        Code("tipmech rod, in a plane", __version__, "2-D", solve, lambda case: settings(case, True), NOTE),
    ]
