"""`tipmech validate`: the table of checks."""

from dataclasses import asdict
from pathlib import Path

from ..validation.table import rows
from .terminal import finish, guard, print_json, print_table, progress, write_json

FILE = "validation.json"


def run(out: Path | None, *, as_json: bool, overwrite: bool) -> bool:
    """Compute and print all rows; True when every one passed."""
    if out is not None:
        guard(out, (FILE,), overwrite)
    with progress("checks", quiet=as_json) as report:
        table = rows(report)
    passed = all(row.passed for row in table)
    plain = [asdict(row) for row in table]
    paths = [] if out is None else [write_json({"rows": plain, "passed": passed}, out / FILE)]
    if as_json:
        print_json(plain)
        return passed
    lines = [
        (
            f"{row.id}: {row.quantity} [{row.source}]",
            f"{row.computed:.6g}",
            f"{row.reference:.6g}",
            f"{row.error:.2g}",
            f"{row.tolerance:.2g}",
            "yes" if row.passed else "NO",
        )
        for row in table
    ]
    head = ("check [source]", "computed", "reference", "error", "tolerance", "passed")
    print_table(f"{sum(r.passed for r in table)} of {len(table)} checks passed", head, lines, numbers=True)
    finish(paths)
    return passed
