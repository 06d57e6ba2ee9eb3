"""Each case of this folder, in which the wall gives way, with its own wire and with one a tenth as stiff: film strip,
animation, cross-sections, opened region, outcomes.

    python -m experiments.wall.run --out results/wall [--only retrograde reentry perforation] [--no-gif] [--overwrite]

Run from the repository's root; half a minute without the animations. Files and options are those of
experiments/scenes/run.py, which does the work. Soft: bending and torsion of the distal 30 mm times 0.1, all else equal.
"""

from collections.abc import Sequence
from pathlib import Path

from experiments.scenes import run as scenes

WALL = scenes.Cases(Path(__file__).parent, "wall", (("soft", 0.1), ("stiff", 1.0)))


def main(arguments: Sequence[str] | None = None) -> None:
    """Command line."""
    scenes.main(arguments, WALL, __doc__)


if __name__ == "__main__":
    main()
