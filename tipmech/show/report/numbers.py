"""Numbers as a report writes them: three digits, intervals, users' units, distributions in words."""

from collections.abc import Mapping
from math import degrees, isfinite
from typing import Any

from ...study.estimates import wider_interval
from ...study.inputs import Unknown
from ...units import from_si, label
from .parts import NONE

DIGITS = 3
WIDER = "95 % interval, the wider of the scrambles' and Wilson's, below"
RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")
SHOWN_UNITS = {"m": "mm", "Pa": "MPa", "N/m": "N_per_mm", "rad": "deg", "J/m2": "J_per_m2", "N": "mN"}
"""Unit in which a report shows a quantity by its SI unit."""
SMALLEST_MPA = 0.01  # below it a stress is shown in kPa


def number(value: float | None, digits: int = DIGITS) -> str:
    """A number with so many digits, without an exponent in the usual range; a dash where there is none."""
    if value is None or not isfinite(value):
        return NONE
    size = abs(value)
    if size == 0.0:
        return "0"
    if size < 1e-4 or size >= 1e6:
        mantissa, power = f"{value:.{digits - 1}e}".split("e")
        return f"{float(mantissa):g}·10{str(int(power)).translate(RAISED)}".replace("-", "−")
    return f"{float(f'{value:.{digits}g}'):.10g}".replace("-", "−")


def signed(value: float, digits: int = DIGITS) -> str:
    """The same with its sign, for a difference."""
    text = number(value, digits)
    return f"+{text}" if isfinite(value) and value > 0.0 else text


def probability(value: float) -> str:
    """A probability with two decimals."""
    return f"{value:.2f}" if isfinite(value) else NONE


def interval(low: float, high: float, form: Any = number) -> str:
    """An interval in words; open where an end is not a number or infinite."""
    if not (isfinite(low) or isfinite(high)):
        return "no interval"
    ends = [form(v) if isfinite(v) else "open" for v in (low, high)]
    return f"{ends[0]} to {ends[1]}"


def chance(cell: Mapping[str, Any], name: str) -> str:
    """Probability of a cell with the wider of the scrambles' and Wilson's interval below, as a map prints it."""
    if f"p_{name}" not in cell:
        return NONE
    if not isfinite(cell[f"p_{name}"]):
        return NONE
    low, high = wider_interval(*(cell[f"p_{name}_{end}"] for end in ("low", "high", "wilson_low", "wilson_high")))
    return f"{probability(cell[f'p_{name}'])}\n{interval(float(low), float(high), probability)}"


def area(value: float) -> str:
    """An area in mm²."""
    return number(round(from_si(value, "mm2"), 6)) if isfinite(value) else NONE


def load(value: float) -> str:
    """A tip load in gf."""
    return f"{number(from_si(value, 'gf'))} gf"


def angle(value: float) -> str:
    """An angle in degrees; all of them where it is not a number."""
    return f"{degrees(value):.3g}°" if isfinite(value) else "all"


def place(cell: Mapping[str, Any]) -> str:
    """Tip load and angle of a cell."""
    return f"{load(cell['tip_load'])}, {angle(cell['angle'])}"


def shown(value: float, unit: str) -> str:
    """A value (SI) with the unit in which a report shows it; `unit` is the SI one ("-": none)."""
    key = unit_for(value, unit)
    return number(value) if key is None else f"{number(from_si(value, key))}{'' if key == 'deg' else ' '}{label(key)}"


def unit_for(value: float, unit: str) -> str | None:
    """Key of the unit in which a report shows a quantity of this size; None: it has none."""
    if unit == "Pa" and abs(value) < SMALLEST_MPA * 1e6:
        return "kPa"
    return SHOWN_UNITS.get(unit)


def distribution_words(x: Unknown) -> str:
    """Distribution of an unknown in words, with its parameters, its cut and its mass at zero."""
    dist = x.distribution
    name, args, keys = dist.dist.name, dist.args, dist.kwds
    key = unit_for(float(dist.mean()), x.unit)

    def at(value: float) -> str:
        return number(value if key is None else from_si(value, key))

    unit = "" if key is None else f"{'' if key == 'deg' else ' '}{label(key)}"
    if name == "lognorm":
        words = f"lognormal, median {at(keys.get('scale', 1.0))}{unit}, log-sd {number(keys['s'])}"
    elif name == "norm":
        mean, sd = (*args, 0.0, 1.0)[:2] if args else (0.0, 1.0)
        words = f"normal, mean {at(mean)}{unit}, sd {at(sd)}{unit}"
    elif name == "uniform":
        low, high = dist.support()
        words = f"uniform, {at(low)} to {at(high)}{unit}"
    elif name == "loguniform" or name == "reciprocal":
        low, high = dist.support()
        words = f"uniform in the logarithm, {at(low)} to {at(high)}{unit}"
    elif name == "randint":
        low, high = dist.support()
        words = f"whole numbers {int(low)} to {int(high)}, equally likely"
    elif name == "powerlaw":
        words = f"power law, density proportional to x^{number(args[0] - 1.0)} on 0 to 1"
    else:
        raise ValueError(f"no words for the distribution {name} of {x.name}")
    ends = [at(v) if isfinite(v) else None for v in (x.low, x.high)]
    if ends[0] and ends[1]:
        words += f"; cut to {ends[0]} to {ends[1]}{unit}"
    elif ends[0]:
        words += f"; cut below at {ends[0]}{unit}"
    if x.zero_below:
        words = f"0 with probability {number(x.zero_below)}, else {words}"
    return words


def plain_distribution_words(kind: str, parameters: Mapping[str, float], unit: str) -> str:
    """A distribution of a study file (manifest: SI) in words; unit: the SI one."""
    told = []
    for name, value in parameters.items():
        told.append(f"{name.replace('_', '-')} {number(value) if name == 'log_sd' else shown(value, unit)}")
    return f"{kind}, {', '.join(told)}"
