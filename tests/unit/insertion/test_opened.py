"""The opened region: its shapes against areas worked by hand, its area against the one the run has counted."""

from dataclasses import replace
from math import pi, radians

import numpy as np
import pytest
from insertion_cases import in_pocket, make_case
from matplotlib.colors import to_rgb
from synthetic import make_record
from unit.insertion.test_retrograde import hooked

from tipmech.insertion.case import Move, StopRules
from tipmech.insertion.classify import classify
from tipmech.insertion.opened import (
    CELL,
    FRONT,
    MARGIN,
    NEVER,
    PLANE,
    WINDOW,
    areas,
    azimuth,
    floor_radius,
    growth_by_move,
    opened,
    slits,
    stations,
    wall_open_since,
)
from tipmech.insertion.run import advance
from tipmech.outcome import Stop
from tipmech.show import style
from tipmech.show.strip import film_strip
from tipmech.vessel.build import front_width
from tipmech.vessel.margins import BEFORE, STATION

W = 2e-3  # room of the made-up record; its plane goes from 22 to 27 mm

RETROGRADE = 0.3e-3  # m, of the plane behind the upstream lip


def opening(deep=0.3e-3, stations_at=(20, 21, 22), grown=1e-3, centre=0.2e-3):
    """Made-up record in which one margin (sigma > 0) and the front are opened evenly in the second half."""
    record = make_record()
    n = len(record.feed)
    share = np.clip(np.linspace(-1.0, 1.0, n), 0.0, 1.0)
    margins = np.zeros((n, 2, 60))
    for k in stations_at:
        margins[:, 1, k] = share * deep
    front = 27e-3 + share * grown
    width = front_width(record.case.scene, 2.0 * float(record.case.profile.radius[0]))
    area = (front - 27e-3) * width + STATION * margins.sum(axis=(1, 2))
    middle = np.full(n, centre)
    return replace(record, margins=margins, front=front, front_centre=middle, opened_area=area), width


def test_the_raster_holds_the_shapes_that_were_opened():
    record, width = opening()
    field = opened(record)
    ds, dg = field.cell
    assert ds == CELL and dg == pytest.approx(CELL, rel=0.01)
    count = {what: np.count_nonzero(field.by == what) * ds * dg for what in (WINDOW, PLANE, FRONT, MARGIN)}
    assert count[WINDOW] == pytest.approx(2e-3 * W, rel=0.02)  # half-width 1 mm = W/2
    assert count[PLANE] == pytest.approx(5e-3 * W, rel=0.02)
    assert count[FRONT] == pytest.approx(1e-3 * width, rel=0.04)
    assert count[MARGIN] == pytest.approx(3 * STATION * 0.3e-3, rel=0.03)
    s, g = field.s[:, None], field.sigma[None, :]
    at = stations(record)[21]
    assert at == pytest.approx(22e-3 + (21 - BEFORE) * STATION)
    beside = field.by == MARGIN
    assert np.all(np.abs(np.broadcast_to(s, beside.shape)[beside] - at) < 1.5 * STATION)
    depth = np.broadcast_to(g, beside.shape)[beside]
    assert depth.min() > 0.5 * W and depth.max() < 0.5 * W + 0.3e-3
    ahead = np.broadcast_to(g, beside.shape)[field.by == FRONT]
    assert 0.5 * (ahead.min() + ahead.max()) == pytest.approx(0.2e-3, abs=dg)  # about where it was touched


def test_cells_open_when_the_front_or_margin_passes_them():
    record, _ = opening()
    field = opened(record)
    n = len(record.feed)
    assert set(np.unique(field.since[(field.by == PLANE) | (field.by == WINDOW)])) == {0}
    assert np.all((field.since == NEVER) == (field.by == 0))
    j = int(np.argmin(np.abs(field.sigma - 0.2e-3)))
    for i in np.flatnonzero(field.by[:, j] == FRONT):
        row = field.since[i, j]
        assert record.front[row] >= field.s[i] > record.front[row - 1]
    grown = [field.new_area(row) for row in range(n)]
    assert grown[0] == 0.0 and np.all(np.diff(grown) >= 0.0)
    cells = CELL * (1e-3 + 2 * 0.3e-3 + 6 * STATION)  # half a cell along every edge, as measured from their middles
    assert np.max(np.abs(np.array(grown) - record.opened_area)) < cells


def test_what_front_and_margin_both_open_is_told():
    record, width = opening(stations_at=(52, 53), centre=0.9e-3)  # 27.04 and 27.16 mm: beside what the front opens
    found = areas(record)
    np.testing.assert_allclose(found.front + found.margins, record.opened_area, rtol=1e-12, atol=1e-18)
    over = min(0.5 * width + 0.9e-3, 0.5 * W + 0.3e-3) - 0.5 * W
    # of station 52 (26.98 to 27.10 mm) what lies beyond 27 mm
    assert found.twice[-1] == pytest.approx((2 * STATION - 0.02e-3) * over, rel=1e-6)
    assert found.twice[0] == 0.0
    field = opened(record)
    wanted = record.opened_area[-1] - found.twice[-1]
    assert field.new_area(len(record.feed) - 1) == pytest.approx(wanted, abs=CELL * (1e-3 + 1e-3))


def test_azimuth_turns_with_a_spiral_tear():
    record, _ = opening()
    scene = record.case.scene
    spiral = replace(scene, tear=replace(scene.tear, spiral=radians(6.0) / 1e-3, azimuth=0.3))
    s = np.array([22e-3, 25e-3])
    np.testing.assert_allclose(azimuth(spiral, s, np.zeros(2)), [0.3, 0.3 + radians(18.0)])
    one = azimuth(spiral, np.array([22e-3]), np.array([1e-4])) - 0.3
    assert one[0] == pytest.approx(1e-4 / floor_radius(spiral))


def test_an_intact_wall_has_nothing_open_until_wire_lies_behind_it():
    record, _ = opening()
    scene = record.case.scene
    intact = replace(record.case, scene=replace(scene, tear=replace(scene.tear, intact=True)))
    zero = np.zeros_like(record.side)
    whole = replace(record, case=intact, side=zero, margins=np.zeros((len(record.feed), 2, 60)), front=0 * record.front)
    assert wall_open_since(whole) == NEVER
    assert np.all(opened(whole).by == 0)
    side = zero.copy()
    side[10:, -1] = 1
    broken = replace(whole, side=side)
    assert wall_open_since(broken) == 10
    assert set(np.unique(opened(broken).since)) == {NEVER, 10}
    assert wall_open_since(replace(whole, stop=int(Stop.WEAK_SPOT_PIERCED))) == len(record.feed) - 1


def test_growth_is_given_to_the_move_that_made_it():
    record, width = opening()
    n = len(record.feed)
    feed = np.linspace(1e-3, 12e-3, n)
    feed[16:20] = feed[15] - 1e-3 * np.arange(1, 5)
    feed[20:] = feed[19]
    turn = np.zeros(n)
    turn[20:] = 0.1 * np.arange(1, n - 19)
    holes = np.array([[23e-3, 0.0, 1e-4, 3.0], [24e-3, 0.0, 1e-4, 17.0]])
    moved = replace(record, feed=feed, turn=turn, holes=holes)
    moves = growth_by_move(moved)
    assert [(m.kind, m.first, m.last, m.holes) for m in moves] == [
        ("advance", 0, 15, 1), ("withdraw", 16, 19, 1), ("turn", 20, n - 1, 0),
    ]  # fmt: skip
    assert [m.amount for m in moves] == pytest.approx([feed[15], 4e-3, 0.1 * (n - 20)])
    assert sum(m.length for m in moves) == pytest.approx(1e-3)
    assert sum(m.front + m.margins for m in moves) == pytest.approx(record.opened_area[-1])
    assert moves[1].front == pytest.approx((record.front[19] - record.front[15]) * width)
    assert slits(moved, 2).shape == (0, 5) and slits(moved, 3).shape == (1, 5) and slits(moved, n).shape == (2, 5)


@pytest.mark.parametrize("spiral", [0.0, radians(8.0) / 1e-3])
def test_the_area_is_the_one_the_run_has_counted(spiral):
    """A stiff wire bent to the side drives margin and front of a weak plane."""
    case = in_pocket(make_case(2e-7, 60.0, 0.5 * pi), length=4e-3, fracture_energy=8.0, room=1.2e-3)
    scene = replace(case.scene, tear=replace(case.scene.tear, spiral=spiral))
    stop = StopRules(20e-3, advance_past_curl=None)
    record = advance(replace(case, scene=scene, moves=(Move("advance", 9e-3),), stop=stop))
    found, field, last = areas(record), opened(record), len(record.feed) - 1
    assert found.margins[-1] > 0.05e-6 and found.front[-1] > 0.5e-6, "this case opens both"
    np.testing.assert_allclose(found.front + found.margins, record.opened_area, rtol=1e-9, atol=1e-16)
    touched = STATION * np.count_nonzero(record.margins[-1])
    edge = 0.5 * CELL * (touched + 2.0 * (record.front[-1] - record.front[0])) + CELL * 1e-3
    assert abs(field.new_area(last) - (record.opened_area[-1] - found.twice[-1])) < edge


def test_a_plane_driven_back_behind_the_upstream_lip_is_part_of_the_field():
    record = advance(hooked(RETROGRADE))
    tear, last = record.case.scene.tear, len(record.feed) - 1
    found, field = areas(record), opened(record)
    assert found.front[-1] > 0.1e-6 and record.front[-1] == record.front[0], "this case drives the one behind on"
    np.testing.assert_allclose(found.front + found.margins, record.opened_area, rtol=1e-9, atol=1e-16)
    driven = field.by == FRONT
    s = np.broadcast_to(field.s[:, None], driven.shape)
    assert s[driven].max() == pytest.approx(tear.start - RETROGRADE, abs=CELL)
    assert s[driven].min() == pytest.approx(record.front_back[-1], abs=CELL)
    touched = STATION * np.count_nonzero(record.margins[-1])
    edge = CELL * (record.front_back[0] - record.front_back[-1] + RETROGRADE + touched)
    assert abs(field.new_area(last) - (record.opened_area[-1] - found.twice[-1])) < edge
    behind = (field.by == PLANE) & (s < tear.start)
    (long, wide), room = field.cell, record.case.scene.channel.room
    half_cells = 0.5 * (long * room + wide * RETROGRADE)  # at its ends, as measured from the cells' middles
    assert np.count_nonzero(behind) * long * wide == pytest.approx(RETROGRADE * room, abs=half_cells)
    assert sum(m.length for m in growth_by_move(record)) == pytest.approx(record.front_back[0] - record.front_back[-1])
    figure = film_strip(record, classify(record))
    flaps = [p for p in figure.axes[0].patches if p.get_facecolor()[:3] == to_rgb(style.FLAP)]
    reach = sorted((1e-3 * p.get_path().vertices[:, 0].min(), 1e-3 * p.get_path().vertices[:, 0].max()) for p in flaps)
    assert len(flaps) == 2, "one on either side of the window"
    assert reach[0][1] == pytest.approx(tear.start, abs=2e-5) and reach[1][0] == pytest.approx(tear.end, abs=2e-5)
