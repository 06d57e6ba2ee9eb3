"""Films of insertions: what a frame says is what the record holds, and the file plays."""

from dataclasses import replace

import numpy as np
import pytest
from curl_record import curl_record
from imageio_ffmpeg import read_frames
from PIL import Image
from synthetic import make_outcome, make_record

from tipmech import CAUTION
from tipmech.insertion.classify import classify, travel
from tipmech.show.contest import (
    BEHIND,
    FOLD,
    FRICTION,
    FRONT,
    FRONT_MOVED,
    LIP,
    MORE,
    REST,
    WALLS,
    contest,
    side_words,
)
from tipmech.show.film import movie
from tipmech.show.film.hand import Procedure, action_words
from tipmech.show.film.insertion import InsertionFilm, fitting
from tipmech.show.film.pace import LAST, TURN_RATE, Pace, hand_times, place, short_speed, speed_words
from tipmech.show.film.panels import between
from tipmech.show.film.parting import STAY, Event, events, parting
from tipmech.show.film.stage import decimals
from tipmech.show.film.twin import PAUSE, TwinFilm
from tipmech.show.pair import Run
from tipmech.show.rates import NO_FORCE, WINDOW_OF_TRAVEL, rate
from tipmech.show.view import wires

FAST = 20.0


def spoken(film, at):
    """Texts and numbers of a frame, in the order in which they are drawn."""
    said, stage = [], film.stage
    say, number, add = stage.say, stage.number, film.figure.text
    stage.say = lambda x, y, text, box, **look: (said.append(text), say(x, y, text, box, **look))
    stage.number = lambda x, y, text, size, **look: said.append(text)
    film.figure.text = lambda x, y, text, **look: (said.append(text), add(x, y, text, **look))[1]
    try:
        film.draw(at)
    finally:
        stage.say, stage.number, film.figure.text = say, number, add
    return said


def film_of(record, **options):
    film = InsertionFilm(record, classify(record), "made up", **options)
    film.begin()
    return film


def test_every_frame_says_what_the_record_holds_at_its_time():
    record = make_record()
    film = InsertionFilm(record, make_outcome(), "made up")
    times, rows = hand_times(record), []
    for k in range(movie.count(film, movie.MP4)):
        at = k / movie.MP4.rate
        shown = film.shown(at)
        rows.append(shown.row)
        assert times[shown.row] <= at + 1e-6
        assert shown.row == len(times) - 1 or at < times[shown.row + 1] + 1e-6
        assert (shown.feed, shown.push) == (record.feed[shown.row], record.push[shown.row])
        assert shown.where.startswith(side_words(record, shown.row))
    assert sorted(set(rows)) == list(range(len(record.feed)))  # none is left out


def test_the_numbers_drawn_are_the_record_s():
    record = make_record()
    film = film_of(record)
    for at in (0.0, 7.0, 12.0, film.seconds):
        row = film.shown(at).row
        said = spoken(film, at)
        assert f"{record.feed[row] * 1e3:.2f}" in said and f"{record.push[row] * 1e3:.1f}" in said
        for name, values in contest(record).forces.items():
            assert f"{values[row] * 1e3:.1f}" in said, name
        assert any(text.startswith(side_words(record, row)) for text in said)
    assert any("ended: " in text for text in said) and any(text.startswith("decided by: ") for text in said)


def test_no_sign_before_a_zero_and_long_words_grow_small():
    assert [decimals(v, 1) for v in (-0.04, 0.04, -0.06, 12.34)] == ["0.0", "0.0", "-0.1", "12.3"]
    assert fitting("short", 10.0, 12.0) == 10.0
    assert fitting(200 * "x", 10.0, 12.0) < 10.0


def test_a_number_is_put_together_of_kept_digits():
    film = film_of(make_record())
    stage = film.stage
    pictures = []
    for text in ("12.5", "-3.0", "12.5"):
        stage.clear()
        stage.number(0.3, 0.5, text, 10.0, color="black")
        pictures.append(np.asarray(film.figure.canvas.buffer_rgba()).astype(int).copy())
    np.testing.assert_array_equal(pictures[0], pictures[2])
    assert np.abs(pictures[0] - pictures[1]).max() > 100
    assert sum(key[2] in set("12.5") for key in stage.texts) == 4


def test_the_pixels_move_and_what_stands_still_does_not():
    film = film_of(make_record())
    pictures = []
    for at in (1.0, 12.0, 1.0):
        film.draw(at)
        pictures.append(np.asarray(film.figure.canvas.buffer_rgba()).astype(int).copy())
    assert np.abs(pictures[1] - pictures[0]).max() > 50
    np.testing.assert_array_equal(pictures[2], pictures[0])  # going back draws the same frame


def test_the_mp4_is_decoded_with_its_frames_and_size(tmp_path):
    record, told = make_record(), []
    film = InsertionFilm(record, make_outcome(), "made up", speed=FAST)
    path = movie.write(film, tmp_path / "a.mp4", movie.MP4, lambda k, n: told.append((k, n)))
    frames = read_frames(path)
    meta = next(frames)
    size = movie.size(film, movie.MP4)
    decoded = [np.frombuffer(data, np.uint8) for data in frames]
    assert len(decoded) == movie.count(film, movie.MP4) == told[-1][0] == told[-1][1]
    assert all(len(data) == 3 * size[0] * size[1] for data in decoded)
    assert meta["size"] == size == meta["source_size"] and size[0] % 2 == size[1] % 2 == 0
    assert meta["codec"] == "h264" and meta["pix_fmt"].startswith("yuv420p") and meta["fps"] == movie.MP4.rate
    film.draw((len(decoded) - 1) / movie.MP4.rate)
    drawn = np.asarray(film.figure.canvas.buffer_rgba())[:, :, :3].astype(int)
    assert np.mean(np.abs(decoded[-1].reshape(drawn.shape).astype(int) - drawn)) < 4.0  # of 255, lossy
    data = path.read_bytes()
    assert 0 < data.index(b"moov") < data.index(b"mdat")  # plays before it is there as a whole
    assert CAUTION.encode() in data
    assert [p.name for p in tmp_path.iterdir()] == ["a.mp4"]


def test_a_film_that_fails_leaves_nothing(tmp_path, monkeypatch):
    film = InsertionFilm(make_record(), make_outcome(), "made up", speed=FAST)
    monkeypatch.setattr(InsertionFilm, "draw", lambda self, at: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        movie.write(film, tmp_path / "a.mp4", movie.MP4)
    assert list(tmp_path.iterdir()) == []


def test_the_gif_lasts_as_long_as_the_film(tmp_path):
    film = InsertionFilm(make_record(), make_outcome(), "made up", speed=FAST)
    path = movie.write(film, tmp_path / "a.gif", movie.GIF)
    lasts = 0.0
    with Image.open(path) as image:
        assert image.info["comment"] == CAUTION.encode()
        assert image.size == movie.size(film, movie.GIF)
        for k in range(image.n_frames):
            image.seek(k)
            lasts += image.info["duration"] / 1e3
    assert lasts == pytest.approx(movie.count(film, movie.GIF) / movie.GIF.rate)


def test_shapes_between_increments_but_not_across_a_snap():
    record = make_record()
    a, b = wires(record, [10, 11])
    near = replace(a, s=a.s + 0.1e-3)
    np.testing.assert_allclose(between(a, near, 0.25).s, a.s + 0.025e-3)
    assert between(a, near, 0.0) is a
    assert between(a, b, 0.5) is a  # this one moves by more than its thickness


def test_time_of_the_hand():
    record = make_record()
    rate_of = record.case.drive.rate
    np.testing.assert_allclose(np.diff(hand_times(record)), np.diff(travel(record)) / rate_of)
    turned = replace(record, feed=np.full(len(record.feed), 1e-3), turn=np.linspace(0.0, TURN_RATE, len(record.feed)))
    assert hand_times(turned)[-1] == pytest.approx(1.0)
    assert speed_words(1.0, 1e-3) == "real time: hand at 1 mm/s"
    assert speed_words(0.5, 1e-3) == "slowed 2 times: hand at 1 mm/s"
    assert speed_words(5.0, 2e-3, turns=True) == "5 times real time: hand at 2 mm/s, turns in place at 90°/s (assumed)"
    assert [short_speed(t) for t in (3.0, 7.0, 40.0, 1e4)] == [1.0, 2.0, 10.0, 50.0]


def test_a_pause_holds_the_film_and_no_increment_is_lost():
    pace = Pace(np.linspace(0.0, 10.0, 101), 2.0, (4.0, 3.0))
    assert pace.seconds == pytest.approx(5.0 + 3.0 + LAST)
    assert [pace.real(at) for at in (1.0, 2.0, 3.5, 5.0, 6.0, 99.0)] == pytest.approx([2.0, 4.0, 4.0, 4.0, 6.0, 10.0])
    assert [pace.paused(at) for at in (1.9, 2.0, 4.9, 5.1)] == [False, True, True, False]
    assert place(pace.times, 0.25) == pytest.approx((2, 0.5))
    assert place(pace.times, 10.0) == (100, 0.0)


def contested(**values):
    record = make_record()
    return replace(record, **{name: np.asarray(value, dtype=float) for name, value in values.items()})


def test_forces_that_contest():
    record = make_record()
    path = travel(record)
    record = contested(energy_elastic=2e-3 * path, diss_friction=5e-4 * path, force_lip_along=3e-3 * path)
    forces = contest(record).forces
    late = path > WINDOW_OF_TRAVEL
    np.testing.assert_allclose(forces[FOLD][late], 2e-3)
    np.testing.assert_allclose(forces[FRICTION][late], 5e-4)
    np.testing.assert_array_equal(forces[LIP], record.force_lip_along)
    np.testing.assert_allclose(forces[FRONT], record.force_front)
    assert rate(record, 2e-3 * path)[0] == 0.0


def test_what_the_hand_works_against_adds_up_and_what_is_borne_is_no_part_of_it():
    path = travel(make_record())
    works = {"energy_elastic": 2e-3, "diss_friction": 5e-4, "diss_front": 3e-3, "energy_contact": 1e-3}
    works["energy_drive"] = 4e-3
    lips = {"force_lip_along": np.full(len(path), 9e-3)}
    record = contested(work_hand=sum(works.values()) * path, **{n: value * path for n, value in works.items()}, **lips)
    found = contest(record)
    late = path > WINDOW_OF_TRAVEL
    assert list(found.balance) == [FOLD, FRICTION, WALLS, FRONT_MOVED, REST]
    for name, value in ((FOLD, 2e-3), (FRICTION, 5e-4), (WALLS, 1e-3), (FRONT_MOVED, 3e-3), (REST, 4e-3)):
        np.testing.assert_allclose(found.balance[name][late], value)
    film = film_of(record)
    names = list(film.arrows.values)
    assert names == ["push", *found.balance, FRONT, LIP]
    said = spoken(film, film.seconds)
    assert all(f"{1e3 * value:.1f}" in said for value in (2e-3, 5e-4, 3e-3, 1e-3, 4e-3, 9e-3))
    words = " ".join(text.get_text() for text in film.arrows.ax.texts)
    assert "push (or pull) = fold + friction + walls + front moved + rest" in words and "no part of that sum" in words


def arrows_of(film, row):
    """Ends along the axis of each arrow drawn at a row, mN, by name."""
    drawn, arrows = {}, film.arrows
    arrows.ax.add_artist = lambda artist: drawn.setdefault(round(artist.get_xy()[:, 1].mean()), artist.get_xy()[:, 0])
    arrows._moving(row)
    return {name: drawn[k] for k, name in enumerate(arrows.values) if k in drawn}


def drawn_back(**values):
    """A made-up wire pulled back over the last half of the travel, that bears and spends forces on the way."""
    record = make_record()
    n = len(record.feed)
    feed = np.concatenate([record.feed[: n // 2], record.feed[: n - n // 2][::-1]])
    path = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(feed)))])
    works = {"work_hand": 24e-3, "diss_friction": 4e-3, "energy_elastic": 6e-3, "energy_contact": 5e-3}
    forces = {"push": -24e-3, "force_front": 0.0, "force_front_back": 8e-3, "force_lip_along": -18e-3}
    given = {name: value * path for name, value in works.items()} | {k: np.full(n, v) for k, v in forces.items()}
    back = {"front_back": np.full(n, record.case.scene.tear.start - 1e-3), "margins": np.zeros((n, 4, 4))}
    return contested(**({"feed": feed} | given | back | values))


def test_drawn_back_all_that_holds_the_wire_points_against_the_pull():
    record = drawn_back()
    n, film = len(record.feed), film_of(record)
    np.testing.assert_array_equal(film.contest.way, np.where(np.arange(n) <= n // 2, 1.0, -1.0))
    rows = arrows_of(film, n - 1)
    assert rows["push"].min() == pytest.approx(-24.0) and rows["push"].max() == 0.0
    for name, value in ((FRICTION, 4.0), (FOLD, 6.0), (WALLS, 5.0), (REST, 9.0), (LIP, 18.0), (BEHIND, 8.0)):
        assert rows[name].max() == pytest.approx(value) and rows[name].min() == 0.0, name
    assert FRONT not in rows
    on = arrows_of(film, n // 2 - 1)
    assert on[FRICTION].min() == pytest.approx(-4.0) and on[FRICTION].max() == 0.0


def test_what_holds_a_wire_that_is_drawn_back_leads_and_what_helps_the_hand_does_not():
    found, late = contest(drawn_back()), len(make_record().feed) - 1
    assert found.words(late) == "lip leads: 18.0 mN" and found.leads(late) == "lip leads"
    behind = contest(drawn_back(force_lip_along=np.full(late + 1, 30e-3)))
    assert behind.leader(late) == BEHIND and behind.against(LIP, late) == pytest.approx(-30e-3)
    assert behind.words(late).startswith("front behind leads: 8.0 of the ")
    assert behind.leader(late // 2) == LIP, "on the way in it held the wire"
    pressed = contest(drawn_back(force_front=np.full(late + 1, 50e-3)))
    assert pressed.leader(late) == LIP, "a front ahead does not hold a wire that is drawn back"
    assert BEHIND not in contest(make_record()).forces


def test_walls_can_lead_and_that_the_hands_spring_takes_more_is_said():
    path, n = travel(make_record()), len(make_record().feed)
    works = {"energy_elastic": 2e-3, "diss_friction": 1e-3, "energy_contact": 70e-3, "energy_drive": 60e-3}
    quiet = {"force_front": np.zeros(n), "work_hand": sum(works.values()) * path}
    found = contest(contested(**quiet, **{name: value * path for name, value in works.items()}))
    assert found.words(-1) == "walls lead: 70.0 mN" and found.leads(-1) == "walls lead"
    quiet["work_hand"] = quiet["work_hand"] + 140e-3 * path
    found = contest(contested(**quiet, **{name: value * path for name, value in works.items()}))
    assert found.words(-1) == f"walls lead: 70.0 mN; {MORE}: 200.0 mN"
    assert found.leads(-1) == f"walls lead; {MORE}"


def test_what_lips_and_front_bear_along_the_vessel_is_drawn_against_the_wire():
    n = len(make_record().feed)
    film = film_of(contested(force_front=np.full(n, 5e-3), force_lip_along=np.full(n, 9e-3)))
    rows = arrows_of(film, n - 1)
    assert rows[LIP].min() == pytest.approx(-9.0) and rows[LIP].max() == 0.0
    assert rows[FRONT].min() == pytest.approx(-5.0) and rows[FRONT].max() == 0.0
    assert rows["push"].min() == 0.0 and rows["push"].max() == pytest.approx(1e3 * make_record().push[-1])


def test_which_force_leads_can_be_any_or_none():
    n = len(make_record().feed)
    for name, field in ((LIP, "force_lip"), (FRONT, "force_front")):
        found = contest(contested(force_front=np.zeros(n)) if name == LIP else make_record())
        found.forces[name] = np.full(n, 1.0)
        assert found.leader(-1) == name, field
        assert found.words(-1).startswith(f"{name} leads: 1000.0")
    none = contest(contested(force_front=np.zeros(n)))
    assert none.leader(-1) is None and none.words(-1) == "no force leads"
    assert max(float(v[-1]) for v in none.forces.values()) < NO_FORCE


def test_on_which_side_of_the_flap():
    record = make_record()
    assert side_words(record, 0) == "tip in the true lumen, before the tear"
    assert side_words(record, -1).startswith("tip in the false lumen, under the flap")
    side = record.side.copy()
    side[-1, -1] = 0
    assert "wire behind it under the flap" in side_words(replace(record, side=side), -1)
    side[-2, -1] = 1
    window = replace(record, side=side)
    assert side_words(window, -2).startswith("tip in the tear's window")
    high = record.positions.copy()
    _, _, e1, _ = record.case.scene.centreline.frame(record.tip_s[-2:-1])
    floor, deep = 1.85e-3 - 0.178e-3, 0.01e-3
    for way, where in ((floor - 1.5e-3 + 0.178e-3 - deep, "tear's window"), (1.0e-3, "true lumen, over the tear")):
        high[-2, -1] = record.positions[-2, -1] - way * e1[0]
        assert side_words(replace(window, positions=high), -2).startswith(f"tip in the {where}")
    curled = curl_record()
    assert side_words(curled, -1).endswith("; curled") and not side_words(curled, 0).endswith("curled")


def test_two_part_at_the_first_event_that_differs_in_what_not_in_when():
    one = [Event("reaches the tear", 1e-3), Event("curls", 3e-3)]
    late = [Event("reaches the tear", 2e-3), Event("curls", 9e-3)]
    assert parting(one, late) is None
    other = [Event("reaches the tear", 2e-3), Event("has extended the plane by 0.5 mm", 2.5e-3)]
    found = parting(one, other)
    assert found is not None and found.at == 2.5e-3 and found.events == (one[1], other[1])
    found = parting(one, one[:1])
    assert found is not None and found.at == 3e-3 and found.events == (one[1], None)


def test_a_touch_of_a_channel_is_no_event():
    record = curl_record()
    found = [event.words for event in events(record, classify(record))]
    side = record.side.copy()
    path = travel(record)
    row = int(np.searchsorted(path, 2e-3))
    short = path < path[row] + 0.5 * STAY
    side[row : int(np.flatnonzero(short)[-1]), -1] = 1
    touched = replace(record, side=side)
    assert [event.words for event in events(touched, classify(touched))] == found


def framed(record):
    """With frames for its colours, and margins at every increment."""
    elements = record.positions.shape[1] - 1
    frames = np.tile([1.0, 0.0, 0.0, 0.0], (len(record.feed), elements, 1))
    numerics = replace(record.case.numerics, elements=elements)
    margins = np.zeros((len(record.feed), 2, 4))
    return replace(record, quaternions=frames, margins=margins, case=replace(record.case, numerics=numerics))


def twins():
    record, straight = framed(curl_record()), framed(curl_record(turn=0.3))
    return Run("curls", record, classify(record)), Run("does not", straight, classify(straight))


def test_twins_go_in_step_and_stand_where_they_part():
    runs = twins()
    film = TwinFilm(runs, "made up", speed=2.0)
    film.begin()
    assert film.parting is not None
    start = next(at for at in np.arange(0.0, film.seconds, 0.02) if film.pace.paused(at))
    for at in (start + 0.1, start + 0.5 * PAUSE, start + PAUSE - 0.1):
        assert film.travelled(at) == pytest.approx(film.parting.at)
        assert any("They part here" in text for text in spoken(film, at))
    assert not any("They part here" in text for text in spoken(film, start + PAUSE + 0.1))
    for at in np.arange(0.0, film.seconds, 0.5):
        for side, run in zip(film.shown(at), runs, strict=True):
            path = travel(run.record)
            now = min(film.travelled(at), float(path[-1]))
            assert path[side.row] <= now + 1e-8
            assert side.ended or now < path[side.row + 1] + 1e-8


LONGEST = "the tip goes under the flap behind the upstream lip"


def texts_of(film, at):
    """Texts that a frame adds to the figure, with the pixels they take, boxes and all."""
    found, add = {}, film.figure.text

    def kept(x, y, text, **look):
        artist = add(x, y, text, **look)
        artist.draw(film.stage.renderer)  # it places the box
        patch = artist.get_bbox_patch()
        extent = artist.get_window_extent(film.stage.renderer)
        found[text] = extent if patch is None else patch.get_window_extent(film.stage.renderer)
        return artist

    film.figure.text = kept
    try:
        film.draw(at)
    finally:
        film.figure.text = add
    return found


def test_nothing_said_of_twins_is_cut_however_long_their_names_and_high_the_section():
    names = ["a wire of a name that says all that there is to say: a_folder_of_records/record_of_it.nc", "B  other"]
    for high in (1.0, 3.0):
        runs = [Run(name, run.record, run.outcome) for name, run in zip(names, twins(), strict=True)]
        lumen = replace(runs[0].record.case.scene.lumen, radius=high * 1.5e-3)
        case = replace(runs[0].record.case, scene=replace(runs[0].record.case.scene, lumen=lumen))
        film = TwinFilm(
            (replace(runs[0], record=replace(runs[0].record, case=case)), runs[1]), 30 * "title ", speed=2.0
        )
        film.begin()
        film.parting = replace(film.parting, events=(Event(LONGEST, 20.15e-3), Event(LONGEST, 21.15e-3)))
        start = next(at for at in np.arange(0.0, film.seconds, 0.02) if film.pace.paused(at))
        banner = next(text for text in texts_of(film, start + 0.1) if "They part here" in text)
        assert f"A:  {LONGEST} at 20.15 mm" in banner and f"B:  {LONGEST} at 21.15 mm" in banner
        drawn = [*texts_of(film, start + 0.2).values()]
        drawn += [text.get_window_extent(film.stage.renderer) for text in film.figure.texts]
        for cut in film.cuts:
            said = [cut.ax._left_title, *cut.ax.texts]
            drawn += [text.get_window_extent(film.stage.renderer) for text in said]
            assert cut.ax.bbox.height >= 1.45 * film.figure.dpi
        for extent in drawn:
            assert extent.x0 >= 0.0 and extent.x1 <= film.figure.bbox.width
            assert extent.y0 >= 0.0 and extent.y1 <= film.figure.bbox.height


def test_wires_of_one_name_are_told_apart_by_their_bending():
    one, two = twins()
    assert all("EI" not in name for name in TwinFilm((one, two), "made up").names)
    profile = one.record.case.profile.softened(0.1)
    softer = replace(one, record=replace(one.record, case=replace(one.record.case, profile=profile)))
    names = TwinFilm((softer, two), "made up").names
    assert "EI 0.004 N mm²" in names[0] and "EI 0.04 N mm²" in names[1]


def test_twins_that_do_the_same_do_not_part():
    one, _ = twins()
    film = TwinFilm((one, one), "made up", speed=2.0)
    film.begin()
    assert film.parting is None
    assert not any(film.pace.paused(at) for at in np.arange(0.0, film.seconds, 0.1))


def test_the_hand_in_words():
    record = make_record()
    n = len(record.feed)
    feed, turn = np.full(n, 5e-3), np.zeros(n)
    feed[1], feed[2], turn[3:], feed[4:] = 6e-3, 4e-3, np.pi / 2, 4e-3
    feed[3] = 4e-3
    moved = replace(record, feed=feed, turn=turn)
    assert [action_words(moved, row) for row in range(5)] == ["advance", "advance", "withdraw", "turn to 90°", "hold"]
    procedure = Procedure(np.array([6e-3, 20e-3]), "through")
    assert action_words(moved, 1, procedure) == "attempt 1 of 2: advance"
    assert action_words(moved, 2, procedure) == "attempt 2 of 2: withdraw"
    film = InsertionFilm(moved, classify(moved), "made up", procedure=procedure)
    assert film.shown(film.seconds).where.endswith("ended: through")
