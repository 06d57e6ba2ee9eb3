"""Outcomes of experiments/scenes as rows and text: what happened and which force decided."""

from collections.abc import Sequence
from math import isnan

import numpy as np

from tipmech.insertion.opened import areas
from tipmech.insertion.record import Outcome, Record
from tipmech.outcome import LABEL_WORDS, SHAPE_WORDS, STOP_WORDS, Label, Shape, Stop, Where
from tipmech.show.decided import decided, front_holds, largest_pull, pierced_at
from tipmech.show.passage import off_opening, through_flap

Row = dict[str, str | float | int]
MM, MN = 1e3, 1e3


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
        "max_pull_mn": round(MN * largest_pull(record), 2),
        "max_tip_mn": round(MN * outcome.max_tip_force, 2),
        "max_front_mn": round(MN * float(record.force_front.max()), 2),
        "max_front_back_mn": round(MN * float(record.force_front_back.max()), 2),
        "front_holds_mn": round(MN * front_holds(record), 2),
        "max_plug_mn": round(MN * float(record.force_plug.max()), 2),
        "flap_breaks_at_mn": round(MN * pierced_at(record, record.case.scene.wall.breach_toughness), 1),
        "outer_breaks_at_mn": round(MN * pierced_at(record, record.case.scene.wall.behind.breach_toughness), 1),
        "audit_error_percent": round(100.0 * abs(outcome.audit_error), 3),
        "through_flap_increments": through_flap(record),
        "off_opening_mm": round(MM * off_opening(record), 3),
        "decided_by": decided(record, outcome),
    }


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
