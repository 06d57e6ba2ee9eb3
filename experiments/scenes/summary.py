"""Outcomes of experiments/scenes as rows and text: what happened and which force decided."""

from collections.abc import Sequence
from math import isnan

import numpy as np

from tipmech.insertion.classify import EXTENDED
from tipmech.insertion.opened import areas
from tipmech.insertion.record import Outcome, Record
from tipmech.outcome import LABEL_WORDS, SHAPE_WORDS, STOP_WORDS, Label, Shape, Stop, Where
from tipmech.show.passage import off_opening, through_flap
from tipmech.vessel.build import breach_force, front_strength

Row = dict[str, str | float | int]
MM, MN = 1e3, 1e3
GROWN = 1e-6  # m of plane that count as opened in words
AT_ITS_FORCE = 0.999  # of the front's force: it yields there, to the solver's tolerance


def row_of(scene: str, wire: str, softness: float, record: Record, outcome: Outcome) -> Row:
    """One insertion as a row in users' units."""
    found = areas(record)
    return {
        "scene": scene,
        "wire": wire,
        "softness": softness,
        "label_words": LABEL_WORDS[Label(outcome.label)],
        "tip_in": Where(outcome.where).name.lower(),
        "shape": SHAPE_WORDS[Shape(outcome.shape)],
        "ended_because": STOP_WORDS[Stop(outcome.stop)],
        "travel_mm": round(MM * float(np.abs(np.diff(record.feed, prepend=0.0)).sum()), 3),
        "reached_mm": _mm(outcome.reached),
        "entered_mm": _mm(outcome.entered),
        "curled_mm": _mm(outcome.curled),
        "extension_mm": _mm(outcome.extension),
        "opened_by_front_mm2": round(MM**2 * float(found.front[-1]), 4),
        "opened_by_margins_mm2": round(MM**2 * float(found.margins[-1]), 4),
        "holes": len(record.holes),
        "max_push_mn": round(MN * outcome.max_push, 2),
        "max_pull_mn": round(MN * _pull(record), 2),
        "max_tip_mn": round(MN * outcome.max_tip_force, 2),
        "max_front_mn": round(MN * float(record.force_front.max()), 2),
        "max_front_back_mn": round(MN * float(record.force_front_back.max()), 2),
        "front_holds_mn": round(MN * _front(record), 2),
        "max_plug_mn": round(MN * float(record.force_plug.max()), 2),
        "flap_breaks_at_mn": round(_wall(record), 1),
        "outer_breaks_at_mn": round(MN * _breach(record, record.case.scene.wall.behind.breach_toughness), 1),
        "audit_error_percent": round(100.0 * abs(outcome.audit_error), 3),
        "through_flap_increments": through_flap(record),
        "off_opening_mm": round(MM * off_opening(record), 3),
        "decided_by": decided(record, outcome),
    }


def decided(record: Record, outcome: Outcome) -> str:
    """Which force decided, in a sentence with the two numbers compared."""
    scene = record.case.scene
    tear, plug = scene.tear, scene.plug
    if record.stop == Stop.NOT_CONVERGED:
        return "not solved"
    if said := _wall_gave_way(record, outcome):
        return said
    front, holds = MN * float(record.force_front.max()), MN * _front(record)
    behind = Where(outcome.where) in (Where.FALSE_LUMEN, Where.REENTERED, Where.OUTER_WALL)
    tip = MN * outcome.max_tip_force
    if tear.intact:
        if tear.weak_toughness is None:
            return f"nothing to enter: largest tip force {tip:.1f} mN, the wall breaks at {_wall(record):.0f} mN"
        weak = MN * _breach(record, tear.weak_toughness)
        if not behind:
            return f"tip force {tip:.2f} mN stayed below the {weak:.2f} mN at which the weak spot opens"
    if plug is not None and not behind and float(record.force_plug.max()) > 0.0:
        yielded, most = MM * float(record.plug[-1] - plug.start), MN * float(record.force_plug.max())
        return f"plug: {most:.1f} of {MN * plug.force:.0f} mN, pushed on by {yielded:.2f} mm"
    if not behind:
        lip = MN * float(record.force_lip.max())
        return f"it stayed out: largest force on the lips {lip:.2f} mN, in the mouth of {MM * tear.gap:.2f} mm"
    if outcome.extension > EXTENDED:
        return f"the front gave way at {holds:.1f} mN, the largest push was {MN * outcome.max_push:.1f} mN"
    if front == 0.0:
        return f"the front was not touched, the largest push was {MN * outcome.max_push:.1f} mN"
    what = {Shape.CURLED: "the wire curled", Shape.BUCKLED: "the wire buckled", Shape.BIGHT_LEADING: "a bight led"}
    shape = what.get(Shape(outcome.shape), "the advance ended")
    if front > AT_ITS_FORCE * holds:
        moved = MM * outcome.extension
        return f"the front just gave way at {holds:.1f} mN and moved by {moved:.3f} mm; then {shape}"
    return f"{shape}: {front:.1f} of the {holds:.1f} mN at which the front gives way"


def _wall_gave_way(record: Record, outcome: Outcome) -> str:
    """The sentence where the outer wall or the flap was pierced, or the plane behind the upstream lip was met; else
    empty."""
    push, holds = MN * outcome.max_push, MN * _front(record)
    if record.stop == Stop.OUTER_WALL_PIERCED:
        breach = MN * _breach(record, record.case.scene.wall.behind.breach_toughness)
        return f"the outer wall gave way at {breach:.0f} mN, the push was {push:.0f} mN"
    if len(record.holes) and Where(outcome.where) == Where.REENTERED:
        front = MN * float(record.force_front.max())
        return f"the flap gave way at {_wall(record):.1f} mN; the front was pressed with {front:.1f} of {holds:.1f} mN"
    back = MN * float(record.force_front_back.max())
    if back == 0.0:
        return ""
    grown, pull = MM * float(record.front_back[0] - record.front_back[-1]), MN * _pull(record)
    if grown > MM * GROWN:
        return f"the front behind the upstream lip gave way at {holds:.2f} mN by {grown:.2f} mm; pull {pull:.0f} mN"
    return f"{back:.2f} of the {holds:.2f} mN at which the front behind the upstream lip gives way; pull {pull:.0f} mN"


def summary_text(rows: Sequence[Row]) -> str:
    """Table of outcomes and the forces that decided; push and pull: the largest at the hand, either way."""
    titles = (("longer", "mm", 7), ("opened", "mm2", 7), ("push", "mN", 6), ("pull", "mN", 6), ("tip", "mN", 6))
    lines = [f"{'scene':20s} {'wire':6s} {'label':32s} {' '.join(f'{what:>{n}s}' for what, _, n in titles)}"]
    lines.append(f"{'':20s} {'':6s} {'':32s} {' '.join(f'{unit:>{n}s}' for _, unit, n in titles)}")
    for r in rows:
        area = float(r["opened_by_front_mm2"]) + float(r["opened_by_margins_mm2"])
        lines.append(
            f"{r['scene']:20s} {r['wire']:6s} {r['label_words']:32s} {float(r['extension_mm']):7.2f} {area:7.2f} "
            f"{float(r['max_push_mn']):6.1f} {float(r['max_pull_mn']):6.1f} {float(r['max_tip_mn']):6.1f}"
        )
    lines.append("")
    lines += [f"{r['scene']}, {r['wire']}: {r['decided_by']}" for r in rows]
    lines += [
        f"{r['scene']}, {r['wire']}: IN {r['through_flap_increments']} INCREMENTS THE WIRE PASSES THROUGH THE FLAP"
        for r in rows
        if int(r["through_flap_increments"])
    ]
    worst = max(float(r["audit_error_percent"]) for r in rows)
    lines.append(f"\nlargest energy audit error: {worst:.2f} %")
    return "\n".join(lines)


def _mm(value: float) -> float | str:
    """Length in mm, empty where there is none."""
    return "" if isnan(value) else round(MM * value, 3)


def _front(record: Record) -> float:
    """Force at which the front gives way, N."""
    return front_strength(record.case.scene, 2.0 * float(record.case.profile.radius[0]))


def _pull(record: Record) -> float:
    """Largest pull at the hand, N."""
    return max(0.0, -float(record.push.min()))


def _breach(record: Record, toughness: float) -> float:
    """Force at which the tip pierces a layer, N."""
    return breach_force(toughness, 2.0 * record.case.profile.tip_radius)


def _wall(record: Record) -> float:
    """Force at which the tip pierces the intima, mN."""
    return MN * _breach(record, record.case.scene.wall.breach_toughness)
