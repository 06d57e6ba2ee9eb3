"""Two commands in one folder: the second is refused; a killed one holds nothing; reports go with their tables."""

import multiprocessing as mp
import os
import signal
import subprocess
import sys
import time
import warnings
from pathlib import Path

import numpy as np
import pytest
from study.made_up import coin, make_spec
from typer.testing import CliRunner

from tipmech.checks import InputError
from tipmech.cli import app
from tipmech.cli import study as commands
from tipmech.cli.terminal import resumable
from tipmech.show.report.figures import WANTED
from tipmech.study import hold, store
from tipmech.study.hold import held
from tipmech.study.run_map import run_map
from tipmech.study.store import LOCK, OutdatedReport, open_store, reports_kept_true
from tipmech.study.version import code_version

FILE = Path(__file__).parents[2] / "experiments" / "readme_map.toml"
SPEC = make_spec(scrambles=16, points=8)  # 32 chunks
TABLE = {"a": np.arange(5.0)}


def run_held(out: Path, code: str) -> None:
    store.code_version = lambda: code  # that of this test's process, even if sources change meanwhile

    def stay(state) -> None:
        if state.done >= 48:
            time.sleep(3600.0)

    with resumable(out, overwrite=False):
        run_map(SPEC, out, 2, on_progress=stay, evaluate=coin)


def tipmech(*arguments: str) -> subprocess.CompletedProcess:
    return subprocess.run([sys.executable, "-m", "tipmech", *arguments], capture_output=True, text=True, timeout=120)


@pytest.mark.slow
def test_a_second_command_is_refused_and_a_killed_one_holds_nothing(tmp_path):
    out = tmp_path / "s"
    running = mp.get_context("spawn").Process(target=run_held, args=(out, code_version()))
    running.start()
    try:
        end = time.monotonic() + 60.0
        while len(list(out.glob("chunks/*/*.parquet"))) < 3:
            assert running.is_alive() and time.monotonic() < end
            time.sleep(0.01)
        before = {path: path.read_bytes() for path in out.glob("manifest.json")}
        for more in ([], ["--overwrite"]):
            second = tipmech("map", str(FILE), "--out", str(out), *more)
            assert (second.returncode, second.stdout) == (2, "")
            assert second.stderr == f"{out}: {hold.HELD}\n"
        assert before == {path: path.read_bytes() for path in out.glob("manifest.json")}
        assert running.is_alive()
    finally:
        os.kill(running.pid, signal.SIGKILL)
        running.join()
    assert 3 <= len(list(out.glob("chunks/*/*.parquet"))) < 32
    assert (out / LOCK).exists()
    with held(out):  # though its file lies there still
        run_map(SPEC, out, 1, evaluate=coin)
    assert not (out / LOCK).exists()
    run_map(SPEC, tmp_path / "alone", 1, evaluate=coin)
    assert (out / "rows.parquet").read_bytes() == (tmp_path / "alone" / "rows.parquet").read_bytes()


def test_a_folder_is_held_by_one_and_free_again(tmp_path):
    out = tmp_path / "new" / "s"
    with held(out):
        with pytest.raises(InputError) as refused, held(out):
            pass
        assert str(refused.value) == f"{out}: {hold.HELD}"
        assert (out / LOCK).exists()
        run_map(make_spec(scrambles=2, points=1), out, 1, evaluate=coin)  # the lock is no foreign file
    assert not (out / LOCK).exists()
    with held(out):
        pass
    assert (out / "rows.parquet").exists()


def test_what_ends_before_anything_is_written_leaves_no_folder(tmp_path):
    with pytest.raises(InputError), held(tmp_path / "new" / "s"):
        raise InputError("no bench")
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_may_not_be_written_is_one_sentence(tmp_path, monkeypatch):
    def refuse(self, *a, **k):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(hold.FileLock, "acquire", refuse)
    with pytest.raises(InputError, match=r"cannot be written \(Permission denied\); allowed: a folder you"):
        with held(tmp_path):
            pass


def with_reports(out: Path) -> list[Path]:
    pages = [out / name for name in (*store.REPORTS, "mine.html")]
    for page in pages:
        page.write_text("old")
    return pages


def test_a_report_goes_when_its_study_is_overwritten(tmp_path):
    out = tmp_path / "s"
    run_map(make_spec(scrambles=2, points=1), out, 1, evaluate=coin)
    *reports, mine = with_reports(out)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        run_map(make_spec(scrambles=2, points=1), out, 1, evaluate=coin)  # the same again changes nothing
    assert all(page.exists() for page in reports)
    with pytest.warns(OutdatedReport) as said:
        open_store(out, "map", make_spec(scrambles=2, points=2), overwrite=True)
    assert [str(w.message).split(":")[0] for w in said] == [str(page) for page in reports]
    assert not any(page.exists() for page in reports)
    assert mine.exists()


def test_a_report_goes_when_a_table_is_worked_out_otherwise(tmp_path):
    opened = open_store(tmp_path / "s", "made up", {"name": "made up"})
    opened.put_table("roc", TABLE)
    *reports, mine = with_reports(tmp_path / "s")
    with reports_kept_true(tmp_path / "s"):
        opened.put_table("roc", {"a": np.arange(6.0)})
        opened.put_table("roc", TABLE)  # as it was, in the end
    assert all(page.exists() for page in reports)
    with pytest.warns(OutdatedReport), reports_kept_true(tmp_path / "s"):
        opened.put_table("roc", {"a": np.arange(6.0)})
    assert not any(page.exists() for page in reports)
    assert mine.exists()


def test_pictures_go_with_the_tables_that_they_were_drawn_of(tmp_path):
    out, spec = tmp_path / "s", make_spec(scrambles=2, points=1)
    run_map(spec, out, 1, evaluate=coin)
    for name in ("map.png", "course.png", "mine.png"):
        (out / name).write_text("old")
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        run_map(spec, out, 1, evaluate=coin)  # the same again: they are still of these tables
        assert (out / "course.png").exists()
        open_store(out, "map", spec, overwrite=True)  # nothing drawn of the new tables yet
    assert [path.name for path in out.glob("*.png")] == ["mine.png"]


def test_a_picture_that_is_not_drawn_anew_goes_where_tables_change(tmp_path):
    opened = open_store(tmp_path / "s", "made up", {"name": "made up"})
    opened.put_table("tells", TABLE)
    stale, fresh, mine = (tmp_path / "s" / f"{name}.png" for name in ("course", "curl", "mine"))
    for path in (stale, fresh, mine):
        path.write_text("old")
        os.utime(path, (1.0, 1.0))
    with pytest.warns(OutdatedReport, match="course.png: removed") as said, reports_kept_true(tmp_path / "s"):
        opened.put_table("tells", {"a": np.arange(6.0)})
        fresh.write_text("new")
    assert len(said) == 1 and not stale.exists()
    assert fresh.read_text() == "new" and mine.exists()


def test_every_picture_of_a_study_s_command_is_known_to_the_store():
    assert {wanted.file for of_kind in WANTED.values() for wanted in of_kind} == set(store.PICTURES)


def test_the_command_says_that_a_report_went(tmp_path, monkeypatch):
    specs = iter([make_spec(scrambles=2, points=n) for n in (1, 1, 2)])
    monkeypatch.setattr(commands, "read_map", lambda *a, **k: next(specs))
    monkeypatch.setattr(commands, "run_map", lambda *a, **k: run_map(*a, evaluate=coin, **k))
    out = tmp_path / "s"
    asked = ["map", str(FILE), "--out", str(out), "--workers", "1"]
    first = CliRunner().invoke(app, asked)
    assert first.exit_code == 0, first.output
    assert CliRunner().invoke(app, ["report", str(out)]).exit_code == 0
    same = CliRunner().invoke(app, asked)
    assert (same.exit_code, same.stderr) == (0, "")
    assert (out / "report.html").exists()
    again = CliRunner().invoke(app, [*asked, "--overwrite"])
    assert again.exit_code == 0, again.output
    assert f"{out / 'report.html'}: removed" in again.stderr
    assert not (out / "report.html").exists()


def test_a_report_into_a_held_folder_is_refused(tmp_path):
    out = tmp_path / "s"
    run_map(make_spec(scrambles=2, points=1), out, 1, evaluate=coin)
    with held(out):
        inside = CliRunner().invoke(app, ["report", str(out)])
        assert (inside.exit_code, inside.stderr) == (2, f"{out}: {hold.HELD}\n")
        assert not (out / "report.html").exists()
