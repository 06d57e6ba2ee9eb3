from dataclasses import replace

import pytest

from tipmech.validation import curvature
from tipmech.validation.row import Case


@pytest.mark.parametrize("case", curvature.CASES, ids=lambda case: case.__name__)
def test_rows_pass(case: Case) -> None:
    rows = case()
    assert rows
    assert not [row for row in rows if not row.passed]


def test_without_its_law_no_row_passes(monkeypatch: pytest.MonkeyPatch) -> None:
    right = curvature.wire
    monkeypatch.setattr(curvature, "wire", lambda part: replace(right(part), laws=()))
    rows = [row for case in curvature.CASES for row in case()]
    assert len(rows) == 6
    assert not [row for row in rows if row.passed]


def test_a_plateau_five_per_cent_off_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(curvature, "START", 1.05 * curvature.START)
    assert not [row for row in curvature.superelastic() if row.passed]
