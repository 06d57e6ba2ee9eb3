"""A study read back as a Dataset and by the very SQL that docs/studies.md shows."""

import re
from dataclasses import replace
from math import radians
from pathlib import Path

import duckdb
import numpy as np
import pytest
import xarray as xr
from study.made_up import by_force, coin, make_spec
from study.test_run_attempts import coins, spec_of

from tipmech.checks import InputError
from tipmech.study.columns import UNITS
from tipmech.study.dataset import SI, open_study
from tipmech.study.run_attempts import run_attempts
from tipmech.study.run_map import run_map
from tipmech.study.run_threshold import ThresholdSpec, run_threshold
from tipmech.study.store import open_store
from tipmech.study.table import Damaged, write_parquet

PAGE = Path(__file__).parents[2] / "docs" / "studies.md"
SPEC = make_spec(scrambles=8, points=4)
KINDS = ("map", "threshold", "attempts")


def scattered(case):
    """Outcomes by chance whose advances differ from insertion to insertion, as real ones do; nan where none entered."""
    outcome = coin(case)
    return replace(outcome, entered=outcome.entered * (1.0 + np.random.default_rng(case.seed + 2).random()))


@pytest.fixture(scope="module")
def studies(tmp_path_factory):
    out = tmp_path_factory.mktemp("studies")
    return {
        "map": run_map(SPEC, out / "map", 1, evaluate=scattered),
        "threshold": run_threshold(ThresholdSpec(SPEC), out / "threshold", 1, evaluate=by_force),
        "attempts": run_attempts(spec_of(points=1), out / "attempts", 1, evaluate=coins),
    }


@pytest.mark.parametrize("kind", KINDS)
def test_every_row_and_cell_is_where_it_belongs(studies, kind):
    result = studies[kind]
    data = open_study(result.folder)
    assert data.attrs["kind"] == kind and data.attrs["code"] == result.manifest["code"]
    for k in range(len(result.rows["index"])):
        index = (int(result.rows[name][k]) for name in ("tip_load_index", "angle_index", "index"))
        place = dict(zip(("tip_load", "angle", "point"), index, strict=True))
        here = data.isel(place)
        assert float(here["tip_load"]) == result.rows["tip_load"][k] and float(here["angle"]) == result.rows["angle"][k]
        for name in set(result.rows) - {"tip_load", "angle", "tip_load_index", "angle_index", "index"}:
            assert np.array_equal(here[name].item(), result.rows[name][k], equal_nan=True), name
    for k in range(len(result.cells["tip_load"])):
        here = data.isel(tip_load=result.cells["tip_load_index"][k], angle=result.cells["angle_index"][k])
        for name in set(result.cells) - {"tip_load", "angle", "tip_load_index", "angle_index"}:
            assert np.array_equal(here[f"cell_{name}"].item(), result.cells[name][k], equal_nan=True), name


def test_coordinates_units_and_codes(studies):
    data = open_study(studies["map"].folder)
    assert dict(data.sizes) == {"tip_load": 2, "angle": 2, "point": 32}
    assert data["tip_load"].attrs["units"] == "N" and data["angle"].attrs["units"] == "rad"
    assert data["angle_deg"].values == pytest.approx(np.degrees(SPEC.angles)) and radians(180.0) == pytest.approx(np.pi)
    units = {"extended": "m", "opened_area": "m2", "max_push": "N", "x_pressure": "Pa", "x_front_stiffness": "N m-1"}
    units |= {"label": "1", "x_youngs_modulus": "Pa", "x_fracture_energy": "J m-2", "cell_opened_area_low": "m2"}
    assert {name: data[name].attrs["units"] for name in units} == units
    assert data["x_room"].dims == ("point",) and data["seed"].dims == ("point",)
    meanings = data["label"].attrs["flag_meanings"].split()
    assert len(meanings) == len(data["label"].attrs["flag_values"]) and data["label"].dtype.kind == "i"
    assert {unit for unit, _ in UNITS.values()} <= set(SI)
    flags = open_study(studies["attempts"].folder)["attempts"]
    assert flags.attrs["units"] == "1" and flags.dtype.kind == "i"


def test_cells_that_were_not_run_are_nan(tmp_path):
    spec = make_spec(angles=(0.2, 1.3), bend_length=4.2e-3, scrambles=2, points=2)
    run_map(spec, tmp_path / "m", workers=1, evaluate=coin)
    data = open_study(tmp_path / "m")
    assert np.all(np.isnan(data["label"].isel(angle=1))) and not np.any(np.isnan(data["label"].isel(angle=0)))
    assert list(data["angle"].values) == [0.2, 1.3] and list(data["cell_feasible"].isel(tip_load=0)) == [1, 0]
    assert data["label"].attrs["units"] == "1"


def test_it_goes_through_netcdf(studies, tmp_path):
    data = open_study(studies["map"].folder)
    data.to_netcdf(tmp_path / "map.nc", engine="h5netcdf")
    assert xr.load_dataset(tmp_path / "map.nc", engine="h5netcdf").equals(data)


def test_what_cannot_be_read_is_one_sentence(studies, tmp_path):
    with pytest.raises(InputError, match="there is no such folder"):
        open_study(tmp_path / "none")
    open_store(tmp_path / "half", "map", SPEC)
    with pytest.raises(InputError, match=r"is not finished \(0 chunks\)"):
        open_study(tmp_path / "half")
    open_store(tmp_path / "other", "other", {"name": "other"}).finish()
    with pytest.raises(InputError, match="there is no such file"):
        open_study(tmp_path / "other")
    run_map(SPEC, tmp_path / "m", 1, evaluate=coin)
    path = tmp_path / "m" / "rows.parquet"
    path.write_bytes(path.read_bytes()[:-50])
    with pytest.raises(Damaged, match=r"rows.parquet: is damaged"):
        open_study(tmp_path / "m")
    run_map(SPEC, tmp_path / "m", 1, evaluate=coin)  # from its chunks
    assert open_study(tmp_path / "m").sizes["point"] == 32


def blocks(language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)


def test_the_page_s_sql_runs_and_says_what_the_tables_say(studies, tmp_path, monkeypatch):
    shown = blocks("sql")
    assert len(shown) >= 3
    (tmp_path / "results").mkdir()
    for kind, name in (("map", "readme_map"), ("attempts", "policy")):
        (tmp_path / "results" / name).symlink_to(studies[kind].folder)
    monkeypatch.chdir(tmp_path)
    answers = [duckdb.sql(text).fetchall() for text in shown]
    rows, cells = studies["map"].rows, studies["map"].cells
    assert len(answers[0]) == 4
    assert len(np.unique(rows["entered"][~np.isnan(rows["entered"])])) > 10 and np.isnan(rows["entered"]).any()
    for (load, angle, n, share), k in zip(answers[0], range(4), strict=True):
        own = (rows["tip_load_index"] == k // 2) & (rows["angle_index"] == k % 2)
        assert (n, share) == (int(own.sum()), pytest.approx(float(np.mean(~np.isnan(rows["entered"][own])))))
        assert load == pytest.approx(cells["tip_load"][k] / 9.80665e-3) and angle == pytest.approx(
            np.degrees(cells["angle"][k])
        )
    assert answers[1][0][0] == len(rows["index"])
    assert sum(row[-1] for row in answers[2]) == len(studies["attempts"].attempts["attempt"])


def test_a_nan_is_seen_by_sql_whatever_stands_beside_it(tmp_path):
    """Statistics of a column of floats leave out nan, and DuckDB takes isnan for false where they are there."""
    column = np.array([np.nan, 1.0, np.nan, 2.0, 3.0])
    write_parquet({"entered": column, "index": np.arange(5)}, tmp_path / "t.parquet")
    asked = f"SELECT sum(CASE WHEN isnan(entered) THEN 0 ELSE 1 END), max(index) FROM '{tmp_path}/t.parquet'"
    assert duckdb.sql(asked).fetchall() == [(3, 4)]


def test_the_page_s_python_runs(studies, tmp_path, monkeypatch, capsys):
    shown = [text for text in blocks("python") if "open_study" in text]
    assert shown
    (tmp_path / "results").mkdir()
    (tmp_path / "results" / "readme_map").symlink_to(studies["map"].folder)
    monkeypatch.chdir(tmp_path)
    for text in shown:
        exec(compile(text, str(PAGE), "exec"), {})
    assert capsys.readouterr().out
