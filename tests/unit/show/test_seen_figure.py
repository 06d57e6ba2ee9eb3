"""The figure of what was seen: which frames it shows, the picture itself, its words."""

from dataclasses import replace

import numpy as np
import pytest
from curl_record import RADIUS, curl_record
from synthetic import make_outcome

from tipmech.insertion.imaging import Imaging
from tipmech.insertion.seen import Detector, look, look_from_all, plane_view
from tipmech.show.seen import BRIGHT, DARK, PANELS, choose_frames, picture, seen_figure, words


def test_frames_around_the_first_curl_are_shown():
    record = curl_record(plane=0.5)
    looks = look_from_all(record, Imaging(), Detector())
    chosen = choose_frames(looks)
    assert chosen == sorted(set(chosen)) and len(chosen) == PANELS
    frames = looks[0].frames
    for look_ in looks:
        k = int(np.argmin(np.abs(frames.time - look_.seen_time)))
        assert any(abs(k - c) <= 2 for c in chosen)
    first = int(np.searchsorted(frames.time, looks[0].true_time))
    assert chosen[0] < first - 2 and any(abs(first - c) <= 2 for c in chosen)


@pytest.mark.parametrize("turn", [1e-6, 3.5])
def test_a_record_without_a_curl_and_one_with_it_are_drawn(turn):
    record = curl_record(turn=turn)
    looks = look_from_all(record, Imaging(), Detector())
    figure = seen_figure(record, make_outcome(), looks, Imaging())
    assert len(figure.axes) == 2 * PANELS + 1
    said = " ".join(t.get_text() for ax in figure.axes for t in ax.texts)
    assert ("true: curled" in said) == (turn > 1.0)
    assert "true: not curled" in said


def test_a_picture_has_the_wire_s_area_and_place():
    record = curl_record()
    clean = Imaging(noise=0.0, pixel=0.05e-3)
    frames = look(record, clean, plane_view(record, len(record.feed) - 1, clean), Detector()).frames
    line = frames.lines[-1]
    left, bottom = line.min(axis=0) - 1e-3
    size = float((line.max(axis=0) - line.min(axis=0)).max() + 2e-3)
    shown = picture(line, frames, float(left), float(bottom), size)
    assert set(np.unique(shown)) == {DARK, BRIGHT}
    dark = np.argwhere(shown == DARK)
    length = (len(line) - 1) * frames.step
    assert len(dark) * clean.pixel**2 == pytest.approx(length * frames.width, rel=0.1)
    centre = np.array([bottom, left]) + (dark.mean(axis=0) + 0.5) * clean.pixel
    assert np.abs(centre[::-1] - line.mean(axis=0)).max() < 0.3 * RADIUS


def test_words():
    record = curl_record(plane=0.5)
    across = look(record, Imaging(), plane_view(record, len(record.feed) - 1, Imaging()), Detector())
    assert words(across).startswith("curl in the false lumen seen ")
    nan = float("nan")
    assert words(replace(across, true_time=nan)).startswith("a curl seen in the false lumen after ")
    hidden = replace(across, seen_time=nan, seen_path=nan, hidden_by_view=True)
    assert words(hidden) == "curl in the false lumen not seen, hidden by the view"
    assert words(replace(hidden, true_time=nan)) == "no curl, none seen"
