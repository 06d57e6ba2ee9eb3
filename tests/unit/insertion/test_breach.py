"""The wall pierced: through a hole in the flap and back, weak spots, an outer wall of its own."""

from dataclasses import replace
from math import pi
from pathlib import Path

import numpy as np
import pytest
from insertion_cases import CHANNEL, TEAR, in_pocket, make_case, make_scene

from tipmech.files.scene import read_case
from tipmech.insertion.case import Move, StopRules
from tipmech.insertion.classify import classify
from tipmech.insertion.run import Insertion, advance
from tipmech.outcome import Stop, Where
from tipmech.show.view import project
from tipmech.vessel.holes import HOLES, VALUES, pierce
from tipmech.vessel.scene import OuterWall

SCENES = Path(__file__).parents[3] / "experiments" / "scenes"
STRONG = OuterWall(0.6e6, 600.0)
GO_ON = StopRules(30e-3, advance_past_curl=None, at_breach=False)


def bent_to_the_lumen(toughness, feed=10e-3, stop=GO_ON):
    """A wire in the pocket whose tip is bent towards the flap, breach energy in J/m2."""
    case = in_pocket(make_case(2e-7, 30.0, pi), front_force=0.06, length=8e-3)
    scene = replace(case.scene, wall=replace(case.scene.wall, breach_toughness=toughness, outer=STRONG))
    return replace(case, scene=scene, stop=stop, moves=(Move("advance", feed),))


def crossing(record, row):
    """S where the wire's centreline passes the middle of the flap between two nodes of different sides, mm."""
    x, middle = record.positions[row], 1.5e-3 + 0.348e-3 / 2 - 0.6e-3
    deep = x[:, 0] - middle
    k = np.flatnonzero((deep[:-1] > 0.0) & (deep[1:] <= 0.0))[-1]
    t = deep[k] / (deep[k] - deep[k + 1])
    return 1e3 * float(x[k, 2] + t * (x[k + 1, 2] - x[k, 2]))


def test_a_wire_goes_back_to_the_true_lumen_through_the_hole_it_has_pierced():
    record = advance(bent_to_the_lumen(4.0))
    outcome = classify(record)
    assert (outcome.where, outcome.stop) == (Where.REENTERED, Stop.PROTOCOL_DONE)
    assert record.side[-1, -1] == 0
    assert 2 in record.side[-1]
    assert record.front[-1] == record.front[0]  # the plane was not driven on
    assert record.audit_error[-1] < 0.01
    # ring crack, theory (26): no hole before its force
    first = int(record.holes[0, 3])
    assert record.tip_force[first] >= 4.0 * pi * 2.0 * record.case.profile.tip_radius > record.tip_force[first - 1]
    # all the wire that is through has gone through the slit
    low, high = 1e3 * record.holes[0, 0] - 0.2, 1e3 * record.holes[-1, 0] + 0.2
    last = int(record.holes[-1, 3])
    places = [crossing(record, row) for row in range(last + 20, len(record.feed), 10)]
    assert len(places) > 5
    assert all(low < s < high for s in places)


def test_a_run_that_is_to_end_at_a_breach_ends_there():
    record = advance(bent_to_the_lumen(4.0, stop=replace(GO_ON, at_breach=True)))
    assert record.stop == Stop.FLAP_PIERCED
    assert len(record.holes) == 0


def test_withdrawn_through_the_hole_the_wire_lies_in_the_false_channel_again():
    record = advance(replace(bent_to_the_lumen(4.0), moves=(Move("advance", 6e-3), Move("withdraw", 5.2e-3))))
    assert record.stop == Stop.PROTOCOL_DONE
    assert record.side[np.argmax(record.feed), -1] == 0
    assert record.side[-1, -1] == 2
    assert record.audit_error[-1] < 0.01


def test_moves_one_by_one_are_the_moves_at_once_through_holes_too():
    case = bent_to_the_lumen(4.0)
    at_once = Insertion(case)
    at_once.carry_out(Move("advance", 4e-3), Move("advance", 2e-3))
    by_one = Insertion(case)
    by_one.carry_out(Move("advance", 4e-3))
    by_one.carry_out(Move("advance", 2e-3))
    assert len(at_once.record().holes) > 0
    assert np.array_equal(at_once.record().positions, by_one.record().positions)


def test_outer_wall_and_flap_have_their_own_strength():
    case = in_pocket(make_case(2e-7, 60.0), front_force=0.06, length=8e-3)  # bent to the outer wall
    weak = replace(case.scene.wall, outer=OuterWall(0.6e6, 4.0))
    record = advance(replace(case, scene=replace(case.scene, wall=weak)))
    assert record.stop == Stop.OUTER_WALL_PIERCED
    assert advance(case).stop != Stop.OUTER_WALL_PIERCED


def test_a_softer_outer_wall_is_indented_more():
    case = in_pocket(make_case(2e-7, 60.0), front_force=0.06, length=8e-3)
    case = replace(case, moves=(Move("advance", 2e-3),))
    soft = replace(case.scene.wall, outer=OuterWall(0.1e6, 600.0))
    stiff, given = advance(case), advance(replace(case, scene=replace(case.scene, wall=soft)))
    assert given.positions[-1, -1, 0] > stiff.positions[-1, -1, 0] + 5e-6


def test_an_intact_wall_knows_nothing_of_a_plane_behind_it():
    case = make_case(2e-7, 60.0, stop=GO_ON, moves=(Move("advance", 10e-3),))
    whole = make_scene(tear=replace(TEAR, intact=True))
    deep = make_scene(tear=replace(TEAR, intact=True, gap=0.1e-3), channel=replace(CHANNEL, thickness=1e-3, room=4e-3))
    one, two = advance(replace(case, scene=whole)), advance(replace(case, scene=deep))
    assert np.array_equal(one.positions, two.positions)
    slides = one.tip_s > TEAR.start  # along an even wall: its force falls smoothly, nothing stops the tip
    assert np.all(np.diff(one.tip_force[slides]) < 1e-5)


@pytest.mark.parametrize("toughness", [1.0, 600.0])
def test_a_weak_spot_of_an_intact_wall_opens_at_its_own_strength(toughness):
    tear = replace(TEAR, intact=True, weak_toughness=toughness, gap=0.3e-3)
    case = make_case(2e-7, 60.0, scene=make_scene(tear=tear), stop=GO_ON, moves=(Move("advance", 10e-3),))
    record = advance(case)
    opened = 1 in record.side[:, -1]
    assert opened == (toughness < 100.0)
    assert record.stop == Stop.PROTOCOL_DONE
    if opened:
        row = int(np.flatnonzero(record.side[:, -1] == 1)[0])
        assert np.max(record.tip_force[:row]) >= toughness * pi * 2.0 * case.profile.tip_radius


def test_a_hole_reached_by_the_next_becomes_a_slit():
    holes = np.zeros((HOLES, VALUES))
    assert pierce(holes, 1.0, 0.0, 0.2)
    assert pierce(holes, 1.3, 0.1, 0.2)
    assert pierce(holes, 0.8, 0.0, 0.2)
    assert list(holes[0]) == [0.8, 0.0, 1.3, 0.1, 0.2]
    assert not holes[1:].any()
    assert all(pierce(holes, 10.0 * k, 0.0, 0.2) for k in range(1, HOLES))
    assert not pierce(holes, 100.0, 0.0, 0.2)


def test_a_wire_that_goes_round_the_lip_s_corner_is_held_there_not_drawn_through_the_flap():
    case = read_case(SCENES / "balloon_tear.toml").case
    record = advance(replace(case, profile=case.profile.softened(0.3)))
    tear = case.scene.tear
    reach = min(tear.lip_radius, 0.5 * case.scene.wall.flap_thickness) + case.profile.tip_radius
    nodes = 0.2e-3  # between the two nodes across, and what the edge gives way
    crossings = []
    for x, side in zip(record.positions, record.side, strict=True):
        for k in np.flatnonzero(np.abs(np.diff(side)) == 2):
            crossings.append(min(project(case.scene, x[k : k + 2])[0]) - tear.end)
    assert len(crossings) > 10  # the soft wire does go round the corner
    assert max(crossings) < reach + nodes
