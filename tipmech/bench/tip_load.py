"""The tip-load bench: a wire clamped at a free length is pressed end-on against a flat stiff plate.

The definition decides the figure, so it travels with it (`TipLoad.definition`): a free tip folds at 2.47 EI/L^2, a
stuck one at 20.19 EI/L^2. theory, section "Bench tests". Length: common practice, no source; no standard fixes
the plate's friction (0.2), the travel (0.25 mm) or the offset (0.1 %): assumptions (J).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

import numpy as np

from ..profile import Profile
from ..rod.elastic import Array
from .press import Press
from .tip_shape import STRAIGHT, Shape

FREE_LENGTH = 10e-3  # m
FREE_LENGTHS = (5e-3, 10e-3, 15e-3)  # m, usual free lengths; FREE_LENGTH is the one meant when none is said
FRICTION = 0.2  # plate against tip, -
TRAVEL = 0.25e-3  # m of plate travel within which the largest force is the tip load
LONG_TRAVEL = 1e-3  # m, reported beside it
OFFSET = 1e-3  # of the free length: lateral offset of the tip from the clamp's axis


@dataclass(frozen=True)
class TipLoad:
    """Result of a tip-load test, n increments, N elements.

    force : largest axial force within `travel`, N
    travel : plate travel from first touch, m
    displacement, axial : ndarray, shape (n,), plate travel (m) and axial force (N)
    shortening : ndarray, shape (n,), approach of the tip to the clamp, m (travel less the plate's indentation)
    lateral : ndarray, shape (n,), friction force, N
    angle : ndarray, shape (n,), rotation of the tip's tangent from the clamp's axis, rad
    shapes : ndarray, shape (n, N + 1, 3), node positions, m; clamp first
    slipped_at : travel at which the tip first slipped on the plate, m (nan: it stuck throughout)
    penetration : deepest indentation of the plate over the tip's radius, -
    friction : plate friction coefficient (inf: pinned)
    free_length : m
    offset : tip offset over free length, -
    natural : natural curvature that makes the offset, 1/m
    shaped : the wire had its preshape; else it was straight
    definition : the test in words
    """

    force: float
    travel: float
    displacement: Array
    axial: Array
    shortening: Array
    lateral: Array
    angle: Array
    shapes: Array
    slipped_at: float
    penetration: float
    friction: float
    free_length: float
    offset: float
    natural: float
    shaped: bool
    definition: str

    def definition_within(self, travel: float) -> str:
        """The test in words, for a shorter travel (m)."""
        return _definition(self.free_length, self.friction, travel, self.offset, self.shaped)

    def force_within(self, travel: float) -> float:
        """Largest axial force within a shorter travel (m), N."""
        if not 0.0 < travel <= self.travel * (1.0 + 1e-12):
            raise ValueError(f"travel is {travel} m; it must be greater than 0 and at most {self.travel} m")
        inside = self.displacement < travel
        return float(max(np.max(self.axial[inside], initial=0.0), np.interp(travel, self.displacement, self.axial)))


def tip_load(
    profile: Profile,
    free_length: float = FREE_LENGTH,
    *,
    friction: float = FRICTION,
    travel: float = TRAVEL,
    offset: float = OFFSET,
    elements: int = 60,
    shape: Shape = STRAIGHT,
    at: Sequence[float] = (),
) -> TipLoad:
    """Tip load of a wire: largest axial force while a plate approaches the clamp by `travel`.

    The wire stands end-on to the plate, without weight. Its tip lies `offset` times the free length beside
    the clamp's axis through a constant natural curvature in the plane of the lower bending rigidity
    (a stress-free imperfection). The tip is a point that may stick and slip, not a dome that rolls.

    Parameters
    ----------
    profile : Profile
        the wire
    free_length : float
        clamp to tip, m
    friction : float
        Coulomb coefficient of the plate; 0: free tip, inf: pinned tip
    travel : float
        plate travel after first touch, m
    offset : float
        tip offset over free length, -
    elements : int
        rod elements
    shape : Shape
        preshape; default: a straight wire, as the test is usually made. The plate meets the tip of the shaped wire,
        which points aside.
    at : sequence of float
        plate travels (m) at which a state is recorded too, between 0 and `travel`; others are left out

    Raises
    ------
    ValueError
        when an argument is out of range
    NotConvergedError
        when no equilibrium is found
    """
    _check(profile, free_length, friction, travel, offset, elements)
    press = Press.start(profile, free_length, friction, travel, offset, elements, shape)
    goals = {t for t in (TRAVEL,) if t < travel} | {float(t) for t in at if 0.0 < t < travel} | {travel}
    for goal in sorted(goals):
        while press.displacement < goal * (1.0 - 1e-12):
            press.advance(goal)
    table = np.array(press.rows)
    return TipLoad(
        force=float(np.max(table[:, 1])),
        travel=travel,
        displacement=table[:, 0],
        axial=table[:, 1],
        shortening=table[:, 2],
        lateral=table[:, 3],
        angle=table[:, 4],
        shapes=np.array(press.shapes),
        slipped_at=press.slipped_at,
        penetration=press.depth,
        friction=friction,
        free_length=free_length,
        offset=offset,
        natural=press.natural,
        shaped=bool(shape.arcs),
        definition=_definition(free_length, friction, travel, offset, bool(shape.arcs)),
    )


def _check(profile: Profile, free_length: float, friction: float, travel: float, offset: float, elements: int) -> None:
    longest = float(profile.distance[-1])
    if not 0.0 < free_length <= longest:
        raise ValueError(f"free_length is {free_length} m; it must be greater than 0 and at most {longest} m")
    if not 0.0 < travel <= 0.4 * free_length:
        raise ValueError(f"travel is {travel} m; it must be greater than 0 and at most {0.4 * free_length} m")
    if not friction >= 0.0:
        raise ValueError(f"friction is {friction}; it must not be negative")
    if not 0.0 < offset <= 0.05:
        raise ValueError(f"offset is {offset}; it must be greater than 0 and at most 0.05")
    if elements < 8:
        raise ValueError(f"elements is {elements}; at least 8 are needed")


def _definition(free_length: float, friction: float, travel: float, offset: float, shaped: bool) -> str:
    tip = {0.0: "tip free to slide", inf: "tip pinned"}.get(friction, f"plate friction {friction:g}")
    return (
        f"largest axial force within {travel * 1e3:g} mm of travel, {free_length * 1e3:g} mm free length pressed "
        f"end-on on a flat plate, {tip}, tip offset {offset * 100:g} %, {'with' if shaped else 'without'} its preshape"
    )
