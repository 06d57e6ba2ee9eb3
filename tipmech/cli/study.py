"""`tipmech map` and `tipmech threshold`: run a study with progress, draw its figures, print its cells."""

from math import degrees, isfinite
from pathlib import Path
from typing import Any

from ..files.study import read_map, read_threshold
from ..lab.map_over import map_over
from ..show.curls import incidence_figure, with_curls
from ..show.maps import insertions_words, map_figure, range_words
from ..show.style import save
from ..show.thresholds import threshold_figure
from ..study.estimates import wider_interval
from ..study.execute import OnProgress, Progress
from ..study.run_map import run_map
from ..study.run_threshold import run_threshold
from ..study.store import read_store
from ..study.table import to_rows
from ..study.uncertainty import uncertainty_text
from ..units import from_si
from .scheduler import workers_of
from .study_posterior import EVENTS, Columns, over_rows
from .terminal import Report, finish, print_json, print_table, progress

SPLIT = ("curls in\nthe false\nlumen", "curls in\nthe true\nlumen")


def run_map_file(
    file: Path,
    out: Path,
    workers: int | None,
    *,
    as_json: bool,
    overwrite: bool,
    columns: Columns | None = None,
    scheduler: str | None = None,
) -> None:
    """Map of a study file; columns: wires of a calibration, where the file names one."""
    with progress("wires: tip-load bench", quiet=as_json):
        spec = read_map(file) if columns is None else read_map(file, scales=columns.scales)
    with workers_of(scheduler, workers or spec.workers) as found, progress("map", quiet=as_json) as report:
        result = with_curls(run_map(spec, out, found, overwrite, _reporter(report)))
    store = read_store(out)  # the tables say what the figures show: curls split by lumen, the curves that are drawn
    store.put_table("cells", result.cells)
    store.put_table("incidence", result.incidence)
    over = None if columns is None else map_over(spec, result.rows)
    if over is not None:
        store.put_table("calibration", over)
    note = _note(result.manifest["code"], columns)
    paths = [
        save(map_figure(result, note), out / "map.png"),
        save(incidence_figure(result, note), out / "incidence.png"),
    ]
    paths += _written(out, "cells", "rows", "incidence", *(["calibration"] if over is not None else []))
    if as_json:
        more = {} if over is None else {"over_calibration": over}
        print_json({"manifest": result.manifest, "cells": result.cells, **more, "files": paths})
        return
    names = ("entered", "extended", "curled_false", "curled_true")
    rows = []
    for cell in to_rows(result.cells):
        place = _place(cell)
        if not cell["feasible"]:
            rows.append((place, "does not\nfit", *[""] * (len(names) + 1)))
            continue
        rows.append((place, f"{cell['n_solved']}/{cell['n']}", *(_chance(cell, n) for n in names), _area(cell)))
    head = ("tip\nload,\nangle", "solved", "enters", "extends", *SPLIT, "area,\nmm²")
    title = (
        f"{spec.name} (probabilities with 95 % intervals, given an opening; area: newly opened)",
        f"wire: {spec.base.name}; {insertions_words(result.cells)}",
        f"P(tip reaches the tear): {range_words(result.cells['p_reached'])}",
        *([] if columns is None else [columns.words()]),
    )
    print_table("\n".join(title), head, rows, numbers=True)
    if over is not None:
        about = (
            "all columns together: mean over the wires (95 %, from the scrambles); below, least to most over the wires"
        )
        print_table(about, ("angle", "solved", *EVENTS), over_rows(to_rows(over)), numbers=True)
    finish(paths)


def run_threshold_file(
    file: Path,
    out: Path,
    workers: int | None,
    *,
    as_json: bool,
    overwrite: bool,
    columns: Columns | None = None,
    scheduler: str | None = None,
) -> None:
    """Thresholds of a study file; columns: wires of a calibration, where the file names one."""
    with progress("wires: tip-load bench", quiet=as_json):
        spec = read_threshold(file) if columns is None else read_threshold(file, scales=columns.scales)
    workers = workers or spec.study.workers
    with workers_of(scheduler, workers) as found, progress("thresholds", quiet=as_json) as report:
        result = run_threshold(spec, out, found, overwrite, _reporter(report))
    note = _note(result.manifest["code"], columns)
    paths = [save(threshold_figure(result, note), out / "threshold.png")]
    paths += _written(out, "cells", "rows")
    if as_json:
        print_json({"manifest": result.manifest, "cells": result.cells, "files": paths})
        return
    rows = [
        (
            _place(c),
            _interval(c, "p50", 1e3),
            _three(c["scale_median"] * 1e3),
            _interval(c, "ratio", 1.0),
            _of(c, "n_non_monotone", "n"),
            _of(c, "n_not_solved", "n"),
            _of(c, "unsolved_runs", "runs"),
            _of(c, "neither_rungs", "rungs"),
        )
        for c in to_rows(result.cells)
    ]
    head = (
        "tip\nload,\nangle",
        "P50, mN",
        "2 EI/\nWc²,\nmN",
        "P50\nratio",
        "cases\nnon-\nmono-\ntone",
        "cases\nnot\nsolved",
        "runs\nnot\nsolved",
        "rungs\nwith\nneither",
    )
    title = (
        f"{spec.name}: front force at which the tip curls first",
        f"wire: {spec.study.base.name}; neither: no curl and no front driven on within the advance",
        *([] if columns is None else [columns.words()]),
    )
    print_table("\n".join(title), head, rows, numbers=True)
    finish(paths)


def _note(code: str, columns: Columns | None) -> str:
    """Note of a study's figures: the numerical uncertainty, and what the columns are where they are a calibration's."""
    note = uncertainty_text(code=code)
    return note if columns is None else f"{columns.words()}\n{note}"


def _reporter(report: Report) -> OnProgress:
    """Study progress into the bar."""

    def inner(state: Progress) -> None:
        report(state.done, state.total)

    return inner


def _written(out: Path, *tables: str) -> list[Path]:
    """Files of a study's tables, and its manifest."""
    return [*(out / f"{name}.{end}" for name in tables for end in ("csv", "parquet")), out / "manifest.json"]


def _of(cell: dict[str, Any], part: str, whole: str) -> str:
    """A count and of how many."""
    return f"{cell[part]}\nof {cell[whole]}"


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


def _three(value: float) -> str:
    """Three digits without an exponent."""
    return f"{float(f'{value:.3g}'):g}"


def _interval(cell: dict[str, Any], name: str, factor: float) -> str:
    """Median with interval; a censored median as what is known of it."""
    middle, low, high = (cell[f"{name}{end}"] for end in ("", "_low", "_high"))
    if not isfinite(middle):
        return _censored(cell, name, factor)
    if isfinite(high):
        inside = f"{_three(low * factor)}-{_three(high * factor)}"
    else:
        inside = f"from {_three(low * factor)}" if low > 0.0 else "no interval"
    return f"{_three(middle * factor)}\n{inside}"


def _censored(cell: dict[str, Any], name: str, factor: float) -> str:
    """Where a median lies that the ladder did not bracket."""
    below, above = cell[f"{name}_bracket_low"], cell[f"{name}_bracket_high"]
    if below > 0.0 and not isfinite(above):
        where, cases = f"above {_three(below * factor)}", f"{cell['n_never_curled']} of {cell['n']} cases\nnever curled"
    elif below == 0.0 and isfinite(above):
        where, cases = (
            f"below {_three(above * factor)}",
            f"{cell['n_always_curled']} of {cell['n']} cases\nalways curled",
        )
    else:
        open_ = cell["n_not_solved"] + cell["n_neither"]
        where, cases = "undecided", f"{open_} of {cell['n']} cases\nnot solved\nor neither"
    if name == "ratio":  # stands beside the P50, which says why
        return where
    return f"{where}{' mN' if where != 'undecided' else ''}:\n{cases}\non the ladder"
