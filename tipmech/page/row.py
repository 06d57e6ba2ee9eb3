"""The last row of a record as plain data and back: what the process that draws in three dimensions needs of it."""

from dataclasses import replace
from typing import Any

import numpy as np

from ..insertion.record import Record

PLACES = ("positions", "quaternions", "margins")  # of the last row, more than one number each
NUMBERS = ("feed", "front", "lip", "front_centre")
DIGITS = 9  # of positions, m: nanometres


def row_data(record: Record) -> dict[str, Any]:
    """The last row as data for JSON (nan as None)."""
    data: dict[str, Any] = {name: getattr(record, name)[-1].round(DIGITS).tolist() for name in PLACES}
    for name in NUMBERS:
        value = float(getattr(record, name)[-1])
        data[name] = value if np.isfinite(value) else None
    data["side"] = record.side[-1].tolist()
    data["holes"] = record.holes.tolist()
    return data


def row_record(rest: Record, data: dict[str, Any]) -> Record:
    """Record of one row from such data; rest : record of the same wire at rest."""
    values: dict[str, Any] = {name: np.array(data[name])[None] for name in PLACES}
    values |= {name: np.array([np.nan if data[name] is None else data[name]]) for name in NUMBERS}
    values["side"] = np.array(data["side"])[None]
    values["holes"] = np.array(data["holes"], dtype=float).reshape(-1, 4)
    return replace(rest, **values)
