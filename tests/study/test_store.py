"""The store: damage is found and computed again, full disks are said, folders move, killed runs go on bit by bit."""

import errno
import multiprocessing as mp
import os
import shutil
import signal
import time
from functools import partial
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from study.made_up import coin, make_spec
from study.made_up_tasks import work
from typer.testing import CliRunner

from tipmech.checks import InputError
from tipmech.cli import app
from tipmech.cli import study as commands
from tipmech.study import seal, store
from tipmech.study.execute import run_tasks, tasks_of
from tipmech.study.run_map import run_map
from tipmech.study.store import DamagedChunks, open_store
from tipmech.study.table import Damaged, read_parquet, write_parquet
from tipmech.study.task import Stopped
from tipmech.study.version import code_version

TASKS = tasks_of([(0, 0), (0, 1), (1, 0)], 160, 4)
SPEC = make_spec(scrambles=8, points=4)
TABLE = {"a": np.arange(5.0), "b": np.array(["x", "y", "z", "", "ü"]), "c": np.array([1, 2, 3, 4, 5])}


def run_all(out: Path, seconds: float = 0.0, workers: int = 1, code: str | None = None) -> None:
    if code is not None:
        store.code_version = lambda: code  # that of the process that goes on with it, even if sources change meanwhile
    opened = open_store(out, "made up", {"name": "made up"})
    run_tasks(opened, TASKS, partial(work, seconds), workers)
    opened.put_table("rows", opened.gather([t.key for t in TASKS]))
    opened.finish()


def rows_of(out: Path) -> bytes:
    return (out / "rows.parquet").read_bytes()


@pytest.fixture(scope="module")
def whole(tmp_path_factory) -> bytes:
    out = tmp_path_factory.mktemp("whole")
    run_all(out / "s")
    return rows_of(out / "s")


def test_any_changed_or_missing_byte_is_found(tmp_path):
    path = tmp_path / "t.parquet"
    write_parquet(TABLE, path)
    assert all(np.array_equal(column, TABLE[name]) for name, column in read_parquet(path, sealed=True).items())
    good = path.read_bytes()
    assert seal.fits(good)
    for place in range(len(good)):
        path.write_bytes(good[:place] + bytes([good[place] ^ 1]) + good[place + 1 :])
        with pytest.raises(Damaged, match="is damaged"):
            read_parquet(path, sealed=True)
    for end in range(0, len(good), 97):
        path.write_bytes(good[:end])
        with pytest.raises(Damaged, match="is damaged"):
            read_parquet(path, sealed=True)


def test_nothing_is_sealed_without_a_place_for_it():
    with pytest.raises(ValueError, match="no place for its digest"):
        seal.seal(b"some bytes")
    assert seal.fits(b"some bytes") is None


def test_files_of_earlier_versions_are_read(tmp_path):
    pq.write_table(pa.table({"a": [1.0, 2.0]}), tmp_path / "old.parquet")
    assert list(read_parquet(tmp_path / "old.parquet")["a"]) == [1.0, 2.0]
    with pytest.raises(Damaged, match="no checksum"):
        read_parquet(tmp_path / "old.parquet", sealed=True)


@pytest.mark.parametrize("damage", ["cut", "empty", "altered", "other"])
def test_a_damaged_chunk_is_told_and_computed_again(tmp_path, whole, damage):
    out = tmp_path / "s"
    run_all(out)
    chunks = sorted((out / "chunks").rglob("*.parquet"))
    stamps = {p.name: p.stat().st_mtime_ns for p in chunks}
    data = chunks[7].read_bytes()
    bad = {"cut": data[:-40], "empty": b"", "altered": data[:200] + b"\x00\x01" + data[202:], "other": b"hello" * 9}
    chunks[7].write_bytes(bad[damage])
    with pytest.warns(DamagedChunks) as told:
        run_all(out)
    assert len(told) == 1
    assert str(told[0].message) == f"{chunks[7]} is damaged (cut short or altered); computed again"
    assert rows_of(out) == whole and chunks[7].read_bytes() == data
    assert {p.name for p in chunks if p.stat().st_mtime_ns != stamps[p.name]} == {chunks[7].name}


def test_several_damaged_chunks_are_one_sentence(tmp_path, whole):
    out = tmp_path / "s"
    run_all(out)
    for path in sorted((out / "chunks").rglob("*.parquet"))[:3]:
        path.write_bytes(b"")
    with pytest.warns(DamagedChunks, match=r"and 2 more are damaged") as told:
        run_all(out)
    assert len(told) == 1 and rows_of(out) == whole


def test_a_chunk_damaged_after_it_was_looked_at_is_not_used(tmp_path):
    opened = open_store(tmp_path / "s", "made up", {"name": "made up"})
    run_tasks(opened, TASKS[:2], partial(work, 0.0), 1)
    path = tmp_path / "s" / "chunks" / "load00_angle00" / f"{TASKS[0].key}.parquet"
    path.write_bytes(b"PAR1")
    with pytest.raises(Damaged):
        opened.gather([t.key for t in TASKS[:2]])
    path.unlink()
    with pytest.raises(Damaged, match="is not there"):
        opened.gather([t.key for t in TASKS[:2]])


def test_a_folder_of_an_earlier_version_goes_on_with_its_chunks_as_they_lie(tmp_path, whole):
    out = tmp_path / "s"
    run_all(out)
    chunks = [path.rename(out / "chunks" / path.name) for path in sorted((out / "chunks").rglob("*.parquet"))]
    for folder in [path for path in (out / "chunks").iterdir() if path.is_dir()]:
        folder.rmdir()
    manifest = (out / "manifest.json").read_text()
    (out / "manifest.json").write_text(manifest.replace('"format": 3', '"format": 2'))
    chunks[3].unlink()
    stamps = {path: path.stat().st_mtime_ns for path in chunks if path != chunks[3]}
    run_all(out)
    assert rows_of(out) == whole and sorted((out / "chunks").iterdir()) == chunks
    assert all(path.stat().st_mtime_ns == stamp for path, stamp in stamps.items())


class FullDisk:
    """A disk that is full once so many bytes are on it; what does not fit any more is half written."""

    def __init__(self, monkeypatch, room: int) -> None:
        self.room, write = room, Path.write_bytes

        def half(path, data) -> int:
            fits = bytes(data)[: max(self.room, 0)]
            write(path, fits)
            self.room -= len(data)
            if self.room < 0:
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            return len(data)

        monkeypatch.setattr(Path, "write_bytes", half)


@pytest.mark.parametrize("workers", [1, 2])
def test_a_full_disk_is_one_sentence_and_finished_chunks_stay(tmp_path, whole, workers):
    out = tmp_path / "s"
    with pytest.MonkeyPatch.context() as patch:
        FullDisk(patch, 150_000)
        start = time.monotonic()
        with pytest.raises(Stopped, match=r"s: the disk is full \(No space left on device\), finished parts are kept"):
            run_all(out, 0.02, workers)
        assert time.monotonic() - start < 60
    kept = list((out / "chunks").rglob("*.parquet"))
    assert 3 < len(kept) < len(TASKS) and not list(out.rglob(".*")) and not (out / "rows.parquet").exists()
    stamps = {p: p.stat().st_mtime_ns for p in kept}
    run_all(out)
    assert rows_of(out) == whole and all(p.stat().st_mtime_ns == stamp for p, stamp in stamps.items())


def test_the_command_ends_with_2_on_a_full_disk(tmp_path, monkeypatch):
    file = tmp_path / "study.toml"
    file.write_text('tip_loads_gf = [1.0]\nangles_deg = [30.0]\n[wire]\npreset = "workhorse"\n')
    monkeypatch.setattr(commands, "read_map", lambda path: SPEC)
    monkeypatch.setattr(commands, "run_map", partial(run_map, evaluate=coin))
    FullDisk(monkeypatch, 60_000)
    result = CliRunner().invoke(app, ["map", str(file), "--out", str(tmp_path / "m"), "--workers", "1"])
    assert result.exit_code == 2
    assert result.stderr.count("\n") == 1 and "m: the disk is full (No space left on device)" in result.stderr


def test_a_moved_study_reads_back_and_goes_on(tmp_path):
    one = run_map(SPEC, tmp_path / "one" / "m", workers=1, evaluate=coin)
    next((tmp_path / "one" / "m" / "chunks").rglob("*.parquet")).unlink()
    (tmp_path / "elsewhere").mkdir()
    shutil.move(tmp_path / "one" / "m", tmp_path / "elsewhere" / "n")
    again = run_map(SPEC, tmp_path / "elsewhere" / "n", workers=1, evaluate=coin)
    assert all(np.array_equal(one.rows[k], again.rows[k], equal_nan=one.rows[k].dtype.kind == "f") for k in one.rows)
    for path in (tmp_path / "elsewhere").rglob("*"):
        if path.is_file():
            assert str(tmp_path).encode() not in path.read_bytes(), path


@pytest.mark.parametrize("workers", [1, 2])
def test_a_run_killed_at_any_moment_goes_on_bit_by_bit(tmp_path, whole, workers):
    """Killed again and again, at moments drawn at random: at most the chunks in flight are lost, nothing is damaged."""
    out, rng, code = tmp_path / "s", np.random.default_rng(3), code_version()
    kills, before = 0, 0
    for _ in range(12):
        process = mp.get_context("spawn").Process(target=run_all, args=(out, 0.002, workers, code))
        process.start()
        deadline = time.monotonic() + 60
        while process.is_alive() and time.monotonic() < deadline and count(out) <= before:
            time.sleep(0.001)
        time.sleep(float(rng.uniform(0.0, 0.25)))
        if process.is_alive():
            os.kill(process.pid, signal.SIGKILL)
            kills += 1
        process.join()
        assert process.exitcode in (0, -signal.SIGKILL)
        assert count(out) >= before  # nothing finished is lost
        before = count(out)
        if kills == 3 or process.exitcode == 0:
            break
    assert kills >= 2
    time.sleep(0.3)  # orphaned workers notice that their parent is gone; they never write
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("warnings.warn", damaged)
        run_all(out)
    assert rows_of(out) == whole and not list(out.rglob("*.part"))
    assert len(list((out / "chunks").rglob("*.parquet"))) == len(TASKS)


def count(out: Path) -> int:
    return len(list((out / "chunks").rglob("*.parquet"))) if (out / "chunks").is_dir() else 0


def damaged(*told, **options) -> None:
    raise AssertionError(f"a killed run left a damaged chunk: {told}")


def test_another_study_in_the_folder_is_refused_with_what_changed(tmp_path):
    run_map(SPEC, tmp_path / "m", workers=1, evaluate=coin)
    changed = make_spec(scrambles=8, points=4, seed=5)
    with pytest.raises(InputError, match=r"holds another study \(seed was \d+, now 5"):
        run_map(changed, tmp_path / "m", workers=1, evaluate=coin)
