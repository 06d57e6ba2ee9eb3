"""Column strength of a wire, and its prolapse between two supports.

Critical loads are found by inertia: the straight wire is solved under an axial force, and the count of negative
eigenvalues of its tangent tells whether a critical load lies below (Sylvester's law; for a column Wittrick & Williams
1971, from memory). No imperfection is assumed and no buckled shape is followed for it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from ..checks import FieldError, check_range, mm
from ..profile import Profile
from ..rod.build import Rod
from ..rod.elastic import Array
from ..rod.errors import NotConvergedError
from ..rod.loads import Force
from ..rod.solve import solve
from ..rod.structure import Structure
from ..rod.supports import Support, clamp
from .piece import Plane, check_elements, check_free_length, piece, planes

Ends = Literal["clamped-free", "clamped-guided", "clamped-pinned", "clamped-clamped"]

FREE_LENGTH = 10e-3  # m, as for the tip load
UNSUPPORTED = tuple(x * 1e-3 for x in (3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 13.0, 16.0, 20.0, 25.0, 30.0, 35.0, 40.0))  # m
LARGEST_FACTOR = 4.0 * np.pi**2  # c of the stiffest Euler case: c max(EI)/L^2 is above any critical load here
MARGIN = 2.0  # times that: a coil much softer along than across buckles above Euler's load, since it shortens first
BRACKET = 1e-6  # of the load: width to which a critical load is bisected, far below the error of the mesh
BISECTIONS = 60  # more than the halvings of the widest bracket down to BRACKET
STRAIGHT = 1e-9  # of the length: a state further aside is no longer the straight one
ELEMENTS = 80  # error of the clamped-clamped load, the largest of the four: 6e-4 (measured), of second order
LEAST_ELEMENTS = 16
CRITICAL = "critical axial load of the straight wire, no weight, in its plane of easy bending, proximal end clamped"

FAR_END: dict[Ends, tuple[str, str]] = {
    "clamped-free": ("", ""),
    "clamped-guided": ("", "123"),
    "clamped-pinned": ("xy", ""),
    "clamped-clamped": ("xy", "123"),
}
"""What holds the distal end, positions and rotations: it may always move along the axis."""


@dataclass(frozen=True)
class ColumnTest:
    """Result of a column test at n unsupported lengths.

    free_length : m
    loads : critical load of the distal `free_length` under the four end conditions, N
    unsupported : ndarray, shape (n,), length between two supports, m
    clamped, pinned : ndarray, shape (n,), critical load of that length with a distal end clamped or pinned, N
    distal : distance of the distal support from the tip, m
    definition : the test in words
    """

    free_length: float
    loads: dict[Ends, float]
    unsupported: Array
    clamped: Array
    pinned: Array
    distal: float
    definition: str


def column(
    profile: Profile,
    free_length: float = FREE_LENGTH,
    *,
    unsupported: Sequence[float] = UNSUPPORTED,
    distal: float = 0.0,
    elements: int = ELEMENTS,
) -> ColumnTest:
    """Critical loads of a wire as a column: at a free length, and between supports at a row of unsupported lengths.

    The wire is straight and without weight, pushed along its axis at its distal end, and bows in the plane of its lower
    rigidity. The proximal support clamps it (a tube's mouth without clearance). Uniform wire: c EI/L^2, Timoshenko &
    Gere 1961, ch. 2 (`closed_forms.EULER`).

    Parameters
    ----------
    profile : Profile
        the wire
    free_length : float
        proximal clamp to tip of `loads`, m
    unsupported : sequence of float
        lengths between two supports, m, increasing; those that reach beyond the wire are left out
    distal : float
        distance of the distal support from the tip, m (0: the tip itself is held)
    elements : int
        rod elements

    Raises
    ------
    FieldError
        when an argument is out of range
    NotConvergedError
        when the straight equilibrium is not found
    """
    check_free_length(profile, free_length, name="free_length")
    check_elements(elements, LEAST_ELEMENTS)
    check_range(distal, name="distal", low=0.0)
    lengths = [x for x in _increasing(unsupported) if distal + x <= float(profile.distance[-1])]
    if not lengths:
        longest = mm(float(profile.distance[-1]))
        raise FieldError("unsupported", mm(unsupported[0]), f"lengths that end within the wire's {longest}")
    tip = piece(profile, 0.0, free_length, elements, linear=True)
    loads: dict[Ends, float] = {}
    for ends in FAR_END:
        loads[ends] = critical_load(tip, ends)
    found: dict[Ends, list[float]] = {"clamped-clamped": [], "clamped-pinned": []}
    for length in lengths:
        rod = piece(profile, distal, distal + length, elements, linear=True)
        for ends, row in found.items():
            # a longer column of the same wire carries less: the load before bounds this one
            row.append(critical_load(rod, ends, bound=row[-1] if row else None))
    return ColumnTest(
        free_length=free_length,
        loads=loads,
        unsupported=np.array(lengths),
        clamped=np.array(found["clamped-clamped"]),
        pinned=np.array(found["clamped-pinned"]),
        distal=distal,
        definition=_definition(free_length, distal, lengths),
    )


@dataclass(frozen=True)
class Strength:
    """Critical loads of the distal `free_length` (m) with its tip pinned and clamped, N; the test in words."""

    free_length: float
    pinned: float
    clamped: float
    definition: str


def strength(profile: Profile, free_length: float = FREE_LENGTH, *, elements: int = ELEMENTS) -> Strength:
    """Two loads of `column` alone; arguments and errors as there."""
    check_free_length(profile, free_length, name="free_length")
    check_elements(elements, LEAST_ELEMENTS)
    rod = piece(profile, 0.0, free_length, elements, linear=True)
    return Strength(
        free_length,
        critical_load(rod, "clamped-pinned"),
        critical_load(rod, "clamped-clamped"),
        f"{CRITICAL}: distal {free_length * 1e3:g} mm, its tip pinned or clamped",
    )


def critical_load(rod: Rod, ends: Ends, *, bound: float | None = None) -> float:
    """Axial force at which a straight rod along +z, clamped at node 0, can leave its axis in its easy plane, N.

    Parameters
    ----------
    rod : Rod
        from `piece`
    ends : str
        end conditions, one of `FAR_END`
    bound : float, optional
        a force known to be at least the critical load, N

    Raises
    ------
    FieldError
        for unknown end conditions
    NotConvergedError
        where the straight equilibrium is not found, or none is critical up to the bound
    """
    if ends not in FAR_END:
        raise FieldError("ends", ends, ", ".join(FAR_END))
    easy, _ = planes(rod)
    column = compressed(rod, ends, easy)
    high = bound or MARGIN * LARGEST_FACTOR * _largest(rod, easy) / rod.length**2
    low, high = 0.0, high * (1.0 + BRACKET)
    if not _beyond(column, high):
        message = f"column test: the straight wire is stable up to {high:.4g} N, above which none should be"
        raise NotConvergedError(message, rod.points)
    for _ in range(BISECTIONS):
        if high - low <= BRACKET * high:
            break
        middle = 0.5 * (low + high)
        low, high = (low, middle) if _beyond(column, middle) else (middle, high)
    return 0.5 * (low + high)


def compressed(rod: Rod, ends: Ends, plane: Plane) -> Structure:
    """The rod clamped at node 0 and pushed back along its axis with 1 N at its other end."""
    position, rotation = FAR_END[ends]
    held = [Support(-1, position, rotation)] if position or rotation else []
    return Structure(rod, [clamp(0), *held], loads=[Force(-1, (0.0, 0.0, -1.0))], plane=plane.across)


def _beyond(column: Structure, force: float) -> bool:
    """Whether a critical load lies below a force (N): the count of the straight state under it."""
    state = solve(column, force)
    aside = float(np.max(np.abs(state.displacement[:, :2])))
    if not state.converged or aside > STRAIGHT * column.rod.length:
        message = f"column test: the straight wire was not found under {force:.4g} N: {state.reason or 'it went aside'}"
        raise NotConvergedError(message, state.x)
    return state.count > 0


def _largest(rod: Rod, plane: Plane) -> float:
    """Largest bending rigidity in a plane, N m2."""
    axis = int(plane.turn) - 1
    return float(np.max(0.5 * rod.lengths[:, None] / rod.half[:, :, axis]))


def _increasing(values: Sequence[float]) -> list[float]:
    """The lengths, if there is one and they are positive and increase."""
    out = [float(v) for v in values]
    if not out or not all(np.isfinite(out)) or out[0] <= 0.0 or any(b <= a for a, b in zip(out, out[1:], strict=False)):
        raise FieldError("unsupported", out, "lengths greater than 0, each larger than the one before")
    return out


def _definition(free_length: float, distal: float, lengths: Sequence[float]) -> str:
    far = "the tip itself" if distal == 0.0 else f"{distal * 1e3:g} mm from the tip"
    return (
        f"{CRITICAL}: distal {free_length * 1e3:g} mm under four end conditions; between supports "
        f"{lengths[0] * 1e3:g} to {lengths[-1] * 1e3:g} mm apart, the distal one at {far}, clamped (a tight mouth) or "
        "pinned (a loose one)"
    )
