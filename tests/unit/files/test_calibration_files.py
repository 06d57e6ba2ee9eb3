"""Calibration files: what they mean in SI, and their mistakes in one sentence each; the command end to end."""

import json
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from tipmech import CAUTION
from tipmech.bench.measured import LENGTH_SD, UNSTATED_LENGTH, UNSTATED_LENGTH_SD
from tipmech.checks import InputError
from tipmech.cli import app
from tipmech.files.calibration import read_calibration
from tipmech.show.calibration import CalibrationPicture, DatumPicture

GF = 9.80665e-3
EXPERIMENTS = Path(__file__).parents[3] / "experiments"
GOOD = """
title = "Bench"
[wire]
preset = "workhorse"
[bench]
travel_mm = 0.25
[[tip_load]]
free_length_mm = 10.0
load_gf = 0.4
error_percent = 3.0
[[lateral_stiffness]]
free_length_mm = 20.0
stiffness_N_per_m = 0.02
error_N_per_m = 0.001
"""


def write(folder: Path, text: str) -> Path:
    path = folder / "bench.toml"
    path.write_text(text)
    return path


def test_a_file_in_si(tmp_path: Path) -> None:
    asked = read_calibration(write(tmp_path, GOOD))
    tip, lateral = asked.data
    assert (tip.kind, tip.value, tip.error, tip.relative) == ("tip_load", pytest.approx(0.4 * GF), 0.03, True)
    assert (tip.free_length, tip.length_sd, tip.length_stated) == (10e-3, LENGTH_SD, True)
    assert (lateral.kind, lateral.value, lateral.error, lateral.relative) == ("lateral", 0.02, 0.001, False)
    assert lateral.log_sd == pytest.approx(0.05)
    assert (asked.setup.end, asked.setup.travel, asked.prior_sd) == ("unknown", 0.25e-3, 0.5)


def test_a_length_left_out_has_the_prior_of_one(tmp_path: Path) -> None:
    asked = read_calibration(write(tmp_path, GOOD.replace("free_length_mm = 10.0\n", "")))
    tip = asked.data[0]
    assert (tip.free_length, tip.length_sd, tip.length_stated) == (UNSTATED_LENGTH, UNSTATED_LENGTH_SD, False)


def test_a_known_plate_friction(tmp_path: Path) -> None:
    text = GOOD.replace("travel_mm", 'end = "friction"\nplate_friction = 0.3\ntravel_mm')
    assert read_calibration(write(tmp_path, text)).setup.frictions == (0.3,)


BAD = [
    ("load_gf = 0.4", "load_gf = -1.0", "tip_load[1].load_gf", "-1"),
    ("load_gf = 0.4", "load_gf = nan", "tip_load[1].load_gf", "nan"),
    ("load_gf = 0.4", "", "tip_load[1].load_gf", "missing"),
    ("error_percent = 3.0", "", "tip_load[1].error_gf", "missing"),
    ("error_percent = 3.0", "error_percent = 3.0\nerror_gf = 0.01", "tip_load[1].error_gf", "exactly one"),
    ("error_percent = 3.0", "error_percent = 0.1", "tip_load[1].error_percent", "from 0.5 %"),
    ("error_percent = 3.0", "error_gf = 0.3", "tip_load[1].error_gf", "to 50 %"),
    ("error_N_per_m = 0.001", "error_N_per_m = 0.0", "lateral_stiffness[1].error_N_per_m", "greater than 0"),
    ("free_length_mm = 10.0", "free_length_mm = 2.0", "tip_load[1].free_length_mm", "at least 3 and at most 20"),
    ("free_length_mm = 10.0", "free_length_mm = 40.0", "tip_load[1].free_length_mm", "40"),
    ("free_length_mm = 10.0", "length_error_mm = 0.2", "tip_load[1].length_error_mm", "left out"),
    ("free_length_mm = 10.0", "free_length_mm = 10.0\nlength_error_mm = 1.5", "tip_load[1].length_error_mm", "0.1 of"),
    ("free_length_mm = 20.0", "", "lateral_stiffness[1].free_length_mm", "missing"),
    ("travel_mm = 0.25", "travel_mm = 3.0", "bench.travel_mm", "3"),
    ("travel_mm = 0.25\n", "travel_mm = 1.0\n[[tip_load]]\nfree_length_mm = 3.0\nload_gf = 2.0\nerror_percent = 5.0\n"
     "length_error_mm = 0.3\n", "bench.travel_mm", "at most 0.84"),
    ("travel_mm = 0.25", 'end = "sticky"', "bench.end", "one of"),
    ("travel_mm = 0.25", 'end = "friction"', "bench.plate_friction", "missing"),
    ("travel_mm = 0.25", "plate_friction = 0.2", "bench.plate_friction", 'end = "friction"'),
    ("travel_mm = 0.25", 'end = "friction"\nplate_friction = 0.001', "bench.plate_friction", "at least 0.02"),
    ("[bench]", "[prior]\nscale_log_sd = 0.0\n[bench]", "prior.scale_log_sd", "at least 0.02"),
    ('preset = "workhorse"', 'preset = "none_such"', "wire.preset", "one of"),
    ('preset = "workhorse"', 'file = "none.toml"', "wire.file", "no such file"),
    ('preset = "workhorse"', "", "wire.preset", "exactly one"),
    ("load_gf = 0.4", "load_gf = 0.4\ncolour = 1", "tip_load[1].colour", "no field of this name"),
    (GOOD[GOOD.index("[[tip_load]]") : GOOD.index("[[lateral")], "", "tip_load", "missing"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "field", "word"), BAD, ids=[f"{f}: {n[:20]}" for _, n, f, _ in BAD])
def test_mistakes_are_one_sentence(tmp_path: Path, old: str, new: str, field: str, word: str) -> None:
    assert old in GOOD
    path = write(tmp_path, GOOD.replace(old, new, 1))
    with pytest.raises(InputError) as error:
        read_calibration(path)
    text = str(error.value)
    assert text.startswith(str(path)) and f"'{field}'" in text and word in text and "allowed: " in text
    assert len(text.splitlines()) == 1


def test_too_many_measurements(tmp_path: Path) -> None:
    more = "[[tip_load]]\nload_gf = 0.4\nerror_percent = 3.0\n" * 3
    with pytest.raises(InputError, match="tip_load"):
        read_calibration(write(tmp_path, GOOD + more))


def test_the_command_end_to_end(tmp_path: Path) -> None:
    out, run = tmp_path / "out", CliRunner()
    file = EXPERIMENTS / "calibrate_demo.toml"
    result = run.invoke(app, ["calibrate", str(file), "--out", str(out), "--json"])
    assert result.exit_code == 0, result.output
    facts = json.loads(result.stdout)
    assert sorted(p.name for p in out.iterdir()) == ["calibration.json", "calibration.png", "posterior.parquet"]
    stored = json.loads((out / "calibration.json").read_text())
    assert stored["caution"] == CAUTION and stored["scale"] == facts["scale"]
    for values in (
        facts["scale"],
        facts["end_condition_c"],
        facts["standard_tip_load_gf"],
        *facts["EI_N_mm2"].values(),
    ):
        assert list(values.values()) == sorted(values.values())
    assert facts["correlation_ln_scale_ln_c"] < -0.98  # the banana of one tip load
    assert facts["next_measurement"][0]["what"] == "lateral"
    sds = [c["expected_sd_ln_EI"] for c in facts["next_measurement"]]
    assert sds == sorted(sds) and sds[0] < 0.2 * facts["sd_ln_EI"]
    assert facts["warnings"] == []
    again = run.invoke(app, ["calibrate", str(file), "--out", str(out)])
    assert again.exit_code == 2 and "already holds" in again.stderr


def test_the_command_with_a_known_end_and_a_contradiction(tmp_path: Path) -> None:
    text = GOOD.replace("travel_mm", 'end = "pinned"\ntravel_mm').replace("0.4", "4.0").replace("3.0", "5.0")
    result = CliRunner().invoke(app, ["calibrate", str(write(tmp_path, text)), "--out", str(tmp_path / "o")])
    assert result.exit_code == 0, result.output
    assert CAUTION in result.stdout and "does not fit" in result.stdout and "correlation" not in result.stdout


def test_check_stops_before_the_bench(tmp_path: Path) -> None:
    path = write(tmp_path, GOOD)
    result = CliRunner().invoke(app, ["calibrate", str(path), "--check"])
    assert result.exit_code == 0 and "no mistakes" in result.stdout
    assert sorted(p.name for p in tmp_path.iterdir()) == ["bench.toml"]


def made_up_picture(c_known: str = "") -> CalibrationPicture:
    """A finished calibration that nobody computed."""
    scale, c = np.exp(np.linspace(-1.0, 1.0, 41)), np.linspace(2.4674, 20.19, 21)
    joint = np.exp(-(np.log(scale[None, :] * c[:, None] / 8.0) ** 2) / 0.1)
    datum = DatumPicture("tip load at 10 mm", "gf", 0.4, 0.01, (0.3, 0.38, 0.4, 0.42, 0.5), 8.0 / c, 0.05)
    bell, one = np.exp(-(np.log(scale) ** 2)), np.ones(5)
    return CalibrationPicture(
        "made up", "facts", scale, c, c_known, joint, (0.1, 0.5), bell, 0.5 * bell, c, c, np.arange(5.0), one,
        np.outer([0.5, 0.8, 1.0, 1.2, 2.0], one), (datum,), (("lateral stiffness at 20 mm", 0.03),), 0.3,
    )  # fmt: skip
