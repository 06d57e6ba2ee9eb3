"""What the moment laws of steel and nickel-titanium change: tip loads and moments of the example wires.

    python -m experiments.laws.run

First table: largest axial force of the tip-load bench within a travel, on the line M = EI kappa and with the law, and
the largest curvature on the way over the limit at its place. Second table: least bend radius on the line, and the
moment over that of the line when the wire is bent to a radius 5 mm from its tip.
"""

import argparse
from collections.abc import Sequence

import numpy as np

from tipmech.bench.tip_load import FREE_LENGTHS, LONG_TRAVEL, TRAVEL, TipLoad, tip_load
from tipmech.files.wire import read_wire
from tipmech.profile import Profile
from tipmech.units import from_si
from tipmech.wire.design import profile
from tipmech.wire.presets import PRESETS

BENCHES = (*((free, TRAVEL) for free in FREE_LENGTHS), (10e-3, LONG_TRAVEL), (10e-3, 3e-3))  # free length, travel, m
PLACE = 5e-3  # m from the tip
RADII = (5e-3, 3e-3, 2e-3, 1e-3, 0.5e-3)  # m


def stretch_of(test: TipLoad, wire: Profile) -> float:
    """Largest curvature in the shapes of a test over the limit at its place, -; twists and offsets are small there."""
    chords = np.diff(test.shapes, axis=1)
    lengths = np.linalg.norm(chords, axis=2)
    tangents = chords / lengths[:, :, None]
    cosine = np.clip(np.sum(tangents[:, 1:] * tangents[:, :-1], axis=2), -1.0, 1.0)
    curvature = np.arccos(cosine) / (0.5 * (lengths[:, 1:] + lengths[:, :-1]))
    count = chords.shape[1]
    law = wire.law_at(test.free_length * (1.0 - np.arange(1, count) / count))
    return 0.0 if law is None else float(np.max(curvature / law.limit))


def loads(name: str, free: float, travel: float) -> tuple[float, float, float]:
    """Largest force on the line and with the law, N, and the largest curvature over the limit."""
    line, bent = (profile(read_wire(name), linear=linear) for linear in (True, False))
    one, two = (tip_load(wire, free, travel=travel) for wire in (line, bent))
    return one.force, two.force, stretch_of(two, bent)


def moments(wire: Profile) -> tuple[float, list[float]]:
    """Radius at which the wire leaves the line (m) and its moment over the line's at RADII, 5 mm from the tip."""
    law = wire.law_at(np.array([PLACE]))
    if law is None:
        return 0.0, [1.0] * len(RADII)
    curvature = 1.0 / np.array([RADII])
    return 1.0 / float(law.limit[0]), (law.at(curvature)[0] / curvature)[0].tolist()


def main(arguments: Sequence[str] | None = None) -> None:
    """Print both tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("wires", nargs="*", default=list(PRESETS), help="presets or wire files")
    wires = parser.parse_args(arguments).wires
    print("| wire | free length, travel, mm | on the line, gf | with the law, gf | change | curvature over the limit |")
    print("|---|---|---|---|---|---|")
    for name in wires:
        for free, travel in BENCHES:
            line, bent, stretch = loads(name, free, travel)
            print(
                f"| {name} | {free * 1e3:g}, {travel * 1e3:g} | {from_si(line, 'gf'):.4f} | {from_si(bent, 'gf'):.4f} "
                f"| {100.0 * (bent / line - 1.0):+.2f} % | {stretch:.2f} |"
            )
    print(
        "\n| wire | on the line down to, mm | " + " | ".join(f"M over line at R {r * 1e3:g} mm" for r in RADII) + " |"
    )
    print("|---" * (2 + len(RADII)) + "|")
    for name in wires:
        radius, ratios = moments(profile(read_wire(name)))
        print(f"| {name} | {radius * 1e3:.2f} | " + " | ".join(f"{r:.3f}" for r in ratios) + " |")


if __name__ == "__main__":
    main()
