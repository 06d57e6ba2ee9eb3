"""A seen curl: it follows the true one where nothing hides it, hides where it should, and knows the image only."""

from dataclasses import replace
from math import pi, radians

import numpy as np
import pytest
from curl_record import LENGTH, RADIUS, START, curl_record
from synthetic import make_record

from tipmech.checks import FieldError
from tipmech.insertion.classify import curl_start, curled_rows
from tipmech.insertion.imaging import MOST_FRAMES, Imaging, frames, row_times
from tipmech.insertion.projection import View, patient_matrix, view_along, view_matrix
from tipmech.insertion.seen import Detector, held, look, look_from_all, plane_view, scores

CLEAN = Imaging(frame_rate=100.0, pixel=0.03e-3, noise=0.0)
SHARP = Detector(tip=0.2e-3, hold=1)
# the wire behind is a chord of 8 mm that ends in the bight, up to 6 degrees off the axis: 0.1 mm of travel
AGREES = 0.15e-3  # m


def from_direction(record, direction, imaging=CLEAN):
    """View from a direction in the model's axes."""
    return view_along(patient_matrix(record.case.scene, imaging.orientation) @ np.asarray(direction, dtype=float))


def test_across_its_plane_a_clean_dense_view_agrees_with_the_truth():
    record = curl_record(plane=0.4)
    start = curl_start(record)
    assert start > 0.0
    seen = look(record, CLEAN, from_direction(record, [-np.sin(0.4), np.cos(0.4), 0.0]), SHARP)
    assert seen.true_path == start
    assert abs(seen.late) < AGREES
    both, missed, alarm, neither = seen.confusion
    assert both > 50 and neither > 400
    assert missed + alarm <= AGREES / 1e-3 * CLEAN.frame_rate  # frames of that much travel at 1 mm/s
    assert seen.seen_side == seen.true_side == 2
    assert not (seen.hidden_by_view or seen.misleads or seen.false_alarm)


def test_the_plane_of_a_curl_is_found():
    record = curl_record(plane=0.4)
    normal = from_direction(record, [-np.sin(0.4), np.cos(0.4), 0.0])
    found = plane_view(record, len(record.feed) - 1, CLEAN)
    cosine = view_matrix(normal)[2] @ view_matrix(found)[2]
    assert abs(cosine) == pytest.approx(1.0, abs=1e-9)


@pytest.mark.parametrize("imaging", [CLEAN, Imaging()], ids=["clean", "default"])
def test_in_its_plane_it_is_hidden_across_it_is_shown(imaging):
    record = curl_record(plane=0.4)
    detector = SHARP if imaging is CLEAN else Detector()
    flat, axis = [np.cos(0.4), np.sin(0.4), 0.0], [0.0, 0.0, 1.0]
    for direction in (flat, axis):
        seen = look(record, imaging, from_direction(record, direction), detector)
        assert np.isnan(seen.seen_time), direction
        assert not np.any(seen.shown)
        assert seen.hidden_by_view
    assert seen.frames.foreshortening.min() < 0.1  # the last one: end-on
    across = look(record, imaging, from_direction(record, [-np.sin(0.4), np.cos(0.4), 0.0]), detector)
    assert np.isfinite(across.seen_time) and not across.hidden_by_view


def test_the_detector_is_blind_to_channels_forces_and_truth():
    record = curl_record(plane=0.4)
    rng = np.random.default_rng(0)
    other = replace(
        record,
        side=rng.permuted(record.side, axis=1),
        lead_false_s=np.full_like(record.lead_s, np.nan),
        tip_angle=rng.permutation(record.tip_angle),
        lead_s=rng.permutation(record.lead_s),
        force_false=rng.random(len(record.feed)),
    )
    assert not np.array_equal(record.side, other.side)
    for plain, changed in zip(*(look_from_all(r, Imaging(), Detector()) for r in (record, other)), strict=True):
        np.testing.assert_array_equal(plain.score, changed.score)
        np.testing.assert_array_equal(plain.seen_time, changed.seen_time)


def test_a_curl_in_the_true_lumen_misleads():
    record = curl_record(plane=pi / 2)
    home = replace(record, side=np.zeros_like(record.side), lead_false_s=np.full_like(record.lead_s, np.nan))
    view = plane_view(record, len(record.feed) - 1, Imaging())
    assert look(home, Imaging(), view, Detector()).misleads
    assert not look(record, Imaging(), view, Detector()).misleads


def test_noise_is_seeded_and_as_large_as_stated():
    record, view = curl_record(), Imaging().views[0]
    fine = Imaging(pixel=1e-5, noise=0.1e-3, radiopaque=8e-3)
    one, same = frames(record, fine, view), frames(record, fine, view)
    other = frames(record, replace(fine, seed=1), view)
    assert all(np.array_equal(a, b) for a, b in zip(one.lines, same.lines, strict=True))
    assert not np.array_equal(one.lines[3], other.lines[3])
    assert not np.array_equal(one.time, other.time)  # the first frame comes at another moment
    still = frames(record, replace(fine, noise=0.0), view)
    off = np.concatenate([a - b for a, b in zip(one.lines, still.lines, strict=True)])
    assert off.std() == pytest.approx(0.1e-3, rel=0.01)  # some 10^5 values
    assert abs(np.corrcoef(off.T)[0, 1]) < 0.02
    scored = [scores(f, Detector()) for f in (one, same)]
    np.testing.assert_array_equal(scored[0], scored[1])


def test_a_straight_wire_is_never_seen_curled():
    """3,000 frames with the default noise from the default views, the hand at rest or not."""
    record = curl_record(turn=1e-6)
    assert not np.any(curled_rows(record))
    for seed in range(30):
        for seen in look_from_all(record, Imaging(seed=seed), Detector()):
            assert not np.any(seen.shown)
            assert np.isnan(seen.seen_time) and not seen.hidden_by_view


def test_times_are_those_of_the_hand():
    record = make_record()
    feed = np.array([0.0, 2e-3, 4e-3, 3e-3, 3e-3])
    turn = np.array([0.0, 0.0, 0.0, 0.0, radians(-45.0)])
    rows = {name: getattr(record, name)[:5] for name in ("positions", "side")}
    record = replace(record, feed=feed, turn=turn, **rows)
    imaging = Imaging(turn_rate=radians(90.0), linger=0.5, frame_rate=4.0)
    np.testing.assert_allclose(row_times(record, imaging), [0.0, 2.0, 4.0, 5.0, 5.5])  # drive: 1 mm/s
    np.testing.assert_allclose(row_times(record, replace(imaging, hand_rate=2e-3)), [0.0, 1.0, 2.0, 2.5, 3.0])
    shown = frames(record, imaging, View())
    assert np.all(np.diff(shown.time) == pytest.approx(0.25)) and 0.0 <= shown.time[0] < 0.25
    assert 5.75 < shown.time[-1] <= 6.0
    at = row_times(record, imaging)
    assert all(at[r] <= t and (r == 4 or t < at[r + 1]) for r, t in zip(shown.row, shown.time, strict=True))
    part = frames(record, imaging, View(), (1.0, 3.0))
    inside = (shown.time >= 1.0) & (shown.time <= 3.0)
    np.testing.assert_array_equal(part.time, shown.time[inside])
    assert all(np.array_equal(a, shown.lines[k]) for a, k in zip(part.lines, np.flatnonzero(inside), strict=True))


def test_only_the_radiopaque_length_is_seen():
    record = curl_record()
    whole = frames(record, replace(CLEAN, radiopaque=10e-3, frame_rate=2.0), from_direction(record, [0.0, 1.0, 0.0]))
    length = (len(whole.lines[0]) - 1) * whole.step
    assert length == pytest.approx(10e-3, abs=whole.step)
    assert record.positions[0, 0, 2] == pytest.approx(START - 6e-3 - LENGTH)  # more wire is there


def test_a_curl_must_last_for_some_frames():
    shown = np.array([True, False, True, True, False, True, True, True])
    assert [held(shown, n) for n in (1, 2, 3, 4)] == [0, 3, 7, -1]


def test_fewer_frames_are_seen_later():
    record = curl_record(plane=0.0)
    view = from_direction(record, [0.0, 1.0, 0.0])
    late = [
        np.mean([look(record, Imaging(frame_rate=f, seed=s, hand_rate=5e-3), view, Detector()).late for s in range(20)])
        for f in (15.0, 7.5, 3.8)
    ]
    assert late[0] < late[1] <= late[2]


def test_too_many_frames_and_wrong_fields_are_refused():
    with pytest.raises(FieldError, match=f"at most {MOST_FRAMES} frames"):
        frames(curl_record(), Imaging(hand_rate=1e-7), View())
    for name, value in (("frame_rate", 0.0), ("pixel", -1.0), ("noise", -0.1), ("hand_rate", 0.0), ("views", ())):
        with pytest.raises(FieldError, match=name):
            Imaging(**{name: value})
    for name, value in (("tip", 0.0), ("hold", 0), ("threshold", -1.0)):
        with pytest.raises(FieldError, match=name):
            Detector(**{name: value})


def test_the_circle_is_a_curl_by_the_definition():
    """The made-up record itself: curled from the angle at which the bight leads by a diameter."""
    record = curl_record()
    diameter = 2.0 * record.case.profile.radius[0]
    angle = pi - np.arcsin(1.0 - diameter / RADIUS)
    assert curl_start(record) == pytest.approx(6e-3 + RADIUS * angle, abs=2.0 * np.diff(record.feed)[0])
