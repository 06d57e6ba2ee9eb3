"""What a row of a study says: events, labels, when and why a run ended. Between outcome codes and estimates."""

from dataclasses import fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..insertion.record import Outcome
from ..outcome import Label, Stop
from .table import Table

Flags = NDArray[np.bool_]

OUTCOME_FIELDS = tuple(f.name for f in fields(Outcome))
# ends set beforehand: censoring; all others compete
AT_THE_END = (Stop.PROTOCOL_DONE, Stop.ADVANCE_PAST_TEAR_DONE, Stop.ADVANCE_PAST_CURL_DONE)


def outcome_row(outcome: Outcome) -> dict[str, Any]:
    """Columns of an outcome: integers for codes and counts, 0/1 for flags, floats for the rest."""
    row = {}
    for name in OUTCOME_FIELDS:
        value = getattr(outcome, name)
        row[name] = int(value) if isinstance(value, bool | int | np.integer | np.bool_) else float(value)
    return row


def solved(rows: Table) -> Flags:
    """Which insertions were solved."""
    return np.asarray(rows["label"] != int(Label.NOT_SOLVED))


def flags(rows: Table) -> dict[str, Flags]:
    """The events of a map, each counted over all insertions of a cell (joint, never conditional on an earlier one).

    reached: the tip reached the tear; entered: false-lumen entry at any time; curled: a curl anywhere;
    entered_curled: the label "false lumen, curled" (in the false channel, before the plane was extended);
    extended: the plane extended by more than 0.5 mm (also after a curl, where runs go on past it).
    """
    label = rows["label"]
    return {
        "reached": ~np.isnan(rows["reached"]),
        "entered": ~np.isnan(rows["entered"]),
        "curled": ~np.isnan(rows["curled"]),
        "entered_curled": np.asarray(label == int(Label.FALSE_LUMEN_CURLED)),
        "extended": ~np.isnan(rows["extended"]),
    }


def competing(rows: Table, event: str) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Advance since the tear was reached, and cause, for the cumulative incidence of `event` over solved rows.

    event "extended": a curl that ends the run competes. event "curled": an extension does not end the run, so it does
    not compete. Any other early end (a wall pierced, the push at its cap) competes; a run that never reached the tear
    competes from 0, so that the curve ends at the joint probability; a run carried to its set end is censored there.

    Returns
    -------
    time : ndarray, shape (n,)
    cause : ndarray of int, shape (n,)
        0 censored, 1 the event, 2 curl, 3 ended otherwise, 4 never reached the tear
    """
    time = np.where(np.isnan(rows["feed_past_tear"]), 0.0, rows["feed_past_tear"])
    cause = np.where(np.isin(rows["stop"], [int(s) for s in AT_THE_END]), 0, 3)
    curl = rows["curled"]
    ends = ~np.isnan(curl) & ((rows["stop"] == int(Stop.FIRST_CURL)) | (event != "extended"))
    cause, time = np.where(ends, 2, cause), np.where(ends, curl, time)
    never = np.isnan(rows["reached"])
    cause, time = np.where(never, 4, cause), np.where(never, 0.0, time)
    own = rows[event]
    first = ~np.isnan(own) & (own <= time)
    return np.where(first, own, time), np.where(first, 1, cause).astype(np.int64)
