"""A wire that passes from the true lumen to the false channel beside a lip: where, and what holds it."""

from dataclasses import replace

import numpy as np
import pytest
from insertion_cases import TEAR, make_case

from experiments.scenes.draw import FOLDER
from tipmech.files.scene import read_case
from tipmech.insertion.build import build
from tipmech.insertion.case import Move
from tipmech.insertion.classify import classify
from tipmech.insertion.points import E_CONTACT, crosses
from tipmech.insertion.run import Insertion, advance
from tipmech.insertion.solve import S_LIP, assemble, settle_crossings
from tipmech.outcome import Stop
from tipmech.vessel.energy import beyond_opening
from tipmech.vessel.walls import FALSE, TRUE

CASE = make_case()
TEARING = read_case(FOLDER / "balloon_tear.toml").case
DRAG = 1e-9  # N/m2, next to none: the crossing is free to slide


def energy_of(model, work, first, share):
    """Energy of contact with the points up to `first` in the true lumen, and `share` of that one's length, J."""
    model.mem.side[:] = np.where(np.arange(len(model.mem.side)) < first, TRUE, FALSE)
    model.mem.crossing[:] = 0.0
    model.mem.crossing[first, 0] = share
    assemble(model, work, work.x, work.q, work.state[S_LIP], 0.0, 0)
    return float(work.out[E_CONTACT])


@pytest.mark.parametrize("apart", [-4, -3, -1, 0, 1, 3, 6])
def test_a_wire_crosses_an_edge_where_the_energy_is_least(apart):
    """A wire laid across the lip's edge, from above the flap to below it, crosses where a search over places says,
    wherever behind the lip it is let go: between points, not at one."""
    model, work, _ = build(CASE)
    node = np.concatenate([[0.0], np.cumsum(model.rod.length)])
    slope = 0.35
    height = CASE.scene.lumen.radius - TEAR.gap + 0.5 * CASE.scene.wall.flap_thickness
    # downstream along the vessel and outwards, through the flap's middle 0.45 mm behind the lip
    along, middle = np.array([slope, 0.0, 1.0]) / np.hypot(slope, 1.0), node[len(node) // 2]
    work.x[:] = np.array([height, 0.0, TEAR.end + 0.45e-3]) + (node - middle)[:, None] * along
    assemble(model, work, work.x, work.q, work.state[S_LIP], 0.0, 0)
    s, n = model.mem.place[:, 0], len(model.mem.side)
    behind = [k for k in range(1, n) if s[k] >= TEAR.end + 1.2 * model.pts.radius[k]][:40]
    energies = {(k, c): energy_of(model, work, k, c) for k in behind for c in np.linspace(0.0, 1.0, 11)}
    best = min(energies, key=energies.get)
    before = energy_of(model, work, best[0] + apart, 0.5)
    settle_crossings(model, work, work.state[S_LIP], DRAG)
    found = float(work.out[E_CONTACT])
    first = int(np.argmax(model.mem.side == FALSE))
    assert found <= before
    assert abs(first + model.mem.crossing[first, 0] - sum(best)) < 0.1
    assert energies[best] * (1.0 - 2e-3) < found <= energies[best]


@pytest.mark.parametrize("taper", [0.0, 3e-6], ids=["even", "tapered"])
def test_a_crossing_glides_from_point_to_point_without_a_jump(taper):
    """A wire held at an edge, moved stiffly along itself there by two points' lengths: what its energy of contact rises
    by is the work against the forces of contact, also where the crossing goes on to the next point."""
    insertion = Insertion(replace(TEARING, profile=TEARING.profile.softened(0.6)))
    insertion.carry_out(Move("advance", 15.2e-3))
    model, work = insertion._model, insertion._work
    model = model._replace(grip=model.grip._replace(drive=0.0, lateral=0.0))
    model.mem.grip[:] = 0.0  # no friction
    at = next(i for i in range(1, len(model.mem.side)) if crosses(model.mem, i))
    assert model.mem.force[at, 2] > 1e-3
    model.pts.radius[:] += taper * np.clip(at - np.arange(len(model.mem.side)), -9, 9)  # thinner from point to point
    element = model.pts.element[at]
    along = work.x[element + 1] - work.x[element]
    along /= np.linalg.norm(along)
    start, step, energies, pulls, places = work.x.copy(), 1e-6, [], [], []
    for k in range(120):
        work.x[:] = start + k * step * along
        settle_crossings(model, work, work.state[S_LIP], DRAG)
        energies.append(float(work.out[E_CONTACT]))
        pulls.append(sum(float(work.grad[6 * i : 6 * i + 3] @ along) for i in range(len(start))))
        at = next(i for i in range(1, len(model.mem.side)) if crosses(model.mem, i))
        places.append(at + float(model.mem.crossing[at, 0]))
    assert abs(places[-1] - places[0]) > 1.5
    pulls = np.array(pulls)
    missed = np.diff(energies) - 0.5 * step * (pulls[1:] + pulls[:-1])
    assert np.max(np.abs(missed)) < 1e-3 * step * np.max(np.abs(pulls))


@pytest.mark.parametrize(("softness", "at_edge"), [(0.3, True), (3.0, False)])
def test_an_insertion_round_an_edge_makes_no_energy_and_comes_free(softness, at_edge):
    """What contact gives up where points change channel is released, what it gains is out of balance, in the audit."""
    insertion = Insertion(replace(TEARING, profile=TEARING.profile.softened(softness)))
    held = 0
    for _ in range(36):
        insertion.carry_out(Move("advance", 0.5e-3))
        memory = insertion._model.mem
        held += any(crosses(memory, i) and memory.force[i, 2] > 0.0 for i in range(1, len(memory.side)))
    assert not at_edge or held > 0, "an edge must have held the wire"
    insertion.carry_out(Move("withdraw", 16e-3))
    record = insertion.record()
    assert record.stop == Stop.PROTOCOL_DONE
    assert np.any(record.side == FALSE), "it must have been in the false channel"
    assert record.audit_error[-1] < 0.01
    assert np.all(memory.side == TRUE)


def test_what_an_edge_carries_does_not_hang_on_the_points_of_the_wire():
    """Held at an edge for millimetres, and pushed on: with points half as far apart the course is the same."""
    case = replace(TEARING, profile=TEARING.profile.softened(0.6), moves=(Move("advance", 16e-3),))
    runs = [advance(replace(case, numerics=replace(case.numerics, spacing=s))) for s in (0.06e-3, 0.03e-3)]
    assert classify(runs[0]).label == classify(runs[1]).label
    carried = runs[0].push > 1e-3
    assert carried.sum() > 20
    assert np.max(np.abs(runs[1].push - runs[0].push)[carried]) < 0.1 * runs[0].push.max()


def test_about_the_axis_an_edge_holds_along_the_vessel_only():
    walls = build(make_case())[0].walls
    radius, over = 0.178e-3, walls.rho + 0.178e-3
    for sigma in (0.0, 1.5e-3, -3.0e-3):
        held = beyond_opening(walls, TEAR.end + 2e-3, 0.5 * walls.far, sigma, radius)
        assert held[0] == pytest.approx(2e-3 - over) and held[1:4] == (1.0, 0.0, 0.0)
        assert beyond_opening(walls, TEAR.end, 0.5 * walls.far, sigma, radius)[0] == 0.0
    beside = beyond_opening(walls, TEAR.end, 1.4e-3, -1.5e-3, radius)
    assert beside[0] == pytest.approx(1.5e-3 - TEAR.half_width - radius) and beside[3] == -1.0
