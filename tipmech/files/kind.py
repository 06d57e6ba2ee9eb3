"""Which kind of study a file is one of, by its tables, and how it is checked and read."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

from .atlas import check_atlas, read_atlas
from .attempts import check_study_attempts, read_attempts
from .common import STUDY_FIELDS, InputError, read_toml
from .compare import check_compare, read_compare
from .curl import check_curl, read_curl
from .sensitivity import check_sensitivity, read_sensitivity
from .study import check_map, check_threshold, read_map, read_threshold

BY_TABLE = {
    "comparison": "compare",  # before the policy, which a comparison of procedures has too
    "atlas": "atlas",
    "sensitivity": "sensitivity",
    "curl": "curl",
    "ladder": "threshold",
    "policy": "attempts",
}
"""Kind of a study by a table that no other kind has; a study file without any of them is a map's."""

CHECKS: dict[str, Callable[[Path], Any]] = {
    "map": check_map,
    "threshold": check_threshold,
    "attempts": check_study_attempts,
    "compare": check_compare,
    "atlas": check_atlas,
    "sensitivity": check_sensitivity,
    "curl": check_curl,
}
READERS: dict[str, Callable[..., Any]] = {
    "map": read_map,
    "threshold": read_threshold,
    "attempts": read_attempts,
    "compare": read_compare,
    "atlas": read_atlas,
    "sensitivity": read_sensitivity,
    "curl": read_curl,
}


def kind_of(path: str | Path) -> str:
    """Kind of the study that a file is one of.

    Raises
    ------
    InputError
        if it is no study's: one sentence
    """
    tables = read_toml(path)
    if not (({*STUDY_FIELDS, *BY_TABLE} - {"policy"}) & set(tables)):
        fields = ", ".join(name for name in STUDY_FIELDS if name not in BY_TABLE)
        kinds = ", ".join(f"tipmech {kind}" for kind in CHECKS)
        raise InputError(f"{path}: is no file of a study (it has none of {fields}); allowed: a file of {kinds}")
    return next((kind for table, kind in BY_TABLE.items() if table in tables), "map")
