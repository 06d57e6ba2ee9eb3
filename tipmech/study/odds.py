"""What changes the odds of a comparison's planned event: a logistic model over designs, angle and factors."""

import warnings
from math import exp, sqrt
from typing import Any

import numpy as np
from scipy import stats

from .compare_spec import CompareSpec, by_words, design_words
from .factors import Arm
from .intervals import Array
from .outcomes import outcome_of, solved
from .run_compare import CompareResult
from .table import Table, from_rows, select

FEWEST_CLUSTERS = 2  # scrambles for each term of the model
LARGEST_LOG_ODDS = 12.0  # a term whose log odds run beyond this has separated the event


def interaction_table(result: CompareResult) -> Table:
    """Odds of the planned event over designs (per doubling of what tells them apart), angle (per 10 degrees), factors,
    and the interactions of these with the designs: logistic model by generalised estimating equations, clusters the
    scrambles, working independence.

    A numeric factor is per doubling where all its levels are above 0, else per unit; words are against the first level.
    An event that a term separates completely has no finite odds: the column `fit` says so.
    """
    spec = result.spec
    if spec.plan.outcome == "opened_area":
        return from_rows([])
    ok = solved(result.rows)
    rows = select(result.rows, ok)
    y = outcome_of(rows, spec.plan.outcome)
    designs = _design_columns(spec, rows)
    terms = dict(designs)
    if len(spec.study.angles) > 1:
        terms["angle, 10 degrees more"] = np.degrees(rows["angle"]) / 10.0
    for name, column in _factor_columns(spec, result.arms, rows).items():
        terms[name] = column
    for name in [name for name in terms if name not in designs]:
        for design, column in designs.items():
            terms[f"{design} x {name}"] = column * (terms[name] - terms[name].mean())
    return from_rows(_odds(y, terms, rows["scramble"], _weights(rows), spec.plan.level))


def _weights(rows: Table) -> Array:
    """Weight of each row: cells weigh the same, 1 in the mean."""
    cells = np.stack([rows[name] for name in ("arm", "angle_index", "tip_load_index")], axis=1)
    _, cell, count = np.unique(cells, axis=0, return_inverse=True, return_counts=True)
    return np.asarray(len(cells) / (len(count) * count[cell.ravel()]))


def _design_columns(spec: CompareSpec, rows: Table) -> dict[str, Array]:
    """Columns of the designs in the model: doublings from the reference; where they have no scale each against it."""
    if spec.scale is not None:
        doublings = np.log2(spec.scale / spec.scale[spec.reference])
        return {f"{by_words(spec)}, doubled": doublings[rows["tip_load_index"]]}
    against = f"(against {design_words(spec, spec.reference)})"
    return {f"{design_words(spec, i)} {against}": (rows["tip_load_index"] == i).astype(float) for i in spec.others}


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


def _odds(y: Array, terms: dict[str, Array], cluster: Array, weights: Array, level: float) -> list[dict[str, Any]]:
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
                model = sm.GEE(y, design, groups=cluster, family=sm.families.Binomial(), weights=weights)
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
