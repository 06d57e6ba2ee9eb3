"""The reduced model against closed forms of the elastica, its limits, and its scaling."""

from dataclasses import asdict, replace
from math import inf, pi

import numpy as np
import pytest
from synthetic import make_case

from tipmech.checks import FieldError
from tipmech.closed_forms import euler_load, free_elastica, tip_identity
from tipmech.profile import uniform
from tipmech.regime.contest import Regime, enters, forces_of, numbers_of, seat_angle, verdict
from tipmech.regime.fold import Way, fold_force, push_wire
from tipmech.regime.pocket import Pocket, free_length, hugging, lying, pocket_of
from tipmech.vessel.aim import aimed_support
from tipmech.vessel.scene import Centreline, Lumen

EI, RADIUS = 4e-8, 0.178e-3
FREE = Pocket(
    distance=np.array([0.0, 50e-3]),
    EI=np.array([EI, EI]),
    diameter=2 * RADIUS,
    tip_radius=RADIUS,
    room=40e-3,
    reach=4e-3,
    bend=0.0,
    bend_length=2e-3,
    clear=0.0,
    wall=5e5,
    limit=inf,
    curved=0.0,
    pinch=np.zeros(10),
    front_force=inf,
    front_stiffness=1e5,
    notch=0.0,
    friction=0.0,
    front_friction=0.0,
    gap=0.25e-3,
    lip_force=1e-3,
    free=8e-3,
    flap=0.35e-3,
)
"""A straight wire before a flat front without friction, no wall near, no play: the clamped-free elastica."""
POCKET = replace(FREE, room=2e-3, limit=35.0, bend=0.7, front_stiffness=600.0, notch=2 * RADIUS, friction=0.1)


def test_tip_identity_along_the_whole_path():
    p = push_wire(FREE)
    some = (np.abs(p.angle) > 0.3) & (np.abs(p.angle) < 1.5)
    assert some.sum() > 5
    expected = [tip_identity(EI, a) for a in np.abs(p.angle[some])]
    # the mouth gives a little, a link is 1/27 of the length, the wire has a natural curvature of 0.1/m
    assert p.force[some] * p.across[some] ** 2 == pytest.approx(expected, rel=0.03)


def test_load_of_the_free_elastica_at_its_shortening():
    p = push_wire(FREE, link=0.1e-3)
    k = int(np.argmin(np.abs(np.abs(p.angle) - pi / 3)))
    load, tip = free_elastica(abs(float(p.angle[k])))
    length = (FREE.reach - RADIUS) / tip.x
    # the mouth lets go of the wire over one link, 2.6 % of the length: twice that in the load
    assert p.force[k] == pytest.approx(load * EI / length**2, rel=0.052)
    assert p.feed[k] - RADIUS == pytest.approx(length, rel=0.01)


def test_a_seated_tip_buckles_as_a_pinned_one():
    # friction that never slips holds the tip's centre in its place; it gives way to turning
    p = push_wire(replace(FREE, front_friction=50.0, reach=6e-3), link=0.1e-3, step=0.02e-3)
    touching = p.force > 0.0
    early = np.flatnonzero(touching & (p.feed < 6.15e-3))
    expected = euler_load(EI, 6e-3 - RADIUS, "clamped-pinned")
    assert np.max(p.force[early]) == pytest.approx(expected, rel=0.05)


def test_walls_raise_the_load():
    wide, narrow = (push_wire(replace(POCKET, room=w)).peak for w in (4e-3, 1.2e-3))
    assert narrow > 1.5 * wide


def test_two_ei_over_w_squared_is_only_a_scale():
    f = fold_force(POCKET)
    assert f.above is Way.CURLS and f.low < f.force < f.high <= 1.03 * f.low
    assert 0.3 < f.force / POCKET.scale < 4.0


@pytest.mark.parametrize(("share", "regime"), [(1e-6, Regime.DRIVES_ON), (1e6, Regime.CURLS)])
def test_limits_of_the_front(share, regime):
    v = verdict(replace(POCKET, front_force=share * POCKET.scale), in_pocket=True)
    assert v.regime is regime and v.margin > 1e3


def test_the_same_numbers_give_the_same_regime():
    """Stiffness and all forces scaled alike: F_fold scales, the regime stays."""
    scale = 7.0
    other = replace(
        POCKET,
        EI=scale * POCKET.EI,
        wall=scale * POCKET.wall,
        limit=scale * POCKET.limit,
        pinch=scale * POCKET.pinch,
        front_stiffness=scale * POCKET.front_stiffness,
        lip_force=scale * POCKET.lip_force,
    )
    assert fold_force(other).force == pytest.approx(scale * fold_force(POCKET).force, rel=1e-6)
    for front in (0.3 * POCKET.scale, 5.0 * POCKET.scale):
        a = verdict(replace(POCKET, front_force=front), in_pocket=True)
        b = verdict(replace(other, front_force=scale * front), in_pocket=True)
        assert a.regime is b.regime and asdict(a.numbers) == pytest.approx(asdict(b.numbers), rel=1e-12)
        assert a.margin == pytest.approx(b.margin, rel=1e-6)


def test_the_fold_hardly_hangs_on_link_and_step():
    fine = fold_force(POCKET, link=0.1e-3, step=0.05e-3)
    assert fold_force(POCKET).force == pytest.approx(fine.force, rel=0.08)


def test_contest_at_the_lip():
    soft, stiff = replace(POCKET, EI=0.1 * POCKET.EI), replace(POCKET, EI=1e3 * POCKET.EI)
    assert not enters(forces_of(soft)) and enters(forces_of(stiff))
    assert verdict(soft, in_pocket=False).regime is Regime.STAYS_OUT
    open_mouth = replace(soft, lip_force=0.0)
    assert enters(forces_of(open_mouth))


@pytest.mark.parametrize("azimuth", [0.0, 2.0])
@pytest.mark.parametrize("line", [Centreline.straight(60e-3), Centreline.arc(5e-3, 30e-3, 1.0, 20e-3)])
@pytest.mark.parametrize("angle", [5.0, 30.0, 52.0])
def test_the_free_wire_of_a_tilted_support_reaches_to_the_lips_edge(angle, line, azimuth):
    lumen, lip, reach = Lumen(1.5e-3), 20e-3, 3.5e-3
    support = aimed_support(line, lumen, lip, azimuth, np.radians(angle), reach, 0.22e-3, 0.04)
    scene = replace(make_case(line, azimuth).scene, support=support)
    assert free_length(scene) == pytest.approx(reach, rel=1e-9)
    p = pocket_of(uniform(EI, 0.1), scene, 0.1, 0.5, 2.5e-3, 0.1, 0.05e-3)
    bent = 3.0 * EI * (scene.wall.flap_thickness + scene.tear.gap) / reach**3
    assert p.free == pytest.approx(reach, rel=1e-9) and forces_of(p).deflect == pytest.approx(bent, rel=1e-6)
    if max(line.curvatures) == 0.0:
        assert support.distance / np.cos(support.tilt) == pytest.approx(reach, rel=1e-9)
    along = replace(scene, support=replace(support, tilt=0.0))
    assert free_length(along) == support.distance


def test_numbers_and_seat():
    n = numbers_of(replace(POCKET, front_force=3.0 * POCKET.scale))
    assert n.front == pytest.approx(3.0) and n.lip == pytest.approx(0.25 / 0.356)
    # the slope of nu y^2/(y^2 + R^2) is largest at y = R/sqrt(3)
    y = np.linspace(0.0, 5 * RADIUS, 200001)
    steepest = np.max(np.gradient(POCKET.notch * y**2 / (y**2 + RADIUS**2), y))
    assert np.tan(seat_angle(POCKET)) == pytest.approx(steepest, rel=1e-3)
    assert seat_angle(replace(POCKET, notch=0.0, front_friction=0.2)) == pytest.approx(np.arctan(0.2))


def test_a_bent_tip_lies_down_where_the_wire_twists_easily():
    wire = uniform(EI, 0.3)
    hard, none = 1e9, 1e-3
    assert abs(np.sin(lying(wire, 1.0, 2.5e-3, 0.3, hard, hard, 0.0))) > 0.9
    assert lying(wire, 1.0, 2.5e-3, 0.3, none, none, 0.0) == 0.3
    assert lying(wire, 0.0, 2.5e-3, 0.3, hard, hard, 0.0) == 0.3


def test_hugging_between_nothing_and_all():
    assert hugging(EI, 2e-3, 1.8e-3, 0.0, 0.0) == 0.0
    assert hugging(EI, 2e-3, 1.8e-3, 1e12, 0.0) == pytest.approx(1.0, abs=1e-3)
    assert hugging(EI, 2e-3, 1.8e-3, 1e12, 1e-3) == 0.0


def test_no_room_is_refused():
    with pytest.raises(FieldError, match="room is 0.3 mm; allowed: more than the wire's diameter"):
        replace(POCKET, room=0.3e-3)
    with pytest.raises(FieldError, match="reach"):
        replace(POCKET, reach=0.0)
