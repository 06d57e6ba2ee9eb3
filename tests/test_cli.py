"""The command line: what it refuses, and how; help, version, layout of its answers."""

import importlib
import json
import subprocess
import sys
from dataclasses import replace
from functools import partial
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from curl_record import curl_record
from study.made_up import CURLED, make_spec
from study.test_run_attempts import coins_with_failures, course_on, spec_of
from synthetic import make_outcome, make_record
from typer.testing import CliRunner
from unit.lab.written_posterior import normal_posterior

from tipmech import CAUTION, __version__
from tipmech.bench.tip_load import tip_load
from tipmech.checks import InputError
from tipmech.cli import app
from tipmech.cli.advance import outcome_rows, stability
from tipmech.cli.terminal import progress
from tipmech.cli.validate import table_lines
from tipmech.cli.wire import BEND_HEADING, bend_radii, bend_rows, told_apart
from tipmech.files.wire import read_wire
from tipmech.insertion.record_file import load, save
from tipmech.outcome import Label, Shape
from tipmech.study.run_attempts import run_attempts
from tipmech.study.store import open_store
from tipmech.units import UNITS
from tipmech.validation.row import relative
from tipmech.wire.design import profile

run = CliRunner()
EXPERIMENTS = Path(__file__).parents[1] / "experiments"

GOOD = """
start = "lumen"
[wire]
preset = "workhorse"
[tip_shape]
bend_deg = 30.0
[vessel]
lumen_diameter_mm = 3.0
[tear]
start_mm = 20.0
[false_channel]
room_mm = 2.0
[support]
distance_mm = 8.0
[[moves]]
advance_mm = 20.0
"""

# (what is replaced, by what, the field named, the value named)
BAD = [
    ("start_mm = 20.0", "start_mm = 60.0", "tear.start_mm", "60"),
    ("start_mm = 20.0", "start_mm = -1.0", "tear.start_mm", "-1"),
    ("start_mm = 20.0", "start_mm = nan", "tear.start_mm", "nan"),
    ("start_mm = 20.0", "start_mm = 20.0\nlength_mm = 0.0", "tear.length_mm", "0"),
    ("start_mm = 20.0", "start_mm = 20.0\nmouth_gap_mm = 4.0", "tear.mouth_gap_mm", "4"),
    ("start_mm = 20.0", "start_mm = 20.0\nhalf_width_mm = 5.0", "tear.half_width_mm", "5"),
    ("start_mm = 20.0", 'start_mm = 20.0\nfree_lip = "both"', "tear.free_lip", "both"),
    ("start_mm = 20.0", "", "tear.start_mm", "missing"),
    ("start_mm = 20.0", "start = 20.0", "tear.start", "20"),
    ("lumen_diameter_mm = 3.0", "lumen_diameter_mm = 0.1", "vessel.lumen_diameter_mm", "0.1"),
    ("lumen_diameter_mm = 3.0", "lumen_diameter_mm = 3.0\ntaper_mm_per_mm = -0.0275", "vessel.lumen_diameter_mm", "3"),
    ("lumen_diameter_mm = 3.0", "lumen_diameter_mm = 3.0\ntaper_mm_per_mm = -0.05", "vessel.taper_mm_per_mm", "-0.05"),
    ("lumen_diameter_mm = 3.0", "wall_youngs_modulus_mpa = -0.6", "vessel.wall_youngs_modulus_mpa", "-0.6"),
    ("lumen_diameter_mm = 3.0", 'centreline = "arc"', "vessel.bend_radius_mm", "missing"),
    ("lumen_diameter_mm = 3.0", "bend_deg = 30.0", "vessel.bend_deg", "30"),
    ("lumen_diameter_mm = 3.0", 'centreline = "spiral"', "vessel.centreline", "spiral"),
    ("lumen_diameter_mm = 3.0", 'lumen_diameter_mm = 6.0\ncentreline = "arc"\nbend_radius_mm = 3.0\nbend_deg = 20',
     "vessel.bend_radius_mm", "3"),
    ("lumen_diameter_mm = 3.0",
     "lumen_diameter_mm = 0.9\n[narrowing]\nfrom_mm = 40\nto_mm = 44\ndiameter_stenosis_percent = 88",
     "narrowing.diameter_stenosis_percent", "88"),
    ("room_mm = 2.0", "room_mm = 9.0", "false_channel.room_mm", "9"),
    ("room_mm = 2.0", "length_mm = 40.0", "false_channel.length_mm", "40"),
    ("room_mm = 2.0", "thickness_mm = 3.5", "false_channel.thickness_mm", "3.5"),
    ("room_mm = 2.0", "fracture_energy_j_m2 = inf", "false_channel.fracture_energy_j_m2", "inf"),
    ("room_mm = 2.0", "front_stiffness_n_m = -600.0", "false_channel.front_stiffness_n_m", "-600"),
    ("room_mm = 2.0", "length_mm = 0.8", "tear.lip_length_mm", "1"),
    ("distance_mm = 8.0", "distance_mm = -2.0", "support.distance_mm", "-2"),
    ("distance_mm = 8.0", "distance_mm = 30.0", "support.distance_mm", "30"),
    ("distance_mm = 8.0", "tilt_deg = 60.0", "support.tilt_deg", "60"),
    ("distance_mm = 8.0", "offset_mm = [1.4, 0.0]", "support.offset_mm", "[1.4"),
    ("distance_mm = 8.0", "inner_diameter_mm = 0.3", "support.inner_diameter_mm", "0.3"),
    ("distance_mm = 8.0", "inner_diameter_mm = 3.0", "support.inner_diameter_mm", "3"),
    ("bend_deg = 30.0", "bend_deg = 95.0", "tip_shape.bend_deg", "95"),
    ("bend_deg = 30.0", "bend_deg = 70.0\nbend_length_mm = 8.0", "tip_shape.bend_deg", "70"),
    ("bend_deg = 30.0", 'bend_deg = "thirty"', "tip_shape.bend_deg", "thirty"),
    ("advance_mm = 20.0", "advance_mm = -3.0", "moves[1].advance_mm", "-3"),
    ("advance_mm = 20.0", "advance_mm = 60.0", "moves[1].advance_mm", "60"),
    ("advance_mm = 20.0", "withdraw_mm = 6.0", "moves[1].withdraw_mm", "6"),
    ("advance_mm = 20.0", "advance_mm = 3.0\nwithdraw_mm = 2.0",
     "'moves[1]' is a table with advance_mm and withdraw_mm;", "turn_deg also beside"),
    ("advance_mm = 20.0", "", "'moves[1]' is a table with nothing;", "exactly one"),
    ("[[moves]]\nadvance_mm = 20.0\n", "", "'moves' is missing; allowed: an array of 1 to 200 entries", "advance_mm"),
    ('preset = "workhorse"', 'preset = "no_such_wire"', "wire.preset", "no_such_wire"),
    ('preset = "workhorse"', "", "wire.preset", ""),
    ('preset = "workhorse"', 'preset = "workhorse"\ntip_load_gf = 1.0\nsoftness = 0.5', "wire.softness", "0.5"),
    ('start = "lumen"', 'start = "pocket"', "support.distance_mm", "8"),
    ('start = "lumen"', "local = {angle_deg = 30.0}", "local", "given"),
    ('start = "lumen"', "seed = -1", "seed", "-1"),
    ('start = "lumen"', "when = 2020-01-01", "", "date"),
    ('start = "lumen"', "start = ", "", "TOML"),
    ("advance_mm = 20.0", "advance_mm = 20.0\n[stop]\nadvance_past_curl_mm = -1.0", "stop.advance_past_curl_mm", "-1"),
    ("advance_mm = 20.0", "advance_mm = 20.0\n[numerics]\nelements = 5", "numerics.elements", "5"),
    ("advance_mm = 20.0", "advance_mm = 20.0\n[numerics]\nelements = 20\nlongest_mm = 0.5", "numerics.elements", "20"),
    ("advance_mm = 20.0", "advance_mm = 20.0\n[imaging]\npixel_mm = 5.0", "imaging.pixel_mm", "5"),
    ("advance_mm = 20.0", "advance_mm = 20.0\n[imaging]\nviews = []", "imaging.views", "1 to 2"),
    (
        "advance_mm = 20.0",
        "advance_mm = 20.0\n[imaging]\nviews = [{lao_deg = 300.0}]",
        "imaging.views[1].lao_deg",
        "at most 180",
    ),
    (
        "advance_mm = 20.0",
        "advance_mm = 20.0\n[imaging]\nhand_rate_mm_s = 0.01",
        "imaging.frames_per_s",
        "at most 20000 frames",
    ),
]  # fmt: skip


def refused(result, *words):
    """Exit code 2 and one sentence on stderr with these words, nothing else."""
    assert result.exit_code == 2, result.output
    assert result.stdout == ""
    assert len(result.stderr.strip().splitlines()) == 1, result.stderr
    for word in words:
        assert word in result.stderr, result.stderr
    assert "Traceback" not in result.stderr


@pytest.mark.parametrize(("old", "new", "field", "value"), BAD, ids=[f"{f or 'file'}={n}"[:60] for _, n, f, _ in BAD])
def test_bad_case_files_are_refused_in_one_sentence(tmp_path, monkeypatch, old, new, field, value):
    monkeypatch.chdir(tmp_path)
    assert old in GOOD
    file = tmp_path / "case.toml"
    file.write_text(GOOD.replace(old, new))
    result = run.invoke(app, ["advance", str(file)])
    refused(result, str(file), field, value, "allowed")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["case.toml"]


def test_a_local_angle_that_does_not_fit_is_refused(tmp_path):
    file = tmp_path / "case.toml"
    text = GOOD.replace('start = "lumen"', 'start = "local"\nlocal = {angle_deg = 80.0}').replace(
        "distance_mm = 8.0", ""
    )
    file.write_text(text)
    refused(run.invoke(app, ["advance", str(file)]), str(file), "local.angle_deg", "80", "3.75 to")


STUDIES = ["map", "threshold", "attempts", "sensitivity", "compare", "plan", "atlas", "curl"]


@pytest.mark.parametrize("command", ["advance", *STUDIES])
def test_files_that_are_not_there_or_not_text_are_refused(tmp_path, command):
    refused(run.invoke(app, [command, str(tmp_path / "none.toml")]), "none.toml", "no such file")
    refused(run.invoke(app, [command, str(tmp_path)]), str(tmp_path), "folder")
    (tmp_path / "binary.toml").write_bytes(bytes(range(200, 256)))
    refused(run.invoke(app, [command, str(tmp_path / "binary.toml")]), "binary.toml", "UTF-8")


def test_unknown_wire_is_refused():
    refused(run.invoke(app, ["wire", "no_such_wire"]), "no_such_wire")


def test_good_file_is_checked_without_running(tmp_path):
    file = tmp_path / "case.toml"
    file.write_text(GOOD)
    result = run.invoke(app, ["advance", str(file), "--check"])
    assert result.exit_code == 0, result.output
    assert str(file) in result.stdout
    answer = json.loads(run.invoke(app, ["advance", str(file), "--check", "--json"]).stdout)
    assert answer == {"checked": [str(file)], "ok": True, "caution": CAUTION}
    assert [p.name for p in tmp_path.iterdir()] == ["case.toml"]


def test_wire_writes_its_figures_once(tmp_path):
    out = tmp_path / "out"
    first = run.invoke(app, ["wire", "workhorse", "--out", str(out), "--json"])
    assert first.exit_code == 0, first.output
    answer = json.loads(first.stdout)
    wire = answer["wires"][0]
    assert wire["tip_load_5mm_gf"] > wire["tip_load_10mm_gf"] > wire["tip_load_15mm_gf"] > 0
    for length in (5, 10, 15):
        low, high = wire[f"tip_load_{length}mm_free_tip_gf"], wire[f"tip_load_{length}mm_pinned_gf"]
        assert low < wire[f"tip_load_{length}mm_gf"] <= high * 1.001
        assert wire[f"tip_load_{length}mm_within_1mm_gf"] >= wire[f"tip_load_{length}mm_gf"]
    # the coils meet at 30 mm: no value there is the mean of the two sections
    assert wire["stations_mm"] == [1.0, 10.0, 30.0, 30.0, 100.0]
    assert wire["stations_side"] == ["", "", "tip", "hand", ""]
    assert "EI_30mm_N_mm2" not in wire
    assert wire["EI_30mm_toward_the_hand_N_mm2"] == wire["EI_bounds_N_mm2"]["sliding"][3]
    assert wire["EI_hard_axis_bounds_N_mm2"] == wire["EI_bounds_N_mm2"]
    assert sorted(p.name for p in out.iterdir()) == ["wire.json", "wire.pdf", "wire.png"]
    assert json.loads((out / "wire.json").read_text())["caution"] == CAUTION
    refused(run.invoke(app, ["wire", "workhorse", "--out", str(out)]), str(out), "--overwrite")


def test_wire_grinds_the_core_to_a_wanted_tip_load(tmp_path):
    out = tmp_path / "out"
    asked = ["wire", "workhorse", "--tip-load-gf", "1.5", "--out", str(out)]
    done = run.invoke(app, [*asked, "--json"])
    assert done.exit_code == 0, done.output
    answer = json.loads(done.stdout)
    file = out / answer["ground"]["file"]
    assert sorted(p.name for p in out.iterdir()) == sorted(["wire.json", "wire.pdf", "wire.png", file.name])
    before, after = answer["wires"]
    assert after["tip_load_10mm_gf"] == pytest.approx(1.5, rel=2e-3)
    assert answer["ground"]["tip_load_reached_gf"] == pytest.approx(1.5, rel=2e-3)
    factor = answer["ground"]["core_factor"]
    assert answer["ground"]["core_at_tip_mm"] == pytest.approx(factor * answer["ground"]["core_at_tip_before_mm"])
    assert after["name"].endswith("ground to 1.5 gf") and after["note"] != before["note"]
    # a part's least bend radius is proportional to its thickness
    radius = [w["least_bend_radius_mm"]["core 1"]["distal_10_mm"] for w in (before, after)]
    assert radius[1] == pytest.approx(factor * radius[0], rel=1e-6)
    ground = read_wire(file)
    assert ground.name == after["name"]
    assert tip_load(profile(ground)).force / UNITS["gf"] == pytest.approx(1.5, rel=2e-3)
    refused(run.invoke(app, asked), str(out), "--overwrite")


@pytest.mark.parametrize(
    ("wires", "load", "words"),
    [
        (["workhorse"], "500", ["at most", "nearest reachable"]),
        (["workhorse"], "0.001", ["at least", "nearest reachable"]),
        (["workhorse"], "-1", ["greater than 0"]),
        (["workhorse", "intermediate"], "1.5", ["one wire"]),
    ],
)
def test_tip_loads_that_cannot_be_ground_are_refused(tmp_path, wires, load, words):
    out = tmp_path / "out"
    refused(run.invoke(app, ["wire", *wires, "--tip-load-gf", load, "--out", str(out)]), "--tip-load-gf", *words)
    assert not out.exists()


def test_wires_of_one_name_are_told_apart_by_their_files():
    design = read_wire("workhorse")
    other = read_wire("intermediate")
    names = [d.name for d in told_apart([design, other, design], ["a/one.toml", "x", "b/two.toml"])]
    assert names == [f"{design.name} [one]", other.name, f"{design.name} [two]"]


def test_help_of_every_command_carries_the_caution():
    names = [c.name or c.callback.__name__ for c in app.registered_commands]
    expected = [
        "wire",
        "calibrate",
        "design",
        "advance",
        "solid",
        "animate",
        "map",
        "threshold",
        "attempts",
        "compare",
        "atlas",
        "plan",
        "sensitivity",
        "curl",
        "explain",
        "regime",
        "report",
        "schema",
        "lab",
        "validate",
    ]
    assert names == expected
    for arguments in ([], *([n] for n in names)):
        text = run.invoke(app, [*arguments, "--help"]).stdout
        assert CAUTION in " ".join(text.split()), arguments


def test_version():
    assert run.invoke(app, ["--version"]).stdout.strip() == f"tipmech {__version__}"


def test_help_loads_nothing_heavy():
    code = (
        "import sys, tipmech.cli\n"
        "heavy = {'numpy', 'scipy', 'numba', 'matplotlib', 'pydantic', 'xarray', 'pandas', 'pyvista', 'rich.table'}\n"
        "sys.exit(', '.join(sorted(heavy & set(sys.modules))) or 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


def test_advance_writes_a_complete_folder_once(tmp_path):
    file, out = tmp_path / "case.toml", tmp_path / "out"
    file.write_text(GOOD.replace("advance_mm = 20.0", "advance_mm = 1.0"))
    done = run.invoke(app, ["advance", str(file), "--out", str(out), "--json"])
    assert done.exit_code == 0, done.output
    answer = json.loads(done.stdout)
    names = [
        "cross.png", "moves.csv", "opened.png", "outcome.json", "record.nc", "section.png", "seen.png", "strip.png"
    ]  # fmt: skip
    assert sorted(p.name for p in out.iterdir()) == names
    assert sorted(Path(p).name for p in answer["files"]) == names
    stored = json.loads((out / "outcome.json").read_text())
    assert stored["caution"] == CAUTION
    assert stored["values"] == answer["values"]
    assert set(stored["units"]) <= set(stored["values"])
    assert stored["stability"] == {"count_stuck": 0, "count_released": 0, "unstable": False}
    assert stored["opened"]["plane_at_first_m2"] == pytest.approx(5e-3 * 2e-3)
    assert stored["off_opening_m"] == 0.0
    assert [m["kind"] for m in stored["opened"]["moves"]] == ["advance"]
    head, move = (line.split(",") for line in (out / "moves.csv").read_text().splitlines())
    assert dict(zip(head, move, strict=True)) == {
        "move": "1", "kind": "advance", "amount_mm": "1", "amount_deg": "", "feed_from_mm": "0", "feed_to_mm": "1",
        "longer_mm": "0", "opened_by_front_mm2": "0", "opened_by_margins_mm2": "0", "holes": "0",
    }  # fmt: skip
    assert [s["view"] for s in stored["seen"]] == ["RAO 30, cranial 25", "LAO 45, cranial 25"]
    assert all(s["curl_seen_s"] is None and not s["hidden_by_view"] for s in stored["seen"])
    assert all(sum(s["frames"].values()) > 20 for s in stored["seen"])  # 1 mm at 1 mm/s, a second more, 15 a second
    before = {p.name: p.read_bytes() for p in out.iterdir()}
    refused(run.invoke(app, ["advance", str(file), "--out", str(out)]), str(out), "--overwrite")
    assert {p.name: p.read_bytes() for p in out.iterdir()} == before


def test_advance_over_a_posterior_says_whose_record_it_is(tmp_path):
    file, out, wire = tmp_path / "case.toml", tmp_path / "out", read_wire("workhorse")
    file.write_text(GOOD.replace("advance_mm = 20.0", "advance_mm = 1.0"))
    posterior = normal_posterior(tmp_path / "posterior.parquet", wire, -0.2, 0.3)
    asked = ["advance", str(file), "--out", str(out), "--posterior", str(posterior)]
    done = run.invoke(app, [*asked, "--draws", "2", "--json"])
    assert done.exit_code == 0, done.output
    over = json.loads((out / "outcome.json").read_text())["over_posterior"]
    assert over["record_is_that_of"] == "the posterior's median scale"
    assert over["median_scale"] == pytest.approx(np.exp(-0.2), rel=1e-3)
    assert over["wires"] == sum(over["counts"].values()) == len(over["each"]) == 2 and over["not_solved"] == 0
    forces = over["forces_over_solved"]["max_push"]
    assert forces["smallest"] < forces["median"] < forces["largest"]
    kept = load(out / "record.nc").case.profile
    assert kept.EI1[0] == pytest.approx(over["median_scale"] * profile(wire).EI1[0]) and "calibrated" in kept.name
    assert (out / "posterior.png").stat().st_size > 10_000
    refused(run.invoke(app, [*asked, "--draws", "2"]), str(out), "posterior.png", "--overwrite")
    again = run.invoke(app, ["advance", str(file), "--out", str(out), "--overwrite", "--json"])
    assert again.exit_code == 0 and not (out / "posterior.png").exists()


def test_a_posterior_that_does_not_belong_is_refused(tmp_path):
    file, wire = tmp_path / "case.toml", read_wire("very_soft")
    posterior = str(normal_posterior(tmp_path / "posterior.parquet", wire, 0.0, 0.3))

    def check(text, *more):
        file.write_text(text)
        return run.invoke(app, ["advance", str(file), "--check", *more])

    refused(check(GOOD, "--posterior", posterior), posterior, "belongs to the wire")
    for line, name in (("softness = 0.7", "wire.softness"), ("tip_load_gf = 0.7", "wire.tip_load_gf")):
        text = GOOD.replace('preset = "workhorse"', f'preset = "very_soft"\n{line}')
        refused(check(text, "--posterior", posterior), name, "0.7", "as drawn")
    refused(check(GOOD, "--draws", "4"), "--draws", "4", "--posterior")
    assert check(GOOD.replace("workhorse", "very_soft"), "--posterior", posterior).exit_code == 0


def test_the_table_of_an_insertion_says_unstable_and_not_solved():
    record, outcome = make_record(), make_outcome()
    stuck = replace(record, count_stuck=np.full_like(record.count_stuck, 2))
    assert stability(stuck)["unstable"]
    rows = dict(outcome_rows(stuck, replace(outcome, label=int(Label.NOT_SOLVED))))
    assert rows["label"].startswith("not solved: ")
    assert rows["negative eigenvalues at the end, friction stuck / released"].startswith("2 / ")
    assert "unstable" in rows["negative eigenvalues at the end, friction stuck / released"]
    calm = replace(record, count_stuck=np.zeros_like(record.count_stuck))
    assert not any("unstable" in text for _, text in outcome_rows(calm, outcome))


def test_a_shaft_that_folded_without_a_curl_is_not_called_straight():
    record, outcome = make_record(), make_outcome()
    words = {shape: dict(outcome_rows(record, replace(outcome, shape=int(shape))))["shape"] for shape in Shape}
    assert words[Shape.STRAIGHT] == "neither curled nor buckled"
    assert (words[Shape.CURLED], words[Shape.BIGHT_LEADING]) == ("curled", "bight leading")


def test_options_are_checked_under_check_too(tmp_path):
    policy = str(EXPERIMENTS / "attempts" / "policy.toml")
    words = ("--samples", "is 3;", "16, 32, 64, ... 65536: the file's 16 scrambles times a power of 2")
    refused(run.invoke(app, ["attempts", policy, "--samples", "3", "--check"]), *words)
    refused(run.invoke(app, ["attempts", policy, "--samples", "131072", "--check"]), "--samples", "131072", "65536:")
    refused(run.invoke(app, ["attempts", policy, "--seed", "2147483648", "--check"]), "--seed", "from 0 to 2147483647")
    assert run.invoke(app, ["attempts", policy, "--samples", "32", "--seed", "5", "--check"]).exit_code == 0
    refused(
        run.invoke(app, ["wire", "workhorse", "intermediate", "--tip-load-gf", "1", "--check"]), "one wire to grind"
    )
    other = str(normal_posterior(tmp_path / "posterior.parquet", read_wire("very_soft"), 0.0, 0.3))
    refused(run.invoke(app, ["wire", "workhorse", "--posterior", other, "--check"]), other, "belongs to the wire")
    assert run.invoke(app, ["wire", "workhorse", "--tip-load-gf", "1", "--check"]).exit_code == 0


def test_a_study_file_is_not_taken_for_a_case():
    studies = {"readme_map": "map", "threshold": "threshold", "attempts/policy": "attempts"}
    studies |= {"sensitivity/soft_tip": "sensitivity", "compare/soft_tip": "compare", "atlas/softer": "atlas"}
    studies["curl/tells"] = "curl"
    for name, command in studies.items():
        file = str(EXPERIMENTS / f"{name}.toml")
        refused(
            run.invoke(app, ["advance", file]), file, "is a study file", f"`tipmech {command}`; allowed: a case file"
        )


def test_smoothed_points_are_told(tmp_path):
    file = str(EXPERIMENTS / "tortuous" / "tear.toml")
    text = run.invoke(app, ["advance", file, "--check"]).stdout
    assert "tightest bend of the line through the points: radius 5.63 mm, 50.2 mm from its start" in text
    assert "points off that line: 0.186 mm at most, 0.092 mm root mean square" in text
    told = json.loads(run.invoke(app, ["advance", file, "--check", "--json"]).stdout)["line_through_points"]
    assert told["tightest_bend_radius_m"] == pytest.approx(5.63e-3, abs=1e-5)
    assert told["points_off_at_most_m"] > told["points_off_rms_m"] > 0.0


def test_a_record_whose_hand_followed_rules_is_not_explained(tmp_path):
    told = make_record()
    own, other = tmp_path / "own.nc", tmp_path / "other.nc"
    save(told, own)
    assert run.invoke(app, ["explain", str(own), "--check"]).exit_code == 0
    back = np.where(np.arange(len(told.feed)) > 15, told.feed[15] - (told.feed - told.feed[15]), told.feed)
    for changed in (replace(told, feed=back), replace(told, turn=np.linspace(0.0, 0.2, len(told.feed)))):
        save(changed, other, overwrite=True)
        for command in ("explain", "regime"):
            words = ("the hand did something else", "a record written by `tipmech advance`")
            refused(run.invoke(app, [command, str(other), "--check"]), str(other), *words)


MAP = 'tip_loads_gf = [1.0]\nangles_deg = [15.0]\n[wire]\npreset = "workhorse"\n'


def test_an_error_under_the_progress_bar_is_the_only_line(capsys):
    with pytest.raises(InputError), progress("made up") as report:
        report(1, 2)
        raise InputError("no")
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize("command", ["map", "threshold"])
def test_a_foreign_folder_is_refused_before_the_bench_runs(tmp_path, monkeypatch, command):
    def bench(*_, **__):
        raise AssertionError("the bench ran")

    monkeypatch.setattr("tipmech.files.study.soften_to", bench)
    file, out = tmp_path / "study.toml", tmp_path / "out"
    file.write_text(MAP + ("[ladder]\n" if command == "threshold" else ""))
    out.mkdir()
    (out / "letter.txt").write_text("hello")
    for more in ([], ["--overwrite"]):
        refused(
            run.invoke(app, [command, str(file), "--out", str(out), *more]), str(out), "not a study's result folder"
        )
    (out / "letter.txt").unlink()
    other = {"map": "threshold", "threshold": "map"}[command]
    open_store(out, other, make_spec())
    refused(run.invoke(app, [command, str(file), "--out", str(out)]), str(out), f"a study of another kind ({other})")


def test_explain_and_regime_refuse_what_they_cannot_read(tmp_path):
    for command in ("explain", "regime"):
        refused(run.invoke(app, [command, str(tmp_path / "none.toml")]), "none.toml", "no such file")
        refused(run.invoke(app, [command, str(tmp_path / "none.nc")]), "none.nc", "no such record")
        (tmp_path / "text.nc").write_text("hello")
        refused(run.invoke(app, [command, str(tmp_path / "text.nc")]), "text.nc", "a record written by")
    refused(run.invoke(app, ["explain", str(tmp_path)]), str(tmp_path), "folder")
    refused(run.invoke(app, ["regime", str(tmp_path)]), str(tmp_path), "not a study's result folder")
    study = tmp_path / "study"
    open_store(study, "map", make_spec())
    refused(run.invoke(app, ["regime", str(study), "--check"]), str(study), "not finished")


def test_explain_and_regime_write_once(tmp_path, monkeypatch):
    for name in ("explain", "regime"):
        monkeypatch.setattr(importlib.import_module(f"tipmech.cli.{name}"), "evaluate", lambda case: CURLED)
    file = tmp_path / "case.toml"
    file.write_text(GOOD)
    for command, names in (("explain", ["explain.json", "explain.png"]), ("regime", ["regime.json", "regime.png"])):
        out = tmp_path / command
        checked = run.invoke(app, [command, str(file), "--check", "--json", "--out", str(out)])
        assert checked.exit_code == 0 and not out.exists()
        first = run.invoke(app, [command, str(file), "--out", str(out), "--json"])
        assert first.exit_code == 0, first.output
        assert json.loads(first.stdout)["files"]
        assert set(names) <= {p.name for p in out.iterdir()}
        refused(run.invoke(app, [command, str(file), "--out", str(out)]), str(out), "already holds")
        assert run.invoke(app, [command, str(file), "--out", str(out), "--overwrite"]).exit_code == 0


def test_regime_leaves_out_what_its_model_does_not_cover(tmp_path, monkeypatch):
    monkeypatch.setattr(importlib.import_module("tipmech.cli.regime"), "evaluate", lambda case: CURLED)
    torn, whole = tmp_path / "torn.toml", tmp_path / "whole.toml"
    torn.write_text(GOOD)
    whole.write_text(GOOD.replace("[tear]", "[tear]\nintact = true"))
    refused(run.invoke(app, ["regime", str(whole), "--out", str(tmp_path / "a")]), "there is no lip to lift")
    both = run.invoke(app, ["regime", str(torn), str(whole), "--out", str(tmp_path / "b"), "--json"])
    assert both.exit_code == 0, both.output
    facts = json.loads(both.stdout)
    assert list(facts["outside_the_model"]) == [str(whole)] and facts["all"]["n"] == 1


def test_ctrl_c_says_that_finished_parts_are_kept(tmp_path, monkeypatch):
    def interrupted(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr("tipmech.cli.study.run_map_file", interrupted)
    file, out = tmp_path / "study.toml", tmp_path / "out"
    file.write_text(MAP)
    asked = ["map", str(file), "--out", str(out)]
    for more, words in (([], "the same command goes on"), (["--overwrite"], "without --overwrite goes on")):
        stopped = run.invoke(app, [*asked, *more])
        assert stopped.exit_code == 130 and stopped.stdout == ""
        assert len(stopped.stderr.splitlines()) == 1
        assert f"finished parts are kept in {out}" in stopped.stderr and words in stopped.stderr


def test_another_study_in_the_folder_is_told_by_what_differs(tmp_path):
    spec = make_spec()
    open_store(tmp_path / "m", "map", spec)
    scene = replace(spec.scene, tear_start=spec.scene.tear_start - 1e-3)
    with pytest.raises(InputError, match=r"another study \(seed was 1, now 9; in SI\); allowed: another folder"):
        open_store(tmp_path / "m", "map", replace(spec, seed=9, workers=7))
    with pytest.raises(InputError, match=r"\(angles differs, seed was 1, now 9, scene.tear_start was 0.045, now 0.044"):
        open_store(tmp_path / "m", "map", replace(spec, seed=9, scene=scene, angles=(0.3,)))
    with pytest.raises(InputError, match=r"\(factors differs; in SI\)"):
        open_store(tmp_path / "m", "map", replace(spec, factors=tuple(2 * f for f in spec.factors)))
    assert open_store(tmp_path / "m", "map", replace(spec, workers=7)).manifest["status"] == "running"


def test_every_row_of_the_checks_names_its_source_within_80_columns():
    source = "a source of many words, " * 8 + "page 7"
    lines = table_lines(
        [relative("one", "load, N", 1.0, 1.0, 1e-3, source), relative("two", "x", 2.0, 1.0, 1e-3, "s")], 80
    )
    assert max(map(len, lines)) <= 80
    assert lines[0].split() == ["computed", "reference", "error", "tolerance", "passed"]
    at = {line.split(":")[0]: k for k, line in enumerate(lines) if line[:1].isalpha()}
    assert list(at) == ["one", "two"]
    first, second = (" ".join(" ".join(lines[a:b]).split()) for a, b in ((at["one"], at["two"]), (at["two"], None)))
    assert first == f"one: load, N 1 1 0 0.001 yes source: {source}"
    assert second == "two: x 2 1 1 0.001 NO source: s"
    assert all(len(lines[k + 1]) == len(lines[0]) for k in at.values())


def test_rows_of_bend_radii_compare_like_with_like():
    rows = [dict(bend_rows(d, bend_radii(d))) for d in map(read_wire, ("workhorse", "stiff_tapered"))]
    assert all(next(iter(r)) == BEND_HEADING and r[BEND_HEADING] == "" for r in rows)
    assert "... coil, platinum nickel 10, 0 to 30 mm" in rows[0]
    assert "... coil, platinum nickel 10, 12 to 30 mm" in rows[1]
    shared = set(rows[0]) & set(rows[1])
    assert shared == {BEND_HEADING, "... core, steel 304, 0 to 300 mm", "... coil, steel 304, 30 to 110 mm"}
    design = read_wire("workhorse")
    coil = next(p for n, p in design.named_parts() if n == "coil 2")
    doubled = SimpleNamespace(named_parts=lambda: [("coil 1", coil), ("coil 2", coil)])
    labels = [label for label, _ in bend_rows(doubled, {"coil 1": {}, "coil 2": {}})]
    assert [label[-9:] for label in labels[1:]] == [" (coil 1)", " (coil 2)"]


def test_cli_starts_as_a_module():
    done = subprocess.run([sys.executable, "-m", "tipmech", "--version"], capture_output=True, text=True)
    assert (done.returncode, done.stdout.strip()) == (0, f"tipmech {__version__}")


def test_attempts_print_their_table_within_80_columns_and_go_on(tmp_path, monkeypatch):
    told = course_on(curl_record(), 2)
    monkeypatch.setattr("tipmech.files.attempts.check_attempts", lambda file, **asked: None)
    module = importlib.import_module("tipmech.cli.attempts")
    monkeypatch.setattr(module, "read_attempts", lambda file, **asked: spec_of(scrambles=2, points=4))
    monkeypatch.setattr(module, "run_attempts", partial(run_attempts, evaluate=coins_with_failures))
    monkeypatch.setattr(module, "evaluate", lambda spec, case: told)
    asked = ["attempts", "made_up.toml", "--out", str(tmp_path / "a"), "--workers", "1"]
    first = run.invoke(app, asked)
    assert first.exit_code == 0, first.output
    table = [line for line in first.stdout.splitlines() if "gf" in line and "/" in line]
    assert len(table) == 2 and all(len(line) <= 80 for line in first.stdout.splitlines()[:12])
    paired = "2.04 gf less 0.51 gf, 29°: opened area +"
    for words in ("no equilibrium was found", paired, "attempts in the false lumen"):
        assert words in first.stdout
    names = {p.name for p in (tmp_path / "a").iterdir()}
    assert {"attempts.png", "course.png", "cells.csv", "pairs.parquet", "manifest.json"} <= names
    chunks = {p: p.stat().st_mtime_ns for p in (tmp_path / "a" / "chunks").rglob("*.parquet")}
    answer = json.loads(run.invoke(app, [*asked, "--json"]).stdout)
    assert set(answer) >= {"manifest", "cells", "incidence", "pairs", "files"}
    assert {p: p.stat().st_mtime_ns for p in (tmp_path / "a" / "chunks").rglob("*.parquet")} == chunks


def test_one_procedure_of_a_case_file_is_written_once(tmp_path, monkeypatch):
    told = course_on(make_record(), 2)
    module = importlib.import_module("tipmech.cli.attempts_case")
    monkeypatch.setattr(module, "follow", lambda case, policy, imaging, detector: told)
    file, out = tmp_path / "case.toml", tmp_path / "out"
    rule = '[[policy.rules]]\nwhen = "curl_seen"\nthen = [{ withdraw_mm = 2.0 }]\n'
    file.write_text(GOOD + "[policy.stop]\nattempts = 3\nfeed_mm = 90.0\n" + rule)
    asked = ["attempts", str(file), "--out", str(out)]
    first = run.invoke(app, asked)
    assert first.exit_code == 0, first.output
    assert "through: in the true lumen beyond the tear" in first.stdout and "curl seen" in first.stdout
    facts = json.loads((out / "course.json").read_text(encoding="utf-8"))
    assert facts["through"] and len(facts["attempts"]) == 2 and facts["caution"] == CAUTION
    assert {p.name for p in out.iterdir()} == {"course.json", "course.png", "record.nc"}
    refused(run.invoke(app, asked), str(out), "--overwrite")
    assert run.invoke(app, [*asked, "--overwrite", "--json"]).exit_code == 0
