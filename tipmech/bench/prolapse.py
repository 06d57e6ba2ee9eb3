"""Prolapse between two supports: a wire bows out of a gap while more of it is pushed in.

The wire is clamped in two tubes' mouths a gap apart (no clearance, no friction). Fed from the proximal one, it buckles
at the critical load of the gap, and every further length fed in must fit as a bow. The push behind the proximal mouth
is less than the force along the axis within the gap: material that slides into the mouth's curvature takes up bending
energy, which gives the outward force M^2/(2 EI) at a sliding mouth (Bigoni, Dal Corso, Bosi & Misseroni, Mech. Mater.
80 (2015) 368, from memory; re-derived: the push is the derivative of the strain energy by the length fed in, see
docs/theory.md). So the push falls, to nothing once the bow carries itself out.
"""

from dataclasses import dataclass, replace

import numpy as np

from ..checks import FieldError, check_range, mm
from ..profile import Profile
from ..rod.build import Rod
from ..rod.continuation import critical_point, switch
from ..rod.elastic import Array
from ..rod.errors import NotConvergedError
from ..rod.solve import Control, Equilibrium, displace
from ..rod.structure import Structure
from .column import LEAST_ELEMENTS, compressed, critical_load
from .piece import Plane, check_elements, check_free_length, piece, planes

UNSUPPORTED = 20e-3  # m between the supports (assumed: of the order of the room in front of a catheter's mouth)
FED = 0.5  # of the gap: length fed in beyond the gap at the end
FIRST = 1e-3  # of the gap: the first length fed in
STATES = 24  # states, closer together at the start, where the bow rises as the root of the length fed in
BEYOND = 1.05  # times the critical load: the path is followed so far to find its bifurcation point
PATH_STEP = 0.35  # of the critical load: a straight column has no other point before it
ELEMENTS = 80
RIGIDITIES = ("EI1", "EI2")  # of a profile, about the section's axes 1 and 2


@dataclass(frozen=True)
class Prolapse:
    """A wire bowing out of a gap, n states, N elements; each a static equilibrium in the plane of easy bending.

    unsupported : gap between the supports, m
    distal : distance of the distal support from the tip, m
    critical : push at which it begins to bow, N
    fed : ndarray, shape (n,), length fed in beyond the gap, m; the first is 0
    push : ndarray, shape (n,), push behind the proximal mouth, N
    axial : ndarray, shape (n,), force along the axis within the gap, N
    bow : ndarray, shape (n,), largest distance of the wire from the axis, m
    energy : ndarray, shape (n,), strain energy of the wire in the gap, J
    shapes : ndarray, shape (n, N + 1, 2), distance from the proximal mouth along the axis and across it, m
    definition : the test in words
    """

    unsupported: float
    distal: float
    critical: float
    fed: Array
    push: Array
    axial: Array
    bow: Array
    energy: Array
    shapes: Array
    definition: str


def prolapse(
    profile: Profile,
    unsupported: float = UNSUPPORTED,
    *,
    distal: float = 0.0,
    fed: float = FED,
    states: int = STATES,
    elements: int = ELEMENTS,
) -> Prolapse:
    """Push against length fed in while a wire bows out between two tight mouths.

    The distal mouth holds the wire at `distal` from its tip; what is fed in is the wire behind the proximal mouth, with
    its own rigidity there. No weight. The bow stays in the plane of easy bending and far from itself: an escape into
    space and self-contact are not looked for.

    Parameters
    ----------
    profile : Profile
        the wire
    unsupported : float
        gap between the supports, m
    distal : float
        distance of the distal support from the tip, m
    fed : float
        length fed in over the gap, at the end, -
    states : int
        number of states with a bow
    elements : int
        rod elements

    Raises
    ------
    FieldError
        when an argument is out of range or the wire is too short to be fed so far
    NotConvergedError
        when an equilibrium is not found
    """
    check_range(distal, name="distal", low=0.0)
    check_free_length(profile, unsupported, name="unsupported")
    check_range(fed, name="fed", low=FIRST, high=1.0, above=True)
    check_elements(elements, LEAST_ELEMENTS)
    if states < 2:
        raise FieldError("states", states, "at least 2")
    longest = float(profile.distance[-1])
    if distal + (1.0 + fed) * unsupported > longest:
        most = mm(longest - distal - unsupported)
        raise FieldError("fed", mm(fed * unsupported), f"at most what is left of the wire behind the gap ({most})")
    rod = piece(profile, distal, distal + unsupported, elements)
    plane, _ = planes(rod)
    axis = int(plane.turn) - 1
    critical, state = _bowing(rod, plane)
    lengths = unsupported * (FIRST + (fed - FIRST) * np.linspace(0.0, 1.0, states) ** 2)
    rows = [(0.0, critical, critical, 0.0, 0.0)]
    shapes = [rod.points]
    for extra in lengths.tolist():
        rod = piece(profile, distal, distal + unsupported + extra, elements)
        column = compressed(rod, "clamped-clamped", plane)
        state = displace(column, Control.of_node(column, -1, "z"), [-extra], start=_grown(state, column))[-1]
        if not state.converged:
            message = f"prolapse test: no equilibrium with {extra * 1e3:.4g} mm fed in: {state.reason}"
            raise NotConvergedError(message, state.x)
        mouth = np.array(distal + unsupported + extra)
        slid = float(state.moments[0, 1, axis]) ** 2 / (2.0 * float(profile.at(RIGIDITIES[axis], mouth)))
        aside = state.x @ np.asarray(plane.side)
        rows.append((extra, state.factor - slid, state.factor, float(np.max(np.abs(aside))), state.strain_energy))
        shapes.append(state.x)
    table, places = np.array(rows), np.stack(shapes)
    sides = places @ np.asarray(plane.side)
    return Prolapse(
        unsupported=unsupported,
        distal=distal,
        critical=critical,
        fed=table[:, 0],
        push=table[:, 1],
        axial=table[:, 2],
        bow=table[:, 3],
        energy=table[:, 4],
        shapes=np.stack([places[:, :, 2], sides], axis=2),
        definition=_definition(unsupported, distal, float(lengths[-1])),
    )


def _bowing(rod: Rod, plane: Plane) -> tuple[float, Equilibrium]:
    """Critical load of the gap, N, and a state just beyond it on the bowed branch."""
    load = critical_load(rod, "clamped-clamped")
    column = compressed(rod, "clamped-clamped", plane)
    point = critical_point(column, BEYOND * load, step=PATH_STEP * load)
    if point is None:
        message = f"prolapse test: no bifurcation point up to {BEYOND * load:.4g} N"
        raise NotConvergedError(message, rod.points)
    state = switch(point)
    if not state.converged:
        message = f"prolapse test: the bowed branch was not found: {state.reason}"
        raise NotConvergedError(message, state.x)
    return point.factor, state


def _grown(state: Equilibrium, column: Structure) -> Equilibrium:
    """A state scaled to the length of a longer wire: a start whose elements are neither stretched nor turned."""
    ratio = column.rod.length / state.structure.rod.length
    pose = state.pose._replace(x=ratio * state.x)
    return replace(state, structure=column, pose=pose, factor=state.factor / ratio**2)


def _definition(unsupported: float, distal: float, fed: float) -> str:
    far = "at the tip" if distal == 0.0 else f"{distal * 1e3:g} mm from the tip"
    return (
        f"wire clamped in two mouths {unsupported * 1e3:g} mm apart, the distal one {far}, {fed * 1e3:g} mm more of it "
        "fed in at the proximal one without friction; it bows in its plane of easy bending, no weight; push: behind "
        "the proximal mouth"
    )
