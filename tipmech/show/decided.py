"""Which force decided an insertion, in a sentence: read off a finished record."""

from __future__ import annotations

from math import isnan

import numpy as np

from ..checks import FieldError
from ..insertion.classify import EXTENDED, entered_rows, travel
from ..insertion.record import Outcome, Record
from ..outcome import Shape, Stop, Where
from ..regime.contest import forces_of
from ..regime.pocket import pocket_of
from ..vessel.build import breach_force, front_strength, lip_spring
from .given_way import Form, fall, form, largest_share, last_advance
from .rates import NO_FORCE

MM, MN = 1e3, 1e3
SPACING = 0.05e-3  # m, of the reduced model's stations
CAME_TO = {
    Form.CURLED: "the wire curled",
    Form.BIGHT: "a bight led",
    Form.FOLDED: "the wire folded",
    Form.BUCKLED: "the wire buckled",
    Form.NONE: "the advance ended",
}
GROWN = 1e-6  # m of plane that count as opened in words
AT_ITS_FORCE = 0.999  # of the front's force: it yields there, to the solver's tolerance


def decided(record: Record, outcome: Outcome) -> str:
    """Which force decided, in a sentence with the two numbers compared."""
    scene = record.case.scene
    tear, plug = scene.tear, scene.plug
    if record.stop == Stop.NOT_CONVERGED:
        return "not solved"
    if said := _wall_gave_way(record, outcome):
        return said
    front, holds = MN * float(record.force_front[last_advance(record) :].max()), MN * front_holds(record)
    behind = Where(outcome.where) in (Where.FALSE_LUMEN, Where.REENTERED, Where.OUTER_WALL)
    tip, wall = MN * outcome.max_tip_force, MN * pierced_at(record, scene.wall.breach_toughness)
    if tear.intact:
        if tear.weak_toughness is None:
            return f"nothing to enter: largest tip force {tip:.1f} mN, the wall breaks at {wall:.0f} mN"
        weak = MN * pierced_at(record, tear.weak_toughness)
        if not behind:
            return f"tip force {tip:.2f} mN stayed below the {weak:.2f} mN at which the weak spot opens"
    if plug is not None and not behind and float(record.force_plug.max()) > 0.0:
        yielded, most = MM * float(record.plug[-1] - plug.start), MN * float(record.force_plug.max())
        return f"plug: {most:.1f} of {MN * plug.force:.0f} mN, pushed on by {yielded:.2f} mm"
    if not behind:
        return _stayed_out(record, outcome)
    if outcome.extension > EXTENDED:
        return f"the front gave way at {holds:.1f} mN, the largest push was {MN * outcome.max_push:.1f} mN"
    return _held(record, outcome, front, holds)


def _held(record: Record, outcome: Outcome, front: float, holds: float) -> str:
    """The sentence of a wire behind the flap that did not open the plane; largest force on the front and that at which
    it gives way, mN."""
    fell = fall(record)
    shape = CAME_TO[form(Shape(outcome.shape), fell=fell is not None)]
    end = "" if fell is None else fell.words
    if front == 0.0:
        until = len(record.feed) - 1
        if not isnan(outcome.curled):
            zero = 0.0 if isnan(outcome.reached) else outcome.reached
            until = int(np.searchsorted(travel(record), zero + outcome.curled))
        return f"{shape}, the front was not touched: {largest_share(record, until)}{end}"
    if front > AT_ITS_FORCE * holds:
        moved = MM * outcome.extension
        return f"the front just gave way at {holds:.1f} mN and moved by {moved:.3f} mm; {shape}{end}"
    return f"{shape}: {front:.1f} of the {holds:.1f} mN at which the front gives way{end}"


def _stayed_out(record: Record, outcome: Outcome) -> str:
    """The sentence of a wire that is not behind the flap: the contest at the lip by the reduced model, theory (95);
    that it is at odds with what happened, where it is."""
    since, tear = last_advance(record), record.case.scene.tear
    last = "in the last advance " if since else ""
    if Where(outcome.where) == Where.BEFORE_TEAR:
        return f"the tear was not reached: {largest_share(record, len(record.feed) - 1)}"
    went_in = bool(entered_rows(record)[since:].any()) if since else not isnan(outcome.entered)
    course = f"{last}it {'went under the flap and came out again' if went_in else 'stayed out'}"
    if float(record.force_window[since:].max()) <= NO_FORCE:
        return f"{course}: nothing was touched in the tear's window"
    try:
        lift, deflect = (MN * value for value in at_the_lip(record))
    except FieldError as error:
        return f"{course} (no contest by the reduced model: {error})"
    if lift == 0.0:
        wire, (stiffness, load) = 2.0 * MM * float(record.case.profile.radius[0]), lip_spring(record.case.scene)
        mouth = f"{MM * (tear.gap + load / stiffness):.2f} mm{' under its pressure' if load else ''}"
        return f"{course}, though the mouth, {mouth}, takes the wire, {wire:.2f} mm"
    apart = f"the free wire bends aside at {deflect:.3g} mN across it, the lip lifts at {lift:.3g} mN (reduced model)"
    return f"{course}{': ' if (lift > deflect) != went_in else ', though '}{apart}"


def at_the_lip(record: Record) -> tuple[float, float]:
    """Forces across the wire that lift the lip and that bend the free wire aside, N. theory (95)."""
    case, shape = record.case, record.case.tip_shape
    pocket = pocket_of(case.profile, case.scene, case.friction, shape.angle, shape.length, shape.roll, SPACING)
    forces = forces_of(pocket)
    return forces.lift, forces.deflect


def _wall_gave_way(record: Record, outcome: Outcome) -> str:
    """The sentence where the outer wall or the flap was pierced, or the plane behind the upstream lip was met; else
    empty."""
    push, holds = MN * outcome.max_push, MN * front_holds(record)
    if record.stop == Stop.OUTER_WALL_PIERCED:
        breach = MN * pierced_at(record, record.case.scene.wall.behind.breach_toughness)
        return f"the outer wall gave way at {breach:.0f} mN, the push was {push:.0f} mN"
    if len(record.holes) and Where(outcome.where) == Where.REENTERED:
        front, flap = (
            MN * float(record.force_front.max()),
            MN * pierced_at(record, record.case.scene.wall.breach_toughness),
        )
        return f"the flap gave way at {flap:.1f} mN; the front was pressed with {front:.1f} of {holds:.1f} mN"
    back = MN * float(record.force_front_back.max())
    if back == 0.0:
        return ""
    grown, end = MM * float(record.front_back[0] - record.front_back[-1]), pulled(record)
    if grown > MM * GROWN:
        return f"the front behind the upstream lip gave way at {holds:.2f} mN by {grown:.2f} mm; {end}"
    return f"{back:.2f} of the {holds:.2f} mN at which the front behind the upstream lip gives way; {end}"


def front_holds(record: Record) -> float:
    """Force at which the front gives way, N."""
    return front_strength(record.case.scene, 2.0 * float(record.case.profile.radius[0]))


def largest_pull(record: Record) -> float:
    """Largest pull at the hand, N."""
    return max(0.0, -float(record.push.min()))


def pulled(record: Record) -> str:
    """The largest pull, and what of it the edges of the lips bore along the vessel, if they held the wire back."""
    lip = -MN * float(record.force_lip_along[int(np.argmin(record.push))])
    words = f"pull {MN * largest_pull(record):.1f} mN"
    return f"{words}, of which the lips bore {lip:.1f} mN" if lip > MN * NO_FORCE else words


def pierced_at(record: Record, toughness: float) -> float:
    """Force at which the tip pierces a layer, N."""
    return breach_force(toughness, 2.0 * record.case.profile.tip_radius)
