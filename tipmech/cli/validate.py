"""`tipmech validate`: the table of checks."""

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from shutil import get_terminal_size
from textwrap import wrap

from ..validation.row import Row
from ..validation.table import rows
from .terminal import finish, guard, print_json, progress, write_json

FILE = "validation.json"
COLUMNS = (14, 14, 12, 12, 8)  # widths of computed, reference, error, tolerance, passed
WORDS = {True: "yes", False: "NO", None: "-"}
NARROWEST = 2 + sum(COLUMNS)  # characters of the line of numbers


def run(out: Path | None, *, as_json: bool, overwrite: bool) -> bool:
    """Compute and print all rows; True when every one passed."""
    if out is not None:
        guard(out, (FILE,), overwrite)
    with progress("checks", quiet=as_json) as report:
        table = rows(report)
    judged = [row for row in table if row.passed is not None]
    passed = all(row.passed for row in judged)
    plain = [asdict(row) for row in table]
    paths = [] if out is None else [write_json({"rows": plain, "passed": passed}, out / FILE)]
    if as_json:
        print_json(plain)
        return passed
    count = (
        f"{sum(r.passed is True for r in judged)} of {len(judged)} checks passed, {len(table) - len(judged)} reported"
    )
    print("\n".join([count, *table_lines(table)]))
    finish(paths)
    return passed


def table_lines(table: Sequence[Row], width: int | None = None) -> list[str]:
    """Lines of the printed table: of every row its name, its numbers in columns, and its source across the width.

    Parameters
    ----------
    width : int, optional
        characters of a line; that of the terminal (80 where there is none) if left out
    """
    across = max(NARROWEST, get_terminal_size((80, 24)).columns if width is None else width)

    def folded(text: str, indent: str) -> list[str]:
        return wrap(text, across, initial_indent=indent, subsequent_indent=f"{indent}  ")

    lines = []
    for row in table:
        tolerance = "none" if row.tolerance is None else f"{row.tolerance:.2g}"
        numbers = (f"{row.computed:.6g}", f"{row.reference:.6g}", f"{row.error:.2g}", tolerance)
        lines += ["", *folded(f"{row.id}: {row.quantity}", "")]
        lines.append(_columns(*numbers, WORDS[row.passed]))
        lines += folded(f"source: {row.source}", "  ")
    return [_columns("computed", "reference", "error", "tolerance", "passed"), *lines]


def _columns(*texts: str) -> str:
    """Texts in the table's columns."""
    return "  " + "".join(f"{text:>{wide}}" for text, wide in zip(texts, COLUMNS, strict=True))
