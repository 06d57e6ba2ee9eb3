import csv
import re
from dataclasses import replace
from math import degrees, nan
from pathlib import Path

import numpy as np
import pytest
from study.made_up import CURLED, EXTENDED, TRUE, UNSOLVED, by_force, coin_with_failures, make_spec

from tipmech.cli import study as cli
from tipmech.show.curls import CURVES
from tipmech.show.thresholds import READING, threshold_figure
from tipmech.study.columns import CODES, UNITS, for_readers
from tipmech.study.inputs import UNKNOWNS
from tipmech.study.run_map import run_map
from tipmech.study.run_threshold import ThresholdSpec, run_threshold
from tipmech.study.table import read_parquet
from tipmech.units import to_si

SPEC = make_spec(angles=(0.3, 1.3), bend_length=4.2e-3, scrambles=4, points=2)
LADDER = ThresholdSpec(make_spec(loads=(0.5e-2,), angles=(0.3,), scrambles=4, points=2))
SHORT = ThresholdSpec(make_spec(loads=(0.5e-2,), angles=(0.3,), scrambles=2, points=1))
NO_UNIT = {"audit_error", "x_friction", "x_free_lip", "x_offset_share", "factor"}


def mixed(case):
    """All that can come of a rung: unsolved ones, neither, a curl, the front driven on."""
    chance = np.random.default_rng(case.seed).random()
    if chance < 0.2:
        return UNSOLVED
    return replace(TRUE, curled=nan) if chance < 0.4 else by_force(case)


def read_csv(path: Path):
    with path.open(newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def printed(tmp_path_factory):
    """What both commands print at 80 columns, and where they wrote it."""
    folder = tmp_path_factory.mktemp("cli")
    import contextlib
    import io

    out = {}
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("COLUMNS", "80")
        patch.setattr(cli, "read_map", lambda file: SPEC)
        patch.setattr(cli, "read_threshold", lambda file: LADDER)
        patch.setattr(cli, "run_map", lambda s, o, w, ow, p: run_map(s, o, 1, ow, p, coin_with_failures))
        patch.setattr(cli, "run_threshold", lambda s, o, w, ow, p: run_threshold(s, o, 1, ow, p, mixed))
        for name, command in (("map", cli.run_map_file), ("threshold", cli.run_threshold_file)):
            with contextlib.redirect_stdout(io.StringIO()) as text:
                command(Path("none.toml"), folder / name, 1, as_json=False, overwrite=False)
            out[name] = text.getvalue()
    return out, folder


def test_the_commands_print_every_file_they_wrote(printed):
    text, folder = printed
    for name in ("map", "threshold"):
        there = {p.name for p in (folder / name).iterdir() if p.is_file()}
        listed = {Path(line).name for line in text[name].splitlines() if line.startswith(str(folder))}
        assert listed == there
    assert {"rows.csv", "incidence.csv", "incidence.parquet"} <= {p.name for p in (folder / "map").iterdir()}


def test_the_map_prints_wire_and_counts(printed):
    cells = read_parquet(printed[1] / "map" / "cells.parquet")
    counts = f"insertions: {cells['n'].sum()}, not solved: {cells['n_not_solved'].sum()}, jammed: 0"
    assert cells["n_not_solved"].sum() > 0
    assert f"wire: made-up wire; {counts}" in " ".join(printed[0]["map"].split())


def test_tables_fit_80_columns_with_their_first_column_whole(printed):
    for name in ("map", "threshold"):
        lines = [line for line in printed[0][name].split(str(printed[1]))[0].splitlines() if line]
        assert max(len(line) for line in lines) <= 80 and "…" not in printed[0][name]
        assert any(line.startswith(" 0.51 gf") for line in lines) and any(line.startswith(" 17°") for line in lines)


def test_the_threshold_prints_unsolved_runs_and_rungs_with_neither(printed):
    text, folder = printed
    c = read_parquet(folder / "threshold" / "cells.parquet")
    flat = " ".join(text["threshold"].split())
    assert c["unsolved_runs"][0] > 0 and c["neither_rungs"][0] > 0
    first = next(line for line in text["threshold"].splitlines() if line.startswith(" 0.51 gf")).split()
    assert (int(first[-2]), int(first[-1])) == (c["unsolved_runs"][0], c["neither_rungs"][0])
    assert f"of {c['runs'][0]} of {c['rungs'][0]}" in flat
    assert "neither: no curl and no front driven on within the advance" in flat


def test_censored_medians_fit_80_columns(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setattr(cli, "read_threshold", lambda file: SHORT)
    monkeypatch.setattr(cli, "save", lambda figure, path: path)
    for k, answer in enumerate((CURLED, EXTENDED, UNSOLVED, replace(TRUE, curled=nan))):
        run = lambda s, o, w, ow, p, answer=answer: run_threshold(s, o, 1, ow, p, lambda case: answer)  # noqa: E731
        monkeypatch.setattr(cli, "run_threshold", run)
        cli.run_threshold_file(Path("none.toml"), tmp_path / str(k), 1, as_json=False, overwrite=False)
        assert "…" not in capsys.readouterr().out


def test_the_note_of_thresholds_knows_three_states(tmp_path):
    figure = threshold_figure(run_threshold(LADDER, tmp_path / "t", workers=1, evaluate=mixed))
    texts = " ".join(" ".join(t.get_text() for t in figure.texts).split())
    assert READING in texts and "Neither: within the advance" in READING
    assert re.search(r"neither within the advance at [1-9]\d* of \d+ rungs; [1-9]\d* of \d+ insertions", texts)
    assert "tear at 45 mm" in texts and "a run ends 10 mm beyond the way to the front" in texts
    figure.canvas.draw()
    facts = next(t for t in figure.texts if "tear at 45 mm" in t.get_text()).get_window_extent()
    assert facts.x1 < figure.bbox.x1 and facts.y0 > max(ax.get_tightbbox().y1 for ax in figure.axes[:2])


def test_csv_has_units_in_its_names_and_words_beside_codes(printed):
    folder = printed[1] / "map"
    rows, si = read_csv(folder / "rows.csv"), read_parquet(folder / "rows.parquet")
    assert float(rows[0]["angle_deg"]) == pytest.approx(degrees(0.3))
    assert float(rows[0]["tip_load_gf"]) == pytest.approx(0.5e-2 / 9.80665e-3)
    assert "tip_load" not in rows[0] and "tip_load" in si
    for k, row in enumerate(rows):
        for name, (unit, ending) in UNITS.items():
            if name in si:
                assert to_si(float(row[f"{name}_{ending}"]), unit) == pytest.approx(si[name][k], nan_ok=True)
        assert row["label_words"] == CODES["label"][int(row["label"])]
        assert row["stop_words"] == CODES["stop"][int(row["stop"])]
    cells = read_csv(folder / "cells.csv")[0]
    assert {"tip_load_gf", "angle_deg", "opened_area_mm2", "opened_area_low_mm2", "p_curled_true"} <= set(cells)
    case = read_csv(printed[1] / "threshold" / "rows.csv")[0]
    assert {"force_mn", "force_low_mn", "scale_mn", "status_words", "rung_7_words"} <= set(case)
    p50 = read_csv(printed[1] / "threshold" / "cells.csv")[0]
    assert {"p50_mn", "p50_bracket_low_mn", "scale_median_mn", "ratio_low"} <= set(p50)


def test_the_incidence_table_holds_the_curves_that_are_drawn(printed):
    rows = read_csv(printed[1] / "map" / "incidence.csv")
    assert {row["event"] for row in rows} == {*CURVES, "curled"}
    assert set(rows[0]) >= {"tip_load_gf", "angle_deg", "advance_mm", "p", "low", "high"}
    table = read_parquet(printed[1] / "map" / "incidence.parquet")
    assert [float(row["p"]) for row in rows] == pytest.approx(list(table["p"]))


def test_every_number_of_a_row_has_a_unit_or_needs_none(printed):
    rows = read_parquet(printed[1] / "map" / "rows.parquet")
    floats = {name for name, column in rows.items() if column.dtype.kind == "f"}
    assert floats - set(UNITS) <= NO_UNIT
    named = {f"x_{x.name}" for x in UNKNOWNS if x.unit != "-"}
    assert named <= set(UNITS)


def test_what_was_typed_reads_as_typed():
    table = {"tip_load": np.array([to_si(0.3, "gf")]), "angle": np.array([to_si(15.0, "deg")])}
    assert {k: list(v) for k, v in for_readers(table).items()} == {"tip_load_gf": [0.3], "angle_deg": [15.0]}
    flags = {"entered": np.array([1, 0]), "curled": np.array([0.002, np.nan])}
    told = for_readers(flags)
    assert list(told) == ["entered", "curled_mm"] and list(told["entered"]) == [1, 0] and told["curled_mm"][0] == 2.0
    assert for_readers({}) == {}
