from math import pi, radians
from pathlib import Path

import pytest
from study.made_up import bench

from tipmech.checks import InputError
from tipmech.files.study import bench_of, check_map, check_threshold, read_map, read_threshold

EXPERIMENTS = Path(__file__).parents[2] / "experiments"
GF = 9.80665e-3
SMALL = 'tip_loads_gf = [0.5, 2.0]\nangles_deg = [10.0, 60.0]\n[wire]\npreset = "workhorse"\n'


def write(tmp_path, text):
    path = tmp_path / "study.toml"
    path.write_text(text)
    return path


def test_the_readme_map_is_the_promised_size():
    spec = read_map(EXPERIMENTS / "readme_map.toml", bench)
    assert (len(spec.tip_loads), len(spec.angles), spec.count) == (5, 4, 32) and spec.scrambles == 16
    assert spec.tip_loads[0] == pytest.approx(0.3 * GF) and spec.angles[3] == pytest.approx(radians(75))
    assert spec.scene.centreline.length == pytest.approx(60e-3 + 25e-3 * pi / 3)
    assert spec.scene.lumen.radius == 1.5e-3 and spec.shared.drive_stiffness == pytest.approx(300.0)
    for wire, load in zip(spec.wires, spec.tip_loads, strict=True):
        assert bench(wire) == pytest.approx(load, rel=5e-3)


def test_a_study_s_mesh_is_the_one_its_file_asks_for(tmp_path):
    spec = read_map(write(tmp_path, SMALL + "[numerics]\nlongest_mm = 0.9\n"), bench)
    assert spec.numerics.longest == pytest.approx(0.9e-3)


def test_the_other_study_files_are_sound():
    large = check_map(EXPERIMENTS / "map_large.toml")
    assert (len(large.tip_loads_gf), len(large.angles_deg)) == (9, 6)
    assert large.scrambles * large.points_per_scramble == 256
    threshold = read_threshold(EXPERIMENTS / "threshold.toml", bench)
    assert threshold.ladder_count == 8 and threshold.study.count == 16


def test_the_simulated_bench_gives_the_wanted_loads(tmp_path):
    spec = read_map(write(tmp_path, SMALL))
    loads = [bench_of(10e-3)(wire) for wire in spec.wires]
    assert loads == pytest.approx([0.5 * GF, 2.0 * GF], rel=5e-3)


@pytest.mark.parametrize(
    ("change", "field", "allowed"),
    [
        (("[0.5, 2.0]", "[2.0, 0.5]"), "tip_loads_gf", "each larger than the one before"),
        (("[0.5, 2.0]", "[-1.0]"), "tip_loads_gf[1]", "at least 0.02"),
        (("[0.5, 2.0]", "[]"), "tip_loads_gf", ""),
        (("[0.5, 2.0]", "[nan]"), "tip_loads_gf[1]", "finite"),
        (("[10.0, 60.0]", "[10.0, 95.0]"), "angles_deg[2]", "at most 90"),
        (("angles_deg = [10.0, 60.0]\n", ""), "angles_deg", ""),
        (("[wire]", "points_per_scramble = 3\n[wire]"), "points_per_scramble", "a power of 2"),
        (("[wire]", "scrambles = 1\n[wire]"), "scrambles", "at least 2"),
        (("[wire]", "colour = 1\n[wire]"), "colour", "no field of this name"),
        (("[wire]", "presentation = 'sideways'\n[wire]"), "presentation", "approach"),
        (("[wire]", "[local]\nfree_length_mm = 2.5\n[wire]"), "local", "presentation"),
        (("workhorse", "no such wire"), "wire.preset", "one of very_soft"),
        (('preset = "workhorse"', 'file = "none.toml"'), "none.toml", "there is no such file"),
        (('preset = "workhorse"', ""), "wire.preset", "exactly one of preset and file"),
        (("[wire]", "[scene]\ntear_start_mm = 80.0\n[wire]"), "scene.tear_start_mm", "at most 65.18"),
        (
            ("[wire]", "[scene]\nsupport_inner_diameter_mm = 0.3\n[wire]"),
            "scene.support_inner_diameter_mm",
            "greater than",
        ),
        (
            ("[wire]", "[scene]\nsupport_outer_diameter_mm = 2.9\n[wire]"),
            "scene.support_outer_diameter_mm",
            "less than",
        ),
        (("[wire]", "[scene]\ntaper_mm_per_mm = -0.02\n[wire]"), "scene.taper_mm_per_mm", "at least -0.0145"),
        (("[wire]", "[scene]\nsupport_tilt_deg = 20.0\n[wire]"), "angles_deg", "at least scene.support_tilt_deg, 20"),
        (("[wire]", "[numerics]\nlength_mm = 30.0\n[wire]"), "numerics.length_mm", "at least 42"),
        (("[wire]", "[shared]\nfront_shape = 'round'\n[wire]"), "shared.front_shape", "notch"),
        (("[wire]", "[shared]\nfracture_energy_j_m2 = -3.0\n[wire]"), "shared.fracture_energy_j_m2", "at least 0.1"),
    ],
)
def test_mistakes_are_one_sentence_with_file_field_value_and_what_is_allowed(tmp_path, change, field, allowed):
    text = SMALL.replace(*change)
    assert text != SMALL
    path = write(tmp_path, text)
    with pytest.raises(InputError) as caught:
        check_map(path)
    sentence = str(caught.value)
    assert sentence.startswith(f"{tmp_path}") and "\n" not in sentence and len(sentence) < 400
    assert field in sentence and allowed in sentence and "allowed" in sentence


def test_a_ladder_of_few_rungs_is_refused(tmp_path):
    with pytest.raises(InputError, match=r"ladder.count.*at least 8"):
        check_threshold(write(tmp_path, SMALL + "[ladder]\ncount = 5\n"))


def test_a_load_that_the_family_does_not_reach_is_refused(tmp_path):
    path = write(tmp_path, SMALL)
    with pytest.raises(InputError, match=r"study.toml: field 'tip_loads_gf' is 0.5; allowed: a load that"):
        read_map(path, lambda profile: 1e-3)
