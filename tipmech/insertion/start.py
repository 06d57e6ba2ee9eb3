"""Before the first increment: the wire takes its own shape where it was laid, and friction starts from there."""

import numpy as np

from ..kernel import kernel
from ..rod.elastic import copy_rows
from .points import SLOTS, Array, mark_edges, point_position
from .solve import S_LIP, S_LIP_START, Model, Work, newton, update_tangents

SHAPING_STEPS = 10  # increments in which the preshape is put into the wire inside the support
SMALLEST_SHAPING = 1e-3  # of the way


@kernel
def put_into_support(m: Model, w: Work, laid: Array, natural: Array, tolerance: float, drag: float) -> bool:
    """Shape the wire where it lies: its natural curvature goes from that with which it was laid, free of stress, to
    `natural` (both (N + 1, 3), 1/m) in steps, under drag (N/m2).

    A step that is not solved is halved; False where the smallest is not.
    """
    mark_edges(m.pts, m.mem, m.walls, m.tube, w.x)
    done, step = 0.0, 1.0 / SHAPING_STEPS
    while done < 1.0:
        share = min(1.0, done + step)
        for i in range(natural.shape[0]):
            for a in range(3):
                m.rod.natural[i, a] = laid[i, a] * (1.0 - share) + natural[i, a] * share
        copy_rows(w.xs, w.x)
        copy_rows(w.qs, w.q)
        w.state[S_LIP_START] = w.state[S_LIP]
        update_tangents(w, False)
        if newton(m, w, drag, tolerance, np.inf) >= 0:
            done = share
            continue
        copy_rows(w.x, w.xs)
        copy_rows(w.q, w.qs)
        w.state[S_LIP] = w.state[S_LIP_START]
        step *= 0.5
        if step < SMALLEST_SHAPING:
            return False
    return True


@kernel
def stick(m: Model, w: Work) -> None:
    """Let friction start from where the wire lies."""
    for i in range(m.pts.element.shape[0]):
        p = point_position(m.pts, w.x, i)
        for slot in range(SLOTS):
            for a in range(3):
                m.mem.anchor[i, slot, a] = p[a]
