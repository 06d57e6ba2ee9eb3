"""Published benchmarks of large planar displacements: what the load does past limit points, and follower forces.

Lengths and loads are scaled as each work does. References are the planar Reissner equations integrated by shooting with
an eighth-order method and followed by arc length, with the same rigidities; published figures have rows of their own.
"""

from functools import cache
from math import pi, radians

import numpy as np

from ..rod.build import Rod, Section, straight
from ..rod.continuation import Path, Special, trace
from ..rod.elastic import Array
from ..rod.loads import Force, Moment
from ..rod.solve import Control, Equilibrium, displace, solve_path
from ..rod.structure import Structure
from ..rod.supports import Support, clamp
from .model import observed_order, planar_rod
from .row import Case, Row, absolute, at_least, relative

SHOOTING = "reference: planar Reissner equations, shooting"
TOLERANCE = 1e-3  # the errors at these meshes are at most half of it and fall with the square of the element size
HUGE = 1e9  # rigidity against shear or stretch that the reference leaves out, over EI/L2

# ---- Lee's frame ------------------------------------------------------------------------------------------------

LEE_ELEMENTS = 100  # each member
LEE_AXIAL = 43200.0  # EA L2/EI of the published section; nu = 0: GA = EA/2
LEE_LIMITS = ((18.548903821426535, 0.2239927735938262, 0.4062282202992702),  # P L2/EI, right/L, down/L of the load
              (-9.400359151175952, 0.7515308837307395, 0.4851835378888243))  # fmt: skip
LEE_FIGURE = (18.67, -9.47)
LEE_EMPTY = (0.6603325466319165, 0.43965336443712555)  # right/L, down/L of the equilibrium without load between them


def lee_frame() -> list[Row]:
    """Two pinned members at a right angle, the beam loaded at a fifth of its length: snap-through and snap-back."""
    n = LEE_ELEMENTS
    points = [(0.0, i / n) for i in range(n + 1)] + [(i / n, 1.0) for i in range(1, n + 1)]
    rod = planar_rod(points, 1.0, LEE_AXIAL / 2.0, LEE_AXIAL, [n])
    load = n + n // 5
    frame = Structure(rod, [_hinged(0), _hinged(-1)], loads=[Force(load, (0.0, -1.0, 0.0))])
    path = trace(frame, step=2.0, until=(-15.0, 25.0), stop_at=2)
    source = "Lee, Manuel & Rossow 1968"
    found = []
    for k, (point, figure) in enumerate(zip(_limits(path, 2), LEE_FIGURE, strict=True)):
        exact, right, down = LEE_LIMITS[k]
        id, name = f"lee-limit-{k + 1}", f"limit point {k + 1} of Lee's frame"
        factor, moved = _reached(point, load)
        found.append(relative(id, f"P L2/EI, {name}", factor, exact, TOLERANCE, f"{source}; {SHOOTING}"))
        text = "Simo & Vu-Quoc 1986, figure, digitised to 1 %"
        found.append(relative(f"{id}-figure", f"P L2/EI, {name}", factor, figure, 0.01, text))
        for axis, value, reference in (("right", moved[0], right), ("down", -moved[1], down)):
            quantity = f"load moved {axis}/L, {name}"
            found.append(absolute(f"{id}-{axis}", quantity, value, reference, TOLERANCE, f"{source}; {SHOOTING}"))
    # between the limit points the frame is in balance without a load; from there the load's path rises to the right
    empty = next((point for point in path.points[1:] if point.factor < 0.0), None)
    factor = np.nan
    if empty is not None:
        state = displace(frame, Control.of_node(frame, load, "x"), [LEE_EMPTY[0]], start=empty)[-1]
        factor = state.factor if state.converged else np.nan
    quantity = "P L2/EI where Lee's frame balances without load (0.6603 L to the right)"
    found.append(absolute("lee-empty", quantity, factor, 0.0, 0.01, f"{source}; {SHOOTING}"))
    return found


# ---- deep arch --------------------------------------------------------------------------------------------------

ARCH_ELEMENTS = 160
ARCH_STIFF = 1e6  # EA = GA = 100 EI at R = 100, over EI/R2
ARCH_LIMIT = (8.97289133844613, 0.6114171367384754, 1.1373074565590071)  # P R2/EI, crown right/R, down/R
ARCH_SECOND = -0.7304876023042997  # P R2/EI at the minimum behind it
ARCH_AT_6 = (0.43314621281183496, -0.5858043898020625)  # crown right/R, up/R at P R2/EI = 6


def _arch(elements: int) -> Structure:
    angle = radians(107.5) * np.linspace(-1.0, 1.0, elements + 1)
    rod = planar_rod(np.column_stack([np.sin(angle), np.cos(angle)]), 1.0, ARCH_STIFF, ARCH_STIFF)
    return Structure(rod, [clamp(0), _hinged(-1)], loads=[Force(elements // 2, (0.0, -1.0, 0.0))])


@cache
def _arch_at_6(elements: int) -> Array:
    state = solve_path(_arch(elements), np.linspace(0.5, 6.0, 12).tolist())[-1]
    return state.displacement[elements // 2, :2] if state.converged else np.full(2, np.nan)


def deep_arch() -> list[Row]:
    """Arch of 215 degrees, one end clamped, one hinged, under a load on its crown: it sways, then snaps."""
    n, source = ARCH_ELEMENTS, f"DaDeppo & Schmidt 1975; {SHOOTING}"
    path = trace(_arch(n), step=1.0, until=(-2.0, 10.0), stop_at=2)
    first, second = _limits(path, 2)
    factor, moved = _reached(first, n // 2)
    name = "limit point of the 215 deg arch"
    found = [
        relative("arch-limit", f"P R2/EI, {name}", factor, ARCH_LIMIT[0], TOLERANCE, source),
        absolute("arch-limit-published", f"P, {name}, R = 100, EI = 1e6", 100.0 * factor, 897.0, 0.5,
                 "DaDeppo & Schmidt 1975: 897; Ibrahimbegovic 1995: 897.3 (20 curved elements)"),
        absolute("arch-limit-right", f"crown moved right/R, {name}", moved[0], ARCH_LIMIT[1], TOLERANCE, source),
        absolute("arch-limit-down", f"crown moved down/R, {name}", -moved[1], ARCH_LIMIT[2], TOLERANCE, source),
        absolute("arch-second", "P R2/EI, minimum behind it", _reached(second, n // 2)[0], ARCH_SECOND, 2e-3, source),
    ]  # fmt: skip
    for k, axis in enumerate(("right", "up")):
        quantity = f"crown moved {axis}/R at P R2/EI = 6"
        found.append(absolute(f"arch-6-{axis}", quantity, _arch_at_6(n)[k], ARCH_AT_6[k], TOLERANCE, source))
    errors = [float(np.linalg.norm(_arch_at_6(k) - np.array(ARCH_AT_6))) for k in (40, 80, 160)]
    quantity = "least observed order, crown of the arch at P R2/EI = 6, 40 -> 80 -> 160 elements"
    found.append(at_least("order-arch", quantity, observed_order(errors), 1.9, 0.0, "stated order 2"))
    return found


# ---- toggle -----------------------------------------------------------------------------------------------------

TOGGLE_SPAN, TOGGLE_RISE, TOGGLE_BEND, TOGGLE_AXIAL = 12.943, 0.386, 9270.0, 1.885e6  # in, lbf in2, lbf
TOGGLE_LIMITS = ((33.86123301636248, 0.2320548618517179), (31.26258313090553, 0.39168957020358824))  # lbf, in
TOGGLE_ELEMENTS = 60  # each member


def toggle() -> list[Row]:
    """Two nearly aligned members with clamped ends, loaded at the apex: shallow snap-through."""
    n = TOGGLE_ELEMENTS
    part = np.linspace(-1.0, 1.0, 2 * n + 1)
    points = np.column_stack([TOGGLE_SPAN * part, TOGGLE_RISE * (1.0 - np.abs(part))])
    rod = planar_rod(points, TOGGLE_BEND, HUGE, TOGGLE_AXIAL, [n])
    frame = Structure(rod, [clamp(0), clamp(-1)], loads=[Force(n, (0.0, -1.0, 0.0))])
    path = trace(frame, step=2.0, until=(-1.0, 60.0), stop_at=2)
    found = []
    source = f"Williams 1964 (data from memory); {SHOOTING}"
    limits = _limits(path, 2)
    for k, (point, (load, down)) in enumerate(zip(limits, TOGGLE_LIMITS, strict=True)):
        id, name = f"toggle-limit-{k + 1}", f"limit point {k + 1} of the toggle"
        factor, moved = _reached(point, n)
        found.append(relative(id, f"load, lbf, {name}", factor, load, TOLERANCE, source))
        found.append(absolute(f"{id}-down", f"apex moved down, in, {name}", -moved[1], down, TOLERANCE, source))
    text = "Williams 1964: about 34 lbf, from memory"
    factor = _reached(limits[0], n)[0]
    found.append(absolute("toggle-published", "load, lbf, first limit point", factor, 34.0, 0.5, text))
    return found


# ---- cantilevers ------------------------------------------------------------------------------------------------

CIRCLE_ELEMENTS = 40
FOLLOWER_AXIAL = 1.2e5  # EA L2/EI
FOLLOWER_UNIT = 3500.0  # EI/L2
FOLLOWER = {
    20000.0: (92.02013860489319, 75.39037465757265),
    60000.0: (85.77106584346268, 40.09386044137419),
    130000.0: (75.85705436628707, -47.8453911107571),
}  # P, L = 100, EI = 3.5e7 -> shortening, tip across
FOLLOWER_FIGURE = (75.0, -48.2)
# P L2/EI -> shortening/L, tip across/L, clamp moment L/EI, at EA L2/EI = 50, GA L2/EI = 20
SHEAR_AXIAL, SHEAR_RIGIDITY = 50.0, 20.0
SHEAR = {
    4.0: (0.3541712511717805, 0.7927341645983291, 2.583314995312877),
    10.0: (0.5918401517679683, 1.0786926405028732, 4.081598482320309),
}


def _cantilever(elements: int, shear: float = HUGE, axial: float = HUGE) -> Rod:
    """Straight rod of unit length and bending rigidity along z; it bends in the x, z plane."""
    return straight(1.0, elements, Section(1.0, 1.0, 1.0, shear, shear, axial))


def circles() -> list[Row]:
    """End moment that rolls a cantilever up into one and into two full circles."""
    source = "Euler: M = 2 pi n EI/L; uniform curvature is exact on every mesh"
    found = []
    for turns in (1, 2):
        load = Moment(-1, (0.0, 2.0 * pi * turns, 0.0))
        s = Structure(_cantilever(CIRCLE_ELEMENTS, 1e4, 1e4), [clamp(0)], loads=[load])
        state = solve_path(s, np.linspace(0.0, 1.0, 16 * turns + 1)[1:].tolist())[-1]
        miss = float(np.linalg.norm(state.x[-1])) if state.converged else np.inf
        quantity = f"distance of the ends/L, rolled up into {turns} circle{'s' * (turns - 1)}"
        found.append(absolute(f"circle-{turns}", quantity, miss, 0.0, 1e-9, source))
    return found


def follower() -> list[Row]:
    """Cantilever under a tip force that turns with the tip: it comes round past its clamp."""
    n = 100
    s = Structure(_cantilever(n, axial=FOLLOWER_AXIAL), [clamp(0)], loads=[Force(-1, (1.0, 0.0, 0.0), follower=True)])
    source = f"Argyris & Symeonidis 1981; {SHOOTING}"
    found = []
    start: Equilibrium | None = None
    for load, (short, across) in FOLLOWER.items():
        low = 0.0 if start is None else start.factor
        start = solve_path(
            s, np.arange(low, load / FOLLOWER_UNIT, 0.5)[1:].tolist() + [load / FOLLOWER_UNIT], start=start
        )[-1]
        tip = 100.0 * start.displacement[-1]
        for axis, value, reference in (("short", -tip[2], short), ("across", tip[0], across)):
            quantity = (
                f"tip {'shortening' if axis == 'short' else 'deflection'}, L = 100, follower force {load / 1000:g}e3"
            )
            found.append(absolute(f"follower-{load / 1000:g}-{axis}", quantity, value, reference, 0.1, source))
    text = "Argyris & Symeonidis 1981, Simo & Vu-Quoc 1986: figure, digitised to 1.5 % of L"
    for axis, value, figure in (("short", -tip[2], FOLLOWER_FIGURE[0]), ("across", tip[0], FOLLOWER_FIGURE[1])):
        found.append(
            absolute(f"follower-130-{axis}-figure", f"the same, {axis}, follower force 130e3", value, figure, 1.5, text)
        )
    return found


def shear_flexible() -> list[Row]:
    """Cantilever soft in shear and stretch under a dead transverse tip force, small and large."""
    n = 80
    s = Structure(_cantilever(n, SHEAR_RIGIDITY, SHEAR_AXIAL), [clamp(0)], loads=[Force(-1, (1.0, 0.0, 0.0))])
    small = solve_path(s, [1e-4])[-1]
    text = "Timoshenko 1921: P L3/3 EI + P L/GA"
    exact = 1.0 / 3.0 + 1.0 / SHEAR_RIGIDITY
    quantity = "tip deflection EI/P L3, small load, GA L2/EI = 20"
    found = [relative("shear-small", quantity, small.displacement[-1, 0] / 1e-4, exact, TOLERANCE, text)]
    source = "Reissner 1972; equations integrated by shooting"
    for state, (load, (short, across, moment)) in zip(solve_path(s, list(SHEAR)), SHEAR.items(), strict=True):
        tip, name = state.displacement[-1], f"P L2/EI = {load:g}, GA L2/EI = 20, EA L2/EI = 50"
        at_clamp = abs(state.reactions[1][0, 1])
        for axis, value, reference in (("u", -tip[2], short), ("w", tip[0], across), ("moment", at_clamp, moment)):
            what = {"u": "shortening u/L", "w": "w/L", "moment": "clamp moment L/EI"}[axis]
            found.append(relative(f"shear-{load:g}-{axis}", f"{what}, {name}", value, reference, TOLERANCE, source))
    return found


def _hinged(node: int) -> Support:
    """The node stays, the section turns about the plane's normal only."""
    return Support(node, rotation="23")


def _limits(path: Path, wanted: int) -> list[Special | None]:
    """The first limit points of a path; None for those it lacks."""
    limits = [point for point in path.specials if point.kind == "limit"][:wanted]
    return [*limits, *[None] * (wanted - len(limits))]


def _reached(point: Special | None, node: int) -> tuple[float, Array]:
    """Load factor of a special point and displacement of a node; nan where the point lacks, which fails its rows."""
    if point is None:
        return np.nan, np.full(3, np.nan)
    return point.factor, point.state.displacement[node]


CASES: tuple[Case, ...] = (lee_frame, deep_arch, toggle, circles, follower, shear_flexible)
