"""Insertions side by side in memory, as a GPU holds them: the same numbers, the same results to the last bit."""

from typing import NamedTuple

import numpy as np
import pytest
from insertion_cases import make_case

from tipmech.gpu.lanes import LAST, RAGGED, WARP, Slot, get, put
from tipmech.insertion.lane import carry_lane, lane_slot, make_lane

MOST, FEW = 12, 5


class Inner(NamedTuple):
    table: np.ndarray
    size: float


class Outer(NamedTuple):
    inner: Inner
    codes: np.ndarray
    pair: tuple[float, float]
    rows: np.ndarray
    trace: np.ndarray
    count: int


def outer(rows: int = 3) -> Outer:
    table = np.arange(6.0).reshape(2, 3)
    return Outer(Inner(table, 0.5), np.array([4, -7]), (1.5, 2.5), np.full((rows, 2), 3.0), np.zeros((9, 2)), 8)


MARKS = {"rows": RAGGED, "trace": LAST}


def test_what_is_put_into_a_lane_is_read_back():
    slot = Slot(outer(), mark=MARKS)
    block = np.full((slot.words, WARP), np.nan)
    put(slot, outer(2), block[:, 5])
    back = get(slot, block[:, 5])
    np.testing.assert_array_equal(back.inner.table, outer().inner.table)
    np.testing.assert_array_equal(back.codes, [4, -7])
    assert (back.inner.size, back.pair, back.count, back.rows.shape) == (0.5, (1.5, 2.5), 8, (2, 2))
    back.codes[1] = 11
    assert get(slot, block[:, 5]).codes[1] == 11
    assert np.isnan(block[:, [4, 6]]).all()


def test_the_last_row_stays():
    slot = Slot(outer(), mark=MARKS)
    block = np.zeros((slot.words, WARP))
    trace = get(slot, block[:, 0]).trace
    for k in range(len(trace)):
        trace[k] = k
    np.testing.assert_array_equal(trace, np.full((9, 2), 8.0))
    assert slot.inner[4].words == 2


def test_only_words_of_eight_bytes():
    with pytest.raises(TypeError, match="8 bytes"):
        Slot((np.zeros(3, dtype=np.float32),))


@pytest.mark.slow
def test_side_by_side_the_same_as_alone():
    cases = [make_case(5e-8, 40.0, roll=0.3), make_case(1e-8, 20.0)]
    slot = lane_slot(make_lane(cases[0], MOST, FEW), MOST)
    block = np.zeros((slot.words, WARP))
    for k, case in enumerate(cases):
        put(slot, make_lane(case, MOST, FEW), block[:, k])
    for k, case in enumerate(cases):
        alone, beside = make_lane(case, MOST, FEW), get(slot, block[:, k])
        carry_lane(alone)
        carry_lane(beside)
        assert alone.answer[0] == FEW
        np.testing.assert_array_equal(beside.answer, alone.answer)
        np.testing.assert_array_equal(beside.hist.scalars, alone.hist.scalars)
        np.testing.assert_array_equal(beside.w.x, alone.w.x)
        np.testing.assert_array_equal(beside.hist.positions[0], alone.hist.positions[FEW - 1])
