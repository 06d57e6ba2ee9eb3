"""The wire as it is laid, before the first increment, as a record of one row."""

from typing import Any

import numpy as np

from ..insertion.case import Case
from ..insertion.record import Record
from ..insertion.shape import lay
from ..outcome import Stop
from ..vessel.walls import TRUE

NOT_THERE = ("lead_false_s", "lead_back_s", "front_back", "front_centre")
COUNTS = ("count_stuck", "count_released", "count_met", "iterations", "held")
NONE_NEAR = ("plug", "limb_approach")


def at_rest(case: Case) -> Record:
    """Record of one row: nothing fed, nothing touched; a case without plug, weak spot and plane behind the upstream
    lip, whose wire starts in the true lumen."""
    nodes, frames, _, _ = lay(case)
    tear = case.scene.tear
    values: dict[str, Any] = {name: np.zeros(1) for name in Record.__annotations__}
    values |= {name: np.full(1, np.nan) for name in NOT_THERE}
    values |= {name: np.full(1, np.inf) for name in NONE_NEAR}
    values |= {name: np.zeros(1, dtype=np.int64) for name in COUNTS}
    mouth = np.array([tear.start - case.scene.support.distance])
    values |= {
        "case": case,
        "positions": nodes[None],
        "quaternions": frames[None],
        "side": np.full((1, len(nodes)), TRUE),
        "tip_s": mouth,
        "lead_s": mouth,
        "front": np.array([tear.end + case.scene.channel.length]),
        "margins": np.zeros((1, 2, 2)),
        "holes": np.zeros((0, 4)),
        "stop": int(Stop.PROTOCOL_DONE),
        "contact_angle": float("nan"),
    }
    return Record(**values)
