"""A move that turns while it feeds."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest
from insertion_cases import make_case

from tipmech.insertion.case import Move
from tipmech.insertion.opened import growth_by_move
from tipmech.insertion.run import advance
from tipmech.outcome import Stop


def test_a_wire_is_turned_evenly_over_its_feed():
    moves = (Move("advance", 3e-3, pi / 2), Move("withdraw", 1e-3, -pi / 4))
    record = advance(replace(make_case(), moves=moves))
    assert record.stop == Stop.PROTOCOL_DONE
    out = record.feed <= np.maximum.accumulate(record.feed) - 1e-9
    np.testing.assert_allclose(record.turn[~out], record.feed[~out] * (pi / 2) / 3e-3, rtol=1e-9)
    assert (record.feed[-1], record.turn[-1]) == (pytest.approx(2e-3), pytest.approx(pi / 4))
    assert [(m.kind, round(1e3 * m.amount, 6)) for m in growth_by_move(record)] == [("advance", 3.0), ("withdraw", 1.0)]
