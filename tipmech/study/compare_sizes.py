"""Points that a comparison's designs need, from how their points differ and what the points of a scramble share.

A design effect is the variance of the difference seen over that of as many independent pairs.
"""

from typing import Any

import numpy as np

from .compare_spec import CompareSpec
from .hypothesis import Comparison
from .outcomes import of_procedures
from .pairs import POOLED, compared
from .power import pairs_needed, points_needed, power_of, power_of_mean
from .run_compare import CompareResult
from .strata import Spread
from .table import Table, from_rows

DIFFERENCES = (0.02, 0.05, 0.1, 0.2)  # risk differences for which the points needed are told
RELATIVE = (0.1, 0.2, 0.5)  # differences of a mean area, over the reference's, for which the points needed are told


def size_table(result: CompareResult) -> Table:
    """Points of every arm and angle needed for differences of the planned outcome of each design.

    At Holm's first step, the level over the number of comparisons. None for the area opened by an insertion: most open
    nothing, so that its few large values decide the spread.
    """
    spec, out = result.spec, []
    area = spec.plan.outcome == "opened_area"
    if area and not of_procedures(result.rows):
        return from_rows([])
    for i in spec.others:
        made = compared(spec, result.rows, spec.plan.outcome, i, POOLED, POOLED)
        spread = made[1].difference.spread if made is not None else None
        if made is None or spread is None or not np.isfinite(made[1].difference.error):
            continue
        whole = {name: made[0][name] for name in ("design_words", "tip_load")}
        of = _of_mean if area else _of_event
        out += [whole | line for line in of(spec, made[1], spread)]
    return from_rows(out)


def _level(spec: CompareSpec) -> float:
    """Level of Holm's first step."""
    return spec.plan.level / len(spec.others)


def _of_event(spec: CompareSpec, c: Comparison, spread: Spread) -> list[dict[str, Any]]:
    """Points needed for risk differences, from the share of pairs that differ."""
    level, power, d, out = _level(spec), spec.plan.power, c.difference, []
    apart = d.apart
    for wanted in dict.fromkeys([*DIFFERENCES, abs(d.value)]):
        if wanted == 0.0:
            continue
        one, pairs = apart - wanted**2, pairs_needed(wanted, apart, level, power)
        worth = one / (one / d.effective + spread.replicates)
        out.append(
            {
                "discordant": apart,
                "design_effect": d.n / d.effective,
                "risk_difference": wanted,
                "pairs": pairs,
                "points": _points(spread, one / d.effective, one / pairs),
                "power_here": power_of(wanted, apart, level, worth, d.degrees),
                "seen": int(wanted not in DIFFERENCES),
            }
        )
    return out


def _of_mean(spec: CompareSpec, c: Comparison, spread: Spread) -> list[dict[str, Any]]:
    """Points needed for differences of a mean, from the standard deviation of the differences between pairs."""
    level, power, d, out = _level(spec), spec.plan.power, c.difference, []
    for wanted, seen in [(share * c.mean_reference, 0) for share in RELATIVE] + [(abs(d.value), 1)]:
        if not wanted > 0.0:
            continue
        pairs = points_needed(wanted, c.sd, level, power) if d.error > 0.0 else np.nan  # no spread: nothing is known
        out.append(
            {
                "unit": "m2",
                "spread": c.sd,
                "design_effect": d.n * spread.scrambles / c.sd**2 if d.error > 0.0 else np.nan,
                "difference": wanted,
                "pairs": pairs,
                "points": _points(spread, spread.scrambles, c.sd**2 / pairs),
                "power_here": power_of_mean(wanted, d.error, level, d.degrees),
                "seen": seen,
            }
        )
    return out


def _points(spread: Spread, variance: float, wanted: float) -> float:
    """Points of every arm and angle for a variance wanted; infinite where replicates alone make it larger.

    variance : here, with `spread.worth` points, but for the replicates' own
    """
    if not wanted > spread.replicates:
        return np.nan if np.isnan(wanted) else np.inf
    return float(np.ceil(spread.worth * variance / (wanted - spread.replicates)))
