"""The rod against the geometrically exact beams of a general multibody code (EXUDYN), which no one here wrote.

Both codes are of second order with different errors, so values are compared where both are extrapolated: from three
meshes each, the difference of its two extrapolated values bounds the error of the finer one, and the two codes have to
agree within the sum of these differences. No tolerance is chosen.

EXUDYN's beam has its axis along x: its (x, y, z) are the rod's (z, x, y).
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from math import pi

import exudyn
import numpy as np
import pytest
from exudyn.itemInterface import (
    CoordinateConstraint,
    LoadForceVector,
    MarkerNodeCoordinate,
    MarkerNodePosition,
    NodePointGround,
    NodeRigidBodyEP,
    ObjectBeamGeometricallyExact,
)
from numpy.typing import NDArray
from rod_paths import follow, uniform_rod
from scipy.spatial.transform import Rotation

from tipmech.rod.loads import Force
from tipmech.rod.structure import Structure
from tipmech.rod.supports import clamp

Array = NDArray[np.float64]

MESHES = (12, 24, 48)
SWAP = np.array([[0.0, 0.0, 1.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])  # the rod's axes -> EXUDYN's
PARTS = 20  # of the first load, for both codes; with 5 and half the push EXUDYN left the buckled branch
NEWTON = 1e-10  # relative, EXUDYN's
ORDER_BAND = 0.1  # about 2


@dataclass(frozen=True)
class Rod:
    """A clamped-free rod of unit length along z (scaled units) and the dead tip forces that it bears one after another.

    bend : EI1, EI2, GJ; stretch : GA1, GA2, EA; natural : constant curvature and twist; forces : each shape (3,)
    """

    bend: tuple[float, float, float]
    stretch: tuple[float, float, float]
    natural: tuple[float, float, float]
    forces: tuple[tuple[float, float, float], ...]


LOAD = 1.152 * pi**2 / 4.0  # the tip of an inextensible column turns by 60 degrees
RODS = {
    "straight": Rod((1.0, 1.6, 0.8), (500.0, 700.0, 900.0), (0.0, 0.0, 0.0), ((3.0, 4.0, -1.0),)),
    "two stiffnesses far apart": Rod((1.0, 0.2, 0.5), (500.0, 700.0, 900.0), (0.0, 0.0, 0.0), ((2.0, 2.0, 1.0),)),
    "helix": Rod((1.0, 1.6, 0.8), (500.0, 700.0, 900.0), (0.8, 1.2, 0.9), ((3.0, 4.0, -1.0),)),
    "arc out of its plane": Rod((1.0, 1.0, 0.7), (900.0, 900.0, 2000.0), (0.0, 1.5, 0.0), ((0.0, 6.0, 0.0),)),
    "column past buckling": Rod((1.0, 1.5, 0.8), (900.0, 900.0, 2000.0), (0.0, 0.0, 0.0),
                                ((0.0, 0.1, -LOAD), (0.0, 0.0, -LOAD))),
}  # fmt: skip


def steps(rod: Rod) -> list[Array]:
    """The first force in PARTS, then each further one at once."""
    first = np.array(rod.forces[0])
    return [first * part / PARTS for part in range(PARTS + 1)] + [np.array(f) for f in rod.forces[1:]]


def by_the_package(rod: Rod, elements: int) -> Array:
    """Node positions, shape (N + 1, 3)."""
    natural = np.array(rod.natural)[:, None]
    built = uniform_rod(
        elements, np.array(rod.bend), np.array(rod.stretch), lambda s: np.repeat(natural, s.size, axis=1)
    )
    shape = follow([Structure(built, [clamp(0)], loads=[Force(-1, force)]) for force in rod.forces], PARTS)
    assert shape.stable
    return shape.x


def unloaded(rod: Rod, s: Array) -> tuple[Array, Rotation]:
    """Positions (k, 3) and frames of the curve with constant curvature and twist: an arc of a helix."""
    k = np.array(rod.natural)
    size = float(np.linalg.norm(k))
    turned = Rotation.from_rotvec(s[:, None] * k)
    if size == 0.0:
        return s[:, None] * np.array([0.0, 0.0, 1.0]), turned
    axis, angle = k / size, (size * s)[:, None]
    along = axis * axis[2]
    across = np.array([0.0, 0.0, 1.0]) - along
    return s[:, None] * along + (np.sin(angle) * across + (1.0 - np.cos(angle)) * np.cross(axis, across)) / size, turned


def by_exudyn(rod: Rod, elements: int) -> Array:
    """Node positions in the rod's axes, shape (N + 1, 3)."""
    container = exudyn.SystemContainer()
    system = container.AddSystem()
    section = exudyn.BeamSection()
    order = [rod.stretch[2], rod.stretch[0], rod.stretch[1], rod.bend[2], rod.bend[0], rod.bend[1]]
    section.stiffnessMatrix = np.diag(order)
    section.massPerLength, section.inertia = 1.0, np.eye(3)  # statics: not used
    places, frames = unloaded(rod, np.arange(elements + 1) / elements)
    swap = Rotation.from_matrix(SWAP)
    quaternions = np.roll((swap * frames * swap.inv()).as_quat(), 1, axis=1)
    nodes = [
        system.AddNode(NodeRigidBodyEP(referenceCoordinates=[*place, *quaternion]))
        for place, quaternion in zip(places @ SWAP.T, quaternions, strict=True)
    ]
    for a, b in zip(nodes[:-1], nodes[1:], strict=True):
        system.AddObject(ObjectBeamGeometricallyExact(nodeNumbers=[a, b], length=1.0 / elements, sectionData=section))
    ground = system.AddMarker(MarkerNodeCoordinate(nodeNumber=system.AddNode(NodePointGround()), coordinate=0))
    for coordinate in (0, 1, 2, 4, 5, 6):  # the quaternion's first entry follows from its norm
        marker = system.AddMarker(MarkerNodeCoordinate(nodeNumber=nodes[0], coordinate=coordinate))
        system.AddObject(CoordinateConstraint(markerNumbers=[ground, marker]))
    tip = system.AddMarker(MarkerNodePosition(nodeNumber=nodes[-1]))
    path = np.array(steps(rod)) @ SWAP.T
    share = np.linspace(0.0, 1.0, len(path))

    def force(_: object, time: float, __: object) -> list[float]:
        return [float(np.interp(time, share, path[:, a])) for a in range(3)]

    system.AddLoad(LoadForceVector(markerNumber=tip, loadVector=[0.0] * 3, loadVectorUserFunction=force))
    system.Assemble()
    settings = exudyn.SimulationSettings()
    settings.solution.file.write = False
    settings.linearSolver.solverType = exudyn.LinearSolverType.EigenSparse
    settings.staticSolver.verboseMode = 0
    settings.staticSolver.newton.relativeTolerance = NEWTON
    settings.staticSolver.useLoadFactor = False  # the function above has the whole load
    settings.staticSolver.numberOfLoadSteps = len(path) - 1
    system.SolveStatic(settings, showHints=False)
    found = [system.GetNodeOutput(node, exudyn.OutputVariableType.Position) for node in nodes]
    return np.array(found) @ SWAP


def extrapolated(code: Callable[[Rod, int], Array], rod: Rod) -> tuple[Array, float, float]:
    """Shape at the coarse mesh's nodes, bound of its error, order measured on the three meshes."""
    coarse, middle, fine = (code(rod, n)[:: n // MESHES[0]] for n in MESHES)
    once, twice = (4.0 * middle - coarse) / 3.0, (4.0 * fine - middle) / 3.0
    return twice, size(twice - once), float(np.log2(size(coarse - middle) / size(middle - fine)))


def size(difference: Array) -> float:
    """Largest distance of two nodes."""
    return float(np.max(np.linalg.norm(difference, axis=1)))


@cache
def both(name: str) -> tuple[tuple[Array, float, float], tuple[Array, float, float]]:
    return extrapolated(by_the_package, RODS[name]), extrapolated(by_exudyn, RODS[name])


@pytest.mark.parametrize("name", RODS)
def test_two_codes_give_the_same_shape(name: str) -> None:
    (ours, our_error, _), (theirs, their_error, _) = both(name)
    assert size(ours - theirs) <= our_error + their_error
    straight, _ = unloaded(RODS[name], np.arange(MESHES[0] + 1) / MESHES[0])
    assert size(ours - straight) > 0.3, "no large deflection, no test"


@pytest.mark.parametrize("name", RODS)
def test_the_order_is_second(name: str) -> None:
    """Otherwise the extrapolation, and with it the bound above, means nothing."""
    for _, _, order in both(name):
        assert abs(order - 2.0) < ORDER_BAND
