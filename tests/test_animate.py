"""`tipmech animate`: films from files, and what it refuses."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from imageio_ffmpeg import count_frames_and_secs
from synthetic import make_record
from typer.testing import CliRunner

from tipmech import CAUTION
from tipmech.bench.tip_load import LONG_TRAVEL, tip_load
from tipmech.bench.tip_shape import STANDARD_TIP
from tipmech.bench.torque import torque_response
from tipmech.cli import app
from tipmech.cli.animate import differences
from tipmech.cli.animate_bench import TESTS, bench_of
from tipmech.files.wire import read_wire
from tipmech.insertion.classify import travel
from tipmech.insertion.record_file import save
from tipmech.show.film import movie
from tipmech.wire.design import profile

run = CliRunner()
FAST = ["--speed", "50"]


@pytest.fixture(scope="module")
def record(tmp_path_factory) -> Path:
    return save(make_record(), tmp_path_factory.mktemp("made") / "record.nc")


def test_a_record_becomes_an_mp4_and_is_not_replaced_unasked(record, tmp_path):
    asked = ["animate", str(record), *FAST, "--out", str(tmp_path / "o"), "--json"]
    result = run.invoke(app, asked)
    assert result.exit_code == 0, result.output
    facts = json.loads(result.output)
    path = tmp_path / "o" / "animation.mp4"
    assert facts["files"] == [str(path)] and facts["increments"] == len(make_record().feed)
    frames, seconds = count_frames_and_secs(path)
    assert frames == facts["frames"] and seconds == pytest.approx(facts["frames"] / facts["frames_per_s"], abs=0.01)
    before = path.read_bytes()
    again = run.invoke(app, asked)
    assert again.exit_code == 2 and "--overwrite" in again.stderr and path.read_bytes() == before
    assert run.invoke(app, [*asked, "--overwrite"]).exit_code == 0


def test_two_records_become_a_gif_with_their_parting_in_the_facts(record, tmp_path):
    asked = ["animate", str(record), str(record), *FAST, "--gif", "--out", str(tmp_path), "--json"]
    result = run.invoke(app, asked)
    assert result.exit_code == 0, result.output
    facts = json.loads(result.output)
    assert facts["parted_at_m"] is None and facts["differ_in"] == []
    assert (tmp_path / "animation.gif").read_bytes()[:6] == b"GIF89a"


def test_words_for_people(record, tmp_path):
    result = run.invoke(app, ["animate", str(record), *FAST, "--gif", "--out", str(tmp_path)])
    assert result.exit_code == 0 and CAUTION in " ".join(result.output.split())
    assert "frames per s" in result.output


def refused(*arguments: str) -> str:
    result = run.invoke(app, ["animate", *arguments])
    assert result.exit_code == 2, result.output
    assert "allowed:" in result.stderr and result.stderr.count("\n") == 1
    return result.stderr


def test_what_is_no_record_is_refused_and_leaves_nothing(record, tmp_path):
    out = tmp_path / "out"
    text, cut, empty = (tmp_path / name for name in ("text.nc", "cut.nc", "empty.nc"))
    text.write_text("no record", encoding="utf-8")
    data = record.read_bytes()
    cut.write_bytes(data[: len(data) // 2])
    names = [name for name, value in vars(make_record()).items() if isinstance(value, np.ndarray) and name != "holes"]
    save(replace(make_record(), **{name: getattr(make_record(), name)[:0] for name in names}), empty)
    for path in (text, cut, empty, tmp_path / "absent.nc", tmp_path):
        assert str(path) in refused(str(path), "--out", str(out))
    assert not out.exists()


def test_a_damaged_middle_is_refused(record, tmp_path):
    data = bytearray(record.read_bytes())
    data[len(data) // 3 : 2 * len(data) // 3] = b"\0" * (2 * len(data) // 3 - len(data) // 3)
    (tmp_path / "hole.nc").write_bytes(bytes(data))
    assert "hole.nc" in refused(str(tmp_path / "hole.nc"), "--out", str(tmp_path / "o"))


def test_options_that_cannot_be(record):
    assert "0.01" in refused(str(record), "--speed", "0.01")
    assert "nan" in refused(str(record), "--speed", "nan")
    assert "3 records" in refused(*3 * [str(record)])
    assert "somersault" in refused("workhorse", "--bench", "somersault")
    assert "2 wires" in refused("workhorse", "very_soft", "--bench", "whip")
    assert "nobody" in refused("nobody", "--bench", "whip")


def test_two_of_different_seeds_or_rates_are_refused(record, tmp_path):
    case = make_record().case
    for name, other in (
        ("seed", replace(case, seed=case.seed + 1)),
        ("rate", replace(case, drive=replace(case.drive, rate=2.0 * case.drive.rate))),
    ):
        path = save(replace(make_record(), case=other), tmp_path / f"{name}.nc")
        assert name in refused(str(record), str(path))


def test_in_what_two_cases_differ():
    case = make_record().case
    assert differences(case, case) == []
    assert differences(case, replace(case, friction=0.3)) == ["friction"]
    softer = replace(case, profile=case.profile.softened(0.5), seed=3)
    assert differences(case, softer) == ["wire"]


def test_a_procedure_is_told_by_attempts_or_refused_where_it_is_another_s(record, tmp_path):
    path = tmp_path / "record.nc"
    path.write_bytes(record.read_bytes())
    whole = float(travel(make_record())[-1])
    course = {"attempts": [{"travel": 0.4 * whole, "rule": 1}, {"travel": 0.6 * whole, "rule": 0}], "end": "through"}
    (tmp_path / "course.json").write_text(json.dumps(course), encoding="utf-8")
    result = run.invoke(app, ["animate", str(path), *FAST, "--gif", "--out", str(tmp_path / "o"), "--json"])
    assert result.exit_code == 0, result.output
    facts = json.loads(result.output)
    assert facts["attempts"] == 2 and facts["end"] == "through"
    course["attempts"][0]["travel"] = whole
    (tmp_path / "course.json").write_text(json.dumps(course), encoding="utf-8")
    assert "course.json" in refused(str(path))
    for wrong in ("{", '{"attempts": []}', '{"attempts": [{"travel": -1, "rule": 0}], "end": "x"}'):
        (tmp_path / "course.json").write_text(wrong, encoding="utf-8")
        assert "course.json" in refused(str(path))


@pytest.mark.parametrize("test", TESTS)
def test_bench_films_begin_and_end_with_the_test_s_numbers(test):
    film, facts = bench_of("very_soft", test, 1.0)
    film.figure.set_dpi(40)
    film.begin()
    states = len(film.view.times)
    assert facts["states"] == states and np.all(np.diff(film.view.times) >= 0.0)
    pictures = []
    for at in (0.0, 0.5 * film.seconds, film.seconds):
        film.draw(at)
        pictures.append(np.asarray(film.figure.canvas.buffer_rgba()).astype(int).copy())
    assert all(np.abs(a - b).max() > 50 for a, b in zip(pictures, pictures[1:], strict=False))
    assert film.pace.place(film.seconds)[0] == states - 1
    last = film.view.words(states - 1)
    if test == "tip_load":
        assert f"largest so far {facts['tip_load_n'] / 9.80665e-3:.3f} gf" in last
    elif test == "buckling":
        assert f"of the critical {facts['critical_load_n'] * 1e3:.3f} mN" in last
    else:
        assert f"behind by {np.degrees(film.view.test.base[-1] - film.view.test.tip[-1]):.0f}°" in last


def test_a_bench_film_is_decoded(tmp_path):
    film, _ = bench_of("very_soft", "buckling", 20.0)
    path = movie.write(film, tmp_path / "b.mp4", movie.MP4)
    assert count_frames_and_secs(path)[0] == movie.count(film, movie.MP4)


def test_states_asked_for_leave_the_tip_load_as_it_is():
    stock = profile(read_wire("workhorse"))
    plain = tip_load(stock, travel=LONG_TRAVEL)
    asked = np.linspace(0.0, LONG_TRAVEL, 50)
    fine = tip_load(stock, travel=LONG_TRAVEL, at=asked.tolist())
    assert set(asked[1:-1]) <= set(fine.displacement.tolist())
    assert fine.force == pytest.approx(plain.force, rel=1e-6)
    assert len(fine.shapes) == len(fine.displacement) > len(plain.displacement)


def test_rotation_along_the_wire_is_that_of_base_and_tip():
    test = torque_response(profile(read_wire("workhorse")), shape=STANDARD_TIP, turns=0.25)
    assert test.rotation.shape == (len(test.base), len(test.distance))
    np.testing.assert_allclose(test.rotation[:, -1], test.tip, atol=1e-12)
    np.testing.assert_allclose(test.rotation[:, 0] - test.rotation[0, 0], test.base, atol=1e-12)
    np.testing.assert_array_equal(test.twist, test.rotation[-1])
