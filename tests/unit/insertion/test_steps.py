"""The parts of a step by themselves: its start, drag carried over a change of channel, margins paid for by area."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest
from insertion_cases import CHANNEL, in_pocket, make_case, make_scene

from tipmech.insertion.build import build
from tipmech.insertion.case import Move, StopRules
from tipmech.insertion.commit import L_LIP, W_AREA, carry_residual, drop_axial, open_margins
from tipmech.insertion.points import E_CONTACT, G_LIP
from tipmech.insertion.run import advance
from tipmech.insertion.solve import S_LAST, S_LIP, assemble, keep_motion, node_drag, predict, update_tangents
from tipmech.outcome import Stop
from tipmech.rod.elastic import apply_step
from tipmech.rod.self_contact import NORMAL
from tipmech.vessel.build import build_tube
from tipmech.vessel.laws import penetration
from tipmech.vessel.margins import STATION
from tipmech.vessel.walls import FALSE, TRUE, locate

DRAG = 50.0  # N/m2


@pytest.fixture
def built():
    return build(make_case())


def test_a_step_starts_where_the_last_motion_continued_would_end(built):
    _, work, _ = built
    rng = np.random.default_rng(2)
    motion = 1e-5 * rng.normal(size=work.last.shape)
    x, q = np.empty_like(work.x), np.empty_like(work.q)
    apply_step(work.xs, work.qs, motion, 1.0, x, q)
    work.x[:], work.q[:] = x, q
    keep_motion(work, 0.1e-3)
    np.testing.assert_allclose(work.last, motion, atol=1e-12)
    work.xs[:], work.qs[:] = work.x, work.q
    apply_step(work.xs, work.qs, motion, 0.5, x, q)
    predict(work, 0.05e-3)
    np.testing.assert_allclose(work.x, x, atol=1e-15)
    np.testing.assert_allclose(work.q, q, atol=1e-12)


@pytest.mark.parametrize("feed", [-0.1e-3, 0.3e-3])
def test_a_motion_is_not_continued_backward_or_far(built, feed):
    _, work, _ = built
    work.last[:] = 1e-5
    keep = work.x.copy()
    work.state[S_LAST] = 0.1e-3
    predict(work, feed)
    np.testing.assert_array_equal(work.x, keep)


def test_drag_along_the_wire_is_dropped_and_across_it_kept(built):
    _, work, ledger = built
    rng = np.random.default_rng(3)
    work.x[:] += 1e-4 * rng.normal(size=work.x.shape)
    update_tangents(work, False)
    ledger.viscous[:] = rng.normal(size=ledger.viscous.shape)
    whole = ledger.viscous.copy()
    drop_axial(work, ledger)
    np.testing.assert_allclose(np.linalg.norm(work.tangent, axis=1), 1.0, rtol=1e-14)
    np.testing.assert_allclose(np.sum(ledger.viscous * work.tangent, axis=1), 0.0, atol=1e-14)
    np.testing.assert_allclose(np.cross(whole - ledger.viscous, work.tangent), 0.0, atol=1e-14)


@pytest.mark.parametrize("held", [False, True])
def test_drag_acts_along_the_wire_only_where_the_feed_is_held(built, held):
    _, work, _ = built
    update_tangents(work, held)
    along = work.x[1] - work.x[0]
    work.x[5] += along
    force = np.array(node_drag(work, work.x, 5, DRAG))
    wanted = DRAG * work.weight[5] * along if held else np.zeros(3)
    np.testing.assert_allclose(force, wanted, atol=1e-12)


def test_what_no_contact_balances_is_carried_by_drag(built):
    model, work, ledger = built
    work.x[-1, 0] += 1e-5  # out of balance
    assemble(model, work, work.x, work.q, work.state[S_LIP], 0.0, NORMAL)
    total = carry_residual(work, ledger)
    nodes = np.stack([work.grad[6 * i : 6 * i + 3] for i in range(len(work.x))])
    np.testing.assert_array_equal(ledger.viscous, -nodes)
    assert ledger.scalars[L_LIP] == -work.out[G_LIP]
    assert total == pytest.approx(np.sum(np.linalg.norm(nodes, axis=1)) + abs(work.out[G_LIP]))
    assert total > 0.0


@pytest.mark.parametrize("past", [20e-6, 60e-6])
def test_a_margin_pushed_open_along_a_length_costs_its_toughness_times_the_area(past):
    """A straight wire pressed sideways against the margin over a length: the contact gives up G_c times the area."""
    case = make_case(0.3e-7, 0.0, scene=make_scene(channel=CHANNEL))
    model, work, ledger = build(case)
    walls, tear, lumen = model.walls, case.scene.tear, case.scene.lumen
    radius = float(case.profile.radius[0])
    floor = lumen.radius + case.scene.wall.flap_thickness
    depth = floor + 0.5 * CHANNEL.thickness - 0.5 * case.scene.wall.flap_thickness
    onset = walls.margin / walls.line  # theory (22a): beyond the smoothing
    assert onset > walls.eps
    sideways = 0.5 * CHANNEL.room + onset + walls.eps + past - radius
    azimuth = sideways / walls.floor
    work.x[:, 0], work.x[:, 1] = depth * np.cos(azimuth), depth * np.sin(azimuth)
    work.x[:, 2] += tear.end + 6e-3 - work.x[-1, 2]
    first, last = tear.end + 0.6e-3, tear.end + 2.2e-3
    place = np.array(
        [(1 - t) * work.x[j] + t * work.x[j + 1] for j, t in zip(model.pts.element, model.pts.xi, strict=True)]
    )
    model.mem.side[:] = np.where((place[:, 2] > first) & (place[:, 2] < last), FALSE, TRUE)
    touching = model.mem.side == FALSE
    assert touching.sum() > 20
    assemble(model, work, work.x, work.q, work.state[S_LIP], 0.0, NORMAL)
    before = work.out[E_CONTACT]
    assert open_margins(model, ledger)
    assemble(model, work, work.x, work.q, work.state[S_LIP], 0.0, NORMAL)
    paid = before - work.out[E_CONTACT]
    assert paid == pytest.approx(walls.margin * ledger.step[W_AREA], rel=1e-9)
    # beyond either end the opening falls off as a parabola does that meets the wire's foremost place (and stations of
    # 0.12 mm round that)
    length = float(np.sum(model.pts.size[touching]))
    off = 4.0 / 3.0 * np.sqrt(radius * past)  # of both ends
    assert ledger.step[W_AREA] == pytest.approx(past * (length + off), rel=0.08)


def test_the_bore_leaves_half_its_play_free_of_force():
    case = in_pocket(make_case())
    radius = float(case.profile.radius[0])
    play = case.scene.support.inner_radius - radius
    wide = build_tube(case.scene, 2.0 * radius, 5e-8, 5e-6)
    tight = build_tube(case.scene, 2.0 * (case.scene.support.inner_radius - 20e-6), 5e-8, 5e-6)
    assert wide.eps == pytest.approx(20e-6) and wide.eps < 0.5 * play
    assert tight.eps == pytest.approx(10e-6)
    assert wide.line == pytest.approx(25.0 * 5e-8 / radius**4)


@pytest.mark.parametrize("finer", [1.0, 0.5])
def test_a_wire_that_slides_along_a_margin_pays_for_what_it_opens_ahead(finer):
    """A bent tip fed along the side of a plane: the margins' work is G_c times the area opened, and what is opened is
    where the wire has been, no more."""
    toughness = 8.0  # J/m2
    case = in_pocket(make_case(4e-7, 30.0, 0.5 * pi), length=4e-3, fracture_energy=toughness, room=1.2e-3)
    numerics = replace(case.numerics, increment=finer * case.numerics.increment)
    record = advance(replace(case, numerics=numerics, moves=(Move("advance", 9e-3),), stop=StopRules(20e-3)))
    opening = record.margins[-1]
    area = STATION * float(np.sum(opening))
    assert area > 0.3e-6
    assert record.diss_margin[-1] == pytest.approx(toughness * area, rel=0.01)
    assert record.audit_error[-1] < 0.005
    # the farthest that a node beyond the lip has reached at any time, less what a margin gives before it yields
    radius, walls = float(case.profile.radius[0]), build(case)[0].walls
    nodes = record.positions.reshape(-1, 3)
    reach = np.abs(np.array([locate(walls, *x).phi for x in nodes[nodes[:, 2] > walls.stop]])) * walls.floor
    onset = penetration(walls.margin / walls.line, walls.eps) + walls.eps
    assert float(np.max(opening)) == pytest.approx(np.max(reach) + radius - 0.5 * 1.2e-3 - onset, rel=0.1)


@pytest.mark.parametrize("room", [0.34e-3, 0.4e-3, 0.5e-3])
def test_a_wire_comes_out_of_a_support_that_stands_in_a_pocket_hardly_wider_than_it_or_narrower(room):
    """The margins take the tip over along the mouth's rounding, as all walls do: without that no step was solved."""
    case = in_pocket(make_case(2e-7, 10.0), room=room)
    tear = replace(case.scene.tear, half_width=0.5 * room)
    record = advance(replace(case, scene=replace(case.scene, tear=tear), moves=(Move("advance", 3e-3),)))
    assert record.stop == Stop.PROTOCOL_DONE
    assert record.audit_error[-1] < 0.002
