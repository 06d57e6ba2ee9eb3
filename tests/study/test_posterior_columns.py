"""Studies whose columns are the equally likely wires of a calibration."""

import json

import numpy as np
import pytest
from study.made_up import bench, coin, coin_with_failures, make_spec
from typer.testing import CliRunner
from unit.lab.written_posterior import normal_posterior

from tipmech.checks import InputError
from tipmech.cli import app
from tipmech.cli import study as cli
from tipmech.files.study import check_map, check_threshold, read_map, read_threshold
from tipmech.files.wire import read_wire
from tipmech.lab.map_over import map_over
from tipmech.lab.scale import read_scale
from tipmech.study.inputs import sobol_points
from tipmech.study.run_map import run_map
from tipmech.study.table import concat, read_parquet
from tipmech.wire.design import profile

LOADS = "tip_loads_gf = [0.5, 2.0]\n"
REST = 'angles_deg = [10.0, 60.0]\nscrambles = 4\n[wire]\npreset = "workhorse"\n'
NAMED = 'posterior = "posterior.parquet"\nposterior_wires = 3\n'
WIRE = read_wire("workhorse")


@pytest.fixture
def folder(tmp_path):
    normal_posterior(tmp_path / "posterior.parquet", WIRE, -0.2, 0.3)
    return tmp_path


def write(folder, text):
    path = folder / "study.toml"
    path.write_text(text)
    return path


def test_columns_are_the_wires_of_the_posterior(folder):
    path = write(folder, REST + NAMED)
    scales = tuple(read_scale(folder / "posterior.parquet", WIRE).middles(3).tolist())
    spec = read_map(path, bench, scales)
    assert spec.factors == scales
    stiffness = [w.EI1[0] / profile(WIRE).EI1[0] for w in spec.wires]
    assert stiffness == pytest.approx(list(scales))
    assert spec.tip_loads == pytest.approx([bench(w) for w in spec.wires], abs=0.0)
    other = read_map(write(folder, LOADS + REST), bench)
    assert np.array_equal(sobol_points(spec), sobol_points(other))  # the same points as a study without a posterior
    ladder = read_threshold(write(folder, REST + NAMED + "[ladder]\n"), bench, scales)
    assert ladder.study.factors == scales


@pytest.mark.parametrize(
    ("text", "field", "allowed"),
    [
        (LOADS + REST + NAMED, "tip_loads_gf", "left out with wire.posterior"),
        (REST, "tip_loads_gf", "at least one tip load"),
        (LOADS + REST + "posterior_wires = 3\n", "wire.posterior_wires", "left out where no posterior is named"),
        (REST + NAMED.replace("3", "1"), "wire.posterior_wires", "at least 2"),
    ],
)
def test_tip_loads_or_a_posterior(folder, text, field, allowed):
    for check, more in ((check_map, ""), (check_threshold, "[ladder]\n")):
        with pytest.raises(InputError) as found:
            check(write(folder, text + more))
        assert f"'{field}'" in str(found.value) and allowed in str(found.value)


def test_another_wire_is_refused_before_anything_runs(folder):
    path = write(folder, (REST + NAMED).replace("workhorse", "very_soft"))
    for text, command in ((path.read_text(), "map"), (path.read_text() + "[ladder]\n", "threshold")):
        path.write_text(text)
        done = CliRunner().invoke(app, [command, str(path), "--out", str(folder / "out")])
        assert done.exit_code == 2 and "belongs to the wire" in done.stderr and not (folder / "out").exists()
    path.write_text(REST + NAMED)
    assert CliRunner().invoke(app, ["map", str(path), "--check"]).exit_code == 0


def test_the_mean_over_wires_counts_each_alike_and_unsolved_ones(tmp_path):
    spec = make_spec(loads=(0.5e-2, 1e-2, 2e-2), scrambles=8, points=4)
    result = run_map(spec, tmp_path / "map", 1, evaluate=coin_with_failures)
    over = map_over(spec, result.rows)
    assert over["angle_index"].tolist() == [0, 1] and over["wires"].tolist() == [3, 3]
    assert over["n"].tolist() == [96, 96]
    assert np.array_equal(over["n"], over["n_solved"] + over["n_not_solved"]) and over["n_not_solved"][0] > 0
    cells = result.cells
    own = cells["angle_index"] == 0
    assert over["p_entered"][0] == pytest.approx(np.average(cells["p_entered"][own], weights=cells["n_solved"][own]))
    assert over["p_entered_least"][0] == cells["p_entered"][own].min()
    assert over["p_entered_most"][0] == cells["p_entered"][own].max()
    assert over["p_entered_bound_low"][0] < over["p_entered"][0] < over["p_entered_bound_high"][0]


def test_common_points_are_not_counted_as_more(tmp_path):
    """The same wire three times over is as uncertain as once: its points are the same ones."""
    one = run_map(make_spec(loads=(1e-2,), angles=(0.3,), scrambles=8), tmp_path / "one", 1, evaluate=coin)
    spec = make_spec(loads=(1e-2, 1e-2, 1e-2), angles=(0.3,), scrambles=8)
    over = map_over(spec, run_map(spec, tmp_path / "three", 1, evaluate=coin).rows)
    for end in ("", "_low", "_high", "_wilson_low", "_wilson_high"):
        assert over[f"p_entered{end}"][0] == pytest.approx(one.cells[f"p_entered{end}"][0])
    assert over["p_entered_least"][0] == over["p_entered_most"][0] == over["p_entered"][0]
    assert len(concat([one.rows])["seed"]) == 16


def test_the_map_prints_and_stores_its_columns_together(folder, monkeypatch):
    monkeypatch.setattr(cli, "read_map", lambda file, scales: read_map(file, bench, scales))
    monkeypatch.setattr(cli, "run_map", lambda s, o, w, ow, p: run_map(s, o, 1, ow, p, coin))
    path, out = write(folder, REST + NAMED), folder / "out"
    done = CliRunner().invoke(app, ["map", str(path), "--out", str(out)])
    assert done.exit_code == 0, done.output
    text = " ".join(done.stdout.split())
    assert "columns: 3 equally likely wires of the calibration posterior.parquet" in text
    assert "all columns together" in text and "calibration.csv" in text
    stored = read_parquet(out / "calibration.parquet")
    assert stored["wires"].tolist() == [3] * len(stored["angle"])
    again = CliRunner().invoke(app, ["map", str(path), "--out", str(out), "--json"])
    assert again.exit_code == 0
    assert json.loads(again.stdout)["over_calibration"]["p_entered"] == pytest.approx(stored["p_entered"].tolist())
    normal_posterior(folder / "posterior.parquet", WIRE, 0.0, 0.3)  # another posterior: another study
    other = CliRunner().invoke(app, ["map", str(path), "--out", str(out)])
    assert other.exit_code == 2 and str(out) in other.stderr
