"""Who wins at the lip and in the pocket: the force of each way out, dimensionless numbers, the way and its margin."""

from dataclasses import dataclass
from enum import IntEnum
from math import atan, degrees, inf, isfinite, nan

import numpy as np

from .fold import Fold, Way, fold_force, push_wire
from .groove import STATION
from .pocket import Pocket

STEEPEST = 0.6495  # slope of the notch's side over depth per radius: max of 2 y/(1 + y^2)^2, at y = 1/sqrt(3)


class Regime(IntEnum):
    """What becomes of a wire at a tear."""

    STAYS_OUT = 0
    DRIVES_ON = 1
    CURLS = 2
    BOWS = 3
    NOT_SOLVED = 4


WORDS = {
    Regime.STAYS_OUT: "stays out of the false lumen",
    Regime.DRIVES_ON: "drives the front on",
    Regime.CURLS: "curls in the pocket",
    Regime.BOWS: "neither: bows aside",
    Regime.NOT_SOLVED: "not solved",
}
OF_WAY = {
    Way.DRIVES_ON: Regime.DRIVES_ON,
    Way.CURLS: Regime.CURLS,
    Way.BOWS: Regime.BOWS,
    Way.NOT_SOLVED: Regime.NOT_SOLVED,
}


@dataclass(frozen=True)
class Numbers:
    """What decides, without units: front F_front W_c^2/(2 EI); lip: gap over wire diameter; friction; support: free
    length before the tear over W_c; reach: from mouth to front over W_c; bend: of the tip within the surface, rad."""

    front: float
    lip: float
    friction: float
    support: float
    reach: float
    bend: float


@dataclass(frozen=True)
class Forces:
    """Forces of the ways out, N.

    slide: friction of the wire in the pocket with nothing in its way; drive: what drives the front on; fold: what folds
    the wire (nan: not asked for, or not solved); seat: angle (rad) to the axis up to which the front holds the tip
    (notch and friction: beyond it the tip slides off; within it the tip sticks); lift: force across the wire that lifts
    the lip until the wire passes; deflect: what bends the free wire aside, over the flap's edge
    """

    slide: float
    drive: float
    fold: float
    seat: float
    lift: float
    deflect: float


@dataclass(frozen=True)
class Verdict:
    """Regime of the reduced model and its margin: the larger over the smaller of the two forces that decided it."""

    regime: Regime
    margin: float
    numbers: Numbers
    forces: Forces


def numbers_of(p: Pocket) -> Numbers:
    """Dimensionless numbers of a pocket."""
    return Numbers(
        front=p.front_force / p.scale,
        lip=p.gap / p.diameter,
        friction=p.friction,
        support=p.free / p.width,
        reach=p.reach / p.width,
        bend=p.bend,
    )


def forces_of(p: Pocket, fold: float = nan) -> Forces:
    """Forces of the ways out; fold: from `fold_force`, N."""
    pressed = max(0.0, 0.5 * p.bend * p.bend_length - 0.5 * p.width)
    normal = 3.0 * p.mean(p.bend_length) * pressed / p.bend_length**3
    held = float(np.sum(p.pinch[: int(p.reach / STATION) + 1])) * STATION
    return Forces(
        slide=held + 2.0 * p.friction * normal,
        drive=p.front_force,
        fold=fold,
        seat=seat_angle(p),
        lift=p.lip_force,
        deflect=3.0 * p.mean(p.free) * (p.flap + p.gap) / p.free**3,
    )


def seat_angle(p: Pocket) -> float:
    """Largest angle (rad) between the axis and a force that the front bears without letting the tip slide: that of the
    notch's steepest side and the angle of friction."""
    return atan(STEEPEST * p.notch / (0.5 * p.diameter)) + atan(p.front_friction)


def enters(f: Forces) -> bool:
    """Whether the lip gives way before the free wire does."""
    return f.lift <= f.deflect


def verdict(p: Pocket, *, in_pocket: bool, fold: Fold | None = None) -> Verdict:
    """Regime of the reduced model. theory (95).

    Parameters
    ----------
    in_pocket : bool
        the wire is in the pocket already: there is no contest at the lip
    fold : Fold, optional
        if known already; else found, where the wire is in the pocket or comes in
    """
    numbers, forces = numbers_of(p), forces_of(p)
    if not in_pocket and not enters(forces):
        return Verdict(Regime.STAYS_OUT, ratio(forces.lift, forces.deflect), numbers, forces)
    fold = fold_force(p) if fold is None else fold
    forces = forces_of(p, fold.force)
    if not isfinite(fold.force):
        return Verdict(Regime.NOT_SOLVED, nan, numbers, forces)
    if p.front_force < fold.force:
        way = Way.DRIVES_ON
    elif p.front_force >= fold.peak:
        way = fold.standing
    else:
        way = push_wire(p).way
        way = fold.above if way is Way.DRIVES_ON else way  # between the ends of the bracket
    regime = OF_WAY[way]
    return Verdict(regime, ratio(p.front_force, fold.force), numbers, forces)


def ratio(a: float, b: float) -> float:
    """The larger of two forces over the smaller; inf where one is 0."""
    low, high = sorted((a, b))
    return high / low if low > 0.0 else inf


def words(v: Verdict) -> str:
    """One sentence."""
    f = v.forces
    if v.regime is Regime.STAYS_OUT:
        return f"{WORDS[v.regime]}: the wire gives way to the lip at 1/{v.margin:.2g} of what would lift it"
    if v.regime is Regime.NOT_SOLVED:
        return "not solved: the reduced model found no equilibrium"
    held = f"the front holds a tip up to {degrees(f.seat):.0f} degrees off its axis"
    return f"{WORDS[v.regime]}: F_front is {f.drive / f.fold:.2f} of the force that folds the wire; {held}"
