"""Ten thousand insertions, timed: how long the study takes here, and what store and scheduling cost of it.

    python -m experiments.scale.ten_thousand --out results/ten_thousand [--file FILE] [--workers 2]

Run from the repository's root; about an hour on two cores. Stopped or killed, the same command goes on; wall times of
all its starts add up, and insertions that a kill lost are told apart. Wanted: at most 60 minutes, at most 3 % of the
workers' time for anything but insertions. Written: OUT/study (a map's folder), OUT/clock, OUT/summary.txt.
"""

import argparse
import os
import platform
import time
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

from experiments.command import print_progress
from experiments.scale.timing import Session, begin_session, clocked, end_session, read_sessions, total
from tipmech.checks import InputError
from tipmech.files.study import read_map
from tipmech.insertion.case import Case
from tipmech.insertion.record import Outcome
from tipmech.study.evaluate import evaluate as mechanics
from tipmech.study.hold import held
from tipmech.study.run_map import run_map
from tipmech.study.table import length

FILE = Path(__file__).with_name("ten_thousand.toml")
WORKERS = 2
LONGEST, MOST = 3600.0, 0.03  # wanted: wall time (s), share that is not insertions
WANTED = 10_000  # insertions, for which these are wanted


def summary_text(sessions: Sequence[Session], rows: int, code: str) -> str:
    """All figures as text."""
    t = total(sessions)
    where = f"{os.cpu_count()} cores, Python {platform.python_version()}, code {code}"
    starts = f"{len(sessions)} start{'s' if len(sessions) > 1 else ''}"
    lines = [
        f"{rows} insertions, {sessions[-1].workers} workers, {where}",
        f"wall time {t.wall / 60:.1f} min in {starts}; {t.insertions - rows} insertions were computed twice",
        f"an insertion: {t.own / t.insertions:.3f} s wall, {t.processor / t.insertions:.3f} s of its processor",
        f"all else: {t.overhead * 100:.1f} % of the workers' time; between first and last insertion "
        f"{t.steady * 100:.1f} %",
        f"before the first insertion {sum(s.before for s in sessions):.1f} s (wires on the bench, processes, what a "
        f"resumed study reads); after the last {sum(s.after for s in sessions):.1f} s (all rows gathered, tables)",
    ]
    if rows < WANTED:
        return "\n".join([*lines, f"fewer than {WANTED} insertions: too few to say whether the limits are kept"])
    for name, value, most, unit in (
        ("wall time", t.wall / 60, LONGEST / 60, "min"),
        ("all else", t.overhead * 100, MOST * 100, "%"),
    ):
        lines.append(f"{name}: {value:.1f} {unit}, wanted at most {most:g}: {'kept' if value <= most else 'NOT kept'}")
    return "\n".join(lines)


def run(out: Path, file: Path, workers: int, evaluate: Callable[[Case], Outcome] = mechanics) -> str:
    """Run, or go on with, the study of a map's file under `out`; return the summary."""
    begin = time.time()
    with held(out):
        spec = read_map(file)
        clock = begin_session(out / "clock", begin, workers)
        result = run_map(
            spec, out / "study", workers, on_progress=print_progress, evaluate=partial(clocked, evaluate, clock)
        )
        end_session(clock)
        sessions, rows = read_sessions(out / "clock"), length(result.rows)
        if total(sessions).insertions < rows:
            raise InputError(f"{out}: its clock lacks insertions of its study; allowed: a new folder")
        text = summary_text(sessions, rows, result.manifest["code"])
        (out / "summary.txt").write_text(text + "\n", encoding="utf-8")
    return text


def main(arguments: Sequence[str] | None = None) -> None:
    """Read the command line and run."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--file", type=Path, default=FILE, help="file of a map")
    parser.add_argument("--workers", type=int, default=WORKERS)
    args = parser.parse_args(arguments)
    try:
        print("\n" + run(args.out, args.file, args.workers))
    except InputError as error:
        parser.exit(2, f"{error}\n")


if __name__ == "__main__":
    main()
