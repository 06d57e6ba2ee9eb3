"""OpenSees: frames of elastic beam-columns with the corotational transformation, in the plane and in space."""

import ctypes
import importlib.util
import sys
from collections.abc import Callable, Iterable
from functools import partial
from pathlib import Path
from time import perf_counter
from typing import Any

from .cases import EA, EI, GJ, LENGTH, Case
from .code import Attempt, Code

AXIAL = EA * LENGTH**2 / EI  # stiffnesses in the scaled units L = EI = 1
TWIST = GJ / EI


def load_module() -> Any:
    """Import it; on Linux its bundled linear algebra has to be loaded first."""
    if sys.platform.startswith("linux"):
        spec = importlib.util.find_spec("openseespylinux")
        if spec is None or spec.origin is None:
            message = "openseespylinux is not installed"
            raise ImportError(message)
        for name in ("libquadmath.so.0", "libgfortran.so.4", "libblas.so.3"):
            ctypes.CDLL(str(Path(spec.origin).parent / "lib" / name), mode=ctypes.RTLD_GLOBAL)
    from openseespy import opensees

    return opensees


def build(ops: Any, elements: int, dim: int, system: str, test: tuple[str, float]) -> None:
    """Nodes, elements, clamp and solver of the frame along x."""
    unknowns = 3 if dim == 2 else 6
    ops.wipe()
    ops.model("basic", "-ndm", dim, "-ndf", unknowns)
    for i in range(elements + 1):
        ops.node(i, *([i / elements] + [0.0] * (dim - 1)))
    ops.fix(0, *[1] * unknowns)
    ops.geomTransf("Corotational", 1, *([] if dim == 2 else [0.0, 0.0, 1.0]))
    section = [AXIAL, 1.0, 1.0] if dim == 2 else [AXIAL, 1.0, 1.0, TWIST, 1.0, 1.0]  # A, E, (G, J, Iy,) Iz
    for i in range(elements):
        ops.element("elasticBeamColumn", i, i, i + 1, *section, 1)
    ops.constraints("Plain")
    ops.numberer("Plain")
    ops.system(system)
    ops.test(*test, 50, 0)
    ops.algorithm("Newton")


def solve(
    ops: Any, dim: int, case: Case, elements: int, *, parts: int, release: int, system: str, test: tuple[str, float]
) -> Attempt:
    """Each leg as a load pattern that grows linearly; `loadConst` between legs."""
    begin = perf_counter()
    build(ops, elements, dim, system, test)
    rest = [0.0] * (1 if dim == 2 else 4)
    legs = case.legs if case.divisible else case.legs[-1:]
    counts = [parts, release] if case.divisible else [len(case.legs)]
    ops.timeSeries("Linear", 1)
    ops.pattern("Plain", 1, 1)
    ops.load(elements, *legs[0], *rest)
    ops.integrator("LoadControl", 1.0 / counts[0])
    ops.analysis("Static", "-noWarnings")
    start = perf_counter()
    failed = ops.analyze(counts[0])
    if len(legs) == 2 and not failed:
        ops.loadConst("-time", 0.0)
        ops.timeSeries("Linear", 2)
        ops.pattern("Plain", 2, 2)
        ops.load(elements, legs[1][0] - legs[0][0], legs[1][1] - legs[0][1], *rest)
        ops.integrator("LoadControl", 1.0 / counts[1])
        failed = ops.analyze(counts[1])
    end = perf_counter()
    tip = (1.0 + ops.nodeDisp(elements, 1), ops.nodeDisp(elements, 2))
    return Attempt(end - start, tip, not failed, end - begin)


def settings(dim: int, case: Case) -> Iterable[dict[str, Any]]:
    """Load steps, linear solver, and kind and size of the convergence test."""
    systems = ("BandGeneral", "ProfileSPD") if dim == 2 else ("ProfileSPD", "UmfPack")
    tests = (("NormUnbalance", 1e-3), ("NormDispIncr", 1e-6))
    for parts, release in [(1, 1), (2, 1), (4, 1), (8, 2), (12, 3), (16, 4), (24, 6)] if case.divisible else [(1, 1)]:
        for system in systems:
            for test in tests:
                yield {"parts": parts, "release": release, "system": system, "test": test}


def codes() -> list[Code]:
    """The plane frame and the space frame."""
    ops = load_module()
    note = "elasticBeamColumn, corotational; scaled units; fastest of load steps, linear solvers, convergence tests"

    def one(dim: int) -> Callable[..., Attempt]:
        return partial(solve, ops, dim)

    return [
        Code(f"OpenSees {dim}-D frame", ops.version(), f"{dim}-D", one(dim), partial(settings, dim), note)
        for dim in (2, 3)
    ]
