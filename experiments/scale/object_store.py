"""Rates of a study's chunks in an object store, beside those of a folder here: written, checked, gathered.

    python -m experiments.scale.object_store --url s3://BUCKET/PLACE --out results/object_store [--stored 500]

Any URL of fsspec's for which its package is installed (s3fs for s3://). What is written there is removed at the end.
"""

import argparse
from collections.abc import Sequence
from functools import partial
from pathlib import Path

from tipmech.study.chunks import Chunks, InFolder, in_store
from tipmech.study.table import from_parquet, to_parquet
from tipmech.study.task import tasks_of

from .measure import CHUNK, rows_after, timed


def rates(chunks: Chunks, stored: int) -> tuple[float, float, float]:
    """Chunks of a map's size a second: written, looked for where there are none, read and checked."""
    tasks = tasks_of([(0, 0)], stored * CHUNK, CHUNK)
    keys = [task.key for task in tasks]
    content = [to_parquet(rows_after(0.0, task)) for task in tasks]
    missing = timed(partial(list, chunks.get(keys)))
    write = timed(lambda: [chunks.put(key, data) for key, data in zip(keys, content, strict=True)])
    read = timed(lambda: [from_parquet(data or b"", key, sealed=True) for key, data in chunks.get(keys)])
    chunks.clear()
    return stored / write, stored / missing, stored / read


def run(out: Path, url: str, stored: int) -> str:
    """Measure and return the summary, which is written into `out`."""
    lines = [f"Chunks of {CHUNK} rows a second, {stored} of them, one writer:"]
    for name, chunks in (("folder", InFolder(out / "scratch")), (url.split("://")[0], in_store(url, "rates"))):
        write, missing, read = rates(chunks, stored)
        lines.append(f"  {name}: written {write:.0f}, found missing {missing:.0f}, read and checked {read:.0f}")
    text = "\n".join(lines)
    out.mkdir(parents=True, exist_ok=True)
    (out / "object_store.txt").write_text(text + "\n", encoding="utf-8")
    return text


def main(arguments: Sequence[str] | None = None) -> None:
    """Read the command line and run."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--url", required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--stored", type=int, default=500, help="chunks")
    args = parser.parse_args(arguments)
    print(run(args.out, args.url, args.stored))


if __name__ == "__main__":
    main()
