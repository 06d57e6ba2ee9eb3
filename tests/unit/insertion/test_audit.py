"""The energy audit: honest runs close within 1 %, a deliberate error of 3 % in the measured push is caught."""

import numpy as np
import pytest
from insertion_cases import in_pocket, make_case

from tipmech.insertion.run import advance

LIMIT = 0.01
CASES = {
    "bent tip through the tear": make_case(5e-8, 40.0),
    "soft": make_case(1e-8, 20.0),
    "stiff": make_case(2e-7, 20.0),
    "straight in the lumen": make_case(5e-8, 0.0),
    "pocket, straight": in_pocket(make_case(5e-8, 0.0)),
    "pocket, bent": in_pocket(make_case(2e-8, 30.0)),
}


@pytest.mark.parametrize("name", CASES)
def test_the_balance_closes_within_one_percent(name):
    record = advance(CASES[name])
    assert record.audit_error[-1] < LIMIT


@pytest.mark.parametrize("name", ["pocket, straight", "stiff", "bent tip through the tear"])
def test_a_deliberate_error_is_caught(name):
    honest = advance(CASES[name])
    record = advance(CASES[name], audit_gain=1.03)
    np.testing.assert_array_equal(record.positions, honest.positions)  # the audit only looks
    assert record.audit_error[-1] > LIMIT


@pytest.mark.parametrize("name", [n for n in CASES if n != "straight in the lumen"])  # there the hand does no work
def test_dissipations_only_grow_and_viscosity_is_small_outside_snaps(name):
    record = advance(CASES[name])
    for work in (record.diss_friction, record.diss_front, record.diss_margin, record.released_at_snaps):
        assert np.min(np.diff(work), initial=0.0) >= -1e-3 * max(record.work_hand[-1], 1e-12)
    smooth = record.diss_viscous[-1] - record.released_at_snaps[-1]
    assert smooth < 0.02 * record.work_hand[-1]
