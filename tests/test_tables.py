"""Tables of finished studies that are kept in the repository: small, whole, readable, and what the pages say."""

import csv
from itertools import product
from pathlib import Path

import numpy as np
import pytest

from experiments.keep import MOST, keep
from tipmech.study.dataset import GRIDS, open_study
from tipmech.study.events import flags, solved
from tipmech.study.hypothesis import Comparison, compare
from tipmech.study.intervals import Contrast
from tipmech.study.store import read_store
from tipmech.study.strata import Layout
from tipmech.study.table import Table, length, read_parquet

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


def test_the_page_of_results_says_what_ten_thousand_insertions_say() -> None:
    """Paired differences from the stiffest wire as a comparison makes them: angles as strata, scrambles as clusters."""
    text = (ROOT / "docs" / "results.md").read_text(encoding="utf-8")
    rows = read_parquet(TABLES / "ten_thousand" / "rows.parquet")
    for event, k in product(("entered", "extended", "curled"), range(4)):
        found = against_the_stiffest(rows, k, event)
        value, low, high = (f"{100 * v:+.1f}".replace("-", "− ").replace("+", "+ ") for v in ends(found.difference))
        assert f"{value} ({low} to {high})" in text, (event, k)
        if event == "entered":
            assert f"| {found.more:.0f} / {found.fewer:.0f} |" in text


def against_the_stiffest(rows: Table, design: int, event: str) -> Comparison:
    """A tip load of a map beside its last one."""
    happened, ok = flags(rows)[event], solved(rows)
    if event == "entered":
        happened = happened & (rows["entered_before_curl"] == 1)
    one, last = (rows["tip_load_index"] == k for k in (design, rows["tip_load_index"].max()))
    angle, scramble, index = (rows[name][one] for name in ("angle_index", "scramble", "index"))
    for name, column in (("angle_index", angle), ("scramble", scramble), ("index", index)):
        assert list(rows[name][last]) == list(column)  # the same vessels in the same order
    layout = Layout(angle, scramble, index, np.full(len(index), -1))
    return compare(1.0 * happened[one], 1.0 * happened[last], ok[one], ok[last], layout, level=0.05, event=True)


def ends(found: Contrast) -> tuple[float, float, float]:
    """A difference with the ends of its interval."""
    return found.value, found.low, found.high
