import numpy as np
import pytest

from tipmech.rod.continuation import Path, trace
from tipmech.validation import planar
from tipmech.validation.model import observed_order
from tipmech.validation.row import Case


@pytest.mark.parametrize("case", planar.CASES, ids=lambda case: case.__name__)
def test_rows_pass(case: Case) -> None:
    rows = case()
    assert rows
    assert not [row for row in rows if not row.passed]


def test_a_rod_one_percent_too_stiff_fails_its_limit_points(monkeypatch: pytest.MonkeyPatch) -> None:
    right = planar.planar_rod

    def wrong(points, bend, *rest):  # type: ignore[no-untyped-def]
        return right(points, 1.01 * bend, *rest)

    monkeypatch.setattr(planar, "planar_rod", wrong)
    limits = {"lee-limit-1", "lee-limit-2", "arch-limit", "arch-limit-published", "arch-second", "toggle-limit-1"}
    seen = {row.id: row.passed for case in (planar.lee_frame, planar.deep_arch, planar.toggle) for row in case()}
    assert limits <= seen.keys()
    assert not [id for id in limits if seen[id]]


@pytest.mark.parametrize("kept", [0, 1])
def test_a_lost_limit_point_fails_its_rows(monkeypatch: pytest.MonkeyPatch, kept: int) -> None:
    def lost(*args, **options) -> Path:  # type: ignore[no-untyped-def]
        path = trace(*args, **options)
        return Path(path.points[: 1 + 10 * kept], path.specials[:kept], path.places[:kept], False, "lost")

    monkeypatch.setattr(planar, "trace", lost)
    rows = [row for case in (planar.lee_frame, planar.deep_arch, planar.toggle) for row in case()]
    for row in rows:
        if "-limit-2" in row.id or row.id in ("arch-second", "lee-empty") or (kept == 0 and "limit" in row.id):
            assert not row.passed and np.isnan(row.computed), row.id
        elif "limit" in row.id:
            assert row.passed, row.id


def test_an_order_of_a_value_not_found_is_not_a_number() -> None:
    """So that its row fails, wherever among the errors it stands."""
    assert observed_order([4.0, 1.0, 0.25]) == 2.0
    assert all(np.isnan(observed_order(errors)) for errors in ([4.0, 1.0, np.nan], [np.nan, 4.0, 1.0]))
