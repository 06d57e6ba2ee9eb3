"""Studies on Dask's scheduler: the same bytes as serial, workers and schedulers that die, and what is refused, how."""

import multiprocessing as mp
import os
import signal
import socket
import subprocess
import sys
import time
from functools import partial
from pathlib import Path

import dask
import numpy as np
import pytest
from distributed import Client, LocalCluster
from study.made_up import by_force, coin, make_spec
from study.made_up_tasks import work
from study.test_run_attempts import coins, spec_of
from typer.testing import CliRunner

from tipmech.checks import InputError
from tipmech.cli import app
from tipmech.study import cluster
from tipmech.study.cluster import connected, differences, identity
from tipmech.study.execute import Task, run_tasks, tasks_of
from tipmech.study.run_attempts import run_attempts
from tipmech.study.run_map import run_map
from tipmech.study.run_threshold import ThresholdSpec, run_threshold
from tipmech.study.store import open_store
from tipmech.study.table import read_parquet
from tipmech.study.task import Stopped

TASKS = tasks_of([(0, 0), (1, 2)], 80, 4)
OTHER_CODE = "import tipmech.study.version as v; v.code_version = lambda: '0.0.9+other'"
STUDY = 'tip_loads_gf = [1.0]\nangles_deg = [30.0]\n[wire]\npreset = "workhorse"\n'
EXPERIMENTS = Path(__file__).parents[2] / "experiments"
COMMANDS = ("map", "threshold", "attempts")


def run_all(out: Path, workers, on_progress=None, work=work, seconds: float = 0.0, tasks=TASKS) -> bytes:
    opened = open_store(out, "made up", {"name": "made up"})
    run_tasks(opened, tasks, partial(work, seconds), workers, on_progress)
    opened.put_table("rows", opened.gather([t.key for t in tasks]))
    return (out / "rows.parquet").read_bytes()


def deadly(seconds: float, task: Task):
    if task.first == 8:
        time.sleep(0.5)  # what ended before has reached the client by then
        os.kill(os.getpid(), signal.SIGKILL)
    return work(seconds, task)


def broken(seconds: float, task: Task):
    error = FileNotFoundError(2, "made-up failure")
    error.add_note(f"at {task.key}")
    raise error


@pytest.fixture(scope="module")
def two():
    with connected("local", 2) as workers:
        yield workers


@pytest.fixture(scope="module")
def serial(tmp_path_factory) -> bytes:
    return run_all(tmp_path_factory.mktemp("serial") / "s", 1)


def test_tasks_give_the_same_bytes_however_few_are_sent_ahead(tmp_path, two, serial, monkeypatch):
    assert two == 2
    assert run_all(tmp_path / "s", two) == serial
    monkeypatch.setattr(cluster, "AHEAD", 1)
    monkeypatch.setattr(cluster, "AHEAD_OF_EACH", 1)
    assert run_all(tmp_path / "t", two) == serial


@pytest.mark.parametrize("kind", COMMANDS)
def test_studies_give_the_same_bytes_as_in_this_process(tmp_path, two, kind):
    spec = make_spec(scrambles=8, points=4)
    run = {
        "map": partial(run_map, spec, evaluate=coin),
        "threshold": partial(run_threshold, ThresholdSpec(make_spec(scrambles=2, points=2)), evaluate=by_force),
        "attempts": partial(run_attempts, spec_of(points=1), evaluate=coins),
    }[kind]
    one, other = run(out=tmp_path / "one", workers=1), run(out=tmp_path / "dask", workers=two)
    assert other.manifest["workers"] == 2 and one.manifest["hash"] == other.manifest["hash"]
    for path in (tmp_path / "one").glob("*.parquet"):
        assert path.read_bytes() == (tmp_path / "dask" / path.name).read_bytes(), path.name
    assert run(out=tmp_path / "dask", workers=two).manifest["status"] == "finished"  # nothing is left to do


def test_an_exception_of_a_task_is_its_own_and_leaves_the_workers_usable(tmp_path, two, serial):
    with pytest.raises(FileNotFoundError, match="made-up failure") as caught:
        run_all(tmp_path / "s", two, work=broken)
    assert "at load" in caught.value.__notes__[0]
    assert run_all(tmp_path / "s", two) == serial


def test_a_killed_worker_loses_nothing(tmp_path, serial):
    killed = []

    def kill(state) -> None:
        if state.done >= 24 and not killed:
            killed.append(workers.client.run(os.getpid).popitem()[1])
            os.kill(killed[0], signal.SIGKILL)

    with connected("local", 2) as workers:
        assert run_all(tmp_path / "s", workers, kill, seconds=0.02) == serial
        assert killed and killed[0] not in workers.client.run(os.getpid).values()


def test_a_part_that_kills_every_worker_ends_the_study_and_keeps_the_others(tmp_path, serial):
    """Which part is named is Dask's to say: one that waits on a worker is lost with it as well."""
    with dask.config.set({"distributed.scheduler.allowed-failures": 1}), connected("local", 2) as workers:
        with pytest.raises(
            Stopped, match=r"part load\d+_angle\d+_\d+_\d+ was lost with its workers again and again, finished"
        ):
            run_all(tmp_path / "s", workers, work=deadly, seconds=0.02)
    assert list((tmp_path / "s" / "chunks").rglob("*.parquet"))
    assert run_all(tmp_path / "s", 1) == serial


def keep_cluster(pipe) -> None:
    with LocalCluster(n_workers=1, threads_per_worker=1, dashboard_address="127.0.0.1:0") as local:
        pipe.send(local.scheduler_address)
        time.sleep(120)


def test_a_lost_scheduler_is_one_sentence_and_the_study_goes_on(tmp_path, serial, monkeypatch):
    monkeypatch.setattr(cluster, "TIMEOUT", 1)
    ours, theirs = mp.Pipe()
    process = mp.get_context("spawn").Process(target=keep_cluster, args=(theirs,))
    process.start()

    def kill(state) -> None:
        if state.done >= 12 and process.is_alive():
            process.kill()
            process.join()

    with pytest.raises(Stopped, match="the scheduler was lost .* finished parts are kept; allowed: the same command"):
        with connected(ours.recv(), 1) as workers:
            run_all(tmp_path / "s", workers, kill, seconds=0.02)
    assert len(list((tmp_path / "s" / "chunks").rglob("*.parquet"))) >= 3
    assert run_all(tmp_path / "s", 1) == serial


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"n_workers": 0}, "there are no workers at tcp"),
        ({"n_workers": 1, "threads_per_worker": 2}, "has 2 threads; allowed: 1 for each worker"),
        (
            {"n_workers": 1, "threads_per_worker": 1, "preload": [OTHER_CODE]},
            r"worker tcp\S+ has tipmech 0.0.9\+other \(here ",
        ),
    ],
)
def test_workers_that_would_not_give_the_same_rows_are_refused(options, words):
    with LocalCluster(**options, dashboard_address="127.0.0.1:0") as local:
        with pytest.raises(InputError, match=words) as caught, connected(local.scheduler_address, 1):
            pass
    assert "\n" not in str(caught.value) and "allowed" in str(caught.value)


def test_a_worker_that_cannot_load_tipmech_is_refused():
    with LocalCluster(n_workers=1, threads_per_worker=1, dashboard_address="127.0.0.1:0") as local:
        with Client(local, set_as_default=False) as client:
            client.run(forget_tipmech)
            with pytest.raises(InputError, match=r"workers cannot load tipmech \(\w+: ") as caught:
                cluster._checked(client, "local")
    assert "\n" not in str(caught.value)


def forget_tipmech() -> None:
    sys.modules["tipmech.study.cluster"] = None  # type: ignore[assignment]


def test_a_worker_with_other_code_that_comes_later_takes_no_part(tmp_path, monkeypatch):
    monkeypatch.setattr(cluster, "AHEAD", 4)  # so that tasks are left when it comes
    preload = tmp_path / "other.py"
    preload.write_text(OTHER_CODE)
    command = [sys.executable, "-m", "distributed.cli.dask_worker", "--nthreads", "1", "--no-dashboard"]
    seen: set[int] = set()
    with LocalCluster(n_workers=1, threads_per_worker=1, dashboard_address="127.0.0.1:0") as local:
        late = [*command, "--preload", str(preload), local.scheduler_address]
        paths = os.pathsep.join([str(Path(__file__).parents[1]), str(Path(__file__).parents[2])])
        with connected(local.scheduler_address, 1) as workers, (tmp_path / "log").open("w") as log:
            worker = subprocess.Popen(late, stderr=log, env=os.environ | {"PYTHONPATH": paths})
            try:
                run_all(tmp_path / "s", workers, partial(wait_for_two, workers, seen), work=where, seconds=0.01)
                worker.wait(30)
            finally:
                worker.kill()
    assert 2 in seen  # it was there
    assert set(read_parquet(tmp_path / "s" / "rows.parquet")["code"]) == {identity()["tipmech"]}
    told = (tmp_path / "log").read_text()
    assert "leaving: this worker has tipmech 0.0.9+other (here " in told


def wait_for_two(workers, seen: set[int], state) -> None:
    deadline = time.monotonic() + 60
    while 2 not in seen and time.monotonic() < deadline:
        seen.add(len(workers.client.nthreads()))
        time.sleep(0.02)


def where(seconds: float, task: Task):
    """Rows that say by which code they were computed."""
    rows = work(seconds, task)
    return rows | {"code": np.full(task.count, identity()["tipmech"])}


def test_differences_name_both_sides():
    assert differences({"numpy": "2.0", "python": "3.12"}, {"numpy": "2.1", "python": "3.12"}) == "numpy 2.1 (here 2.0)"
    assert differences(identity(), identity()) == ""


@pytest.mark.parametrize("listening", [False, True], ids=["nobody", "silent"])
def test_a_scheduler_that_does_not_answer_is_told_in_time(monkeypatch, listening):
    monkeypatch.setattr(cluster, "TIMEOUT", 2)
    with socket.socket() as port:
        port.bind(("127.0.0.1", 0))
        if listening:
            port.listen()
        address = f"tcp://127.0.0.1:{port.getsockname()[1]}"
        start = time.monotonic()
        with pytest.raises(InputError, match=f"no Dask scheduler answered at {address} within 2 s"):
            with connected(address, 1):
                pass
        assert time.monotonic() - start < 5
    assert cluster.TIMEOUT == 2


def refusal(command: str, *options: str) -> str:
    file = {"map": "readme_map", "threshold": "threshold", "attempts": "attempts/policy"}[command]
    result = CliRunner().invoke(app, [command, str(EXPERIMENTS / f"{file}.toml"), "--check", *options])
    assert result.exit_code == 2
    assert result.stderr.count("\n") == 1
    return result.stderr


@pytest.mark.parametrize("address", ["localhost", "tcp://host", "tcp://host:0", "tcp://h:99999", "http://host:1", ""])
def test_a_malformed_address_is_one_sentence(address):
    words = refusal("map", "--scheduler", address)
    assert words == f"--scheduler is {address!r}; allowed: tcp://HOST:PORT, or local\n"


@pytest.mark.parametrize("command", COMMANDS)
def test_processes_are_the_scheduler_s_own(command):
    words = refusal(command, "--scheduler", "tcp://host:8786", "--workers", "4")
    assert words.startswith("--workers: 4 given with --scheduler tcp://host:8786; allowed: only with --scheduler local")


def test_the_missing_extra_is_named(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    words = refusal("map", "--scheduler", "local")
    assert "the package 'distributed', which is not installed; allowed: pip install 'tipmech[scale]' first" in words


def test_the_command_runs_on_a_local_cluster(tmp_path, monkeypatch):
    from tipmech.cli import study as commands

    spec = make_spec(scrambles=2, points=2)
    monkeypatch.setattr(commands, "read_map", lambda path: spec)
    monkeypatch.setattr(commands, "run_map", partial(run_map, evaluate=coin))
    (tmp_path / "study.toml").write_text(STUDY)
    asked = [
        "map",
        str(tmp_path / "study.toml"),
        "--out",
        str(tmp_path / "m"),
        "--scheduler",
        "local",
        "--workers",
        "1",
    ]
    result = CliRunner().invoke(app, asked)
    assert result.exit_code == 0, result.output
    one = run_map(spec, tmp_path / "one", workers=1, evaluate=coin)
    assert (tmp_path / "m" / "rows.parquet").read_bytes() == (one.folder / "rows.parquet").read_bytes()
