"""Files and command of `tipmech curl`: fields, mistakes, what is printed and written."""

import importlib
import json
from functools import partial
from pathlib import Path

import pytest
from study.made_up import bench, make_spec
from study.made_up_curl import with_failures
from typer.testing import CliRunner

from tipmech import CAUTION
from tipmech.cli import app
from tipmech.files.curl import check_curl, read_curl
from tipmech.study.curl_tables import PREVALENCES, THRESHOLDS
from tipmech.study.run_curl import run_curl
from tipmech.study.store import open_store

EXPERIMENT = Path(__file__).parents[2] / "experiments" / "curl" / "tells.toml"
SMALL = (
    "tip_loads_gf = [0.6, 3.0]\nangles_deg = [40.0]\nscrambles = 8\npoints_per_scramble = 4\nseed = 3\n"
    '[curl]\nlook_mm = 2.0\nthresholds = [0.5, 1.5]\n[wire]\npreset = "workhorse"\n'
)
run = CliRunner()


def write(tmp_path, text):
    path = tmp_path / "study.toml"
    path.write_text(text)
    return path


def test_the_experiment_is_the_promised_size():
    spec = read_curl(EXPERIMENT, bench)
    study = spec.study
    assert len(study.tip_loads) * len(study.angles) * study.count == 1536
    assert "1,536 insertions" in EXPERIMENT.read_text()
    assert spec.every == pytest.approx(1e-3) and study.advance_past_curl == pytest.approx(3e-3)


def test_fields_become_a_spec_in_si(tmp_path):
    text = SMALL + "[imaging]\nlinger_s = 0.2\nthreshold = 1.2\n"
    spec = read_curl(write(tmp_path, text), bench)
    assert (spec.every, spec.foreshortened, spec.detector.threshold, spec.imaging.linger) == (2e-3, 0.5, 1.2, 0.2)
    asked = check_curl(tmp_path / "study.toml").curl.asked()
    assert asked.thresholds == (0.5, 1.5) and asked.prevalences == PREVALENCES
    empty = write(tmp_path, SMALL.replace("look_mm = 2.0\nthresholds = [0.5, 1.5]\n", ""))
    assert check_curl(empty).curl.asked().thresholds == THRESHOLDS and read_curl(empty, bench).every == 1e-3


BAD = [
    (("look_mm = 2.0", "look_mm = 0.0"), "curl.look_mm", "at least 0.1"),
    (("look_mm = 2.0", "look_mm = 10.0\nforeshortened = 1.5"), "curl.foreshortened", "at most 1"),
    (("seed = 3", "seed = 3\nadvance_past_tear_mm = 1.5"), "curl.look_mm", "at most advance_past_tear_mm, 1.5"),
    (("[0.5, 1.5]", "[1.5, 0.5]"), "curl.thresholds", "each larger than the one before"),
    (("[0.5, 1.5]", "[0.0, 1.5]"), "curl.thresholds[1]", "greater than 0"),
    (("look_mm = 2.0", "prevalences = [0.5, 1.0]"), "curl.prevalences[2]", "less than 1"),
    (("look_mm = 2.0", "prevalences = []"), "curl.prevalences", "an array of 1 to 40 entries"),
    (("look_mm = 2.0", "colour = 1"), "curl.colour", "no field of this name"),
    (("[curl]\nlook_mm = 2.0\nthresholds = [0.5, 1.5]\n", ""), "curl", "a [curl] table"),
    (("[wire]", "[imaging]\nhand_rate_mm_s = 0.01\n[wire]"), "imaging.frames_per_s", "at most 20000 frames"),
    (('[wire]\npreset = "workhorse"', '[wire]\npreset = "workhorse"\nposterior = "p.parquet"'), "tip_loads_gf", "left"),
]


@pytest.mark.parametrize(("change", "field", "allowed"), BAD)
def test_mistakes_are_one_sentence_and_exit_code_2(tmp_path, change, field, allowed):
    assert change[0] in SMALL
    file = write(tmp_path, SMALL.replace(*change))
    result = run.invoke(app, ["curl", str(file), "--out", str(tmp_path / "out")])
    assert result.exit_code == 2 and result.stdout == "" and len(result.stderr.splitlines()) == 1, result.output
    assert f"{file}: field '{field}'" in result.stderr and allowed in result.stderr, result.stderr
    assert not (tmp_path / "out").exists()


def test_check_runs_no_bench_and_a_foreign_folder_is_refused(tmp_path, monkeypatch):
    def never(*_, **__):
        raise AssertionError("the bench ran")

    monkeypatch.setattr("tipmech.files.study.soften_to", never)
    file = write(tmp_path, SMALL)
    done = run.invoke(app, ["curl", str(file), "--check"])
    assert done.exit_code == 0 and "checked, no mistakes found" in done.stdout, done.output
    open_store(tmp_path / "out", "map", make_spec())
    other = run.invoke(app, ["curl", str(file), "--out", str(tmp_path / "out")])
    assert other.exit_code == 2 and "a study of another kind (map)" in other.stderr


def test_it_prints_its_table_within_80_columns_and_other_values_may_be_asked_later(tmp_path, monkeypatch):
    module = importlib.import_module("tipmech.cli.curl")
    monkeypatch.setattr(module, "run_curl", partial(run_curl, evaluate=with_failures))
    file, out = write(tmp_path, SMALL), tmp_path / "out"
    asked = ["curl", str(file), "--out", str(out), "--workers", "1"]
    first = run.invoke(app, asked)
    assert first.exit_code == 0, first.output
    lines = first.stdout.splitlines()
    end = next(k for k, line in enumerate(lines) if "in the false lumen" in line and line.startswith("0.6 gf"))
    assert max(len(line.rstrip()) for line in lines[:end]) <= 80
    assert "not solved" in first.stdout and "foreshortened in every view" in first.stdout and CAUTION in first.stdout
    names = {p.name for p in out.iterdir()}
    made = ("tells", "predictive", "thresholds", "roc", "looks", "rows")
    assert {"curl.png", "manifest.json", *(f"{n}.{e}" for n in made for e in ("csv", "parquet"))} <= names
    for table, columns in {
        "tells": ("tip_load_gf", "angle_deg", "likelihood_positive_reason", "area_high", "fn_foreshortened"),
        "looks": ("advance_mm", "score", "in_false", "label_words"),
        "thresholds": ("threshold", "sensitivity_anew_low", "own"),
    }.items():
        head = (out / f"{table}.csv").read_text().splitlines()[0]
        assert all(f'"{column}"' in head for column in columns), head
    file.write_text(SMALL.replace("[0.5, 1.5]", "[0.5, 1.5, 2.5]"))
    chunks = {p: p.stat().st_mtime_ns for p in (out / "chunks").rglob("*.parquet")}
    answer = json.loads(run.invoke(app, [*asked, "--json"]).stdout)
    assert set(answer["thresholds"]["threshold"]) == {0.5, 1.0, 1.5, 2.5}
    assert chunks == {p: p.stat().st_mtime_ns for p in (out / "chunks").rglob("*.parquet")}
