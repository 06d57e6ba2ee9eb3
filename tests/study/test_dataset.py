"""A study read back as a Dataset and by the very SQL that docs/studies.md shows."""

import re
from dataclasses import replace
from math import radians
from pathlib import Path

import duckdb
import numpy as np
import pytest
import xarray as xr
from study.made_up import EXTENDED, TRUE, bench, by_force, coin, make_spec
from study.made_up_curl import curl_spec, known
from study.test_run_attempts import coins, spec_of

from tipmech.checks import InputError
from tipmech.study.columns import UNITS
from tipmech.study.compare_spec import CompareSpec, Plan, SharedUnknown
from tipmech.study.dataset import SI, open_study
from tipmech.study.factors import Factor
from tipmech.study.run_attempts import run_attempts
from tipmech.study.run_compare import run_compare
from tipmech.study.run_curl import run_curl
from tipmech.study.run_map import run_map
from tipmech.study.run_procedures import ProceduresSpec, run_procedures
from tipmech.study.run_threshold import ThresholdSpec, run_threshold
from tipmech.study.store import open_store
from tipmech.study.table import Damaged, read_parquet, select, write_parquet

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


def at_level(case):
    """By chance, more often with more friction and a stiffer wire; of unequal advance."""
    u = np.random.default_rng(case.seed).random()
    return replace(EXTENDED, entered=1e-3 * (1.0 + u)) if u < 2.0 * case.friction + 10.0 * bench(case.profile) else TRUE


COMPARED = CompareSpec(
    make_spec((0.5e-2, 2e-2), (0.3, 0.8), scrambles=4, points=2),
    (Factor("friction", (0.05, 0.2)), Factor("front_shape", ("notch", "flat"))),
    shared_unknowns=(SharedUnknown("fracture_energy", "choice", (), (20.0, 60.0)),),
    replicates=2,
)


@pytest.fixture(scope="module")
def compared(tmp_path_factory):
    return run_compare(COMPARED, tmp_path_factory.mktemp("compared") / "c", 1, evaluate=at_level)


def test_every_arm_of_a_comparison_is_there(compared):
    data = open_study(compared.folder)
    assert dict(data.sizes) == {"arm": 8, "design": 2, "angle": 2, "point": 8}
    rows, cells = compared.rows, compared.cells
    for k in range(len(rows["index"])):
        here = data.isel(arm=rows["arm"][k], design=rows["tip_load_index"][k], angle=rows["angle_index"][k])
        here = here.isel(point=rows["index"][k])
        assert (float(here["tip_load"]), int(here["replicate"])) == (rows["tip_load"][k], rows["replicate"][k])
        for name in set(rows) - {"arm", "replicate", "tip_load", "angle", "tip_load_index", "angle_index", "index"}:
            assert np.array_equal(here[name].item(), rows[name][k], equal_nan=True), name
    for k in range(len(cells["arm"])):
        here = data.isel(arm=cells["arm"][k], design=cells["tip_load_index"][k], angle=cells["angle_index"][k])
        assert str(here["design"].item()) == cells["design_words"][k]
        for name in ("f_friction", "f_front_shape"):
            assert here[name].item() == cells[name][k]
        assert here["cell_p_entered"].item() == cells["p_entered"][k]
    assert data["f_friction"].attrs["units"] == "1" and data["seed"].dims == ("point",)


def test_a_level_of_a_factor_chooses_its_arms(compared):
    data = open_study(compared.folder)
    rows, slippery = compared.rows, data.isel(arm=data["f_friction"] == 0.05)
    assert slippery.sizes["arm"] == 4
    kept = np.isin(rows["arm"], [a.index for a in compared.arms if a.levels["friction"] == 0.05])
    assert float(slippery["entered"].notnull().mean()) == pytest.approx(np.mean(~np.isnan(rows["entered"][kept])))


def test_designs_by_a_level_have_one_tip_load_and_their_words(tmp_path):
    study = COMPARED.study
    one = replace(study, tip_loads=(0.01, 0.01), factors=(1.0, 1.0), wires=(study.wires[0],) * 2)
    spec = CompareSpec(one, by="unsupported_length", levels=(4e-3, 8e-3))
    run_compare(spec, tmp_path / "c", 1, evaluate=at_level)
    data = open_study(tmp_path / "c")
    assert list(data["design"].values) == ["unsupported length 4 mm", "unsupported length 8 mm"]
    assert np.all(data["x_unsupported_length"].sel(design="unsupported length 4 mm") == pytest.approx(4e-3))


def test_scrambles_added_later_are_nan_where_there_are_none(tmp_path):
    spec = replace(COMPARED, factors=(), shared_unknowns=(), replicates=0)
    run_compare(spec, tmp_path / "c", 1, evaluate=at_level)
    path = tmp_path / "c" / "rows.parquet"
    rows = read_parquet(path)
    write_parquet(select(rows, (rows["angle_index"] == 0) | (rows["index"] < 4)), path)
    data = open_study(tmp_path / "c")
    assert np.all(np.isnan(data["label"].isel(angle=1, point=slice(4, None))))
    assert not np.any(np.isnan(data["label"].isel(angle=0)))


def test_procedures_and_curls_are_read_too(tmp_path):
    attempts = spec_of(scrambles=4, points=2)
    spec = ProceduresSpec(replace(COMPARED, plan=Plan("through")), attempts.policy, attempts.imaging, attempts.detector)
    run_procedures(spec, tmp_path / "p", 1, evaluate=coins)
    assert dict(open_study(tmp_path / "p")["attempts"].sizes) == {"arm": 8, "design": 2, "angle": 2, "point": 8}
    result = run_curl(curl_spec(points=2), tmp_path / "c", 1, evaluate=known)
    data = open_study(tmp_path / "c")
    assert dict(data.sizes) == {"tip_load": 2, "angle": 2, "point": 32} and not any(n[:5] == "cell_" for n in data)
    for k in range(len(result.rows["index"])):
        place = {d: int(result.rows[f"{d}_index"][k]) for d in ("tip_load", "angle")}
        here = data.isel({**place, "point": int(result.rows["index"][k])})
        assert np.array_equal(here["entered"].item(), result.rows["entered"][k], equal_nan=True)


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
    open_store(tmp_path / "bare", "map", SPEC).finish()
    with pytest.raises(InputError, match="there is no such file"):
        open_study(tmp_path / "bare")
    for kind in ("sensitivity", "atlas"):
        open_store(tmp_path / kind, kind, {"name": kind}).finish()
        with pytest.raises(InputError, match=rf"kind '{kind}', which has no grid; allowed: map, .*compare"):
            open_study(tmp_path / kind)
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


def test_the_page_s_python_runs(studies, compared, tmp_path, monkeypatch, capsys):
    shown = [text for text in blocks("python") if "open_study" in text]
    assert shown
    (tmp_path / "results").mkdir()
    (tmp_path / "results" / "readme_map").symlink_to(studies["map"].folder)
    (tmp_path / "results" / "compare").symlink_to(compared.folder)
    monkeypatch.chdir(tmp_path)
    for text in shown:
        exec(compile(text, str(PAGE), "exec"), {})
    assert capsys.readouterr().out
