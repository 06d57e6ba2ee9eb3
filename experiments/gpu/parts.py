"""Parts of an insertion as programs of a GPU: every lane does the same one `repeats` times."""

from collections.abc import Callable
from typing import Any

from numba import cuda
from numba.cuda import types

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


def factorisation_by_warp(read: Reader) -> Entry:
    """The same by the 32 threads of a warp, column by column: a ring of 16 rows in shared memory, 36 products a column.

    Lanes lie one after another here (width 1); each is a block of 32 threads.
    """

    def lanes(address, count, repeats):  # type: ignore[no-untyped-def]
        ring = cuda.shared.array((16, 9), types.float64)
        lane = read(address, cuda.blockIdx.x)
        band, fac = lane.w.band, lane.w.fac
        r, n = cuda.laneid, band.shape[0]
        k, m = 1, r  # the pair 1 <= m <= k of number r; pairs 32 to 35 are (8, 5) to (8, 8)
        while m >= k:
            m -= k
            k += 1
        m += 1
        negative = 0
        for _ in range(repeats):
            for row in range(9):
                if r < 9:
                    ring[row, r] = band[row, r]
            ahead = band[9, r] if r < 9 else 0.0
            cuda.syncwarp()
            for i in range(n):
                pivot = ring[i % 16, 8]
                negative += pivot < 0.0
                inverse = 1.0 / pivot
                a, b = ring[(i + k) % 16, 8 - k], ring[(i + m) % 16, 8 - m]
                c, d = ring[(i + 8) % 16, 0], ring[(i + r + 5) % 16, 3 - r] if r < 4 else 0.0
                own = ring[(i + r + 1) % 16, 7 - r] if r < 8 else 0.0
                cuda.syncwarp()
                if i + k < n:
                    ring[(i + k) % 16, 8 - k + m] -= a * b * inverse
                if r < 4 and i + 8 < n:
                    ring[(i + 8) % 16, r + 5] -= c * d * inverse
                if r < 8:
                    ring[(i + r + 1) % 16, 7 - r] = own * inverse
                if r < 9:
                    fac[i, r] = inverse if r == 8 else ring[i % 16, r]
                    ring[(i + 9) % 16, r] = ahead
                    if i + 10 < n:
                        ahead = band[i + 10, r]
                cuda.syncwarp()
        if r == 0:
            lane.counts[0] = negative

    return lanes


PARTS: dict[str, Callable[[Reader], Entry]] = {
    "elastic": elastic,
    "contact": contact,
    "factorisation": factorisation,
    "iteration": iteration,
    "factorisation_by_warp": factorisation_by_warp,
}
