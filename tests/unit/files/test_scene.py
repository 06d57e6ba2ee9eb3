from math import degrees, radians
from pathlib import Path

import numpy as np
import pytest

from tipmech.checks import InputError
from tipmech.files.case_wire import at_tip_load
from tipmech.files.scene import read_case
from tipmech.insertion.case import Move
from tipmech.insertion.run import increments
from tipmech.outcome import LABEL_WORDS, SHAPE_WORDS, STOP_WORDS, Label, Shape, Stop

EXPERIMENTS = Path(__file__).parents[3] / "experiments"


def write(folder: Path, text: str) -> Path:
    path = folder / "case.toml"
    path.write_text(text if "[[moves]]" in text else f"{text}\n[[moves]]\nadvance_mm = 20\n")
    return path


@pytest.mark.parametrize("name", ["advance_demo", "local_presentation"])
def test_shipped_cases_are_readable(name):
    asked = read_case(EXPERIMENTS / f"{name}.toml")
    assert asked.case.scene.start == "lumen"
    assert asked.title.startswith("demo")


def test_units_and_defaults(tmp_path):
    asked = read_case(
        write(
            tmp_path,
            """seed = 7
            [wire]
            preset = "workhorse"
            tip_load_gf = 0.5
            friction = 0.2
            [tip_shape]
            bend_deg = 45
            [vessel]
            centreline = "s"
            bend_radius_mm = 12
            bend_deg = 30
            wall_youngs_modulus_mpa = 0.5
            [tear]
            start_mm = 20
            azimuth_deg = 90
            [false_channel]
            front_force_mn = 12
            pressure_kpa = -1
            [support]
            tilt_deg = 10
            offset_mm = [0.1, -0.2]
            [[moves]]
            advance_mm = 5
            [[moves]]
            turn_deg = 90
            [[moves]]
            withdraw_mm = 2
            """,
        )
    )
    case, scene = asked.case, asked.case.scene
    assert asked.tip_load_gf == 0.5
    assert case.seed == 7
    assert case.friction == 0.2
    assert case.tip_shape.angle == pytest.approx(radians(45))
    assert scene.wall.youngs_modulus == pytest.approx(0.5e6)
    assert scene.centreline.length == pytest.approx(50e-3 + 2 * 12e-3 * radians(30))
    assert scene.channel.front_force == pytest.approx(12e-3)
    assert scene.channel.pressure == pytest.approx(-1e3)
    assert scene.support.tilt_azimuth == pytest.approx(radians(90))  # toward the tear unless stated
    assert scene.support.offset == pytest.approx((1e-4, -2e-4))
    assert scene.support.distance == pytest.approx(8e-3)
    assert [(m.kind, round(m.amount, 6)) for m in case.moves] == [
        ("advance", 0.005), ("turn", round(radians(90), 6)), ("withdraw", 0.002),
    ]  # fmt: skip
    assert case.drive.stiffness == pytest.approx(300.0)


@pytest.mark.parametrize("bend", ["", 'centreline = "arc"\nbend_radius_mm = 10\nbend_deg = 60'])
@pytest.mark.parametrize("angle", [15, 40])
def test_local_presentation_aims_at_the_upstream_lip(tmp_path, angle, bend):
    path = write(
        tmp_path,
        f"""start = "local"
        [wire]
        preset = "workhorse"
        [local]
        angle_deg = {angle}
        free_length_mm = 2.0
        standoff_mm = 1.0
        [vessel]
        {bend}
        [tear]
        start_mm = 27
        azimuth_deg = 30
        """,
    )
    scene = read_case(path).case.scene
    line, support, tear = scene.centreline, scene.support, scene.tear
    centre, tangent, e1, e2 = (v[0] for v in line.frame(np.array([tear.start - support.distance])))
    mouth = centre + support.offset[0] * e1 + support.offset[1] * e2
    side = np.cos(support.tilt_azimuth) * e1 + np.sin(support.tilt_azimuth) * e2
    axis = np.cos(support.tilt) * tangent + np.sin(support.tilt) * side
    foot, along, f1, f2 = (v[0] for v in line.frame(np.array([tear.start])))
    outward = np.cos(tear.azimuth) * f1 + np.sin(tear.azimuth) * f2
    np.testing.assert_allclose(mouth + 3e-3 * axis, foot + 1.5e-3 * outward, atol=1e-9)
    assert degrees(np.arccos(axis @ along)) == pytest.approx(angle, abs=1e-6)


def test_the_design_s_own_bend_is_used_without_a_tip_shape(tmp_path):
    wire = (Path(__file__).parents[3] / "tipmech/wire/presets/workhorse.toml").read_text()
    kept = (
        wire.replace("[[core]]", "[bend]\nangle_deg = 25.0\nlength_mm = 3.0\n\n[[core]]", 1)
        if "[bend]" not in wire
        else wire
    )
    (tmp_path / "own.toml").write_text(kept)
    asked = read_case(write(tmp_path, '[wire]\nfile = "own.toml"\n[tear]\nstart_mm = 20\n'))
    assert asked.case.tip_shape.angle == pytest.approx(asked.design.bend.angle)
    assert asked.case.tip_shape.angle > 0.0


def test_a_mistake_about_the_wire_names_the_case_file_and_the_field(tmp_path):
    def sentence(wire):
        with pytest.raises(InputError) as caught:
            read_case(write(tmp_path, f"[wire]\n{wire}\n[tear]\nstart_mm = 20\n"))
        return str(caught.value).removeprefix(f"{tmp_path / 'case.toml'}: ")

    (tmp_path / "bad.toml").write_text('name = "no tip"\n')
    assert sentence('file = "none.toml"').startswith("field 'wire.file' is 'none.toml'; allowed: ")
    assert sentence('file = "workhorse"').startswith("field 'wire.file' is 'workhorse'; allowed: ")
    assert sentence('file = "bad.toml"').startswith(
        f"field 'wire.file' is 'bad.toml': {tmp_path / 'bad.toml'}: field 'tip'"
    )
    assert sentence("").startswith("field 'wire.preset' is missing; allowed: exactly one of preset and file")
    assert sentence('preset = "nothing"').startswith("field 'wire.preset' is 'nothing'; allowed: one of ")


@pytest.mark.parametrize(
    ("vessel", "tear", "channel", "words"),
    [
        ("", "lip_radius_mm = 0.18", "", r"'tear.lip_radius_mm' is 0.18; allowed: at most half .* 0.175$"),
        ("flap_thickness_mm = 0.1", "", "", r"'tear.lip_radius_mm' is 0.1; allowed: .* 0.05$"),
        (
            "flap_thickness_mm = 1.5",
            "",
            "",
            r"'vessel.flap_thickness_mm' is 1.5; allowed: less than the lumen's radius",
        ),
        ("", "mouth_gap_mm = 1.5", "", r"'tear.mouth_gap_mm' is 1.5; allowed: less than the lumen's radius, 1.500"),
        (
            "",
            "half_width_mm = 1.1",
            "room_mm = 2",
            r"'tear.half_width_mm' is 1.1; allowed: at most half of .*, 1, so that",
        ),
        ("", "intact = true", "", r"'start' is 'pocket'; allowed: \"lumen\" with tear.intact = true"),
        (
            'centreline = "arc"\nbend_radius_mm = 2.05\nbend_deg = 180',
            "",
            "",
            r"'vessel.bend_radius_mm' is a line whose parts at .* come within .* of each other",
        ),
        (
            "",
            "",
            "thickness_mm = 2",
            r"'false_channel.thickness_mm' is 2; allowed: less than the lumen's radius, 1.500",
        ),
    ],
)
def test_lips_and_flap_fit_each_other_and_the_lumen(tmp_path, vessel, tear, channel, words):
    start = "pocket" if "intact" in tear else "lumen"
    text = f"""start = "{start}"
    [wire]
    preset = "workhorse"
    [vessel]
    {vessel}
    [tear]
    start_mm = 20
    {tear}
    [false_channel]
    {channel}
    """
    with pytest.raises(InputError, match=f"field {words}"):
        read_case(write(tmp_path, text))


@pytest.mark.parametrize(
    ("table", "words"),
    [
        (
            "[false_channel]\nlength_mm = -5",
            r"'false_channel.length_mm' is -5; allowed: at least 0.2 and at most 100, from the downstream lip to the "
            r"front \(a plane upstream of the tear: false_channel.retrograde_mm\)$",
        ),
        (
            "[layers]\nintima_mm = 2",
            r"'layers.intima_mm' is 2; allowed: less than layers.wall_mm, 0.84, so that the layers are thinner than "
            r"the wall$",
        ),
        (
            "[layers]\nmedia_mm = 0.7",
            r"'layers.media_mm' is 0.7; allowed: less than 0.6, what layers.intima_mm leaves of layers.wall_mm, 0.84",
        ),
        ("[layers]\nintima_mm = -1", r"'layers.intima_mm' is -1; allowed: at least 0.02 and at most 1.5, and with the"),
        ("[layers]\nwall_mm = 3\nmedia_mm = 2", r"'layers.media_mm' is 2; allowed: at least 0.02 and at most 1.5, and"),
    ],
)
def test_a_plane_without_length_and_layers_thicker_than_the_wall_are_refused_in_one_sentence(tmp_path, table, words):
    with pytest.raises(InputError, match=f"case.toml: field {words}"):
        read_case(write(tmp_path, f'[wire]\npreset = "workhorse"\n[tear]\nstart_mm = 20\n{table}\n'))


def test_lips_and_flap_just_inside_their_limits_are_read(tmp_path):
    text = """[wire]
    preset = "workhorse"
    [tear]
    start_mm = 20
    lip_radius_mm = 0.17
    mouth_gap_mm = 1.49
    [false_channel]
    thickness_mm = 1.49
    """
    assert read_case(write(tmp_path, text)).case.scene.tear.gap == pytest.approx(1.49e-3)


def test_a_wire_at_another_tip_load_is_called_scaled(tmp_path):
    wire = '[wire]\npreset = "workhorse"\ntip_load_gf = 8.0\n[tear]\nstart_mm = 20\n'
    name = at_tip_load(read_case(write(tmp_path, wire))).case.profile.name
    assert ", scaled to 8 gf (x " in name


def test_the_tip_of_a_wire_laid_along_the_vessel_lies_in_it(tmp_path):
    def sentence(tip, support):
        table = f"[approach]\ntip_before_tear_mm = {tip}\nsupport_behind_tip_mm = {support}\n"
        with pytest.raises(InputError) as caught:
            read_case(
                write(tmp_path, f'start = "approach"\n[wire]\npreset = "workhorse"\n[tear]\nstart_mm = 30\n{table}')
            )
        return str(caught.value)

    assert "'approach.tip_before_tear_mm' is 80; allowed: at most tear.start_mm, 30, so that the tip" in sentence(80, 0)
    assert "'approach.support_behind_tip_mm' is 15; allowed: at most 10, so that the support ends" in sentence(20, 15)


MOVES = '[wire]\npreset = "workhorse"\n[tear]\nstart_mm = 20\n'


def test_a_move_may_turn_while_it_feeds(tmp_path):
    moves = "[[moves]]\nadvance_mm = 5\nturn_deg = 90\n[[moves]]\nwithdraw_mm = 2\nturn_deg = -30\n"
    case = read_case(write(tmp_path, MOVES + moves)).case
    assert case.moves == (Move("advance", 5e-3, radians(90)), Move("withdraw", 2e-3, radians(-30)))
    feed, turn = increments(case.moves, case.numerics.increment).T
    assert (feed.sum(), turn.sum()) == (pytest.approx(3e-3), pytest.approx(radians(60)))
    np.testing.assert_allclose(turn[feed > 0.0], feed[feed > 0.0] * radians(90) / 5e-3, rtol=1e-9)  # evenly


def test_the_frames_of_a_move_that_turns_count_the_longer_of_both(tmp_path):
    turned = "[[moves]]\nadvance_mm = 5\nturn_deg = 7200\n[imaging]\nturn_rate_deg_s = 1\n"
    with pytest.raises(InputError, match=r"imaging.frames_per_s' is 15; allowed: .* the moves take 7200 s"):
        read_case(write(tmp_path, MOVES + turned))


def test_every_code_has_its_own_words():
    assert set(SHAPE_WORDS) == set(Shape)
    assert set(LABEL_WORDS) == set(Label)
    assert set(STOP_WORDS) == set(Stop)
    assert LABEL_WORDS[Label.FALSE_LUMEN_CURLED] != STOP_WORDS[Stop.OUTER_WALL_PIERCED]
