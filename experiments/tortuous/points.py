"""Write line.csv: points along an INVENTED tortuous vessel, 1 mm apart, with noise, as an image would give them.

Bends of 6 to 12 mm radius in different planes between short straights; no patient, no measurement. From the
repository's root:

    python -m experiments.tortuous.points
"""

import argparse
from math import radians
from pathlib import Path

import numpy as np
from scipy.spatial.transform import Rotation

from tipmech.vessel.scene import Centreline

FILE = Path(__file__).parent / "line.csv"
SPACING = 1e-3  # m between points
NOISE = 0.06e-3  # m, standard deviation in each direction: 0.1 mm in space
PLACE = np.array([31e-3, -114e-3, 87e-3])  # m, where the scanner's origin happens to lie
SEED = 5
REMARK = "# INVENTED vessel, written by experiments/tortuous/points.py: bends of 6 to 12 mm radius with noise"

# radius and straight behind it in mm, angle and plane in degrees; the planes count from the first bend's
LEAD = 22.0
BENDS = ((12.0, 50.0, 0.0, 3.0), (7.0, 75.0, 110.0, 4.0), (6.0, 55.0, 250.0, 5.0), (9.0, 60.0, 20.0, 12.0))


def invented() -> Centreline:
    """The vessel without noise, SI."""
    lengths, curvatures, planes = [LEAD * 1e-3], [0.0], [0.0]
    for radius, angle, plane, straight in BENDS:
        lengths += [radius * radians(angle) * 1e-3, straight * 1e-3]
        curvatures += [1e3 / radius, 0.0]
        planes += [radians(plane)] * 2
    return Centreline(tuple(lengths), tuple(curvatures), tuple(planes))


def points() -> np.ndarray:
    """Noisy points along it, somewhere in space, m, shape (n, 3)."""
    line = invented()
    s = np.arange(0.0, line.length, SPACING)
    rng = np.random.default_rng(SEED)
    turn = Rotation.random(rng=rng)
    return turn.apply(line.frame(s)[0] + rng.normal(scale=NOISE, size=(len(s), 3))) + PLACE


def main(arguments: list[str] | None = None) -> None:
    """Write the file."""
    argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter).parse_args(arguments)
    rows = [",".join(f"{1e3 * v:.2f}" for v in point) for point in points()]
    FILE.write_text("\n".join([REMARK, "x_mm,y_mm,z_mm", *rows]) + "\n", encoding="utf-8")
    print(f"{FILE.name}: {len(rows)} points along {1e3 * invented().length:.1f} mm")


if __name__ == "__main__":
    main()
