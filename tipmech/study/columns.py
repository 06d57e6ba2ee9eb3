"""Columns of result tables for readers: users' units in the names, words beside codes. Parquet and results stay SI."""

import re
from enum import IntEnum

import numpy as np

from ..outcome import END_WORDS, LABEL_WORDS, SHAPE_WORDS, STOP_WORDS, End, Label, Shape, Stop, Where
from ..units import from_si
from .table import Table
from .threshold import Event, Status

UNITS: dict[str, tuple[str, str]] = {
    **dict.fromkeys(("tip_load", "reference_tip_load"), ("gf", "gf")),
    **dict.fromkeys(("angle", "contact_angle", "tip_angle_change", "x_roll", "x_offset_direction"), ("deg", "deg")),
    **dict.fromkeys(
        ("advance", "reached", "entered", "curled", "extended", "extension", "feed_past_tear"), ("mm", "mm")
    ),
    **dict.fromkeys(("x_mouth_gap", "x_unsupported_length", "x_flap_thickness", "x_room", "x_thickness"), ("mm", "mm")),
    **dict.fromkeys(("x_window_length", "x_lip_radius", "x_tip_radius"), ("mm", "mm")),
    **dict.fromkeys(("travel", "opened_length", "opened_length_median", "opened_length_p90"), ("mm", "mm")),
    **dict.fromkeys(("turned", "bend_left"), ("deg", "deg")),
    **dict.fromkeys(("opened_area", "opened_area_median", "opened_area_p90"), ("mm2", "mm2")),
    **dict.fromkeys(("largest_push", "largest_push_median", "largest_push_p90", "median_push"), ("mN", "mn")),
    **dict.fromkeys(("max_push", "max_tip_force", "scale", "scale_median", "force", "p50"), ("mN", "mn")),
    "x_youngs_modulus": ("MPa", "mpa"),
    "x_pressure": ("kPa", "kpa"),
    **dict.fromkeys(("x_fracture_energy", "x_fracture_energy_median"), ("J_per_m2", "j_m2")),
    "x_front_stiffness": ("N_per_mm", "n_mm"),
}
"""Unit of a column (key of `units.UNITS`) and its ending, as in study files; the ends of intervals go with it."""

ENDS = re.compile(r"(_bracket)?_(low|high)$")  # what is not part of a quantity's name
DIGITS = 12  # of a converted number: what was typed (0.3 gf) reads as typed
FRONTS = {0: "notch", 1: "flat"}
DESIGNS = {0: "Morris", 1: "Sobol'"}
LIPS = {1: "downstream", 0: "upstream"}


def _words(kind: type[IntEnum]) -> dict[int, str]:
    """Words of codes that have no words of their own: their names."""
    return {int(code): code.name.lower().replace("_", " ") for code in kind}


CODES: dict[str, dict[int, str]] = {
    "where": _words(Where),
    "shape": {int(code): SHAPE_WORDS[code] for code in Shape},
    "label": {int(code): LABEL_WORDS[code] for code in Label},
    "stop": {int(code): STOP_WORDS[code] for code in Stop},
    "end": {int(code): END_WORDS[code] for code in End},
    "status": _words(Status),
    "rung": _words(Event),
    "x_free_lip": LIPS,
    "x_front_flat": FRONTS,
    "design": DESIGNS,
}
"""Words of the columns that hold codes; those of `rung` are for rung_0, rung_1 and so on."""


def for_readers(table: Table) -> Table:
    """Table with users' units, named at the end of each column's name, and after each code a column NAME_words."""
    out: Table = {}
    for name, column in table.items():
        base = ENDS.sub("", name)
        if base in UNITS and np.issubdtype(column.dtype, np.floating):  # whole numbers are flags: entered, curled
            unit, ending = UNITS[base]
            out[f"{name}_{ending}"] = np.array([float(f"{from_si(float(v), unit):.{DIGITS}g}") for v in column])
            continue
        out[name] = column
        words = CODES.get(re.sub(r"^rung_\d+$", "rung", name))
        if words is not None:
            out[f"{name}_words"] = np.array([words[int(v)] for v in column])
    return out
