"""How far what is seen agrees with what is true: views, outcomes, foreshortening, curls in the true lumen, frame rates.

    python -m experiments.seen.run --out results/seen [--count 40] [--overwrite]

Run from the repository's root; it may be stopped and started again (records are kept). Insertions: the demo cases of
experiments/, a bent tip rolled in steps of 45 degrees; the first `count` random ones of experiments/folding; and those
of them that come through the lumen once more with the tear's mouth closed, so that wires that curl do it in the true
lumen. Each is looked at from a grid of views and from the usual ones. Written: looks.csv (one insertion from one view a
row), rates.csv (first true curls at frame rates and speeds of the hand), summary.txt, seen.png.
"""

import argparse
import csv
from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import radians
from pathlib import Path

from experiments.folding.run import case_of
from experiments.seen.figure import save_figure
from experiments.seen.measure import Row, curl_of, grid_rows, rate_rows
from experiments.seen.summary import summary_text
from tipmech.files.scene import read_case
from tipmech.insertion.case import Case
from tipmech.insertion.record import Record
from tipmech.insertion.record_file import load, save
from tipmech.insertion.run import advance
from tipmech.outcome import Stop

FOLDER = Path(__file__).parents[1]
DEMOS = ("advance_demo", "knuckle_demo", "local_presentation")
ROLLS = tuple(range(0, 360, 45))  # degrees
COUNT = 40


def cases(count: int) -> Iterator[tuple[str, Case]]:
    """Names and cases of the experiment."""
    for demo in DEMOS:
        case = read_case(FOLDER / f"{demo}.toml").case
        for roll in ROLLS if case.tip_shape.angle != 0.0 else (0,):
            yield f"{demo}_roll{roll}", replace(case, tip_shape=replace(case.tip_shape, roll=radians(roll)))
    for index in range(count):
        case = case_of(index)
        yield f"random_{index}", case
        if index % 2:  # through the lumen
            tear = replace(case.scene.tear, gap=0.0)
            yield f"random_{index}_closed", replace(case, scene=replace(case.scene, tear=tear))


def records(folder: Path, count: int, overwrite: bool) -> Iterator[tuple[str, Record]]:
    """Records of the cases, run or read again."""
    for name, case in cases(count):
        path = folder / "records" / f"{name}.nc"
        if overwrite or not path.exists():
            save(advance(case), path, overwrite=overwrite)
        yield name, load(path)


def write(rows: list[Row], path: Path) -> None:
    """Write rows as CSV."""
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


def run(out: Path, count: int, overwrite: bool = False) -> str:
    """Run, or go on with, the experiment into `out`; return the summary."""
    looks: list[Row] = []
    rates: list[Row] = []
    kept: dict[str, Record] = {}
    lost = 0
    for name, record in records(out, count, overwrite):
        curl = curl_of(record)
        if curl is None and record.stop == Stop.NOT_CONVERGED:
            lost += 1
            continue
        kept[name] = record
        looks += grid_rows(name, record, curl)
        if curl is not None:
            rates += rate_rows(name, record, curl)
    write(looks, out / "looks.csv")
    write(rates, out / "rates.csv")
    text = summary_text(looks, rates, lost)
    (out / "summary.txt").write_text(text + "\n", encoding="utf-8")
    save_figure(looks, rates, kept, out / "seen.png")
    return text


def main(arguments: Sequence[str] | None = None) -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--count", type=int, default=COUNT, help="random insertions beside the demos")
    parser.add_argument("--overwrite", action="store_true")
    args = parser.parse_args(arguments)
    print(run(args.out, args.count, args.overwrite))


if __name__ == "__main__":
    main()
