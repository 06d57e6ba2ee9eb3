"""Chunks in a store that fsspec reaches: the same bytes, damage found, other studies beside, what fails is said."""

import fsspec
import numpy as np
import pytest
from fsspec.implementations.memory import MemoryFileSystem
from study.made_up import coin, make_spec
from typer.testing import CliRunner

from tipmech.checks import InputError
from tipmech.cli import app
from tipmech.cli import study as commands
from tipmech.study.run_map import run_map
from tipmech.study.store import DamagedChunks, place_chunks, read_store
from tipmech.study.task import Stopped

SPEC = make_spec(scrambles=8, points=4)


@pytest.fixture
def url():
    """A place in a store that lives in this process."""
    place = "memory://studies"
    yield place
    MemoryFileSystem.store.clear()


def stored(url: str) -> list[str]:
    return fsspec.filesystem("memory").find(url.removeprefix("memory:/"))


def test_rows_are_those_of_a_folder_and_chunks_lie_in_the_store(tmp_path, url):
    run_map(SPEC, tmp_path / "folder", workers=1, evaluate=coin)
    place_chunks(tmp_path / "s", url)
    run_map(SPEC, tmp_path / "s", workers=1, evaluate=coin)
    assert (tmp_path / "s" / "rows.parquet").read_bytes() == (tmp_path / "folder" / "rows.parquet").read_bytes()
    names = [path.relative_to(tmp_path / "folder" / "chunks") for path in (tmp_path / "folder").rglob("chunks/*/*")]
    study = read_store(tmp_path / "s").manifest["hash"]
    assert stored(url) == sorted(f"/studies/{study}/{name.as_posix()}" for name in names)
    assert not (tmp_path / "s" / "chunks").exists() and read_store(tmp_path / "s").chunks_there() == len(names)


def test_a_lost_folder_goes_on_from_the_store(tmp_path, url):
    """Another machine with the same study file and code finds what the lost one had finished."""
    place_chunks(tmp_path / "one", url)
    one = run_map(SPEC, tmp_path / "one", workers=1, evaluate=coin)
    place_chunks(tmp_path / "two", url)
    two = run_map(SPEC, tmp_path / "two", workers=1, evaluate=never)
    assert all(np.array_equal(v, two.rows[k], equal_nan=v.dtype.kind == "f") for k, v in one.rows.items())


def never(case):
    raise AssertionError("computed again")


def test_a_chunk_cut_short_in_the_store_is_computed_again(tmp_path, url):
    place_chunks(tmp_path / "s", url)
    run_map(SPEC, tmp_path / "s", workers=1, evaluate=coin)
    before, path = (tmp_path / "s" / "rows.parquet").read_bytes(), stored(url)[2]
    system = fsspec.filesystem("memory")
    good = system.cat_file(path)
    system.pipe_file(path, good[:-30])
    with pytest.warns(DamagedChunks, match=f"memory://{path[1:]} is damaged"):
        run_map(SPEC, tmp_path / "s", workers=1, evaluate=coin)
    assert system.cat_file(path) == good and (tmp_path / "s" / "rows.parquet").read_bytes() == before


def test_another_study_at_the_same_place_and_an_overwrite_leave_each_other_alone(tmp_path, url):
    for name, spec in (("a", SPEC), ("b", make_spec(scrambles=8, points=4, seed=9))):
        place_chunks(tmp_path / name, url)
        run_map(spec, tmp_path / name, workers=1, evaluate=coin)
    before = stored(url)
    run_map(SPEC, tmp_path / "a", workers=1, evaluate=coin, overwrite=True)
    assert stored(url) == before and len({path.split("/")[2] for path in before}) == 2


@pytest.mark.parametrize("fails", ["pipe_file", "cat"])
def test_a_store_that_fails_ends_the_study_with_one_sentence_and_it_goes_on(tmp_path, url, monkeypatch, fails):
    place_chunks(tmp_path / "s", url)
    with monkeypatch.context() as patch:
        patch.setattr(MemoryFileSystem, fails, lost(getattr(MemoryFileSystem, fails), 3 if fails == "pipe_file" else 0))
        with pytest.raises(Stopped, match=r"^memory://studies/\w+: cannot be used \(RuntimeError: no route\); allowed"):
            run_map(SPEC, tmp_path / "s", workers=1, evaluate=coin)
    kept = stored(url) if fails == "pipe_file" else []
    assert len(kept) == (3 if fails == "pipe_file" else 0)
    result = run_map(SPEC, tmp_path / "s", workers=1, evaluate=coin)
    assert result.manifest["status"] == "finished" and set(kept) <= set(stored(url))


def lost(method, after):
    """A method of a file system that answers so many times."""
    left = [after]

    def inner(*args, **options):
        left[0] -= 1
        if left[0] < 0:
            raise RuntimeError("no route")
        return method(*args, **options)

    return inner


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ("s3/bucket", "is 's3/bucket'; allowed: a URL"),
        ("nowhere://a/b", r"nowhere://a/b cannot be used \(Protocol not"),
    ],
)
def test_a_place_that_is_none_is_refused_before_anything_is_written(tmp_path, given, says):
    with pytest.raises(InputError, match=says):
        place_chunks(tmp_path / "s", given)
    assert not (tmp_path / "s").exists()


def test_a_folder_keeps_the_place_it_began_with(tmp_path, url):
    run_map(SPEC, tmp_path / "here", workers=1, evaluate=coin)
    with pytest.raises(InputError, match=r"here: has its chunks in it, not at memory://studies"):
        place_chunks(tmp_path / "here", url)
    place_chunks(tmp_path / "s", url)
    place_chunks(tmp_path / "s", url)
    with pytest.raises(InputError, match=r"has its chunks at memory://studies, not at memory://others"):
        place_chunks(tmp_path / "s", "memory://others")


def test_the_command_takes_a_place_for_chunks(tmp_path, url, monkeypatch):
    file = tmp_path / "study.toml"
    file.write_text('tip_loads_gf = [1.0]\nangles_deg = [30.0]\n[wire]\npreset = "workhorse"\n')
    monkeypatch.setattr(commands, "read_map", lambda path: SPEC)
    monkeypatch.setattr(commands, "run_map", lambda *given: run_map(*given, evaluate=coin))
    out = ["--out", str(tmp_path / "m"), "--workers", "1"]
    result = CliRunner().invoke(app, ["map", str(file), *out, "--chunks", url])
    assert result.exit_code == 0 and stored(url)
    assert CliRunner().invoke(app, ["map", str(file), *out]).exit_code == 0  # the folder knows the place
    result = CliRunner().invoke(app, ["map", str(file), *out, "--chunks", "nowhere://a"])
    assert result.exit_code == 2 and result.stderr.count("\n") == 1
