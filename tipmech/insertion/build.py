"""From a case to the arrays of the kernels: rod, contact points, walls, the wire as it is laid."""

from math import ceil

import numpy as np

from ..rod.band import WIDTH
from ..rod.elastic import RodArrays
from ..rod.numbering import law_arrays
from ..rod.self_contact import LIMBS, fold_arrays
from ..vessel.build import build_tube, build_walls
from ..vessel.margins import BEFORE, STATION
from ..vessel.walls import FALSE, TRUE
from .case import Case
from .commit import SCALARS, WORKS, Ledger
from .points import ASIDE, BORDERS, OUT, SLOTS, Array, Memory, Points, Surface
from .shape import element_lengths, lay, natural_curvature
from .solve import (
    S_CENTRE,
    S_CURLED_SINCE,
    S_END,
    S_FIRST_CURL,
    S_FRONT,
    S_LIP,
    S_LIP_START,
    S_NEAREST,
    S_PART,
    S_REACHED,
    STATE,
    Grip,
    Model,
    Work,
)

COARSE_SPACING = 0.2e-3  # m, contact points on the rest, which stays in the support
REACH = 16.2e-3  # m: the fine elements; behind them points are divided near edges all the same
LATERAL = 3e4  # stiffness of the hand's grip across the wire over that along it
SELF = 1.0  # of EI/r^4: line stiffness of the wire against itself, far above that of its bending over a few diameters
FORCE_LENGTH = 10e-3  # m, length of the force scale EI/L^2
PRESSED = 64  # stations of the margins that two limbs can press together


def force_scale(case: Case) -> float:
    """Force scale EI/L^2 at L = 10 mm with the bending rigidity 10 mm from the tip, N."""
    return float(case.profile.at("EI1", np.array([FORCE_LENGTH]))[0]) / FORCE_LENGTH**2


def build_rod(case: Case, clamp: Array) -> RodArrays:
    """The wire's distal length as a rod clamped at its base; `clamp` is the base frame's quaternion (w, x, y, z)."""
    lengths = element_lengths(case)
    end = case.numerics.length
    node = end - np.concatenate([[0.0], np.cumsum(lengths)])
    middle = 0.5 * (node[1:] + node[:-1])
    p = case.profile
    bend = np.stack([p.at("EI1", node), p.at("EI2", node), p.at("GJ", node)], axis=1)
    bend[-1] = 0.0
    stretch = np.stack([p.at("GA", middle), p.at("GA", middle), p.at("EA", middle)], axis=1)
    span = np.concatenate([[lengths[0] / 2], (lengths[1:] + lengths[:-1]) / 2, [lengths[-1] / 2]])
    arrays = RodArrays(lengths, span, stretch, bend, natural_curvature(case, lengths), np.array([clamp, clamp]))
    law = p.law_at(node)
    if law is None:
        return arrays
    limit, side, table = law_arrays(np.stack([p.at("EI1", node), p.at("EI2", node)], axis=1), law)
    return arrays._replace(limit=limit, side=side, law=table)


def build_points(case: Case, lengths: Array) -> Points:
    """Contact points of the wire from base to tip; the last one is the centre of the tip dome."""
    end = np.cumsum(lengths)
    element, xi, step, size = [], [], [], []
    for j, length in enumerate(lengths):
        near = end[-1] - end[j] < REACH
        count = max(1, ceil(length / (case.numerics.spacing if near else COARSE_SPACING) - 1e-9))
        element += [j] * count
        xi += list((np.arange(count) + 0.5) / count)
        step += [1.0 / count] * count
        size += [length / count] * count
    middle = end[-1] - (end[element] - lengths[element] * (1.0 - np.array(xi)))
    radius = np.append(case.profile.at("radius", middle), case.profile.tip_radius)
    # the dome carries the end: the shaft's share fades over its last radius, so that no force is counted twice
    fade = np.minimum(1.0, middle / case.profile.tip_radius)
    return Points(
        np.array([*element, len(lengths) - 1]),
        np.array([*xi, 1.0]),
        np.array([*step, 0.0]),
        np.array([*size, 2.0 * case.profile.tip_radius]),
        np.append(np.array(size) * fade, 2.0 * case.profile.tip_radius),
        np.minimum(radius, case.scene.support.inner_radius - 1e-6),
        np.append(np.searchsorted(element, np.arange(len(lengths))), len(element) + 1),
    )


def build(case: Case) -> tuple[Model, Work, Ledger]:
    """Arrays of an insertion at its start: the wire as it is laid."""
    diameter = 2.0 * float(case.profile.radius[0])
    num = case.numerics
    walls = build_walls(case.scene, diameter, num.smoothing)
    tube = build_tube(case.scene, diameter, force_scale(case) * FORCE_LENGTH**2, num.smoothing)
    nodes, frames, clamp, axis = lay(case)
    rod = build_rod(case, clamp)
    n = num.elements
    pts = build_points(case, rod.length)
    count, size = len(pts.element), 6 * n + 3
    home = FALSE if case.scene.start == "pocket" else TRUE
    longest = max(case.scene.centreline.length - case.scene.tear.end, case.scene.tear.start)
    margins = (2 if case.scene.channel.retrograde is None else 4, ceil(longest / STATION) + BEFORE + 2)
    mem = Memory(
        side=np.full(count, home),
        anchor=np.zeros((count, SLOTS, 3)),
        grip=np.zeros((count, SLOTS)),
        normal=np.zeros((count, SLOTS, 3)),
        force=np.zeros((count, SLOTS)),
        direction=np.zeros((count, SLOTS, 3)),
        stuck=np.zeros((count, SLOTS), dtype=np.int64),
        place=np.full((count, 5), -1.0),
        tangential=np.zeros((count, 3)),
        lead=np.full(count, -1.0),
        stiff=np.zeros(count),
        tube=np.zeros(count, dtype=np.int64),
        crossing=np.zeros((count, 3)),
        at=pts.xi.copy(),
        old_side=np.full(count, home),
        old_crossing=np.zeros((count, 3)),
        fine=np.ones(count, dtype=np.int64),
        edges=np.zeros(margins),
        pushed=np.full(margins, -np.inf),
        pushing=np.full((*margins, 2), -1),
        taken=np.zeros(count),
        weight=np.zeros(count),
        lateral=np.zeros((n + 1, 3)),
        aside=np.zeros((ASIDE, 10)),
    )
    surf = Surface(case.friction, case.scene.channel.front_friction, case.static_ratio, num.slip_length)
    grip = Grip(nodes[0].copy(), axis, case.drive.stiffness, LATERAL * case.drive.stiffness)
    state = np.zeros(STATE)
    state[S_CENTRE] = np.nan
    state[[S_NEAREST, S_REACHED, S_CURLED_SINCE, S_FIRST_CURL]] = np.inf
    state[S_PART] = 1.0
    state[S_END] = walls.end_start
    state[S_FRONT] = case.scene.tear.end + case.scene.channel.length
    state[S_LIP] = state[S_LIP_START] = max(-0.99 * walls.gap, walls.lip_load / walls.lip_stiffness)
    weight = np.append(rod.length, 0.0) / 2 + np.append(0.0, rod.length) / 2
    work = Work(
        x=nodes,
        q=frames,
        xs=nodes.copy(),
        qs=frames.copy(),
        xt=nodes.copy(),
        qt=frames.copy(),
        tangent=np.tile(axis, (n + 1, 1)),
        weight=weight,
        last=np.zeros(size),
        grad=np.zeros(size),
        band=np.zeros((size, WIDTH)),
        fac=np.zeros((size, WIDTH)),
        border=np.zeros((BORDERS, size)),
        rhs=np.zeros((1 + BORDERS, size)),
        out=np.zeros(OUT),
        fold=fold_arrays(
            rod.length,
            case.profile.at("radius", num.length - np.concatenate([[0.0], np.cumsum(rod.length)])),
            count,
            SELF * force_scale(case) * FORCE_LENGTH**2 / (0.5 * diameter) ** 4,
            num.smoothing,
            num.slip_length,
            PRESSED,
        ),
        state=state,
    )
    ledger = Ledger(  # not opened yet: against endless work no step is out of balance
        friction=np.zeros((count, SLOTS + LIMBS)),
        stretch=np.zeros((count, SLOTS + LIMBS)),
        passage=2 * mem.side,
        wanted=mem.side.copy(),
        viscous=np.zeros((n + 1, 3)),
        spin=np.zeros((n, 3)),
        edges=np.zeros_like(mem.edges),
        scalars=np.zeros(SCALARS),
        step=np.zeros(WORKS),
        works=np.full(WORKS, np.inf),
    )
    return Model(rod, pts, mem, walls, tube, surf, grip), work, ledger
