"""What a seen curl tells about the channel, per wire: fourfold tables, measures, ROC curves, predictive values.

The test is positive where the blind detector sees a curl at a look. Two conditions are told apart: the wire's end lies
in the false channel *at* that look, and wire had entered it at any time *up to* it. Two analyses: one look for each
insertion (primary), and all looks.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from . import diagnostic as d
from . import events
from .intervals import Array, Flags, Ints
from .run_curl import CurlResult, CurlSpec
from .table import Table, from_rows, length, select

ANALYSES = ("first look", "all looks")
"""First look: the first at which the detector sees a curl, else the last; one observation for each insertion."""
CONDITIONS = ("in the false lumen", "entered before")
FLAGS = dict(zip(CONDITIONS, ("in_false", "entered"), strict=True))
THRESHOLDS = (0.25, 0.5, 0.75, 1.0, 1.25, 1.5, 2.0)
PREVALENCES = (0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8)
POOLED = -1  # index of an angle that stands for all of them


@dataclass(frozen=True)
class Asked:
    """What is worked out of the looks; no part of the study, so that other values may be asked of it later.

    thresholds : of the detector's score, increasing; the detector's own is always among them
    prevalences : shares of insertions in the false lumen, between 0 and 1, for which predictive values are given
    """

    thresholds: tuple[float, ...] = THRESHOLDS
    prevalences: tuple[float, ...] = PREVALENCES


@dataclass(frozen=True)
class Observed:
    """Observations of solved insertions of one wire, n of them, each array of shape (n,).

    score : decides at any threshold whether the test is positive: of a look, or the largest of an insertion's looks
    """

    positive: Flags
    score: Array
    condition: Flags
    visible: Flags
    curled: Flags
    scramble: Ints
    point: Ints

    @property
    def all(self) -> Flags:
        """Every observation."""
        return np.ones(len(self.score), dtype=bool)


def by_insertion(looks: Table) -> tuple[Ints, Ints]:
    """First look of each insertion, and insertion of each look, as places in the table."""
    start = np.flatnonzero(looks["look"] == 1)
    return start, np.cumsum(looks["look"] == 1) - 1


def chosen_look(looks: Table, threshold: float) -> Ints:
    """Place of one look of each insertion: the first at which a curl is seen at this threshold, else its last."""
    start, owner = by_insertion(looks)
    last = np.append(start[1:], length(looks)) - 1
    places = np.where(looks["score"] >= threshold, np.arange(length(looks)), length(looks))
    return np.minimum(np.minimum.reduceat(places, start), last) if len(start) else start


def observed(looks: Table, analysis: str, condition: str, threshold: float, limit: float) -> Observed:
    """Observations of one analysis and condition from looks of solved insertions.

    In the primary analysis the score is the largest of the insertion's looks, which decides at any threshold whether a
    curl is ever seen; the condition is that of the look chosen at `threshold`, and is held along a ROC curve.

    limit : foreshortening below which a tip is not visible
    """
    score = looks["score"]
    if analysis == ANALYSES[0] and length(looks):
        score = np.maximum.reduceat(score, by_insertion(looks)[0])
        looks = select(looks, np.isin(np.arange(length(looks)), chosen_look(looks, threshold)))
    return Observed(
        positive=np.asarray(score >= threshold),
        score=score,
        condition=looks[FLAGS[condition]] == 1,
        visible=np.asarray(looks["foreshortening"] >= limit),
        curled=looks["curled"] == 1,
        scramble=looks["scramble"],
        point=looks["index"],
    )


def places(spec: CurlSpec, *, pooled_only: bool = False) -> list[tuple[dict[str, Any], int, int]]:
    """Columns that name a wire and an angle, and their indices: all angles together first, then each."""
    out = []
    for i, load in enumerate(spec.study.tip_loads):
        for j in (POOLED,) if pooled_only else (POOLED, *range(len(spec.study.angles))):
            angle = float("nan") if j == POOLED else spec.study.angles[j]
            out.append(({"tip_load_index": i, "angle_index": j, "tip_load": load, "angle": angle}, i, j))
    return out


def at_place(table: Table, i: int, j: int) -> Table:
    """Rows of a wire and an angle (-1: of all)."""
    if not length(table):
        return table
    here = table["tip_load_index"] == i
    return select(table, here if j == POOLED else here & (table["angle_index"] == j))


def solved_looks(looks: Table) -> Table:
    """Looks of insertions that were solved to their end."""
    return select(looks, events.solved(looks)) if length(looks) else looks


def most_looks(spec: CurlSpec) -> int:
    """Looks of an insertion that is read to its set end: what one not solved counts for among all looks."""
    return max(1, int(np.ceil(spec.study.advance_past_tear / spec.every - 1e-9)))


def tell_table(result: CurlResult) -> Table:
    """One row for each analysis, condition, wire and angle: counts, measures, prevalence, predictive values seen."""
    spec, out = result.spec, []
    looks = solved_looks(result.looks)
    for analysis in ANALYSES:
        for condition in CONDITIONS:
            for place, i, j in places(spec):
                rows, here = at_place(result.rows, i, j), at_place(looks, i, j)
                if not length(here):
                    continue
                ok = events.solved(rows)
                row = {"analysis": analysis, "condition": condition, **place}
                row |= {"n_insertions": length(rows), "n_not_solved": int(np.sum(~ok))}
                row["n_never_reached"] = int(np.sum(np.isnan(rows["reached"][ok])))
                o = observed(here, analysis, condition, spec.detector.threshold, spec.foreshortened)
                each = 1 if analysis == ANALYSES[0] else most_looks(spec)
                out.append(row | _counts(o) | _measures(o, each * row["n_not_solved"]) | _observed_values(o))
    return from_rows(out)


def _counts(o: Observed) -> dict[str, int]:
    """The fourfold table, and what stands behind its cells."""
    p, c = o.positive, o.condition
    return {
        "n": len(p),
        "tp": int(np.sum(p & c)),
        "fn": int(np.sum(~p & c)),
        "fp": int(np.sum(p & ~c)),
        "tn": int(np.sum(~p & ~c)),
        "fn_foreshortened": int(np.sum(~p & c & ~o.visible)),
        "tn_foreshortened": int(np.sum(~p & ~c & ~o.visible)),
        "tp_truly_curled": int(np.sum(p & c & o.curled)),
        "fn_truly_curled": int(np.sum(~p & c & o.curled)),
        "fp_truly_curled": int(np.sum(p & ~c & o.curled)),
        "tn_truly_curled": int(np.sum(~p & ~c & o.curled)),
    }


def _measures(o: Observed, unsolved: float) -> dict[str, Any]:
    """Every measure with interval, bounds and reason; area under the ROC curve."""
    counts = d.fourfold(o.positive, o.condition, o.all, o.scramble)
    whole = counts.sum(axis=0)
    row: dict[str, Any] = {}
    for name, event, use in (
        ("sensitivity", o.positive, o.condition),
        ("specificity", ~o.positive, ~o.condition),
    ):
        p = d.share(event, use, o.scramble, o.point)
        why = "" if p.n else f"no observation {'with' if name == 'sensitivity' else 'without'} the condition"
        row |= _columns(name, d.Measure(p.value, p.low, p.high, p.n, why)) | _bounds(name, whole, unsolved)
    for name in d.RATIOS:
        row |= _columns(name, d.ratio_measure(name, counts)) | _bounds(name, whole, unsolved)
    return row | _columns("area", d.area_measure(o.score, o.condition, o.all, o.scramble))


def _columns(name: str, m: d.Measure) -> dict[str, Any]:
    return {name: m.value, f"{name}_low": m.low, f"{name}_high": m.high, f"{name}_reason": m.reason}


def _bounds(name: str, whole: Array, unsolved: float) -> dict[str, float]:
    low, high = d.bounds(name, whole, unsolved)
    return {f"{name}_bound_low": low, f"{name}_bound_high": high}


def _observed_values(o: Observed) -> dict[str, float]:
    """Prevalence in the study, and the predictive values at it: shares, not by Bayes."""
    row: dict[str, float] = {}
    for name, event, use in (
        ("prevalence", o.condition, o.all),
        ("predictive_positive", o.condition, o.positive),
        ("predictive_negative", ~o.condition, ~o.positive),
    ):
        p = d.share(event, use, o.scramble, o.point)
        row |= {name: p.value, f"{name}_low": p.low, f"{name}_high": p.high}
    return row


def predictive_table(result: CurlResult, prevalences: Sequence[float]) -> Table:
    """Predictive values by Bayes over prevalence, one row for each analysis, condition, wire and prevalence."""
    spec, out, at = result.spec, [], np.array(prevalences)
    looks = solved_looks(result.looks)
    for analysis in ANALYSES:
        for condition in CONDITIONS:
            for place, i, j in places(spec, pooled_only=True):
                here = at_place(looks, i, j)
                if not length(here):
                    continue
                o = observed(here, analysis, condition, spec.detector.threshold, spec.foreshortened)
                counts = d.fourfold(o.positive, o.condition, o.all, o.scramble)
                row: dict[str, Any] = {"analysis": analysis, "condition": condition, **place}
                found: dict[str, Array] = {}
                for name, ratio, by in (
                    ("predictive_positive", "likelihood_positive", d.predictive_positive),
                    ("predictive_negative", "likelihood_negative", d.predictive_negative),
                ):
                    m = d.ratio_measure(ratio, counts)
                    found |= dict(zip((name, f"{name}_low", f"{name}_high"), by(m, at), strict=True))
                    row[f"{name}_reason"] = m.reason
                for k, prevalence in enumerate(prevalences):
                    values = {name: float(v[k]) for name, v in found.items()}
                    out.append(row | {"prevalence_assumed": prevalence} | values)
    return from_rows(out)


def threshold_table(result: CurlResult, thresholds: Sequence[float]) -> Table:
    """Sensitivity and specificity at each threshold of the score, over all angles.

    In the primary analysis `_anew` is with the look chosen anew at each threshold, so that the condition may change
    with it; without, the look and with it the condition are those at the detector's own threshold (the ROC curve).
    """
    spec, out = result.spec, []
    looks = solved_looks(result.looks)
    for analysis in ANALYSES:
        for condition in CONDITIONS:
            for place, i, j in places(spec, pooled_only=True):
                here = at_place(looks, i, j)
                if not length(here):
                    continue
                held = observed(here, analysis, condition, spec.detector.threshold, spec.foreshortened)
                for threshold in sorted({*thresholds, spec.detector.threshold}):
                    row: dict[str, Any] = {"analysis": analysis, "condition": condition, **place}
                    row |= {"threshold": threshold, "own": int(threshold == spec.detector.threshold)}
                    anew = observed(here, analysis, condition, threshold, spec.foreshortened)
                    for end, o in (("", held), ("_anew", anew)):
                        out_of = o.score >= threshold
                        for name, event, use in (
                            ("sensitivity", out_of, o.condition),
                            ("specificity", ~out_of, ~o.condition),
                        ):
                            p = d.share(event, use, o.scramble, o.point)
                            row |= {f"{name}{end}": p.value, f"{name}{end}_low": p.low, f"{name}{end}_high": p.high}
                    out.append(row)
    return from_rows(out)


def roc_table(result: CurlResult) -> Table:
    """Corners of the ROC curve of each analysis, condition and wire over all angles, from the strictest threshold."""
    spec, parts = result.spec, []
    looks = solved_looks(result.looks)
    for analysis in ANALYSES:
        for condition in CONDITIONS:
            for place, i, j in places(spec, pooled_only=True):
                here = at_place(looks, i, j)
                if not length(here):
                    continue
                o = observed(here, analysis, condition, spec.detector.threshold, spec.foreshortened)
                named = {"analysis": analysis, "condition": condition, **place}
                for at, alarms, hits in zip(*d.curve(o.score, o.condition), strict=True):
                    parts.append(named | {"threshold": at, "false_positive_rate": alarms, "sensitivity": hits})
    return from_rows(parts)


def tables_of(result: CurlResult, asked: Asked) -> dict[str, Table]:
    """All tables of a study by name."""
    return {
        "tells": tell_table(result),
        "predictive": predictive_table(result, asked.prevalences),
        "thresholds": threshold_table(result, asked.thresholds),
        "roc": roc_table(result),
    }
