import pytest

from tipmech.validation import bench_statics
from tipmech.validation.row import Case


@pytest.mark.parametrize("case", bench_statics.CASES, ids=lambda case: case.__name__)
def test_rows_pass(case: Case) -> None:
    rows = case()
    assert rows
    assert not [row for row in rows if not row.passed]
