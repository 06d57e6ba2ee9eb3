"""What a point of the wire presses on at the tear, told apart: the lips' edges and all else there."""

from math import sqrt

from ..kernel import inlined, kernel
from ..rod.elastic import NO_FORCE
from ..vessel.bore import Tube, walls_share
from ..vessel.energy import upstream_edge
from ..vessel.holes import nearest_rim
from ..vessel.place import V
from ..vessel.walls import HOLE, TRUE, WINDOW, Walls, locate
from .piece import by_place, on_surfaces
from .points import Array, Memory, Points, crosses, gathered, on_element, plus


@kernel
def pressed(pts: Points, mem: Memory, walls: Walls, tube: Tube, x: Array, i: int) -> V:
    """Normal force of point i, which lies in the window, on the lips' edges, on all else that it meets there, and the
    part along the vessel, against the advance, of what the lips' edges do to it, N: as the last assembly has them.

    For a point elsewhere the third alone: from the rounding of a lip under it, on either side of the flap, and where
    the wire goes round an edge there. What the support bears is not told apart from the floor: of a point that touches
    it the second is left out.
    """
    s, side = mem.place[i, 0], mem.side[i]
    window, first, last = side == WINDOW, walls.start - walls.rho, walls.stop + walls.rho
    round_edge = window or (_goes_round(mem, i) and not _at_hole(walls, s, mem.place[i, 2]))
    if side == HOLE or (not round_edge and (s + pts.bore[i] < first or s > last)):
        return NO_FORCE
    up = _upstream(pts, mem, walls, tube, x, i, first) if window or side == TRUE else NO_FORCE
    flap = gathered(mem, i, 1) if window or walls.stop <= s <= last or first <= s <= walls.start else NO_FORCE
    edge = gathered(mem, i, 2) if round_edge else NO_FORCE
    at = on_element(x, pts.element[i], pts.xi[i])
    t = locate(walls, at[0], at[1], at[2]).t
    g = plus(plus(up, flap), edge)
    along = g[0] * t[0] + g[1] * t[1] + g[2] * t[2]
    if not window:
        return 0.0, 0.0, along
    wall = gathered(mem, i, 0)
    rest = _length((wall[0] - up[0], wall[1] - up[1], wall[2] - up[2])) if mem.tube[i] == 0 else 0.0
    return _length(up) + _length(flap), rest, along


@inlined
def _goes_round(mem: Memory, i: int) -> bool:
    """Whether the wire goes round an edge at point i or at one beside it: its force is spread over them."""
    n = mem.side.shape[0]
    return crosses(mem, i) or (i > 0 and crosses(mem, i - 1)) or (i + 1 < n and crosses(mem, i + 1))


@inlined
def _at_hole(walls: Walls, s: float, g: float) -> bool:
    """Whether a hole is nearer to (s, sigma = g) than the window."""
    rim = nearest_rim(walls.holes, s, g)
    x, y = max(0.0, s - walls.stop, walls.start - s), max(0.0, abs(g) - walls.half)
    return rim[0] - rim[6] < sqrt(x * x + y * y)


@kernel
def _upstream(pts: Points, mem: Memory, walls: Walls, tube: Tube, x: Array, i: int, first: float) -> V:
    """Gradient of point i's energy at the upstream lip's edge, which begins at `first` (m), N.

    Behind the middle of the tear alone where there is a plane behind that lip: it then is a flap as the other one.
    """
    count = mem.fine[i]
    step, size, tip = pts.step[i] / count, pts.size[i] / count, i == pts.element.shape[0] - 1
    gradient = NO_FORCE
    for k in range(count):
        at = on_element(x, pts.element[i], pts.xi[i] + (k + 0.5 - 0.5 * count) * step)
        p = locate(walls, at[0], at[1], at[2])
        if p.s < walls.middle or p.s < first:
            continue
        loc = upstream_edge(walls, p.s, p.r, p.phi * walls.floor, pts.radius[i], size, tip)
        if loc.u == 0.0:
            continue
        loc = by_place(walls, p, loc)
        share = walls_share(tube, at[0], at[1], at[2])[0]
        gradient = plus(gradient, on_surfaces(walls, p, loc, share)[0])
    return gradient


@inlined
def _length(a: V) -> float:
    return sqrt(a[0] * a[0] + a[1] * a[1] + a[2] * a[2])
