"""What is measured of one way to the tear: push at the hand and force at the front, turn of the hand and of the tip."""

from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from tipmech.insertion.classify import classify
from tipmech.insertion.record import Record
from tipmech.outcome import LABEL_WORDS, Label, Stop

MM, MN, UN_MM = 1e3, 1e3, 1e9
LAST = (4e-3, 0.5e-3)  # m before the tear between which the push on the way is averaged
BEHIND_BEND = 4e-3  # m from the tip: where its turn is read, behind the preshaped bend
SEARCH = np.linspace(-5e-3, 5e-3, 401)  # m along the vessel about a point: where its nearest place is looked for
Row = dict[str, Any]


def push_row(record: Record) -> Row:
    """Pushes (mN) on the way and at the front, and what happened at the tear.

    push_at_front: at the largest force on the front; where the front was never touched, 0 as that force is.
    """
    outcome = classify(record)
    tear = record.case.scene.tear
    way = (record.tip_s > tear.start - LAST[0]) & (record.tip_s < tear.start - LAST[1])
    front = int(np.argmax(record.force_front))
    touched = record.force_front[front] > 0.0
    return {
        "solved": record.stop != Stop.NOT_CONVERGED,
        "label": LABEL_WORDS[Label(outcome.label)],
        "entered": outcome.entered_before_curl,
        "curled": bool(np.isfinite(outcome.curled)),
        "extended": bool(np.isfinite(outcome.extended)),
        "extension_mm": MM * outcome.extension,
        "push_before_mn": MN * float(np.mean(record.push[way])) if np.any(way) else float("nan"),
        "max_push_mn": MN * outcome.max_push,
        "front_mn": MN * float(record.force_front[front]),
        "push_at_front_mn": MN * float(record.push[front]) if touched else 0.0,
        "audit_error": outcome.audit_error,
    }


def tip_turn(record: Record) -> NDArray[np.float64]:
    """Turn of the wire `BEHIND_BEND` from its tip about the vessel's axis there, rad, from its first row on.

    The section's first axis, seen in the frame of the vessel that turns as little as it can along it.
    """
    length = np.linalg.norm(np.diff(record.positions[0], axis=0), axis=1)
    element = int(np.searchsorted(-np.cumsum(length[::-1])[::-1], -BEHIND_BEND))
    axis = Rotation.from_quat(record.quaternions[:, element], scalar_first=True).as_matrix()[:, :, 0]
    place = record.positions[:, element]
    scene = record.case.scene
    about = scene.tear.start - scene.tip_distance - BEHIND_BEND + SEARCH
    points, _, e1, e2 = scene.centreline.frame(about)
    near = np.argmin(np.sum((points[None] - place[:, None]) ** 2, axis=2), axis=1)
    angle = np.unwrap(np.arctan2(np.sum(axis * e2[near], axis=1), np.sum(axis * e1[near], axis=1)))
    return np.asarray(angle - angle[0])


def turn_row(record: Record) -> Row:
    """How the tip followed the hand through its last turn."""
    hand = record.turn - record.turn[0]
    lag = np.degrees(hand - tip_turn(record))
    last = hand > hand[-1] - 2.0 * np.pi
    return {
        "solved": record.stop != Stop.NOT_CONVERGED,
        "lag_mean_deg": float(np.mean(lag[last])),
        "lag_range_deg": float(np.ptp(lag[last])),
        "torque_un_mm": UN_MM * float(np.max(np.abs(record.torque))),
        "audit_error": float(record.audit_error[-1]),
    }
