"""Design files: what is read, and what is refused in one sentence; the command's answers and files."""

import json
import math
from pathlib import Path

import pytest
from typer.testing import CliRunner
from unit.lab.written_posterior import normal_posterior

from tipmech import CAUTION
from tipmech.checks import InputError
from tipmech.cli import app
from tipmech.files.design_task import read_design_task
from tipmech.files.wire import read_wire
from tipmech.wire.design import profile

run = CliRunner()
GOOD = """
title = "made up"
seed = 3
[wire]
preset = "workhorse"
[sensitivities]
by = "reduced"
change_percent = 2.0
[[vary]]
dimension = "core 1 diameter at 0 mm"
low_mm = 0.03
high_mm = 0.06
[[wanted]]
figure = "tip_load_10mm_gf"
target = 1.0
[[tolerance]]
dimension = "core 1 diameter"
plus_minus_mm = 0.003
[stackup]
figure = "tip_load_10mm_gf"
band = [0.5, 1.5]
of = "found"
points = 256
"""

# (what is replaced, by what, the sentence)
BAD = [
    ('"core 1 diameter at 0 mm"', '"core 1 diameter at 3 mm"',
     "'vary[1].dimension' is 'core 1 diameter at 3 mm';"
     " allowed: one of core 1 diameter, core 1 diameter at 0 mm,"),
    ('"core 1 diameter"', '"coil 9 pitch"',
     "'tolerance[1].dimension' is 'coil 9 pitch'; allowed: one of core 1 diameter,"),
    ("high_mm = 0.06", "high_mm = 0.02", "'vary[1].high_mm' is 0.02; allowed: greater than low_mm (0.03)"),
    ("low_mm = 0.03", "low_mm = -1.0",
     "'vary[1].low_mm' is -1; allowed: a finite number at least 0.005 and at most 4000"),
    ('figure = "tip_load_10mm_gf"\ntarget', 'figure = "tip_load_10mm"\ntarget',
     "'wanted[1].figure' is 'tip_load_10mm'; allowed: one of tip_load_5mm_gf, tip_load_10mm_gf,"),
    ("target = 1.0", "target = 1.0\nat_most = 2.0",
     "'wanted[1].target' is 'target and at_most'; allowed: one of target, at_least, at_most"),
    ("target = 1.0", "", "'wanted[1].target' is missing; allowed: one of target, at_least, at_most"),
    ("target = 1.0", "target = 100.0",
     "'wanted tip_load_10mm_gf' is 100;"
     " allowed: what parts that fit reach within [[vary]]; the nearest reachable value is 1.098"),
    ("plus_minus_mm = 0.003", "plus_minus_mm = 0.0",
     "'tolerance[1].plus_minus_mm' is 0; allowed: a finite number greater than 0 and at most 100"),
    ("plus_minus_mm = 0.003", "plus_minus_mm = 0.003\nsigma = 3.0",
     "'tolerance[1].sigma' is 3; allowed: no field of this name"),
    ("points = 256", "points = 300", "'stackup.points' is 300; allowed: a power of 2 from 256 to 65536"),
    ("points = 256", "checks = 3", "'stackup.checks' is 3; allowed: a whole number at least 16"),
    ("band = [0.5, 1.5]", "band = [1.5, 0.5]",
     "'stackup.band' is [1.5, 0.5]; allowed: two values of at least 0, the second larger"),
    ('preset = "workhorse"', 'preset = "nope"', "'wire.preset' is 'nope'; allowed: one of very_soft,"),
    ('preset = "workhorse"', "", "'wire.preset' is missing; allowed: either preset or file"),
    ("change_percent = 2.0", "change_percent = 80.0", "'sensitivities.change_percent' is 80; allowed:"),
]  # fmt: skip


def write(folder: Path, text: str) -> Path:
    path = folder / "design.toml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(("old", "new", "sentence"), BAD, ids=[b[2].split("'")[1] + f" {i}" for i, b in enumerate(BAD)])
def test_bad_design_files_are_refused_in_one_sentence(tmp_path: Path, old: str, new: str, sentence: str) -> None:
    assert old in GOOD
    path = write(tmp_path, GOOD.replace(old, new, 1))
    result = run.invoke(app, ["design", str(path), "--out", str(tmp_path / "out")])
    assert result.exit_code == 2
    assert result.stderr.startswith(f"{path}: field {sentence}")
    assert len(result.stderr.strip().splitlines()) == 1
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("cut", "field"),
    [
        (slice(GOOD.index("[[vary]]"), GOOD.index("[[wanted]]")), "vary"),
        (slice(GOOD.index("[[wanted]]"), GOOD.index("[[tolerance]]")), "wanted"),
        (slice(GOOD.index("[[tolerance]]"), GOOD.index("[stackup]")), "tolerance"),
    ],
)
def test_tables_that_belong_together_are_asked_for(tmp_path: Path, cut: slice, field: str) -> None:
    text = GOOD[: cut.start] + GOOD[cut.stop :]
    with pytest.raises(InputError, match=f"field '{field}' is missing; allowed: at least one"):
        read_design_task(write(tmp_path, text))


def test_a_found_design_needs_a_wish(tmp_path: Path) -> None:
    text = GOOD[: GOOD.index("[[vary]]")] + GOOD[GOOD.index("[[tolerance]]") :]
    with pytest.raises(InputError, match="field 'stackup.of' is 'found'; allowed: \"given\""):
        read_design_task(write(tmp_path, text))


def test_a_dimension_is_named_once_and_a_bend_is_not_varied(tmp_path: Path) -> None:
    vary = GOOD[GOOD.index("[[vary]]") : GOOD.index("[[wanted]]")]
    with pytest.raises(
        InputError, match=r"'vary\[2\].dimension' is 'core 1 diameter at 0 mm'; allowed: each dimension"
    ):
        read_design_task(write(tmp_path, GOOD.replace(vary, vary + vary)))
    wanted = GOOD[GOOD.index("[[wanted]]") : GOOD.index("[[tolerance]]")]
    with pytest.raises(InputError, match=r"'wanted\[2\].figure' is '[a-zA-Z0-9_]+'; allowed: each figure once"):
        read_design_task(write(tmp_path, GOOD.replace(wanted, wanted + wanted)))
    bent = Path(str(tmp_path / "bent.toml"))
    preset = Path(__file__).parents[3] / "tipmech" / "wire" / "presets" / "workhorse.toml"
    bent.write_text(preset.read_text(encoding="utf-8") + "\n[bend]\nangle_deg = 30.0\nlength_mm = 2.0\n")
    text = GOOD.replace('preset = "workhorse"', 'file = "bent.toml"').replace("core 1 diameter at 0 mm", "bend angle")
    with pytest.raises(InputError, match="'vary.1..dimension' is 'bend angle'; allowed: a dimension of a part"):
        read_design_task(write(tmp_path, text))


def test_values_are_si(tmp_path: Path) -> None:
    task = read_design_task(write(tmp_path, GOOD))
    assert (task.bounds[0].low, task.bounds[0].high) == pytest.approx((0.03e-3, 0.06e-3))
    assert task.tolerances[0].plus_minus == pytest.approx(3e-6) and task.tolerances[0].sigmas == 3.0
    assert task.change == pytest.approx(0.02) and not task.simulate and task.seed == 3
    assert task.wanted[0].tolerance == pytest.approx(0.01) and task.stack is not None and task.stack.checks == 16


def test_design_writes_its_folder_once_and_its_wires_can_be_read(tmp_path: Path) -> None:
    path, out = write(tmp_path, GOOD), tmp_path / "out"
    result = run.invoke(app, ["design", str(path), "--out", str(out)])
    assert result.exit_code == 0, result.stderr
    assert result.stdout.strip().endswith(CAUTION) and "all wanted figures met" in result.stdout
    names = {p.name for p in out.iterdir()}
    assert {"design.json", "tornado_tip.png", "tornado_tube.png", "front.png", "stackup.png", "found_1.toml"} <= names
    facts = json.loads((out / "design.json").read_text(encoding="utf-8"))
    assert facts["caution"] == CAUTION and facts["inverse"]["all_met"]
    first = facts["inverse"]["found"][0]
    assert first["figures"]["tip_load_10mm_gf"]["simulated"] == pytest.approx(1.0, rel=2.5e-3)
    design = read_wire(out / first["file"])
    assert design.name == "Example Sorrel (workhorse) found 1" and "invented" in design.note
    assert 1e3 * design.parts[0].diameters[0] == pytest.approx(first["dimensions_mm"]["core 1 diameter at 0 mm"])
    assert profile(design).at("EI1", profile(design).distance[:1])[0] > 0.0
    assert facts["stackup"]["wire"] == design.name and facts["stackup"]["simulated_points"] == 16
    again = run.invoke(app, ["design", str(path), "--out", str(out)])
    assert again.exit_code == 2 and "already holds" in again.stderr
    (out / "found_5.toml").write_text("from an earlier run")
    third = run.invoke(app, ["design", str(path), "--out", str(out), "--overwrite", "--json"])
    assert third.exit_code == 0 and json.loads(third.stdout)["inverse"]["all_met"]
    assert all("earlier" not in p.read_text(encoding="utf-8") for p in out.glob("found_*.toml"))


def test_a_file_without_wishes_gives_sensitivities_alone(tmp_path: Path) -> None:
    text = 'title = "alone"\n[wire]\npreset = "very_soft"\n[sensitivities]\nby = "reduced"\n'
    out = tmp_path / "out"
    result = run.invoke(app, ["design", str(write(tmp_path, text)), "--out", str(out)])
    assert result.exit_code == 0, result.stderr
    pictures = {f"tornado_{group}.png" for group in ("tip", "side", "tube", "bends")}
    assert {p.name for p in out.iterdir()} == {"design.json", *pictures}
    facts = json.loads((out / "design.json").read_text(encoding="utf-8"))["sensitivities"]
    assert facts["without_slopes"]["track_gain_percent"] == "no reduced figure: it is simulated only"


def test_figures_are_picked_by_group_and_by_name(tmp_path: Path) -> None:
    text = (
        'title = "some"\n[wire]\npreset = "very_soft"\n[sensitivities]\nfigures = ["bends", "column_10mm_pinned_mN"]\n'
    )
    out = tmp_path / "out"
    result = run.invoke(app, ["design", str(write(tmp_path, text)), "--out", str(out)])
    assert result.exit_code == 0, result.stderr
    assert {p.name for p in out.iterdir()} == {"design.json", "tornado_tip.png", "tornado_bends.png"}
    figures = json.loads((out / "design.json").read_text(encoding="utf-8"))["sensitivities"]["figures"]
    assert (
        figures["column_10mm_pinned_mN"]["by"] == "simulated"
        and "critical" in figures["column_10mm_pinned_mN"]["definition"]
    )
    others = [name for name in figures if name != "column_10mm_pinned_mN"]
    assert (
        others[:2] == ["kink_radius_mm", "shape_kept_percent"] and "least_bend_radius_ribbon_1_distal_10mm_mm" in others
    )
    wrong = text.replace("bends", "bend")
    result = run.invoke(app, ["design", str(write(tmp_path, wrong)), "--out", str(tmp_path / "no")])
    assert (
        result.exit_code == 2
        and "field 'sensitivities.figures' is 'bend'; allowed: tip, side, tube, bends, " in result.stderr
    )


def test_what_cannot_be_searched_for_is_refused(tmp_path: Path) -> None:
    wrong = GOOD.replace("tip_load_10mm_gf", "track_gain_percent")
    result = run.invoke(app, ["design", str(write(tmp_path, wrong)), "--out", str(tmp_path / "no")])
    assert result.exit_code == 2 and "'track_gain_percent'; allowed: one of tip_load_5mm_gf" in result.stderr


def test_check_reads_and_stops(tmp_path: Path) -> None:
    path = write(tmp_path, GOOD)
    result = run.invoke(app, ["design", str(path), "--check", "--out", str(tmp_path / "out")])
    assert result.exit_code == 0 and "no mistakes" in result.stdout and not (tmp_path / "out").exists()


def test_a_calibration_is_named_in_the_file_or_on_the_command_line(tmp_path: Path) -> None:
    posterior = normal_posterior(tmp_path / "posterior.parquet", read_wire("workhorse"), -0.05, 0.1)
    with_table = GOOD.replace("[sensitivities]", '[calibration]\nposterior = "posterior.parquet"\n[sensitivities]')
    path, answers = write(tmp_path, with_table), []
    for text, more in ((with_table, []), (GOOD, ["--posterior", str(posterior)])):
        path.write_text(text, encoding="utf-8")
        out = tmp_path / f"out{len(answers)}"
        result = run.invoke(app, ["design", str(path), "--out", str(out), "--json", *more])
        assert result.exit_code == 0, result.stderr
        answers.append({k: v for k, v in json.loads(result.stdout).items() if k != "files"})
    assert answers[0] == answers[1]
    facts = answers[0]
    scale = facts["calibration"]["scale_of_EI_and_GJ"]
    assert scale["median"] == pytest.approx(math.exp(-0.05), rel=1e-3)
    bar = facts["calibration"]["figures"]["tip_load_10mm_gf"]
    assert bar["low_95"] / bar["median"] == pytest.approx(scale["low_95"] / scale["median"], rel=1e-3)
    assert facts["sensitivities"]["figures"]["tip_load_10mm_gf"]["value"] == pytest.approx(bar["median"])
    first = facts["inverse"]["found"][0]
    over = first["over_calibration"]["figures"]["tip_load_10mm_gf"]
    assert over["low_95"] < 1.0 < over["high_95"] and 0.0 < over["as_wanted"] < 0.2
    assert facts["stackup"]["tolerances"][-1]["dimension"] == "calibrated scale of EI"
    assert "x 0.951 by calibration" in read_wire(tmp_path / "out0" / first["file"]).note
    path.write_text(with_table, encoding="utf-8")
    normal_posterior(posterior, read_wire("workhorse"), -0.3, 0.1)
    result = run.invoke(app, ["design", str(path), "--out", str(tmp_path / "none")])
    assert result.exit_code == 2 and "nearest reachable value is 0.81" in result.stderr  # 1.098 times exp(-0.3)
    assert result.stderr.strip().endswith("at the calibrated scale of EI, 0.741") and not (tmp_path / "none").exists()
    for more, words in (
        (["--posterior", str(posterior)], "--posterior: given beside [calibration]"),
        ([], "belongs to the wire"),
    ):
        if not more:
            normal_posterior(posterior, read_wire("very_soft"), 0.0, 0.1)
        result = run.invoke(app, ["design", str(path), "--check", *more])
        assert result.exit_code == 2 and words in result.stderr
    posterior.unlink()
    result = run.invoke(app, ["design", str(path), "--check"])
    assert result.exit_code == 2 and "there is no such file" in result.stderr
