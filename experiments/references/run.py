"""The reference values of the validation table, computed anew without the package: one line each.

    python -m experiments.references.run

They stand as constants in tipmech/validation/; tests/test_references.py compares the two.
"""

import argparse
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import degrees, pi

from . import bending, coils, planar, roots, slip, space, tube, twist

REISSNER = "plane Reissner equations, shooting"
COSSERAT = "Cosserat rod equations, shooting"
ARC = f"{REISSNER} and arc length"
MIDDLE = f"{COSSERAT} from the middle"
CRITICAL = f"{COSSERAT}, linear map out of the plane loses rank"
LINEAR = "linear equations, root of the determinant"
PENDULUM = "pendulum, elliptic functions"
DIRECTIONS = {"out": (0, 1, 0), "in": (0, -1, 0), "away": (1, 0, 0), "back": (-1, 0, 0)}
FOLLOWER_UNIT, FOLLOWER_AXIAL = 3500.0, 1.2e5  # EI/L2, EA L2/EI
SHEAR_SOFT = (1.0 / 50.0, 1.0 / 20.0)  # EI/EA L2, EI/GA L2
SUPERELASTIC_CORE = (0.10e-3, 0.045)  # diameter, m; strain
SUPERELASTIC_RIBBON = (0.10e-3, 0.03e-3, 3e-3, 8e-3)  # width, thickness, length, m; force, N
WRITHE = twist.Writhe(0.1, 1.0 / 1.3)
COIL = coils.Wire(6e-5, 1.35e-4, 6e-5, 168e9, 0.38)
FILAR = coils.Wire(5e-5, 1.25e-4, 3.2e-4, 168e9, 0.38)
ROPE = coils.rope(6e-5, coils.Wire(5e-5, 5.5e-5, 1.2e-3, 190e9, 0.3), 6)


@dataclass(frozen=True)
class Reference:
    """Values of one benchmark: what they are, in order and unit; by what they are computed."""

    benchmark: str
    quantity: str
    values: tuple[float, ...]
    by: str


def _plane() -> Iterator[Reference]:
    points, empty = planar.lee_path()
    for k, values in enumerate(points, start=1):
        yield Reference(f"Lee's frame, limit point {k}", "P L2/EI, right/L, down/L", values, ARC)
    yield Reference("Lee's frame without load", "right/L, down/L", empty, ARC)
    points, at_6 = planar.arch_path()
    for k, values in enumerate(points, start=1):
        yield Reference(f"arch of 215 deg, limit point {k}", "P R2/EI, right/R, down/R", values, ARC)
    yield Reference("arch of 215 deg, P R2/EI = 6", "right/R, up/R", at_6, ARC)
    for k, pair in enumerate(planar.toggle_limits(), start=1):
        yield Reference(f"toggle, limit point {k}", "load, lbf; apex down, in", pair, ARC)
    for load in (2e4, 6e4, 13e4):
        short, across = planar.follower(load / FOLLOWER_UNIT, FOLLOWER_AXIAL)
        name = f"follower force {load:g}, L = 100"
        yield Reference(name, "shortening, across", (100.0 * short, 100.0 * across), f"{REISSNER} from the tip")
    for load in (4.0, 10.0):
        x, y, _, moment = planar.cantilever(load, soft=SHEAR_SOFT)
        name = f"shear-flexible cantilever, P L2/EI = {load:g}"
        yield Reference(name, "u/L, w/L, clamp moment L/EI", (1.0 - x, y, moment), REISSNER)
    for load in (1.0, 4.0, 10.0):
        x, y, _, _ = planar.cantilever(load)
        yield Reference(f"transverse force, P L2/EI = {load:g}", "w/L, u/L", (y, 1.0 - x), REISSNER)
    for angle, load in ((30, 8), (60, 3), (120, 3), (150, 8)):
        tip = planar.cantilever(load, angle)[:3]
        yield Reference(f"force at {angle} deg, F L2/EI = {load}", "x/L, y/L, tip angle, rad", tip, REISSNER)
    for angle in (20, 60, 90, 120, 160):
        value = (roots.buckled(angle),)
        yield Reference(f"buckled column, tip at {angle} deg", "P/P_Euler", value, "complete elliptic integral")


def _space() -> Iterator[Reference]:
    for load in (300, 600):
        tip = tuple(float(v) for v in space.bend45(load))
        yield Reference(f"45 deg bend, {load} lbf", "tip x, y, z, in", tip, COSSERAT)
    for force, angle in ((8.896, 30), (8.896, 60), (13.345, 45)):
        tip = tuple(float(v) for v in space.princeton(force, angle))
        yield Reference(f"Princeton beam, {force} N at {angle} deg", "long side, short side, axis, m", tip, COSSERAT)
    for key, vector in DIRECTIONS.items():
        yield Reference(f"frame, end load {key}", "N", (space.frame_load(vector),), CRITICAL)
    for opening in (True, False):
        name = f"frame, end moments {'opening' if opening else 'closing'} the corner"
        yield Reference(name, "N mm", (space.frame_moments(opening),), CRITICAL)
    bessel = "root of a Bessel function"
    yield Reference("narrow cantilever", "P L2/sqrt(EI GJ)", (roots.narrow_cantilever(),), bessel)
    yield Reference("narrow beam, load in the middle", "P L2/sqrt(EI GJ)", (roots.narrow_middle(),), bessel)


def _twist() -> Iterator[Reference]:
    yield Reference("twist between clamps", "M L/EI", (twist.greenhill(),), "root of tan x = x")
    for tension in (50.0, 200.0):
        yield Reference(f"hockling, T L2/B = {tension:g}", "M L/B", (twist.hockling(tension),), LINEAR)
    for turns in (8.0, 8.5):
        helix = WRITHE.at(turns)
        yield Reference(f"localised helix, {turns:g} turns", "T L2/B, M L/B", helix[1:], MIDDLE)
    jump = WRITHE.fold()
    yield Reference("localised helix, jump", "end rotation, rad; M L/B", (jump.rotation, jump.torque), MIDDLE)
    for lam in (2.0, 3.0):
        yield Reference(f"whip, lambda L = {lam:g}", "base, tip before, after, deg", roots.whip_snap(lam), PENDULUM)
    for lam in (1.2, 2.0):
        tips = (roots.whip_tip(90.0, lam), roots.whip_tip(150.0, lam))
        yield Reference(f"whip, lambda L = {lam:g}", "tip at base 90, 150 deg, deg", tips, PENDULUM)
    yield Reference("whip behind a feed of 2 L", "critical lambda L", (roots.whip_length(2.0),), "x 2 tan x = 1")
    yield Reference("frequencies, cantilever", "z", tuple(roots.cantilever_waves()), "roots of cos z cosh z = -1")
    yield Reference("frequencies, free rod", "z", tuple(roots.free_waves()), "roots of cos z cosh z = 1")


def _coils() -> Iterator[Reference]:
    by = "energy of a thin helical wire over one turn, quadrature"
    for name, wire in (("close coil", COIL), ("one of six filars", FILAR)):
        yield Reference(name, "EI, GJ, N m2; EA, GA, N", tuple(coils.rigidities(wire).values()), by)
    yield Reference("close coil, touching and wound up", "GJ, N m2", (coils.wound(COIL),), by)
    yield Reference("rope of a core and six wires", "EI, GJ, N m2; EA, N", tuple(ROPE.values()), by)


def _tube() -> Iterator[Reference]:
    for slim, angle, before, behind in ((0.02 / 15.0, 0.5 * pi, 2.0, 40.0 / 15.0),):
        name = f"wire in a bend of {degrees(angle):g} deg, c/R = {slim:.4g}"
        value = tube.wall_force(slim, angle, before, behind)
        yield Reference(name, "wall forces over EI/(R sqrt(c R))", (value,), "beam between two walls, penalty")


def _slip() -> Iterator[Reference]:
    for friction in (0.03, 0.05, 0.1, 0.2):
        name = f"stuck tip lets go, friction {friction:g}"
        yield Reference(name, "P L2/EI, shortening over L", slip.onset(friction, 1e-3), "shooting on the elastica")


def _bending() -> Iterator[Reference]:
    moment = bending.core_moment(*SUPERELASTIC_CORE)
    yield Reference("superelastic core, 0.1 mm, 4.5 % strain", "N m", (moment,), "quadrature of the stress")
    tip = bending.ribbon_cantilever(*SUPERELASTIC_RIBBON)
    yield Reference("superelastic ribbon, tip force", "across, along, m; clamp moment, N m", tip, "shooting")


THEMES: dict[str, Callable[[], Iterable[Reference]]] = {
    "plane": _plane,
    "space": _space,
    "twist": _twist,
    "coils": _coils,
    "tube": _tube,
    "slip": _slip,
    "bending": _bending,
}


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the themes asked for, all by default."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--theme", choices=sorted(THEMES), action="append", help="this one only (repeatable)")
    chosen = parser.parse_args(arguments).theme or list(THEMES)
    for theme in chosen:
        for r in THEMES[theme]():
            print(f"{r.benchmark}: {r.quantity} = {', '.join(f'{v:.10g}' for v in r.values)} [{r.by}]")


if __name__ == "__main__":
    main()
