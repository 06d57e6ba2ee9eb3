"""Users' units against SI: factors, and conversion by the unit's suffix in a field's name. Floor 0.

Inside the package everything is SI. Only files and the command line (and axis labels) use these. The factors are those
of `scipy.constants` (grams-force from the standard gravity 9.80665 m/s2, inch, mmHg, degree), written out as exact
numbers because importing scipy here would slow down every start; a test compares them.
"""

from math import pi
from typing import Any

UNITS: dict[str, float] = {
    "m": 1.0,
    "mm": 1e-3,
    "um": 1e-6,
    "inch": 0.0254,
    "N": 1.0,
    "mN": 1e-3,
    "gf": 9.80665e-3,
    "kPa": 1e3,
    "MPa": 1e6,
    "GPa": 1e9,
    "mmHg": 133.32236842105263,
    "deg": pi / 180.0,
    "rad": 1.0,
    "N_per_mm": 1e3,
    "N_per_m": 1.0,
    "kN_per_m2": 1e3,
    "J_per_m2": 1.0,
    "mm_per_s": 1e-3,
    "mm_per_m": 1e-3,
    "mm2": 1e-6,
    "N_mm2": 1e-6,
    "mN_mm_per_rad": 1e-6,
    "g_per_cm3": 1e3,
    "percent": 1e-2,
    "ms": 1e-3,
    "s": 1.0,
    "per_mm": 1e3,
}
"""SI value of one of each unit; the keys are the suffixes of field names (`tip_load_gf`, `angle_deg`)."""

LABELS: dict[str, str] = {
    "um": "µm",
    "deg": "°",
    "N_per_mm": "N/mm",
    "N_per_m": "N/m",
    "kN_per_m2": "kN/m²",
    "J_per_m2": "J/m²",
    "mm_per_s": "mm/s",
    "mm_per_m": "mm/m",
    "mm2": "mm²",
    "N_mm2": "N mm²",
    "mN_mm_per_rad": "mN mm/rad",
    "g_per_cm3": "g/cm³",
    "percent": "%",
    "per_mm": "1/mm",
}
"""How a unit is written on an axis or in a table, where it differs from the suffix."""


def to_si(value: float, unit: str) -> float:
    """SI value of `value` given in `unit`."""
    return value * UNITS[unit]


def from_si(value: float, unit: str) -> float:
    """`value` (SI) in `unit`."""
    return value / UNITS[unit]


def label(unit: str) -> str:
    """Text of a unit for an axis or a table."""
    return LABELS.get(unit, unit)


def suffix(field: str) -> str | None:
    """Unit at the end of a field's name, the longest that fits (`rate_mm_per_s` -> 'mm_per_s'); None without one."""
    fits = [unit for unit in UNITS if field.endswith("_" + unit)]
    return max(fits, key=len) if fits else None


def si_fields(table: dict[str, Any]) -> dict[str, Any]:
    """Strip the unit suffixes of a flat table's names and convert its numbers (and arrays of numbers) to SI.

    >>> si_fields({"length_mm": 20.0, "kind": "dome"}) == {"length": 0.02, "kind": "dome"}
    True
    """
    out: dict[str, Any] = {}
    for field, value in table.items():
        unit = suffix(field)
        if unit is None or isinstance(value, bool | str) or value is None:
            out[field if unit is None else field[: -len(unit) - 1]] = value
        elif isinstance(value, tuple | list):
            out[field[: -len(unit) - 1]] = tuple(to_si(v, unit) for v in value)
        else:
            out[field[: -len(unit) - 1]] = to_si(value, unit)
    return out
