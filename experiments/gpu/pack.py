"""Insertions laid out for a GPU, its program, and what the CPU makes of them (extra `gpu`; no GPU is needed).

    python -m experiments.gpu.pack --out results/gpu [--cases 64] [--most 400]

Run from the repository's root. Cases are those of experiments/scale/ten_thousand.toml, spread over its cells. Written:
OUT/lanes.npz, the words of the insertions at their start and what the CPU makes of them; OUT/insertions.ptx, the
program. `measure.py` takes them from there.
"""

import argparse
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from tipmech.files.study import read_map
from tipmech.gpu.lanes import Slot, put
from tipmech.insertion.case import Case
from tipmech.insertion.feed import H_PUSH
from tipmech.insertion.lane import Lane, carry_lane, lane_slot, make_lane
from tipmech.insertion.on_gpu import insertions_program
from tipmech.study.build import build_case, feasible
from tipmech.study.inputs import point_seed, points_between

FILE = Path(__file__).parent.parent / "scale" / "ten_thousand.toml"


def some_cases(count: int) -> Iterator[Case]:
    """Cases, one of each cell in turn."""
    spec = read_map(FILE)
    cells = [(i, j) for i in range(len(spec.tip_loads)) for j in range(len(spec.angles)) if feasible(spec, j)]
    points = points_between(spec.seed, spec.points, 0, (count - 1) // len(cells) + 1)
    for k in range(count):
        point, (load, angle) = k // len(cells), cells[k % len(cells)]
        yield build_case(spec, load, angle, points[point], point_seed(spec.seed, point))


def image(slot: Slot, lane: Lane) -> np.ndarray:
    """Words of a lane."""
    words = np.zeros(slot.words)
    put(slot, lane, words)
    return words.view(np.int64)


def main() -> None:
    """Read the command line and write."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--cases", type=int, default=64)
    parser.add_argument("--most", type=int, default=400)
    args = parser.parse_args()
    args.out.mkdir(parents=True)
    lanes = [make_lane(case, args.most) for case in some_cases(args.cases)]
    slot = lane_slot(lanes[0], args.most)
    words = [image(slot, lane) for lane in lanes]
    own = [np.flatnonzero(w != words[0]) for w in words]
    begin = time.process_time()
    for lane in lanes:
        carry_lane(lane)
    spent = (time.process_time() - begin) / len(lanes)
    field = dict(zip(Lane._fields, slot.inner, strict=True))
    common = np.flatnonzero(words[0])
    np.savez_compressed(
        args.out / "lanes.npz", size=slot.words, common_at=common, common=words[0][common],
        starts=np.concatenate([[0], np.cumsum([len(at) for at in own])]), own_at=np.concatenate(own),
        own=np.concatenate([w[at] for w, at in zip(words, own, strict=True)]), moves=field["moves"].start,
        answer=field["answer"].first, scalars=field["hist"].inner[0].first, push=H_PUSH, seconds=spent,
        answers=[lane.answer for lane in lanes], history=[lane.hist.scalars for lane in lanes],
    )  # fmt: skip
    (args.out / "insertions.ptx").write_text(insertions_program(slot))


if __name__ == "__main__":
    main()
