"""Time of a ten-second MP4 of a finished record, whole process, from the command to the file.

Run from the repository's root: python -m tests.benchmarks.animation [--repeats 5]

The record is one of 20 mm of feed through the balloon tear of experiments/scenes; `--speed` is chosen so that the film
lasts ten seconds. Wall time and processor time (of the process and of ffmpeg) of each run, median, with the load of the
machine before it: others that compute at the same time count in both.
"""

import argparse
import os
import platform
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

import experiments
from tipmech.files.scene import read_case
from tipmech.insertion.record_file import save
from tipmech.insertion.run import advance
from tipmech.show.film.pace import LAST, hand_times

SCENE = Path(next(iter(experiments.__path__))) / "scenes" / "balloon_tear.toml"
SECONDS, WANTED = 10.0, 20.0  # s of film, s of time


def one_run(record: Path, speed: float, folder: Path) -> tuple[float, float]:
    """Wall and processor time of the command, s."""
    command = [sys.executable, "-m", "tipmech", "animate", str(record), "--speed", f"{speed:.6f}", "--overwrite"]
    before, begin = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run([*command, "--json", "--out", str(folder)], check=True, stdout=subprocess.DEVNULL)
    wall, after = time.perf_counter() - begin, resource.getrusage(resource.RUSAGE_CHILDREN)
    return wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--repeats", type=int, default=5)
    repeats = parser.parse_args().repeats
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        record = advance(read_case(SCENE).case)
        path = save(record, folder / "record.nc")
        speed = float(hand_times(record)[-1]) / (SECONDS - LAST)
        times = []
        for _ in range(repeats):
            load = os.getloadavg()[0]
            times.append(one_run(path, speed, folder / "film"))
            wall, spent = times[-1]
            print(f"wall {wall:5.1f} s   processor {spent:5.1f} s   load before {load:.1f}", flush=True)
        wall, spent = (median(column) for column in zip(*times, strict=True))
        print(f"{platform.machine()}, {os.cpu_count()} cores; {len(record.feed)} increments, film of {SECONDS:g} s")
        print(f"median: wall {wall:.1f} s, processor {spent:.1f} s; wanted: {WANTED:g} s")


if __name__ == "__main__":
    main()
