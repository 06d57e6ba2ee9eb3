"""Tables of finished studies that are kept in the repository: small, whole, readable, and what the pages say."""

import csv
from pathlib import Path

import pytest

from experiments.keep import MOST, keep
from tipmech.study.dataset import GRIDS, open_study
from tipmech.study.store import read_store
from tipmech.study.table import length, read_parquet

ROOT = Path(__file__).parent.parent
TABLES = ROOT / "experiments" / "tables"
FOLDERS = sorted(path for path in TABLES.iterdir() if path.is_dir())


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda p: p.name)
def test_kept_tables_are_small_whole_and_readable(folder: Path) -> None:
    assert sum(path.stat().st_size for path in folder.iterdir()) <= MOST
    store = read_store(folder)
    assert store.finished
    rows = read_parquet(folder / "rows.parquet")
    assert length(rows) > 0
    if store.manifest["kind"] in GRIDS:
        assert open_study(folder).attrs["code"] == store.manifest["code"]


def test_the_page_on_curls_says_what_its_table_says() -> None:
    text = (ROOT / "docs" / "curl.md").read_text(encoding="utf-8")
    with (TABLES / "curl" / "tells.csv").open(encoding="utf-8") as file:
        found = [row for row in csv.DictReader(file) if row["angle_index"] == "-1"]
    first = [row for row in found if row["analysis"] == "first look" and row["condition"] == "in the false lumen"]
    assert len(first) == 4
    for row in first:
        low, high = (f"{100 * float(row[f'sensitivity_{end}']):.0f}" for end in ("low", "high"))
        counts = " / ".join(row[name] for name in ("tp", "fn", "fp", "tn"))
        share = f"{100 * float(row['sensitivity']):.0f} % ({low}-{high})"
        assert f"| {float(row['tip_load_gf']):g} | {counts} | {share} |" in text


def test_only_tables_of_a_finished_study_are_kept(tmp_path: Path) -> None:
    with pytest.raises(SystemExit, match="holds no tables of a finished study"):
        keep(tmp_path, tmp_path / "out")
    assert not (tmp_path / "out").exists()
