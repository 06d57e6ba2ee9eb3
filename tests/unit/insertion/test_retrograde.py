"""A plane that opens back behind the upstream lip, by a tip that hooks there when the wire is withdrawn."""

from dataclasses import replace

import numpy as np
import pytest
from insertion_cases import CHANNEL, TEAR, make_case, make_scene

from tipmech.insertion.case import Move, StopRules, TipShape
from tipmech.insertion.classify import classify
from tipmech.insertion.run import advance
from tipmech.outcome import Stop
from tipmech.vessel.build import front_width
from tipmech.vessel.scene import Plug

FORCE = 0.01  # N
HOOK = TipShape(3.0, 3e-3)


def hooked(retrograde, withdrawn=2.7e-3):
    """A stiff hook fed into the window and drawn back: 2.7 mm, and it is still under the upstream lip."""
    scene = make_scene(channel=replace(CHANNEL, retrograde=retrograde, front_force=FORCE))
    moves = (Move("advance", 7e-3), Move("withdraw", withdrawn))
    return make_case(2e-7, 0.0, scene=scene, tip_shape=HOOK, moves=moves, stop=StopRules(50e-3))


@pytest.fixture(scope="module")
def record():
    return advance(hooked(0.3e-3))


def test_a_hook_drawn_back_drives_the_plane_on_against_its_own_front_force(record):
    outcome = classify(record)
    assert (outcome.stop, record.side[-1, -1]) == (Stop.PROTOCOL_DONE, 4)
    grown = record.front_back[0] - record.front_back[-1]
    assert grown > 0.4e-3
    assert record.front[-1] == record.front[0]
    # shared front: the force is never more than its strength, and just that while it moves; theory (24)
    moving = np.diff(record.front_back) < -1e-6
    # (drawn in snaps: at the end of an increment in which the front has moved the hook may rest on it with less)
    assert np.max(record.force_front_back) <= FORCE * (1.0 + 1e-9)
    assert np.count_nonzero(np.isclose(record.force_front_back[1:][moving], FORCE, rtol=1e-9)) > 5
    assert record.diss_front[-1] == pytest.approx(FORCE * grown, rel=1e-6)
    assert outcome.extension == pytest.approx(grown)
    assert record.opened_area[-1] >= grown * front_width(record.case.scene, 2.0 * record.case.profile.radius[0])
    assert record.audit_error[-1] < 0.01


def test_drawn_on_the_hook_slips_out_round_the_lip(record):
    drawn = advance(hooked(0.3e-3, 5e-3))
    assert drawn.stop == Stop.PROTOCOL_DONE and np.all(drawn.side[-1] == 0)
    assert drawn.front_back[-1] == pytest.approx(record.front_back[-1], abs=0.05e-3)
    assert np.min(np.abs(drawn.push[len(record.feed) :])) < 0.5 * np.max(np.abs(record.push))  # let go
    assert drawn.audit_error[-1] < 0.01


def test_without_a_plane_there_the_hook_comes_out_again():
    record = advance(hooked(None, 5e-3))
    assert record.stop == Stop.PROTOCOL_DONE
    assert 4 not in record.side
    assert record.tip_s[-1] < TEAR.start
    assert np.all(np.isnan(record.front_back))


def test_the_plane_behind_the_upstream_lip_does_not_change_what_comes_to_the_other_alone():
    """A tip that passes the window's upstream half without touching it meets the same pocket."""
    one = make_case(5e-8, 40.0)
    two = replace(one, scene=replace(one.scene, channel=replace(one.scene.channel, retrograde=2e-3)))
    a, b = advance(one), advance(two)
    inside = int(np.flatnonzero(a.lead_s > TEAR.end + 0.5e-3)[0])
    assert a.side[inside, -1] == b.side[inside, -1] == 2
    assert classify(a).label == classify(b).label


def test_a_plug_and_a_retrograde_plane_are_refused_together():
    channel = replace(CHANNEL, retrograde=1e-3)
    with pytest.raises(ValueError, match="plug"):
        make_scene(channel=channel, plug=Plug(14e-3, 18e-3, 0.01))
