"""A wire that passes from the true lumen to the false channel beside a lip: where, and what holds it."""

import numpy as np
import pytest
from insertion_cases import TEAR, make_case

from tipmech.insertion.build import build
from tipmech.insertion.commit import hold_at_edges, slide_round_edges
from tipmech.insertion.solve import S_LIP
from tipmech.vessel.energy import beyond_opening
from tipmech.vessel.walls import FALSE, TRUE


def laid_past_the_lip(backwards):
    """Model, work arrays and squared distances from the lip's edge (m2) of points on a straight line that passes it
    0.34 mm behind, from above the flap to below it (backwards: from below)."""
    case = make_case()
    model, work, _ = build(case)
    lumen, wall = case.scene.lumen, case.scene.wall
    edge = np.array([TEAR.end, lumen.radius - TEAR.gap - work.state[S_LIP] + 0.5 * wall.flap_thickness])
    foot, way = np.array([0.32e-3, 0.1e-3]), np.array([-0.1, 0.32]) * (-1.0 if backwards else 1.0)
    node = np.concatenate([[0.0], np.cumsum(model.rod.length)])
    at = node[model.pts.element] + model.pts.xi * model.rod.length[model.pts.element]
    middle = at[len(at) // 2]
    way = way / np.linalg.norm(way)
    place = edge + foot + (at - middle)[:, None] * way
    work.x[:] = 0.0
    work.x[:, 2] = node
    model.mem.place[:, 0], model.mem.place[:, 1], model.mem.place[:, 2] = place[:, 0], place[:, 1], 0.0
    return model, work, np.sum((place - edge) ** 2, axis=1)


@pytest.mark.parametrize("backwards", [False, True])
@pytest.mark.parametrize("apart", [-5, -1, 0, 1, 5])
def test_a_wire_passes_an_edge_where_it_is_nearest_to_it(apart, backwards):
    model, work, distance = laid_past_the_lip(backwards)
    nearest, side = int(np.argmin(distance)), model.mem.side
    here, there = (FALSE, TRUE) if backwards else (TRUE, FALSE)
    side[: nearest + apart], side[nearest + apart :] = here, there
    for _ in range(20):
        if not slide_round_edges(model, work):
            break
    first = int(np.argmax(side == there))
    assert np.all(side[:first] == here) and np.all(side[first:] == there)
    assert nearest in (first - 1, first)
    assert hold_at_edges(model) and not hold_at_edges(model)
    assert np.flatnonzero(model.mem.held).tolist() == [first - 1 if backwards else first]


def test_about_the_axis_an_edge_holds_along_the_vessel_only():
    walls = build(make_case())[0].walls
    radius, over = 0.178e-3, walls.rho + 0.178e-3
    for sigma in (0.0, 1.5e-3, -3.0e-3):
        held = beyond_opening(walls, TEAR.end + 2e-3, 0.5 * walls.far, sigma, radius)
        assert held[0] == pytest.approx(2e-3 - over) and held[1:4] == (1.0, 0.0, 0.0)
        assert beyond_opening(walls, TEAR.end, 0.5 * walls.far, sigma, radius)[0] == 0.0
    beside = beyond_opening(walls, TEAR.end, 1.4e-3, -1.5e-3, radius)
    assert beside[0] == pytest.approx(1.5e-3 - TEAR.half_width - radius) and beside[3] == -1.0


def test_a_wire_whose_end_is_drawn_past_an_edge_slips_off_it():
    model, work, distance = laid_past_the_lip(False)
    n, place = len(model.mem.side), model.mem.place
    nearest = int(np.argmin(distance))
    place[:, :2] += place[nearest, :2] - place[n - 1, :2]  # nearest at the end
    model.mem.side[:] = TRUE
    model.mem.side[n - 1] = FALSE
    assert not slide_round_edges(model, work)
    place[:, :2] += 0.3 * (place[n - 1, :2] - place[n - 2, :2])  # a quarter of a distance is the hysteresis
    assert not slide_round_edges(model, work)  # still short of it: the end has moved on, not back
    place[:, :2] -= 0.6 * (place[n - 1, :2] - place[n - 2, :2])
    assert slide_round_edges(model, work) and model.mem.side[n - 1] == TRUE
