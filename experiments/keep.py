"""Keep the tables of finished studies in the repository: everything but chunks, pictures and the largest CSV files.

    python -m experiments.keep results/curl results/soft_tip --out experiments/tables

Every table stays as Parquet (SI), small ones as CSV (users' units) too, with the manifest; `open_study`
(tipmech.study.dataset) reads such a folder as it reads the whole one.
"""

import argparse
import shutil
from collections.abc import Sequence
from pathlib import Path

MOST = 2_000_000  # bytes a study
LARGE_CSV = 150_000  # bytes: from here on Parquet alone


def keep(folder: Path, out: Path) -> int:
    """Copy a study's tables and manifest to `out / folder.name`; returns their bytes.

    Raises
    ------
    SystemExit
        if the folder is no finished study's, or its tables are larger than what is kept
    """
    found = sorted(
        path for path in folder.glob("*") if path.suffix in (".csv", ".parquet") or path.name == "manifest.json"
    )
    found = [path for path in found if path.suffix != ".csv" or path.stat().st_size < LARGE_CSV]
    size = sum(path.stat().st_size for path in found)
    if not any(path.suffix == ".parquet" for path in found) or not (folder / "manifest.json").is_file():
        raise SystemExit(f"{folder}: holds no tables of a finished study; allowed: a result folder of `tipmech`")
    if size > MOST:
        raise SystemExit(f"{folder}: its tables have {size} bytes; allowed: at most {MOST}")
    place = out / folder.name
    place.mkdir(parents=True, exist_ok=True)
    for path in found:
        shutil.copyfile(path, place / path.name)
    return size


def main(argv: Sequence[str] | None = None) -> None:
    """Keep and print sizes."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folders", nargs="+", type=Path)
    parser.add_argument("--out", type=Path, default=Path("experiments/tables"))
    args = parser.parse_args(argv)
    for folder in args.folders:
        print(f"{folder.name}: {keep(folder, args.out) / 1e6:.2f} MB")


if __name__ == "__main__":
    main()
