import importlib
import json
import tomllib
from functools import partial
from math import radians
from pathlib import Path

import pytest
from study.made_up import bench, make_spec
from study.made_up_sensitivity import failing_often
from typer.testing import CliRunner

from tipmech import CAUTION
from tipmech.checks import InputError
from tipmech.cli import app
from tipmech.files.case_wire import bench_of
from tipmech.files.sensitivity import check_sensitivity, read_sensitivity
from tipmech.study.run_sensitivity import run_sensitivity
from tipmech.study.sensitivity import LOADS
from tipmech.study.store import open_store

EXPERIMENT = Path(__file__).parents[2] / "experiments" / "sensitivity" / "soft_tip.toml"
GF = 9.80665e-3
SMALL = (
    "seed = 3\n[sensitivity]\nscreening = 4\nbase_points = 8\ntip_load_gf = [0.5, 2.0]\nangle_deg = [15.0, 60.0]\n"
    '[wire]\npreset = "workhorse"\n'
)
run = CliRunner()


def write(tmp_path, text):
    path = tmp_path / "study.toml"
    path.write_text(text)
    return path


def test_the_experiment_is_the_promised_size():
    spec = read_sensitivity(EXPERIMENT, bench)
    assert len(spec.inputs) == 22 and spec.count == 3992 and len(spec.study.tip_loads) == LOADS
    assert spec.tip_load == pytest.approx((0.3 * GF, 8.0 * GF)) and spec.angle == pytest.approx(
        (radians(15), radians(75))
    )
    text = EXPERIMENT.read_text()
    assert "22 inputs" in text and "3,992 insertions" in text
    assert tomllib.loads(text)["sensitivity"]["base_points"] == 128


def test_wires_interpolated_between_the_simulated_bench_loads(tmp_path):
    spec = read_sensitivity(write(tmp_path, SMALL))
    assert 0.0 < spec.load_error < 1e-3
    loads = [bench_of(10e-3)(wire) for wire in spec.study.wires]
    assert loads == pytest.approx(spec.study.tip_loads, rel=5e-3)


def test_fixed_load_and_angle_come_from_the_map_s_axes(tmp_path):
    text = 'tip_loads_gf = [1.0]\nangles_deg = [30.0]\n[sensitivity]\n[wire]\npreset = "workhorse"\n'
    spec = read_sensitivity(write(tmp_path, text), bench)
    assert spec.tip_load is None and spec.angle is None and len(spec.inputs) == 20
    assert (spec.trajectories, spec.levels, spec.base_points, spec.load_error) == (10, 4, 128, 0.0)
    assert check_sensitivity(tmp_path / "study.toml").sensitivity.outcomes == (
        "entered", "extended", "curled", "opened_area"
    )  # fmt: skip


BAD = [
    (("[sensitivity]", '[sensitivity]\noutcomes = ["curled", "lost"]'), "sensitivity.outcomes[2]", 'one of "entered"'),
    (("[sensitivity]", '[sensitivity]\noutcomes = ["curled", "curled"]'), "sensitivity.outcomes", "each outcome once"),
    (("base_points = 8", "base_points = 100"), "sensitivity.base_points", "a power of 2"),
    (("base_points = 8", "base_points = 4"), "sensitivity.base_points", "at least 8"),
    (("[sensitivity]", "[sensitivity]\nlevels = 5"), "sensitivity.levels", "an even number"),
    (("screening = 4", "screening = 1"), "sensitivity.screening", "at least 2"),
    (("[0.5, 2.0]", "[2.0, 0.5]"), "sensitivity.tip_load_gf", "the second larger"),
    (("[15.0, 60.0]", "[60.0, 60.0]"), "sensitivity.angle_deg", "the second larger"),
    (("[15.0, 60.0]", "[60.0]"), "sensitivity.angle_deg[2]", "missing"),
    (("[15.0, 60.0]", "[15.0, 95.0]"), "sensitivity.angle_deg[2]", "at most 90"),
    (("[0.5, 2.0]", "[0.5, 200.0]"), "sensitivity.tip_load_gf[2]", "at most 60"),
    (("seed = 3", "seed = 3\ntip_loads_gf = [1.0]"), "tip_loads_gf", "left out where sensitivity.tip_load_gf"),
    (("seed = 3", "seed = 3\nscrambles = 16"), "scrambles", "sensitivity.base_points"),
    (("[wire]", '[shared]\nfront_shape = "flat"\n[wire]'), "shared.front_shape", "an input of the study"),
    (("tip_load_gf = [0.5, 2.0]\n", ""), "tip_loads_gf", "at least one"),
    (("tip_load_gf = [0.5, 2.0]", "colour = 1"), "sensitivity.colour", "no"),
    (("[wire]", "[scene]\nsupport_tilt_deg = 20.0\n[wire]"), "angles_deg", "at least scene.support_tilt_deg"),
    (("seed = 3", "seed = 3\nbend_length_mm = 6.0"), "sensitivity.angle_deg", "fit the lumen"),
    (("[sensitivity]\nscreening = 4\nbase_points = 8\n", "[other]\n"), "sensitivity", "missing"),
]  # fmt: skip


@pytest.mark.parametrize(("change", "field", "allowed"), BAD)
def test_mistakes_are_one_sentence_and_exit_code_2(tmp_path, change, field, allowed):
    assert change[0] in SMALL
    file = write(tmp_path, SMALL.replace(*change))
    result = run.invoke(app, ["sensitivity", str(file), "--out", str(tmp_path / "out")])
    assert result.exit_code == 2 and result.stdout == "" and len(result.stderr.splitlines()) == 1, result.output
    assert f"{file}: field '{field}'" in result.stderr and allowed in result.stderr
    assert not (tmp_path / "out").exists()


def test_a_load_out_of_reach_names_the_range(tmp_path):
    with pytest.raises(InputError, match=r"'sensitivity.tip_load_gf' .* reaches on the bench"):
        read_sensitivity(write(tmp_path, SMALL), lambda wire: 1e-9 * bench(wire) ** 0.01)


def test_check_runs_no_bench_and_writes_nothing(tmp_path, monkeypatch):
    def never(*_, **__):
        raise AssertionError("the bench ran")

    monkeypatch.setattr("tipmech.files.study.soften_to", never)
    file = write(tmp_path, SMALL)
    done = run.invoke(app, ["sensitivity", str(file), "--check"])
    assert done.exit_code == 0 and "checked, no mistakes found" in done.stdout, done.output
    out = tmp_path / "out"
    open_store(out, "map", make_spec())
    other = run.invoke(app, ["sensitivity", str(file), "--out", str(out)])
    assert other.exit_code == 2 and "a study of another kind (map)" in other.stderr


def test_it_prints_its_tables_within_80_columns_and_goes_on(tmp_path, monkeypatch):
    module = importlib.import_module("tipmech.cli.sensitivity")
    monkeypatch.setattr(module, "run_sensitivity", partial(run_sensitivity, evaluate=failing_often))
    file, out = write(tmp_path, SMALL), tmp_path / "out"
    asked = ["sensitivity", str(file), "--out", str(out), "--workers", "1"]
    first = run.invoke(app, asked)
    assert first.exit_code == 0, first.output
    lines = first.stdout.splitlines()
    start = next(k for k, line in enumerate(lines) if line.startswith("enters the false lumen"))
    end = next(k for k, line in enumerate(lines) if line.endswith("sensitivity.png"))
    assert max(len(line) for line in lines[start:end]) <= 80
    for words in ("22 inputs", "not solved: Morris", "to the least / to the largest value", "solver's imperfection"):
        assert words in first.stdout
    assert CAUTION in first.stdout
    names = {p.name for p in out.iterdir()}
    assert {"sensitivity.png", "indices.csv", "morris.parquet", "rows.csv", "manifest.json"} <= names
    answer = json.loads(run.invoke(app, [*asked, "--json"]).stdout)
    assert set(answer) >= {"manifest", "indices", "morris", "files"}
    assert len(answer["indices"]["total"]) == 4 * 22
    text = (out / "indices.csv").read_text().splitlines()[0]
    for column in (
        "outcome_words",
        "unit",
        "input_words",
        "source",
        "total_low",
        "first_unsolved_most",
        "n_not_solved",
    ):
        assert f'"{column}"' in text
