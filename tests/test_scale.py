"""The plan of large sweeps: its arithmetic and its text, on made-up rates."""

import re
import shutil
import time

import fsspec
import numpy as np
import pytest
from study.made_up import bench, coin

from experiments.scale import object_store
from experiments.scale.measure import Overhead, Rates, nothing, rows_after
from experiments.scale.run import summary_text, wall_time, words
from experiments.scale.ten_thousand import FILE as TEN_THOUSAND
from experiments.scale.ten_thousand import run
from experiments.scale.ten_thousand import summary_text as ten_thousand_text
from experiments.scale.timing import Start, read_starts, record_start, total
from tipmech.checks import InputError
from tipmech.files.study import read_map
from tipmech.study.build import feasible
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


TINY = """
tip_loads_gf = [0.5, 2.0]
angles_deg = [30.0]
scrambles = 4
points_per_scramble = 8
[wire]
preset = "workhorse"
"""


def slept(case) -> object:
    time.sleep(0.01)
    return coin(case)


def stops(case) -> object:
    if case.seed % 8 == 5:
        raise KeyboardInterrupt
    return slept(case)


def test_a_clocked_study_goes_on_and_its_starts_add_up(tmp_path):
    """Insertions of known duration: their time is found, and what a stopped start had to leave is computed again."""
    file = tmp_path / "tiny.toml"
    file.write_text(TINY)
    with pytest.raises(KeyboardInterrupt):
        run(tmp_path / "out", file, 1, stops)
    text = run(tmp_path / "out", file, 1, slept)
    assert (tmp_path / "out" / "summary.txt").read_text() == text + "\n"
    starts = read_starts(tmp_path / "out" / "clock")
    assert [s.end is None for s in starts] == [True, False]
    together = total(starts)
    assert together.insertions > 64 and "64 insertions, 1 workers" in text and "in 2 starts" in text
    assert f"{together.insertions - 64} insertions were computed twice" in text
    assert 0.01 <= together.own / together.insertions < 0.02 and together.processor < together.own
    assert "fewer than 10000 insertions" in text
    shutil.rmtree(tmp_path / "out" / "clock")
    with pytest.raises(InputError, match="its clock lacks insertions"):
        run(tmp_path / "out", file, 1, slept)


def test_the_clock_s_shares_are_those_of_its_spans(tmp_path):
    """Two workers, 10 s: 1 s before, then insertions on both but for 1 s of one, nothing after; then a killed start."""
    spans = np.array([[1.0, 10.0, 8.0], [1.0, 5.0, 4.0], [6.0, 10.0, 4.0]])
    done = Start(0.0, 10.0, 2, spans)
    assert (done.wall, done.before, done.after) == (10.0, 1.0, 0.0)
    alone = total([done])
    assert alone.overhead == pytest.approx(1.0 - 17.0 / 20.0) and alone.steady == pytest.approx(1.0 - 17.0 / 18.0)
    killed = Start(100.0, None, 2, np.array([[102.0, 103.0, 1.0]]))
    assert (killed.wall, killed.before, killed.after) == (3.0, 2.0, 0.0)
    both = total([killed, done])
    assert (both.wall, both.insertions, both.own) == (13.0, 4, 18.0)
    place = record_start(tmp_path, 5.0, 2)
    (place / "1.txt").write_text("5.0 6.0 1.0\n6.0 7.")  # torn by a kill
    (only,) = read_starts(tmp_path)
    assert only.end is None and only.spans.tolist() == [[5.0, 6.0, 1.0]]


def test_the_limits_are_judged_on_ten_thousand(tmp_path):
    many = Start(0.0, 3000.0, 2, np.tile([[0.0, 0.59, 0.5]], (10_000, 1)))
    text = ten_thousand_text([many], 10_000, "made up")
    assert "wall time: 50.0 min, wanted at most 60: kept" in text and "all else: 1.7 %, wanted at most 3: kept" in text
    slow = Start(0.0, 4000.0, 2, many.spans)
    assert ten_thousand_text([slow], 10_000, "made up").count("NOT kept") == 2
    spec = read_map(TEN_THOUSAND, bench)
    assert sum(feasible(spec, j) for j in range(len(spec.angles))) * len(spec.tip_loads) * spec.count >= 10_000


def test_rates_of_an_object_store_stand_beside_those_of_a_folder_and_nothing_is_left(tmp_path):
    text = object_store.run(tmp_path, "memory://rates", 6)
    assert re.search(r"folder: written \d+, found missing \d+, read and checked \d+\n  memory: written", text)
    assert [path.name for path in tmp_path.rglob("*")] == ["object_store.txt"]
    assert not fsspec.filesystem("memory").find("/rates")
