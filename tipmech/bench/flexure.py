"""Three-point flexure along a wire: apparent bending rigidity at stations from the tip.

A span on two rollers, pushed in its middle: EI = F L^3/(48 d), the formula of a uniform beam. Where the rigidity
changes within the span this is a mean of 1/EI weighted by the square of the moment, and differs from EI at the station:
a bench can only find the former.
"""

from dataclasses import dataclass

import numpy as np

from ..checks import FieldError, check_positive, check_range, mm
from ..profile import Profile
from ..rod.elastic import Array
from ..rod.errors import NotConvergedError
from ..rod.loads import Force
from ..rod.solve import Control, displace
from ..rod.structure import Structure
from ..rod.supports import Support
from .piece import NEAR, check_elements, piece, planes

SPAN = 20e-3  # m between the rollers (assumed: common on benches for wires of this size, no source)
DISTAL = 0.300  # m, length from the tip that is tested
STEP = 2.5e-3  # m between stations
DEFLECTION = 0.01  # of the span: slopes of 3 %, so that the formula for small deflection errs by about 0.1 %
LARGEST_DEFLECTION = 0.05  # of the span: beyond it the formula errs by more than 2 %
ELEMENTS = 60  # in the span; even: the force acts on a node. Error 2/60^2 = 0.06 %
LEAST_ELEMENTS = 8


@dataclass(frozen=True)
class FlexureTest:
    """Result of a three-point flexure test at n stations.

    station : ndarray, shape (n,), distance of the pushed point from the tip, m
    force : ndarray, shape (n,), N
    apparent : ndarray, shape (n,), F L^3/(48 d), N m2
    local : ndarray, shape (n,), the wire's lower bending rigidity at the station, N m2
    span, deflection : m
    definition : the test in words
    """

    station: Array
    force: Array
    apparent: Array
    local: Array
    span: float
    deflection: float
    definition: str

    def apparent_at(self, station: float) -> float:
        """Apparent rigidity at a distance from the tip (m) between the first and last station, N m2; interpolated."""
        first, last = float(self.station[0]), float(self.station[-1])
        if not first - NEAR <= station <= last + NEAR:
            raise FieldError("station", mm(station), f"{mm(first)} to {mm(last)}")
        return float(np.interp(station, self.station, self.apparent))


def flexure(
    profile: Profile,
    span: float = SPAN,
    *,
    distal: float = DISTAL,
    step: float = STEP,
    deflection: float = DEFLECTION,
    elements: int = ELEMENTS,
) -> FlexureTest:
    """Three-point flexure profile of the distal part of a wire.

    The whole span lies on the wire, so the first station is half a span from the tip; the last one lies half a span
    before `distal` or before the wire's end where it is shorter. Rollers and pusher are points without friction; the
    wire lies on its easy side, as a flat wire rolls to. F = 48 EI d/L^3 of a uniform beam: standard.

    Parameters
    ----------
    profile : Profile
        the wire
    span : float
        between the rollers, m
    distal : float
        length from the tip that is tested, m
    step : float
        largest distance of two stations, m; they divide the range evenly
    deflection : float
        of the pushed point over the span, -
    elements : int
        rod elements in the span, even

    Raises
    ------
    FieldError
        when an argument is out of range
    NotConvergedError
        when no equilibrium is found
    """
    check_positive(distal, name="distal")
    reach = min(distal, float(profile.distance[-1]))
    check_positive(span, name="span")
    if span > reach:
        raise FieldError("span", mm(span), f"at most the length tested ({mm(reach)})")
    check_positive(step, name="step")
    check_range(deflection, name="deflection", low=0.0, high=LARGEST_DEFLECTION, above=True)
    check_elements(elements, LEAST_ELEMENTS)
    if elements % 2:
        raise FieldError("elements", elements, "an even number: the force acts on the middle node")
    room = reach - span
    station = 0.5 * span + np.linspace(0.0, room, int(np.ceil(room / step - 1e-9)) + 1)
    down = deflection * span
    force = np.array([_force(profile, float(s), span, down, elements) for s in station])
    return FlexureTest(
        station=station,
        force=force,
        apparent=force * span**3 / (48.0 * down),
        local=np.minimum(profile.at("EI1", station), profile.at("EI2", station)),
        span=span,
        deflection=down,
        definition=(
            f"three-point bending, {span * 1e3:g} mm between two rollers, pushed down by {down * 1e3:g} mm in the "
            f"middle, no friction, no weight, on the wire's easy side; apparent EI = F L^3/(48 d), stations from "
            f"{station[0] * 1e3:g} to {station[-1] * 1e3:g} mm from the tip"
        ),
    )


def _force(profile: Profile, station: float, span: float, down: float, elements: int) -> float:
    """Force at the middle of a span that is pushed down by `down`, N."""
    # rounding must not put the last span beyond the wire
    low = max(station - 0.5 * span, 0.0)
    rod = piece(profile, low, min(low + span, float(profile.distance[-1])), elements, linear=True)
    plane, _ = planes(rod)
    along = "xyz".replace(plane.across, "")
    rollers = [Support(0, along, ""), Support(-1, along.replace("z", ""), "")]
    middle = elements // 2
    beam = Structure(rod, rollers, loads=[Force(middle, plane.side)], plane=plane.across)
    weights = np.zeros((elements + 1, 3))
    weights[middle] = plane.side
    found = displace(beam, Control(weights), [down])[-1]
    if not found.converged:
        message = f"flexure test: no equilibrium at {station * 1e3:.4g} mm from the tip: {found.reason}"
        raise NotConvergedError(message, found.x)
    return found.factor
