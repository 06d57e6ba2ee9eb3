"""Contact energies against differences of themselves: walls point by point, and the whole wire in the tear."""

from dataclasses import replace
from math import cos, pi, sin

import numpy as np
import pytest
from insertion_cases import CHANNEL, SUPPORT, TEAR, in_pocket, make_case, make_scene

from experiments.scenes.draw import FOLDER
from experiments.seen.run import cases as seen_cases
from tipmech.files.scene import read_case
from tipmech.insertion import run as running
from tipmech.insertion.case import Move, StopRules, TipShape
from tipmech.insertion.crossing import keep_crossings
from tipmech.insertion.piece import at_edge, at_walls, by_place
from tipmech.insertion.points import crosses
from tipmech.insertion.run import advance
from tipmech.insertion.solve import S_END, S_FRONT, S_LIP, assemble, end_moves, front_moves
from tipmech.rod.band import HALF, WIDTH
from tipmech.rod.elastic import apply_step
from tipmech.rod.self_contact import PARTS, RECORDS, SHARED, TOUCHING, factor_folded, fold_arrays, note_shared
from tipmech.rod.skyline import solve_skyline
from tipmech.vessel.build import build_walls
from tipmech.vessel.holes import pierce
from tipmech.vessel.place import to_world
from tipmech.vessel.scene import Centreline, Lumen, Narrowing, Plug
from tipmech.vessel.walls import BACK, FALSE, HOLE, TRUE, WINDOW, locate

RADIUS = 0.178e-3
EDGE, DRAWN, DRAWN_BACK = 5, 6, 7  # in this file: the edge's hold by itself; drawn out of a false channel
LEFT = {DRAWN: FALSE, DRAWN_BACK: BACK}
LINE = Centreline(
    (16e-3, 3e-3, 15e-3, 10e-3), (0.0, 80.0, 60.0, 0.0), (0.4, 0.4, 2.5, 0.0)
)  # with joints where curvature and plane jump
FRONT = 20e-3
FRONT_BACK = TEAR.end + 3e-3  # mirrored
STEP, STEP2 = 2e-8, 1e-9  # m: of the differences of energy and of gradient


def local(walls, x, lip, side, tip):
    """Energy, gradient (world and lip) and Hessian (4 x 4) of one point."""
    p = locate(walls, *x)
    if side == EDGE:
        e = at_edge(walls, p, RADIUS)
    else:
        size = 2.0 * RADIUS if side in LEFT else 5e-5
        e = at_walls(walls, p, LEFT.get(side, side), lip, FRONT, FRONT_BACK, RADIUS, size, tip)
    e = by_place(walls, p, e)
    first = (e.a_s + e.b_s + e.c_s, e.a_r + e.b_r + e.c_r, e.a_g + e.b_g + e.c_g)
    axes = np.array([p.t, p.er, p.ep]).T
    scale = np.array([1.0 / p.stretch, 1.0, walls.floor / p.r])
    h = to_world(p, walls.floor, e.ss, e.sr, e.sg, e.rr, e.rg, e.gg, first)
    hessian = np.zeros((4, 4))
    hessian[:3, :3] = axes @ np.array([[h[0], h[1], h[2]], [h[1], h[3], h[4]], [h[2], h[4], h[5]]]) @ axes.T
    hessian[:3, 3] = hessian[3, :3] = axes @ (scale * np.array([e.sw, e.rw, e.gw]))
    hessian[3, 3] = e.ww
    return e.u, np.append(axes @ (scale * np.array(first)), e.w), hessian


@pytest.mark.parametrize("tip", [False, True], ids=["shaft", "tip"])
@pytest.mark.parametrize("free_lip", ["downstream", "upstream"])
@pytest.mark.parametrize(
    ("vessel", "side"),
    [
        *((vessel, side) for vessel in ("even", "spiral and narrowed", "pierced") for side in (TRUE, WINDOW, FALSE)),
        ("pierced", HOLE),
        *(("retrograde", side) for side in (TRUE, WINDOW, BACK)),
        *((vessel, EDGE) for vessel in ("spiral and narrowed", "pierced")),
        ("spiral and narrowed", DRAWN),
        *(("retrograde", side) for side in (DRAWN, DRAWN_BACK)),
    ],
)
def test_wall_energies_gradients_and_hessians_agree(vessel, side, free_lip, tip):
    rng = np.random.default_rng(3)
    even = vessel in ("even", "pierced")
    scene = make_scene(
        centreline=LINE,
        lumen=Lumen(1.5e-3, -0.01, None if even else Narrowing(15e-3, 15.5e-3, 3e-3, 0.4e-3)),
        tear=replace(TEAR, gap=0.3e-3, azimuth=0.4, free_lip=free_lip, spiral=0.0 if even else 200.0),
        channel=replace(CHANNEL, pressure=-500.0, thickness=0.0, retrograde=2e-3 if vessel == "retrograde" else None),
    )
    walls = build_walls(scene, 2.0 * RADIUS, 5e-6)
    if vessel == "pierced":
        pierce(walls.holes, TEAR.end + 0.4e-3, 0.2e-3, 0.4e-3)
        pierce(walls.holes, TEAR.end + 1.0e-3, 0.1e-3, 0.4e-3)  # a slit with the first
        pierce(walls.holes, TEAR.end + 1.9e-3, -0.6e-3, 0.3e-3)
    first, second = [], []
    for _ in range(1500):
        low, high = (TEAR.end if side in (FALSE, HOLE, EDGE) else TEAR.start - 2e-3), FRONT
        if vessel == "retrograde":
            low, high = TEAR.start - 3e-3, TEAR.start if side == BACK else TEAR.end
        if side in (DRAWN, DRAWN_BACK):
            low, high = TEAR.start - 0.1e-3, TEAR.end + 0.1e-3
        innermost = 0.35e-3 if side == EDGE or side in LEFT else 1.0e-3  # about the axis the edge's hold changes with r
        s, r, phi = rng.uniform(low, high), rng.uniform(innermost, 2.0e-3), 0.4 + rng.uniform(-1.3, 1.3)
        point, _, e1, e2 = (v[0] for v in LINE.frame(np.array([s])))
        x, lip = point + r * (cos(phi) * e1 + sin(phi) * e2), rng.uniform(-1e-4, 2e-4)
        energy, gradient, hessian = local(walls, x, lip, side, tip)
        if energy == 0.0:
            continue

        def at(d, x=x, lip=lip):
            return local(walls, x + d[:3], lip + d[3], side, tip)

        axes = np.eye(4)
        by_energy = np.array([(at(STEP * d)[0] - at(-STEP * d)[0]) / (2 * STEP) for d in axes])
        by_gradient = np.array([(at(STEP2 * d)[1] - at(-STEP2 * d)[1]) / (2 * STEP2) for d in axes])
        first.append(np.max(np.abs(by_energy - gradient)) / (np.max(np.abs(by_energy)) + 1e-6))
        second.append(np.max(np.abs(by_gradient - hessian)) / (np.max(np.abs(by_gradient)) + 1e-1))
    assert len(first) > 100
    # differences straddle an onset or a change of layer now and then: there, and only there, they may disagree
    assert np.quantile(first, 0.99) < 1e-3
    assert np.quantile(second, 0.97) < 1e-2


def in_the_tear(case, *feeds):
    """Model and work arrays of an insertion after `feeds` (m; negative: withdrawn)."""
    kept = []
    original = running.build

    def keep(c):
        built = original(c)
        kept.append(built)
        return built

    running.build = keep
    try:
        advance(replace(case, moves=tuple(Move("advance" if f > 0.0 else "withdraw", abs(f)) for f in feeds)))
    finally:
        running.build = original
    return kept[0][0], kept[0][1]


BENT = make_scene(
    centreline=Centreline.arc(5e-3, 8e-3, 1.2, 30e-3, plane=2.0),
    tear=replace(TEAR, start=22e-3, gap=0.3e-3),
    support=replace(SUPPORT, distance=10e-3, offset=(0.0, 0.0), follows=True),
    start="approach",
    tip_distance=8e-3,
)
TEARING = read_case(FOLDER / "balloon_tear.toml").case
HOOKED = make_case(
    2e-7,
    0.0,
    scene=make_scene(channel=replace(CHANNEL, retrograde=0.3e-3, front_force=0.01)),
    stop=StopRules(50e-3),
    tip_shape=TipShape(3.0, 3e-3),
)
OCCLUDED = make_scene(tear=replace(TEAR, intact=True), plug=Plug(14e-3, 18e-3, 0.01))
STATES = {
    "retrograde front": (HOOKED, 7e-3, -1.1e-3),
    "plug driven on": (make_case(2e-7, 0.0, scene=OCCLUDED), 6e-3),
    "a support that follows the vessel": (make_case(5e-8, 40.0, scene=BENT), 4e-3),
    "lips": (make_case(5e-8, 40.0, scene=make_scene(tear=replace(TEAR, gap=0.3e-3))), 6e-3),
    "false channel": (make_case(5e-8, 40.0), 8e-3),
    "spiral front driven on": (
        in_pocket(make_case(2e-7, 0.0, scene=make_scene(tear=replace(TEAR, spiral=120.0))), front_force=0.02),
        8e-3,
    ),
    "front driven on": (in_pocket(make_case(2e-7, 0.0), front_force=0.02), 8e-3),
    "crossing at an edge": (
        replace(TEARING, profile=TEARING.profile.softened(0.6)),
        15.2e-3,
    ),
    "margins that yield": (
        in_pocket(make_case(4e-7, 30.0, 0.5 * pi), length=4e-3, fracture_energy=8.0, room=1.2e-3),
        5e-3,
    ),
    "margins at the support's mouth": (
        in_pocket(make_case(2e-7, 10.0, 0.5 * pi), fracture_energy=300.0, room=0.45e-3),
        0.4e-3,
    ),
    "margins closer than the wire is thick": (
        in_pocket(make_case(2e-7, 10.0, 0.5 * pi), fracture_energy=300.0, room=0.34e-3),
        1.5e-3,
    ),
    "margins of a spiral that hold": (
        in_pocket(
            make_case(1e-7, 30.0, 0.5 * pi, scene=make_scene(tear=replace(TEAR, spiral=300.0))),
            fracture_energy=300.0,
            room=1.2e-3,
        ),
        6e-3,
    ),
}


@pytest.mark.parametrize("name", STATES)
def test_the_whole_wire_has_the_gradient_and_hessian_of_its_energy(name):
    model, work = in_the_tear(*STATES[name])
    rng = np.random.default_rng(1)
    size = len(work.grad)
    x0, q0, lip0 = work.x.copy(), work.q.copy(), work.state[S_LIP]
    work.xs[:] = x0 - 1e-6 * rng.normal(size=x0.shape)  # some motion, so that viscosity takes part
    # sliding points rest exactly where sticking ends, a kink of the second derivative: moved off it here
    model.mem.anchor[:] += 1e-6 * rng.normal(size=model.mem.anchor.shape)
    if "front driven on" in name:
        work.state[S_FRONT] -= 1e-6  # so that the front is on its way, not just at the yield force
    if "margins" in name:
        assert np.any(model.mem.pushed > model.mem.edges)
        model.mem.edges[:] -= 1e-6 * (model.mem.edges > 0.0)  # past their strength, not just at it
    if "crossing" in name:
        at = [i for i in range(1, len(model.mem.side)) if crosses(model.mem, i) and model.mem.force[i, 2] > 0.0]
        assert at, "an edge must hold the wire"
        keep_crossings(model.pts, model.mem)
    second = "plug" in name or "retrograde" in name
    if second:
        work.state[S_END] -= 1e-6
    drag = 50.0

    def at(direction, t):
        x, q = np.empty_like(x0), np.empty_like(q0)
        apply_step(x0, q0, np.ascontiguousarray(direction[:-1]), t, x, q)
        energy = assemble(model, work, x, q, lip0 + t * direction[-1], drag, 0)
        gradient = np.append(work.grad, work.out[3])
        return energy, gradient

    errors = []
    for _ in range(12):
        direction = rng.normal(size=size + 1) * 1e-3
        direction[:-1][np.arange(size) % 6 >= 3] = 0.0  # node positions and the lip; rotations: test_rod_derivatives
        direction[rng.random(size + 1) < 0.7] = 0.0
        direction[-1] = 1e-3
        _, gradient = at(direction, 0.0)
        band, border, out = work.band.copy(), work.border.copy(), work.out.copy()
        moving = front_moves(work)
        assert moving == ("front driven on" in name)
        plugged = end_moves(work)
        assert plugged == second
        step = 1e-6  # of a direction of about 1e-3 m: a nanometre
        up, down = at(direction, step), at(direction, -step)
        near, far = (at(direction, k * step)[0] - at(direction, -k * step)[0] for k in (0.1, 0.2))
        slope = (4.0 * near / (0.2 * step) - far / (0.4 * step)) / 3.0
        # onsets of contact have a jump of the third derivative, which a difference feels: not closer than 1e-3
        assert abs(slope - gradient @ direction) < 1e-3 * np.linalg.norm(gradient * direction)
        lower = np.zeros((size, size))
        for k in range(HALF + 1):
            lower[np.arange(k, size), np.arange(size - k)] = band[k:, HALF - k]
        matrix = lower + np.tril(lower, -1).T
        wanted = matrix @ direction[:-1] + border[0] * direction[-1]
        if moving:
            wanted -= border[1] * (border[1] @ direction[:-1]) / out[6]
        got = (up[1] - down[1])[:-1] / (2 * step)
        keep = np.arange(size) % 6 < 3
        errors.append(np.linalg.norm((got - wanted)[keep]) / np.linalg.norm(wanted[keep]))
    assert np.median(errors) < 1e-4


def test_limbs_that_press_a_margin_together_are_coupled_in_the_tangent():
    """A tip turned back beside its shaft: what the one gives way the other may take. Far from the band."""
    case = dict(seen_cases(21))["random_20"]
    going = running.Insertion(case)
    going.carry_rows(running.increments(case.moves, case.numerics.increment)[:152])
    model, work = going._model, going._work
    fold, lip, step = work.fold, work.state[S_LIP], 1e-9
    model.mem.edges[:] -= 1e-6 * (model.mem.edges > 0.0)  # past their strength, not just at it

    def gradient(x):
        assemble(model, work, x, work.q, lip, 50.0, 0)
        return work.grad.reshape(-1, 3)[::2].copy()

    gradient(work.x)
    shared = [(fold.parts[k, : fold.parts[k, PARTS]].copy(), fold.share[k].copy()) for k in range(fold.counts[SHARED])]
    touching = {(a, b) for j, m in fold.nodes[: fold.counts[RECORDS]] for a in (j, j + 1) for b in (m - 1, m, m + 1)}
    wanted: dict[tuple[int, int], np.ndarray] = {}
    for nodes, share in shared:
        for i, j in np.ndindex(len(nodes), len(nodes)):
            pair = (int(nodes[i]), int(nodes[j]))
            if pair[0] - pair[1] > 3 and not {pair, pair[::-1]} & touching:
                block = share[0, 3] * np.outer(share[i, :3], share[j, :3])
                wanted[pair] = wanted.get(pair, 0.0) + block
    largest = max(np.abs(block).max() for block in wanted.values())
    assert largest > 100.0  # N/m
    for (i, j), block in wanted.items():
        for a in range(3):
            moved = np.zeros_like(work.x)
            moved[i, a] = step
            found = (gradient(work.x + moved)[j] - gradient(work.x - moved)[j]) / (2.0 * step)
            np.testing.assert_allclose(found, block[a], atol=0.02 * largest)


def test_what_is_pressed_together_is_solved_for_exactly():
    """Band and couplings against a dense solution; negative eigenvalues counted."""
    n, rng = 40, np.random.default_rng(5)
    fold = fold_arrays(np.full(n, 1e-4), np.full(n + 1, 1e-4), 1, 1.0, 1e-6, 1e-6, 4)
    fold.counts[TOUCHING] = 1
    size = 6 * n + 3
    band = np.zeros((size, WIDTH))
    band[:, HALF] = rng.uniform(1.0, 2.0, size)
    dense = np.diag(band[:, HALF])
    for low, high in ((4, 30), (5, 31), (2, 38)):
        g = np.zeros((n + 1, 3))
        g[[low, low + 1, high - 1, high]] = rng.normal(size=(4, 3))
        note_shared(fold, low, high, g, -3.0)
        blocks = np.einsum("ia,jb->iajb", g, g) * -3.0
        near = np.abs(np.subtract.outer(np.arange(n + 1), np.arange(n + 1))) <= 1
        blocks[near[:, None, :, None].repeat(3, 1).repeat(3, 3)] = 0.0  # the band's part
        at = (6 * np.arange(n + 1)[:, None] + np.arange(3)).ravel()
        dense[np.ix_(at, at)] += blocks.reshape(3 * n + 3, 3 * n + 3)
    assert fold.counts[SHARED] == 3
    assert factor_folded(fold, band) == np.sum(np.linalg.eigvalsh(dense) < 0.0) > 0
    b = rng.normal(size=(2, size))
    x = b.copy()
    solve_skyline(fold.sky, x)
    np.testing.assert_allclose(x, np.linalg.solve(dense, b.T).T, rtol=1e-9, atol=1e-10)


def test_forces_do_not_jump_where_the_centreline_s_curvature_does():
    scene = make_scene(centreline=LINE, lumen=Lumen(1.5e-3, -0.05), tear=replace(TEAR, gap=0.3e-3, azimuth=0.4))
    walls = build_walls(scene, 2.0 * RADIUS, 5e-6)
    joint = 19e-3  # curvature and plane jump, in the false channel
    for phi in np.linspace(-0.6, 0.6, 7):
        point, tangent, e1, e2 = (v[0] for v in LINE.frame(np.array([joint])))
        x = point + 1.8e-3 * (cos(phi + 0.4) * e1 + sin(phi + 0.4) * e2)
        before, after = (local(walls, x + step * tangent, 0.0, FALSE, True)[1] for step in (-1e-9, 1e-9))
        along = abs(before @ np.append(tangent, 0.0))
        assert along > 1e-4  # N: the wall rises along the vessel
        assert np.max(np.abs(after - before)) < 1e-3 * along  # without the zone: up to 0.2
