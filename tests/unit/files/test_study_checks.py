"""What `--check` of a study file refuses before any bench runs: geometry of the shared scene, and the kind of file."""

from pathlib import Path

import pytest

from tipmech.checks import InputError
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
