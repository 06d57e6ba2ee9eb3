"""Time of a whole distal wire on its way: 150 mm of it laid along the tortuous vessel of experiments/scenes.

Run from the repository's root: python -m tests.benchmarks.approach [--repeats 5]

It takes its own shape (is relaxed) where it lies and is pushed from 20 mm before the tear to 12 mm past it, 240
elements of at most 1 mm, the support 15 mm behind the tip. Processor time of one process, compiled code warm; once
with the roll of the scene and once with one that enters the tear.
"""

import argparse
import platform
import time
from math import degrees
from pathlib import Path

import numpy as np

import experiments
from tipmech.files.common import read_toml, validate
from tipmech.files.scene import case_file
from tipmech.files.scene_tables import CaseTables
from tipmech.insertion.case import Case
from tipmech.insertion.classify import classify
from tipmech.insertion.run import advance
from tipmech.outcome import LABEL_WORDS, Label

SCENE = Path(next(iter(experiments.__path__))) / "scenes" / "tortuous.toml"
ROLLS = (0.0, 20.0)  # degrees from the tear
WANTED = 3.0  # s


def approach_case(roll: float) -> Case:
    """The tortuous scene with 150 mm of wire, its tip 20 mm before the tear; roll in degrees."""
    tables = read_toml(SCENE)
    tables["tip_shape"]["roll_deg"] = roll
    tables["approach"] = {"tip_before_tear_mm": 20, "support_behind_tip_mm": 15}
    tables["numerics"] = {"length_mm": 150, "elements": 240, "longest_mm": 1.0}
    tables["moves"] = [{"advance_mm": 34}]
    return case_file(validate(SCENE, tables, CaseTables), SCENE).case


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--repeats", type=int, default=5)
    repeats = parser.parse_args().repeats
    print(f"{platform.machine()}, Python {platform.python_version()}, {repeats} repeats; wanted <= {WANTED:g} s")
    for roll in ROLLS:
        case = approach_case(roll)
        outcome = classify(advance(case))
        times = []
        for _ in range(repeats):
            begin = time.process_time()
            advance(case)
            times.append(time.process_time() - begin)
        print(
            f"roll {degrees(case.tip_shape.roll):4.0f}: median {np.median(times):.2f} s, {min(times):.2f} to "
            f"{max(times):.2f}; {LABEL_WORDS[Label(outcome.label)]}, {outcome.increments} increments, "
            f"{outcome.iterations} iterations, audit {outcome.audit_error:.2%}"
        )


if __name__ == "__main__":
    main()
