"""A wire that passes from the true lumen to the false channel beside a lip: where, and what holds it."""

from dataclasses import replace

import numpy as np
import pytest
from insertion_cases import TEAR, make_case

from experiments.scenes.draw import FOLDER
from tipmech.files.scene import read_case
from tipmech.insertion.build import build
from tipmech.insertion.case import Move
from tipmech.insertion.commit import hold_at_edges, slide_round_edges
from tipmech.insertion.points import E_CONTACT
from tipmech.insertion.run import Insertion
from tipmech.insertion.solve import S_LIP, assemble
from tipmech.outcome import Stop
from tipmech.vessel.energy import beyond_opening
from tipmech.vessel.walls import FALSE, TRUE

CASE = make_case()


def energy_of_sides(model, work, side):
    """Energy of contact with the points on these sides, J."""
    model.mem.side[:] = side
    hold_at_edges(model)
    assemble(model, work, work.x, work.q, work.state[S_LIP], 0.0, 0)
    return float(work.out[E_CONTACT])


@pytest.mark.parametrize("apart", [-6, -3, -1, 0, 1, 3, 6])
def test_a_wire_passes_an_edge_where_the_energy_is_least(apart):
    """A wire laid across the lip's edge, from above the flap to below it, passes where a search over places says."""
    model, work, _ = build(CASE)
    node = np.concatenate([[0.0], np.cumsum(model.rod.length)])
    slope = 0.35
    height = CASE.scene.lumen.radius - TEAR.gap + 0.5 * CASE.scene.wall.flap_thickness
    # downstream along the vessel and outwards, through the flap's middle 0.45 mm behind the lip
    along, middle = np.array([slope, 0.0, 1.0]) / np.hypot(slope, 1.0), node[len(node) // 2]
    work.x[:] = np.array([height, 0.0, TEAR.end + 0.45e-3]) + (node - middle)[:, None] * along
    assemble(model, work, work.x, work.q, work.state[S_LIP], 0.0, 0)
    s, n = model.mem.place[:, 0], len(model.mem.side)
    behind = [k for k in range(1, n) if s[k] >= TEAR.end + 1.2 * model.pts.radius[k]]

    def sides(first):
        return np.where(np.arange(n) < first, TRUE, FALSE)

    energies = {k: energy_of_sides(model, work, sides(k)) for k in behind[:40]}
    best = min(energies, key=energies.get)
    start = min(max(best + apart, behind[0]), behind[39])
    energy_of_sides(model, work, sides(start))
    before = float(work.out[E_CONTACT])
    for _ in range(4):
        slide_round_edges(model, work)
    first = int(np.argmax(model.mem.side == FALSE))
    assert np.array_equal(model.mem.side[behind[0] :], sides(first)[behind[0] :])
    assert float(work.out[E_CONTACT]) <= before
    assert float(work.out[E_CONTACT]) <= energies[best] * (1.0 + 5e-3)  # each point that goes over lowers it by 1e-3
    assert np.all(model.mem.held[first] == 1)


@pytest.mark.parametrize(("softness", "at_edge"), [(0.3, True), (3.0, False)])
def test_an_insertion_round_an_edge_makes_no_energy_and_comes_free(softness, at_edge):
    """What contact gives up where points change channel is released, what it gains is out of balance, in the audit."""
    case = read_case(FOLDER / "balloon_tear.toml").case
    insertion = Insertion(replace(case, profile=case.profile.softened(softness)))
    held = 0
    for _ in range(36):
        insertion.carry_out(Move("advance", 0.5e-3))
        memory = insertion._model.mem
        held += int(np.any(memory.held[memory.side == FALSE]))
    assert not at_edge or held > 0, "an edge must have held the wire"
    insertion.carry_out(Move("withdraw", 16e-3))
    record = insertion.record()
    assert record.stop == Stop.PROTOCOL_DONE
    assert np.any(record.side == FALSE), "it must have been in the false channel"
    assert record.audit_error[-1] < 0.01
    assert np.all(memory.side == TRUE)


def test_about_the_axis_an_edge_holds_along_the_vessel_only():
    walls = build(make_case())[0].walls
    radius, over = 0.178e-3, walls.rho + 0.178e-3
    for sigma in (0.0, 1.5e-3, -3.0e-3):
        held = beyond_opening(walls, TEAR.end + 2e-3, 0.5 * walls.far, sigma, radius)
        assert held[0] == pytest.approx(2e-3 - over) and held[1:4] == (1.0, 0.0, 0.0)
        assert beyond_opening(walls, TEAR.end, 0.5 * walls.far, sigma, radius)[0] == 0.0
    beside = beyond_opening(walls, TEAR.end, 1.4e-3, -1.5e-3, radius)
    assert beside[0] == pytest.approx(1.5e-3 - TEAR.half_width - radius) and beside[3] == -1.0
