"""Lateral tip stiffness: a wire clamped at a free length, its tip pushed to the side.

Two pushes, because the definition decides the figure. "across": the force keeps its direction, at right angles to the
clamp's axis: a probe without friction whose flat face stays along that axis while the tip slides on it (or a weight
hung on the tip). "normal": the force stays at right angles to the tip: a thin probe without friction that goes with
the tip. Under the first a tip tends to 90 degrees only as the force grows beyond all bounds; the second reaches them.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import degrees, pi, radians
from typing import Literal

import numpy as np

from ..checks import check_range
from ..profile import Profile
from ..rod.build import Rod
from ..rod.elastic import Array
from ..rod.errors import NotConvergedError
from ..rod.loads import Force
from ..rod.solve import Control, Equilibrium, displace
from ..rod.structure import Structure
from ..rod.supports import Support, clamp
from .piece import Plane, check_elements, check_free_length, piece, planes

Push = Literal["across", "normal"]

FREE_LENGTH = 10e-3  # m, the one meant when none is said
FREE_LENGTHS = (5e-3, 10e-3, 20e-3)  # m, usual distances from the tip (guidance on guidewires, from memory)
ANGLES = (radians(45.0), radians(90.0))  # usual tip deflections (guidance on guidewires, from memory)
SMALL = 1e-3  # of the free length: deflection of the small-deflection stiffness; its error is of order SMALL^2
DEFLECTION = 0.2  # of the free length: stated deflection of the second figure (assumed: still easy to read on a bench)
STEP = radians(5.0)  # of the tip's angle between two points of a curve
LAST_ACROSS = radians(70.0)  # end of the curve under a force of fixed direction, beyond which the force rises steeply
ELEMENTS = 60
LEAST_ELEMENTS = 8


@dataclass(frozen=True)
class LateralCurve:
    """Force against deflection of the tip, n states, N elements; each a static equilibrium in the easy plane.

    angle : ndarray, shape (n,), turn of the tip's tangent from the clamp's axis, rad
    deflection : ndarray, shape (n,), of the tip across the clamp's axis, m
    approach : ndarray, shape (n,), of the tip toward the clamp along its axis, m
    force : ndarray, shape (n,), N
    shapes : ndarray, shape (n, N + 1, 2), distance from the clamp along its axis and across it, m
    """

    angle: Array
    deflection: Array
    approach: Array
    force: Array
    shapes: Array

    def force_at(self, angle: float) -> float:
        """Force at an angle of the tip (rad) of this curve's range, N; between its states by interpolation."""
        last = float(self.angle[-1])
        if not 0.0 <= angle <= last * (1.0 + 1e-12):
            message = f"angle is {degrees(angle):g} deg; allowed: 0 to {degrees(last):g} deg, the end of the curve"
            raise ValueError(message)
        return float(np.interp(angle, self.angle, self.force))


@dataclass(frozen=True)
class LateralTest:
    """Result of a lateral test.

    free_length : m
    stiffness : small-deflection stiffness of the tip in the easy plane, N/m
    stiffness_hard : the same in the plane across it, N/m
    deflection, force : stated deflection, m, and the force across that it takes, N
    across, normal : LateralCurve, under the two pushes
    force_45 : force across at 45 degrees of tip angle, N
    force_45_normal, force_90_normal : force normal to the tip at 45 and 90 degrees, N
    definition : the test in words
    """

    free_length: float
    stiffness: float
    stiffness_hard: float
    deflection: float
    force: float
    across: LateralCurve
    normal: LateralCurve
    force_45: float
    force_45_normal: float
    force_90_normal: float
    definition: str


def lateral(
    profile: Profile,
    free_length: float = FREE_LENGTH,
    *,
    deflection: float = DEFLECTION,
    elements: int = ELEMENTS,
) -> LateralTest:
    """Lateral tip stiffness and force-deflection curves of a wire.

    The wire is straight, without weight, clamped at `free_length` from its tip, and bends in the plane of its lower
    rigidity. Uniform wires: 3 EI/L^3 (standard) and the elastica (`closed_forms.tip_force_cantilever`).

    Parameters
    ----------
    profile : Profile
        the wire
    free_length : float
        clamp to tip, m
    deflection : float
        stated deflection over the free length, -
    elements : int
        rod elements

    Raises
    ------
    FieldError
        when an argument is out of range
    NotConvergedError
        when no equilibrium is found
    """
    check_free_length(profile, free_length, name="free_length")
    check_range(deflection, name="deflection", low=SMALL, high=0.6)  # beyond it the tip is past LAST_ACROSS
    check_elements(elements, LEAST_ELEMENTS)
    rod = piece(profile, 0.0, free_length, elements)
    easy, hard = planes(rod)
    soft = _pushed(rod, easy, "across")
    (wanted,) = _deflected(soft, easy, [deflection * free_length])
    across = _curve(soft, easy, LAST_ACROSS)
    normal = _curve(_pushed(rod, easy, "normal"), easy, ANGLES[-1])
    return LateralTest(
        free_length=free_length,
        stiffness=_stiffness(soft, easy),
        stiffness_hard=_stiffness(_pushed(rod, hard, "across"), hard),
        deflection=deflection * free_length,
        force=wanted.factor,
        across=across,
        normal=normal,
        force_45=across.force_at(ANGLES[0]),
        force_45_normal=normal.force_at(ANGLES[0]),
        force_90_normal=normal.force_at(ANGLES[1]),
        definition=_definition(free_length, deflection),
    )


def lateral_stiffness(profile: Profile, free_length: float = FREE_LENGTH, *, elements: int = ELEMENTS) -> float:
    """Small-deflection stiffness of the tip in the easy plane alone, N/m; arguments and errors as for `lateral`."""
    check_free_length(profile, free_length, name="free_length")
    check_elements(elements, LEAST_ELEMENTS)
    rod = piece(profile, 0.0, free_length, elements, linear=True)
    easy, _ = planes(rod)
    return _stiffness(_pushed(rod, easy, "across"), easy)


def _stiffness(structure: Structure, plane: Plane) -> float:
    """Force over deflection at SMALL, N/m."""
    down = SMALL * structure.rod.length
    (state,) = _deflected(structure, plane, [down])
    return state.factor / down


def _pushed(rod: Rod, plane: Plane, push: Push) -> Structure:
    """The clamped wire under 1 N on its tip: the load factor is the force in N."""
    held = "123".replace(plane.turn, "")  # the tip's frame, free to turn in the plane: its angle is then a measure
    load = Force(-1, plane.side, follower=push == "normal")
    return Structure(rod, [clamp(0), Support(-1, "", held)], loads=[load], plane=plane.across)


def _deflected(structure: Structure, plane: Plane, values: Sequence[float]) -> list[Equilibrium]:
    """States at deflections of the tip, m."""
    weights = np.zeros((structure.rod.elements + 1, 3))
    weights[-1] = plane.side
    return _all(displace(structure, Control(weights), values), values, "deflection", 1e3, "mm")


def _curve(structure: Structure, plane: Plane, last: float) -> LateralCurve:
    """States from rest to an angle of the tip."""
    length = structure.rod.length
    goals = np.linspace(0.0, last, round(last / STEP) + 1)
    control = Control.of_node(structure, -1, plane.turn)
    states = _all(
        displace(structure, control, (length * goals[1:]).tolist()), goals[1:], "tip angle", 180.0 / pi, "deg"
    )
    shapes = np.stack([structure.rod.points, *(state.x for state in states)])
    aside = shapes @ np.asarray(plane.side)
    return LateralCurve(
        angle=goals,
        deflection=aside[:, -1],
        approach=length - shapes[:, -1, 2],
        force=np.array([0.0, *(state.factor for state in states)]),
        shapes=np.stack([shapes[:, :, 2], aside], axis=2),
    )


def _all(
    found: list[Equilibrium], goals: Sequence[float] | Array, what: str, scale: float, unit: str
) -> list[Equilibrium]:
    """The states, if all were reached."""
    if not found[-1].converged:
        goal = scale * float(goals[len(found) - 1])
        message = f"lateral test: no equilibrium at a {what} of {goal:.4g} {unit}: {found[-1].reason}"
        raise NotConvergedError(message, found[-1].x)
    return found


def _definition(free_length: float, deflection: float) -> str:
    return (
        f"tip pushed to the side without friction, {free_length * 1e3:g} mm from the clamp to the tip, no weight, in "
        f"the plane of easy bending; stiffness at a deflection of {SMALL * free_length * 1e3:g} mm; force across: at "
        f"right angles to the clamp's axis throughout, at {deflection * free_length * 1e3:g} mm and at 45 deg of tip "
        "angle (90 deg is beyond any such force); force normal: at right angles to the tip throughout, at 45 and 90 deg"
    )
