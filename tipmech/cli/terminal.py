"""What the commands share: progress with time left, tables, JSON, and the guard against overwriting."""

import json
import warnings
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from math import isfinite
from pathlib import Path
from typing import Any

import typer

from .. import CAUTION, __version__
from ..checks import InputError
from ..whole import whole_file

WIDEST = 10_000  # characters of a table that is not broken
INTERRUPTED = 130  # exit code of a program ended by Ctrl-C (128 + SIGINT), common practice

Report = Callable[[float, float], None]
"""Progress: (done, total)."""


@contextmanager
def progress(title: str, *, quiet: bool = False) -> Iterator[Report]:
    """Progress bar with time left on stderr while the block runs; gives the callback (done, total).

    Nothing is drawn where stderr is no terminal: a file would only get empty lines.
    """
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        Progress,
        TaskProgressColumn,
        TextColumn,
        TimeElapsedColumn,
        TimeRemainingColumn,
    )

    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        TaskProgressColumn(),
        TextColumn("left"),
        TimeRemainingColumn(),
        TextColumn("elapsed"),
        TimeElapsedColumn(),
    )
    console = Console(stderr=True)
    with Progress(*columns, console=console, transient=True, disable=quiet or not console.is_terminal) as bar:
        task = bar.add_task(title, total=None)

        def report(done: float, total: float) -> None:
            bar.update(task, completed=done, total=total)

        yield report


@contextmanager
def resumable(folder: Path, *, overwrite: bool, chunks: str | None = None) -> Iterator[None]:
    """Hold a study's folder, and say in one line each: which parts are damaged and computed again, that a report went,
    and what Ctrl-C leaves of the study, which ends with the exit code of an interrupted program.

    chunks : URL under which finished parts are to lie in place of the folder
    """
    from ..study.hold import held
    from ..study.store import DamagedChunks, OutdatedReport, place_chunks, reports_kept_true

    def show(message: Warning | str, category: type[Warning], *more: Any, **options: Any) -> None:
        if issubclass(category, DamagedChunks | OutdatedReport):
            typer.echo(str(message), err=True)
        else:
            usual(message, category, *more, **options)

    try:
        with held(folder), warnings.catch_warnings():
            usual, warnings.showwarning = warnings.showwarning, show
            if chunks is not None:
                place_chunks(folder, chunks)
            with reports_kept_true(folder):
                yield
    except KeyboardInterrupt:
        same = "the same command without --overwrite" if overwrite else "the same command"
        typer.echo(f"stopped: finished parts are kept in {folder}; {same} goes on from there", err=True)
        raise typer.Exit(INTERRUPTED) from None


def print_table(
    title: str, head: Sequence[str], rows: Iterable[Sequence[str]], *, numbers: bool = False, apart: bool = True
) -> None:
    """Print a table: first column left, the others right.

    numbers : cells of a study, set so close that they fit 80 columns; nothing is broken over lines or cut: a table that
        needs more room than the terminal has takes it
    apart : their rows with a line between them
    """
    from rich.box import SIMPLE_HEAD
    from rich.console import Console
    from rich.markup import escape
    from rich.measure import Measurement
    from rich.table import Table

    close: dict[str, Any] = {"box": SIMPLE_HEAD, "padding": (0, 1), "collapse_padding": True, "pad_edge": False}
    options = close | {"show_lines": apart} if numbers else {}
    table = Table(title=title, title_justify="left", header_style="bold", **options)
    for k, name in enumerate(head):
        table.add_column(name, justify="left" if k == 0 else "right", overflow="fold", no_wrap=numbers)
    for row in rows:
        table.add_row(*(escape(cell) for cell in row))
    console = Console()
    need = Measurement.get(console, console.options.update(max_width=WIDEST), table).maximum if numbers else 0
    (Console(width=need) if need > console.width else console).print(table)


def finish(paths: Sequence[Path]) -> None:
    """Print the paths of what was written, then the caution."""
    for path in paths:
        typer.echo(str(path))
    typer.echo(CAUTION)


def print_json(data: Any) -> None:
    """Print plain data as one JSON document; nan and infinities become null."""
    typer.echo(json.dumps(clean(data), allow_nan=False))


def write_json(data: Any, path: Path) -> Path:
    """Write plain data as JSON, under a temporary name first, with version and caution."""
    whole = {"tipmech_version": __version__, "caution": CAUTION, **clean(data)}
    with whole_file(path) as temporary:
        temporary.write_text(json.dumps(whole, indent=1, allow_nan=False) + "\n", encoding="utf-8")
    return path


def clean(data: Any) -> Any:
    """Plain Python data: arrays and numpy numbers unpacked, paths as text, nan and infinities as None."""
    if isinstance(data, dict):
        return {str(k): clean(v) for k, v in data.items()}
    if isinstance(data, tuple | list):
        return [clean(v) for v in data]
    if hasattr(data, "tolist"):
        return clean(data.tolist())
    if isinstance(data, float):
        return data if isfinite(data) else None
    return data if isinstance(data, bool | int | str) or data is None else str(data)


def guard(folder: Path, names: Sequence[str], overwrite: bool) -> None:
    """Refuse to write `names` into `folder` when one is there already, unless told to overwrite."""
    if folder.exists() and not folder.is_dir():
        raise InputError(f"{folder}: is a file; allowed: a folder for the results")
    there = [name for name in names if (folder / name).exists()]
    if there and not overwrite:
        raise InputError(
            f"{folder}: already holds {', '.join(there)}; allowed: another --out, or --overwrite to replace"
        )
