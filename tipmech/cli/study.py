"""`tipmech map` and `tipmech threshold`: run a study with progress, draw its figures, print its cells."""

from math import degrees, isfinite
from pathlib import Path
from typing import Any

from ..files.study import read_map, read_threshold
from ..show.maps import incidence_figure, map_figure
from ..show.style import save
from ..show.thresholds import threshold_figure
from ..study.execute import OnProgress, Progress
from ..study.run_map import run_map
from ..study.run_threshold import run_threshold
from ..study.uncertainty import uncertainty_text
from ..units import from_si
from .terminal import Report, finish, print_json, print_table, progress


def run_map_file(file: Path, out: Path, workers: int | None, *, as_json: bool, overwrite: bool) -> None:
    """Map of a study file."""
    with progress("wires: tip-load bench", quiet=as_json):
        spec = read_map(file)
    with progress("map", quiet=as_json) as report:
        result = run_map(spec, out, workers, overwrite, _reporter(report))
    note = uncertainty_text(code=result.manifest["code"])
    paths = [
        save(map_figure(result, note), out / "map.png"),
        save(incidence_figure(result, note), out / "incidence.png"),
    ]
    paths += [out / name for name in ("cells.csv", "cells.parquet", "rows.parquet")]
    if as_json:
        print_json({"manifest": result.manifest, "cells": result.cells, "files": paths})
        return
    names = ("reached", "entered", "extended", "curled")
    rows = []
    for cell in _lines(result.cells):
        place = (f"{from_si(cell['tip_load'], 'gf'):.3g}", f"{degrees(cell['angle']):.0f}")
        if not cell["feasible"]:
            rows.append((*place, "does not fit", *[""] * (len(names) + 1)))
            continue
        rows.append((*place, f"{cell['n_solved']}/{cell['n']}", *(_chance(cell, n) for n in names), _area(cell)))
    head = ("tip load, gf", "angle, °", "solved", "reaches", "enters", "extends", "curls", "opened, mm²")
    print_table(f"{spec.name} (probabilities with 95 % intervals, given an opening)", head, rows)
    finish(paths)


def run_threshold_file(file: Path, out: Path, workers: int | None, *, as_json: bool, overwrite: bool) -> None:
    """Thresholds of a study file."""
    with progress("wires: tip-load bench", quiet=as_json):
        spec = read_threshold(file)
    with progress("thresholds", quiet=as_json) as report:
        result = run_threshold(spec, out, workers, overwrite, _reporter(report))
    note = uncertainty_text(code=result.manifest["code"])
    paths = [save(threshold_figure(result, note), out / "threshold.png")]
    paths += [out / name for name in ("cells.csv", "cells.parquet", "rows.parquet")]
    if as_json:
        print_json({"manifest": result.manifest, "cells": result.cells, "files": paths})
        return
    rows = [
        (
            f"{from_si(c['tip_load'], 'gf'):.3g}",
            f"{degrees(c['angle']):.0f}",
            str(c["n"]),
            _interval(c, "p50", 1e3),
            f"{c['scale_median'] * 1e3:.3g}",
            _interval(c, "ratio", 1.0),
            str(c["n_non_monotone"]),
            str(c["n_not_solved"]),
        )
        for c in _lines(result.cells)
    ]
    head = ("tip load, gf", "angle, °", "cases", "P50, mN", "2 EI/Wc², mN", "P50 ratio", "non-monotone", "not solved")
    print_table(f"{spec.name}: front force at which the tip curls first", head, rows)
    finish(paths)


def _reporter(report: Report) -> OnProgress:
    """Study progress into the bar."""

    def inner(state: Progress) -> None:
        report(state.done, state.total)

    return inner


def _lines(table: dict[str, Any]) -> list[dict[str, Any]]:
    """Rows of a table of columns."""
    names = list(table)
    return [dict(zip(names, values, strict=True)) for values in zip(*(table[n].tolist() for n in names), strict=True)]


def _chance(cell: dict[str, Any], name: str) -> str:
    """Probability with its interval from the scrambles."""
    p = cell.get(f"p_{name}", float("nan"))
    if not isfinite(p):
        return "-"
    low, high = cell[f"p_{name}_low"], cell[f"p_{name}_high"]
    return f"{p:.2f} ({low:.2f}-{high:.2f})" if isfinite(low) else f"{p:.2f} (no interval: one scramble)"


def _area(cell: dict[str, Any]) -> str:
    area = cell["opened_area"]
    return f"{round(from_si(area, 'mm2'), 4):.2g}" if isfinite(area) else "-"


def _interval(cell: dict[str, Any], name: str, factor: float) -> str:
    """Median with interval; censored ends in words."""
    middle, low, high = (cell[f"{name}{end}"] for end in ("", "_low", "_high"))
    inside = (
        f"{low * factor:.3g}-{high * factor:.3g}" if isfinite(low) and isfinite(high) else f"from {low * factor:.3g}"
    )
    return f"{middle * factor:.3g} ({inside})" if isfinite(middle) else f"undecided ({inside})"
