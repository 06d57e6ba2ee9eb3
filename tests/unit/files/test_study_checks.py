"""What `--check` of a study file refuses before any bench runs: geometry of the shared scene, and the kind of file."""

from pathlib import Path

import pytest

from tipmech.checks import InputError
from tipmech.files.scene import read_case
from tipmech.files.study import check_map, check_threshold

EXPERIMENTS = Path(__file__).parents[3] / "experiments"
SMALL = 'tip_loads_gf = [0.5, 2.0]\nangles_deg = [10.0, 60.0]\n[wire]\npreset = "workhorse"\n'


def write(folder: Path, text: str) -> Path:
    path = folder / "study.toml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("scene", "words"),
    [
        ("tear_start_mm = 400", "'scene.tear_start_mm' is 400; allowed: at most 65.18, .* mm vessel$"),
        ("tear_half_width_mm = 5", "'scene.tear_half_width_mm' is 5; allowed: at most a quarter .* 2.003$"),
        ("support_outer_diameter_mm = 2.9", "'scene.support_outer_diameter_mm' is 2.9; allowed: less than .* 2.55$"),
        ("taper_mm_per_mm = -0.0135", "'scene.lumen_diameter_mm' is 3; allowed: a lumen everywhere .* twice as wide"),
    ],
)
def test_a_scene_that_does_not_fit_is_refused_in_the_file_s_own_units(tmp_path: Path, scene: str, words: str) -> None:
    with pytest.raises(InputError, match=f"field {words}"):
        check_map(write(tmp_path, f"{SMALL}[scene]\n{scene}\n"))


def test_a_study_s_mesh_that_does_not_reach_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="field 'numerics.elements' is 20; allowed: so many that"):
        check_map(write(tmp_path, f"{SMALL}[numerics]\nelements = 20\nlongest_mm = 0.5\n"))


@pytest.mark.parametrize(("old", "new"), [("[0.5, 2.0]", "[nan]"), ("[10.0, 60.0]", "[95]")])
def test_one_mistake_is_one(tmp_path: Path, old: str, new: str) -> None:
    with pytest.raises(InputError) as caught:
        check_map(write(tmp_path, SMALL.replace(old, new)))
    assert "also wrong" not in str(caught.value) and "more" not in str(caught.value).split("allowed")[1]


def test_the_file_of_a_map_is_not_taken_for_one_of_thresholds(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"field 'ladder' is missing; allowed: a \[ladder\] table"):
        check_threshold(EXPERIMENTS / "readme_map.toml")
    assert check_threshold(write(tmp_path, f"{SMALL}[ladder]\n")).ladder.count == 8
    with pytest.raises(InputError, match="field 'ladder' is a table .* no field of this name"):
        check_map(EXPERIMENTS / "threshold.toml")


def test_a_study_s_missing_wire_file_names_the_study_and_the_field(tmp_path: Path) -> None:
    path = write(tmp_path, SMALL.replace('preset = "workhorse"', 'file = "nope.toml"'))
    with pytest.raises(InputError) as caught:
        check_map(path)
    assert str(caught.value).startswith(f"{path}: field 'wire.file' is 'nope.toml'; allowed: ")


TORTUOUS = 'centreline = "points"\npoints_file = "{}"\ntear_start_mm = 40\ntaper_mm_per_mm = 0.0\n'


def test_a_study_takes_its_vessel_from_points_or_a_helix(tmp_path: Path) -> None:
    (tmp_path / "line.csv").write_text((EXPERIMENTS / "tortuous" / "line.csv").read_text())
    line = check_map(write(tmp_path, f"{SMALL}[scene]\n{TORTUOUS.format('line.csv')}")).scene.line()
    assert line == read_case(EXPERIMENTS / "tortuous" / "tear.toml").case.scene.centreline
    helix = 'centreline = "helix"\nhelix_radius_mm = 10\nhelix_pitch_mm = 20\nhelix_turns = 1\n'
    assert check_map(write(tmp_path, f"{SMALL}[scene]\n{helix}")).scene.line().lengths[0] == pytest.approx(40e-3)


@pytest.mark.parametrize(
    ("scene", "words"),
    [
        (TORTUOUS.format("none.csv"), "'scene.points_file' is 'none.csv'; allowed: the path of a CSV file"),
        (TORTUOUS.format("bad.csv"), "'scene.points_file' is 'bad.csv', whose line 1 is 'x,y'; allowed: the header"),
        ('centreline = "points"\n', "'scene.points_file' is 'missing'; allowed: a text"),
        ('centreline = "straight"\nbend_deg = 30\n', "'scene.bend_deg' is 30; allowed: nothing here when"),
        (
            'centreline = "helix"\nhelix_radius_mm = 9\nhelix_pitch_mm = 2\nhelix_turns = 2\n',
            "'scene.helix_radius_mm' is a line whose parts at .* allowed: parts at least 4.6 mm apart",
        ),
    ],
)
def test_a_study_s_wrong_centreline_is_one_sentence(tmp_path: Path, scene: str, words: str) -> None:
    (tmp_path / "bad.csv").write_text("x,y\n1,2\n")
    path = write(tmp_path, f"{SMALL}[scene]\n{scene}")
    with pytest.raises(InputError, match=f"^{path}: field {words}") as caught:
        check_map(path)
    assert "\n" not in str(caught.value)
