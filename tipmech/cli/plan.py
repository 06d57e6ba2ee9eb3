"""`tipmech plan`: what a study of any kind would compute, how long it would take here, how sharp it would be."""

from pathlib import Path

from typer import echo

from ..files.kind import CHECKS, READERS, kind_of
from ..study.ahead import Ahead, look_ahead
from ..study.spec import StudySpec
from .compare import run_plan
from .study_posterior import columns_of
from .terminal import print_json, print_table, progress


def run(file: Path, workers: int | None, pilot: int, *, as_json: bool) -> None:
    """Plan of a study file."""
    kind = kind_of(file)
    if kind == "compare":
        return run_plan(file, workers, pilot, as_json=as_json)
    tables = CHECKS[kind](file)
    columns = columns_of(file, tables)
    with progress("wires: tip-load bench", quiet=as_json):
        spec = READERS[kind](file) if columns is None else READERS[kind](file, scales=columns.scales)
    study = spec if isinstance(spec, StudySpec) else spec.study
    with progress("pilot", quiet=as_json):
        ahead = look_ahead(spec, pilot, workers or study.workers)
    if as_json:
        told = vars(ahead) | {"sharpness": vars(ahead.sharpness), "wall_time_s": ahead.wall_time}
        return print_json({"plan": {"kind": kind} | told})
    echo(f"{spec.name}: {kind}, {study.base.name}")
    for line in lines_of(ahead):
        echo(line)
    sharp = ahead.sharpness
    if not sharp.values:
        for words, values in sharp.rows:
            echo(f"{words} {values[0]:.2f}, {values[1]:.2f}")
        return None
    rows = [(words, *(f"{v:.2f}" for v in values)) for words, values in sharp.rows]
    title = f"half-widths of 95 % intervals to expect,\nby {sharp.assumed} (assumed)"
    print_table(title, ("of", *(f"{v:g}" for v in sharp.values)), rows, numbers=True)
    return None


def lines_of(ahead: Ahead) -> list[str]:
    """The plan in lines."""
    first = f"{ahead.sizes}: {ahead.count} {ahead.runs}, in {ahead.chunks} chunks"
    if not ahead.count:
        return [f"{first}: no angle fits the vessel"]
    about = f"{ahead.seconds:.2f} s each here (mean of {ahead.pilot}, slowest {ahead.slowest:.2f})"
    return [first, f"{about}: about {_time(ahead.wall_time)} with {ahead.workers} workers"]


def _time(seconds: float) -> str:
    """A duration in words."""
    if seconds < 90.0:
        return f"{seconds:.0f} s"
    return f"{seconds / 60.0:.1f} min" if seconds < 5400.0 else f"{seconds / 3600.0:.1f} h"
