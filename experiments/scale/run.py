"""What a sweep of a million or a hundred million insertions would take: overheads, rates and limits, measured.

    python -m experiments.scale.run --out results/scale [--chunks 8] [--stored 2000]

Run from the repository's root (extra `scale`). Made-up tasks of known duration stand in for insertions; the expected
wall times follow from the measured rates and are no measurement of a cluster. Written: OUT/summary.txt.
"""

import argparse
import os
import platform
import shutil
from collections.abc import Sequence
from datetime import date
from pathlib import Path

from experiments.scale.measure import CHUNK, POINTS, SECONDS, Overhead, Rates, drawing, overheads, rates

COUNTS = (1e6, 1e8)
WORKERS = (100, 1000)
DRAWN = ((16, 2), (16, 64), (16, 1024), (64, 4096), (512, 4096))  # scrambles, points of each
HOUR, DAY = 3600.0, 86400.0
NUMBERS = {1: "one core", 2: "two cores", 4: "four cores", 8: "eight cores"}
COLD = 27.0  # s, the first insertion on a machine with nothing compiled, docs/results.md


def wall_time(count: float, workers: int, chunks_per_second: float) -> tuple[float, bool]:
    """Expected wall time (s) of `count` insertions, and whether client and scheduler, not workers, are the limit."""
    compute, stored = count * SECONDS / workers, count / CHUNK / chunks_per_second
    return max(compute, stored), stored > compute


def words(seconds: float) -> str:
    """A time as a reader says it."""
    if seconds < HOUR:
        return f"{seconds / 60:.0f} min"
    return f"{seconds / HOUR:.1f} h" if seconds < 2 * DAY else f"{seconds / DAY:.1f} d"


def summary_text(measured: Sequence[Overhead], rate: Rates, drawn: Sequence[tuple[int, float]], where: str) -> str:
    """All figures as text."""
    lines = [f"Scale: store and scheduling, {where}", ""]
    lines += [f"Chunks of {POINTS} points of {SECONDS} s (slept):"]
    for m in measured:
        lines.append(
            f"  {m.name:<22} {m.chunk:.3f} s a chunk of {m.made:.2f} s: overhead {m.share * 100:.1f} %; "
            f"start, once: {m.start:.1f} s"
        )
    lines += [
        "",
        f"Store, chunks of {CHUNK} rows:",
        f"  written {rate.write:.0f} chunks/s, checked {rate.check:.0f}/s, gathered {rate.gather:.0f}/s",
        f"  a chunk {rate.chunk_bytes / 1e3:.1f} kB ({rate.chunk_bytes / CHUNK:.0f} B a row); in rows.parquet "
        f"{rate.row_bytes:.0f} B a row, in rows.csv {rate.csv_bytes:.0f} B a row",
        "Dask's scheduler with two workers and the client on the same cores:",
        f"  empty tasks {rate.empty:.0f}/s; tasks that return a chunk's rows, stored {rate.stored:.0f}/s",
        f"  processor time of client and scheduler {rate.processor * 1e3:.1f} ms a chunk: at most "
        f"{1 / rate.processor:.0f} chunks/s on a core of their own,",
        f"  which keeps {CHUNK * SECONDS / rate.processor:.0f} workers busy with chunks of {CHUNK}",
        "",
        "Every chunk draws all points of its study:",
        *(
            f"  {count} points a cell: {seconds:.3f} s a chunk, {seconds / (CHUNK * SECONDS) * 100:.1f} % of its work"
            for count, seconds in drawn
        ),
        "",
        f"Expected from these, insertions of {SECONDS} s, chunks of {CHUNK} (no cluster was measured):",
    ]
    for count in COUNTS:
        for workers in WORKERS:
            time, limited = wall_time(count, workers, 1 / rate.processor)
            limit = "client and scheduler are the limit" if limited else "the workers are the limit"
            lines.append(f"  {count:.0e} insertions, {workers} workers: {words(time)}; {limit}")
        files, size = count / CHUNK, count * rate.chunk_bytes / CHUNK
        again, whole = files / rate.check, count * rate.row_bytes
        lines.append(
            f"  {count:.0e}: {files:.2g} chunk files, {size / 1e9:.2g} GB; looked through when gone on with: "
            f"{words(again)}; all rows at the end: {whole / 1e9:.2g} GB"
        )
    lines += ["", f"Not in these: {COLD:.0f} s of compilation on every machine whose cache is empty."]
    return "\n".join(lines)


def run(out: Path, chunks: int, stored: int) -> str:
    """Measure into the folder `out`, which is emptied of its scratch folders before and after; return the summary."""
    scratch = out / "scratch"
    shutil.rmtree(scratch, ignore_errors=True)
    cores = os.cpu_count() or 1
    where = f"{NUMBERS.get(cores, f'{cores} cores')}, Python {platform.python_version()}, {date.today():%B %Y}"
    text = summary_text(overheads(scratch, chunks), rates(scratch, stored), drawing(DRAWN), where)
    shutil.rmtree(scratch)
    (out / "summary.txt").write_text(text + "\n", encoding="utf-8")
    return text


def main(arguments: Sequence[str] | None = None) -> None:
    """Read the command line and run."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--chunks", type=int, default=8, help="chunks for each worker, to measure the overhead")
    parser.add_argument("--stored", type=int, default=2000, help="chunks, to measure the rates")
    args = parser.parse_args(arguments)
    print(run(args.out, args.chunks, args.stored))


if __name__ == "__main__":
    main()
