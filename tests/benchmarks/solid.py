"""Time of the moving meshes of an insertion in three dimensions, and of a page's update of them.

    python -m tests.benchmarks.solid [RECORD] [--updates 60]

Without a record: the scene of the tear after balloon dilatation, run first. Printed: milliseconds of an update, on the
clock and of the processor (medians; on a machine that does nothing else they are the same), of all that moves, of its
three groups, and drawn at 800 x 500 off-screen with the meshes of a scene replaced in place; what stands still is made
once.
"""

import argparse
from pathlib import Path
from time import perf_counter, process_time

import numpy as np

from tipmech.files.scene import read_case
from tipmech.insertion.record import Record
from tipmech.insertion.record_file import load
from tipmech.insertion.run import advance
from tipmech.show.solid.parts import flap_parts, moving_parts, opened_parts, vessel_parts, wire_parts
from tipmech.show.solid.scene import build, whole_view

CASE = Path(__file__).parents[2] / "experiments" / "scenes" / "balloon_tear.toml"
SIZE = (800, 500)


def timed(name: str, work, rows: list[int]) -> None:
    """Run `work` for each row and print how long it took."""
    took = []
    for row in rows:
        start, busy = perf_counter(), process_time()
        work(row)
        took.append((perf_counter() - start, process_time() - busy))
    clock, busy = 1e3 * np.median(took, axis=0)
    print(f"{name:36s} {clock:7.1f} ms on the clock, {busy:7.1f} of the processor")


def measure(record: Record, updates: int) -> None:
    """Print the times of a record."""
    rows = np.linspace(len(record.feed) // 2, len(record.feed) - 1, updates).astype(int).tolist()
    start = perf_counter()
    standing = vessel_parts(record.case)
    print(f"{'what stands still, once':36s} {1e3 * (perf_counter() - start):7.1f} ms on the clock")
    moving_parts(record, rows[0])
    timed("all that moves", lambda row: moving_parts(record, row), rows)
    timed("wire", lambda row: wire_parts(record, row), rows)
    timed("flap", lambda row: flap_parts(record, row), rows)
    timed("inner layer, plane, front", lambda row: opened_parts(record, row), rows)
    shown = standing | moving_parts(record, rows[-1])
    eye = whole_view(record, rows[-1], SIZE[0] / SIZE[1])
    plotter = build(shown, eye, SIZE)
    plotter.screenshot(return_img=True)

    def update(row: int) -> None:
        for name, part in moving_parts(record, row).items():
            if name in shown:
                shown[name].copy_from(part)
        plotter.render()

    timed("all that moves, drawn at 800 x 500", update, rows)
    plotter.close()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("record", type=Path, nargs="?")
    parser.add_argument("--updates", type=int, default=60)
    args = parser.parse_args()
    measure(advance(read_case(CASE).case) if args.record is None else load(args.record), args.updates)


if __name__ == "__main__":
    main()
