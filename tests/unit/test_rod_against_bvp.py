"""Random rods in space against a boundary-value solution of the strong equations (tests/strong_rod.py).

No tolerance on positions, forces or moments is chosen. Three meshes N, 2N, 4N give two values extrapolated at second
order; their difference is the error of the coarser one, about seven times that of the finer one (the next term is of
third order: the ends' joints own half an element). The finer one has to agree with the reference within that
difference. The order itself is measured on the meshes alone.
"""

from dataclasses import dataclass
from functools import cache
from math import pi

import numpy as np
import pytest
from numpy.typing import NDArray
from rod_paths import Shape, follow, uniform_rod
from strong_rod import STEPS, StrongRod, strong_solution

from tipmech.closed_forms import tip_force_cantilever
from tipmech.rod.loads import Force, LineLoad, Load
from tipmech.rod.structure import Structure
from tipmech.rod.supports import Support, clamp

Array = NDArray[np.float64]

MESHES = (24, 48, 96)
ORDER_BAND = 0.1  # about 2, for differences between meshes: an order of 1.5 or 1 stays outside
BALANCE = 1e-8  # of EI/L^2: ten times the solver's residual
SEED = 20
CASES = ("free", "free", "free", "free", "turned", "turned", "clamped", "clamped")


@dataclass(frozen=True)
class Compared:
    """Values on the meshes (each: the shared nodes' positions, clamp force, clamp moment) and their reference."""

    values: tuple[Array, ...]
    reference: Array
    stable: bool


def random_rod(index: int) -> StrongRod:
    """Rod `index`: a space curve with two bending stiffnesses, finite shear and stretch, large loads; scaled units.

    free: dead tip force; turned: dead tip force and a prescribed frame there, the end free to move; clamped: the far
    end displaced and turned. All carry a dead load per length.
    """
    rng = np.random.default_rng((SEED, index))
    kind = CASES[index]
    mean, wave, phase = rng.normal(0.0, 1.5, (3, 1)), rng.normal(0.0, 1.5, (3, 1)), rng.uniform(0.0, 6.3, (3, 1))
    force = rng.normal(size=3)
    force *= rng.uniform(4.0, 8.0) / np.linalg.norm(force)
    turn = rng.normal(size=3)
    turn *= rng.uniform(0.8, 1.6) / np.linalg.norm(turn)
    place = np.array([*rng.uniform(-0.25, 0.25, 2), -rng.uniform(0.1, 0.35)])
    return StrongRod(
        bend=np.array([1.0, rng.uniform(0.3, 2.0), rng.uniform(0.3, 1.5)]),
        stretch=rng.uniform(200.0, 2000.0, 3),
        natural=lambda s: mean + wave * np.cos(2.0 * np.pi * s + phase),
        spread=rng.normal(size=3),
        force=force if kind == "free" else 0.5 * force,
        moment=np.zeros(3),
        place=place if kind == "clamped" else None,
        turn=None if kind == "free" else turn,
    )


def on_a_mesh(strong: StrongRod, elements: int) -> Shape:
    """The same rod and the same path by the package."""
    rod = uniform_rod(elements, strong.bend, strong.stretch, strong.natural)
    loads: list[Load] = [LineLoad(strong.spread)]
    supports = [clamp(0)]
    if strong.place is None:
        loads.append(Force(-1, strong.force.tolist()))
    if strong.turn is not None:
        place = np.zeros(3) if strong.place is None else strong.place
        held = "" if strong.place is None else "xyz"
        supports.append(Support(-1, held, displacement=tuple(place), turn=tuple(strong.turn)))
    return follow([Structure(rod, supports, loads=loads)], STEPS)


@cache
def compared(index: int) -> Compared:
    strong = random_rod(index)
    shapes = [on_a_mesh(strong, n) for n in MESHES]
    solution = strong_solution(strong)
    shared = solution(np.arange(MESHES[0] + 1) / MESHES[0])
    values = [np.vstack([s.x[:: n // MESHES[0]], s.force, s.moment]) for s, n in zip(shapes, MESHES, strict=True)]
    clamp = np.stack([shared[7:10, 0], shared[10:13, 0]])
    return Compared(tuple(values), np.vstack([shared[:3].T, clamp]), all(s.stable for s in shapes))


PARTS = {"shape": slice(0, -2), "clamp force": slice(-2, -1), "clamp moment": slice(-1, None)}


def size(difference: Array) -> float:
    """Largest length of the vectors (rows)."""
    return float(np.max(np.linalg.norm(difference, axis=1)))


def parts(index: int) -> list[str]:
    """What depends on the mesh: a free or merely turned end leaves the clamp's force to statics."""
    return [part for part in PARTS if part != "clamp force" or CASES[index] == "clamped"]


@pytest.mark.parametrize("index", range(len(CASES)), ids=[f"{i}-{kind}" for i, kind in enumerate(CASES)])
def test_a_random_rod_agrees_with_the_strong_equations(index: int) -> None:
    case = compared(index)
    assert case.stable, "a path that loses stability may end on another branch than the reference"
    for part in parts(index):
        rows = PARTS[part]
        coarse, middle, fine = (value[rows] for value in case.values)
        order = np.log2(size(coarse - middle) / size(middle - fine))
        assert abs(order - 2.0) <= ORDER_BAND, f"{part}: order {order:.2f}"
        once, twice = (4.0 * middle - coarse) / 3.0, (4.0 * fine - middle) / 3.0
        assert size(twice - case.reference[rows]) <= size(twice - once), part


@pytest.mark.parametrize("index", [i for i, kind in enumerate(CASES) if kind != "clamped"])
def test_the_clamp_carries_all_dead_loads(index: int) -> None:
    strong = random_rod(index)
    for value in compared(index).values:
        np.testing.assert_allclose(value[-2], strong.spread + strong.force, atol=BALANCE)


def test_the_rods_are_bent_far_and_out_of_plane() -> None:
    """The cases are what they claim to be: large rotations, and no plane that holds the shape."""
    for index, kind in enumerate(CASES):
        shape = compared(index).reference[:-2]
        flat = np.linalg.svd(shape - shape.mean(axis=0), compute_uv=False)
        assert flat[2] > 5e-3 * flat[0], f"{kind} {index} lies almost in a plane"
        if kind == "free":
            assert np.linalg.norm(shape[-1] - np.array([0.0, 0.0, 1.0])) > 0.4


def test_the_reference_itself_meets_the_elastica() -> None:
    """The strong equations of the helper against elliptic integrals: a stiff straight rod, transverse tip force."""
    load, stiff = 4.0, 1e6
    none = np.zeros(3)
    straight = StrongRod(
        np.ones(3), np.full(3, stiff), lambda s: np.zeros((3, s.size)), none, np.array([load, 0.0, 0.0]), none
    )
    exact = tip_force_cantilever(load, pi / 2.0)
    tip = strong_solution(straight)(np.array([1.0]))[:3, 0]
    np.testing.assert_allclose(tip, [exact.y, 0.0, exact.x], atol=2.0 * load / stiff)  # its strain
