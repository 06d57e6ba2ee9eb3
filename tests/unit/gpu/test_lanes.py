"""Bundles one after another in memory, as a GPU holds them."""

from typing import NamedTuple

import numpy as np
import pytest

from tipmech.gpu.lanes import LAST, RAGGED, Slot, get, make_of, put


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
    lanes = np.full((3, slot.words), np.nan)
    put(slot, outer(2), lanes[1])
    back = get(slot, lanes[1])
    np.testing.assert_array_equal(back.inner.table, outer().inner.table)
    np.testing.assert_array_equal(back.codes, [4, -7])
    assert (back.inner.size, back.pair, back.count, back.rows.shape) == (0.5, (1.5, 2.5), 8, (2, 2))
    back.codes[1] = 11
    assert get(slot, lanes[1]).codes[1] == 11
    assert np.isnan(lanes[[0, 2]]).all()


def test_the_last_row_stays():
    slot = Slot(outer(), mark=MARKS)
    trace = get(slot, np.zeros(slot.words)).trace
    for k in range(len(trace)):
        trace[k] = k
    np.testing.assert_array_equal(trace, np.full((9, 2), 8.0))
    assert slot.inner[4].words == 2


def test_only_words_of_eight_bytes():
    with pytest.raises(TypeError, match="8 bytes"):
        Slot((np.zeros(3, dtype=np.float32),))


def test_the_make_tells_lengths_and_marks():
    made = {make_of(Slot(outer(rows), mark=mark)) for rows in (3, 4) for mark in (MARKS, {})}
    assert len(made) == 4
    assert make_of(Slot(outer(), mark=MARKS)) == make_of(Slot(outer(), mark=MARKS))
