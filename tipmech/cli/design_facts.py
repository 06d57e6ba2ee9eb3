"""Results of a design exploration as plain data for JSON: users' units, named."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from ..lab.figure import Figure, Tested
from ..lab.over_scale import OverScale
from ..lab.scale import Scale
from ..lab.search import SHOWN
from ..lab.sensitivity import ScaleEffect, Sensitivities
from ..lab.stackup import StackUp
from ..lab.wanted import Found, Inverse
from ..units import from_si

FACTS = "design.json"
WIRES = tuple(f"found_{k + 1}.toml" for k in range(1 + SHOWN))  # files of the found designs


def slope_facts(slopes: Sensitivities, benched: Mapping[str, Tested]) -> dict[str, Any]:
    """Sensitivities as plain data. benched: the bench's values where slopes alone are by beam theory."""
    names = [d.name for d in slopes.dimensions]

    def more(figure: Figure) -> dict[str, Any]:
        """What some figures have."""
        facts: dict[str, Any] = {"tip": figure.tip} if figure.tip else {}
        doubt = slopes.doubts.get(figure.key, "")
        if figure.key in benched:
            one = benched[figure.key]
            facts["simulated"], facts["definition_simulated"] = one.value / figure.factor, one.definition
            doubt = one.doubt
        return facts | ({"doubt": doubt} if doubt else {})

    return {
        "slope": "d ln(figure)/d ln(dimension)",
        "step_percent": 100.0 * slopes.step,
        "remarks": slopes.remarks,
        "without_slopes": {f.name: slopes.missing[f.key] for f in slopes.figures if f.key in slopes.missing},
        "dimensions_mm": {d.name: from_si(d.value, "mm") for d in slopes.dimensions},
        "figures": {
            f.name: {
                "value": slopes.values[i] / f.factor,
                "by": slopes.by[i],
                "definition": slopes.definitions[i],
                "slopes": dict(zip(names, slopes.slopes[i].tolist(), strict=True)),
            }
            | more(f)
            for i, f in enumerate(slopes.figures)
        },
    }


def scale_facts(scale: Scale, effect: ScaleEffect) -> dict[str, Any]:
    """The calibrated scale, and what it leaves open of every figure, as plain data."""
    names = ("low_95", "median", "high_95")
    return {
        "posterior": scale.path,
        "scale_of_EI_and_GJ": dict(zip(names, effect.scales, strict=True)),
        "values_elsewhere_are_at": "the median scale",
        "figures": {
            f.name: dict(zip(names, (effect.values[:, i] / f.factor).tolist(), strict=True)) | {"by": effect.by[i]}
            for i, f in enumerate(effect.figures)
        },
    }


def inverse_facts(found: Inverse, over: Sequence[OverScale] = ()) -> dict[str, Any]:
    """An inverse design as plain data; `over`: of each found design, where there is a calibration."""
    wanted = {
        w.figure.name: {w.kind: w.value / w.figure.factor, "tolerance": w.tolerance}
        | ({"tip": w.figure.tip} if w.figure.tip else {})
        | ({"added": "without it other wanted figures mean nothing"} if w.added else {})
        for w in found.wanted
    }
    names = [b.dimension.name for b in found.bounds]
    front = [
        {
            "change_percent": 100.0 * found.changes[i],
            "miss_in_tolerances": found.misses[i].max(),
            "dimensions_mm": dict(zip(names, (found.values[i] * 1e3).tolist(), strict=True)),
            "figures": {w.figure.name: found.figures[i, k] / w.figure.factor for k, w in enumerate(found.wanted)},
        }
        for i in range(len(found.changes))
    ]
    return {
        "wanted": wanted,
        "all_met": found.found[0].met,
        "found": [
            _found_facts(found, f, name) | (_over_facts(found, over[k]) if over else {})
            for k, (f, name) in enumerate(zip(found.found, WIRES, strict=False))
        ],
        "front": front,
        "ratio_simulated_to_reduced": found.ratios,
        "rounds": found.rounds,
        "reduced_evaluations": found.evaluations,
    }


def _found_facts(found: Inverse, one: Found, file: str) -> dict[str, Any]:
    """A found design as plain data."""
    figures = {
        w.figure.name: {
            "reduced": one.reduced[w.figure.key] / w.figure.factor,
            "simulated": one.simulated[w.figure.key] / w.figure.factor if w.figure.key in one.simulated else None,
        }
        for w in found.wanted
    }
    return {
        "name": one.design.name,
        "file": file,
        "met": one.met,
        "change_percent": 100.0 * one.change,
        "dimensions_mm": {name: from_si(value, "mm") for name, value in one.values.items()},
        "figures": figures,
        "doubts": {w.figure.name: one.doubts[w.figure.key] for w in found.wanted if w.figure.key in one.doubts},
    }


def _over_facts(found: Inverse, over: OverScale) -> dict[str, Any]:
    """A found design over the calibration as plain data."""
    bands = {
        w.figure.name: {"low_95": b.low / w.figure.factor, "high_95": b.high / w.figure.factor, "as_wanted": b.met}
        for w, b in zip(found.wanted, over.bands, strict=True)
    }
    return {"over_calibration": {"figures": bands, "all_as_wanted": over.all_met}}


def stack_facts(stack: StackUp) -> dict[str, Any]:
    """A stack-up as plain data."""
    unit = stack.figure.factor
    return {
        "figure": stack.figure.name,
        **({"tip": stack.figure.tip} if stack.figure.tip else {}),
        "nominal": stack.nominal / unit,
        "ratio_simulated_to_reduced": stack.ratio,
        "points": len(stack.values),
        "unbuildable": stack.unbuildable,
        "quantiles": {f"{q:g}": v / unit for q, v in stack.quantiles.items()},
        "log_sd": stack.log_sd,
        "log_sd_interval": stack.log_sd_interval,
        "tolerances": [
            {"dimension": name, "tolerance": words, "share": s, "interval": e}
            for (name, words), s, e in zip(
                stack.sources, stack.shares.tolist(), stack.share_intervals.tolist(), strict=True
            )
        ],
        "variance_explained": stack.explained,
        "band": None if stack.band is None else [b / unit for b in stack.band],
        "yield": stack.yield_share,
        "yield_interval": stack.yield_interval,
        "yield_at_scale": [{"scale": s, "yield": y} for s, y in stack.yield_at],
        "simulated_points": len(stack.simulated),
        "simulated_not_solved": int(np.sum(~np.isfinite(stack.simulated))),
        "largest_difference_of_simulated": stack.worst_check,
    }
