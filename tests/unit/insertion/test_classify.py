"""Events keep their order when the wire is drawn back, and a wire that goes round the vessel ends its run."""

from dataclasses import replace

import numpy as np
import pytest
from insertion_cases import in_pocket
from insertion_cases import make_case as pocket_case
from synthetic import make_case, make_record

from tipmech.insertion.classify import CURL_HOLD, EXTENDED, classify, curl_start, travel
from tipmech.insertion.run import advance
from tipmech.outcome import Label, Stop, Where
from tipmech.vessel.walls import BACK, FALSE, TRUE


def drawn_back(first, last, by):
    """The made-up record with the feed of rows `first` to `last` running back by `by` (m), then on again."""
    record = make_record()
    step = np.diff(record.feed, prepend=0.0)
    step[first:last] = -by / (last - first)
    return replace(record, feed=np.cumsum(step))


def test_travel_never_runs_back():
    record = drawn_back(10, 14, 3e-3)
    path = travel(record)
    assert np.all(np.diff(path) >= 0.0) and np.any(np.diff(record.feed) < 0.0)
    assert path[-1] == pytest.approx(record.feed[-1] + 2 * 3e-3)


def test_what_came_first_stays_first():
    start = make_case().scene
    plain = make_record()
    grown = np.full(len(plain.feed), start.tear.end + start.channel.length)
    grown[15:] += 2 * EXTENDED  # the front moves at row 15, the tip curls later
    onward = classify(replace(plain, front=grown))
    assert onward.label == Label.FALSE_LUMEN_EXTENDED and onward.extended < onward.curled
    back = replace(drawn_back(16, 20, 6e-3), front=grown)
    assert curl_start(back) > travel(back)[15]
    seen = classify(back)
    assert seen.extended < seen.curled and seen.label == Label.FALSE_LUMEN_EXTENDED
    assert seen.curled - seen.extended == pytest.approx(
        travel(back)[np.argmax(back.tip_angle > np.pi / 2)] - travel(back)[15]
    )


@pytest.mark.parametrize(
    ("rigidity", "bend", "front", "stop"),
    [(2e-7, 0.0, 0.02, Stop.PLANE_EXTENDED), (2e-8, 40.0, 0.5, Stop.FIRST_CURL), (2e-8, 40.0, 0.03, None)],
)
def test_a_run_told_to_end_at_a_longer_plane_ends_with_what_comes_first(rigidity, bend, front, stop):
    case = in_pocket(pocket_case(rigidity, bend), front_force=front)
    whole, short = (advance(replace(case, stop=replace(case.stop, at_extension=ends))) for ends in (False, True))
    seen, known = classify(short), classify(whole)
    rows = len(short.feed)
    np.testing.assert_array_equal(short.positions, whole.positions[:rows])
    if stop is not None:
        assert short.stop == stop
    if short.stop == Stop.PLANE_EXTENDED:
        assert rows < len(whole.feed) and seen.extended == known.extended
        assert not known.curled <= known.extended
    else:
        assert rows == len(whole.feed) and np.array_equal([seen.curled], [known.curled], equal_nan=True)


def test_a_curl_lasts_by_travel_not_by_feed():
    """A curl that is held while the wire is drawn back lasts."""
    record = make_record()
    curled = int(np.argmax((record.tip_angle > np.pi / 2) & (record.lead_s - record.tip_s >= 2 * 0.178e-3)))
    assert 0 < curled < len(record.feed) - 1
    feed = record.feed.copy()
    feed[curled:] = feed[curled] - np.linspace(0.0, 2 * CURL_HOLD, len(feed) - curled)
    assert np.isfinite(curl_start(replace(record, feed=feed)))


@pytest.mark.parametrize(
    ("tip", "where"), [(FALSE, Where.REENTERED), (BACK, Where.REENTERED), (TRUE, Where.FALSE_LUMEN)]
)
def test_a_flap_is_pierced_from_either_plane_into_the_true_lumen(tip, where):
    record = make_record()
    side = record.side.copy()
    side[-1, -1] = tip
    assert classify(replace(record, side=side, stop=int(Stop.FLAP_PIERCED))).where == where


def test_a_wire_that_lies_round_the_vessel_ends_the_run():
    case = in_pocket(pocket_case(2e-7, 30.0), front_force=1e3, room=0.9e-3, thickness=0.0)
    record = advance(case)
    assert record.stop == Stop.ROUND_THE_VESSEL
    assert classify(record).label == Label.FALSE_LUMEN_NEITHER
