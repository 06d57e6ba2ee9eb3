"""Lanes and programs for measuring insertions on a GPU, made where there is none (extra `gpu`).

    python -m experiments.gpu.pack --out results/gpu [--cases 128] [--after 120] [--most 400]
                                 [--programs elastic,contact,factorisation,iteration,factorisation_by_warp,insertions]

Run from the repository's root. Cases are those of experiments/scale/ten_thousand.toml, spread over its cells. Written:
OUT/start.npz, lanes at their start with what the CPU makes of them; OUT/middle.npz, lanes after so many increments,
without room for a folded wire; OUT/*.ptx, a program for each part and `insertions`. `measure.py` takes them from there.
"""

import argparse
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from experiments.gpu.parts import PARTS
from tipmech.files.study import read_map
from tipmech.gpu.kinds import lane_reader, program
from tipmech.gpu.lanes import LAST, RAGGED, WARP, Slot, put
from tipmech.insertion.case import Case
from tipmech.insertion.feed import H_ITERATIONS, H_PUSH
from tipmech.insertion.lane import Lane, carry_lane, lane_slot, make_lane
from tipmech.insertion.on_gpu import insertions_program
from tipmech.study.build import build_case, feasible
from tipmech.study.inputs import point_seed, points_between

FILE = Path(__file__).parent.parent / "scale" / "ten_thousand.toml"
FOLDED = dict.fromkeys(("hess", "nodes", "value"), LAST)  # of Fold and Skyline: a straight wire touches none of them
WHOLE = "insertions"
HISTORY = dict.fromkeys(("scalars", "positions", "frames", "side", "margins"), LAST)


def some_cases(count: int) -> Iterator[Case]:
    """Cases, one of each cell in turn."""
    spec = read_map(FILE)
    cells = [(i, j) for i in range(len(spec.tip_loads)) for j in range(len(spec.angles)) if feasible(spec, j)]
    points = points_between(spec.seed, spec.points, 0, (count - 1) // len(cells) + 1)
    for k in range(count):
        point, (load, angle) = k // len(cells), cells[k % len(cells)]
        yield build_case(spec, load, angle, points[point], point_seed(spec.seed, point))


def middle_slot(lane: Lane, most: int) -> Slot:
    """Places of a lane's fields without history and without room for a folded wire."""
    room = lane._replace(moves=np.zeros((most, 2)))
    return Slot(room, mark={"moves": RAGGED, "hist": HISTORY, "w": {"fold": {**FOLDED, "weight": LAST, "sky": FOLDED}}})


def images(slot: Slot, lanes: Iterator[Lane]) -> dict[str, Any]:
    """Words of lanes: those of the first, and of each the words in which it differs."""
    base, at, words = None, [], []
    for lane in lanes:
        image = np.zeros(slot.words)
        put(slot, lane, image)
        bits = image.view(np.int64)
        base = bits.copy() if base is None else base
        differ = np.flatnonzero(bits != base)
        at.append(differ.astype(np.int32))
        words.append(bits[differ])
    counts = [len(a) for a in at]
    return {"base": base, "counts": counts, "at": np.concatenate(at), "words": np.concatenate(words)}


def places(slot: Slot) -> dict[str, int]:
    """First words of what is read back."""
    fields = dict(zip(Lane._fields, slot.inner, strict=True))
    return {"answer": fields["answer"].start, "scalars": fields["hist"].inner[0].start, "moves": fields["moves"].start}


def main() -> None:
    """Read the command line and write."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--cases", type=int, default=128)
    parser.add_argument("--after", type=int, default=120)
    parser.add_argument("--most", type=int, default=400)
    parser.add_argument("--programs", default=",".join([*PARTS, WHOLE]), help="names of those to be made")
    args = parser.parse_args()
    args.out.mkdir(parents=True)
    cases = list(some_cases(args.cases))
    slot = lane_slot(make_lane(cases[0], args.most), args.most)
    start = images(slot, (make_lane(case, args.most) for case in cases))
    ends, begin = [], time.process_time()
    for case in cases:
        lane = make_lane(case, args.most)
        carry_lane(lane)
        ends.append((lane.answer, lane.hist.scalars[:, [H_PUSH, H_ITERATIONS]]))
    spent = (time.process_time() - begin) / len(cases)
    answers, scalars = (np.array(column) for column in zip(*ends, strict=True))
    np.savez_compressed(
        args.out / "start.npz", **start, **places(slot), answers=answers, cpu_scalars=scalars, cpu_seconds=spent,
        columns=np.array([H_PUSH, H_ITERATIONS]), width=lane.hist.scalars.shape[1],
    )  # fmt: skip
    small = middle_slot(make_lane(cases[0], args.most), args.most)
    halfway = (make_lane(case, args.most, args.after) for case in cases[:64])
    np.savez_compressed(
        args.out / "middle.npz", **images(small, (lane for lane in halfway if carry_lane(lane) is None))
    )
    for name in args.programs.split(","):
        width = 1 if name.endswith("by_warp") else WARP
        made = insertions_program(slot) if name == WHOLE else program(PARTS[name](lane_reader(small, width)), 3)
        (args.out / f"{name}.ptx").write_text(made)


if __name__ == "__main__":
    main()
