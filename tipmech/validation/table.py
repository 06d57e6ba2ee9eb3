"""The table of checks: every theme's cases, run in order. `tipmech validate` and the tests use it."""

from collections.abc import Callable

from . import (
    bench,
    bench_statics,
    coils,
    columns,
    dynamics,
    elastica,
    foundation,
    front,
    insertion,
    planar,
    post,
    response,
    space,
    spatial,
    tissue,
    tubes,
    twist,
)
from .row import Case, Row

__all__ = ["CASES", "Case", "Row", "rows"]

THEMES: dict[str, tuple[Case, ...]] = {
    "columns": columns.CASES,
    "elastica": elastica.CASES,
    "planar": planar.CASES,
    "spatial": spatial.CASES,
    "dynamics": dynamics.CASES,
    "space": space.CASES,
    "twist": twist.CASES,
    "tubes": tubes.CASES,
    "post": post.CASES,
    "foundation": foundation.CASES,
    "bench": bench.CASES,
    "bench_statics": bench_statics.CASES,
    "response": response.CASES,
    "coils": coils.CASES,
    "tissue": tissue.CASES,
    "front": front.CASES,
    "insertion": insertion.CASES,
}
"""Theme -> its cases, in the order of the table."""

CASES: tuple[Case, ...] = tuple(case for theme in THEMES.values() for case in theme)


def rows(progress: Callable[[int, int], None] | None = None) -> list[Row]:
    """Run all checks.

    Parameters
    ----------
    progress : callable, optional
        called with (checks done, checks in all) after each one

    Returns
    -------
    list of Row
    """
    found: list[Row] = []
    for done, case in enumerate(CASES, start=1):
        found.extend(case())
        if progress is not None:
            progress(done, len(CASES))
    return found
