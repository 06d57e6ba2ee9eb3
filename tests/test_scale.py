"""The plan of large sweeps: its arithmetic and its text, on made-up rates."""

import pytest

from experiments.scale.measure import Overhead, Rates, nothing, rows_after
from experiments.scale.run import summary_text, wall_time, words
from tipmech.study.task import Task

RATES = Rates(
    write=400.0, check=300.0, gather=200.0, chunk_bytes=27e3, row_bytes=600.0, csv_bytes=1200.0, empty=300.0,
    stored=100.0, processor=5e-3,
)  # fmt: skip


def test_the_slower_of_workers_and_client_decides():
    assert wall_time(1e6, 100, 200.0) == (pytest.approx(3500.0), False)
    assert wall_time(1e6, 10_000, 200.0) == (pytest.approx(312.5), True)
    assert (words(1800.0), words(7200.0), words(4.1 * 86400)) == ("30 min", "2.0 h", "4.1 d")


def test_the_summary_says_where_and_what_limits():
    text = summary_text([Overhead("2 processes", 3.0, 2.856, 2.8)], RATES, [(16384, 0.025)], "two cores, made up")
    assert "two cores, made up" in text and "overhead 2.0 %; start, once: 3.0 s" in text
    assert "at most 200 chunks/s" in text and "keeps 1120 workers busy" in text
    assert "1e+08 insertions, 1000 workers: 9.7 h; the workers are the limit" in text
    assert "6.2e+06 chunk files, 1.7e+02 GB" in text


def test_made_up_rows_are_as_many_as_their_task_asks():
    rows = rows_after(0.0, Task(0, 0, 16, 32))
    assert {len(column) for column in rows.values()} == {16} and nothing(Task(0, 0, 0, 1)) == {}
