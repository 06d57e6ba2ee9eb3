import pytest

from tipmech.validation import dynamics
from tipmech.validation.row import Case


@pytest.mark.parametrize("case", dynamics.CASES, ids=lambda case: case.__name__)
def test_rows_pass(case: Case) -> None:
    rows = case()
    assert rows
    assert not [row for row in rows if not row.passed]


def test_a_one_percent_error_of_the_mass_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    right = dynamics.lumped_inertia
    monkeypatch.setattr(
        dynamics, "lumped_inertia", lambda lengths, mass, spin: right(lengths, 1.01 * mass, 1.01 * spin)
    )
    rows = [row for case in (dynamics.bending, dynamics.waves) for row in case() if row.id != "free-rigid"]
    assert len(rows) == 8 and not [row for row in rows if row.passed]


def test_unequal_moments_of_inertia_taken_as_equal_are_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without their difference there is no gyroscopic moment, and the body does not tumble."""
    right = dynamics.lumped_inertia
    even = lambda lengths, mass, spin: right(lengths, mass, 0.0 * spin + spin.mean())  # noqa: E731
    monkeypatch.setattr(dynamics, "lumped_inertia", even)
    assert not dynamics.tumbling()[0].passed
