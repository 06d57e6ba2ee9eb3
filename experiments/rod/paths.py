"""Equilibrium paths of two published structures: the figure of docs/guide-engineer.md.

    python experiments/rod/paths.py --out docs/figures/paths.png

Lee's frame (Lee, Manuel & Rossow 1968; dimensions from memory) in its plane, past both limit points; a clamped column
in a plane, past its bifurcation point and along both branches.
"""

import argparse
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from tipmech.rod.build import Section, rod_along, straight
from tipmech.rod.continuation import switch, trace
from tipmech.rod.loads import Force
from tipmech.rod.solve import Control
from tipmech.rod.structure import Structure
from tipmech.rod.supports import Support, clamp
from tipmech.show.paths import Curve, Panel, path_figure
from tipmech.show.style import save

TURN = 0.05  # rad, for smooth curves


def lee() -> Panel:
    """Two pinned members of 1.2 m at a right angle, EI 144 N m2, the beam pressed down at a fifth of its length."""
    leg = np.linspace(0.0, 1.2, 41)
    points = [(0.0, 0.0, z) for z in leg] + [(x, 0.0, 1.2) for x in leg[1:]]
    section = Section(144.0, 144.0, 144.0, 2.16e6, 2.16e6, 4.32e6)
    rod = rod_along(np.array(points), section, corners=[40], directors=(0.0, 1.0, 0.0))
    pinned = [Support(0, rotation=""), Support(-1, rotation="")]
    frame = Structure(rod, pinned, loads=[Force(48, (0.0, 0.0, -1000.0))], plane="y")
    path = trace(frame, step=0.1, until=(-1.2, 3.0), turn=TURN)
    down = np.zeros((81, 3))
    down[48, 2] = -1.0
    curves = [
        Curve(path, Control(down), "down"),
        Curve(path, Control.of_node(frame, 48, "x"), "to the right"),
    ]
    return Panel(curves, "Lee's frame", "displacement of the loaded point", "force, N", 1000.0)


def column() -> Panel:
    """Steel wire of 0.2 mm, 20 mm long, clamped at its base, a dead load on its tip."""
    wire = straight(20e-3, 40, Section.of_round(200e9, 0.2e-3))
    s = Structure(wire, [clamp(0)], loads=[Force(-1, (0.0, 0.0, -1.0))], plane="y")
    up = trace(s, step=0.01, until=0.25)
    first = up.specials[0]
    tip = Control.of_node(s, -1, "x")
    sides = [
        trace(s, step=0.01, until=(0.0, 0.25), start=switch(first, side), away_from=first.state, turn=TURN)
        for side in (1, -1)
    ]
    curves = [Curve(up, tip, "straight"), Curve(sides[0], tip, "to one side"), Curve(sides[1], tip, "to the other")]
    return Panel(curves, "Clamped column", "displacement of the tip", "force, N", 1.0)


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, default=Path("results/paths.png"))
    options = parser.parse_args(arguments)
    print(save(path_figure([lee(), column()]), options.out))


if __name__ == "__main__":
    main()
