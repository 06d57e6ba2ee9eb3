"""Twisted rods: the ring that leaves its plane, and the straight rod that coils up in one place."""

from dataclasses import replace
from functools import cache
from math import pi, sqrt

import numpy as np

from ..rod.build import Section, rod_along, straight
from ..rod.continuation import Special, critical_point, trace
from ..rod.loads import Force
from ..rod.solve import Control, Equilibrium, displace, solve, solve_path
from ..rod.structure import Structure
from ..rod.supports import Support, clamp
from .row import Case, Row, relative

# ---- ring -------------------------------------------------------------------------------------------------------

RING_ELEMENTS, RING_RATIO = 120, 1.3  # B/C
RING_STIFF = 1e5  # EA, GA over B/R2


def ring() -> list[Row]:
    """A straight isotropic rod closed into a ring, one section clamped, its two faces twisted against each other."""
    n = RING_ELEMENTS
    angle = 2.0 * pi * np.arange(n + 1) / n
    points = np.column_stack([np.cos(angle) - 1.0, np.sin(angle), 0.0 * angle])
    points[-1] = points[0]
    section = Section(1.0, 1.0, 1.0 / RING_RATIO, RING_STIFF, RING_STIFF, RING_STIFF)
    closed = rod_along(points, section, directors=(0.0, 0.0, 1.0))
    cut = replace(closed, natural=np.zeros_like(closed.natural))  # straight when cut open: as a ring it is bent
    # the opposite node kept in the plane takes away a swing about the clamp's tangent that costs no energy
    s = Structure(cut, [clamp(0), Support(-1, turn=(0.0, 0.0, 1.0)), Support(n // 2, "z", "")])
    point = critical_point(s, 20.0, step=1.0)
    exact = 2.0 * pi * sqrt(3.0) * RING_RATIO
    source = "Michell 1890; Zajac 1962: 2 pi sqrt(3) B/C, from memory, confirmed by shooting"
    # the polygon of the mesh is not quite symmetric: the path bends away next to the point, so that the bracket stays
    # 0.011 wide, the less the finer the mesh (0.038, 0.011, 0.004, 0.001 at 60 to 480 elements)
    return [relative("ring", "critical twist of a ring, B/C = 1.3, rad", _factor(point), exact, 1e-3, source)]


# ---- loss of straightness under tension ---------------------------------------------------------------------------

HOCKLE_ELEMENTS, HOCKLE_STIFF = 200, 1e8  # EA, GA over B/L2
# tension L2/B -> critical torque L/B between clamps: roots of the linear equations; 2 sqrt(B T) for the infinite rod
HOCKLE = {50.0: 15.589323932753883, 200.0: 28.98273784835377}
TORSION = 1.0 / 1.3  # C/B


def hockling() -> list[Row]:
    """Straight rod between coaxial clamps under a dead tension: end rotation at which it leaves its axis."""
    n, stiff = HOCKLE_ELEMENTS, HOCKLE_STIFF
    rod = straight(1.0, n, Section(1.0, 1.0, TORSION, stiff, stiff, stiff))
    found = []
    for tension, exact in HOCKLE.items():
        load = Force(-1, (0.0, 0.0, tension), constant=True)
        s = Structure(rod, [clamp(0), Support(-1, "xy", "123", turn=(0.0, 0.0, 1.0))], loads=[load])
        path = trace(s, start=solve(s, 0.0), step=0.5, until=1.2 * exact / TORSION, turn=1.0, stop_at=1)
        point = path.specials[0] if path.specials else None
        quantity = f"critical torque M L/B between clamps under tension T L2/B = {tension:g}"
        source = "Greenhill 1883; Yabuta 1982; linear equations; infinite rod 2 sqrt(B T), from memory"
        found.append(relative(f"hockling-{tension:g}", quantity, TORSION * _factor(point), exact, 1e-3, source))
    return found


# ---- localised helix ----------------------------------------------------------------------------------------------

WRITHE_ELEMENTS, WRITHE_STIFF = 300, 5e7  # EA, GA over B/L2: the axial strain is 1e-5, the end shortening 0.1
SHORTENED = 0.1  # of the length
# end rotation, turns -> axial tension T L2/B, end torque M L/B: shooting from the middle, clamped rod of finite length
WRITHE = {8.0: (489.5580790535419, 36.8620899107328), 8.5: (623.0391998920188, 39.00889249741353)}
JUMP = (55.180055047563634, 39.970398191169565)  # rad, M L/B at the fold behind it


@cache
def _writhed() -> tuple[list[Equilibrium], Special | None]:
    """States at the rotations of WRITHE with the ends held 0.9 L apart, and the fold behind them.

    A rod buckled sideways is shortened first, then turned. The middle is kept in the plane x, z: that takes away a turn
    of the whole shape about the axis, which costs no energy.
    """
    n, stiff = WRITHE_ELEMENTS, WRITHE_STIFF
    rod = straight(1.0, n, Section(1.0, 1.0, TORSION, stiff, stiff, stiff))
    middle = Support(n // 2, "y", "")
    push = [Force(n // 2, (1.0, 0.0, 0.0), constant=True), Force(-1, (0.0, 0.0, -1.0))]
    column = Structure(rod, [clamp(0), Support(-1, "xy", "123"), middle], loads=push)
    bent = displace(
        column, Control.of_node(column, n // 2, "x"), np.linspace(0.01, 0.18, 20).tolist(), start=solve(column, 0.0)
    )
    short = displace(column, Control.of_node(column, -1, "z"), [-SHORTENED], start=bent[-1])[-1]
    held = replace(rod, points=(1.0 - SHORTENED) * rod.points)  # both ends held where they are now; rest lengths kept
    turned = Structure(held, [clamp(0), Support(-1, turn=(0.0, 0.0, 1.0)), middle])
    start = replace(short, structure=turned, factor=0.0)
    turns = [2.0 * pi * k for k in WRITHE]
    path = solve_path(turned, [*np.linspace(0.0, turns[0], 25), turns[1]], start=start)
    fold = trace(turned, start=path[-1], step=0.3, until=60.0, turn=0.5, max_points=100, stop_at=1).specials
    return path[-2:], fold[0] if fold else None


def localised_helix() -> list[Row]:
    """A long rod between coaxial clamps, shortened and twisted: it coils up in its middle, then jumps into a loop."""
    states, fold = _writhed()
    source = "van der Heijden & Thompson 2000; Coyne 1990; reference: finite clamped rod, shooting"
    found = []
    for state, (turns, (tension, torque)) in zip(states, WRITHE.items(), strict=True):
        force, moment = state.reactions
        name = f"{turns:g} turns, shortened by 0.1 L"
        good = state.converged and state.count == 0
        for key, value, exact in (("tension", force[-1, 2], tension), ("torque", moment[-1, 2], torque)):
            what = "tension T L2/B" if key == "tension" else "end torque M L/B"
            found.append(
                relative(f"writhe-{turns:g}-{key}", f"{what}, {name}", value if good else np.nan, exact, 4e-3, source)
            )
    text = f"{source}; cos(2 a) = -C D/(2 B L), R = (4 B L/(C D)) sin(2 a) + 4 a"
    rotation, torque = JUMP
    quantity = "end rotation at the jump into a loop, rad, shortened by 0.1 L"
    found.append(relative("writhe-jump", quantity, _factor(fold), rotation, 2e-3, text))
    seen = fold.state.reactions[1][-1, 2] if fold and fold.kind == "limit" else np.nan
    found.append(relative("writhe-jump-torque", "end torque M L/B at the jump", seen, torque, 2e-3, source))
    return found


def _factor(point: Special | None) -> float:
    """Load factor of a special point; nan where none was found, which fails its row."""
    return float("nan") if point is None else point.factor


CASES: tuple[Case, ...] = (ring, hockling, localised_helix)
