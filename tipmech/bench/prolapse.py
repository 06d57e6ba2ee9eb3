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
from scipy.integrate import simpson
from scipy.optimize import brentq

from ..bending import MomentLaw
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
SMALLEST = 1e-4  # of the gap: a smaller step of feeding that fails is not cut further
SHORTENED = 0.01  # of the gap: a wire shortened more before it bows is stocky, and its metal yields before
STATES = 24  # states, closer together at the start, where the bow rises as the root of the length fed in
BEYOND = 1.05  # times the critical load: the path is followed so far to find its bifurcation point
PATH_STEP = 0.35  # of the critical load: a straight column has no other point before it
ELEMENTS = 80
STRIPS = 200  # of an energy under a moment law: off by 1e-6
RIGIDITIES = ("EI1", "EI2")  # of a profile, about the section's axes 1 and 2


@dataclass(frozen=True)
class Prolapse:
    """A wire bowing out of a gap, n states, N elements; each a static equilibrium in the plane of easy bending.

    unsupported : gap between the supports, m
    distal : distance of the distal support from the tip, m
    critical : push at which it begins to bow, N
    fed : ndarray, shape (n,), length of wire (without stress) in the gap beyond the gap's own, m; the first is what the
        wire is shortened by as it begins to bow
    push : ndarray, shape (n,), push behind the proximal mouth, N; what the axial strain adds, of relative order P/EA,
        is left out
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
        length fed in over the gap from the first bow to the end, -
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
    gap = _Gap.of(profile, unsupported, distal, elements)
    onset, critical, state = gap.bowing()
    most = float(profile.distance[-1]) - distal - unsupported
    if onset + fed * unsupported > most:
        raise FieldError("fed", mm(fed * unsupported), f"at most what is left of the wire behind the gap ({mm(most)})")
    lengths = onset + unsupported * (FIRST + (fed - FIRST) * np.linspace(0.0, 1.0, states) ** 2)
    rows = [(onset, critical, critical, 0.5 * critical * onset)]
    shapes = [gap.rod(onset).points * [1.0, 1.0, unsupported / (unsupported + onset)]]
    now = onset
    for goal in lengths.tolist():
        state = gap.feed(state, now, goal)
        now = goal
        rows.append((now, gap.push(state, now), state.factor, state.strain_energy))
        shapes.append(state.x)
    table, places = np.array(rows), np.stack(shapes)
    aside = places @ np.asarray(gap.plane.side)
    return Prolapse(
        unsupported=unsupported,
        distal=distal,
        critical=critical,
        fed=table[:, 0],
        push=table[:, 1],
        axial=table[:, 2],
        bow=np.max(np.abs(aside), axis=1),
        energy=table[:, 3],
        shapes=np.stack([places[:, :, 2], aside], axis=2),
        definition=_definition(unsupported, distal, fed * unsupported),
    )


@dataclass(frozen=True)
class Onset:
    """Push at which a wire begins to bow out of a gap, N; the test in words."""

    critical: float
    definition: str


def onset(
    profile: Profile, unsupported: float = UNSUPPORTED, *, distal: float = 0.0, elements: int = ELEMENTS
) -> Onset:
    """The first push of `prolapse` alone; arguments and errors as there."""
    check_range(distal, name="distal", low=0.0)
    check_free_length(profile, unsupported, name="unsupported")
    check_elements(elements, LEAST_ELEMENTS)
    _, critical, _ = _Gap.of(profile, unsupported, distal, elements).bowing()
    words = (
        f"push at which it begins to bow: wire {_mouths(unsupported, distal)}; in its plane of easy bending, no weight"
    )
    return Onset(critical, words)


@dataclass(frozen=True)
class _Gap:
    """A wire in the gap between two mouths; lengths as in `Prolapse`."""

    profile: Profile
    unsupported: float
    distal: float
    elements: int
    plane: Plane

    @classmethod
    def of(cls, profile: Profile, unsupported: float, distal: float, elements: int) -> "_Gap":
        """With its plane of easy bending."""
        plane, _ = planes(piece(profile, distal, distal + unsupported, elements, linear=True))
        return cls(profile, unsupported, distal, elements, plane)

    def rod(self, fed: float) -> Rod:
        """The wire in the gap, without stress."""
        return piece(self.profile, self.distal, self.distal + self.unsupported + fed, self.elements)

    def bowing(self) -> tuple[float, float, Equilibrium]:
        """Length fed in at which the wire begins to bow, m, its critical load, N, and a state just beyond it.

        Before, the wire is compressed: the more it is, the more of it lies in the gap, to first order.
        """
        straight = self.rod(0.0)
        short = critical_load(straight, "clamped-clamped") * float(np.sum(straight.lengths / straight.stretch[:, 2]))
        if short > SHORTENED * self.unsupported:
            here = f"(here {short / self.unsupported:.1%})"
            allowed = f"a gap in which the wire bows before it is shortened by {SHORTENED:.0%} {here}"
            raise FieldError("unsupported", mm(self.unsupported), allowed)
        rod = self.rod(short)
        load = critical_load(rod, "clamped-clamped")
        point = critical_point(compressed(rod, "clamped-clamped", self.plane), BEYOND * load, step=PATH_STEP * load)
        if point is None:
            message = f"prolapse test: no bifurcation point up to {BEYOND * load:.4g} N"
            raise NotConvergedError(message, rod.points)
        state = switch(point)
        if not state.converged:
            message = f"prolapse test: the bowed branch was not found: {state.reason}"
            raise NotConvergedError(message, state.x)
        return short, point.factor, state

    def feed(self, state: Equilibrium, now: float, goal: float) -> Equilibrium:
        """State with `goal` fed in, from the one with `now`, in steps as small as needed."""
        step = goal - now
        while now < goal:
            further = goal if now + step >= goal else now + step
            column = compressed(self.rod(further), "clamped-clamped", self.plane)
            end = Control.of_node(column, -1, "z")
            found = displace(column, end, [-further], start=_grown(state, column))[-1]
            if found.converged:
                state, now = found, further
                continue
            step *= 0.5
            if step < SMALLEST * self.unsupported:
                message = f"prolapse test: no equilibrium with {further * 1e3:.4g} mm fed in: {found.reason}"
                raise NotConvergedError(message, found.x)
        return state

    def push(self, state: Equilibrium, fed: float) -> float:
        """Push behind the proximal mouth, N."""
        axis = int(self.plane.turn) - 1
        moment = abs(float(state.moments[0, 1, axis]))
        return state.factor - complementary(self.profile, self.distal + self.unsupported + fed, axis, moment)


def complementary(profile: Profile, distance: float, axis: int, moment: float) -> float:
    """Moment times curvature less the energy per length of the section at a distance from the tip (m), N.

    M^2/2EI where it is linear. axis : 0 or 1, of bending; moment : N m, at least 0.
    """
    rigidity = float(profile.at(RIGIDITIES[axis], np.array(distance)))
    law, linear = profile.law_at(np.array([distance])), moment / rigidity
    if law is None or linear * _root(law, axis) <= law.limit[0]:
        return 0.5 * moment * linear
    soft, root = float(profile.at("EI1", np.array(distance))), _root(law, axis)

    def bent(curvature: Array) -> Array:
        turned = root * curvature
        return np.asarray(rigidity * curvature + soft * root * (law.at(turned)[0][0] - turned))

    most = linear
    while bent(np.array([most]))[0] < moment:
        most *= 2.0
    curvature = float(brentq(lambda k: bent(np.array([k]))[0] - moment, linear, most, rtol=1e-12))
    grid = np.linspace(0.0, curvature, STRIPS + 1)
    return moment * curvature - float(simpson(bent(grid), x=grid))


def _root(law: MomentLaw, axis: int) -> float:
    """What a curvature about an axis counts in the law's."""
    return float(np.sqrt(law.aspect[0])) if axis == 1 else 1.0


def _grown(state: Equilibrium, column: Structure) -> Equilibrium:
    """A state scaled to the length of a longer wire: a start whose elements are neither stretched nor turned."""
    ratio = column.rod.length / state.structure.rod.length
    pose = state.pose._replace(x=ratio * state.x)
    return replace(state, structure=column, pose=pose, factor=state.factor / ratio**2)


def _definition(unsupported: float, distal: float, fed: float) -> str:
    return (
        f"wire {_mouths(unsupported, distal)}, {fed * 1e3:g} mm more of it fed in at the proximal one without "
        "friction; it bows in its plane of easy bending, no weight; push: behind the proximal mouth"
    )


def _mouths(unsupported: float, distal: float) -> str:
    far = "at the tip" if distal == 0.0 else f"{distal * 1e3:g} mm from the tip"
    return f"clamped in two mouths {unsupported * 1e3:g} mm apart, the distal one {far}"
