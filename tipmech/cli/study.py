"""`tipmech map` and `tipmech threshold`: run a study with progress, draw its figures, print its cells."""

from math import degrees, isfinite
from pathlib import Path
from typing import Any

from ..files.study import read_map, read_threshold
from ..show.curls import with_curls
from ..show.maps import incidence_figure, map_figure, range_words
from ..show.style import save
from ..show.thresholds import threshold_figure
from ..study.estimates import wider_interval
from ..study.execute import OnProgress, Progress
from ..study.run_map import run_map
from ..study.run_threshold import run_threshold
from ..study.uncertainty import uncertainty_text
from ..units import from_si
from .terminal import Report, finish, print_json, print_table, progress

SPLIT = ("curls in\nthe false\nlumen", "curls in\nthe true\nlumen")


def run_map_file(file: Path, out: Path, workers: int | None, *, as_json: bool, overwrite: bool) -> None:
    """Map of a study file."""
    with progress("wires: tip-load bench", quiet=as_json):
        spec = read_map(file)
    with progress("map", quiet=as_json) as report:
        result = with_curls(run_map(spec, out, workers, overwrite, _reporter(report)))
    note = uncertainty_text(code=result.manifest["code"])
    paths = [
        save(map_figure(result, note), out / "map.png"),
        save(incidence_figure(result, note), out / "incidence.png"),
    ]
    paths += [out / name for name in ("cells.csv", "cells.parquet", "rows.parquet")]
    if as_json:
        print_json({"manifest": result.manifest, "cells": result.cells, "files": paths})
        return
    names = ("entered", "extended", "curled_false", "curled_true")
    rows = []
    for cell in _lines(result.cells):
        place = _place(cell)
        if not cell["feasible"]:
            rows.append((place, "does not\nfit", *[""] * (len(names) + 1)))
            continue
        rows.append((place, f"{cell['n_solved']}/{cell['n']}", *(_chance(cell, n) for n in names), _area(cell)))
    head = ("tip\nload,\nangle", "solved", "enters", "extends", *SPLIT, "area,\nmm²")
    title = f"{spec.name} (probabilities with 95 % intervals, given an opening; area: newly opened)\n"
    print_table(f"{title}P(tip reaches the tear): {range_words(result.cells['p_reached'])}", head, rows, numbers=True)
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
            _place(c),
            str(c["n"]),
            _interval(c, "p50", 1e3),
            f"{c['scale_median'] * 1e3:.3g}",
            _interval(c, "ratio", 1.0),
            str(c["n_non_monotone"]),
            str(c["n_not_solved"]),
        )
        for c in _lines(result.cells)
    ]
    head = ("tip\nload,\nangle", "cases", "P50, mN", "2 EI/Wc²,\nmN", "P50\nratio", "non-\nmonotone", "not\nsolved")
    print_table(f"{spec.name}: front force at which the tip curls first", head, rows, numbers=True)
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


def _place(cell: dict[str, Any]) -> str:
    """Tip load and angle of a cell."""
    return f"{from_si(cell['tip_load'], 'gf'):.3g} gf\n{degrees(cell['angle']):.0f}°"


def _chance(cell: dict[str, Any], name: str) -> str:
    """Probability with the wider of the scrambles' and Wilson's interval, as a map prints it."""
    p = cell.get(f"p_{name}", float("nan"))
    if not isfinite(p):
        return "-"
    low, high = wider_interval(*(cell[f"p_{name}_{end}"] for end in ("low", "high", "wilson_low", "wilson_high")))
    return f"{p:.2f}\n{low:.2f}-{high:.2f}"


def _area(cell: dict[str, Any]) -> str:
    area = cell["opened_area"]
    return f"{round(from_si(area, 'mm2'), 4):.2g}" if isfinite(area) else "-"


def _interval(cell: dict[str, Any], name: str, factor: float) -> str:
    """Median with interval; a censored median as what is known of it."""
    middle, low, high = (cell[f"{name}{end}"] for end in ("", "_low", "_high"))
    if not isfinite(middle):
        return _censored(cell, name, factor)
    if isfinite(high):
        inside = f"{low * factor:.3g}-{high * factor:.3g}"
    else:
        inside = f"from {low * factor:.3g}" if low > 0.0 else "no interval"
    return f"{middle * factor:.3g}\n{inside}"


def _censored(cell: dict[str, Any], name: str, factor: float) -> str:
    """Where a median lies that the ladder did not bracket."""
    below, above = cell[f"{name}_bracket_low"], cell[f"{name}_bracket_high"]
    if below > 0.0 and not isfinite(above):
        where, cases = f"above {below * factor:.3g}", f"{cell['n_never_curled']} of {cell['n']} cases\nnever curled"
    elif below == 0.0 and isfinite(above):
        where, cases = f"below {above * factor:.3g}", f"{cell['n_always_curled']} of {cell['n']} cases\nalways curled"
    else:
        open_ = cell["n_not_solved"] + cell["n_neither"]
        where, cases = "undecided", f"{open_} of {cell['n']} cases\nnot solved, or neither"
    if name == "ratio":  # stands beside the P50, which says why
        return where
    return f"{where}{' mN' if where != 'undecided' else ''}:\n{cases}\non the ladder"
