"""Results of a comparison: planned and exploratory differences, trend, odds, sample size, replicates, cells."""

from math import isfinite, nan
from typing import Any

from ...study.compare_spec import FEWEST_SCRAMBLES
from ...study.factors import factor_words, level_words
from ...study.pairs import POOLED
from ...study.run_compare import unreached
from ...study.table import length
from ...units import from_si
from ..compare import DRAWN, words_of
from .folder import Finished, lines
from .numbers import angle, area, interval, load, number, probability, signed
from .parts import NONE, Block, Text, grid

MOST_CELLS = 120  # rows of a table by arm, angle and design: beyond it the file has them all


def compare_results(study: Finished) -> list[Block]:
    """All tables of a comparison."""
    plan, words = study.spec["plan"], words_of(study.rows)
    share = number(100.0 * (1.0 - plan["level"]))
    planned = (
        f"Planned before any insertion: {words[plan['outcome']]}; margin {number(plan['margin'])} (of an area: times "
        f"the "
        f"reference's mean), level {number(plan['level'])} for the whole family of designs (Holm). Intervals are at "
        f"{share} %, single comparisons."
    )
    pooled = [r for r in lines(study.tables["comparisons"]) if r["arm"] == POOLED]
    single = [r for r in lines(study.tables["comparisons"]) if r["arm"] != POOLED and r["outcome"] == plan["outcome"]]
    out: list[Block] = [Text(planned), *_precision(study)]
    out.append(_differences("Each design less the reference, over all arms and angles", pooled, words, False))
    out += _trends(study)
    out += _odds(study)
    out += _sizes(study)
    out += _replicates(study)
    if len(single) <= MOST_CELLS:
        out.append(_differences("The planned outcome in each arm and angle (exploratory)", single, words, True))
    else:
        out.append(Text(f"Differences by arm and angle ({len(single)} rows, exploratory) are in comparisons.csv."))
    return [*out, *_cells(study)]


def _precision(study: Finished) -> list[Block]:
    """Whether every cell has the half-width wanted; a word on few scrambles."""
    out: list[Block] = []
    wanted, cells = study.spec["plan"]["half_width"], study.tables["cells"]
    if wanted is not None and "half_width_reached" in cells:
        wide, all_cells = unreached(cells), length(cells)
        told = f"not reached in {wide} of {all_cells} cells (cells.csv)" if wide else f"reached in all {all_cells}"
        out.append(Text(f"Wanted half-width of every cell's interval: {number(wanted)}; {told}."))
    scrambles = study.spec["study"]["scrambles"]
    if scrambles < FEWEST_SCRAMBLES:
        out.append(Text(f"Only {scrambles} scrambles: intervals rest on few; {FEWEST_SCRAMBLES} or more are advised."))
    return out


def _differences(caption: str, rows: list[dict[str, Any]], words: dict[str, str], by_arm: bool) -> Block:
    """Paired differences with intervals, bounds, counts, p and verdict."""
    told = []
    for r in rows:
        unit, word = (1e6, " mm²") if r["unit"] == "m2" else (1.0, "")
        ends = (r["difference_low"] * unit, r["difference_high"] * unit)
        alone = (r["only_design"], r["only_reference"])
        where = (f"{r['arm']}, {angle(r['angle'])}",) if by_arm else ()
        told.append(
            (
                f"{_design(r)} less {_design(r, 'reference_')}",
                *where,
                words[r["outcome"]],
                f"{number(r['mean'] * unit)} / {number(r['mean_reference'] * unit)}{word}",
                f"{signed(r['difference'] * unit)}{word}\n{interval(*ends, signed)}",
                _bounds(r, unit),
                f"{number(r['ratio'])}\n{interval(r['ratio_low'], r['ratio_high'])}",
                " / ".join(number(v) for v in alone) if isfinite(alone[0]) else NONE,
                f"{r['n']}, {r['left_out']} left out",
                f"{number(r['p_adjusted'], 2)}",
                number(r.get("p_equivalent", nan), 2),
                f"{r['verdict']}" + ("" if r["family"] == "planned" else " (exploratory)"),
            )
        )
    head = (
        "designs",
        *(("arm, angle",) if by_arm else ()),
        "outcome",
        "design / reference",
        "difference, interval",
        "bounds for unsolved, with their intervals",
        "ratio, interval",
        "design / reference alone",
        "pairs",
        "p, Holm",
        "p of equivalence, Holm",
        "verdict",
    )
    return grid(caption, head, told, "comparisons.parquet")


def _bounds(row: dict[str, Any], unit: float) -> str:
    """Difference with all unsolved runs counted toward either end; below, how far sampling error takes these ends."""
    told = interval(row["bound_low"] * unit, row["bound_high"] * unit, signed)
    if "bound_low_end" not in row or not row["left_out"]:
        return told
    return f"{told}\n{interval(row['bound_low_end'] * unit, row['bound_high_end'] * unit, signed)}"


def _trends(study: Finished) -> list[Block]:
    """Change per doubling of what tells the designs apart, over all arms and angles."""
    if "trends" not in study.tables:
        return [Text("No trend: the designs have no scale along which there could be one.")]
    rows, words, along = [], words_of(study.rows), factor_words(study.by)
    for r in lines(study.tables["trends"]):
        if r["arm"] != POOLED:
            continue
        unit, word = (1e6, " mm²") if r["outcome"] == "opened_area" else (1.0, "")
        ends = interval(r["per_doubling_low"] * unit, r["per_doubling_high"] * unit, signed)
        pairs = f"{r['n']}, {r['left_out']} left out"
        rows.append((words[r["outcome"]], f"{signed(r['per_doubling'] * unit)}{word}", ends, number(r["p"], 2), pairs))
    head = ("outcome", f"change per doubling of the {along}", "interval", "p", "points")
    return [grid(f"Trend over {along}, over all arms and angles", head, rows, "trends.parquet")]


def _odds(study: Finished) -> list[Block]:
    """Odds ratios of the logistic model, or why there are none."""
    if "interactions" not in study.tables:
        return [Text("No model of the odds: the planned outcome is an area, or the table interactions is not there.")]
    rows = [
        (
            r["term"],
            number(r["odds_ratio"]),
            interval(r["odds_ratio_low"], r["odds_ratio_high"]),
            number(r["p"], 2),
            r["fit"],
        )
        for r in lines(study.tables["interactions"])
    ]
    caption = "Odds ratios of the planned outcome: generalised estimating equations, clusters the scrambles"
    return [grid(caption, ("term", "odds ratio", "interval", "p", "fit"), rows, "interactions.parquet")]


def _sizes(study: Finished) -> list[Block]:
    """Points needed: of an event by the share of points that differ, of an area by the spread of the differences."""
    if "sizes" not in study.tables:
        return [Text("No sample sizes: of the area that a single insertion opens none are given.")]
    of_area = "spread" in study.tables["sizes"]
    unit, difference, spread = (1e6, "difference", "spread") if of_area else (1.0, "risk_difference", "discordant")
    rows = [
        (
            _design(r),
            number(unit * r[difference]) + (" (seen)" if r["seen"] else ""),
            number(unit * r[spread]),
            number(r.get("design_effect", nan), 2),
            number(r["points"], 6),
            number(r["power_here"], 2),
        )
        for r in lines(study.tables["sizes"])
    ]
    of = "of the mean, in the normal limit" if of_area else "by McNemar's test (Connor 1987, from memory)"
    caption = f"Points for a power of {number(study.spec['plan']['power'])}, {of}"
    told = ("difference, mm²", "standard deviation of the points' differences, mm²")
    if not of_area:
        told = ("risk difference", "share of points that differ")
    return [
        grid(
            caption,
            ("design", *told, "design effect of the pairs", "points needed in each arm and angle", "power here"),
            rows,
            "sizes.parquet",
        )
    ]


def _replicates(study: Finished) -> list[Block]:
    """Family of results over draws of the shared unknowns."""
    if "replicates" not in study.tables:
        return []
    of_area = study.spec["plan"]["outcome"] == "opened_area"
    rows = []
    for r in lines(study.tables["replicates"]):
        mean = from_si(r["mean"], "mm2") if of_area else r["mean"]
        unit = 1e6 if of_area else 1.0
        value, low, high = (unit * r.get(f"difference{end}", nan) for end in ("", "_low", "_high"))
        less = f"{signed(value)}\n{interval(low, high, signed)}" if isfinite(value) else NONE
        rows.append((f"replicate {r['replicate']}", _design(r), number(mean), less, str(r["n"])))
    head = (
        "draw of the shared unknowns",
        "design",
        f"mean of the planned outcome{', mm²' if of_area else ''}",
        "less the reference, interval given the draw",
        "solved",
    )
    return [grid("Family of results over the shared unknowns", head, rows, "replicates.parquet")]


def _cells(study: Finished) -> list[Block]:
    """Probability of each event in each arm, angle and design."""
    cells = lines(study.tables["cells"])
    if len(cells) > MOST_CELLS:
        return [Text(f"Estimates of the {len(cells)} cells are in cells.csv.")]
    factors = [name for name in study.tables["cells"] if name.startswith("f_")]
    shown, procedures = words_of(study.rows), study.of_procedures
    events = DRAWN[procedures]
    more = ("opened_area", "attempts") if procedures else ("opened_area",)
    rows = []
    for c in cells:
        levels = "; ".join(f"{factor_words(f[2:])} {level_words(f[2:], c[f])}" for f in factors)
        each = [
            f"{probability(c[f'p_{n}'])}\n{interval(c[f'p_{n}_low'], c[f'p_{n}_high'], probability)}" for n in events
        ]
        means = [_area(c) if n == "opened_area" else number(c[n]) for n in more]
        where = f"arm {c['arm']}, {_design(c)}, {angle(c['angle'])}"
        rows.append((where, levels or NONE, f"{c['n_solved']}/{c['n']}", *each, *means))
    means_of = ("opened area, mean, mm²", *(("attempts, mean",) if procedures else ()))
    head = ("cell", "levels of the factors", "solved / run", *(shown[n] for n in events), *means_of)
    runs = "procedures" if procedures else "insertions"
    caption = f"Probabilities of each cell; 95 % interval (Wilson's of the effective number of {runs}) below"
    return [grid(caption, head, rows, "cells.parquet")]


def _area(cell: dict[str, Any]) -> str:
    """Mean opened area of a cell with its interval; folders of earlier code have none."""
    if "opened_area_low" not in cell:
        return area(cell["opened_area"])
    return f"{area(cell['opened_area'])}\n{interval(cell['opened_area_low'], cell['opened_area_high'], area)}"


def _design(row: dict[str, Any], of: str = "") -> str:
    """A design in words; folders of earlier code name it by its tip load alone."""
    return str(row[f"{of or 'design_'}words"]) if f"{of or 'design_'}words" in row else load(row[f"{of}tip_load"])
