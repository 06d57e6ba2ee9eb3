"""The table as a whole, and that a wrong value fails its row."""

from dataclasses import replace
from math import isfinite, nan

import pytest

from tipmech.validation import columns, elastica, table
from tipmech.validation.row import absolute, at_least, at_most, relative


def test_every_case_is_counted_and_every_row_whole() -> None:
    seen: list[tuple[int, int]] = []
    rows = table.rows(lambda done, total: seen.append((done, total)))
    assert seen == [(i, len(table.CASES)) for i in range(1, len(table.CASES) + 1)]
    assert len(rows) >= 18
    assert len({row.id for row in rows}) == len(rows)
    for row in rows:
        assert row.source and row.quantity
        assert isfinite(row.computed) and isfinite(row.reference) and isfinite(row.error)
        assert (row.passed is None) == (row.tolerance is None)
        assert row.tolerance is None or row.passed == (row.error <= row.tolerance)
    assert [row.id for row in rows if row.passed is None] == ["helical-onset"]  # nothing else escapes judgement


def test_rows_fail_on_wrong_values() -> None:
    assert relative("a", "q", 1.0005, 1.0, 1e-3, "s").passed
    assert not relative("a", "q", 1.002, 1.0, 1e-3, "s").passed
    assert not relative("a", "q", nan, 1.0, 1e-3, "s").passed
    assert not absolute("a", "q", 0.2, 0.0, 0.1, "s").passed
    assert at_most("a", "q", 0.5, 1.0, 0.0, "s").passed and not at_most("a", "q", 1.1, 1.0, 0.0, "s").passed
    assert at_least("a", "q", 2.0, 1.9, 0.0, "s").passed and not at_least("a", "q", 1.8, 1.9, 0.0, "s").passed
    assert not at_least("a", "q", nan, 1.9, 0.0, "s").passed and not at_most("a", "q", nan, 1.9, 0.0, "s").passed


def test_a_one_percent_error_of_a_stiffness_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    """The rows must be able to fail: a rod 1 % too stiff in bending."""
    for theme, case in ((columns, columns.euler), (elastica, elastica.buckled)):
        right = theme.uniform_rod

        def wrong(*args, right=right, **kwargs):  # type: ignore[no-untyped-def]
            rod = right(*args, **kwargs)
            return replace(rod, half=rod.half / 1.01)

        monkeypatch.setattr(theme, "uniform_rod", wrong)
        if theme is columns:
            assert all(not row.passed for row in case())
        else:
            assert all(not row.passed for row in case() if row.id.endswith("load"))


def test_a_row_is_frozen() -> None:
    row = relative("a", "q", 1.0, 1.0, 1e-3, "s")
    with pytest.raises(AttributeError):
        row.passed = False  # type: ignore[misc]
    assert replace(row, id="b").id == "b"
