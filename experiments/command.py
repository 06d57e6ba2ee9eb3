"""Command line of the experiments that draw many random insertions: all of them into a folder, or one of them again."""

import argparse
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from tipmech.study.execute import Progress


def print_progress(state: Progress) -> None:
    """How far a run is, on one line of stderr."""
    left = f", {state.left:.0f} s left" if state.left is not None else ""
    print(f"\r{state.done}/{state.total}{left}   ", end="", file=sys.stderr, flush=True)


def command_line(
    about: str | None,
    count: int,
    run: Callable[[Path, int, int, bool], str],
    run_again: Callable[[int], None],
    arguments: Sequence[str] | None = None,
) -> None:
    """Read the command line and do what it asks.

    about : what the help says; count : insertions if not told; run : (folder, count, workers, overwrite) -> summary
    """
    parser = argparse.ArgumentParser(description=about, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path)
    parser.add_argument("--case", type=int, help="run this insertion again, instead of all")
    parser.add_argument("--count", type=int, default=count)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--overwrite", action="store_true")
    args = parser.parse_args(arguments)
    if args.case is not None:
        run_again(args.case)
    elif args.out is None:
        parser.error("--out or --case is needed")
    else:
        print("\n" + run(args.out, args.count, args.workers, args.overwrite))
