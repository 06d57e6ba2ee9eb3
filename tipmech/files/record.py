"""Records of insertions as users hand them in, and what `tipmech attempts` wrote beside one."""

import json
from pathlib import Path
from typing import Any

from ..checks import InputError
from ..insertion.record import Record
from ..insertion.record_file import FORMAT, load

ALLOWED = "a record written by `tipmech advance` or `tipmech attempts` (record.nc)"
COURSE = "course.json"


def read_record(path: Path) -> Record:
    """Record of a file, with at least one increment.

    Raises
    ------
    InputError
        one sentence: file, and what is wrong with it
    """
    if path.is_dir():
        raise InputError(f"{path}: is a folder; allowed: {ALLOWED}")
    try:
        record = loaded(path)
    except (OSError, ValueError, KeyError, TypeError, RuntimeError) as error:  # whatever a damaged file makes of itself
        why = str(error) if isinstance(error, FileNotFoundError | ValueError) else f"{path}: cannot be read ({error})"
        raise InputError(f"{why}; allowed: {ALLOWED}") from None
    if not len(record.feed):
        raise InputError(f"{path}: holds no increment; allowed: a record with at least one")
    return record


def loaded(path: Path) -> Record:
    """Record of a file; where it is one of another format, the error says of which.

    Raises
    ------
    ValueError, FileNotFoundError
        as `load` has them
    """
    try:
        return load(path)
    except ValueError as error:
        own = format_of(path)
        raise ValueError(f"{error}" if own in (None, FORMAT) else f"{error}, but of format {own}") from None


def format_of(path: Path) -> int | None:
    """Format that a file says it is a record of; None where it says none."""
    import xarray

    try:
        with xarray.open_dataset(path, engine="h5netcdf") as dataset:
            return int(dataset.attrs["format"])
    except (OSError, ValueError, KeyError, TypeError):
        return None


def read_course(record: Path) -> dict[str, Any] | None:
    """Facts of the procedure that `tipmech attempts` wrote beside a record; None where there are none.

    Raises
    ------
    InputError
        where the file is there but is not one of a procedure
    """
    path = record.with_name(COURSE)
    if not path.is_file():
        return None
    try:
        facts = json.loads(path.read_text(encoding="utf-8"))
        ok = bool(facts["attempts"]) and isinstance(facts["end"], str)
        ok = ok and all(float(a["travel"]) >= 0.0 and int(a["rule"]) >= 0 for a in facts["attempts"])
    except (ValueError, KeyError, TypeError):
        ok = False
    if not ok:
        raise InputError(
            f"{path}: attempts and end of a procedure cannot be read; allowed: as `tipmech attempts` wrote it"
        )
    return dict(facts)
