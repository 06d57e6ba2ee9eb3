"""What an insertion opened in the wall, as data and as a table of its moves."""

import csv
from math import degrees
from pathlib import Path
from typing import Any

from ..insertion.classify import plane_growth
from ..insertion.opened import NEVER, Areas, growth_by_move, wall_open_since
from ..insertion.record import Record
from ..whole import whole_file

MM = 1e3
COLUMNS = (
    "move", "kind", "amount_mm", "amount_deg", "feed_from_mm", "feed_to_mm", "longer_mm", "opened_by_front_mm2",
    "opened_by_margins_mm2", "holes",
)  # fmt: skip


def opened_facts(record: Record, found: Areas) -> dict[str, Any]:
    """What is open at the end and what each move opened, SI."""
    if not len(record.feed):
        return {}
    scene = record.case.scene
    never, first = wall_open_since(record) == NEVER, scene.channel.length + (scene.channel.retrograde or 0.0)
    return {
        "plane_at_first_m2": 0.0 if never else scene.channel.room * first,
        "plane_at_first_length_m": 0.0 if never else first,
        "by_front_m2": float(found.front[-1]),
        "by_margins_m2": float(found.margins[-1]),
        "of_both_in_the_same_place_m2": float(found.twice[-1]),
        "longer_m": float(plane_growth(record)[-1]),
        "margins_widest_m": float(record.margins[-1].max(initial=0.0)),
        "holes_in_flap": [
            {"s_m": s, "sigma_m": sigma, "radius_m": radius, "feed_m": float(record.feed[int(row)])}
            for s, sigma, radius, row in record.holes.tolist()
        ],
        "moves": [vars(move) for move in growth_by_move(record)],
    }


def write_moves(record: Record, path: Path) -> Path:
    """Write what each move opened as CSV in users' units, under a temporary name first; returns the path."""
    with whole_file(path) as temporary, temporary.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(COLUMNS)
        for k, m in enumerate(growth_by_move(record)):
            turn = m.kind == "turn"
            amount = ("", f"{degrees(m.amount):.6g}") if turn else (f"{m.amount * MM:.6g}", "")
            feed = [0.0 if m.first == 0 else float(record.feed[m.first - 1]) * MM, float(record.feed[m.last]) * MM]
            values = [*feed, m.length * MM, m.front * MM**2, m.margins * MM**2]
            writer.writerow([k + 1, m.kind, *amount, *(f"{v:.6g}" for v in values), m.holes])
    return path
