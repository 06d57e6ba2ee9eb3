"""What a comparison says: every design beside the reference, the trend over tip load, what changes it, how many points.

All intervals are at 1 - level of the plan; the family over which p values are adjusted is stated with each table.
"""

import warnings
from math import exp, sqrt
from typing import Any

import numpy as np
from scipy import stats

from .factors import Arm
from .hypothesis import (
    Comparison,
    compare,
    holm,
    pairs_needed,
    points_needed,
    power_of,
    power_of_mean,
    trend,
    verdict,
)
from .intervals import Array
from .outcomes import Measure, measures, of_procedures, outcome_of, solved
from .run_compare import CompareResult, CompareSpec
from .table import Table, from_rows, length, select

DIFFERENCES = (0.02, 0.05, 0.1, 0.2)  # risk differences for which the points needed are told
RELATIVE = (0.1, 0.2, 0.5)  # differences of a mean area, over the reference's, for which the points needed are told
FEWEST_CLUSTERS = 2  # scrambles for each term of the model
LARGEST_LOG_ODDS = 12.0  # a term whose log odds run beyond this has separated the event
POOLED = -1  # index of an angle, or of an arm, that stands for all of them


def comparison_table(result: CompareResult) -> Table:
    """Each design beside the reference: in every arm and angle, and over all of them (index -1).

    Holm's adjustment is over the designs of the pooled comparison of the planned outcome (the family of the test), and
    over all others of one outcome together (exploratory); the column `family` says which.
    """
    spec, out = result.spec, []
    for measure in measures(result.rows):
        planned = measure == spec.plan.outcome
        pooled = [_compared(spec, result.rows, measure, i, POOLED, POOLED) for i in _others(spec)]
        single = [
            _compared(spec, result.rows, measure, i, arm.index, j)
            for arm in result.arms
            for j in range(len(spec.study.angles))
            for i in _others(spec)
        ]
        for group, family in ((pooled, "planned" if planned else "exploratory"), (single, "exploratory")):
            made = [row for row in group if row is not None]
            for (row, c), p in zip(made, holm([c.difference.p for _, c in made]), strict=True):
                margin = spec.plan.margin if measure != "opened_area" else spec.plan.margin * row["mean_reference"]
                said = verdict(c, p, spec.plan.level, margin)
                out.append(row | {"p_adjusted": p, "family": family, "margin": margin, "verdict": str(said)})
    return from_rows(out)


def _others(spec: CompareSpec) -> list[int]:
    """Indices of the designs that are compared with the reference."""
    return [i for i in range(len(spec.study.tip_loads)) if i != spec.reference]


def _place(rows: Table, arm: int, angle: int) -> Table:
    """Rows of an arm and angle (-1: of all)."""
    here = np.ones(length(rows), dtype=bool)
    if arm != POOLED:
        here &= rows["arm"] == arm
    if angle != POOLED:
        here &= rows["angle_index"] == angle
    return select(rows, here)


def _compared(
    spec: CompareSpec, rows: Table, measure: Measure, load: int, arm: int, angle: int
) -> tuple[dict[str, Any], Comparison] | None:
    """One design beside the reference; None where it was not run."""
    here = _place(rows, arm, angle)
    mine, other = (select(here, here["tip_load_index"] == i) for i in (load, spec.reference))
    if not length(mine):
        return None
    value, reference = outcome_of(mine, measure), outcome_of(other, measure)
    ok, ok_other = solved(mine), solved(other)
    event = measure != "opened_area"
    largest = float(np.max(np.concatenate([value, reference])))
    c = compare(value, reference, ok, ok_other, mine["scramble"], level=spec.plan.level, event=event, largest=largest)
    both = ok & ok_other
    loads, d = spec.study.tip_loads, c.difference
    means = [float(np.mean(v[both])) if np.any(both) else np.nan for v in (value, reference)]
    row: dict[str, Any] = {
        "outcome": measure,
        "unit": "-" if event else "m2",
        "arm": arm,
        "angle_index": angle,
        "angle": spec.study.angles[angle] if angle != POOLED else np.nan,
        "tip_load_index": load,
        "tip_load": loads[load],
        "reference_tip_load": loads[spec.reference],
        "mean": means[0],
        "mean_reference": means[1],
        "difference": d.value,
        "difference_low": d.low,
        "difference_high": d.high,
        "p": d.p,
        "ratio": c.ratio.value,
        "ratio_low": c.ratio.low,
        "ratio_high": c.ratio.high,
        "only_design": c.more,
        "only_reference": c.fewer,
        "p_mcnemar": c.p_pairs,
        "bound_low": c.low_bound,
        "bound_high": c.high_bound,
        "n": d.n,
        "left_out": c.left_out,
    }
    return row, c


def trend_table(result: CompareResult) -> Table:
    """Change of each outcome per doubling of the tip load, by arm and angle and over all (index -1)."""
    spec, out = result.spec, []
    for measure in measures(result.rows):
        for arm, angle in _places(result):
            values, ok, scramble = _grid(spec, _place(result.rows, arm, angle), measure)
            if not len(values):
                continue
            t = trend(values, ok, np.array(spec.study.tip_loads), scramble, 1.0 - spec.plan.level)
            out.append(
                {
                    "outcome": measure,
                    "arm": arm,
                    "angle_index": angle,
                    "angle": spec.study.angles[angle] if angle != POOLED else np.nan,
                    "per_doubling": t.value,
                    "per_doubling_low": t.low,
                    "per_doubling_high": t.high,
                    "p": t.p,
                    "n": t.n,
                    "left_out": len(values) - t.n,
                }
            )
    return from_rows(out)


def _places(result: CompareResult) -> list[tuple[int, int]]:
    """All together, then every arm and angle."""
    return [(POOLED, POOLED)] + [(arm.index, j) for arm in result.arms for j in range(len(result.spec.study.angles))]


def _grid(spec: CompareSpec, rows: Table, measure: Measure) -> tuple[Array, Any, Any]:
    """Values and which were solved, shape (points, designs), and the scramble of each point."""
    cells = [select(rows, rows["tip_load_index"] == i) for i in range(len(spec.study.tip_loads))]
    values = np.stack([outcome_of(c, measure) for c in cells], axis=1)
    return values, np.stack([solved(c) for c in cells], axis=1), cells[0]["scramble"]


def interaction_table(result: CompareResult) -> Table:
    """Odds of the planned event over tip load (per doubling), angle (per 10 degrees), the factors, and the interactions
    of these with tip load: logistic model by generalised estimating equations, clusters the scrambles, working
    independence.

    A numeric factor is per doubling where all its levels are above 0, else per unit; words are against the first level.
    An event that a term separates completely has no finite odds: the column `fit` says so.
    """
    spec = result.spec
    if spec.plan.outcome == "opened_area":
        return from_rows([])
    ok = solved(result.rows)
    rows = select(result.rows, ok)
    y = outcome_of(rows, spec.plan.outcome)
    load = np.log2(rows["tip_load"] / spec.study.tip_loads[spec.reference])
    terms: dict[str, Array] = {"tip load, doubled": load}
    if len(spec.study.angles) > 1:
        terms["angle, 10 degrees more"] = np.degrees(rows["angle"]) / 10.0
    for name, column in _factor_columns(spec, result.arms, rows).items():
        terms[name] = column
    single = list(terms)
    for name in single[1:]:
        terms[f"tip load, doubled x {name}"] = load * (terms[name] - terms[name].mean())
    return from_rows(_odds(y, terms, rows["scramble"], spec.plan.level))


def _factor_columns(spec: CompareSpec, arms: tuple[Arm, ...], rows: Table) -> dict[str, Array]:
    """Columns of the factors in the model."""
    out: dict[str, Array] = {}
    for factor in spec.factors:
        if len(factor.levels) < 2:
            continue
        of_arm = [a.levels[factor.name] for a in arms]
        levels = [of_arm[int(k)] for k in rows["arm"]]
        if isinstance(factor.levels[0], str):
            for word in factor.levels[1:]:
                out[f"{factor.name}: {word} (against {factor.levels[0]})"] = np.array(
                    [float(v == word) for v in levels]
                )
            continue
        numbers = np.array(levels, dtype=float)
        above = min(float(v) for v in factor.levels) > 0.0
        out[f"{factor.name}, {'doubled' if above else 'one unit more'}"] = np.log2(numbers) if above else numbers
    return out


def _odds(y: Array, terms: dict[str, Array], cluster: Array, level: float) -> list[dict[str, Any]]:
    """Odds ratios of a logistic model, and why there are none where it cannot be fitted.

    Standard errors are the robust (sandwich) ones of statsmodels times sqrt(G / (G - terms)) for G clusters, with
    Student's t of G - terms: the usual correction for few clusters.
    """
    import statsmodels.api as sm

    design = np.column_stack([np.ones(len(y)), *terms.values()])
    fitted, why = None, "not fitted: the event never, or always, happened"
    if len(np.unique(cluster)) < FEWEST_CLUSTERS * design.shape[1]:
        why = f"not fitted: fewer than {FEWEST_CLUSTERS} scrambles for each term"
    elif 0.0 < y.mean() < 1.0 and np.linalg.matrix_rank(design) == design.shape[1]:
        why = "not fitted: a term separates the event completely, or the model does not converge"
        with warnings.catch_warnings():
            warnings.simplefilter("error")  # what statsmodels warns of is no fit
            try:
                model = sm.GEE(y, design, groups=cluster, family=sm.families.Binomial())
                fitted = model.fit()
            except (RuntimeWarning, UserWarning, np.linalg.LinAlgError, ValueError):
                fitted = None
        if fitted is not None and not np.all(np.abs(fitted.params) < LARGEST_LOG_ODDS):
            fitted = None
    with np.errstate(invalid="ignore"):  # a variance that is rounding alone may be below 0
        errors = None if fitted is None else np.asarray(fitted.bse)
    out = []
    for k, name in enumerate(terms, start=1):
        row: dict[str, Any] = {"term": name, "odds_ratio": np.nan, "odds_ratio_low": np.nan, "odds_ratio_high": np.nan}
        row |= {"p": np.nan, "fit": why}
        if fitted is not None and errors is not None:
            groups = len(np.unique(cluster))
            degrees = groups - design.shape[1]
            error = float(errors[k]) * sqrt(groups / degrees)
            half = float(stats.t.ppf(1.0 - level / 2.0, degrees)) * error
            if not error > 0.0:  # the sandwich's variance of a term that changes nothing is rounding alone
                out.append(row | {"fit": "not fitted: no standard error, the term changes nothing"})
                continue
            value = float(fitted.params[k])
            row |= {"odds_ratio": exp(value), "odds_ratio_low": exp(value - half), "odds_ratio_high": exp(value + half)}
            row |= {"p": 2.0 * float(stats.t.sf(abs(value) / error, degrees)), "fit": "fitted"}
        out.append(row)
    return out


def size_table(result: CompareResult) -> Table:
    """Points needed for differences of the planned outcome of each design, from how its points differ here.

    None for the area opened by an insertion: most open nothing, so that its few large values decide the spread.
    """
    spec, out = result.spec, []
    area = spec.plan.outcome == "opened_area"
    if area and not of_procedures(result.rows):
        return from_rows([])
    for i in _others(spec):
        made = _compared(spec, result.rows, spec.plan.outcome, i, POOLED, POOLED)
        if made is not None and made[1].difference.n > 0:
            out += _sizes_of_mean(spec, *made) if area else _sizes_of_event(spec, *made)
    return from_rows(out)


def _sizes_of_event(spec: CompareSpec, row: dict[str, Any], c: Comparison) -> list[dict[str, Any]]:
    """Points needed for risk differences, from the share of points that differ."""
    discordant = (c.more + c.fewer) / c.difference.n
    return [
        {
            "tip_load": row["tip_load"],
            "discordant": discordant,
            "risk_difference": d,
            "points": pairs_needed(d, discordant, spec.plan.level, spec.plan.power),
            "power_here": power_of(d, discordant, spec.plan.level, c.difference.n),
            "seen": int(d not in DIFFERENCES),
        }
        for d in dict.fromkeys([*DIFFERENCES, abs(c.difference.value)])
        if d != 0.0
    ]


def _sizes_of_mean(spec: CompareSpec, row: dict[str, Any], c: Comparison) -> list[dict[str, Any]]:
    """Points needed for differences of a mean, from the standard deviation of the differences between points."""
    seen = abs(c.difference.value)
    wanted = [(share * row["mean_reference"], 0) for share in RELATIVE] + [(seen, 1)]
    return [
        {
            "tip_load": row["tip_load"],
            "unit": row["unit"],
            "spread": c.spread,
            "difference": d,
            "points": points_needed(d, c.spread, spec.plan.level, spec.plan.power),
            "power_here": power_of_mean(d, c.spread, spec.plan.level, c.difference.n),
            "seen": here,
        }
        for d, here in wanted
        if d > 0.0
    ]


def replicate_table(result: CompareResult) -> Table:
    """Family of curves: the planned outcome of every design in each replicate of the shared unknowns, over its arms."""
    spec, out = result.spec, []
    for r in range(spec.replicates):
        rows = select(result.rows, result.rows["replicate"] == r)
        for i, load in enumerate(spec.study.tip_loads):
            cell = select(rows, rows["tip_load_index"] == i)
            ok = solved(cell)
            value = outcome_of(cell, spec.plan.outcome)
            mean = float(np.mean(value[ok])) if np.any(ok) else np.nan
            out.append({"replicate": r, "tip_load_index": i, "tip_load": load, "mean": mean, "n": int(ok.sum())})
    return from_rows(out)


def tables_of(result: CompareResult) -> dict[str, Table]:
    """All tables of a comparison by name, empty ones left out."""
    made = {
        "comparisons": comparison_table(result),
        "trends": trend_table(result),
        "interactions": interaction_table(result),
        "sizes": size_table(result),
        "replicates": replicate_table(result),
    }
    return {name: table for name, table in made.items() if length(table)}
