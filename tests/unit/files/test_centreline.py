"""Centrelines of case and study files from points and as a helix; every mistake is one sentence."""

from math import pi
from pathlib import Path

import numpy as np
import pytest

from experiments.tortuous.points import invented, points
from tipmech.checks import InputError
from tipmech.files.centreline import read_points
from tipmech.files.scene import read_case
from tipmech.vessel.path import tightest_bend
from tipmech.vessel.scene import Centreline

EXPERIMENTS = Path(__file__).parents[3] / "experiments"
SHIPPED = EXPERIMENTS / "tortuous"
REST = """[wire]
preset = "workhorse"
[tear]
start_mm = {start}
"""


def case(folder: Path, vessel: str, start: float = 30.0) -> Path:
    path = folder / "case.toml"
    path.write_text(REST.format(start=start) + f"[vessel]\n{vessel}\n[[moves]]\nadvance_mm = 20\n")
    return path


def points_case(folder: Path, text: str, more: str = "", start: float = 30.0) -> Path:
    (folder / "line.csv").write_text(text)
    return case(folder, f'centreline = "points"\npoints_file = "line.csv"\n{more}', start)


def csv_of(line: Centreline, step: float = 1e-3) -> str:
    x = line.frame(np.arange(0.0, line.length, step))[0] * 1e3
    return "x_mm,y_mm,z_mm\n" + "\n".join(",".join(f"{v:.6f}" for v in row) for row in x) + "\n"


def sentence(path: Path) -> str:
    with pytest.raises(InputError) as caught:
        read_case(path)
    text = str(caught.value)
    assert "\n" not in text and text.startswith(f"{path}: field '")
    return text.removeprefix(f"{path}: ")


def test_the_shipped_points_are_those_of_their_script():
    np.testing.assert_allclose(read_points(SHIPPED, "line.csv"), points(), atol=0.5001e-5)  # written to 0.01 mm


def test_the_shipped_points_give_the_vessel_they_were_drawn_from():
    line, vessel = read_case(SHIPPED / "tear.toml").case.scene.centreline, invented()
    assert line.length == pytest.approx(vessel.length, rel=0.02)
    bends = [1e3 / k for k in line.curvatures if k > 1e3 / 14.0]
    assert 5.5 < min(bends) < 6.5 and len(line.lengths) <= 24
    assert tightest_bend(line)[1] == pytest.approx(51.5e-3, abs=2e-3)  # the bend of 6 mm


def test_what_became_of_the_points_is_kept():
    asked = read_case(SHIPPED / "tear.toml")
    fit = asked.through
    assert fit is not None and fit.line.lengths == asked.case.scene.centreline.lengths
    off = fit.arcs.distance(read_points(SHIPPED, "line.csv"))
    assert fit.farthest == pytest.approx(float(np.max(off))) and 0.1e-3 < fit.farthest < 0.3e-3
    assert read_case(EXPERIMENTS / "advance_demo.toml").through is None


def test_units_remarks_and_blanks_of_a_points_file(tmp_path):
    (tmp_path / "line.csv").write_text(
        "\ufeff# a remark\n x_mm, y_mm ,z_mm\n\n1,2,3\n# another\n2,2,3\n3,2,3.5\n4e0,2,4\n"
    )
    points = read_points(tmp_path, "line.csv")
    np.testing.assert_allclose(points, 1e-3 * np.array([[1, 2, 3], [2, 2, 3], [3, 2, 3.5], [4, 2, 4]]))


def test_the_tear_faces_the_outer_side_of_its_bend(tmp_path):
    line = Centreline((25e-3, 14e-3, 25e-3), (0.0, 1 / 9e-3, 0.0), (0.6, 0.6, 0.6))
    scene = read_case(points_case(tmp_path, csv_of(line, 0.5e-3), "smoothing_mm = 0")).case.scene
    point, _, e1, _ = (v[0] for v in scene.centreline.frame(np.array([32e-3])))
    end = scene.centreline.frame(np.array([60e-3]))[0][0]
    assert (end - point) @ e1 < -2e-3  # azimuth 0 looks away from where the bend leads
    curvatures = np.array(scene.centreline.curvatures)
    assert np.max(curvatures) == pytest.approx(1 / 9e-3, rel=0.05)


def test_a_helix_is_read_with_its_straights(tmp_path):
    vessel = 'centreline = "helix"\nhelix_radius_mm = 10\nhelix_pitch_mm = -20\nhelix_turns = 1.5\nlead_mm = 20'
    line = read_case(case(tmp_path, vessel)).case.scene.centreline
    assert line.length == pytest.approx(45e-3 + 1.5 * np.hypot(2 * pi * 10e-3, 20e-3), rel=1e-3)
    assert line.planes[-2] < line.planes[1] or line.planes[-2] - line.planes[1] > pi  # left-handed


@pytest.mark.parametrize(
    ("vessel", "words"),
    [
        ('centreline = "points"', "'vessel.points_file' is 'missing'; allowed: a text, because centreline = "),
        (
            'centreline = "helix"\nhelix_radius_mm = 9',
            "'vessel.helix_pitch_mm' is 'missing'; allowed: a number, because",
        ),
        ('points_file = "line.csv"', "'vessel.points_file' is 'line.csv'; allowed: nothing here when centreline = "),
        ("smoothing_mm = 0.1", "'vessel.smoothing_mm' is 0.1; allowed: nothing here when centreline = \"straight\""),
        ("helix_turns = 1", "'vessel.helix_turns' is 1; allowed: nothing here when centreline = \"straight\""),
        (
            'centreline = "points"\npoints_file = "x"\nlead_mm = 9',
            "'vessel.lead_mm' is 9; allowed: nothing here when centreline = \"points\" (the points are the whole line)",
        ),
        (
            'centreline = "points"\npoints_file = "none.csv"',
            "'vessel.points_file' is 'none.csv'; allowed: the path of a CSV file, from this file's folder (there is ",
        ),
        ('centreline = "points"\npoints_file = "."', "'vessel.points_file' is '.', which cannot be read (Is a "),
        (
            'centreline = "helix"\nhelix_radius_mm = 1.2\nhelix_pitch_mm = 3\nhelix_turns = 1',
            "'vessel.helix_radius_mm' is a line with a bend of radius 1.3",
        ),
        (
            'centreline = "helix"\nhelix_radius_mm = 10\nhelix_pitch_mm = 3\nhelix_turns = 2',
            "'vessel.helix_radius_mm' is a line whose parts at ",
        ),
    ],
)
def test_mistakes_in_the_vessel_table(tmp_path, vessel, words):
    text = sentence(case(tmp_path, vessel))
    assert text.startswith("field " + words), text


HEAD = "x_mm,y_mm,z_mm\n"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "'line.csv', which is empty; allowed: a CSV file with the header x_mm,y_mm,z_mm"),
        (
            "x,y,z\n1,2,3\n",
            "'line.csv', whose line 1 is 'x,y,z'; allowed: the header x_mm,y_mm,z_mm (coordinates in mm)",
        ),
        ("x_m,y_m,z_m\n1,2,3\n", "line 1 is 'x_m,y_m,z_m'; allowed: the header"),
        ("1,2,3\n2,3,4\n", "line 1 is '1,2,3'; allowed: the header"),
        (HEAD + "0,0,0\n0,0\n", "line 3 is '0,0'; allowed: three finite numbers, x_mm,y_mm,z_mm"),
        (HEAD + "0,0,0,0\n", "line 2 is '0,0,0,0'; allowed: three finite numbers"),
        (HEAD + "0,0,zero\n", "line 2 is '0,0,zero'; allowed: three finite numbers"),
        (HEAD + "0,0,0\n# remark\n\n0,nan,1\n", "line 5 is '0,nan,1'; allowed: three finite numbers"),
        (HEAD + "0,0,1e300\n", "whose line 2 is '0,0,1e300'; allowed: three finite numbers, x_mm,y_mm,z_mm, within "),
        (HEAD + "0,0,inf\n", "line 2 is '0,0,inf'; allowed: three finite numbers"),
        (HEAD + "0,0,0\n0,0,9\n0,0,20\n", "'line.csv', which has 3 points; allowed: at least 4 points"),
        (HEAD + "0,0,0\n0,0,9\n# remark\n0,0,9.0\n0,0,20\n", "line 5 repeats the point of line 3; allowed: neighbours"),
        (HEAD + "0,0,0\n0,0,0.0005\n0,0,0.001\n0,0,0.03\n", "is a line 0.03 mm long; allowed: a line of 10 mm to 1000"),
        (HEAD + "0,0,0\n0,0,1\n0,0,2\n0,0,3\n", "is a line 3 mm long; allowed: a line of 10 mm to 1000 mm (the coord"),
    ],
)
def test_mistakes_in_a_points_file(tmp_path, text, words):
    found = sentence(points_case(tmp_path, text))
    assert words in found, found
    assert found.startswith("field 'vessel.points_file' is ")


def test_a_points_file_that_is_not_text(tmp_path):
    path = points_case(tmp_path, HEAD)
    (tmp_path / "line.csv").write_bytes(b"\xff\xfe\x00\x80")
    assert "is not text in UTF-8" in sentence(path)


def test_a_bend_tighter_than_lumen_and_flap(tmp_path):
    line = Centreline.arc(30e-3, 1.5e-3, pi / 2, 30e-3)
    found = sentence(points_case(tmp_path, csv_of(line, 0.2e-3), "smoothing_mm = 0"))
    assert found.startswith("field 'vessel.points_file' is a line with a bend of radius 1.")
    assert found.endswith("allowed: bends wider than lumen radius plus flap, 1.85 mm")


@pytest.mark.parametrize("gap", [0.0, 3e-3])
def test_a_line_that_crosses_or_nears_itself(tmp_path, gap):
    """A loop of 8 mm that comes back through its own way in, or past it at less than two outer radii."""
    a = np.linspace(0.0, 2.0 * pi, 80)
    loop = 8e-3 * np.stack([1.0 - np.cos(a), gap / 8e-3 * a / (2.0 * pi), np.sin(a)], axis=1)
    out = np.linspace(1.0, 25.0, 25)[:, None] * np.array([0.0, 0.0, 1e-3])
    x = 1e3 * np.concatenate([-out[::-1], loop, loop[-1] + out])
    text = HEAD + "\n".join(",".join(f"{v:.5f}" for v in row) for row in x)
    found = sentence(points_case(tmp_path, text, "smoothing_mm = 0.05"))
    assert found.startswith("field 'vessel.points_file' is a line whose parts at "), found
    assert found.endswith("allowed: parts at least 4.35 mm apart, so that the vessel does not run into itself")


def test_a_bend_that_would_take_the_wire_beyond_its_elastic_limit(tmp_path):
    """The core of the workhorse yields at 5.2 mm 30 mm from its tip; a lumen of 1 mm leaves it 0.3 mm of play."""
    line = Centreline.arc(20e-3, 3.5e-3, pi, 60e-3)
    narrow = "smoothing_mm = 0\nlumen_diameter_mm = 1\nflap_thickness_mm = 0.2\n"
    path = points_case(tmp_path, csv_of(line, 0.5e-3), narrow, start=24.0)
    path.write_text(path.read_text().replace("advance_mm = 20", "advance_mm = 40"))
    found = sentence(path)
    assert found.startswith("field 'vessel.points_file' is a line with a bend of radius 3.")
    assert " there, or core 1 of the wire would yield" in found
    path.write_text(path.read_text().replace("advance_mm = 40", "advance_mm = 14"))
    assert read_case(path).case.moves[0].amount == pytest.approx(14e-3)  # only the thin part gets there


def test_too_little_smoothing_for_too_many_points(tmp_path):
    x = Centreline.straight(400e-3).frame(np.arange(0.0, 400e-3, 0.5e-3))[0] * 1e3
    x += np.random.default_rng(1).normal(scale=0.03, size=x.shape)
    text = HEAD + "\n".join(",".join(f"{v:.5f}" for v in row) for row in x)
    found = sentence(points_case(tmp_path, text, "smoothing_mm = 0"))
    assert found.startswith("field 'vessel.smoothing_mm' is 0; allowed: a larger value: it takes "), found
    read_case(points_case(tmp_path, text, "smoothing_mm = 0.06"))
