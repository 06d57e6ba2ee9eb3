"""EXUDYN: cables in absolute nodal coordinates and geometrically exact beams, in the plane and in space."""

from collections.abc import Callable, Iterable
from functools import partial
from itertools import product
from time import perf_counter
from typing import Any

import numpy as np

from .cases import EA, EI, GA, GJ, LENGTH, Case
from .code import Attempt, Code

AXIAL, SHEAR, TWIST = EA * LENGTH**2 / EI, GA * LENGTH**2 / EI, GJ / EI  # scaled units L = EI = 1
LINEAR_SOLVERS = ("EXUdense", "EigenSparse")
SMALLEST = 1e-3
TOLERANCES = (1e-4, 1e-6, 1e-8)  # relative, of Newton's method; what is too loose fails by its error


def cable_2d(exu: Any, system: Any, elements: int, integration: int) -> tuple[list[int], tuple[int, ...]]:
    """ANCF cable in the plane: nodes and the clamped coordinates."""
    items = exu.itemInterface
    nodes = [
        system.AddNode(items.NodePoint2DSlope1(referenceCoordinates=[i / elements, 0.0, 1.0, 0.0]))
        for i in range(elements + 1)
    ]
    for pair in zip(nodes[:-1], nodes[1:], strict=True):
        system.AddObject(
            items.ObjectANCFCable2D(
                nodeNumbers=list(pair), length=1.0 / elements, massPerLength=1.0, bendingStiffness=1.0,
                axialStiffness=AXIAL, useReducedOrderIntegration=integration,
            )
        )  # fmt: skip
    return nodes, (0, 1, 3)  # the slope's length stays free


def cable_3d(exu: Any, system: Any, elements: int, integration: int) -> tuple[list[int], tuple[int, ...]]:
    """ANCF cable in space (no torsion)."""
    items = exu.itemInterface
    nodes = [
        system.AddNode(items.NodePointSlope1(referenceCoordinates=[i / elements, 0.0, 0.0, 1.0, 0.0, 0.0]))
        for i in range(elements + 1)
    ]
    for pair in zip(nodes[:-1], nodes[1:], strict=True):
        system.AddObject(
            items.ObjectANCFCable(
                nodeNumbers=list(pair), length=1.0 / elements, massPerLength=1.0, bendingStiffness=1.0,
                axialStiffness=AXIAL, useReducedOrderIntegration=integration,
            )
        )  # fmt: skip
    return nodes, (0, 1, 2, 4, 5)


def exact_2d(exu: Any, system: Any, elements: int, integration: int) -> tuple[list[int], tuple[int, ...]]:
    """Geometrically exact beam in the plane; `integration` 0: two nodes an element, 1: three."""
    items = exu.itemInterface
    inner = integration + 1
    nodes = [
        system.AddNode(items.NodeRigidBody2D(referenceCoordinates=[i / (elements * inner), 0.0, 0.0]))
        for i in range(elements * inner + 1)
    ]
    for e in range(elements):
        a = e * inner
        # the middle node stands last
        own = [nodes[a], nodes[a + 1]] if inner == 1 else [nodes[a], nodes[a + 2], nodes[a + 1]]
        system.AddObject(
            items.ObjectBeamGeometricallyExact2D(
                nodeNumbers=own, length=1.0 / elements, massPerLength=1.0, crossSectionInertia=1.0,
                bendingStiffness=1.0, axialStiffness=AXIAL, shearStiffness=SHEAR,
            )
        )  # fmt: skip
    return nodes, (0, 1, 2)


def exact_3d(exu: Any, system: Any, elements: int, integration: int) -> tuple[list[int], tuple[int, ...]]:
    """Geometrically exact beam in space on nodes with Euler parameters."""
    items = exu.itemInterface
    section = exu.BeamSection()
    section.stiffnessMatrix = np.diag([AXIAL, SHEAR, SHEAR, TWIST, 1.0, 1.0])
    section.massPerLength, section.inertia = 1.0, np.eye(3)  # statics: not used
    nodes = [
        system.AddNode(items.NodeRigidBodyEP(referenceCoordinates=[i / elements, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0]))
        for i in range(elements + 1)
    ]
    for pair in zip(nodes[:-1], nodes[1:], strict=True):
        system.AddObject(
            items.ObjectBeamGeometricallyExact(nodeNumbers=list(pair), length=1.0 / elements, sectionData=section)
        )
    return nodes, (0, 1, 2, 4, 5, 6)  # the quaternion's first entry follows from its norm


Builder = Callable[[Any, Any, int, int], tuple[list[int], tuple[int, ...]]]


def add_load(exu: Any, system: Any, node: int, case: Case, parts: int, release: int) -> int:
    """Tip force over the load steps; returns their number."""
    items = exu.itemInterface
    tip = system.AddMarker(items.MarkerNodePosition(nodeNumber=node))
    if len(case.legs) != 2:
        system.AddLoad(items.LoadForceVector(markerNumber=tip, loadVector=[*case.legs[-1], 0.0]))
        return parts if case.divisible else len(case.legs)
    path = np.array([(0.0, 0.0), *case.steps(parts, release)])
    share = np.linspace(0.0, 1.0, len(path))

    def force(_: object, time: float, __: object) -> list[float]:
        return [float(np.interp(time, share, path[:, 0])), float(np.interp(time, share, path[:, 1])), 0.0]

    system.AddLoad(items.LoadForceVector(markerNumber=tip, loadVector=[0.0] * 3, loadVectorUserFunction=force))
    return len(path) - 1


def solve(
    exu: Any, builder: Builder, case: Case, elements: int, *,
    parts: int, release: int, tolerance: float, linear: str, integration: int,
) -> Attempt:  # fmt: skip
    """Static solution in scaled units, beam along x."""
    items = exu.itemInterface
    begin = perf_counter()
    container = exu.SystemContainer()
    system = container.AddSystem()
    nodes, clamped = builder(exu, system, elements, integration)
    fixed = system.AddNode(items.NodePointGround())
    ground = system.AddMarker(items.MarkerNodeCoordinate(nodeNumber=fixed, coordinate=0))
    for coordinate in clamped:
        own = system.AddMarker(items.MarkerNodeCoordinate(nodeNumber=nodes[0], coordinate=coordinate))
        system.AddObject(items.CoordinateConstraint(markerNumbers=[ground, own]))
    count = add_load(exu, system, nodes[-1], case, parts, release)
    system.Assemble()
    settings = exu.SimulationSettings()
    settings.solution.file.write = False
    settings.linearSolver.solverType = getattr(exu.LinearSolverType, linear)
    static = settings.staticSolver
    static.verboseMode = 0
    static.numberOfLoadSteps = count
    static.newton.relativeTolerance = tolerance
    static.useLoadFactor = len(case.legs) != 2  # else the load's own function has the whole load
    static.minimumStepSize = SMALLEST  # of the whole path; steps are halved where Newton fails
    start = perf_counter()
    try:
        success = bool(system.SolveStatic(settings, showHints=False))
    except exu.SolverError:
        success = False
    end = perf_counter()
    tip = system.GetNodeOutput(nodes[-1], exu.OutputVariableType.Position)
    return Attempt(end - start, (float(tip[0]), float(tip[1])), success, end - begin)


def settings(integrations: tuple[int, ...], case: Case) -> Iterable[dict[str, Any]]:
    """Load steps, Newton tolerance, linear solver, kind of integration or order of the element."""
    splits = [(1, 1), (2, 1), (4, 1), (8, 2), (16, 4), (32, 8)] if case.divisible else [(1, 1)]
    for integration, linear, tolerance, (parts, release) in product(integrations, LINEAR_SOLVERS, TOLERANCES, splits):
        yield {
            "parts": parts, "release": release, "tolerance": tolerance, "linear": linear, "integration": integration,
        }  # fmt: skip


def codes() -> list[Code]:
    """Four elements."""
    import exudyn as exu
    import exudyn.itemInterface  # noqa: F401

    note = "scaled units; fastest of load steps, Newton tolerances 1e-4 to 1e-8, dense or sparse solver"
    table: list[tuple[str, str, Builder, tuple[int, ...]]] = [
        ("EXUDYN ANCF cable 2-D", "2-D", cable_2d, (0, 1, 2)),
        ("EXUDYN geometrically exact 2-D", "2-D", exact_2d, (0, 1)),
        ("EXUDYN ANCF cable 3-D (no torsion)", "3-D", cable_3d, (0, 1, 2)),
        ("EXUDYN geometrically exact 3-D", "3-D", exact_3d, (0,)),
    ]
    return [
        Code(name, exu.__version__, kind, partial(solve, exu, builder), partial(settings, integrations), note)
        for name, kind, builder, integrations in table
    ]
