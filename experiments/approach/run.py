"""What a microcatheter (the support) near the tip or far behind it changes, on the way and at the tear.

    python -m experiments.approach.run --out results/approach [--overwrite]

Run from the repository's root; it may be stopped and started again (records are kept). A soft and a stiffer wire of one
design come to the same tear through a straight and a tortuous vessel (straight.toml, tortuous.toml), the support 2, 5,
10, 20 and 40 mm behind the tip, five rolls and seeds each: pushed from 10 mm before the tear to 12 mm past it; once, in
a run of its own, turned twice round where they lie. Written: rows.csv (one insertion a row), turns.csv, summary.txt
and approach.png.
"""

import argparse
import csv
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import product
from math import nan, pi, radians
from pathlib import Path
from typing import Any

import numpy as np

from experiments.approach.figure import save_figure
from experiments.approach.measure import push_row, turn_row
from experiments.population import GF, wire
from tipmech.files.scene import read_case
from tipmech.insertion.case import Case, Move
from tipmech.insertion.record import Record
from tipmech.insertion.record_file import load, save
from tipmech.insertion.run import advance

FOLDER = Path(__file__).parent
VESSELS = ("straight", "tortuous")
PRESET = "workhorse"
LOADS = (0.5, 3.0)  # gf, bench tip loads: a soft wire and a stiffer one
BEHIND = (2.0, 5.0, 10.0, 20.0, 40.0)  # mm, support behind the tip
ROLLS = (-40.0, -20.0, 0.0, 20.0, 40.0)  # degrees from the tear; each with a seed of its own
TURNS = 2  # whole turns of the hand
Row = dict[str, Any]


def case_of(vessel: str, load: float, behind: float, roll: float, seed: int) -> Case:
    """One insertion: tip load in gf, support behind the tip in mm, roll in degrees."""
    case = read_case(FOLDER / f"{vessel}.toml").case
    base, known = wire(PRESET)
    support = replace(case.scene.support, distance=case.scene.tip_distance + 1e-3 * behind)
    return replace(
        case,
        profile=base.softened(load * GF / known),
        scene=replace(case.scene, support=support),
        tip_shape=replace(case.tip_shape, roll=radians(roll)),
        seed=seed,
    )


def cases() -> Iterator[tuple[Row, Case]]:
    """What was chosen, and the case."""
    for vessel in VESSELS:
        for tip_load in LOADS:
            for behind in BEHIND:
                for seed, roll in enumerate(ROLLS):
                    chosen = {"vessel": vessel, "tip_load_gf": tip_load, "behind_mm": behind, "roll_deg": roll}
                    yield chosen, case_of(vessel, tip_load, behind, roll, seed)


def record_of(case: Case, path: Path, overwrite: bool) -> Record:
    """The case's record, run or read again."""
    if overwrite or not path.exists():
        save(advance(case), path, overwrite=overwrite)
    return load(path)


def run(out: Path, overwrite: bool = False) -> str:
    """Run, or go on with, the experiment into `out`; return the summary."""
    rows: list[Row] = []
    turns: list[Row] = []
    for chosen, case in cases():
        name = "_".join(f"{v:g}" if isinstance(v, float) else str(v) for v in chosen.values())
        rows.append(chosen | push_row(record_of(case, out / "records" / f"{name}.nc", overwrite)))
        if chosen["roll_deg"] != 0.0:
            continue
        turned = replace(case, moves=(Move("turn", 2.0 * pi * TURNS),))
        turns.append(chosen | turn_row(record_of(turned, out / "records" / f"{name}_turned.nc", overwrite)))
    for name, table in (("rows", rows), ("turns", turns)):
        with (out / f"{name}.csv").open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, list(table[0]))
            writer.writeheader()
            writer.writerows(table)
    text = summary_text(rows, turns)
    (out / "summary.txt").write_text(text + "\n", encoding="utf-8")
    save_figure(rows, turns, out / "approach.png")
    return text


def summary_text(rows: Sequence[Row], turns: Sequence[Row]) -> str:
    """Means over the rolls and counts of outcomes, one line for each vessel, wire and support."""
    head = f"{'vessel':9s} {'gf':>4s} {'behind':>6s} {'before':>7s} {'largest':>8s} {'front':>6s} {'at push':>8s} "
    head += f"{'share':>6s} {'lag':>7s} {'torque':>7s} {'entered':>8s} {'curled':>7s} {'driven on':>9s} {'by mm':>6s} "
    lines = [
        f"means over {len(ROLLS)} rolls. Push at the hand, mN: mean just before the tear; largest; at the largest",
        "force on the front (over the runs that touch it). Share: that force over that push. Lag of the tip behind",
        "the hand within its last turn: largest less smallest, degrees; torque: largest, uN mm. Counts: entered,",
        "curled, front driven on by more than 0.5 mm",
        head + f"{'not solved':>10s}",
    ]
    for vessel, tip_load, behind in product(VESSELS, LOADS, BEHIND):
        key = (vessel, tip_load, behind)
        mine = [r for r in rows if (r["vessel"], r["tip_load_gf"], r["behind_mm"]) == key]
        turn = next(r for r in turns if (r["vessel"], r["tip_load_gf"], r["behind_mm"]) == key)
        lines.append(f"{vessel:9s} {tip_load:4.1f} {behind:6.0f} " + _figures(mine, turn))
    return "\n".join(lines)


def _figures(rows: Sequence[Row], turn: Row) -> str:
    """Figures of one line."""
    at_front = [r for r in rows if r["front_mn"] > 0.0]
    front, push = (mean([r[k] for r in at_front]) for k in ("front_mn", "push_at_front_mn"))
    before, most, extended = (mean([r[k] for r in rows]) for k in ("push_before_mn", "max_push_mn", "extension_mm"))
    count = {k: sum(bool(r[k]) for r in rows) for k in ("entered", "curled", "extended")}
    lost = sum(not r["solved"] for r in [*rows, turn])
    return (
        f"{before:7.3f} {most:8.1f} {front:6.1f} {push:8.1f} {front / push:6.0%} {turn['lag_range_deg']:7.2f} "
        f"{turn['torque_un_mm']:7.1f} {count['entered']:8d} {count['curled']:7d} {count['extended']:9d} "
        f"{extended:6.2f} {lost:10d}"
    )


def mean(values: Sequence[float]) -> float:
    """Mean of the values that there are (nan: none)."""
    known = [v for v in values if v == v]
    return float(np.mean(known)) if known else nan


def main(arguments: Sequence[str] | None = None) -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--overwrite", action="store_true")
    args = parser.parse_args(arguments)
    print(run(args.out, args.overwrite))


if __name__ == "__main__":
    main()
