"""Published peel, breach, in-plane and loop forces beside what the model gives: plausibility, not validation.

    python -m experiments.plausibility.run

The model's forces follow from its inputs G_c and J_c, which were chosen with these measurements in view: agreement says
that no unit and no order of magnitude is wrong, nothing more. Only the loads of folding wires are not put in.
"""

import argparse
from collections.abc import Sequence
from math import pi

import numpy as np

from tipmech.files.wire import read_wire
from tipmech.insertion.case import Case, Move, StopRules, TipShape
from tipmech.insertion.classify import curl_start, travel
from tipmech.insertion.run import advance
from tipmech.units import from_si
from tipmech.vessel.build import breach_force, front_strength, front_width
from tipmech.vessel.scene import Centreline, FalseChannel, Lumen, OuterWall, Scene, Support, Tear, Wall
from tipmech.wire.design import profile
from tipmech.wire.presets import PRESETS

DIAMETER = 0.356e-3  # m, of most coronary guidewires (0.014 inch)
BILIARY = 0.635e-3  # m: the only wires whose loads before a loop are published (0.025 inch)
HELD = 1.0  # N, a front that no wire here drives on


def scene_with(energy: float, force: float | None = None) -> Scene:
    """A straight vessel with a pocket of the default size; energy: G_c, J/m2; force: of the front, N."""
    return Scene(
        Centreline.straight(60e-3),
        Lumen(1.5e-3),
        Wall(0.6e6, 0.35e-3, 600.0, outer=OuterWall(0.6e6, 1e4)),
        Tear(20e-3, 2e-3, 0.25e-3, 0.1e-3, 1e-3, 0.0, "downstream", 1e-3),
        FalseChannel(5e-3, 2e-3, 0.0, energy, "notch", front_force=force),
        Support(0.0, 0.0, 0.0, (0.0, 0.0), 0.225e-3),
        "pocket",
    )


def driven(energy: float) -> tuple[float, float]:
    """Force on the front that a stiff straight wire drives on, over the width opened, N/m; that width, m."""
    wire = profile(read_wire("stiff_tapered")).softened(4.0)
    moves = (Move("advance", 8e-3),)
    record = advance(Case(wire, scene_with(energy), TipShape(), 0.05, moves, stop=StopRules(20e-3)))
    moving = np.diff(record.front) > 1e-6
    width = front_width(record.case.scene, 2.0 * float(wire.radius[0]))
    return float(np.median(record.force_front[1:][moving])) / width, width


def load_before_curl(name: str) -> float:
    """Largest push before the tip curls against a front that holds, N (nan: it does not curl within 10 mm)."""
    wire = profile(read_wire(name))
    moves = (Move("advance", 10e-3),)
    stop = StopRules(20e-3, advance_past_curl=0.0)
    case = Case(wire, scene_with(35.0, HELD), TipShape(0.5, 2.5e-3, pi / 2), wire.friction, moves, stop=stop)
    record = advance(case)
    start = curl_start(record)
    return float("nan") if np.isnan(start) else float(np.max(record.push[travel(record) <= start]))


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the tables."""
    argparse.ArgumentParser(description=__doc__.splitlines()[0]).parse_args(arguments)
    print("| quantity | published | model |\n|---|---|---|")
    for name, energy, peel in (("circumferential", 51.0, "22.9 ± 2.9"), ("axial", 76.0, "34.8 ± 15.5")):
        force, _ = driven(energy)
        half = from_si(0.5 * force, "mN") * 1e-3
        print(
            f"| peel force over width, human aortic media, {name}, mN/mm [Sommer 2008] | {peel} "
            f"| {half:.1f} (half of the front's, as both arms are pulled; G_c = {energy:g} J/m² put in) |"
        )
    for energy in (20.0, 50.0, 160.0):
        scene = scene_with(energy)
        force, width = from_si(front_strength(scene, DIAMETER), "gf"), front_width(scene, DIAMETER)
        narrow, wide = (from_si(energy * w, "gf") for w in (0.36e-3, 1.1e-3))
        print(
            f"| force to advance in the plane at G_c = {energy:g} J/m², gf | {narrow:.1f}-{wide:.1f} for 0.36-1.1 mm "
            f"opened (computed) | {force:.1f}, {width * 1e3:.2f} mm opened |"
        )
    for toughness, tissue in ((290.0, "pig aorta, blade"), (1700.0, "pig aorta, trouser tear")):
        force = breach_force(toughness, DIAMETER)
        print(
            f"| force to pierce at J_c = {toughness:g} J/m² ({tissue}), N "
            f"| caps of occlusions 0.61-1.52 [Thind], other tissue | {force:.2f} |"
        )
    stress = 140.1e3 * pi * DIAMETER**2 / 4.0
    print(
        f"| load of mean pressure 140 kPa (radial strength [Sommer 2008]) under the tip, gf | - "
        f"| {from_si(stress, 'gf'):.1f}; decides nothing in the model |"
    )
    print("\nBefore a loop formed, biliary wires of 0.635 mm took 6.8-25.4 g [Ogura 2021].")
    print("\n| wire | largest push before it curls in a pocket of 2 mm, gf | times (0.635/0.356)⁴ |\n|---|---|---|")
    for name in PRESETS:
        load = from_si(load_before_curl(name), "gf")
        scaled = load * (BILIARY / DIAMETER) ** 4
        print(f"| {name} | {load:.1f} | {scaled:.0f} |" if np.isfinite(load) else f"| {name} | does not curl | - |")


if __name__ == "__main__":
    main()
