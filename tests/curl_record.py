"""A made-up insertion whose wire runs straight along the vessel and then round a circle in a stated plane."""

from dataclasses import replace
from math import cos, pi, sin

import numpy as np
from synthetic import make_case, make_record

from tipmech.insertion.record import Record

RADIUS = 0.9e-3  # m of the circle
START = 23e-3  # m along the vessel, where it begins
TURN = 1.25 * pi  # rad, where it ends
ROWS, NODES = 300, 200
LENGTH = 20e-3  # m of wire


def curl_record(plane: float = 0.0, turn: float = TURN) -> Record:
    """Curl in the plane of the vessel's axis and the direction at azimuth `plane`, rad, through `turn` in all."""
    base = make_record()
    feed = np.linspace(0.0, 6e-3 + RADIUS * turn, ROWS)
    arc = (START - 6e-3 + feed)[:, None] + np.linspace(-LENGTH, 0.0, NODES)[None, :]
    angle = np.clip((arc - START) / RADIUS, 0.0, turn)
    z = np.minimum(arc, START) + RADIUS * np.sin(angle)
    across = RADIUS * (1.0 - np.cos(angle))
    positions = np.stack([across * cos(plane), across * sin(plane), z], axis=2)
    lead = z.max(axis=1)
    values = {}
    for name, value in vars(base).items():
        if isinstance(value, np.ndarray) and value.ndim == 1 and len(value) == len(base.feed):
            values[name] = np.zeros(ROWS, dtype=value.dtype)
    values |= {
        "feed": feed,
        "positions": positions,
        "quaternions": np.zeros((ROWS, NODES - 1, 4)),
        "side": np.where(z > 22e-3, 2, 0).astype(np.int64),
        "tip_angle": np.arccos(np.cos(angle[:, -1])),
        "tip_s": z[:, -1],
        "lead_s": lead,
        "lead_false_s": np.where(lead > 22e-3, lead, np.nan),
        "lead_back_s": np.full(ROWS, np.nan),
    }
    return replace(base, case=make_case(), **values)
