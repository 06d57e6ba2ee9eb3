import json
import multiprocessing as mp
import os
import signal
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from study.made_up import coin, coin_with_failures, make_spec, run_slowly

from tipmech.checks import InputError
from tipmech.study.execute import Task, tasks_of
from tipmech.study.inputs import NAMES
from tipmech.study.run_map import MapWork, run_map
from tipmech.study.run_threshold import ThresholdSpec, run_threshold
from tipmech.study.store import read_store
from tipmech.study.table import concat, length, read_parquet
from tipmech.study.version import code_version

FILES = ("rows.parquet", "rows.csv", "cells.parquet", "cells.csv", "incidence.parquet")
SPEC = make_spec(scrambles=8, points=4)


def broken(case):
    raise ZeroDivisionError("made-up failure")


def forbidden(case):
    raise AssertionError("a finished point was computed again")


def test_one_worker_and_two_give_the_same_bytes(tmp_path):
    one = run_map(SPEC, tmp_path / "one", workers=1, evaluate=coin)
    run_map(SPEC, tmp_path / "two", workers=2, evaluate=coin)
    for name in FILES:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes(), name
    assert length(one.rows) == 2 * 2 * 32 and one.manifest["status"] == "finished"
    for column in ("seed", "index", "scramble", "x_room", "cap_room", "label", "jammed", "tip_load_index"):
        assert column in one.rows
    assert len([c for c in one.rows if c.startswith("x_")]) == len(NAMES)


def test_any_order_gives_the_same_rows():
    whole = MapWork(SPEC, coin)(Task(1, 0, 0, 32))
    parts = [MapWork(SPEC, coin)(Task(1, 0, k, k + 8)) for k in (24, 8, 0, 16)]
    mixed = concat([parts[2], parts[1], parts[3], parts[0]])
    assert all(np.array_equal(whole[key], mixed[key], equal_nan=whole[key].dtype.kind == "f") for key in whole)


def test_estimates_and_bounds_of_a_cell(tmp_path):
    result = run_map(SPEC, tmp_path / "m", workers=1, evaluate=coin_with_failures)
    c, rows = result.cells, result.rows
    first = (rows["tip_load_index"] == 0) & (rows["angle_index"] == 0)
    failed = int(np.sum(rows["label"][first] == 0))
    assert failed > 0 and c["n_not_solved"][0] == failed and c["n_solved"][0] == 32 - failed
    entered = int(np.sum(~np.isnan(rows["entered"][first])))
    assert c["p_entered"][0] == pytest.approx(entered / (32 - failed))
    assert c["p_entered_bound_low"][0] == entered / 32 and c["p_entered_bound_high"][0] == (entered + failed) / 32
    assert sum(c[k][0] for k in c if k.startswith("n_label_")) == 32
    end = result.incidence["advance"] == result.incidence["advance"].max()
    one = end & (result.incidence["event"] == "extended") & (result.incidence["tip_load_index"] == 0)
    assert result.incidence["p"][one & (result.incidence["angle_index"] == 0)][0] == pytest.approx(c["p_extended"][0])


def test_infeasible_cells_are_not_run(tmp_path):
    spec = make_spec(angles=(0.2, 1.3), bend_length=4.2e-3, scrambles=2, points=2)
    result = run_map(spec, tmp_path / "m", workers=1, evaluate=coin)
    assert list(result.cells["feasible"]) == [1, 0, 1, 0] and list(result.cells["n"]) == [4, 0, 4, 0]
    assert np.isnan(result.cells["p_entered"][1]) and set(result.rows["angle_index"]) == {0}


def test_the_same_study_is_not_computed_again(tmp_path):
    first = run_map(SPEC, tmp_path / "m", workers=1, evaluate=coin)
    before = (tmp_path / "m" / "rows.parquet").read_bytes()
    again = run_map(replace(SPEC, workers=7), tmp_path / "m", workers=1, evaluate=forbidden)
    assert np.array_equal(first.rows["seed"], again.rows["seed"])
    assert (tmp_path / "m" / "rows.parquet").read_bytes() == before


def test_another_study_is_refused_and_nothing_changes(tmp_path):
    run_map(SPEC, tmp_path / "m", workers=1, evaluate=coin)
    before = {p: p.read_bytes() for p in (tmp_path / "m").rglob("*") if p.is_file()}
    with pytest.raises(InputError, match="holds another study .* --overwrite"):
        run_map(replace(SPEC, seed=9), tmp_path / "m", workers=1, evaluate=coin)
    with pytest.raises(InputError, match="another kind"):
        run_threshold(ThresholdSpec(SPEC), tmp_path / "m", workers=1, evaluate=coin)
    assert before == {p: p.read_bytes() for p in (tmp_path / "m").rglob("*") if p.is_file()}


def test_overwrite_starts_anew_and_leaves_foreign_files(tmp_path):
    run_map(SPEC, tmp_path / "m", workers=1, evaluate=coin)
    (tmp_path / "m" / "notes.txt").write_text("mine")
    result = run_map(replace(SPEC, seed=9, points=2), tmp_path / "m", workers=1, overwrite=True, evaluate=coin)
    assert length(result.rows) == 64 and (tmp_path / "m" / "notes.txt").read_text() == "mine"
    assert len(list((tmp_path / "m" / "chunks").rglob("*.parquet"))) == 4


def test_other_folders_are_refused(tmp_path):
    (tmp_path / "letter.txt").write_text("hello")
    for overwrite in (False, True):
        with pytest.raises(InputError, match="is not a study's result folder"):
            run_map(SPEC, tmp_path, workers=1, overwrite=overwrite, evaluate=coin)
    with pytest.raises(InputError, match="is a file"):
        run_map(SPEC, tmp_path / "letter.txt", workers=1, evaluate=coin)
    (tmp_path / "broken").mkdir()
    (tmp_path / "broken" / "manifest.json").write_text("{")
    with pytest.raises(InputError, match="no readable manifest"):
        run_map(SPEC, tmp_path / "broken", workers=1, evaluate=coin)
    assert list(tmp_path.iterdir()) and not (tmp_path / "chunks").exists()


def test_results_of_other_code_are_refused(tmp_path):
    run_map(SPEC, tmp_path / "m", workers=1, evaluate=coin)
    path = tmp_path / "m" / "manifest.json"
    data = json.loads(path.read_text())
    path.write_text(json.dumps(data | {"hash": "0", "code": "0.0.1+abc"}))
    with pytest.raises(InputError, match=r"computed by other code \(0.0.1\+abc"):
        run_map(SPEC, tmp_path / "m", workers=1, evaluate=coin)


def test_a_failing_case_names_itself_and_keeps_finished_chunks(tmp_path):
    with pytest.raises(ZeroDivisionError) as caught:
        run_map(SPEC, tmp_path / "m", workers=1, evaluate=broken)
    assert "at point 0 of tip load 0, angle 0" in caught.value.__notes__[0]
    assert read_store(tmp_path / "m").manifest["status"] == "running"
    assert run_map(SPEC, tmp_path / "m", workers=1, evaluate=coin).manifest["status"] == "finished"


def test_a_killed_run_goes_on(tmp_path):
    out = tmp_path / "m"
    process = mp.get_context("spawn").Process(target=run_slowly, args=(SPEC, out, code_version()))
    process.start()
    chunks = out / "chunks"
    deadline = time.monotonic() + 60
    while time.monotonic() < deadline and len(list(chunks.rglob("*.parquet")) if chunks.is_dir() else []) < 2:
        time.sleep(0.01)
    os.kill(process.pid, signal.SIGKILL)
    process.join()
    kept = {p: p.stat().st_mtime_ns for p in chunks.rglob("*.parquet")}
    assert 2 <= len(kept) < 8 and not (out / "rows.parquet").exists()
    (chunks / ".half.parquet.123.part").write_bytes(b"half a chunk")
    time.sleep(0.3)  # the orphaned workers notice that their parent is gone; they never write
    seen = []
    result = run_map(SPEC, out, workers=1, evaluate=coin, on_progress=seen.append)
    assert all(path.stat().st_mtime_ns == stamp for path, stamp in kept.items())
    assert seen[0].done == 16 * len(kept) and seen[-1].done == seen[-1].total == 128 and seen[0].left is None
    assert not list(out.rglob("*.part"))
    whole = run_map(SPEC, tmp_path / "whole", workers=1, evaluate=coin)
    assert (out / "rows.parquet").read_bytes() == (tmp_path / "whole" / "rows.parquet").read_bytes()
    assert np.array_equal(result.cells["p_entered"], whole.cells["p_entered"])


def test_tables_read_back(tmp_path):
    result = run_map(SPEC, tmp_path / "m", workers=1, evaluate=coin)
    table = read_parquet(Path(result.folder) / "cells.parquet")
    assert np.array_equal(table["p_entered"], result.cells["p_entered"])


def test_tasks_cover_every_point_once():
    tasks = tasks_of([(0, 0), (1, 2)], 37, 16)
    assert [(t.first, t.last) for t in tasks] == [(0, 16), (16, 32), (32, 37)] * 2
    assert len({t.key for t in tasks}) == 6 and sum(t.count for t in tasks) == 74
