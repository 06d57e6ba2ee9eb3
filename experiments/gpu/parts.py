"""Parts of an insertion as programs of a GPU: every lane does the same one `repeats` times."""

from collections.abc import Callable
from typing import Any

from numba import cuda

from tipmech.insertion.points import assemble_contact
from tipmech.insertion.solve import S_CENTRE, S_END, S_FRONT, S_LIP, _step, apply_step, assemble, inertia, residual
from tipmech.rod.band import factor
from tipmech.rod.elastic import assemble_elastic
from tipmech.rod.self_contact import NORMAL

Reader = Any
Entry = Callable[..., None]


def elastic(read: Reader) -> Entry:
    """The rod's energy, gradient and Hessian."""

    def lanes(address, count, repeats):  # type: ignore[no-untyped-def]
        i = cuda.grid(1)
        if i < count:
            lane = read(address, i)
            for _ in range(repeats):
                lane.w.out[0] = assemble_elastic(lane.m.rod, lane.w.x, lane.w.q, lane.w.grad, lane.w.band)

    return lanes


def contact(read: Reader) -> Entry:
    """Contact and friction of all points."""

    def lanes(address, count, repeats):  # type: ignore[no-untyped-def]
        i = cuda.grid(1)
        if i < count:
            lane = read(address, i)
            m, w = lane.m, lane.w
            for _ in range(repeats):
                assemble_contact(
                    m.pts, m.mem, m.walls, m.tube, m.surf, w.x, w.state[S_LIP], w.state[S_FRONT], m.walls.front_force,
                    w.state[S_CENTRE], w.state[S_END], m.walls.end_force, NORMAL, w.grad, w.band, w.border, w.out,
                )  # fmt: skip

    return lanes


def factorisation(read: Reader) -> Entry:
    """The band's factors."""

    def lanes(address, count, repeats):  # type: ignore[no-untyped-def]
        i = cuda.grid(1)
        if i < count:
            lane = read(address, i)
            for _ in range(repeats):
                lane.counts[0] = factor(lane.w.band, lane.w.fac, 0.0)

    return lanes


def iteration(read: Reader) -> Entry:
    """One Newton iteration, its step not taken: factors, direction, trial state, assembly, residual."""

    def lanes(address, count, repeats):  # type: ignore[no-untyped-def]
        i = cuda.grid(1)
        if i < count:
            lane = read(address, i)
            m, w = lane.m, lane.w
            lip = w.state[S_LIP]
            for _ in range(repeats):
                lane.counts[0] = inertia(w)
                sw, slope, limit = _step(w)
                apply_step(w.x, w.q, w.rhs[0], 0.0 * limit, w.xt, w.qt)
                w.out[0] = assemble(m, w, w.xt, w.qt, lip + 0.0 * sw, lane.shaping, NORMAL)
                lane.counts[1] = int(residual(w) > 0.0)

    return lanes


PARTS: dict[str, Callable[[Reader], Entry]] = {
    "elastic": elastic,
    "contact": contact,
    "factorisation": factorisation,
    "iteration": iteration,
}
